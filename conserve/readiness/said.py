"""What is written of the object, its parts and its people."""

from __future__ import annotations

from collections.abc import Callable

from conserve.casebook.agreeing import agreed
from conserve.casebook.model import Component, Facts, Object, Values
from conserve.explanation.words import listed, plain, role_in_words, value_in_words
from conserve.quantity import show
from conserve.readiness.looking import COMPONENTS, Case, Lack, at, found, one, says_something
from conserve.readiness.model import SAID_OF_COMPONENT, SAID_OF_OBJECT, Ask, Found, Mend

_OBJECT = "object.yaml"


def field(case: Case, ask: Ask) -> Found:
    """Whether something is written of the object, or of every component."""
    return _of_components(case, ask) if ask.each else _of_object(case, ask)


def _of_object(case: Case, ask: Ask) -> Found:
    values = _values(case.casebook.object, case.casebook.object.facts, ask.word, SAID_OF_OBJECT)
    short = ask.word.partition(".")[2]
    if not values:
        where = _where(case.casebook.object, short)
        return one(f"Nobody has written its {plain(short)}.", Mend(f"Write {_line(short, ask)}.", where))
    told = value_in_words(values) if ask.word.removeprefix("object.") not in SAID_OF_OBJECT else _short(str(values[0]))
    if ask.values and not set(map(str, values)) <= set(ask.values):
        where = _where(case.casebook.object, short)
        return one(f"Its {plain(short)} is: {told}.", Mend(f"Settle it, then write {_line(short, ask)}.", where))
    return one(f"Its {plain(short)}: {told}")


def _of_components(case: Case, ask: Ask) -> Found:
    short = ask.word.partition(".")[2]
    lacks = []
    for part in case.casebook.components.values():
        values = _values(part, part.facts, ask.word, SAID_OF_COMPONENT)
        if not values or (ask.values and not set(map(str, values)) <= set(ask.values)):
            what = f"see to it, then write {_line(short, ask)}"
            lacks.append(Lack(part.id, what, at(part.where)))
    parts = len(case.casebook.components)
    told = f"{_line(short, ask)} is written of every component." if ask.values else ""
    return found(told or f"The {plain(short)} of every component is written.", lacks, parts, COMPONENTS)


def _values(owner: Object | Component, facts: Facts, name: str, said: tuple[str, ...]) -> Values:
    """What is known of one field; nothing where nobody has written it, it says nothing, or the statements disagree."""
    short = name.partition(".")[2]
    if short in said:
        text = str(getattr(owner, short))
        return (text,) if says_something(text) else ()
    statements = facts.get(name, ())
    values = agreed(statements).values if statements else None
    return values if values else ("none",) if values == () else ()


def _line(key: str, ask: Ask) -> str:
    """What to write, with the values that will do."""
    return listed((f"'{key}: {value}'" for value in ask.values), "or") if ask.values else f"'{key}:'"


def _short(text: str) -> str:
    words = " ".join(text.split())
    return words if len(words) <= 100 else f"{words[:99].rstrip()}…"


def _where(the_object: Object, key: str) -> str:
    return at(the_object.places[key]) if key in the_object.places else _OBJECT


def person(case: Case, ask: Ask) -> Found:
    """Whether somebody of a role is named, with what makes them competent."""
    named = [one for one in case.casebook.object.people.values() if one.role == ask.word]
    able = [one for one in named if says_something(one.competence) and says_something(one.name)]
    if able:
        return one(f"{', '.join(one.name for one in able)}: {plain(ask.word)}.")
    if named:
        what = f"Write under 'people:' what makes {named[0].name} competent: 'competence:'."
        return one(f"{named[0].name} is named, and nobody has written on what competence.", Mend(what, _OBJECT))
    role = role_in_words(ask.word)
    return one(f"No {plain(ask.word)} is named.", Mend(f"Name {role} under 'people:', with their competence.", _OBJECT))


def policy(case: Case, ask: Ask) -> Found:
    """Whether the owner has agreed something, and its review is still to come."""
    agreed_on = case.casebook.object.policy
    key = ask.word.replace("-", "_")
    if agreed_on is None or not getattr(agreed_on, key) or (key == "says" and not says_something(agreed_on.says)):
        told = {"says": "what may be done", "review": "when to look at the policy again"}
        what = f"Write '{key}:' under 'policy:', as the owner has agreed it."
        return one(f"Nobody has written {told.get(ask.word, plain(ask.word))}.", Mend(what, _OBJECT))
    if ask.word == "review":
        day = agreed_on.review
        assert day is not None
        if day < case.day:
            what = "Look at the policy again, and write the next 'review:' day."
            return one(f"The policy was to be looked at again by {day}.", Mend(what, _where_policy(case)), stale=True)
        return one(f"The policy is looked at again by {day}.")
    said = getattr(agreed_on, key)
    return one(f"The policy: {_short(said) if isinstance(said, str) else ', '.join(map(plain, said))}")


def _where_policy(case: Case) -> str:
    return _where(case.casebook.object, "policy")


def budget(case: Case, ask: Ask) -> Found:
    """Whether it is written how money is reckoned."""
    written = case.casebook.object.budget
    if written is None:
        what = "Write 'budget:' with 'currency:', 'contingency:' and 'stages:'."
        return one("There is no budget.", Mend(what, _OBJECT))
    told: dict[str, Callable[[], str]] = {
        "currency": lambda: f"Money is reckoned in {written.currency}.",
        "contingency": lambda: f"Contingency: {show(written.contingency) if written.contingency else 'none'}.",
        "stages": lambda: f"Stages: {', '.join(map(plain, written.stages))}.",
    }
    if ask.word == "contingency" and written.contingency and written.contingency.amount <= 0:
        return one("The contingency is 0 %.", Mend("Set something aside under 'contingency:'.", at(written.where)))
    if not getattr(written, ask.word):
        what = f"Write '{ask.word}:' under 'budget:'."
        return one(f"The budget has no {ask.word}.", Mend(what, at(written.where)))
    return one(told[ask.word]())
