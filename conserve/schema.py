"""JSON Schemas of a casebook's files, for editors that check while one types."""

from __future__ import annotations

from conserve.casebook.shapes import shapes_of
from conserve.shape import Schema, Shape
from conserve.terms import Vocabulary

NAMES = ("object", "component", "proposal", "register")
_DIALECT = "https://json-schema.org/draft/2020-12/schema"
_TITLES = {
    "object": "The object: object.yaml",
    "component": "A component: components/ID.yaml",
    "proposal": "A proposal: proposals/ID.yaml",
    "register": "The register of evidence: evidence/register.yaml",
}


def schemas(vocabulary: Vocabulary) -> dict[str, Schema]:
    """The schema of each kind of file, by the names in `NAMES`.

    What a schema lets pass may still not load: how names and numbers fit together is beyond it.
    """
    shapes = shapes_of(vocabulary)
    return {name: described(_TITLES[name], getattr(shapes, name)) for name in NAMES}


def described(title: str, shape: Shape) -> Schema:
    """The schema of a file of this shape, with its dialect and title."""
    return {"$schema": _DIALECT, "title": title, **shape.schema()}
