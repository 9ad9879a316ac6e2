"""What is in the register, and what has been written for others to read: records and the statement."""

from __future__ import annotations

import json
from collections.abc import Iterator
from datetime import date
from typing import Any

from conserve.account import held_today
from conserve.casebook import Evidence
from conserve.casebook.model import Proposal
from conserve.explanation.proof import canonical_json, proof
from conserve.explanation.words import listed, role_in_words
from conserve.files import PROFILES, FileRefused
from conserve.readiness.looking import ENTRIES, PROPOSALS, Case, Lack, at, few, found, one, says_something
from conserve.readiness.model import Ask, Found, Mend
from conserve.readiness.shapes import GRADES
from conserve.record import markdown_record
from conserve.weighing import Weighing, weigh
from conserve.weighing.whole import whole_before_and_after

_REGISTER = "evidence/register.yaml"
_LARGEST = 50_000_000  # bytes of a proof or of the statement's index
_PASSING = ("on", "casebook_files")  # of a proof: what changes without the record's changing
LAPSE = ("report", "survey")  # what must say until when it holds, if only by 'lapses: none'


# ---- the register -------------------------------------------------------------------------------------


def evidence(case: Case, ask: Ask, wanted: str) -> Found:
    """Whether such evidence is registered and has not lapsed: at all, or about every part of each proposal."""
    fit = [item for item in case.casebook.evidence.values() if _fits(case, ask, item, wanted)]
    told = _in_words(ask)
    if ask.about == "each-proposal":
        lacks = (_without(case, ask, fit, weighing.proposal) for weighing in case.live)
        return found(f"For each there is {told}.", filter(None, lacks), len(case.live), PROPOSALS)
    good = [item for item in fit if not _lapsed(item, case.day)]
    if good:
        return one(f"In the register: {few(item.id for item in good)}.")
    if fit:
        last = max(fit, key=lambda item: item.lapses or date.min)
        mend = Mend(f"Ask for a new one in place of '{last.id}'.", at(last.where))
        return one(f"'{last.id}' lapsed on {last.lapses}.", mend, stale=True)
    named = f", with 'answers: [{PROFILES}{case.profile.id}/{wanted}]'" if ask.names_it else ""
    return one(f"Not in the register: {told}.", Mend(f"Register {told}{named}.", _REGISTER))


def _fits(case: Case, ask: Ask, item: Evidence, wanted: str) -> bool:
    return (
        (not ask.evidence or item.kind in ask.evidence)
        and (not ask.role or item.role == ask.role)
        and (not ask.grade or (item.grade != "" and GRADES.index(item.grade) <= GRADES.index(ask.grade)))
        and (ask.about != "object" or "object" in item.about)
        and (not ask.names_it or f"{PROFILES}{case.profile.id}/{wanted}" in item.answers)
        and item.on <= case.day
        and (bool(item.file) or says_something(item.held))
        and (item.lapses is not None or not (item.role or item.kind in LAPSE))
    )


def _lapsed(item: Evidence, day: date) -> bool:
    return item.lapses is not None and item.lapses < day


def _without(case: Case, ask: Ask, fit: list[Evidence], proposal: Proposal) -> Lack | None:
    began = proposal.work.began if ask.before_work and proposal.work else None
    fit = [item for item in fit if began is None or item.on <= began]
    of_all = [part for part in proposal.components if not _about(part, fit)]
    today = [part for part in proposal.components if not _about(part, [i for i in fit if not _lapsed(i, case.day)])]
    if not today:
        return None
    before = f" from before the work began on {began}" if began else ""
    return Lack(proposal.id, f"register {_in_words(ask)} about {few(today)}{before}", _REGISTER, not of_all)


def _about(part: str, items: list[Evidence]) -> bool:
    return any("object" in item.about or part in item.about for item in items)


def _in_words(ask: Ask) -> str:
    kinds = listed((role_in_words(kind) for kind in ask.evidence), "or") or "evidence"
    by = f" by {role_in_words(ask.role)}" if ask.role else ""
    grade = f" of grade {ask.grade} or better" if ask.grade else ""
    return f"{kinds}{by}{grade}{' about the object' if ask.about == 'object' else ''}"


def register(case: Case, ask: Ask) -> Found:
    """Whether every entry says something of itself."""
    key, told = {
        "rights": ("rights", "Each entry says whose it is."),
        "audience": ("show", "Each entry says who may see it."),
        "digests": ("digest", "Each file that is registered has its digest."),
    }[ask.word]
    lacks = (
        Lack(item.id, f"write '{key}:'", at(item.where))
        for item in case.casebook.evidence.values()
        if not (says_something(item.rights) if key == "rights" else getattr(item, key))
        and (key != "digest" or item.file or not item.held)
    )
    return found(told, lacks, len(case.casebook.evidence), ENTRIES)


def strays(case: Case) -> Iterator[Mend]:
    """Entries of the register that say they answer what this profile does not ask."""
    asked = {f"{PROFILES}{case.profile.id}/{wanted.id}" for wanted in case.profile.wanted}
    for item in case.casebook.evidence.values():
        for name in item.answers:
            if name.startswith(f"{PROFILES}{case.profile.id}/") and name not in asked:
                yield Mend(f"Nothing here asks for '{name}'.", at(item.where), (item.id,))


# ---- records ------------------------------------------------------------------------------------------


def written(case: Case) -> Found:
    """Whether each record is written, and is what would be written now.

    Its proof is compared; and where a file of the casebook has changed and the proof has not, its text too.
    """
    today = held_today(case.casebook, case.rulebook.vocabulary)
    kept = set(case.folder.names("records", ".md"))
    lacks = []
    for weighing in case.live:
        name = f"records/{weighing.proposal.id}"
        old = _read(case, f"{name}.json") if f"{name}.md" in kept else None
        what = "write it: conserve record" if old is None else _overtaken(case, weighing, old, today)
        if what:
            lacks.append(Lack(weighing.proposal.id, what, "records", stale=old is not None))
    return found("Each record is what would be written now.", lacks, len(case.live), PROPOSALS)


def _overtaken(case: Case, weighing: Weighing, old: dict[str, Any], today: Any) -> str:
    """What has changed since a record was written; "" for nothing."""
    again = "write it again: conserve record"
    if old.get("rulebook") != case.rulebook.digest:
        return f"it was written by other rules; {again}"
    try:
        then = date.fromisoformat(str(old.get("on")))
    except ValueError:
        return again
    same_day = weighing if then == weighing.on else weigh(weighing.proposal, case.casebook, case.rulebook, then)
    whole = whole_before_and_after(same_day, case.rulebook.vocabulary, today)
    now = json.loads(canonical_json(proof(same_day, case.rulebook, whole)))
    if any(now.get(key) != old.get(key) for key in {*now, *old}.difference(_PASSING)):
        return f"what it rests on has changed since; {again}"
    if now["casebook_files"] != old.get("casebook_files") and _as_text(case, same_day) != markdown_record(
        same_day, case.rulebook
    ):
        return f"its words have changed since; {again}"
    if old.get("verdict") != weighing.verdict.value:
        return f"as at {case.day} it is {weighing.verdict}; {again}"
    return ""


def _as_text(case: Case, weighing: Weighing) -> str:
    """The record as it is kept."""
    return case.folder.read_bytes(f"records/{weighing.proposal.id}.md", limit=_LARGEST).decode("utf-8", "replace")


def _read(case: Case, name: str) -> dict[str, Any] | None:
    """A JSON file of ours; None where there is none, or it is none of ours any more."""
    try:
        said = json.loads(case.folder.read_bytes(name, limit=_LARGEST))
    except (FileRefused, ValueError, RecursionError):
        return None
    return said if isinstance(said, dict) else None
