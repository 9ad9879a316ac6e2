"""Why a decision is to be looked at closely, whatever else an audit finds of it."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.audit.model import Kind, Point
from conserve.casebook import Casebook
from conserve.explanation import listed, plain
from conserve.terms import Vocabulary
from conserve.weighing.model import Weighing

_HIGH = 2  # of the values of significance, the first ones


def weighty(weighing: Weighing, points: tuple[Point, ...], words: Vocabulary) -> Iterator[str]:
    """Each reason, in a few words."""
    option = weighing.proposal.option(weighing.chosen)
    if option:
        undone = (act.technique for act in option.acts if _for_good(act.technique, words))
        if names := [plain(name) for name in dict.fromkeys(undone)]:
            yield f"cannot be undone: {listed(names)}"
    high = [value for name in weighing.proposal.components if (value := _significance(name, weighing.casebook, words))]
    if high:
        yield f"{high[0]} significance"
    found = {point.kind for point in points}
    if Kind.DECIDED_AGAINST in found:
        yield "decided against the verdict"
    if Kind.AGAINST_REFERRAL in found:
        yield "done against a referral or a gate"
    if any(settled.answer for part in weighing.parts for settled in part.option(weighing.chosen).settled):
        yield "objections answered by a person"
    if Kind.DISSENT in found:
        yield "dissent that nobody has answered"


def _for_good(technique: str, words: Vocabulary) -> bool:
    return words.techniques[technique].facts["technique.undone"] == "never"


def _significance(component: str, casebook: Casebook, words: Vocabulary) -> str:
    """The significance of a part where it is high; "" otherwise."""
    high = words.terms["component.significance"].values[:_HIGH]
    stated = casebook.components[component].facts.get("component.significance", ())
    return next((str(value) for one in stated for value in one.values if value in high), "")
