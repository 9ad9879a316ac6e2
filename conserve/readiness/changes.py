"""What the money buys: each need of each choice that does something, as it stands today and as the choice leaves it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass

from conserve.readiness.costs import chosen_of, does_something
from conserve.weighing import Weighing
from conserve.weighing.model import NeedOutcome, NeedState, PartWeighing, Shown

TODAY = {
    NeedState.MET: "met",
    NeedState.FAILED: "fails",
    NeedState.IN_DOUBT: "in doubt",
    NeedState.OPEN: "not known",
    NeedState.GIVEN_UP: "not asked",
    NeedState.NOT_ASKED: "not asked",
}
_AFTER = {
    NeedState.FAILED: "not met",
    NeedState.IN_DOUBT: "in doubt",
    NeedState.OPEN: "not known yet",
    NeedState.GIVEN_UP: "given up: the part is left in a lesser use",
    NeedState.NOT_ASKED: "not asked",
}
_MET = {
    Shown.TODAY: "met, untouched",
    Shown.CONCLUDED: "met, as a competent person concludes",
    Shown.COMPUTED: "met, as computed",
    Shown.CLAIMED: "met, as claimed: to be measured",
    Shown.PROMISED: "met, as promised: to be shown",
}


@dataclass(frozen=True, slots=True)
class Change:
    """One need of one proposal, for the components that it leaves alike."""

    proposal: str
    option: str
    need: str
    says: str
    components: tuple[str, ...]
    before: str
    after: str


def changes_of(weighings: Iterable[Weighing]) -> tuple[Change, ...]:
    """What each choice that does something changes, by proposal and need."""
    chosen = sorted((w for w in weighings if does_something(w)), key=lambda w: w.proposal.id)
    return tuple(change for weighing in chosen for change in _of(weighing))


def _of(weighing: Weighing) -> Iterator[Change]:
    option = chosen_of(weighing).id
    for need in weighing.proposal.needs:
        alike: dict[tuple[str, str], list[str]] = {}
        for part in weighing.parts:
            alike.setdefault(_before_and_after(part, option, need.id), []).append(part.component.id)
        for (before, after), names in alike.items():
            yield Change(weighing.proposal.id, option, need.id, need.says, tuple(names), before, after)


def _before_and_after(part: PartWeighing, option: str, need: str) -> tuple[str, str]:
    left = part.left.get(need)
    return TODAY[left.state] if left else "not known", _left(part.option(option).need(need))


def _left(outcome: NeedOutcome) -> str:
    if outcome.state is not NeedState.MET or outcome.shown is None:
        return _AFTER[outcome.state]
    if outcome.asked_of:
        return "met, once a competent person has concluded so"
    return _MET[outcome.shown]
