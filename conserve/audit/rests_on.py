"""Every statement of a casebook that one decision rests on, each by what it is about."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field, fields, is_dataclass, replace
from datetime import date
from typing import Any

from conserve.casebook import Casebook, Proposal
from conserve.casebook.model import Event, Met, Stated
from conserve.explanation.words import dated, plain, quantity_in_words, term_in_words, test_in_words
from conserve.problem import Location
from conserve.quantity import Quantity, canonical
from conserve.rule import Test
from conserve.seal import behind

Key = tuple[str, ...]  # what a statement is about, step by step; "" at its end is that a thing is there at all
# What changes no weighing, or is told elsewhere: an audit asks of the decision, its work and its costs in other ways.
_OBJECT = ("facts", "significance", "policy", "phases", "overlays")
_PROPOSAL_APART = ("decision", "work")
_APART = (
    *("where", "places", "note", "resources", "listed", "number", "id", "review"),
    *("rights", "show", "shown_as", "shown_digest"),  # of evidence: who may see it
    *("place", "tag", "return_by", "why"),  # of a part in store: where it lies, and until when
)
_WHOLE = (Event, Met)  # told as one statement each, for they have no name
_HEAD: tuple[Key, ...] = (("",), ("on",), ("year_only",))  # of these, what is told first


@dataclass(frozen=True, slots=True)
class Said:
    """One statement: what it is about and what it says, in words. `same` is alike for statements that say the same.

    A `firm` statement is never replaced by a later one: an entry of the register, a past event, what was proposed.
    """

    what: str
    says: str
    on: date | None
    part: str  # the component that it is about, if any
    firm: bool
    same: str
    where: Location = field(compare=False)


@dataclass(frozen=True, slots=True)
class _At:
    """Where in a casebook a statement is being told from."""

    key: Key
    what: str
    where: Location
    on: date | None = None
    part: str = ""
    firm: bool = False

    def below(self, step: str, words: str, where: Location | None = None) -> _At:
        what = f"{self.what}, {words}" if self.what and words else self.what or words
        return replace(self, key=(*self.key, step), what=what, where=where or self.where)


def statements(casebook: Casebook, proposal: str) -> Iterator[tuple[Key, tuple[Said, ...]]]:
    """Every statement behind a decision, by what it is about; those about one thing stand together, in an order."""
    asked = casebook.proposal(proposal)
    assert asked is not None
    found: dict[Key, list[Said]] = {}
    for key, said in _all(casebook, asked):
        found.setdefault(key, []).append(said)
    for key, told in found.items():
        yield key, tuple(sorted(told, key=lambda one: one.same))


def _all(casebook: Casebook, asked: Proposal) -> Iterator[tuple[Key, Said]]:
    the_object = casebook.object
    at = _At(("object",), "the object", the_object.where)
    yield from _fields(the_object, at, (name for name in _names(the_object) if name in _OBJECT))
    for name in _parts(casebook, asked):
        part = casebook.components[name]
        yield from _told(part, _At(("component", name), part.name, part.where, part=name))
    at = _At(("proposal",), "the proposal", asked.where, firm=True)
    yield from _fields(asked, at, (name for name in _names(asked) if name not in (*_APART, *_PROPOSAL_APART)))
    if asked.work:
        yield from _told(asked.work, _At(("work",), "the work", asked.where, firm=True))
    for item in behind(casebook, asked):
        yield from _told(item, _At(("evidence", item.id), f"evidence '{item.id}'", item.where, item.on, firm=True))


def _parts(casebook: Casebook, asked: Proposal) -> tuple[str, ...]:
    """The components of a proposal, and those whose faces run on theirs."""
    own = [name for name in asked.components if name in casebook.components]
    faces = (face for name in own for face in casebook.components[name].surfaces or ())
    mates = (face.mate.partition("/")[0] for face in faces if face.mate)
    return tuple(sorted({*own, *(name for name in mates if name in casebook.components)}))


# ---- anything that is written, taken apart -----------------------------------------------------------------------


def _told(value: Any, at: _At) -> Iterator[tuple[Key, Said]]:
    """Every statement in a value of the casebook's model. What is not written is no statement."""
    if value is None or value == "":
        return
    if isinstance(value, (Stated, *_WHOLE)):
        yield at.key, _one(value, at)
    elif isinstance(value, (Quantity, Test)) or not (is_dataclass(value) or isinstance(value, (Mapping, tuple))):
        yield at.key, _said(at, _word(value), _same(value))
    elif is_dataclass(value):
        yield from _thing(value, at)
    elif isinstance(value, Mapping):
        for name, one in value.items():
            words = term_in_words(name) if "." in name else plain(name)
            yield from _told(one, at.below(name, words, getattr(one, "where", None)))
    else:
        yield from _several(value, at)


def _thing(value: Any, at: _At) -> Iterator[tuple[Key, Said]]:
    on = getattr(value, "since", None) or getattr(value, "on", None) or at.on
    at = replace(at, where=getattr(value, "where", at.where), on=on)
    yield (*at.key, ""), _said(at, "written down", "")
    yield from _fields(value, at, (name for name in _names(value) if name not in _APART))


def _fields(value: Any, at: _At, names: Iterable[str]) -> Iterator[tuple[Key, Said]]:
    places: Mapping[str, Location] = getattr(value, "places", {})
    for name in names:
        words = "" if name in ("facts", "options", "needs", "surfaces", "marks", "repairs", "defects") else plain(name)
        one = getattr(value, name)
        one = "none" if name == "treats" and one == "" else one  # an act that treats nothing: said, and not silence
        yield from _told(one, at.below(name, words, places.get(name)))


def _several(values: tuple[Any, ...], at: _At) -> Iterator[tuple[Key, Said]]:
    """A list: things by their names, statements and events all at one key, plain words as one statement."""
    if not values or not is_dataclass(values[0]) or isinstance(values[0], Quantity):
        says = ", ".join(_word(one) for one in values) or "none"
        yield at.key, _said(at, says, "; ".join(_same(one) for one in values))
        return
    for number, one in enumerate(values, 1):
        if isinstance(one, (Stated, *_WHOLE)):
            yield from _told(one, at)
        else:
            name = str(getattr(one, "id", getattr(one, "path", number)))
            words = getattr(one, "name", "") or (plain(name) if name != str(number) else f"number {name}")
            yield from _told(one, at.below(name, words, getattr(one, "where", None)))


def _one(value: Any, at: _At) -> Said:
    """A statement, an event or a requirement that was met, as one statement."""
    if not isinstance(value, Stated):
        inside = [said for key, said in _thing(value, replace(at, key=(), what="")) if key not in _HEAD]
        told = "; ".join(f"{said.what}: {said.says}" for said in inside)
        when = dated(value.on, getattr(value, "year_only", False))
        return _said(replace(at, firm=True, on=value.on, where=value.where), f"{when}, {told}", f"{when}, {told}")
    says = ", ".join(_word(one) for one in value.values) or "none"
    how = (value.by, str(value.on or ""), value.instrument, value.plane, value.angle, value.report, *value.evidence)
    told = f"{says} ({', '.join(filter(None, how))})" if any(how) else says
    same = "; ".join((*(_same(one) for one in value.values), *how))
    return _said(replace(at, on=value.on or at.on, where=value.where), told, same)


def _said(at: _At, says: str, same: str) -> Said:
    return Said(at.what, says, at.on, at.part, at.firm, same, at.where)


def _names(value: Any) -> tuple[str, ...]:
    return tuple(one.name for one in fields(value))


def _word(value: Any) -> str:
    if isinstance(value, Test):
        return test_in_words(value)
    return quantity_in_words(value) if isinstance(value, Quantity) else str(value)


def _same(value: Any) -> str:
    return canonical(value.to_base()) if isinstance(value, Quantity) else str(value)
