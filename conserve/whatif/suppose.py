"""Weigh a part again as if something that nobody has said were said."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping
from dataclasses import dataclass, replace
from datetime import date

from conserve.casebook import Act, Casebook, Component, Evidence, Option, Proposal, Stated, Thing
from conserve.casebook.model import Phase, Policy, Said, Values
from conserve.facts import facts_about
from conserve.inference import infer
from conserve.problem import Location
from conserve.quantity import Quantity
from conserve.rule import EffectKind, Stage
from conserve.rulebook import Rulebook
from conserve.terms import Vocabulary
from conserve.weighing import OptionWeighing, PartWeighing, weigh_part
from conserve.weighing.model import Standing, Step
from conserve.whatif.model import Lack, Supposed, Unknown

HERE = Location("as supposed")
UNWRITTEN = "one-unwritten"  # the id of a thing that may be there for all that anybody has written
ONE: Values = ("one",)  # the answer that there is one
NONE: Values = ()
_SAID = Said("", "", HERE)


@dataclass(frozen=True, slots=True)
class Setting:
    """What is weighed: a proposal about one part of a casebook."""

    casebook: Casebook
    proposal: Proposal
    part: str
    on: date

    @property
    def component(self) -> Component:
        return self.casebook.components[self.part]


def setting_of(part: PartWeighing) -> Setting:
    facts = part.findings.facts
    return Setting(facts.casebook, facts.proposal, facts.component.id, facts.on)


def weigh_supposing(part: PartWeighing, supposed: Supposed, rulebook: Rulebook) -> PartWeighing:
    """Weigh a part again with some answers more."""
    return weigh_setting(suppose(setting_of(part), supposed, rulebook.vocabulary), rulebook, part)


def weigh_setting(setting: Setting, rulebook: Rulebook, near: PartWeighing | None = None) -> PartWeighing:
    """Weigh a setting. `near` is one that differs from it in a few facts: it saves time and changes nothing."""
    facts = facts_about(setting.proposal, setting.component, setting.casebook, rulebook.vocabulary, setting.on)
    return weigh_part(infer(facts, rulebook, near.findings if near else None), rulebook)


def suppose(setting: Setting, supposed: Supposed, vocabulary: Vocabulary) -> Setting:
    """A setting in which these answers are written. Lists come first, for what stands in them is told after."""
    for unknown in sorted(supposed, key=lambda one: (one.lack is not Lack.LIST, one)):
        setting = _HOW[unknown.lack](setting, unknown, supposed[unknown], vocabulary)
    return setting


# ---- facts ---------------------------------------------------------------------------------------------


def _fact(setting: Setting, unknown: Unknown, values: Values, vocabulary: Vocabulary) -> Setting:
    kind, _, name = unknown.subject.partition(":")
    term = vocabulary.terms.get(unknown.term)
    if term is not None and term.stated_by and kind not in ("option", "act", "proposal"):
        return _stated_in_report(setting, unknown, term.stated_by, values)
    if kind == "object":
        thing = setting.casebook.object
        return _with(setting, object=replace(thing, facts=_told(thing.facts, unknown.term, values)))
    if kind == "proposal":
        facts = _told(setting.proposal.facts, unknown.term, values)
        return replace(setting, proposal=replace(setting.proposal, facts=facts))
    if kind in ("option", "act"):
        return _fact_of_option(setting, unknown, values)
    if kind == "mate":
        there, _, face = name.partition("/")
        own = Unknown(Lack.FACT, f"surface:{face}", unknown.term.replace("mate.", "surface.", 1))
        return _in_part(setting, own, values, there)
    return _in_part(setting, unknown, values, setting.part)


def _told(facts: Mapping[str, tuple[Stated, ...]], term: str, values: Values) -> dict[str, tuple[Stated, ...]]:
    readings = len(values) > 1 and isinstance(values[0], Quantity)
    if not readings:
        return {**facts, term: (Stated(values, HERE),)}
    angles = (180 * number // len(values) for number in range(len(values)))  # read round a circle, at one plane
    return {**facts, term: tuple(Stated((v,), HERE, plane="1", angle=str(a)) for v, a in zip(values, angles, strict=True))}


def _in_part(setting: Setting, unknown: Unknown, values: Values, part: str) -> Setting:
    component = setting.casebook.components[part]
    kind, _, name = unknown.subject.partition(":")
    if kind == "component":
        return _with_part(setting, replace(component, facts=_told(component.facts, unknown.term, values)))

    def told(things: Iterable[Thing] | None) -> tuple[Thing, ...] | None:
        if things is None:
            return None
        return tuple(
            replace(t, facts=_told(t.facts, unknown.term, values)) if t.kind == kind and t.id == name else t
            for t in things
        )

    surfaces = told(component.surfaces)
    if kind == "mark" and surfaces is not None:
        surfaces = tuple(replace(s, marks=told(s.marks)) for s in surfaces)
    return _with_part(
        setting,
        replace(component, surfaces=surfaces, repairs=told(component.repairs), defects=told(component.defects)),
    )


def _fact_of_option(setting: Setting, unknown: Unknown, values: Values) -> Setting:
    name, _, number = unknown.subject.partition(":")[2].partition("/")

    def told(option: Option) -> Option:
        if not number:
            return replace(option, facts=_told(option.facts, unknown.term, values))
        return replace(
            option,
            acts=tuple(
                replace(act, facts=_told(act.facts, unknown.term, values)) if str(act.number) == number else act
                for act in option.acts
            ),
        )

    return _with_option(setting, name, told)


def _claim(setting: Setting, unknown: Unknown, values: Values, _: Vocabulary) -> Setting:
    name = unknown.subject.partition(":")[2]
    return _with_option(setting, name, lambda o: replace(o, after=_told(o.after, unknown.term, values)))


# ---- lists ---------------------------------------------------------------------------------------------


def _list(setting: Setting, unknown: Unknown, values: Values, _: Vocabulary) -> Setting:
    kind, _, name = unknown.subject.partition(":")
    if kind == "act":
        return _named_by_act(setting, unknown, values)
    one = Thing(unknown.term.removesuffix("s"), UNWRITTEN, "one that nobody has written down", {}, HERE)
    things = (one,) if values else ()
    component = setting.component
    if kind == "surface":
        surfaces = tuple(
            replace(s, marks=things) if s.id == name and s.marks is None else s for s in component.surfaces or ()
        )
        return _with_part(setting, replace(component, surfaces=surfaces))
    lists = {"surfaces": component.surfaces, "repairs": component.repairs, "defects": component.defects}
    if lists[unknown.term] is None:
        lists[unknown.term] = things
    return _with_part(setting, replace(component, **lists))


def _named_by_act(setting: Setting, unknown: Unknown, values: Values) -> Setting:
    name, _, number = unknown.subject.partition(":")[2].partition("/")
    named = tuple(str(value) for value in values)

    def told(act: Act) -> Act:
        if str(act.number) != number:
            return act
        if unknown.term == "treats":
            return replace(act, treats=named[0] if named else "")
        return replace(act, takes=named)

    return _with_option(setting, name, lambda o: replace(o, acts=tuple(told(act) for act in o.acts)))


# ---- reports, phases, the policy -----------------------------------------------------------------------


def _stated_in_report(setting: Setting, unknown: Unknown, role: str, values: Values) -> Setting:
    kind, _, name = unknown.subject.partition(":")
    path = unknown.term if kind == "component" else f"{kind}s.{name}.{unknown.term.partition('.')[2]}"
    report = _report(setting, role)
    return _with_report(setting, replace(report, states=_told(report.states, path, values)))


def _answering_report(setting: Setting, unknown: Unknown, values: Values, _: Vocabulary) -> Setting:
    """A report that answers a rule's referral: the values are its role and the path of what it states."""
    role, path, *stated = values
    report = _report(setting, str(role))
    states = report.states or _told({}, str(path), tuple(stated))
    return _with_report(setting, replace(report, answers=(*report.answers, unknown.term), states=states))


def _report(setting: Setting, role: str) -> Evidence:
    """The report from a role that is supposed to be there. It is later than anything that has happened."""
    name = f"supposed-{role}"
    report = Evidence(name, "report", date.max, "", (setting.part,), "", HERE, role=role, lapses=date.max)
    return setting.casebook.evidence.get(name, report)


def _with_report(setting: Setting, report: Evidence) -> Setting:
    states = {
        path: tuple(replace(stated, report=report.id) for stated in all_stated)
        for path, all_stated in report.states.items()
    }
    evidence = {**setting.casebook.evidence, report.id: replace(report, states=states)}
    component = setting.component
    history = () if component.history is None else component.history
    return _with_part(_with(setting, evidence=evidence), replace(component, history=history))


def _phase(setting: Setting, unknown: Unknown, values: Values, _: Vocabulary) -> Setting:
    thing, name = setting.casebook.object, f"supposed-{values[0]}"
    phases = {**thing.phases, name: Phase(name, str(values[0]), "", "")}
    return _with_part(
        _with(setting, object=replace(thing, phases=phases)), replace(setting.component, phase=name)
    )


def _policy(setting: Setting, unknown: Unknown, values: Values, vocabulary: Vocabulary) -> Setting:
    """A policy that lists every technique, or none."""
    listed = tuple(vocabulary.techniques) if values else ()
    policy = Policy("", listed, listed, None)
    return _with(setting, object=replace(setting.casebook.object, policy=policy))


# ---- answers that only a person can give ----------------------------------------------------------------


def answered(part: PartWeighing, rulebook: Rulebook) -> PartWeighing:
    """The part with every objection answered, all that is owed by the decision given, and reasons for not waiting."""
    for _ in range(1 + len(part.options) ** 2):
        setting = setting_of(part)
        before = setting
        for option in part.options:
            setting = _with_answers(setting, option)
        if setting == before:
            return part
        part = weigh_setting(setting, rulebook, part)
    return part


def _with_answers(setting: Setting, option: OptionWeighing) -> Setting:
    name, owed = option.option.id, [r for r in option.requirements if r.by is Stage.DECISION and r.left]
    rules = {s.finding.rule.id for s in option.settled if _unanswered(s.finding.rule.then.kind, s.standing, s.answer)}
    rules |= {r.id for r in owed if r.finding is not None and r.finding.rule.then.answer}
    if rules:
        setting = _with_option(
            setting, name, lambda o: replace(o, answers={**o.answers, **dict.fromkeys(sorted(rules), _SAID)})
        )
    for then, rule in ((r.finding.rule.then, r.id) for r in owed if r.finding is not None):
        if not then.answer and not then.known:
            setting = _with_evidence(setting, rule, then.evidence or "document")
    if option.reason.step in (Step.GENTLER_WAITED_FOR, Step.LOSES_OTHER_THINGS):
        other = option.reason.option
        setting = _with_option(setting, name, lambda o: replace(o, rather_than={**o.rather_than, other: _SAID}))
    return setting


def _unanswered(kind: EffectKind, standing: Standing, answer: Said | None) -> bool:
    return kind is EffectKind.AGAINST and standing is not Standing.OUT and answer is None


def _with_evidence(setting: Setting, rule: str, kind: str) -> Setting:
    name = f"supposed-{rule}"
    item = Evidence(name, kind, setting.on, "", (setting.part,), "", HERE, answers=(rule,))
    return _with(setting, evidence={**setting.casebook.evidence, name: item})


# ---- putting it together --------------------------------------------------------------------------------

def _with(setting: Setting, **changed: object) -> Setting:
    return replace(setting, casebook=replace(setting.casebook, **changed))  # type: ignore[arg-type]


def _with_part(setting: Setting, component: Component) -> Setting:
    return _with(setting, components={**setting.casebook.components, component.id: component})


def _with_option(setting: Setting, name: str, told: Callable[[Option], Option]) -> Setting:
    options = tuple(told(o) if o.id == name else o for o in setting.proposal.options)
    return replace(setting, proposal=replace(setting.proposal, options=options))


_HOW = {
    Lack.FACT: _fact,
    Lack.LIST: _list,
    Lack.CLAIM: _claim,
    Lack.REPORT: _answering_report,
    Lack.PHASE: _phase,
    Lack.POLICY: _policy,
}
