"""Names and values in words."""

from __future__ import annotations

import re
from collections.abc import Callable, Iterable
from datetime import date

from conserve.casebook.model import Values
from conserve.facts import Fact, Facts, How, Judgement, Subject, act_alone
from conserve.facts.today import key_of
from conserve.problem import Location
from conserve.quantity import Quantity, show
from conserve.rule import Bound, Test

_PLACEHOLDER = re.compile(r"\{([^{}]*)\}")
_IN_CASEBOOK = re.compile(r"(?:(?:components|proposals|evidence|surveys)/[^/]+|object\.yaml|measurements\.csv)$")
_NOT_KNOWN = "(not known)"


def the(name: str) -> str:
    """A thing's name as it stands in a sentence: "Top slipper" is "the top slipper"."""
    plain = name[:1].lower() + name[1:] if name[1:2].islower() or not name[1:2].strip() else name
    return plain if plain.startswith(("the ", "a ", "an ")) else f"the {plain}"


def capital(sentence: str) -> str:
    """A sentence with a capital at its head."""
    return sentence[:1].upper() + sentence[1:]


def lowered(sentence: str) -> str:
    """A sentence as it stands inside another."""
    return sentence[:1].lower() + sentence[1:]


def role_in_words(role: str) -> str:
    """A role with its article: "a conservator", "an electrical examiner"."""
    return f"{'an' if role[:1] in 'aeiou' else 'a'} {plain(role)}"


def full(sentence: str) -> str:
    """A sentence with a capital at its head and a stop at its end."""
    said = capital(sentence.strip())
    return said if said.endswith((".", "?", "!")) else f"{said}."


def listed(words: Iterable[str], last: str = "and") -> str:
    """Words in a row: "a, b and c"."""
    found = list(words)
    return found[0] if len(found) == 1 else f"{', '.join(found[:-1])} {last} {found[-1]}" if found else ""


def plain(word: str) -> str:
    """An id or a value as words."""
    return word.replace("-", " ").replace("_", " ").replace("non ", "non-")


def place(where: Location) -> str:
    """Where something is written, told from the casebook's own folder, so that it reads the same everywhere."""
    found = _IN_CASEBOOK.search(where.file)
    return f"{found[0] if found else where.file}:{where.line}"


def value_in_words(values: Values | None) -> str:
    """What is known, as it is said."""
    if values is None:
        return "not known"
    said = [quantity_in_words(v) if isinstance(v, Quantity) else plain(str(v)) for v in values]
    return listed(dict.fromkeys(said)) or "none"


def day_in_words(day: date) -> str:
    """A date; a casebook in which nothing is dated has none."""
    return day.isoformat() if day != date.min else "no date, for none is written in the casebook"


def dated(day: date, year_only: bool) -> str:
    """The date of something that happened; a year alone where nobody has written more."""
    return str(day.year) if year_only else day.isoformat()


def quantity_in_words(quantity: Quantity) -> str:
    """A quantity as people write it, with raised figures."""
    said = show(quantity)
    raised = {"2": "²", "3": "³"}.get(said[-1:])
    return said[:-1] + raised if raised and quantity.unit[-1:] in "23" else said


def path_in_words(path: str, facts: Facts, number: bool = True) -> str:
    """The path of a fact: "running clearance of the top slipper"; of a word, "the rust in the trough, active:"."""
    subject, term = key_of(path, facts.component.id)
    name = subject_name(facts, subject)
    return f"{term_in_words(term)} of {name}" if number else f"{name}, {term_in_words(term)}:"


def subject_name(facts: Facts, subject: str) -> str:
    """A subject in words, from its id."""
    kind, _, name = subject.partition(":")
    if kind == "object":
        words = facts.casebook.object.name
        return words if words.lower().startswith("the ") else f"the {words}"
    if kind == "component":
        return the(facts.component.name)
    if kind == "proposal":
        return "this proposal"
    if kind == "option":
        return f"the option '{name}'"
    if kind == "mate":
        component, _, face = name.partition("/")
        other = facts.casebook.components[component]
        surface = other.thing("surface", face)
        return f"{the(surface.name if surface else plain(face))} of {the(other.name)}"
    if kind == "act":
        option, _, number = name.partition("/")
        return f"act {act_alone(number)} of '{option}'"
    thing = facts.component.thing(kind, name)
    return the(thing.name if thing else plain(name))


def filled(sentence: str, subject: Subject, facts: Facts, look: Callable[[str], Fact | None]) -> str:
    """A rule's sentence with the names and values of its subject filled in."""

    def word(match: re.Match[str]) -> str:
        name = match[1]
        if "." in name:
            fact = look(name)
            return value_in_words(fact.values) if fact is not None and fact.known else _NOT_KNOWN
        if name == "act":
            return subject.name
        seen = subject.sees.get(name, "")
        if not seen and name == "surface":  # an act on the part as a whole
            seen = subject.sees.get("component", "")
        return subject_name(facts, seen) if seen and seen != "?" else f"the {name}"

    return full(_PLACEHOLDER.sub(word, sentence))


def placeholders(sentence: str) -> tuple[str, ...]:
    """The names that a rule's sentence leaves to be filled in."""
    return tuple(_PLACEHOLDER.findall(sentence))


_BOUND = {"above": "above", "below": "below", "at_least": "at least", "at_most": "at most"}


def test_in_words(test: Test) -> str:
    """What a test asks, in words: "sliding or sealing", "between 0.10 and 0.40 mm"."""
    if not test.bounds:
        return listed((plain(v) for v in test.accepts), "or")
    if len(test.bounds) == 2:
        low, high = (_limit(bound) for bound in test.bounds)
        return f"between {low} and {high}"
    return f"{_BOUND[test.bounds[0].how]} {_limit(test.bounds[0])}"


def _limit(bound: Bound) -> str:
    return quantity_in_words(bound.limit) if isinstance(bound.limit, Quantity) else f"the {term_in_words(bound.limit)}"


def term_in_words(term: str) -> str:
    """A term's own word, without its owner."""
    return plain(term.partition(".")[2])


def fact_in_words(fact: Fact, facts: Facts) -> str:
    """A fact with its subject and where it was written: "Back face, function: mating (components/…:18)"."""
    if fact.how is How.ABSENT:
        return f"{capital(plain(fact.term.partition('.')[0]))}: there is none here"
    owner = plain(fact.term.partition(".")[0]) if fact.subject == "?" else subject_name(facts, fact.subject)
    return f"{capital(owner.removeprefix('the '))}, {term_in_words(fact.term)}: {_standing(fact)}"


def _standing(fact: Fact) -> str:
    """The value and how it is known."""
    written = fact.statements[0] if fact.statements else None
    if fact.how is How.DISPUTED:
        return f"not known, for {disagreement(fact)}"
    if fact.how is How.SILENT or not fact.known:
        return f"not known{_wanting(fact)}"
    said = value_in_words(fact.values)
    if fact.how is How.ESTABLISHED and fact.values is not None and len(fact.values) > 1:
        said = listed((plain(str(v)) for v in fact.values), "or")
    how = {
        How.REPORTED: f"report {written.report}" if written else "",
        How.TECHNIQUE: "rules/techniques.yaml",
        How.ESTABLISHED: "by the rules",
        How.ROLL_UP: "from what is on it",
        How.READ_OFF: "read off the casebook",
        How.COMPUTED: f"computed{worked_from(fact)}",
        How.CLAIMED: "as the option claims",
    }.get(fact.how) or (place(written.where) if written else "")
    return f"{said} ({how})" if how else said


def disagreement(fact: Fact) -> str:
    """The sides of what is told in several ways."""
    sides = (f"{value_in_words(s.values)} ({place(s.where)})" for s in fact.statements)
    return f"the evidence disagrees: {listed(sides)}"


def _wanting(fact: Fact) -> str:
    """Why a computed fact is not known."""
    if fact.working is None:
        return ""
    if fact.working.refused:
        return f", for {fact.working.refused[:1].lower()}{fact.working.refused[1:].rstrip('.')}"
    wanting = listed(dict.fromkeys(term_in_words(one.term) for one in fact.working.missing))
    return f", for the {wanting} is not known" if wanting else ""


def worked_from(fact: Fact) -> str:
    """What a computed fact comes from: " from today's clearance, less the packing"."""
    if fact.working is None:
        return ""
    return f" from {', '.join(name for name, one in fact.working.given if not one.known or _is_number(one))}"


def _is_number(fact: Fact) -> bool:
    return any(isinstance(value, Quantity) for value in fact.values or ())


def to_measure(fact: Fact, facts: Facts) -> str:
    """What a computed fact's doubt comes from: the measured numbers it was worked out from."""
    given = fact.working.given if fact.working else ()
    doubtful = (
        one for _, one in given if any(isinstance(v, Quantity) and v.uncertainty != 0 for v in one.values or ())
    )
    return listed(f"the {term_in_words(one.term)} of {subject_name(facts, one.subject)}" for one in doubtful)


def chance_in_words(judgement: Judgement) -> str:
    """How likely a number passes, where it is a matter of likelihood."""
    if judgement.chance is None:
        return ""
    if judgement.chance in (0.0, 1.0):
        return "certainly" if judgement.chance == 1.0 else "certainly not"
    return f"{max(1, min(99, round(judgement.chance * 100)))} % likely"
