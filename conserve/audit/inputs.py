"""Whether the facts that a decision was made from are the same today: statement by statement, not file by file."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from conserve.audit.rests_on import Key, Said, statements
from conserve.casebook import Casebook
from conserve.casebook.model import Event

_CHANGES_NOTHING = ("examined", "used")  # kinds of event after which a part is as it was


@dataclass(frozen=True, slots=True)
class Change:
    """A statement that was altered. `was` is empty where something was put in among what was sealed."""

    was: tuple[Said, ...]
    now: tuple[Said, ...]

    @property
    def said(self) -> Said:
        """What stands there today, or what is gone."""
        return (*self.now, *self.was)[0]


@dataclass(frozen=True, slots=True)
class Changes:
    """What became of the statements that a decision was made from."""

    altered: tuple[Change, ...]
    happened: tuple[Change, ...]  # undated, on a part to which something has happened since
    written_in: tuple[Said, ...]  # added without a date later than the seal, in the place of nothing
    since: int  # statements that are dated later than the seal
    replaced: tuple[Change, ...] = ()  # what such statements stand in the place of


def changes(before: Casebook, now: Casebook, proposal: str, day: date) -> Changes:
    """Hold what a decision rested on when it was sealed, on a day, against the casebook of today.

    The proposal must stand in both.
    """
    old, new = (dict(statements(casebook, proposal)) for casebook in (before, now))
    altered: list[Change] = []
    happened: list[Change] = []
    written_in: list[Said] = []
    replaced: list[Change] = []
    since = 0
    for key in _whole(old, new):
        gone, come = _apart(old.get(key, ()), new.get(key, ()))
        newer = tuple(one for one in come if one.on is not None and one.on > day)
        undated = tuple(one for one in come if one not in newer)
        firm = any(one.firm for one in gone)
        if key[0] == "work" and not gone:
            continue
        if not gone:
            since += len(newer)
            written_in += undated
        elif newer and not firm and not undated:
            since += len(newer)
            replaced.append(Change(gone, newer))
        elif not firm and all(one.on is None for one in gone) and _has_happened(before, now, gone[0].part, day):
            happened.append(Change(gone, come))
        else:
            altered.append(Change(gone, come))
    return Changes(tuple(altered), tuple(happened), tuple(written_in), since, tuple(replaced))


def _whole(old: Mapping[Key, tuple[Said, ...]], new: Mapping[Key, tuple[Said, ...]]) -> Iterator[Key]:
    """The keys at which something differs; of a thing that came or went, only the thing itself."""
    apart = sorted(key for key in {*old, *new} if old.get(key) != new.get(key))
    whole = {key[:-1] for key in apart if not key[-1] and (key not in old or key not in new)}
    for key in apart:
        above = len(key) if key[-1] else len(key) - 1  # a thing stands at its key without the last step
        if not any(key[:length] in whole for length in range(1, above)):
            yield key


def _apart(old: tuple[Said, ...], new: tuple[Said, ...]) -> tuple[tuple[Said, ...], tuple[Said, ...]]:
    """What is gone and what has come, each statement counted as often as it is made."""
    left = list(new)
    gone = []
    for one in old:
        same = next((other for other in left if other.same == one.same), None)
        if same is None:
            gone.append(one)
        else:
            left.remove(same)
    return tuple(gone), tuple(left)


def _has_happened(before: Casebook, now: Casebook, part: str, day: date) -> bool:
    """Whether something that changes a part is written to have happened to it since."""
    if part not in before.components or part not in now.components:
        return False
    known = {_event(event) for event in before.components[part].history or ()}
    later = (event for event in now.components[part].history or () if event.kind not in _CHANGES_NOTHING)
    return any(event.on >= day and _event(event) not in known for event in later)


def _event(event: Event) -> tuple[date, str, str, str]:
    return event.on, event.kind, event.says, event.under
