"""Find the case with the fewest facts in which something is so, or find that there is none."""

from __future__ import annotations

from conserve.search.case import All, Any, Case, Goal, Witness
from conserve.terms import Vocabulary
from conserve.truth import Truth


def smallest(goal: Goal, vocabulary: Vocabulary) -> Witness | None:
    """The fewest facts of which a goal holds; none where no case meets it. The search tries everything."""
    best = _solve((goal,), Case(vocabulary), None)
    while best is not None and best.facts:
        fewer = _solve((goal,), Case(vocabulary), best.facts - 1)
        if fewer is None:
            break
        best = fewer
    return None if best is None else best.witness()


def possible(goal: Goal, vocabulary: Vocabulary) -> bool:
    """Whether some case meets a goal."""
    return _solve((goal,), Case(vocabulary), None) is not None


def _solve(goals: tuple[Goal, ...], case: Case, most: int | None) -> Case | None:
    """Settle what must be, then branch where there are the fewest ways, the cheapest first."""
    settled = _settle(goals, case)
    if settled is None or (most is not None and settled[0].facts > most):
        return None
    case, choices = settled
    if not choices:
        return case
    choice = min(choices, key=lambda one: len(one.goals))
    rest = tuple(one for one in choices if one is not choice)
    for way in sorted(choice.goals, key=lambda one: _price(one, case)):
        found = _solve((way, *rest), case, most)
        if found is not None:
            return found
    return None


def _settle(goals: tuple[Goal, ...], case: Case) -> tuple[Case, tuple[Any, ...]] | None:
    """Settle everything that has one way only; what is left are choices. None where something has no way."""
    ahead, waiting = list(reversed(goals)), list[Any]()
    while ahead:
        goal = ahead.pop()
        if isinstance(goal, All):
            ahead += reversed(goal.goals)
        elif isinstance(goal, Any):
            waiting.append(goal)
        elif not case.holds(goal):
            found = case.settling(goal)
            if found is None:
                return None
            case = found
        if not ahead:
            left = _narrowed(waiting, case)
            if left is None:
                return None
            ahead = [choice.goals[0] for choice in left if len(choice.goals) == 1]
            waiting = [choice for choice in left if len(choice.goals) > 1]
    return case, tuple(waiting)


def _narrowed(choices: list[Any], case: Case) -> list[Any] | None:
    """The choices that are not met yet, with the ways that are left; none where a choice has no way."""
    left = []
    for choice in choices:
        standing = [(way, _stands(way, case)) for way in choice.goals]
        if any(truth is Truth.YES for _, truth in standing):
            continue
        ways = tuple(way for way, truth in standing if truth is not Truth.NO)
        if not ways:
            return None
        left.append(Any(ways))
    return left


def _stands(goal: Goal, case: Case) -> Truth:
    """Whether a goal is met, can no longer be, or may be."""
    if isinstance(goal, All):
        return min((_stands(one, case) for one in goal.goals), default=Truth.YES)
    if isinstance(goal, Any):
        return max((_stands(one, case) for one in goal.goals), default=Truth.NO)
    if case.holds(goal):
        return Truth.YES
    return Truth.NO if case.settling(goal) is None else Truth.UNKNOWN


def _price(goal: Goal, case: Case) -> int:
    """How many facts a way adds, as far as can be seen."""
    if isinstance(goal, All):
        return sum(_price(one, case) for one in goal.goals)
    if isinstance(goal, Any):
        return min((_price(one, case) for one in goal.goals), default=0)
    found = case.settling(goal)
    return 0 if found is None else found.facts - case.facts
