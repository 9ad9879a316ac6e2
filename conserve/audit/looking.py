"""The audit of one casebook."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from contextlib import suppress
from dataclasses import replace
from datetime import date
from functools import partial
from typing import TypeVar

from conserve.audit.chain_points import chain_points, named, witnessed
from conserve.audit.decision import Around, decision_audit, in_order
from conserve.audit.evidence import read_evidence
from conserve.audit.figures import figures
from conserve.audit.given import Given, every_sealed
from conserve.audit.heeded import against_advice
from conserve.audit.model import Audit, DecisionAudit, Kind, Point
from conserve.audit.proofs import holding
from conserve.audit.reading import reader
from conserve.audit.remaking import remade
from conserve.audit.rules_kept import altered_rules, rule_points
from conserve.audit.said_of import note_points
from conserve.casebook import Casebook, Proposal
from conserve.engine import engines
from conserve.evidence.looking import Watch, unwatched
from conserve.explanation import listed
from conserve.files import FileRefused, Folder
from conserve.notes import read_notes
from conserve.record.owed import Owed, owed
from conserve.rulebook import Rulebook
from conserve.seal import NotKept, kept, kept_list, read_chain, witness
from conserve.seal.model import Chain
from conserve.weighing import Weighing, weigh

About = TypeVar("About", Owed, Point)


def audit_of(
    folder: Folder,
    casebook: Casebook,
    rulebook: Rulebook,
    rules: Folder,
    day: date,
    shown: str,
    version: str,
    records: bool = False,
    witnesses: Sequence[str] = (),
    watch: Watch = unwatched,
    weighed: Mapping[str, Weighing] | None = None,
) -> Audit:
    """Look at every decision of a casebook that reads soundly, and at everything that was ever sealed of it.

    Nothing is written. `day` is the day as on which it is audited, `shown` the casebook's folder as places are told,
    `rules` the folder that the rulebook was read from; `witnesses` are codes on paper that left the house. `weighed`
    has weighings of the casebook as on the day, by proposal, where they have been made already.
    """
    chain = read_chain(folder, shown, signatures=True)
    notes, problems = read_notes(folder, casebook, shown)
    known, lists = weighed or {}, _lists(folder, chain)
    unkept = _unkept(folder, chain, lists)
    today = {one.id: known.get(one.id) or weigh(one, casebook, rulebook, day) for one in _under_way(casebook, chain)}
    of_chain = (chain, every_sealed(chain), casebook.superseded, notes, today, unkept, lists)
    given = Given(folder, casebook, rulebook, rules, day, shown, *of_chain, version, records, watch)
    apart = (*chain_points(given, witnesses), *_unkept_points(given), *note_points(given, problems))
    return replace(_audit(given, *_looked_at(given, apart)), witnessed=witnessed(given, witnesses))


def _audit(given: Given, decisions: tuple[DecisionAudit, ...], points: tuple[Point, ...]) -> Audit:
    return Audit(
        casebook=given.casebook.id,
        name=given.casebook.object.name,
        on=given.day,
        rulebook=given.rulebook.digest,
        entries=len(given.chain.entries),
        witness=witness(given.chain),
        engines=engines(),
        version=given.version,
        decisions=decisions,
        points=points,
        figures=figures(decisions, points, len(given.notes)),
    )


def _under_way(casebook: Casebook, chain: Chain) -> Iterator[Proposal]:
    """The proposals that are decided, whose work began, or that were ever sealed."""
    sealed = {entry.decision.proposal for entry in chain.entries if entry.decision}
    under = {event.under for part in casebook.components.values() for event in part.history or ()}
    for one in sorted(casebook.proposals, key=lambda proposal: proposal.id):
        began = one.work is not None and (one.work.began or one.work.finished) is not None
        if one.decision or began or one.id in sealed or one.id in under:
            yield one


def _looked_at(given: Given, apart: Sequence[Point]) -> tuple[tuple[DecisionAudit, ...], tuple[Point, ...]]:
    """Each decision, and all points: `apart` are those that are told of the chain and of notes."""
    sealed, read, against = (
        {name: told[-1] for name, told in given.sealed.items()},
        reader(given),
        against_advice(given),
    )
    rules = altered_rules(given)
    around = Around(
        given=given,
        read=read,
        evidence=read_evidence(given, sealed),
        rules=rules,
        holds=holding(_proofs(given)),
        owed=_by_proposal(owed(given.weighings.values(), given.casebook, given.day)),
        points=_by_proposal(apart),
        against=_by_proposal(against),
    )
    found = {name: decision_audit(name, sealed[name], then, around) for name, then in remade(sealed, read, given)}
    found |= {name: decision_audit(name, None, None, around) for name in given.weighings if name not in sealed}
    told = {*apart, *rule_points(rules), *against}
    of_decisions = (point for one in found.values() for point in one.points if point not in told)
    return tuple(found[name] for name in sorted(found)), in_order((*told, *_together(of_decisions)))


def _by_proposal(found: Iterable[About]) -> dict[str, tuple[About, ...]]:
    told: dict[str, list[About]] = {}
    for one in found:
        told.setdefault(one.proposal, []).append(one)
    return {name: tuple(some) for name, some in told.items()}


def _proofs(given: Given) -> dict[str, Callable[[], bytes]]:
    """How to read each proof that was kept and is as it was."""
    digests = {one.what.proof for every in given.sealed.values() for one in every} - given.unkept.keys()
    return {digest: partial(kept, given.folder, digest) for digest in digests}


# ---- what was kept -----------------------------------------------------------------------------------------------


def _lists(folder: Folder, chain: Chain) -> dict[str, Mapping[str, str]]:
    """The lists of files that were kept at seals, by their digests; those that are there as they were."""
    found = {}
    for digest in sorted(
        {one for entry in chain.entries if (what := entry.decision) for one in (what.files, what.evidence)}
    ):
        with suppress(NotKept, FileRefused):
            found[digest] = kept_list(folder, digest)
    return found


def _unkept(folder: Folder, chain: Chain, lists: Mapping[str, Mapping[str, str]]) -> dict[str, str]:
    """What entries say is kept and is not there as it was, each digest with the reason."""
    found = {}
    for digest in sorted({digest for entry in chain.entries for _, digest in named(entry, lists)}):
        try:
            kept(folder, digest)
        except NotKept as error:
            found[digest] = str(error)
        except FileRefused as refused:
            found[digest] = refused.reason
    return found


def _unkept_points(given: Given) -> Iterator[Point]:
    """A point for each thing that is not kept as it was, by what it is and the entries that rest on it."""
    found: dict[str, dict[str, list[str]]] = {}
    for entry in given.chain.entries:
        for what, digest in dict(named(entry, given.lists)).items():
            if digest in given.unkept:
                found.setdefault(digest, {}).setdefault(what, []).append(str(entry.sequence))
    for digest, whats in found.items():
        entries = list(dict.fromkeys(number for numbers in whats.values() for number in numbers))
        which = f"entry {entries[0]}" if len(entries) == 1 else f"entries {listed(entries)}"
        says = f"What {which} kept as {listed(whats)} is not as it was: {given.unkept[digest]}."
        yield Point(Kind.SEALED_ALTERED, says, where=f"sealed/{digest}.gz")


def _together(points: Iterable[Point]) -> Iterator[Point]:
    """A thing that is behind several decisions, told once and with all of them."""
    behind: dict[Point, list[str]] = {}
    for point in points:
        behind.setdefault(replace(point, proposal=""), []).append(point.proposal)
    for point, names in behind.items():
        proposals = sorted(names)
        if len(proposals) == 1:
            yield replace(point, proposal=proposals[0])
        else:
            yield replace(point, says=f"{point.says} It is behind {len(proposals)} decisions: {listed(proposals)}.")
