"""Facts as they stand today: of the object, a component, the things on it, a proposal, its options and acts."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date
from functools import partial

from conserve.account.still_there import left_of
from conserve.casebook import Act, Casebook, Component, Evidence, Option, Proposal, Stated, Thing
from conserve.casebook.agreeing import agreed, word_of
from conserve.casebook.model import Values
from conserve.facts.computed import computed
from conserve.facts.fact import Fact, How
from conserve.facts.order import adjusts, order_of
from conserve.terms import PLACES, Giver, Term, Vocabulary

_TREATS = "option.treats_worsening"
UNSAID = "?"  # a subject that may or may not be there: nobody has said
ABSENT = ""  # a subject that is not there


@dataclass(frozen=True, slots=True)
class Subject:
    """Something that rules can be about, and what it sees: kind -> the id of the subject, or of none."""

    kind: str
    id: str
    name: str
    sees: Mapping[str, str]
    owners: tuple[str, ...]

    def owned_by(self, other: str) -> bool:
        """Whether another subject is this one, or owns it."""
        return other == self.id or other in self.owners


@dataclass(frozen=True, slots=True)
class Today:
    """The subjects of one proposal about one component, and every fact known of each."""

    subjects: tuple[Subject, ...]
    facts: Mapping[tuple[str, str], Fact]  # (subject id, term)

    def look(self, subject: Subject, term: Term) -> Fact:
        """Find a fact as a subject sees it."""
        return self._seen(subject.sees.get(term.owner, ABSENT), term.name)

    def see(self, subject: Subject, name: str) -> Fact:
        """As `look`, by the term's name; the face that a surface runs on is its `mate`."""
        owner = name.partition(".")[0]
        return self._seen(subject.sees.get("surface" if owner == "mate" else owner, ABSENT), name)

    def _seen(self, seen: str, name: str) -> Fact:
        if seen == ABSENT:
            return Fact(name, seen, None, How.ABSENT)
        if seen == UNSAID:
            return Fact(name, seen, None, How.SILENT)
        found = self.facts.get((seen, name))
        return found if found is not None else Fact(name, seen, None, How.SILENT)


def standing_reports(casebook: Casebook, part: Component, on: date) -> tuple[Evidence, ...]:
    """The reports about a component that still stand: later than the last event on it, and not lapsed.

    Where nobody has written the component's history, nobody knows what has happened to it since.
    """
    if part.history is None:
        return ()
    last = max((e.on for e in part.history if e.kind != "examined"), default=date.min)
    return tuple(
        item
        for item in casebook.evidence.values()
        if item.role and part.id in item.about and item.on > last and (item.lapses is None or item.lapses >= on)
    )


def written(
    part: Component, reports: tuple[Evidence, ...], vocabulary: Vocabulary
) -> dict[tuple[str, str], tuple[Stated, ...]]:
    """Every statement about a component and the things on it. What a competent person reports outranks the rest."""
    found: dict[tuple[str, str], tuple[Stated, ...]] = {
        (f"component:{part.id}", term): stated for term, stated in part.facts.items()
    }
    for thing in part.known_things():
        found |= {(f"{thing.kind}:{thing.id}", term): stated for term, stated in thing.facts.items()}
    reported: dict[tuple[str, str], tuple[Stated, ...]] = {}
    for report in reports:
        for path, stated in report.states.items():
            key = key_of(path, part.id)
            if vocabulary.roles.get(report.role):
                reported[key] = (*reported.get(key, ()), *stated)
            else:
                found[key] = (*found.get(key, ()), *stated)
    return found | reported


def key_of(path: str, part: str) -> tuple[str, str]:
    """The subject and the term that a path names: `surfaces.bore.wear` is (`surface:bore`, `surface.wear`)."""
    head, _, tail = path.partition(".")
    if head == "component":
        return f"component:{part}", path
    name, _, term = tail.rpartition(".")
    return f"{PLACES[head]}:{name}", f"{PLACES[head]}.{term}"


def from_statements(subject: str, term: str, statements: tuple[Stated, ...]) -> Fact:
    """One fact from its statements."""
    found = agreed(statements)
    how = How.DISPUTED if found.disputed else How.REPORTED if any(s.report for s in statements) else How.WRITTEN
    return Fact(term, subject, found.values, how, statements)


# ---- subjects ---------------------------------------------------------------------------------------


def subjects_of(proposal: Proposal, part: Component, casebook: Casebook, vocabulary: Vocabulary) -> tuple[Subject, ...]:
    """Every subject of a proposal about one component: owners before what they own."""
    the_object = Subject("object", "object", casebook.object.name, {"object": "object"}, ())
    component = _below(the_object, "component", f"component:{part.id}", part.name)
    below = [_below(component, t.kind, f"{t.kind}:{t.id}", t.name) for t in part.known_things() if t.kind != "mark"]
    marks = [
        _below(surface, "mark", f"mark:{mark.id}", mark.name)
        for surface, thing in ((s, part.thing("surface", s.id.partition(":")[2])) for s in below if s.kind == "surface")
        for mark in (thing.marks if thing else None) or ()
    ]
    question = _below(component, "proposal", "proposal", proposal.title)
    options = [_below(question, "option", f"option:{o.id}", o.id.replace("-", " ")) for o in proposal.options]
    acts = [
        act
        for subject, option in zip(options, proposal.options, strict=True)
        for one in option.acts
        for act in _act_subjects(one, subject, part, vocabulary)
    ]
    unwritten = [_unwritten(component, kind) for kind in _UNWRITTEN if part.things(kind) is None]
    things = sorted((*below, *marks, *unwritten), key=lambda s: tuple(_UNWRITTEN).index(s.kind))
    return (the_object, component, *things, question, *options, *acts)


# What may be there for all that anybody has written.
_UNWRITTEN = {
    "surface": "a face that nobody has named",
    "mark": "a mark that nobody has written down",
    "repair": "an earlier repair that nobody has written down",
    "defect": "a defect that nobody has written down",
}


def _unwritten(component: Subject, kind: str) -> Subject:
    """Stands for whatever a list that nobody has written may hold, so that a rule about it is open, not silent."""
    subject = _below(component, kind, f"{kind}:{UNSAID}", _UNWRITTEN[kind])
    hidden = {kind: UNSAID, **({"surface": UNSAID} if kind == "mark" else {})}
    return replace(subject, sees={**subject.sees, **hidden})


def _below(owner: Subject, kind: str, name: str, words: str) -> Subject:
    return Subject(kind, name, words, {**owner.sees, kind: name}, (*owner.owners, owner.id))


def _act_subjects(act: Act, option: Subject, part: Component, vocabulary: Vocabulary) -> Iterator[Subject]:
    """An act at its place; a whole-component act again at each surface; each again for every mark it takes."""
    technique = vocabulary.techniques[act.technique]
    name = f"act:{option.id.partition(':')[2]}/{act.number}"
    whole = replace(
        _below(option, "act", name, technique.does),
        sees={
            **option.sees,
            "act": name,
            "technique": name,
            "defect": _treated(act, part),
            "surface": f"surface:{act.surface}" if act.surface else ABSENT,
            "mark": ABSENT,
        },
    )
    here = part.thing("surface", act.surface) if act.surface else None
    yield replace(whole, sees={**whole.sees, "mark": _taken(act, here, part, technique.takes)})
    if not act.surface and technique.touches:
        if part.surfaces is None:  # it has faces, and nobody has said which
            yield replace(_below(whole, "act", f"{name}@?", technique.does), sees={**whole.sees, "surface": UNSAID})
        for surface in part.surfaces or ():
            place = replace(
                _below(whole, "act", f"{name}@{surface.id}", technique.does),
                sees={**whole.sees, "surface": f"surface:{surface.id}"},
            )
            yield replace(place, sees={**place.sees, "mark": _taken(act, surface, part, technique.takes)})
    for mark in act.takes or ():
        yield replace(
            _below(whole, "act", f"{name}+{mark}", technique.does), sees={**whole.sees, "mark": f"mark:{mark}"}
        )


def _treated(act: Act, part: Component) -> str:
    if act.treats:
        return f"defect:{act.treats}"
    return ABSENT if act.treats == "" or part.defects == () else UNSAID


def _taken(act: Act, surface: Thing | None, part: Component, takes: str) -> str:
    """Whether an act may take marks that nobody has named."""
    if act.takes is not None or takes == "nothing":
        return ABSENT
    marks = surface.marks if surface else part.things("mark")
    return ABSENT if marks == () else UNSAID


def act_alone(subject: str) -> str:
    """An act's own id, without the face or the mark that it was weighed for."""
    return subject.partition("@")[0].partition("+")[0]


# ---- facts ------------------------------------------------------------------------------------------


def facts_of_part(part: Component, casebook: Casebook, vocabulary: Vocabulary, on: date) -> dict[tuple[str, str], Fact]:
    """What has been stated of a component and the things on it."""
    facts = _stated_of(part, casebook, vocabulary, on)
    for surface in part.surfaces or ():
        if surface.mate:
            facts |= _of_mate(surface, casebook, vocabulary, on)
    return facts


def _stated_of(part: Component, casebook: Casebook, vocabulary: Vocabulary, on: date) -> dict[tuple[str, str], Fact]:
    statements = written(part, standing_reports(casebook, part, on), vocabulary)
    return {key: from_statements(*key, stated) for key, stated in statements.items()}


def _of_mate(surface: Thing, casebook: Casebook, vocabulary: Vocabulary, on: date) -> dict[tuple[str, str], Fact]:
    """What a surface's calculations see of the face that it runs on."""
    component, _, name = surface.mate.partition("/")
    there = _stated_of(casebook.components[component], casebook, vocabulary, on)
    found = {}
    for term in vocabulary.of("surface", Giver.PERSON):
        fact = there.get((f"surface:{name}", term.name)) or Fact(term.name, "", None, How.SILENT)
        found[f"surface:{surface.id}", f"mate.{term.short}"] = replace(fact, subject=f"mate:{surface.mate}")
    return found


def facts_today(proposal: Proposal, part: Component, casebook: Casebook, vocabulary: Vocabulary, on: date) -> Today:
    """Gather every fact of every subject as it stands today."""
    facts = facts_of_part(part, casebook, vocabulary, on)
    facts |= {("object", term): from_statements("object", term, s) for term, s in casebook.object.facts.items()}
    facts |= {("proposal", term): from_statements("proposal", term, s) for term, s in proposal.facts.items()}
    component = f"component:{part.id}"
    for now in ("duty_now", "duty_wanted"):
        if (component, f"component.{now}") not in facts and ("object", f"object.{now}") in facts:
            owner = facts["object", f"object.{now}"]
            facts[component, f"component.{now}"] = replace(owner, term=f"component.{now}", subject=component)
    for key, values in _read_off(proposal, part, casebook, vocabulary):
        facts[key] = Fact(key[1], key[0], values, How.READ_OFF if values else How.SILENT)
    for key, values in _left(proposal, part, casebook, vocabulary):
        facts.setdefault(key, Fact(key[1], key[0], values, How.READ_OFF if values else How.SILENT))
    for option in proposal.options:
        facts |= _option_facts(option, proposal, facts.get((component, "component.duty_wanted")), casebook, vocabulary)
        facts[f"option:{option.id}", _TREATS] = _treats_worsening(option, part, facts, vocabulary)
    for term in vocabulary.of("component", Giver.ROLL_UP):
        facts[component, term.name] = rolled_up(term, part, None, facts)
    for surface in part.surfaces or ():
        for term in vocabulary.of("surface", Giver.ROLL_UP):
            facts[f"surface:{surface.id}", term.name] = rolled_up(term, part, surface, facts)
    today = Today(subjects_of(proposal, part, casebook, vocabulary), facts)
    for subject in today.subjects:
        if subject.sees[subject.kind] == subject.id:  # an act at one of its places is the act itself
            for term in vocabulary.computed(subject.kind):
                facts[subject.id, term.name] = computed(term, subject.id, partial(today.see, subject), vocabulary)
    return today


def _read_off(
    proposal: Proposal, part: Component, casebook: Casebook, vocabulary: Vocabulary
) -> Iterator[tuple[tuple[str, str], Values | None]]:
    """What the shape of the casebook says by itself."""
    phase = casebook.object.phases.get(part.phase)
    listed = proposal.kind != "intervention" or any(o.listed and not o.acts for o in proposal.options)
    yield ("object", "object.significance_stated"), (_yes(bool(casebook.object.significance)),)
    yield (f"component:{part.id}", "component.period"), (phase.period,) if phase else None
    yield (f"component:{part.id}", "component.in_store"), (_yes(part.stored is not None),)
    yield ("proposal", "proposal.kind"), (proposal.kind,)
    yield ("proposal", "proposal.leave_listed"), (_yes(listed),)
    yield ("proposal", "proposal.review_set"), (_yes(proposal.review is not None),)
    yield ("proposal", "proposal.adjusting_listed"), (_yes(any(adjusts(o, vocabulary) for o in proposal.options)),)


_LEFT = {"metal_left": "metal", "surface_left": "surface", "marks_left": "marks"}


def _left(
    proposal: Proposal, part: Component, casebook: Casebook, vocabulary: Vocabulary
) -> Iterator[tuple[tuple[str, str], Values | None]]:
    """How much is left of what a part was made with; reckoned only where a word of the rules' asks for it."""
    words = [term for term in vocabulary.of("component", Giver.CALCULATION) if term.calculation in _LEFT]
    shares = left_of(part, casebook, vocabulary, but=proposal.id) if words else {}
    for term in words:
        share = shares[_LEFT[term.calculation]]
        yield (f"component:{part.id}", term.name), (share,) if share else None


def _yes(said: bool) -> str:
    return "yes" if said else "no"


def _option_facts(
    option: Option, proposal: Proposal, wanted: Fact | None, casebook: Casebook, vocabulary: Vocabulary
) -> dict[tuple[str, str], Fact]:
    subject = f"option:{option.id}"
    facts = {(subject, term): from_statements(subject, term, s) for term, s in option.facts.items()}
    work = proposal.work
    named = bool(word_of(option.facts, "option.done_by") and option.competence)
    duty = (option.duty,) if option.duty else wanted.values if wanted else None
    touched = any(vocabulary.techniques[act.technique].touches for act in option.acts)
    for term, values in (
        ("option.duty", duty),
        ("option.acts_on_part", (_yes(touched),)),
        ("option.part_stays", (_yes(not _taken_whole(option, vocabulary)),)),
        ("option.competence_stated", (_yes(named or bool(work and work.by and work.competence)),)),
    ):
        facts[subject, term] = Fact(term, subject, values, How.READ_OFF if values else How.SILENT)
    for act in option.acts:
        facts |= _act_facts(act, option, casebook, vocabulary)
    return facts


def _taken_whole(option: Option, vocabulary: Vocabulary) -> bool:
    return any(vocabulary.techniques[act.technique].takes == "whole-part" for act in option.acts)


def _treats_worsening(
    option: Option, part: Component, facts: Mapping[tuple[str, str], Fact], vocabulary: Vocabulary
) -> Fact:
    """Whether an option's acts treat everything that gets worse, or take the part off whole."""
    subject = f"option:{option.id}"
    treated = {act.treats for act in option.acts if not vocabulary.techniques[act.technique].examines}
    answers = ["yes" if part.defects is not None else ""]
    for defect in part.defects or ():
        active = facts.get((f"defect:{defect.id}", "defect.active"))
        if defect.id not in treated and (active is None or active.values != ("no",)):
            known = active is not None and active.values is not None and None not in treated
            answers.append("no" if known else "")
    said = "yes" if _taken_whole(option, vocabulary) else "no" if "no" in answers else min(answers)
    return Fact(_TREATS, subject, (said,) if said else None, How.READ_OFF if said else How.SILENT)


def _act_facts(act: Act, option: Option, casebook: Casebook, vocabulary: Vocabulary) -> dict[tuple[str, str], Fact]:
    subject = f"act:{option.id}/{act.number}"
    technique = vocabulary.techniques[act.technique]
    facts = {(subject, term): from_statements(subject, term, s) for term, s in act.facts.items()}
    facts |= {(subject, term): Fact(term, subject, (value,), How.TECHNIQUE) for term, value in technique.facts.items()}
    grades = [item.grade for name in act.evidence if (item := casebook.evidence[name]).grade]
    stated = (Stated((act.technique,), act.where),)
    facts[subject, "act.technique"] = Fact("act.technique", subject, (act.technique,), How.WRITTEN, stated)
    facts[subject, "act.form_evidence"] = Fact(
        "act.form_evidence", subject, (min(grades, default="none"),), How.READ_OFF
    )
    for term, said in order_of(act, option, vocabulary).items():
        facts[subject, term] = Fact(term, subject, (_yes(said),), How.READ_OFF)
    return facts


def rolled_up(term: Term, part: Component, surface: Thing | None, facts: Mapping[tuple[str, str], Fact]) -> Fact:
    """Yes if one is yes; no if the list is closed and all are no; otherwise unknown."""
    kind, _, rest = term.of.partition(".")
    closed = (surface.marks if surface else part.things(kind)) is not None
    things = (surface.marks or ()) if surface else [t for t in part.known_things() if t.kind == kind]
    subject = f"surface:{surface.id}" if surface else f"component:{part.id}"
    answers = [_counts(term, facts.get((f"{kind}:{t.id}", term.of)), bool(rest)) for t in things]
    if True in answers:
        return Fact(term.name, subject, ("yes",), How.ROLL_UP)
    if not closed or None in answers:
        return Fact(term.name, subject, None, How.SILENT)
    return Fact(term.name, subject, ("no",), How.ROLL_UP)


def _counts(term: Term, fact: Fact | None, by_value: bool) -> bool | None:
    """Whether one thing makes a roll-up true; None where nobody knows."""
    if not by_value:
        return True
    if fact is None or fact.values is None:
        return None
    return any(value in term.holds_for for value in fact.values)
