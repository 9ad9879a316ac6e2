"""Small cases with a few things left unsaid, and every way in which they may be completed: what `whatif` is held against.

Nothing here asks `whatif` what is unknown, what it could be or what that would settle. A case is made whole and some
of it is then taken out, so that it is known what is unsaid; what it could be comes from the words that travel with
the program; a completed case is weighed by the one way there is.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import cache
from itertools import product
from math import prod
from pathlib import Path
from tempfile import TemporaryDirectory

from helpers import shipped_rules
from test_laws import _ACTS, _CLAIMS, _ESTABLISHED, _NEEDS, _SEEN, _VALUES, Desk, Tree, Trees, without

from conserve.casebook.model import Said, Values
from conserve.engine import circles
from conserve.problem import Location
from conserve.quantity import Quantity, parse_quantity
from conserve.rule import Bound, Effect, EffectKind, Override, Premise, Rule, Stage, Status
from conserve.rule import Test as Asked
from conserve.rulebook import Rulebook
from conserve.rulebook.programs import program_of
from conserve.terms import SEES, Giver, Kind
from conserve.truth import Truth
from conserve.weighing import PartWeighing, Verdict
from conserve.weighing.model import Standing
from conserve.whatif.model import Lack, Unknown
from conserve.whatif.suppose import Setting, setting_of, suppose, weigh_setting, with_evidence, with_option

HERE = Location("rules/r.yaml")
LENGTHS = {
    "component": ("component.running_clearance",),
    "surface": ("surface.wear", "surface.relief"),
    "act": ("surface.wear", "surface.relief", "act.depth", "act.thickness", "component.running_clearance"),
}
LIMITS = ("0.10", "0.20", "0.40", "0.60")
SIZES = ("0.05", "0.10", "0.15", "0.20", "0.30", "0.40", "0.50", "0.60", "0.90")
Domain = tuple[Values, ...]


def mm(text: str) -> Quantity:
    return parse_quantity(f"{text} mm", "mm", exact=True)


# ---- rulebooks ------------------------------------------------------------------------------------------


def rulebook_by(draw: random.Random) -> Rulebook:
    """A rulebook of a few rules in the words that travel along: chains, overrides, gates and every effect."""
    vocabulary = shipped_rules().vocabulary
    while True:
        rules: tuple[Rule, ...] = ()
        gives = {word: draw.choice(_VALUES[word]) for word in _ESTABLISHED}
        for number in range(draw.randint(3, 9)):
            rules += (_rule(f"{draw.choice(('r', 'r', 'r', 'safety'))}/{number}", draw, rules, gives),)
        programs = {kind: program_of(rules, kind, vocabulary) for kind in SEES}
        if not any(circles(one.program) for one in programs.values()):
            return Rulebook(vocabulary, {}, tuple(sorted(rules, key=lambda r: r.id)), (), programs, "")


def _rule(name: str, draw: random.Random, earlier: tuple[Rule, ...], gives: Mapping[str, str]) -> Rule:
    about = draw.choice(
        ("act", "act", "act", "act", "option", "component", "defect", "surface", "mark", "repair", "proposal")
    )
    words = [t for t in _VALUES if t.partition(".")[0] in _SEEN.get(about, SEES[about])]
    asked = draw.sample(words, min(len(words), draw.randint(1, 2)))
    if about in ("defect", "surface", "mark", "repair"):  # such a rule asks something of the thing itself
        asked[0] = draw.choice([t for t in words if t.startswith(f"{about}.")])
    when = {t: Asked(_some(_VALUES[t], draw)) for t in asked}
    for term in draw.sample(LENGTHS.get(about, ()), draw.choice((0, 0, 1)) if about in LENGTHS else 0):
        when[term] = _length(term, about, draw)
    then = _effect(about, when, draw, gives)
    telling = [r.id for r in earlier if r.then.kind is not EffectKind.ESTABLISH and (then.gate or not r.then.gate)]
    over = draw.sample(telling, min(len(telling), draw.choice((0, 0, 1, 2))))
    edges = () if then.kind is EffectKind.ESTABLISH else tuple(Override(rule, "so", HERE) for rule in over)
    premises = tuple(Premise(term, test, HERE) for term, test in when.items())
    return Rule(name, name, Status.ADOPTED, date(2026, 1, 1), about, (), "So.", premises, then, edges, (), (), HERE)


def _some(values: Sequence[str], draw: random.Random) -> tuple[str, ...]:
    return tuple(sorted({draw.choice(values) for _ in range(2)}))


def _length(term: str, about: str, draw: random.Random) -> Asked:
    others = [other for other in LENGTHS[about] if other != term]
    how = draw.choice(("above", "below", "at_least", "at_most", "between"))
    if how == "between":
        low, high = sorted(draw.sample(LIMITS, 2))
        return Asked(bounds=(Bound("at_least", mm(low)), Bound("at_most", mm(high))))
    limit = draw.choice(others) if others and draw.random() < 0.4 else mm(draw.choice(LIMITS))
    return Asked(bounds=(Bound(how, limit),))


def _effect(about: str, when: Mapping[str, Asked], draw: random.Random, gives: Mapping[str, str]) -> Effect:
    words = [word for word in _ESTABLISHED if word.startswith(f"{about}.") and word not in when]
    if words and draw.random() < 0.4:
        word = draw.choice(words)
        return Effect(EffectKind.ESTABLISH, establishes=(word, gives[word]))
    by = draw.choice(tuple(Stage))
    return draw.choice(
        (
            Effect(EffectKind.FORBID, says="Do not.", gate=draw.random() < 0.3),
            Effect(EffectKind.REFER, says="Ask.", to="competent-engineer"),
            Effect(EffectKind.REQUIRE, says="Do it.", by=by, routine=draw.random() < 0.3),
            Effect(EffectKind.REQUIRE, says="Do it.", by=Stage.AFTER_WORK),
            Effect(EffectKind.REQUIRE, says="Say why.", by=by, answer=True),
            Effect(EffectKind.REQUIRE, says="Show it.", by=by, evidence=draw.choice(("report", "photograph"))),
            Effect(EffectKind.REQUIRE, says="Know it.", by=by, known="component.role"),
            Effect(EffectKind.AGAINST, says="It is a pity."),
            Effect(EffectKind.NOTE, says="Look."),
        )
    )


# ---- whole casebooks ---------------------------------------------------------------------------------------


def _words(owner: str, draw: random.Random) -> Tree:
    """All that a person may say of a thing, of the words that the rules here ask about."""
    terms = shipped_rules().vocabulary.terms
    found: Tree = {}
    for name in _VALUES:
        if terms[name].owner == owner and terms[name].giver is Giver.PERSON and name != "act.technique":
            value = draw.choice(_VALUES[name])
            found[terms[name].short] = [value] if terms[name].many else value
    return found


def trees_by(draw: random.Random) -> Trees:
    """A casebook of one part and one proposal, in which all that the rules here may ask about is said."""
    part = _part(draw)
    marks = [m for s in part["surfaces"].values() if s["marks"] != "none" for m in s["marks"]] if part["surfaces"] != "none" else []
    needs = draw.sample(sorted(_NEEDS if part["defects"] != "none" else {"fit", "serves", "turn"}), draw.choice((1, 1, 2)))
    options: Tree = {"leave": {"acts": []}} if draw.random() < 0.93 else {}
    for name in ("one", "two")[: draw.choice((1, 2, 2))]:
        options[name] = _option(draw, needs, marks, part)
    asked = {
        "needs": {need: {"says": "So.", "set_by": "me", **_NEEDS[need]} for need in needs},
        "options": options, "preferred": "one",
    }  # fmt: skip
    if draw.random() < 0.08:  # routine care is put forward without needs or options
        asked = {"kind": "routine-care", "acts": _option(draw, [], marks, part)["acts"][:1]}
    return {
        "object.yaml": {
            "name": "It", "duty_now": "static", "duty_wanted": "demonstration", "significance": "It matters.",
            "phases": {"as-built": {"period": "as-made", "dates": "1868"}}, **_words("object", draw),
            "policy": {"says": "So.", "routine_care": [draw.choice(("wax-coating", "blasting"))], "holding_works": []},
        },
        "components/part.yaml": part,
        "proposals/question.yaml": {
            "title": "Q", "component": "part", "asked": {"date": "2026-03-02", "by": "me"}, **_words("proposal", draw),
            **asked,
        },
    }  # fmt: skip


def _part(draw: random.Random) -> Tree:
    faces = {name: _face(name, draw) for name in ("face", "back")} if draw.random() < 0.85 else "none"
    exact = draw.random() < 0.7
    return {
        "name": "Part", "phase": "as-built", **_words("component", draw),
        "running_clearance": f"{draw.choice(SIZES[draw.choice((0, 6, 6)):])} ± 0 mm" if exact else f"{draw.choice(SIZES[2:])} ± 0.10 mm",
        "mass": "10 ± 0.1 kg", "volume": "1300 ± 20 cm3", "examined": "yes",
        "surfaces": faces,
        "repairs": {"patch": _words("repair", draw)} if draw.random() < 0.4 else "none",
        "defects": {"fault": {**_words("defect", draw), **({"active": "yes"} if draw.random() < 0.6 else {})}} if draw.random() < 0.85 else "none",
        "history": [{"date": "2026-01-10", "kind": "used", "says": "Used."}],
        **({"serviceable": "no"} if draw.random() < 0.6 else {}),
    }  # fmt: skip


def _face(name: str, draw: random.Random) -> Tree:
    marks = {f"{name}-stamp": _words("mark", draw)} if draw.random() < 0.4 else "none"
    sizes = {term: f"{draw.choice(SIZES)} ± 0 mm" for term in ("wear", "relief")}
    return {**_words("surface", draw), "sets_clearance": draw.choice(("yes", "no")), "area": "400 ± 5 cm2", **sizes, "marks": marks}


def _option(draw: random.Random, needs: Sequence[str], marks: Sequence[str], part: Tree) -> Tree:
    acts = []
    there = [act for act in _ACTS if "where" not in act or part["surfaces"] != "none"]
    for act in draw.sample(there, draw.choice((1, 1, 2))):
        touches = shipped_rules().vocabulary.techniques[act["technique"]].takes != "nothing"
        here = [m for m in marks if act.get("where", m).partition("-")[0] == m.partition("-")[0] and draw.random() < 0.5]
        treats = draw.choice(("fault", "none")) if part["defects"] != "none" else "none"
        acts.append({**act, **_words("act", draw), "treats": treats, "takes": (here if touches else []) or "none", "for": list(needs)})
    lower = {"duty": "static"} if draw.random() < 0.3 else {}
    after = {path: values[0] if draw.random() < 0.7 else draw.choice(values) for path, values in _CLAIMS.items() if part["defects"] != "none" or "fault" not in path}
    return {"acts": acts, **_words("option", draw), **lower, "after": after}


# ---- cases -----------------------------------------------------------------------------------------------


@dataclass(frozen=True)
class Case:
    """A part with some things left unsaid, and all that each of them could be."""

    part: PartWeighing
    rulebook: Rulebook
    unsaid: Mapping[Unknown, Domain]
    trees: Trees

    @property
    def options(self) -> tuple[str, ...]:
        return tuple(o.option.id for o in self.part.options)


@cache
def case_of(number: int, most: int = 4, plain: bool = False) -> Case:
    """One of the cases, by its number, with up to so many things unsaid; `plain`: words of which all values are tried."""
    draw = random.Random(f"case {number} {most} {plain}")
    while True:
        rulebook, trees = rulebook_by(draw), trees_by(draw)
        whole = part_of(trees, rulebook)
        if whole is None:
            continue
        ways = [way for way in sayable(whole) if not plain or _is_plain(way[2], rulebook)]
        asked = {term for program in rulebook.programs.values() for term in program.asks}
        ways.sort(key=lambda one: (one[2].term not in asked and one[2].lack is Lack.FACT and draw.random() < 0.7, draw.random()))
        gone = ways[: draw.randint(1, most)]
        for file, way, _ in gone:
            trees = {**trees, file: without(trees[file], way)}
        part = part_of(trees, rulebook)
        if part is not None:
            unsaid = {unknown: domain_of(unknown, part, rulebook, draw, plain) for _, _, unknown in gone}
            unsaid |= {**rough(part), **never_said(part, rulebook)}
            if not plain or not any(isinstance(value, Quantity) for domain in unsaid.values() for values in domain for value in values):
                return Case(part, rulebook, unsaid, trees)


def _is_plain(unknown: Unknown, rulebook: Rulebook) -> bool:
    """Whether it is a word, one of a short list."""
    term = rulebook.vocabulary.terms.get(unknown.term)
    few = term is not None and term.kind in (Kind.CHOICE, Kind.FLAG) and not term.many and len(term.values) <= 6
    return unknown.lack is Lack.FACT and few


def part_of(trees: Trees, rulebook: Rulebook) -> PartWeighing | None:
    """The only part of the only proposal, read from files and weighed; None where it does not load."""
    with TemporaryDirectory() as root:
        try:
            return Desk(Path(root), trees, rulebook).whole.parts[0]
        except AssertionError:
            return None


Way = tuple[str, tuple[str | int, ...], Unknown]  # a file, the way to a key in it, and what is unsaid without it


def sayable(part: PartWeighing) -> Iterator[Way]:
    """Whatever can be left unsaid of a case, by where it stands."""
    facts, component = part.findings.facts, part.component
    file = "components/part.yaml"
    words = {term: said for term, said in facts.casebook.object.facts.items() if term != "object.duty_wanted"}
    yield from _keys("object.yaml", (), "object", words)
    yield "object.yaml", ("duty_wanted",), Unknown(Lack.FACT, "component:part", "component.duty_wanted")
    yield "object.yaml", ("policy",), Unknown(Lack.POLICY, "object", "policy")
    yield from _keys(file, (), "component:part", component.facts)
    yield file, ("phase",), Unknown(Lack.PHASE, "component:part", "phase")
    for kind in ("surfaces", "repairs", "defects"):
        things = component.things(kind.removesuffix("s"))
        if things == ():
            yield file, (kind,), Unknown(Lack.LIST, "component:part", kind)
        for thing in things or ():
            yield from _keys(file, (kind, thing.id), f"{thing.kind}:{thing.id}", thing.facts)
            if thing.kind == "surface" and not thing.marks:
                yield file, (kind, thing.id, "marks"), Unknown(Lack.LIST, f"surface:{thing.id}", "marks")
            for mark in thing.marks or ():
                yield from _keys(file, (kind, thing.id, "marks", mark.id), f"mark:{mark.id}", mark.facts)
    file = "proposals/question.yaml"
    yield from _keys(file, (), "proposal", facts.proposal.facts)
    for option in facts.proposal.options:
        at = ("options", option.id) if facts.proposal.kind == "intervention" else ()
        yield from _keys(file, at, f"option:{option.id}", option.facts)
        for path in option.after:
            yield file, ("options", option.id, "after", path), Unknown(Lack.CLAIM, f"option:{option.id}", path)
        for index, act in enumerate(option.acts):
            name, way = f"act:{option.id}/{act.number}", (*at, "acts", index)
            words = {t: s for t, s in act.facts.items() if not isinstance(s[0].values[:1] and s[0].values[0], Quantity)}
            yield from _keys(file, way, name, {t: s for t, s in words.items() if t != "act.holes"})
            yield file, (*way, "treats"), Unknown(Lack.LIST, name, "treats")
            yield file, (*way, "takes"), Unknown(Lack.LIST, name, "takes")


def _keys(file: str, way: tuple[str | int, ...], subject: str, facts: Mapping[str, object]) -> Iterator[Way]:
    for term in facts:
        short = term.partition(".")[2]
        if short not in ("duty_now", "mass", "volume", "area", "examined"):  # what no rule here asks, or must be said
            yield file, (*way, short), Unknown(Lack.FACT, subject, term)


def rough(part: PartWeighing) -> Mapping[Unknown, Domain]:
    """A number that is known, but not closely enough for all that is held against it: what it may yet be."""
    name = "component.running_clearance"
    fact = part.findings.facts.today.facts.get(("component:part", name))
    values = [v for v in (fact.values if fact else None) or () if isinstance(v, Quantity)]
    if not values or not values[0].uncertainty:
        return {}
    low, high = values[0].amount - values[0].uncertainty, values[0].amount + values[0].uncertainty
    inside = [mm(text) for text in SIZES if low <= mm(text).amount <= high]
    return {Unknown(Lack.FACT, "component:part", name): tuple((one,) for one in (mm(str(low)), *inside, mm(str(high))))}


def never_said(part: PartWeighing, rulebook: Rulebook) -> Mapping[Unknown, Domain]:
    """What no file here says, where something asks it: what only a report states, and numbers of an act."""
    fit, proposal, found = "component.fit_to_run", part.findings.facts.proposal, dict[Unknown, Domain]()
    checked = {check.path for need in proposal.needs for check in need.checks}
    asked = {term for program in rulebook.programs.values() for term in program.asks}
    if fit in checked | {act.finds for option in proposal.options for act in option.acts}:
        found[Unknown(Lack.FACT, "component:part", fit)] = (("yes",), ("no",))
    for option in proposal.options:
        if "option.done_by" in asked and not option.acts:
            found[Unknown(Lack.FACT, f"option:{option.id}", "option.done_by")] = (("engineer",), ("volunteer",))
        for act in option.acts:
            for term in sorted({"act.depth", "act.thickness"} & asked - act.facts.keys()):
                sizes = (*SIZES[1::3], "0.02")
                found[Unknown(Lack.FACT, f"act:{option.id}/{act.number}", term)] = tuple((mm(size),) for size in sizes)
    return found


# ---- what each could be -------------------------------------------------------------------------------------


def domain_of(
    unknown: Unknown, part: PartWeighing, rulebook: Rulebook, draw: random.Random, whole: bool = False
) -> Domain:
    """What something unsaid could be; of long lists of words those that a rule here names, and two more."""
    vocabulary = rulebook.vocabulary
    if unknown.lack is Lack.POLICY:
        return (("all",), ())
    if unknown.lack is Lack.PHASE:
        return tuple((value,) for value in vocabulary.terms["component.period"].values)
    if unknown.lack is Lack.LIST:
        return _of_list(unknown, part)
    name = unknown.term if unknown.lack is Lack.FACT else _term_of(unknown.term)
    term = vocabulary.terms[name]
    if term.kind is Kind.QUANTITY:
        return tuple((mm(text),) for text in SIZES[::2])
    values = term.values
    if len(values) > 4 and not whole:
        values = tuple(dict.fromkeys((*_VALUES.get(name, ()), *draw.sample(values, 2))))
    single = tuple((value,) for value in values)
    return (*single, (), values[:2]) if term.many else single


def _term_of(path: str) -> str:
    head, *_, last = path.split(".")
    return f"{head.removesuffix('s')}.{last}"


def _of_list(unknown: Unknown, part: PartWeighing) -> Domain:
    kind, _, name = unknown.subject.partition(":")
    if kind != "act":
        return ((), ("one",))
    option = part.findings.facts.proposal.option(name.partition("/")[0])
    assert option is not None
    act = option.acts[int(name.partition("/")[2]) - 1]
    if unknown.term == "treats":
        return ((), *((d.id,) for d in part.component.defects or ()))
    faces = [s for s in part.component.surfaces or () if act.surface in ("", s.id)]
    marks = [m.id for s in faces for m in s.marks or ()]
    return ((), *((m,) for m in marks), *([tuple(marks)] if len(marks) > 1 else []))


# ---- completing --------------------------------------------------------------------------------------------------

Completed = tuple[Mapping[Unknown, Values], PartWeighing]


def size_of(case: Case) -> int:
    return prod(len(domain) for domain in case.unsaid.values())


def completions(case: Case, most: int, draw: random.Random, given: Mapping[Unknown, Values] | None = None) -> Iterator[Completed]:
    """Every completion of a case, or so many at random, with some answers given; each weighed."""
    given = given or {}
    left = {unknown: domain for unknown, domain in sorted(case.unsaid.items()) if unknown not in given}
    if prod(map(len, left.values())) <= most:
        chosen: Iterator[Sequence[Values]] = iter(product(*left.values()))
    else:
        chosen = iter([[draw.choice(domain) for domain in left.values()] for _ in range(most)])
    for values in chosen:
        supposed = {**given, **dict(zip(left, values, strict=True))}
        found = completed(case, supposed, draw)
        if not (rough(case.part) and contradicts(case.part, found[1])):
            yield found


def completed(case: Case, supposed: Mapping[Unknown, Values], draw: random.Random) -> Completed:
    """A completion from answers: what stands on lists that are now written is said too, and all is answered."""
    supposed = dict(supposed)
    part = _weighed(case, supposed)
    new = _of_new_things(part, case.rulebook, draw)
    if new.keys() - supposed.keys():
        supposed = {**new, **supposed}
        part = _weighed(case, supposed)
    return supposed, settled_by_people(part, case.rulebook)


def _weighed(case: Case, supposed: Mapping[Unknown, Values]) -> PartWeighing:
    return weigh_setting(suppose(setting_of(case.part), supposed, case.rulebook.vocabulary), case.rulebook)


def _of_new_things(part: PartWeighing, rulebook: Rulebook, draw: random.Random) -> dict[Unknown, Values]:
    """What the rules ask of things that nobody had written down before, said at random."""
    asked = sorted({term for program in rulebook.programs.values() for term in program.asks} | {"surface.sets_clearance"})
    found: dict[Unknown, Values] = {}
    for thing in part.component.known_things():
        if thing.id == "one-unwritten":
            for name in asked:
                term = rulebook.vocabulary.terms[name]
                if term.owner == thing.kind and term.giver is Giver.PERSON:
                    unknown = Unknown(Lack.FACT, f"{thing.kind}:{thing.id}", name)
                    found[unknown] = draw.choice(domain_of(unknown, part, rulebook, draw))
    return found


SAID = Said("me", "So.", HERE)


def settled_by_people(part: PartWeighing, rulebook: Rulebook) -> PartWeighing:
    """The part once every referral and objection is answered, evidence shown, and reasons given for not waiting."""
    for _ in range(12):
        setting = before = setting_of(part)
        for one in part.options:
            name = one.option.id
            for settled in one.settled:
                rule, then = settled.finding.rule.id, settled.finding.rule.then
                if settled.standing is Standing.OUT:
                    continue
                if then.kind is EffectKind.REFER and not settled.report:
                    setting = suppose(setting, {Unknown(Lack.REPORT, f"component:{part.component.id}", rule): (then.to, *_says_nothing_new(part))}, rulebook.vocabulary)
                if then.kind is EffectKind.AGAINST or (then.answer and then.by is Stage.DECISION):
                    setting = _answered(setting, name, rule)
                elif then.kind is EffectKind.REQUIRE and then.by is Stage.DECISION and not then.known:
                    setting = with_evidence(setting, rule, then.evidence or "document")
            if one.reason.option and one.verdict is Verdict.NOT_YET_SHOWN:
                setting = _not_waiting(setting, name, one.reason.option)
        if setting == before:
            return part
        part = weigh_setting(setting, rulebook, part)
    raise AssertionError("it never comes to rest")


def _says_nothing_new(part: PartWeighing) -> Values:
    """What a report may state that is so already."""
    fact = part.findings.facts.today.facts.get((f"component:{part.component.id}", "component.examined"))
    return ("component.examined", *((fact.values if fact else None) or ("yes",)))


def _answered(setting: Setting, name: str, rule: str) -> Setting:
    return with_option(setting, name, lambda o: replace(o, answers={**o.answers, rule: SAID}))


def _not_waiting(setting: Setting, name: str, other: str) -> Setting:
    return with_option(setting, name, lambda o: replace(o, rather_than={**o.rather_than, other: SAID}))


def contradicts(less: PartWeighing, more: PartWeighing) -> bool:
    """Whether a number, said more closely, has turned out otherwise than it surely seemed: one case in twenty may."""
    then = {(f.rule.id, f.subject.id): f.truth for f in more.findings.all}
    settled = ((f.truth, then.get((f.rule.id, f.subject.id), f.truth)) for f in less.findings.all)
    checks = (
        (check.judgement.truth, there.judgement.truth)
        for option in less.options
        for need in option.needs
        for check, there in zip(need.checks, more.option(option.option.id).need(need.need.id).checks, strict=False)
    )
    return any(one is not Truth.UNKNOWN and other is not one for one, other in (*settled, *checks))


def verdicts(part: PartWeighing) -> dict[str, Verdict]:
    return {o.option.id: o.verdict for o in part.options}


def last_word(verdict: Verdict) -> bool:
    """Whether a verdict waits for nothing more."""
    return verdict not in (Verdict.NOT_YET_SHOWN, Verdict.REFER)


