"""What can hurt people, who may say that it is safe, and what such people have said so far."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from datetime import date

from conserve.casebook import Component, Evidence
from conserve.casebook.agreeing import agreed
from conserve.casebook.model import Person
from conserve.explanation import full, listed, plain, value_in_words
from conserve.explanation.words import role_in_words
from conserve.record.page import hazards as cautions_of
from conserve.statement.alike import all_named
from conserve.statement.given import Given, file_of, items, proposal_of, prose, record_of, row, withheld
from conserve.statement.model import Block, Grid, Prose, Row, Section
from conserve.statement.policy import waiting_for
from conserve.weighing.model import Weighing

_CERTIFIES_NOTHING = (
    "This statement says what practice allows and what is not known. It certifies nothing: whether a thing is safe, "
    "fit or lawful is for a competent person under local law."
)
_SOMEBODY = "competent-person"  # where no word of a need says of which trade
_NO_HAZARD = "No hazard is written down. That is no proof that there is none."


def cautions(given: Given) -> tuple[str, ...]:
    """What is told before everything else."""
    out = (said for _, said in _out_of_use(given))
    found = [f"{name.capitalize()}: {all_named(parts, given.casebook)}." for name, parts in _found(given).items()]
    return (_CERTIFIES_NOTHING, *dict.fromkeys(out), *(found or [_NO_HAZARD]))


def hazards(given: Given) -> Section:
    """Cautions first; then who is competent, and the reports that are there."""
    return Section("hazards", "What can hurt people, and who is competent", tuple(_hazards(given)))


def _hazards(given: Given) -> Iterator[Block]:
    casebook = given.casebook
    yield prose("certifies-nothing", _CERTIFIES_NOTHING)
    out = ((w.proposal.id, says, record_of(w), proposal_of(w), given.part_files(w)) for w, says in _out_of_use(given))
    yield from items("out-of-use", (prose(*one) for one in out))
    found = _found(given)
    yield from items("found", (_hazard(given, name, parts) for name, parts in found.items()))
    if not found:
        yield prose("none-found", _NO_HAZARD, *(file_of(part.where) for part in casebook.components.values()))
    unlooked = [part for part in casebook.components.values() if _named(part) is None]
    if unlooked:
        says = f"Nobody has written whether hazards were looked for at: {all_named(unlooked, casebook)}."
        yield prose("not-looked-for", says, *(file_of(part.where) for part in unlooked))
    told = tuple(_told(given))
    if told:
        yield Grid("cautions", "Cautions, before any method", ("question and part", "cautions"), told)
    rows = tuple(row(one.id, _person(one), given.object_file) for one in casebook.object.people.values())
    if rows:
        yield Grid("people", "Who is named, and on what competence", ("name", "role", "competence"), rows)
    else:
        yield prose("nobody", "Nobody is named in the casebook.", given.object_file)
    yield from items("unnamed-roles", _unnamed(given))
    reports = tuple(_reports(given))
    if reports:
        yield Grid(
            "reports",
            "Reports by people with a role",
            ("report", "by", "about", "what it states", "in force until"),
            reports,
        )


# ---- hazards -------------------------------------------------------------------------------------------


def _out_of_use(given: Given) -> Iterator[tuple[Weighing, str]]:
    """The parts that today's use is not shown to be safe for, question by question."""
    for weighing in given.weighings:
        out = [part for part in weighing.parts if part.out_of_use]
        if out and weighing.proposal.id not in given.superseded:
            needs = listed(f"'{outcome.need.says.rstrip('.')}'" for outcome in out[0].out_of_use)
            parts = all_named((part.component for part in out), given.casebook)
            says = f"Out of the use of today until it is settled: {parts}. What is not shown: {needs}."
            yield weighing, says


def _named(part: Component) -> tuple[str, ...] | None:
    values = agreed(part.facts.get("component.hazards", ())).values
    return None if values is None else tuple(str(value) for value in values)


def _found(given: Given) -> dict[str, list[Component]]:
    """Each hazard that somebody has written down -> the parts that have it."""
    found: dict[str, list[Component]] = {}
    for part in given.casebook.components.values():
        for name in _named(part) or ():
            found.setdefault(plain(name), []).append(part)
    return dict(sorted(found.items()))


def _hazard(given: Given, name: str, parts: Iterable[Component]) -> Prose:
    of = list(parts)
    says = f"{name.capitalize()}: {all_named(of, given.casebook)}."
    return prose(name.replace(" ", "-"), says, *(file_of(part.where) for part in of))


def _told(given: Given) -> Iterator[Row]:
    """Every caution of every weighing, whatever option it comes from."""
    for weighing in given.weighings:
        said = cautions_of(weighing.worst)
        if said and weighing.proposal.id not in given.superseded:
            parts = (given.casebook.components[name] for name in weighing.proposal.components)
            what = f"{full(weighing.proposal.title)} {full(all_named(parts, given.casebook))}"
            files = given.part_files(weighing)
            yield row(weighing.proposal.id, (what, " ".join(said)), record_of(weighing), proposal_of(weighing), files)


# ---- people --------------------------------------------------------------------------------------------


def _person(one: Person) -> tuple[str, str, str]:
    return one.name, plain(one.role) or "not written", full(one.competence or "nobody has written on what grounds")


def _unnamed(given: Given) -> Iterator[Prose]:
    """Competent people who are asked for and whom the casebook does not name."""
    held = {person.role for person in given.casebook.object.people.values()}
    asked: dict[str, list[Weighing]] = {}
    for weighing in given.weighings:
        for role in waiting_for(weighing):
            if role not in held and weighing.proposal.id not in given.superseded:
                asked.setdefault(role, []).append(weighing)
    for role, weighings in sorted(asked.items()):
        questions = listed(f"'{one.proposal.title}'" for one in weighings)
        gap = "it is not written who that is" if role == _SOMEBODY else "nobody in the casebook has that role"
        says = f"{full(role_in_words(role)).rstrip('.')} is asked for by {questions}, and {gap}."
        yield prose(role, says, *(record_of(one) for one in weighings), given.object_file)


def _reports(given: Given) -> Iterator[Row]:
    for item in sorted(given.casebook.evidence.values(), key=lambda item: (item.on, item.id)):
        if item.role:
            about = listed(item.about) or "the object"
            yield row(item.id, (item.id, _by(item), about, _states(item), _until(item, given.day)), file_of(item.where))


def _by(item: Evidence) -> str:
    role = plain(item.role)
    return f"{role}, {item.on}" if withheld(item) else f"{item.by}, {role}, {item.on}"


def _states(item: Evidence) -> str:
    """The facts that a report concludes; of one that is shown to nobody, that alone."""
    if withheld(item):
        return "not shown"
    told = [f"{_fact(path)}: {value_in_words(s.values)}" for path, said in item.states.items() for s in said]
    return full("; ".join(told)) if told else "It states no fact."


def _fact(path: str) -> str:
    """The path of a fact in words, from the part that the report is about: "fit to run"; "bore, diameter"."""
    *place, term = path.split(".")
    return ", ".join(plain(one) for one in (*place[1:], term))


def _until(item: Evidence, day: date) -> str:
    if item.lapses is None:
        return "nobody has written when it lapses"
    if item.lapses == date.max:
        return "it does not lapse"
    return f"{item.lapses}: lapsed" if item.lapses < day else f"{item.lapses}"
