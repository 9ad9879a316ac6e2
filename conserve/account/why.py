"""Why a measure of what is left cannot be told."""

from __future__ import annotations

from enum import StrEnum


class Why(StrEnum):
    """What is lacking, as it reads after "it"."""

    PRESENCE = "is not said to be there or not"
    WHEN = "has no date written for when it went"
    PHASE = "has no phase written, and may be new"
    MARKS = "has a face whose marks nobody has written"
    MARKS_GOING = "is worked on without a word on which marks go"
    FACES = "has no faces written"
    AREA = "has a face without an area"
    MASS = "has no mass written"
    HISTORY = "has no history written"
    TOOK = "has an event that does not say what it took"
    ADDED = "has an event that does not say what it added"
    REPAIR = "carries an earlier repair with no word on what it took and added"
    CUT = "is cut by an amount that cannot be told"

    def of(self, count: int, parts: int) -> str:
        """It in a sentence about one part, or about some of many."""
        if parts == 1:
            return f"it {self.value}"
        verb, _, rest = self.value.partition(" ")
        many = {"is": "are", "has": "have", "carries": "carry"}[verb]
        return f"{count} of {parts} parts {verb if count == 1 else many} {rest}"
