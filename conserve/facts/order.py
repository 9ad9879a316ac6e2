"""What the list of an option's acts says by its order: what is still to come after an act, and what stands between."""

from __future__ import annotations

from collections.abc import Mapping
from itertools import takewhile

from conserve.casebook import Act, Option
from conserve.terms import Vocabulary

_FITTED = ("new-part", "new-metal", "packing")


def order_of(act: Act, option: Option, vocabulary: Vocabulary) -> Mapping[str, bool]:
    """What the acts after this one make of it. An act on the whole part is at every place; heat reaches every place."""
    techniques = vocabulary.techniques
    later = [one for one in option.acts if one.number > act.number]
    here = [one for one in later if not (one.surface and act.surface and one.surface != act.surface)]
    uncoated = takewhile(lambda one: techniques[one.technique].facts["technique.adds"] != "coating", here)
    return {
        "act.looked_at_bare": any(techniques[one.technique].examines for one in uncoated),
        "act.fitted_later": any(techniques[one.technique].facts["technique.adds"] in _FITTED for one in here),
        "act.hot_work_later": any(techniques[one.technique].facts["technique.heats"] != "nothing" for one in later),
    }


def adjusts(option: Option, vocabulary: Vocabulary) -> bool:
    """Whether an option adjusts the part or packs it out, cold, and takes nothing."""
    done = [vocabulary.techniques[act.technique].facts for act in option.acts]
    gentle = all(f["technique.takes"] == "nothing" and f["technique.heats"] == "nothing" for f in done)
    return gentle and any(f["technique.restores_fit"] == "yes" or f["technique.adds"] == "packing" for f in done)
