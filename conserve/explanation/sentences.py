"""Each finding, need, requirement and verdict in a sentence."""

from __future__ import annotations

from conserve.account import named
from conserve.explanation.words import (
    capital,
    chance_in_words,
    disagreement,
    fact_in_words,
    filled,
    full,
    listed,
    lowered,
    path_in_words,
    placeholders,
    plain,
    role_in_words,
    subject_name,
    term_in_words,
    test_in_words,
    the,
    to_measure,
    value_in_words,
    worked_from,
)
from conserve.facts import Fact, Facts, How, Subject
from conserve.inference import Finding
from conserve.quantity import show
from conserve.rule import COMMON_PRACTICE, Stage
from conserve.terms import Vocabulary
from conserve.weighing.model import (
    ActCall,
    CheckOutcome,
    NeedOutcome,
    NeedState,
    OptionWeighing,
    PartWeighing,
    Question,
    Requirement,
    Settled,
    Shown,
    Standing,
    Step,
)

STAGES = {
    Stage.DECISION: "before anyone decides",
    Stage.BEFORE_WORK: "before the work",
    Stage.DURING_WORK: "during the work",
    Stage.AFTER_WORK: "after the work",
    Stage.BEFORE_USE: "before use",
}
_SHOWN = {
    Shown.TODAY: "as it is today",
    Shown.CONCLUDED: "a competent person has concluded so",
    Shown.COMPUTED: "as computed",
    Shown.CLAIMED: "as the option claims, to be measured before use",
    Shown.PROMISED: "as practice lets the work promise, to be shown afterwards",
}


def rule_says(finding: Finding, facts: Facts, sentence: str = "") -> str:
    """A rule's own sentence about its subject."""

    return filled(sentence or finding.rule.then.says, finding.subject, facts, lambda term: _seen(finding, facts, term))


def told_in(finding: Finding, facts: Facts) -> tuple[Fact, ...]:
    """The facts whose values a rule's sentences tell."""
    then = finding.rule.then
    names = placeholders(f"{then.says} {then.instead}")
    found = (_seen(finding, facts, name) for name in names if "." in name)
    return tuple(fact for fact in found if fact is not None)


def _seen(finding: Finding, facts: Facts, term: str) -> Fact | None:
    owner = finding.subject.sees.get(term.partition(".")[0], "")
    return facts.today.facts.get((owner, term)) or facts.today.facts.get((finding.subject.id, term))


def referral_says(finding: Finding, facts: Facts) -> str:
    """A rule's sentence, and for whom the question is where the sentence does not say so itself."""
    said, role = rule_says(finding, facts), finding.rule.then.to
    return said if not role or plain(role) in said.lower() else f"{said} It is for {role_in_words(role)}."


def instead(finding: Finding, facts: Facts) -> str:
    return rule_says(finding, facts, finding.rule.then.instead) if finding.rule.then.instead else ""


def grounds(finding: Finding, facts: Facts) -> tuple[str, ...]:
    """Why a rule applies, is open or is silent: each premise on its fact."""
    found = []
    for judgement in finding.grounds:
        answer = {
            0: f"; it would have to be {test_in_words(judgement.test)}",
            1: f"; the rule asks whether it is {test_in_words(judgement.test)}",
            2: "",
        }
        likely = (
            f", {chance_in_words(judgement)} {test_in_words(judgement.test)}" if judgement.chance is not None else ""
        )
        found.append(full(f"{fact_in_words(judgement.fact, facts)}{likely or answer[judgement.truth]}"))
    return tuple(found) or ("It applies to every one of its kind.",)


def sources(finding: Finding) -> str:
    """A rule and the clauses it stands on."""
    clauses = listed(plain(str(c)) if c.source == COMMON_PRACTICE else str(c) for c in finding.rule.sources)
    return f"{finding.rule.id}; {clauses}"


# ---- needs --------------------------------------------------------------------------------------------


def check_says(check: CheckOutcome, facts: Facts) -> str:
    """One test of a need with its number: "running clearance of the slipper 0.20 ± 0.04 mm, wanted between …"."""
    judgement = check.judgement
    what = path_in_words(check.check.path, facts, bool(judgement.test.bounds))
    value = value_in_words(judgement.fact.values)
    likely = chance_in_words(judgement)
    working = f" ({worked_from(judgement.fact).strip()})" if judgement.fact.working and judgement.fact.known else ""
    return f"{what} {value}{working}, wanted {test_in_words(judgement.test)}{f': {likely}' if likely else ''}"


def need_says(outcome: NeedOutcome, facts: Facts) -> str:
    """How an option leaves a need, with its numbers."""
    checks = listed(check_says(c, facts) for c in outcome.checks)
    if outcome.state is NeedState.MET:
        assert outcome.shown is not None
        later = f"; {role_in_words(outcome.asked_of)} must conclude so before use" if outcome.asked_of else ""
        numbers = f": {checks}" if outcome.shown in (Shown.TODAY, Shown.COMPUTED, Shown.CLAIMED) else ""
        return full(f"met, {_SHOWN[outcome.shown]}{numbers}{later}")
    if outcome.state is NeedState.FAILED:
        return full(f"not met: {checks}")
    if outcome.state is NeedState.IN_DOUBT:
        return full(f"in doubt, because of {listed(_bears(b, facts) for b in outcome.bears)}")
    if outcome.state is NeedState.OPEN:
        return full(f"not known yet: {checks}")
    return "Given up." if outcome.state is NeedState.GIVEN_UP else "Not asked at this use."


def _bears(name: str, facts: Facts) -> str:
    if "." in name:
        return f"the {plain(name.partition('.')[2])}, which cannot be told"
    thing = facts.component.thing("defect", name)
    return the(thing.name if thing else plain(name))


# ---- acts ---------------------------------------------------------------------------------------------


def act_says(call: ActCall, facts: Facts) -> str:
    """An act in words: "milling, at the working face"."""
    act = call.act
    where = subject_name(facts, f"surface:{act.surface}") if act.surface else the(facts.component.name)
    numbers = [
        f"{plain(term.partition('.')[2])} {value_in_words(stated[0].values)}"
        for term, stated in sorted(act.facts.items())
        if stated[0].values and not isinstance(stated[0].values[0], str)
    ]
    return f"{plain(act.technique)}, {where}{f', {listed(numbers)}' if numbers else ''}"


def call_says(call: ActCall, part: PartWeighing) -> str:
    """Whether an act is called for, and by what."""
    facts = part.findings.facts
    needs = {need.id: need.says.rstrip(".") for need in facts.proposal.needs}
    name = capital(act_says(call, facts))
    if facts.proposal.kind != "intervention":
        verb = {"called for": "is in", "not called for": "is not in", "open": "cannot be found in"}[call.call]
        return f"{name}: {verb} the policy for {plain(facts.proposal.kind)}."
    if call.call == "called for":
        why = listed(f"'{needs[n]}'" for n in call.needs) or "the question it answers"
        return f"{name}: called for by {why}."
    if call.call == "open":
        return f"{name}: whether it is called for is not known, for it is not shown that leaving alone fails."
    met = listed(f"'{needs[n]}'" for n in call.needs)
    why = f"Leaving the part alone already meets {met}." if met else "It is for no need that is asked."
    return f"{name}: not called for. {why}"


# ---- requirements, questions, losses --------------------------------------------------------------------


def requirement_says(requirement: Requirement, facts: Facts) -> str:
    """What is required, without its stage."""
    if requirement.finding is None:
        if requirement.role:
            return full(f"{role_in_words(requirement.role)} concludes: {requirement.says}")
        return full(f"Measure or show that it holds: {requirement.says}")
    said = rule_says(requirement.finding, facts)
    if requirement.certain:
        return said
    return full(f"Find out whether this is asked; if so, {lowered(said)}")


def question_says(question: Question, facts: Facts, vocabulary: Vocabulary) -> str:
    """The question to ask, and how well a measurement must be made to settle it."""
    if question.settle is not None:
        what = f"{term_in_words(question.fact.term)} of {subject_name(facts, question.fact.subject)}"
        so_far = value_in_words(question.fact.values)
        if question.fact.working:
            said = f"The {what} must be known to within ± {show(question.settle)}, and is {so_far}"
            return full(f"{said}: measure more closely {to_measure(question.fact, facts)}")
        closely = f"Measure the {what} to within ± {show(question.settle)}"
        return full(f"{closely}; that settles it if it still reads as now, {so_far}")
    name = question.fact.subject
    if question.fact.term.startswith("mate."):
        return f"On which face does {subject_name(facts, name)} run? Write it as its mate."
    asked = vocabulary.terms[question.fact.term].ask or f"What is the {term_in_words(question.fact.term)}?"
    subject = _asked_about(name, facts)
    owner = f" ({subject_name(facts, name)})" if subject.kind in ("act", "option") else ""
    clash = f" {full(disagreement(question.fact))}" if question.fact.how is How.DISPUTED else ""
    said = filled(asked, subject, facts, lambda _: None) + owner + clash
    return f"As this option would leave it, {lowered(said)}" if _of_later(question, facts) else said


def _of_later(question: Question, facts: Facts) -> bool:
    """Whether the answer is known today, and not of the part as the option leaves it."""
    today = facts.today.facts.get((question.fact.subject, question.fact.term))
    return today is not None and today.known and not question.fact.known


def _asked_about(name: str, facts: Facts) -> Subject:
    """The subject of a question; a face on another part sees itself as the surface."""
    component = facts.today.subjects[1]
    if name.startswith("mate:"):
        return Subject("surface", name, name, {**component.sees, "surface": name}, ())
    return next((s for s in facts.today.subjects if s.id == name), component)


def lost_says(option: OptionWeighing, facts: Facts) -> tuple[str, ...]:
    """Each thing an option takes from its place, in words."""
    here = {t.id: t.name for t in facts.component.known_things()} | {facts.component.id: facts.component.name}
    names = {name: the(words).removeprefix("the ") for name, words in here.items()}
    return tuple(named(thing, names) for thing in sorted(option.account.lost))


# ---- verdicts -------------------------------------------------------------------------------------------


def reason_says(option: OptionWeighing, part: PartWeighing) -> str:
    """The one reason of an option's verdict."""
    facts, reason = part.findings.facts, option.reason
    if reason.settled is not None:
        return _finding_reason(reason.settled, reason.step, facts)
    if reason.need is not None:
        return full(f"'{reason.need.need.says.rstrip('.')}' is {lowered(need_says(reason.need, facts))}")
    if reason.act is not None:
        return call_says(reason.act, part)
    if reason.requirement is not None:
        return _requirement_reason(option, facts)
    if reason.step is Step.NOTHING_AGAINST:
        return "Nothing in the rulebook stands against it, and nothing is owed but what every such job owes."
    other = reason.option
    return {
        Step.GENTLER_STANDS: f"'{other}' loses less and will do.",
        Step.GENTLER_WAITED_FOR: (
            f"'{other}' loses less, or may, and may yet do. Say under 'rather_than' why it is not waited for."
        ),
        Step.LOSES_OTHER_THINGS: (
            f"'{other}' would do as well and loses other things, or may. Say under 'rather_than' why this one is taken."
        ),
    }[reason.step]


def _finding_reason(settled: Settled, step: Step, facts: Facts) -> str:
    said = rule_says(settled.finding, facts)
    if step is Step.SOMETHING_OPEN:
        return f"It is not known whether this applies: {lowered(said)}"
    if step is Step.OBJECTION:
        whether = "" if settled.standing is Standing.IN else " (it is not known whether it applies)"
        return f"Nobody has answered this objection{whether}: {lowered(said)}"
    if step is Step.REFERRED:
        return referral_says(settled.finding, facts)
    return said


def _requirement_reason(option: OptionWeighing, facts: Facts) -> str:
    reason = option.reason
    assert reason.requirement is not None
    said = requirement_says(reason.requirement, facts)
    if reason.step is Step.OWED_NOW:
        return f"Still wanted before anyone decides: {lowered(said)}"
    others = sum(r.left and not r.routine for r in option.requirements) - 1
    more = f" And {others} more." if others > 0 else ""
    tick = " This has been met." if reason.requirement.met else ""
    return f"It stands, with this {STAGES[reason.requirement.by]}: {lowered(said)}{tick}{more}"
