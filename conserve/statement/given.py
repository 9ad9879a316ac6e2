"""What a statement is put together from, and the names by which its sentences say what they rest on."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from conserve.casebook import Casebook, Component, Evidence
from conserve.casebook.model import Audience, Facts
from conserve.explanation.words import listed, place, plain
from conserve.problem import Location
from conserve.rulebook import Rulebook
from conserve.seal import NOTHING_SEALED, Seals
from conserve.statement.model import Items, Prose, Row
from conserve.weighing.model import Weighing


@dataclass(frozen=True, slots=True)
class Given:
    """All that a statement may tell. `weighings` are of this casebook, as on `day`."""

    weighings: tuple[Weighing, ...]
    casebook: Casebook
    rulebook: Rulebook
    day: date
    seals: Seals = NOTHING_SEALED

    @property
    def object_file(self) -> str:
        return file_of(self.casebook.object.where)

    @property
    def decided(self) -> tuple[Weighing, ...]:
        """What a person has decided, and nothing decided since has taken the place of; against the verdict first."""
        found = (w for w in self.weighings if w.proposal.decision and w.proposal.id not in self.superseded)
        return tuple(sorted(found, key=lambda w: w.verdict.stands))

    @property
    def undecided(self) -> tuple[Weighing, ...]:
        """What waits for a person. Care under the owner's policy needs no decision of its own."""
        found = (w for w in self.weighings if w.proposal.kind == "intervention")
        return tuple(w for w in found if not w.proposal.decision and w.proposal.id not in self.superseded)

    @property
    def care(self) -> tuple[Weighing, ...]:
        """Routine care and holding works."""
        return tuple(w for w in self.weighings if w.proposal.kind != "intervention")

    @property
    def superseded(self) -> Mapping[str, str]:
        """Each proposal whose place a decided one has taken -> that one."""
        return self.casebook.superseded

    def part_files(self, weighing: Weighing) -> tuple[str, ...]:
        """The files of the components that a proposal is about."""
        return tuple(file_of(self.casebook.components[name].where) for name in weighing.proposal.components)


# ---- names ---------------------------------------------------------------------------------------------


def file_of(where: Location) -> str:
    """The casebook's file in which something is written, told from the casebook's own folder."""
    return place(where).rpartition(":")[0]


def behind(*facts: Facts) -> tuple[str, ...]:
    """The files in which facts are written."""
    return tuple(file_of(stated.where) for some in facts for told in some.values() for stated in told)


def record_of(weighing: Weighing) -> str:
    return f"records/{weighing.proposal.id}"


def proposal_of(weighing: Weighing) -> str:
    return file_of(weighing.proposal.where)


def rule_named(rule: str) -> str:
    return f"rules/{rule}"


def made(*names: str | Iterable[str]) -> tuple[str, ...]:
    """Names in order, each once."""
    flat = (one for some in names for one in ((some,) if isinstance(some, str) else some))
    return tuple(sorted(set(filter(None, flat))))


def prose(name: str, says: str, *from_: str | Iterable[str]) -> Prose:
    """A paragraph and what it was made from."""
    return Prose(name, says, made(*from_))


def row(name: str, cells: Iterable[str], *from_: str | Iterable[str]) -> Row:
    """A row of a table and what it was made from."""
    return Row(name, tuple(cells), made(*from_))


def items(name: str, found: Iterable[Prose]) -> Iterator[Items]:
    """A list; none where there is nothing to list."""
    told = tuple(found)
    if told:
        yield Items(name, told)


def person(casebook: Casebook, said: str) -> str:
    """Someone by name and role, where the casebook names them."""
    found = casebook.object.people.get(said)
    if found is None:
        return said or "somebody who is not named"
    return f"{found.name} ({plain(found.role)})" if found.role else found.name


def graded(casebook: Casebook, names: Iterable[str]) -> str:
    """Pieces of evidence in a row, each with its grade where it has one and may be shown."""
    return listed(f"{name}{_grade(casebook.evidence.get(name))}" for name in names)


def _grade(item: Evidence | None) -> str:
    return f" (grade {item.grade.upper()})" if item and item.grade and not withheld(item) else ""


def withheld(evidence: Evidence) -> bool:
    """Whether a piece of evidence may be shown to nobody; where nobody has said, it is shown to nobody."""
    return evidence.show in (None, Audience.NOBODY)


def name_of(part: Component, casebook: Casebook) -> str:
    """A component's name; with its id where others have the same name."""
    same = sum(other.name == part.name for other in casebook.components.values())
    return part.name if same == 1 else f"{part.name} ({part.id})"
