"""What a technique does, as far as the order of the work goes."""

from __future__ import annotations

from collections.abc import Mapping

from conserve.terms import Technique


def adds(technique: Technique) -> str:
    """What a technique adds."""
    return technique.facts["technique.adds"]


def closes(technique: Technique) -> bool:
    """Whether a technique only puts a kept part back: it takes and adds nothing, and the part is there afterwards."""
    gives: Mapping[str, str] = technique.gives
    return technique.takes == "nothing" and adds(technique) == "nothing" and gives.get("component.present") == "yes"
