"""What a bundle is made from and what it holds, as those who describe it need to know it."""

from __future__ import annotations

import uuid
from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date
from urllib.parse import quote

from conserve.casebook import Casebook
from conserve.pack.bag import Sums
from conserve.pack.shown import ShownFile, Withheld
from conserve.rulebook import Rulebook
from conserve.seal import Seals
from conserve.weighing import Weighing


@dataclass(frozen=True, slots=True)
class Contents:
    """A bundle's payload, and what it was made from: the casebook as its readers may see it."""

    name: str  # of the bundle
    profile: str  # what it is for
    purpose: str  # the same, as people say it
    audience: str
    casebook: Casebook
    rulebook: Rulebook
    weighings: tuple[Weighing, ...]
    day: date
    version: str  # of this program
    withheld: tuple[Withheld, ...]
    shown: tuple[ShownFile, ...]
    payload: Mapping[str, Sums]  # as far as it is written
    seals: Seals  # as they stand in the bundle
    identifier: uuid.UUID | None = None  # none until everything is written that it names

    @property
    def home(self) -> str:
        """Where the casebook stands in the payload, with a `/` at its end."""
        return home_of(self.casebook.id)


def identifier_of(name: str, payload: Mapping[str, Sums]) -> uuid.UUID:
    """A name for a bundle that its content alone decides.

    Source: RFC 9562, section 5.5 (a UUID made from a name); from memory.
    """
    lines = (f"{sums.sha256}  {name}\n" for name, sums in sorted(payload.items()))
    return uuid.uuid5(uuid.NAMESPACE_URL, f"{name}\n{''.join(lines)}")


def home_of(casebook: str) -> str:
    return f"casebook/{casebook}/"


def address(name: str) -> str:
    """A file's path as a relative address."""
    return quote(name, safe="/")
