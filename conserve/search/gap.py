"""One thing that a rulebook leaves unsettled."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from enum import StrEnum

from conserve.search.case import Witness

# Words by which a rule lets something be done, with the value that lets nothing.
LETS: Mapping[str, str] = {"act.promises": "nothing", "component.may_be_renewed": "no"}


class GapKind(StrEnum):
    """What is unsettled, in the order in which it is told."""

    CONTRADICTION = "contradiction"
    PULLS_APART = "pulls apart"
    NEVER_APPLIES = "never applies"
    ONLY_OPEN = "only open"
    SET_ASIDE = "set aside"
    NOTHING_MORE = "tells nothing more"
    NO_ANSWER = "no answer"
    NO_SUCH_VALUE = "no such value"
    WAITS_IN_VAIN = "waits in vain"
    NOBODY_ASKS = "nobody asks"
    REACHES_NOTHING = "reaches nothing"


@dataclass(frozen=True, slots=True)
class Gap:
    """One thing that is unsettled: the rules, the word and its values that it is about, and a case that shows it."""

    kind: GapKind
    rules: tuple[str, ...]
    term: str = ""
    values: tuple[str, ...] = ()
    witness: Witness | None = None
