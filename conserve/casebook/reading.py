"""Read a casebook from its folder, or say everything that is wrong with it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from typing import Any

from conserve.casebook.checking import check_casebook
from conserve.casebook.joining import joined, with_none, with_statements
from conserve.casebook.measurements import read_measurements
from conserve.casebook.model import (
    Act,
    Audience,
    Budget,
    Casebook,
    Change,
    Check,
    Component,
    Decision,
    Event,
    Evidence,
    Facts,
    Met,
    Need,
    NeedKind,
    Object,
    Option,
    Person,
    Phase,
    Policy,
    Proposal,
    Resource,
    Said,
    Stated,
    Stored,
    Thing,
    Work,
)
from conserve.casebook.rows import with_share
from conserve.casebook.shapes import Shapes, in_range, shapes_of, term_of, values_of
from conserve.casebook.surveys import FOLDER, OBJECT, Answer, read_surveys
from conserve.files import PROFILES, Folder
from conserve.problem import Location, Problem
from conserve.quantity import EXACT, Quantity, QuantityProblem
from conserve.rule import read_test
from conserve.shape import Problems, Record, Shape, Value
from conserve.terms import Giver, Vocabulary
from conserve.yamlfile import Text, read_yaml

Entries = Mapping[str, Value]
# What is written of a weighing or sealed, what is said of a decision, and what others ask for: they change none.
_APART = ("records/", "rulebooks/", "sealed/", "notes/", PROFILES)


@dataclass(frozen=True, slots=True)
class _Reader:
    """What every step of reading needs."""

    vocabulary: Vocabulary
    into: Problems
    shown: str  # the casebook's folder, as places are told

    def file(self, folder: Folder, name: str, shape: Shape) -> Value | None:
        node, problems = read_yaml(folder, name, "C", shown=f"{self.shown}/{name}")
        self.into.extend(problems)
        return None if node is None else shape.read(node, self.into)


def read_casebook(
    folder: Folder, vocabulary: Vocabulary, name: str, shown: str = ""
) -> tuple[Casebook | None, tuple[Problem, ...]]:
    """Read a casebook's files. `name` is its id, `shown` the folder as it is told in problems."""
    reader = _Reader(vocabulary, Problems("C"), shown or name)
    shapes = shapes_of(vocabulary)
    the_object = _read_object(reader, folder, shapes)
    components = _read_components(reader, folder, shapes.component)
    proposals = tuple(
        _proposal(reader, file.removeprefix("proposals/").removesuffix(".yaml"), value)
        for file in folder.names("proposals", ".yaml")
        if (value := reader.file(folder, file, shapes.proposal))
    )
    evidence = _read_register(reader, folder, shapes)
    answers = read_surveys(folder, vocabulary, components, reader.into, reader.shown)
    for (part, face, term), found in read_measurements(
        folder, vocabulary, components, reader.into, reader.shown
    ).items():
        components[part] = with_statements(components[part], "surface" if face else "component", face, term, found)
    if the_object is None:
        return None, reader.into.all
    for answer in answers:
        if answer.kind == OBJECT:
            the_object = replace(the_object, facts=joined(the_object.facts, answer.term, (answer.stated,)))
        else:
            components[answer.component] = _with_answer(components[answer.component], answer)
    casebook = Casebook(
        id=name,
        object=the_object,
        components=components,
        proposals=proposals,
        evidence=evidence,
        as_at=_as_at(the_object, components, proposals, evidence, answers),
        digests={} if reader.into.noted else _digests(folder),  # what cannot be opened is told with the rest
    )
    check_casebook(casebook, folder, vocabulary, reader.into)
    return (None, reader.into.all) if reader.into.all else (casebook, ())


def read_register(
    folder: Folder, vocabulary: Vocabulary, shown: str
) -> tuple[dict[str, Evidence], tuple[Problem, ...]]:
    """Read the register of evidence alone, whatever is wrong with the rest of its casebook."""
    reader = _Reader(vocabulary, Problems("C"), shown)
    return _read_register(reader, folder, shapes_of(vocabulary)), reader.into.all


def _digests(folder: Folder) -> dict[str, str]:
    names = [*folder.names("", ".yaml"), *folder.names("", ".csv"), *folder.names(FOLDER, ".md")]
    return {name: folder.digest(name) for name in sorted(names) if not name.startswith(_APART)}


# ---- small readings --------------------------------------------------------------------------------


def _text(entries: Entries, name: str) -> str:
    return str(entries[name].content).strip() if name in entries else ""


def _day(entries: Entries, name: str) -> date | None:
    return entries[name].content if name in entries else None


def _texts(entries: Entries, name: str) -> tuple[str, ...]:
    return tuple(item.content.strip() for item in entries[name].content) if name in entries else ()


def _places(entries: Entries) -> dict[str, Location]:
    return {key: value.where for key, value in entries.items()}


def _entries(entries: Entries, name: str) -> Entries:
    return entries[name].content if name in entries else {}


def _stated(reader: _Reader, value: Value) -> Stated:
    """One statement, from its short or its long form."""
    content: Any = value.content
    if not hasattr(content, "more"):
        return Stated(values_of(content), value.where)
    more = content.more
    return Stated(
        values=tuple(_with_instrument(reader, v, more) for v in values_of(content.value.content)),
        where=content.value.where,
        by=_text(more, "by"),
        on=_day(more, "date"),
        instrument=_text(more, "instrument"),
        evidence=_texts(more, "evidence"),
    )


def _with_instrument(reader: _Reader, value: Any, more: Entries) -> Any:
    """A reading without its own ± has that of the instrument it was taken with."""
    instrument = _text(more, "instrument")
    if not isinstance(value, Quantity) or value.uncertainty is not None or not instrument:
        return value
    try:
        return with_share(value, instrument, reader.vocabulary)
    except QuantityProblem as problem:
        reader.into.note(more["instrument"].where, 13, problem.message, problem.hint)
        return value


def _facts(reader: _Reader, owner: str, entries: Entries) -> dict[str, tuple[Stated, ...]]:
    terms = reader.vocabulary.of(owner, Giver.PERSON)
    return {t.name: (_stated(reader, entries[t.short]),) for t in terms if t.short in entries and not t.stated_by}


def _paths(entries: Entries) -> Facts:
    return {path: (Stated(values_of(value.content), value.key or value.where),) for path, value in entries.items()}


# ---- the object --------------------------------------------------------------------------------------


def _read_object(reader: _Reader, folder: Folder, shapes: Shapes) -> Object | None:
    value = reader.file(folder, "object.yaml", shapes.object)
    if value is None:
        return None
    entries = value.content
    return Object(
        name=_text(entries, "name"),
        facts=_facts(reader, "object", entries),
        where=value.where,
        significance=_text(entries, "significance"),
        location=_text(entries, "location"),
        owner=_text(entries, "owner"),
        maker=_text(entries, "maker"),
        number=_text(entries, "number"),
        budget=_budget(entries["budget"]) if "budget" in entries else None,
        overlays=_texts(entries, "overlays"),
        places=_places(entries),
        people={
            key: Person(key, *(_text(v.content, k) for k in ("name", "role", "competence")))
            for key, v in _entries(entries, "people").items()
        },
        phases={
            key: Phase(key, *(_text(v.content, k) for k in ("period", "dates", "says")))
            for key, v in _entries(entries, "phases").items()
        },
        policy=_policy(entries["policy"].content) if "policy" in entries else None,
    )


def _policy(entries: Entries) -> Policy:
    return Policy(
        _text(entries, "says"),
        _texts(entries, "routine_care"),
        _texts(entries, "holding_works"),
        _day(entries, "review"),
    )


def _budget(value: Value) -> Budget:
    entries = value.content
    return Budget(
        _text(entries, "currency"),
        entries["contingency"].content if "contingency" in entries else None,
        _texts(entries, "stages"),
        value.where,
        _places(entries),
    )


# ---- components --------------------------------------------------------------------------------------


def _read_components(reader: _Reader, folder: Folder, shape: Record) -> dict[str, Component]:
    found: dict[str, Component] = {}
    for file in folder.names("components", ".yaml"):
        value = reader.file(folder, file, shape)
        if value is None:
            continue
        common: Component | None = None  # what parts that are alike share is read once
        for name, entries, where in _like_parts(reader, file, value):
            if name in found:
                reader.into.note(where, 72, f"component '{name}' is written twice", f"see {found[name].where}")
            if entries is not value.content:
                found[name] = _component(reader, name, entries, where)
            else:
                common = common or _component(reader, name, entries, where)
                found[name] = replace(common, id=name)
    return dict(sorted(found.items()))


def _like_parts(reader: _Reader, file: str, value: Value) -> Iterable[tuple[str, Entries, Location]]:
    """The parts a file describes: one, or a range that is alike with each one's own differences."""
    entries = value.content
    if "alike" not in entries:
        yield file.removeprefix("components/").removesuffix(".yaml"), entries, value.where
        return
    alike = entries["alike"]
    names = in_range(Text(alike.content, alike.where, False), reader.into)
    each = _entries(entries, "each")
    for name, own in each.items():
        if name not in names:
            reader.into.note(own.key or own.where, 72, f"'{name}' is not among {alike.content}")
    for name in names:
        differs = each.get(name)
        if differs is None:
            yield name, entries, value.where
        else:
            yield name, {**entries, **differs.content}, differs.key or differs.where


def _component(reader: _Reader, name: str, entries: Entries, where: Location) -> Component:
    facts = _facts(reader, "component", entries)
    for word, term in (("now", "component.duty_now"), ("wanted", "component.duty_wanted")):
        if word in (duty := _entries(entries, "duty")):
            facts[term] = (_stated(reader, duty[word]),)
    return Component(
        id=name,
        name=_text(entries, "name"),
        facts=facts,
        where=where,
        surfaces=_things(reader, "surface", entries, "surfaces"),
        repairs=_things(reader, "repair", entries, "repairs"),
        defects=_things(reader, "defect", entries, "defects"),
        phase=_text(entries, "phase"),
        part_of=_text(entries, "part_of"),
        significance_reason=_text(entries, "significance_reason"),
        note=_text(entries, "note"),
        history=tuple(_event(item) for item in entries["history"].content) if "history" in entries else None,
        stored=_stored(entries["stored"].content) if "stored" in entries else None,
        places=_places(entries),
    )


def _things(reader: _Reader, kind: str, entries: Entries, name: str) -> tuple[Thing, ...] | None:
    if name not in entries:
        return None
    return tuple(
        Thing(
            kind,
            key,
            _text(v.content, "name") or key.replace("-", " "),
            _facts(reader, kind, v.content),
            v.key or v.where,
            _text(v.content, "says"),
            _things(reader, "mark", v.content, "marks") if kind == "surface" else None,
            _text(v.content, "mate"),
            _places(v.content),
        )
        for key, v in entries[name].content.items()
    )


def _event(value: Value) -> Event:
    day, year_only = value.content["date"].content
    return Event(
        day,
        year_only,
        _text(value.content, "says"),
        _text(value.content, "kind"),
        value.where,
        _change(value.content, "took"),
        _change(value.content, "added"),
        _text(value.content, "under"),
        _places(value.content),
    )


def _change(entries: Entries, name: str) -> Change | None:
    """What an event took or added; `none` is an answer, and leaving it out is not."""
    if name not in entries:
        return None
    value = entries[name]
    if value.content == "none":
        return Change(Quantity(EXACT, EXACT, "kg"), None, (), (), value.where)
    said: Entries = value.content
    return Change(
        mass=said["mass"].content if "mass" in said else None,
        volume=said["volume"].content if "volume" in said else None,
        surfaces=_texts(said, "surfaces") if "surfaces" in said else None,
        marks=_texts(said, "marks") if "marks" in said else None,
        where=value.where,
        places=_places(said),
    )


def _stored(entries: Entries) -> Stored:
    return Stored(
        _text(entries, "place"),
        _text(entries, "tag"),
        _day(entries, "since"),
        _day(entries, "return_by"),
        _text(entries, "why"),
    )


def _with_answer(part: Component, answer: Answer) -> Component:
    """Add what one row of a survey sheet says of a component or of a thing on it."""
    if "." in answer.term:
        return with_statements(part, answer.kind, answer.name, answer.term, (answer.stated,))
    return with_none(part, answer.name, answer.term, answer.stated.where)


# ---- proposals ---------------------------------------------------------------------------------------


def _proposal(reader: _Reader, name: str, value: Value) -> Proposal:
    entries = value.content
    kind = _text(entries, "kind") or "intervention"
    needs = tuple(_need(reader, key, v) for key, v in _entries(entries, "needs").items())
    options = tuple(_option(reader, key, v, needs) for key, v in _entries(entries, "options").items())
    if kind != "intervention" and "acts" in entries:
        acts = tuple(_act(reader, n, v, needs) for n, v in enumerate(entries["acts"].content, 1))
        options = (_bare_option("as-policy", acts, value.where),)
    elif not any(not option.acts for option in options):
        options = (_bare_option("leave", (), value.where), *options)
    asked = _entries(entries, "asked")
    parts = tuple(item.content for item in entries["components"].content) if "components" in entries else ()
    return Proposal(
        id=name,
        title=_text(entries, "title"),
        kind=kind,
        where=value.where,
        components=parts or ((entries["component"].content,) if "component" in entries else ()),
        facts=_facts(reader, "proposal", entries),
        asked_on=_day(asked, "date"),
        asked_by=_text(asked, "by"),
        needs=needs,
        options=options,
        preferred=_text(entries, "preferred") or ("as-policy" if kind != "intervention" else ""),
        decision=_decision(entries["decision"]) if "decision" in entries else None,
        work=_work(entries["work"].content) if "work" in entries else None,
        supersedes=_text(entries, "supersedes"),
        review=_day(entries, "review"),
        places=_places(entries),
    )


def _bare_option(name: str, acts: tuple[Act, ...], where: Location) -> Option:
    """An option nobody has listed: leaving alone, or care under the policy."""
    return Option(name, "", "", {}, "", acts, {}, {}, {}, where, listed=False)


def _need(reader: _Reader, name: str, value: Value) -> Need:
    entries = value.content
    checks = []
    for path, test in entries["test"].content.items():
        term = term_of(path, reader.vocabulary)
        assert term is not None  # the shape has seen to it
        checks.append(Check(path, read_test(test, term, reader.into), test.key or test.where))
    return Need(
        name,
        NeedKind(entries["kind"].content),
        _text(entries, "says"),
        _texts(entries, "at"),
        tuple(checks),
        _text(entries, "set_by"),
        value.key or value.where,
    )


def _option(reader: _Reader, name: str, value: Value, needs: tuple[Need, ...]) -> Option:
    entries = value.content
    return Option(
        id=name,
        says=_text(entries, "says"),
        duty=_text(entries, "duty"),
        facts=_facts(reader, "option", entries),
        competence=_text(entries, "competence"),
        where=value.key or value.where,
        acts=tuple(_act(reader, n, v, needs) for n, v in enumerate(entries["acts"].content, 1)),
        after=_paths(_entries(entries, "after")),
        answers=_answers(entries, "answers"),
        rather_than=_answers(entries, "rather_than"),
        resources=tuple(_resource(v) for v in entries["resources"].content) if "resources" in entries else None,
    )


def _resource(value: Value) -> Resource:
    entries = value.content
    return Resource(
        what=_text(entries, "what"),
        money=entries["money"].content if "money" in entries else None,
        hours=entries["hours"].content if "hours" in entries else None,
        skill=_text(entries, "skill"),
        given=entries["given"].content == "yes" if "given" in entries else None,
        stage=_text(entries, "stage"),
        basis=_text(entries, "basis"),
        evidence=_texts(entries, "evidence"),
        where=value.where,
        places=_places(entries),
    )


def _answers(entries: Entries, name: str) -> dict[str, Said]:
    return {
        key: Said(_text(v.content, "by"), _text(v.content, "says"), v.key or v.where)
        for key, v in _entries(entries, name).items()
    }


def _act(reader: _Reader, number: int, value: Value, needs: tuple[Need, ...]) -> Act:
    entries = value.content
    treats = _text(entries, "treats") if "treats" in entries else None
    if "for" not in entries and len(needs) > 1:
        reader.into.note(
            value.where,
            67,
            "this act does not say which need it is for",
            f"for: [{needs[0].id}], or for: none; the needs are {', '.join(n.id for n in needs)}",
        )
    return Act(
        number=number,
        technique=_text(entries, "technique"),
        surface=_text(entries, "where"),
        facts=_facts(reader, "act", entries),
        treats="" if treats == "none" else treats,
        takes=_texts(entries, "takes") if "takes" in entries else None,
        evidence=_texts(entries, "evidence"),
        needs=_texts(entries, "for") if "for" in entries else tuple(need.id for need in needs[:1]),
        finds=_text(entries, "finds"),
        says=_text(entries, "says"),
        where=value.where,
        places=_places(entries),
    )


def _decision(value: Value) -> Decision:
    entries = value.content
    return Decision(
        _text(entries, "chosen"),
        _text(entries, "by"),
        entries["date"].content,
        _text(entries, "reason"),
        entries["chosen"].where,
    )


def _work(entries: Entries) -> Work:
    by = _entries(entries, "by")
    return Work(
        began=_day(entries, "began"),
        finished=_day(entries, "finished"),
        by=_text(by, "name"),
        competence=_text(by, "competence"),
        differences=_texts(entries, "differences"),
        surprises=_texts(entries, "surprises"),
        measured=_paths(_entries(entries, "measured")),
        met=tuple(
            Met(
                _text(v.content, "requirement"),
                v.content["date"].content,
                _texts(v.content, "evidence"),
                v.where,
                _text(v.content, "by"),
            )
            for v in (entries["met"].content if "met" in entries else ())
        ),
    )


# ---- evidence ----------------------------------------------------------------------------------------


def _read_register(reader: _Reader, folder: Folder, shapes: Shapes) -> dict[str, Evidence]:
    if "evidence/register.yaml" not in folder.names("evidence", ".yaml"):
        return {}
    value = reader.file(folder, "evidence/register.yaml", shapes.register)
    found = {}
    for name, entry in (value.content if value else {}).items():
        said = entry.content
        found[name] = Evidence(
            id=name,
            kind=_text(said, "kind"),
            on=said["date"].content,
            by=_text(said, "by"),
            about=_texts(said, "about"),
            shows=_text(said, "shows"),
            where=entry.key or entry.where,
            file=_text(said, "file"),
            grade=_text(said, "grade"),
            role=_text(said, "role"),
            competence=_text(said, "competence"),
            answers=_texts(said, "answers"),
            states={
                path: (replace(stated[0], report=name, on=said["date"].content, by=_text(said, "by")),)
                for path, stated in _paths(_entries(said, "states")).items()
            },
            lapses=_day(said, "lapses"),
            held=_text(said, "held"),
            digest=_text(said, "digest"),
            size=said["size"].content if "size" in said else None,
            method=_text(said, "method"),
            instrument=_text(said, "instrument"),
            serial=_text(said, "serial"),
            calibrated=_day(said, "calibrated"),
            rights=_text(said, "rights"),
            show=Audience(said["show"].content) if "show" in said else None,
            shown_as=_text(said, "shown_as"),
            shown_digest=_text(said, "shown_digest"),
            places=_places(said),
        )
    return found


# ---- the date of the casebook ------------------------------------------------------------------------


def _as_at(
    the_object: Object,
    components: Mapping[str, Component],
    proposals: Iterable[Proposal],
    evidence: Mapping[str, Evidence],
    answers: Iterable[Answer],
) -> date:
    """The latest date of anything that has happened: so that a weighing needs no clock."""
    days = [item.on for item in evidence.values()]
    days += [*_days(the_object.facts), *(answer.stated.on for answer in answers if answer.stated.on)]
    for part in components.values():
        days += [event.on for event in part.history or ()]
        days += [part.stored.since] if part.stored and part.stored.since else []
        days += [day for facts in (part.facts, *(t.facts for t in part.known_things())) for day in _days(facts)]
    for proposal in proposals:
        work = proposal.work
        days += [
            day
            for day in (
                proposal.asked_on,
                proposal.decision and proposal.decision.on,
                work and work.began,
                work and work.finished,
            )
            if day
        ]
        days += [met.on for met in (work.met if work else ())]
    return max(days, default=date(1, 1, 1))


def _days(facts: Facts) -> Iterator[date]:
    return (stated.on for found in facts.values() for stated in found if stated.on)
