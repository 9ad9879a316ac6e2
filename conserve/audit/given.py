"""What an audit is made from, and where a thing is told to be."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from datetime import date, datetime

from conserve.casebook import Casebook
from conserve.evidence.looking import Watch
from conserve.files import Folder
from conserve.notes import Note
from conserve.problem import Location
from conserve.rulebook import Rulebook
from conserve.seal.model import CHAIN, Chain, Entry, SealedDecision
from conserve.weighing import Weighing


@dataclass(frozen=True, slots=True)
class Sealed:
    """One entry that seals a decision, with what it says."""

    entry: Entry
    what: SealedDecision

    @property
    def day(self) -> date:
        """The day on which it was sealed, where it was sealed."""
        return day_of(self.entry.at)


@dataclass(frozen=True, slots=True)
class Given:
    """What an audit of one casebook is made from."""

    folder: Folder
    casebook: Casebook
    rulebook: Rulebook
    rules: Folder  # the folder that the rulebook was read from
    day: date  # as on which it is audited
    shown: str  # the casebook's folder, as places are told
    chain: Chain
    sealed: Mapping[str, tuple[Sealed, ...]]  # proposal -> every entry that seals its decision, the earliest first
    taken_by: Mapping[str, str]  # proposal -> the decided one that has taken its place
    notes: tuple[Note, ...]
    weighings: Mapping[str, Weighing]  # proposal -> as it comes out today
    unkept: Mapping[str, str]  # digest of what was kept at a seal and is not there as it was -> why
    lists: Mapping[str, Mapping[str, str]]  # digest of a kept list of files -> each file's digest, as far as kept
    version: str  # of this program
    records: bool  # whether records are re-made to the byte
    watch: Watch

    def where(self, location: Location) -> str:
        """A place, told from the casebook's own folder."""
        return f"{self.below(location.file)}:{location.line}"

    def below(self, file: str) -> str:
        """A file, told from the casebook's own folder."""
        return file.removeprefix(f"{self.shown}/")

    def line_of(self, entry: Entry) -> str:
        """Where an entry stands: in a sound chain, on the line of its number."""
        return CHAIN if self.chain.problems else f"{CHAIN}:{entry.sequence}"

    @property
    def rulebook_key(self) -> tuple[str, tuple[str, ...]]:
        """Today's rules, by their digest and the overlays that are laid over them."""
        return self.rulebook.digest, tuple(sorted(one.name for one in self.rulebook.overlays))

    def listed(self, digest: str) -> Mapping[str, str]:
        """The files of a list that was kept; none where it is not there as it was."""
        return self.lists.get(digest, {})

    def of(self, proposal: str) -> tuple[Sealed, ...]:
        """What sealed the decision of a proposal, the earliest first."""
        return self.sealed.get(proposal, ())


def day_of(at: str) -> date:
    """The day of an instant, in its own zone."""
    return datetime.fromisoformat(at).date()


def every_sealed(chain: Chain) -> dict[str, tuple[Sealed, ...]]:
    """What sealed the decision of each proposal, by its id."""
    found: dict[str, list[Sealed]] = {}
    for entry in chain.entries:
        if entry.decision:
            found.setdefault(entry.decision.proposal, []).append(Sealed(entry, entry.decision))
    return {name: tuple(told) for name, told in sorted(found.items())}
