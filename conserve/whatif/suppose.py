"""Weigh a part again as if something that nobody has said were said."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from datetime import date

from conserve.casebook import Act, Casebook, Component, Evidence, Option, Proposal, Stated, Thing
from conserve.casebook.model import Facts, Phase, Policy, Said, Values
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
Tell = Callable[[tuple[Stated, ...]], tuple[Stated, ...]]


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
    term = vocabulary.terms.get(unknown.term)
    if term is not None and term.stated_by and unknown.subject.partition(":")[0] not in ("option", "act", "proposal"):
        return _stated_in_report(setting, unknown, term.stated_by, values)
    return retold(setting, unknown.subject, unknown.term, lambda _: _statements(values))


def with_facts(setting: Setting, subject: str, term: str, values: Values) -> Setting:
    """A setting in which a fact of an option or an act is another."""
    return retold(setting, subject, term, lambda _: _statements(values))


def _statements(values: Values) -> tuple[Stated, ...]:
    """A fact as somebody would have written it. Several numbers are read round a circle, at one plane."""
    if len(values) < 2 or not isinstance(values[0], Quantity):
        return (Stated(values, HERE),)
    angles = (180 * number // len(values) for number in range(len(values)))
    return tuple(Stated((v,), HERE, plane="1", angle=str(a)) for v, a in zip(values, angles, strict=True))


def retold(setting: Setting, subject: str, term: str, tell: Tell) -> Setting:
    """A setting in which the statements of one fact are others."""
    kind, _, name = subject.partition(":")

    def told(facts: Facts) -> Facts:
        return {**facts, term: tell(facts.get(term, ()))}

    if kind == "object":
        thing = setting.casebook.object
        return _with(setting, object=replace(thing, facts=told(thing.facts)))
    if kind == "proposal":
        return replace(setting, proposal=replace(setting.proposal, facts=told(setting.proposal.facts)))
    if kind == "option":
        return with_option(setting, name, lambda option: replace(option, facts=told(option.facts)))
    if kind == "act":
        return _with_act(setting, subject, lambda act: replace(act, facts=told(act.facts)))
    if kind == "mate":
        there, _, face = name.partition("/")
        return _in_part(setting, there, f"surface:{face}", term.replace("mate.", "surface.", 1), tell)
    return _in_part(setting, setting.part, subject, term, tell)


def _in_part(setting: Setting, part: str, subject: str, term: str, tell: Tell) -> Setting:
    component = setting.casebook.components[part]
    kind, _, name = subject.partition(":")

    def told(facts: Facts) -> Facts:
        return {**facts, term: tell(facts.get(term, ()))}

    def among(things: tuple[Thing, ...] | None) -> tuple[Thing, ...] | None:
        if things is None:
            return None
        return tuple(replace(t, facts=told(t.facts)) if t.kind == kind and t.id == name else t for t in things)

    if kind == "component":
        return _with_part(setting, replace(component, facts=told(component.facts)))
    surfaces = among(component.surfaces)
    if kind == "mark" and surfaces is not None:
        surfaces = tuple(replace(surface, marks=among(surface.marks)) for surface in surfaces)
    return _with_part(
        setting,
        replace(component, surfaces=surfaces, repairs=among(component.repairs), defects=among(component.defects)),
    )


def _claim(setting: Setting, unknown: Unknown, values: Values, _: Vocabulary) -> Setting:
    name = unknown.subject.partition(":")[2]
    return with_option(setting, name, lambda o: replace(o, after={**o.after, unknown.term: _statements(values)}))


# ---- lists ---------------------------------------------------------------------------------------------


def _list(setting: Setting, unknown: Unknown, values: Values, vocabulary: Vocabulary) -> Setting:
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
    if component.things(one.kind) is not None:
        return setting
    return _with_part(setting, replace(component, **{unknown.term: things}))  # type: ignore[arg-type]


def _named_by_act(setting: Setting, unknown: Unknown, values: Values) -> Setting:
    named = tuple(str(value) for value in values)
    if unknown.term == "treats":
        return _with_act(setting, unknown.subject, lambda act: replace(act, treats=named[0] if named else ""))
    return _with_act(setting, unknown.subject, lambda act: replace(act, takes=named))


# ---- reports, phases, the policy -----------------------------------------------------------------------


def _stated_in_report(setting: Setting, unknown: Unknown, role: str, values: Values) -> Setting:
    kind, _, name = unknown.subject.partition(":")
    path = unknown.term if kind == "component" else f"{kind}s.{name}.{unknown.term.partition('.')[2]}"
    report = _report(setting, role)
    return _with_report(setting, replace(report, states={**report.states, path: _statements(values)}))


def _answering_report(setting: Setting, unknown: Unknown, values: Values, _: Vocabulary) -> Setting:
    """A report that answers a rule's referral: the values are its role and the path of what it states."""
    role, path, *said = values
    report = _report(setting, str(role))
    states = report.states or {str(path): _statements(tuple(said))}
    return _with_report(setting, replace(report, answers=(*report.answers, unknown.term), states=states))


def _report(setting: Setting, role: str) -> Evidence:
    """The report from a role that is supposed to be there. It is later than anything that has happened."""
    name = f"supposed-{role}"
    report = Evidence(name, "report", date.max, "", (setting.part,), "", HERE, role=role, lapses=date.max)
    return setting.casebook.evidence.get(name, report)


def _with_report(setting: Setting, report: Evidence) -> Setting:
    states = {
        path: tuple(replace(stated, report=report.id) for stated in statements)
        for path, statements in report.states.items()
    }
    evidence = {**setting.casebook.evidence, report.id: replace(report, states=states)}
    component = setting.component
    history = () if component.history is None else component.history
    return _with_part(_with(setting, evidence=evidence), replace(component, history=history))


def _phase(setting: Setting, unknown: Unknown, values: Values, _: Vocabulary) -> Setting:
    thing, name = setting.casebook.object, f"supposed-{values[0]}"
    phases = {**thing.phases, name: Phase(name, str(values[0]), "", "")}
    return _with_part(_with(setting, object=replace(thing, phases=phases)), replace(setting.component, phase=name))


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
        setting = with_option(
            setting, name, lambda o: replace(o, answers={**o.answers, **dict.fromkeys(sorted(rules), _SAID)})
        )
    for then, rule in ((r.finding.rule.then, r.id) for r in owed if r.finding is not None):
        if not then.answer and not then.known:
            setting = with_evidence(setting, rule, then.evidence or "document")
    if option.reason.step in (Step.GENTLER_WAITED_FOR, Step.LOSES_OTHER_THINGS):
        other = option.reason.option
        setting = with_option(setting, name, lambda o: replace(o, rather_than={**o.rather_than, other: _SAID}))
    return setting


def _unanswered(kind: EffectKind, standing: Standing, answer: Said | None) -> bool:
    return kind is EffectKind.AGAINST and standing is not Standing.OUT and answer is None


def with_evidence(setting: Setting, rule: str, kind: str) -> Setting:
    """A setting with registered evidence of a kind that answers a rule."""
    name = f"supposed-{rule}"
    item = Evidence(name, kind, setting.on, "", (setting.part,), "", HERE, answers=(rule,))
    return _with(setting, evidence={**setting.casebook.evidence, name: item})


# ---- putting it together --------------------------------------------------------------------------------


def _with(setting: Setting, **changed: object) -> Setting:
    return replace(setting, casebook=replace(setting.casebook, **changed))  # type: ignore[arg-type]


def _with_part(setting: Setting, component: Component) -> Setting:
    return _with(setting, components={**setting.casebook.components, component.id: component})


def with_option(setting: Setting, name: str, told: Callable[[Option], Option]) -> Setting:
    """A setting in which one option is another."""
    options = tuple(told(o) if o.id == name else o for o in setting.proposal.options)
    return replace(setting, proposal=replace(setting.proposal, options=options))


def _with_act(setting: Setting, subject: str, told: Callable[[Act], Act]) -> Setting:
    name, _, number = subject.partition(":")[2].partition("/")

    def among(option: Option) -> Option:
        return replace(option, acts=tuple(told(act) if str(act.number) == number else act for act in option.acts))

    return with_option(setting, name, among)


_HOW = {
    Lack.FACT: _fact,
    Lack.LIST: _list,
    Lack.CLAIM: _claim,
    Lack.REPORT: _answering_report,
    Lack.PHASE: _phase,
    Lack.POLICY: _policy,
}
