"""In which years a phase of the object lay, and which phase a day belongs to, from its `dates:` as they are written."""

from __future__ import annotations

import re
from collections.abc import Mapping
from datetime import date
from typing import NamedTuple

from conserve.casebook.model import Phase

_YEAR = re.compile(r"(?<![0-9])([0-9]{4})(s?)(?![0-9])")
_ONWARDS = re.compile(r"(?i)\b(from|since|after|onwards?|to date|today|present)\b|[-\u2013\u2014]\s*$")
_UNTIL = re.compile(r"(?i)^\s*(until|before|by|to|up to)\b")


class Years(NamedTuple):
    """The first and the last year of a phase. None: it is open on that side."""

    first: int | None
    last: int | None

    def hold(self, year: int) -> bool:
        return (self.first is None or self.first <= year) and (self.last is None or year <= self.last)


def years_of(phase: Phase | None) -> Years | None:
    """The years that a phase's dates name: `1868`, `1903-1946`, `from 2025`, `until 1900`, `1860s`; None if none."""
    found = [
        (int(year), int(year) + (9 if decade else 0)) for year, decade in _YEAR.findall(phase.dates if phase else "")
    ]
    if phase is None or not found:
        return None
    first: int | None = min(low for low, _ in found)
    last: int | None = max(high for _, high in found)
    if len(found) == 1 and _UNTIL.search(phase.dates):
        return Years(None, last)
    return Years(first, None) if len(found) == 1 and _ONWARDS.search(phase.dates) else Years(first, last)


def phase_on(day: date, phases: Mapping[str, Phase]) -> str:
    """The phase whose years hold a day, the one that began last where several do; "" where none does, or none alone."""
    spans = {name: years for name, phase in phases.items() if (years := years_of(phase)) and years.hold(day.year)}
    latest = max((years.first or 0 for years in spans.values()), default=0)
    found = [name for name, years in spans.items() if (years.first or 0) == latest]
    return found[0] if len(found) == 1 else ""
