"""What state its parts are in: defects, earlier repairs, what was measured, and what nobody has looked at."""

from __future__ import annotations

from collections.abc import Callable, Iterator

from conserve.casebook import Component, Evidence, Thing
from conserve.casebook.agreeing import agreed
from conserve.casebook.model import Facts
from conserve.explanation import capital, full, listed, plain, the, value_in_words
from conserve.explanation.words import quantity_in_words
from conserve.quantity import Quantity
from conserve.statement.alike import Alike, alike, all_named
from conserve.statement.given import Given, behind, file_of, made, name_of, prose, row, withheld
from conserve.statement.identity import known
from conserve.statement.model import Block, Figure, Grid, Section
from conserve.terms import Vocabulary

_SIZES = ("area", "length", "mass", "volume", "hub_outside")  # what a part is, and not what state it is in
_PICTURES = (".svg", ".png", ".jpg", ".jpeg")


def condition(given: Given) -> Section:
    """The state of each part. It says nothing of whether the part may be used."""
    return Section("condition", "What state it is in", tuple(_condition(given)))


def _condition(given: Given) -> Iterator[Block]:
    if given.casebook.components:
        yield from _parts(given)
    else:
        yield prose("no-parts", "Nobody has written down any part of it.", given.object_file)
    yield from _pictures(given)


def _parts(given: Given) -> Iterator[Block]:
    casebook, words = given.casebook, given.rulebook.vocabulary
    parts = casebook.components.values()
    told = alike(parts, lambda part: (_defects(part), _repairs(part), measured(part, words), _examined(part)), casebook)
    sound = [g for g in told if g.told[:3] == ("None found.", "None found.", "Nothing.") and g.told[3] == "yes"]
    rows = tuple(row(g.id, (g.name, *g.told[:3]), _files(g)) for g in told if g not in sound)
    if rows:
        head = ("part", "defects", "earlier repairs", "measured")
        yield Grid("parts", "State of each part", head, rows)
    if sound:
        names = "; ".join(group.name for group in sound)
        says = f"Looked at, with no defect and no earlier repair found, and nothing measured: {names}."
        yield prose("nothing-found", says, *(_files(group) for group in sound))
    unseen = [part for part in parts if _examined(part) != "yes"]
    if unseen:
        says = f"Nobody has examined these and written it down: {all_named(unseen, casebook)}."
        yield prose("not-examined", says, *(file_of(part.where) for part in unseen))
    else:
        yield prose("all-examined", "Every part has been examined.", *(file_of(part.where) for part in parts))


def _files(group: Alike[tuple[str, str, str, str]]) -> tuple[str, ...]:
    facts = (behind(part.facts, *(thing.facts for thing in part.known_things())) for part in group.parts)
    return (*group.files, *(file for files in facts for file in files))


def _examined(part: Component) -> str:
    return known(part.facts, "component.examined")


def _defects(part: Component) -> str:
    return _listing(part.defects, "defects", _defect)


def _repairs(part: Component) -> str:
    return _listing(part.repairs, "earlier repairs", _repair)


def _listing(things: tuple[Thing, ...] | None, what: str, tell: Callable[[Thing], str]) -> str:
    if things is None:
        return f"Nobody has written its {what}."
    return " ".join(tell(thing) for thing in things) or "None found."


def _defect(thing: Thing) -> str:
    active = {"yes": "still at work", "no": "not at work"}.get(
        known(thing.facts, "defect.active"), "whether it is still at work is not known"
    )
    cause = known(thing.facts, "defect.cause")
    return _thing(thing, (active, f"caused by {cause}" if cause else "its cause is not known"))


def _repair(thing: Thing) -> str:
    soundness = known(thing.facts, "repair.soundness")
    period = known(thing.facts, "repair.period")
    told = (
        f"of its {period} period" if period else "of a period that is not known",
        soundness or "whether it is sound is not known",
    )
    return _thing(thing, told)


def _thing(thing: Thing, told: tuple[str, ...]) -> str:
    return f"{capital(thing.name)}: {', '.join(told)}.{f' {full(thing.says)}' if thing.says else ''}"


# ---- measurements --------------------------------------------------------------------------------------


def measured(part: Component, words: Vocabulary) -> str:
    """What was measured on a part, in words; "Nothing." where nothing was."""
    told = [
        f"{plain(term.partition('.')[2])}{f' of {the(name)}' if name else ''} {said}"
        for name, facts in (("", part.facts), *((thing.name, thing.facts) for thing in part.known_things()))
        for term in sorted(facts)
        if (said := _reading(term, facts, words))
    ]
    return full("; ".join(told)) if told else "Nothing."


def _reading(term: str, facts: Facts, words: Vocabulary) -> str:
    """A number that tells of the state of a part; "" for a size, a limit and a word."""
    if term not in words.terms or words.terms[term].lasts or term.partition(".")[2] in _SIZES:
        return ""
    numbers = [value for stated in facts[term] for value in stated.values if isinstance(value, Quantity)]
    if not numbers:
        return ""
    found = agreed(facts[term])
    if found.disputed:
        return f"is told in ways that disagree ({listed(quantity_in_words(number) for number in numbers)})"
    values = [value for value in found.values or () if isinstance(value, Quantity)]
    if len(values) < 2:
        return value_in_words(found.values)
    ordered = sorted(values, key=lambda value: value.to_base().amount)
    return f"from {quantity_in_words(ordered[0])} to {quantity_in_words(ordered[-1])} in {len(values)} readings"


# ---- pictures ------------------------------------------------------------------------------------------


def shown_file(item: Evidence) -> str:
    """The file under evidence/ of a picture that may be shown; "" where there is none."""
    file = item.shown_as or item.file
    return file if not withheld(item) and file.lower().endswith(_PICTURES) else ""


def _pictures(given: Given) -> Iterator[Figure]:
    for item in sorted(given.casebook.evidence.values(), key=lambda item: (item.on, item.id)):
        if file := shown_file(item):
            of = [given.casebook.components[name] for name in item.about if name in given.casebook.components]
            names = listed(name_of(part, given.casebook) for part in of)
            caption = f"{full(names) + ' ' if names else ''}{item.by}, {item.on}."
            basis = made(file_of(item.where), (file_of(part.where) for part in of))
            yield Figure(f"picture-{item.id}", caption, full(item.shows), basis, file=file)
