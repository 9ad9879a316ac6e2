"""What the chosen option makes of the whole object."""

from __future__ import annotations

from conserve.account import Whole, rolled_up
from conserve.terms import Vocabulary
from conserve.weighing.model import Weighing


def whole_before_and_after(weighing: Weighing, vocabulary: Vocabulary) -> tuple[Whole, Whole]:
    """What is left of the object today, and once the chosen option is done on every part it is put forward for."""
    changed = {part.component.id: part.option(weighing.chosen).account.held for part in weighing.parts}
    casebook = weighing.casebook
    return rolled_up(casebook, vocabulary), rolled_up(casebook, vocabulary, changed)
