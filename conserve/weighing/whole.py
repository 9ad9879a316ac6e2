"""What the chosen option makes of the whole object."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from conserve.account import Held, Whole, held_today, rolled_up
from conserve.terms import Vocabulary
from conserve.weighing.model import Weighing

BeforeAndAfter = tuple[Whole, Whole]


def whole_before_and_after(
    weighing: Weighing, vocabulary: Vocabulary, today: Mapping[str, Held] | None = None, before: Whole | None = None
) -> BeforeAndAfter:
    """What is left of the object today, and once the chosen option is done on every part it is put forward for.

    `today` is what `held_today` gives for the casebook, and `before` what is left of the object today: who tells many
    weighings reckons them once.
    """
    casebook = weighing.casebook
    today = held_today(casebook, vocabulary) if today is None else today
    changed = {part.component.id: part.option(weighing.chosen).account.held for part in weighing.parts}
    before = before or rolled_up(casebook, vocabulary, today)
    if all(today[name] == held for name, held in changed.items()):
        return before, before
    return before, rolled_up(casebook, vocabulary, {**today, **changed})


def each_before_and_after(
    weighings: Iterable[Weighing], vocabulary: Vocabulary
) -> Iterator[tuple[Weighing, BeforeAndAfter]]:
    """The same for each of many weighings of one casebook: the object as it is today is reckoned once."""
    today: dict[str, Held] | None = None
    before: Whole | None = None
    for weighing in weighings:
        if today is None:
            today = held_today(weighing.casebook, vocabulary)
            before = rolled_up(weighing.casebook, vocabulary, today)
        yield weighing, whole_before_and_after(weighing, vocabulary, today, before)
