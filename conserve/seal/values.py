"""What may stand in an entry: texts, numbers, digests, days and moments, each written in one way."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import date, datetime
from typing import Any

# What no name or sentence here has: controls, line ends, what turns the direction of writing, halves of a sign.
_STRANGE = re.compile(r"[\x00-\x1f\x7f-\x9f\u061c\u200e\u200f\u2028-\u202e\u2066-\u2069\ud800-\udfff]")
_DIGEST = re.compile("[0-9a-f]{64}").fullmatch


class NotAnEntry(ValueError):
    """A line is no entry, or an entry would make no line; a sentence."""


def as_text(value: Any, key: str) -> str:
    if not isinstance(value, str) or not value:
        raise NotAnEntry(f"'{key}' is no text, or an empty one")
    if not value.isprintable() and _STRANGE.search(value):
        raise NotAnEntry(f"'{key}' has a sign that cannot be printed")
    return value


def as_number(value: Any, key: str) -> int:
    if type(value) is not int or not 0 < value < 1_000_000_000:
        raise NotAnEntry(f"'{key}' is no whole number from 1")
    return value


def as_digest(value: Any, key: str) -> str:
    if not (isinstance(value, str) and _DIGEST(value)):
        raise NotAnEntry(f"'{key}' is no SHA-256 in hex, 64 signs in lower case")
    return value


def as_texts(value: Any, key: str) -> tuple[str, ...]:
    if not isinstance(value, list):
        raise NotAnEntry(f"'{key}' is no list")
    return tuple(as_text(one, key) for one in value)


def as_day(value: Any, key: str) -> str:
    return _as_written(value, key, date.fromisoformat, "a day, YYYY-MM-DD")


def as_instant(value: Any) -> str:
    wanted = "a moment with its zone, YYYY-MM-DDThh:mm:ss+hh:mm"
    _as_written(value, "at", datetime.fromisoformat, wanted)
    if len(value) != len("2026-01-01T00:00:00+00:00"):
        raise NotAnEntry(f"'at' is not {wanted}")
    return str(value)


def _as_written(value: Any, key: str, read: Callable[[str], date], wanted: str) -> str:
    """A day or a moment that is written as it would be written again."""
    try:
        if isinstance(value, str) and read(value).isoformat() == value:
            return value
    except ValueError:
        pass
    raise NotAnEntry(f"'{key}' is not {wanted}")


def moment(at: str) -> datetime:
    """When an entry was sealed, to be compared and for its day. Raises `NotAnEntry` for what is no moment."""
    return datetime.fromisoformat(as_instant(at))


def day_of(at: str) -> date | None:
    """The day of a moment, where it is sealed; None for what is no moment."""
    try:
        return moment(at).date()
    except NotAnEntry:
        return None
