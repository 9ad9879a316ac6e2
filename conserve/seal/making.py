"""Seal decisions: what they were made from is kept first, and the line of the chain is written last.

If the machine stops in between, something is kept that no entry names yet; nothing that was sealed is touched.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from dataclasses import dataclass, replace

from conserve.evidence.looking import Watch, unwatched
from conserve.files import Folder, digest_of
from conserve.rulebook import Rulebook
from conserve.seal.appending import Sign, appended, chain_to_seal_in, mended, next_entry
from conserve.seal.behind import digests_behind, files_behind
from conserve.seal.keeping import KEPT, LARGEST, keep, list_of
from conserve.seal.model import Entry, SealedDecision, Superseded
from conserve.seal.refusals import latest_seals, reasons_in
from conserve.seal.refused import NotSealed
from conserve.seal.rulebooks import RULEBOOKS, keep_rulebook
from conserve.weighing import Weighing

_SWEPT = (KEPT, RULEBOOKS, "notes", "records")


@dataclass(frozen=True, slots=True)
class Made:
    """A decision that was weighed, and what was told of it: the text of its record, and of its proof."""

    weighing: Weighing
    record: str
    proof: str


@dataclass(frozen=True, slots=True)
class By:
    """Who seals, when, and with what: the same for all that is sealed in one go."""

    at: str  # ISO 8601 with its zone, to the second
    by: str
    engines: tuple[str, ...]
    version: str
    sign: Sign | None = None


def seal_decision(
    folder: Folder,
    weighing: Weighing,
    rulebook: Rulebook,
    rules: Folder,
    record: str,
    proof: str,
    engines: tuple[str, ...],
    version: str,
    at: str,
    by: str,
    sign: Sign | None = None,
    watch: Watch = unwatched,
) -> Entry | None:
    """Seal one decision; None where it is sealed already as it stands. As `seal_decisions` for one."""
    made = (Made(weighing, record, proof),)
    return seal_decisions(folder, made, rulebook, rules, By(at, by, engines, version, sign), watch)[0]


def seal_decisions(
    folder: Folder,
    made: Sequence[Made],
    rulebook: Rulebook,
    rules: Folder,
    how: By,
    watch: Watch = unwatched,
) -> tuple[Entry | None, ...]:
    """Seal decisions of one casebook, or none of them; for each its entry, None where it is sealed as it stands.

    `rules` is the folder that the rulebook was read from. One that is superseded is sealed before the other.
    The caller holds `files.in_turn`. Raises `NotSealed`, with everything that is against it, and `FileRefused`.
    """
    chain = chain_to_seal_in(folder)
    if reasons := reasons_in(chain, folder, [one.weighing for one in made], how.at):
        raise NotSealed(*reasons[0], more=reasons[1:])
    for under in _SWEPT:
        folder.sweep(under)
    latest = latest_seals(chain)
    evidence = digests_behind(folder, (one.weighing for one in made), watch)
    whats = [(one, _sealed(one, _behind(one, evidence), rulebook, how)) for one in sorted(made, key=_rank)]
    due = [(one, what) for one, what in whats if not _is_sealed(latest.get(what.proposal), what)]
    for _, what in due:
        next_entry(chain, what, how.at, how.by)
    _keep(folder, [one for one, _ in due], evidence, rules, rulebook)
    chain = mended(folder, chain) if due else chain
    found: dict[str, Entry] = {}
    for one, what in due:
        over = _superseded({**latest, **found}, one.weighing.proposal.supersedes)
        chain = appended(folder, chain, replace(what, supersedes=over), how.at, how.by, how.sign)
        found[what.proposal] = chain.entries[-1]
    return tuple(found.get(one.weighing.proposal.id) for one in made)


def _rank(one: Made) -> tuple[int, str, str]:
    """What orders decisions that are sealed together: those that are superseded first, then by day and id."""
    weighing = one.weighing
    below, proposal = 0, weighing.casebook.proposal(weighing.proposal.supersedes)
    while proposal is not None and below <= len(weighing.casebook.proposals):  # they may name one another in a circle
        below, proposal = below + 1, weighing.casebook.proposal(proposal.supersedes)
    decision = weighing.proposal.decision
    return below, decision.on.isoformat() if decision else "", weighing.proposal.id


def _behind(one: Made, evidence: Mapping[str, str]) -> bytes:
    """The list of the evidence behind a decision."""
    return list_of({name: evidence[name] for name in files_behind(one.weighing)})


def _keep(folder: Folder, made: Sequence[Made], evidence: Mapping[str, str], rules: Folder, rulebook: Rulebook) -> None:
    """Keep all that decisions were made from and what was told of them, before any of them is sealed."""
    for name, digest in made[0].weighing.casebook.digests.items() if made else ():
        data = folder.read_bytes(name, LARGEST)
        if digest_of((data,)) != digest:
            raise NotSealed(f"'{name}' was changed after it was read; nothing is sealed", "try again")
        keep(folder, data)
    if made:
        keep(folder, list_of(made[0].weighing.casebook.digests))
        keep_rulebook(folder, rules, rulebook)
    for one in made:
        keep(folder, _behind(one, evidence))
        keep(folder, one.proof.encode("utf-8"))
        keep(folder, one.record.encode("utf-8"))


def _sealed(one: Made, evidence: bytes, rulebook: Rulebook, how: By) -> SealedDecision:
    """What is sealed of a decision, as yet without what it supersedes."""
    weighing, decision = one.weighing, one.weighing.proposal.decision
    assert decision is not None  # otherwise there were reasons against it
    return SealedDecision(
        proposal=weighing.proposal.id,
        chosen=decision.chosen,
        by=decision.by,
        on=decision.on.isoformat(),
        verdict=str(weighing.verdicts[decision.chosen]),
        weighed_on=weighing.on.isoformat(),
        proof=digest_of((one.proof.encode("utf-8"),)),
        record=digest_of((one.record.encode("utf-8"),)),
        files=digest_of((list_of(weighing.casebook.digests),)),
        evidence=digest_of((evidence,)),
        rulebook=rulebook.digest,
        overlays=tuple(overlay.name for overlay in rulebook.overlays),
        engines=how.engines,
        version=how.version,
    )


def _superseded(latest: Mapping[str, Entry], proposal: str) -> Superseded | None:
    entry = latest.get(proposal)
    return Superseded(proposal, entry.sequence, entry.digest) if entry else None


def _is_sealed(entry: Entry | None, what: SealedDecision) -> bool:
    """Whether the latest seal of a decision already seals what would be sealed now."""
    was = entry.decision if entry else None
    return was is not None and all(
        getattr(was, name) == getattr(what, name) for name in ("proof", "record", "rulebook", "evidence")
    )
