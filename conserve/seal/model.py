"""What a casebook's chain holds: one entry a line, each naming the one before. Nothing here is worked out."""

from __future__ import annotations

from dataclasses import dataclass

from conserve.problem import Problem

CHAIN = "chain.jsonl"
FIRST = "0" * 64  # what the first entry names as the one before


@dataclass(frozen=True, slots=True)
class Superseded:
    """The sealed decision that a later one takes the place of: the other end of the link."""

    proposal: str
    sequence: int  # of its latest entry
    entry: str  # that entry's digest


@dataclass(frozen=True, slots=True)
class SealedDecision:
    """A decision as it was sealed. Every digest is a SHA-256, in hex, of what is kept.

    Files and evidence are named in lists of their own, each kept once: so a chain does not grow with its casebook,
    and says nothing of evidence that others may not see.
    """

    proposal: str
    chosen: str
    by: str
    on: str  # the day of the decision
    verdict: str  # of the option that was chosen
    weighed_on: str  # the day as on which it was weighed
    proof: str
    record: str
    files: str  # of the list of every file that the weighing was made from; those are kept too
    evidence: str  # of the list of every file of evidence behind it; those stay where they are
    rulebook: str
    overlays: tuple[str, ...]
    engines: tuple[str, ...]  # those that agreed
    version: str  # of this program
    supersedes: Superseded | None = None


@dataclass(frozen=True, slots=True)
class SealedNote:
    """A reviewer's note as it was sealed: the digest of its file, and the entry of the decision that it is about."""

    note: str
    file: str  # its digest; the file is kept
    proposal: str
    about: int | None  # the sequence of the latest entry of that decision; None where it was not sealed


@dataclass(frozen=True, slots=True)
class Signature:
    """An Ed25519 signature (RFC 8032) of an entry, and the public key that it is checked with, both in hex."""

    key: str
    value: str


@dataclass(frozen=True, slots=True)
class Entry:
    """One line of a chain."""

    sequence: int  # from 1
    previous: str  # the digest of the entry before, FIRST for the first
    at: str  # when it was sealed, as it was given: ISO 8601 with its zone, to the second
    by: str
    what: SealedDecision | SealedNote
    signature: Signature | None
    digest: str  # of all the rest of the line

    @property
    def decision(self) -> SealedDecision | None:
        return self.what if isinstance(self.what, SealedDecision) else None

    @property
    def note(self) -> SealedNote | None:
        return self.what if isinstance(self.what, SealedNote) else None


@dataclass(frozen=True, slots=True)
class Chain:
    """A chain as far as it can be read: its sound lines in their order, and everything that is wrong with it."""

    entries: tuple[Entry, ...]
    problems: tuple[Problem, ...]
    torn: bytes = b""  # what stands after the last whole line, left by a machine that stopped while writing it

    @property
    def head(self) -> str:
        """The digest of the last entry, FIRST where there is none."""
        return self.entries[-1].digest if self.entries else FIRST

    def decisions_on(self, proposal: str) -> tuple[Entry, ...]:
        """The entries that seal the decision of a proposal, the earliest first."""
        return tuple(one for one in self.entries if one.decision and one.decision.proposal == proposal)
