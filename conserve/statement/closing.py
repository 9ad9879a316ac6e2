"""What stands under each section: how many things it was made from, and the digest of what it says."""

from __future__ import annotations

import hashlib

from conserve.explanation.pieces import canonical_json
from conserve.statement.model import Document, Section, told

_SHORT = 12  # figures of a digest that are enough to compare by eye


def closing(section: Section) -> str:
    """How many things a section was made from, and the first figures of the digest of what it says."""
    found = tuple(told(Document("", (), (), (section,), {})))
    names = {name for one in found for name in one.made_from}
    says = canonical_json([[one.where, one.digest] for one in found])
    digest = hashlib.sha256(says.encode()).hexdigest()[:_SHORT]
    things = "1 thing" if len(names) == 1 else f"{len(names)} things"
    made = f"Made from {things}" if names else "Made from nothing in the casebook"
    return f"{made}; digest {digest}."
