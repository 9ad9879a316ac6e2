"""Sealed decisions made again from what was kept, with the rules that were kept, and compared to the byte."""

from __future__ import annotations

import json
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from conserve.audit.given import Given, Sealed
from conserve.audit.reading import AsSealed, Reader, alike
from conserve.engine import Disagreement, EngineFault
from conserve.explanation import listed
from conserve.explanation.proof import canonical_json, proof
from conserve.files import FileRefused, digest_of
from conserve.record import records_of
from conserve.seal import NotKept, kept
from conserve.truth import Truth
from conserve.weighing import Weighing, weigh
from conserve.weighing.whole import each_before_and_after

_TOLD = 3  # differences that are named


@dataclass(frozen=True, slots=True)
class Remade:
    """What came of making a sealed decision again. `whole`: the proof is the same to the byte; and `says` why, or not.

    `record` is the same of the record, None where that was not asked for. `then` is None where nothing could be read.
    """

    whole: Truth
    says: str
    record: bool | None = None
    then: AsSealed | None = None
    weighing: Weighing | None = None


def remade(sealed: Mapping[str, Sealed], read: Reader, given: Given) -> Iterator[tuple[str, Remade]]:
    """Each sealed decision made again; those that were sealed from the same files and rules come together."""
    groups: dict[object, list[Sealed]] = {}
    for one in sealed.values():
        groups.setdefault(alike(one), []).append(one)
    for together in groups.values():
        then = read(together[0])
        if isinstance(then, str):
            yield from ((one.what.proposal, Remade(Truth.UNKNOWN, then)) for one in together)
        else:
            yield from _made(together, then, given)


def unlike_its_proof(one: Sealed, given: Given) -> str:
    """Where an entry says something else than the proof that was kept with it; "" where it does not."""
    what, told = one.what, kept_proof(one, given)
    if told is None:
        return ""  # told as what is not kept
    said = {"proposal": what.proposal, "chosen": what.chosen, "verdict": what.verdict, "on": what.weighed_on}
    apart = [f"'{is_}' and its proof '{told.get(key)}'" for key, is_ in said.items() if told.get(key) != is_]
    return f"Entry {one.entry.sequence} says {listed(apart)}." if apart else ""


# ---- made again, and held against what was kept ------------------------------------------------------------------


def _made(together: Sequence[Sealed], then: AsSealed, given: Given) -> Iterator[tuple[str, Remade]]:
    """Decisions of one casebook as it was sealed; what is left of the object is reckoned once for all of them."""
    weighed: list[tuple[Sealed, Weighing]] = []
    for one in together:
        found = _weighed(one, then, given)
        if isinstance(found, Weighing):
            weighed.append((one, found))
        else:
            yield one.what.proposal, Remade(Truth.NO, found, then=then)
    wholes = each_before_and_after((weighing for _, weighing in weighed), then.rulebook.vocabulary)
    for (one, _), (weighing, whole) in zip(weighed, wholes, strict=True):
        text = canonical_json(proof(weighing, then.rulebook, whole))
        weighing, text = _by_its_name(one, weighing, text, then, given)
        record = _same_record(one, weighing, then, given) if given.records else None
        apart = _otherwise(one, weighing)
        held, says = (Truth.NO, apart) if apart else _held(one, text, given)
        if held is Truth.NO and one.what.version != given.version:
            says = f"{says}. It was sealed by version {one.what.version} of this program, and this is {given.version}"
        yield one.what.proposal, Remade(held, says, record, then, weighing)


def _otherwise(one: Sealed, weighing: Weighing) -> str:
    """Where an entry says something else than what it was made from; "" where it does not."""
    decision, what = weighing.proposal.decision, one.what
    if decision is None:
        return "what was kept for it holds no decision"
    verdict = str(weighing.verdicts.get(what.chosen, "no verdict"))
    pairs = (
        ("chosen option", what.chosen, decision.chosen),
        ("decider", what.by, decision.by),
        ("day of decision", what.on, decision.on.isoformat()),
        ("verdict", what.verdict, verdict),
    )
    apart = [f"its {word} as '{said}', and what was kept gives '{is_}'" for word, said, is_ in pairs if said != is_]
    return f"the entry tells {listed(apart)}" if apart else ""


def _weighed(one: Sealed, then: AsSealed, given: Given) -> Weighing | str:
    """A decision weighed as it was sealed; or why it cannot be, in a sentence."""
    asked, day = then.casebook.proposal(one.what.proposal), date.fromisoformat(one.what.weighed_on)
    if asked is None:
        return "the proposal is not in the casebook as it was sealed"
    today = given.weighings.get(asked.id)
    if today and then.casebook is given.casebook and today.on == day:
        return today
    try:
        return weigh(asked, then.casebook, then.rulebook, day)
    except (Disagreement, EngineFault) as fault:
        return f"made again, the engines do not agree: {fault}"


def _by_its_name(one: Sealed, weighing: Weighing, text: str, then: AsSealed, given: Given) -> tuple[Weighing, str]:
    """The same told of a casebook whose folder had another name when it was sealed."""
    if digest_of((text.encode(),)) == one.what.proof:
        return weighing, text
    name = (kept_proof(one, given) or {}).get("casebook")
    if not isinstance(name, str) or name == then.casebook.id:
        return weighing, text
    renamed = replace(weighing, casebook=replace(weighing.casebook, id=name))
    return renamed, canonical_json(proof(renamed, then.rulebook))


def kept_proof(one: Sealed, given: Given) -> dict[str, Any] | None:
    """The proof that was kept at a seal; None where it cannot be had."""
    try:
        found = json.loads(kept(given.folder, one.what.proof))
    except (NotKept, FileRefused, ValueError, RecursionError):
        return None
    return found if isinstance(found, dict) else None


def _held(one: Sealed, text: str, given: Given) -> tuple[Truth, str]:
    if digest_of((text.encode(),)) == one.what.proof:
        return Truth.YES, "re-made from what was kept, its proof is the same to the byte"
    was, now = kept_proof(one, given), json.loads(text)
    if was is None:
        return Truth.NO, f"re-made, it comes to '{now['verdict']}', and not to the proof that was sealed"
    apart = list(_unlike(was, now, ""))
    verdicts = f"it was '{was.get('verdict')}' and comes to '{now['verdict']}'"
    more = f" and {len(apart) - _TOLD} more" if len(apart) > _TOLD else ""
    return Truth.NO, f"re-made, its proof is another: {verdicts}; it differs at {'; '.join(apart[:_TOLD])}{more}"


def _unlike(was: Any, now: Any, at: str) -> Iterator[str]:
    """The places at which two proofs differ, in the order of their names."""
    if isinstance(was, dict) and isinstance(now, dict):
        for name in sorted({*was, *now}):
            yield from _unlike(was.get(name), now.get(name), f"{at}, {name}" if at else name)
    elif was != now:
        yield at


def _same_record(one: Sealed, weighing: Weighing, then: AsSealed, given: Given) -> bool:
    texts = (text for name, text in records_of(given.folder, [weighing], then.rulebook) if name.endswith(".md"))
    return digest_of(text.encode() for text in texts) == one.what.record
