"""Needs under an option, and whether each act is called for."""

from __future__ import annotations

from conserve.casebook import Act, Need, NeedKind, Option
from conserve.facts import Fact, Facts, How, judge, standing_reports
from conserve.facts.today import key_of
from conserve.inference import Findings
from conserve.rulebook import Rulebook
from conserve.terms import Vocabulary
from conserve.truth import Truth, all_of
from conserve.weighing.model import ActCall, Call, CheckOutcome, NeedOutcome, NeedState, Shown

_FIRM = (How.WRITTEN, How.REPORTED, How.READ_OFF, How.TECHNIQUE, How.ROLL_UP)


def need_outcomes(
    option: Option, duty: str, wanted: str, findings: Findings, rulebook: Rulebook
) -> tuple[NeedOutcome, ...]:
    """How an option leaves each need of its proposal."""
    return tuple(
        NeedOutcome(need, state, None, ())
        if (state := _unasked(need, duty, wanted)) is not None
        else need_outcome(need, option, findings, rulebook)
        for need in findings.facts.proposal.needs
    )


def _unasked(need: Need, duty: str, wanted: str) -> NeedState | None:
    """A need is given up when it is asked only at duties that the option does not keep."""
    if not need.at or not duty or duty in need.at:
        return None
    return NeedState.GIVEN_UP if not wanted or wanted in need.at else NeedState.NOT_ASKED


def need_outcome(need: Need, option: Option, findings: Findings, rulebook: Rulebook) -> NeedOutcome:
    """How an option leaves one need that is asked."""
    checks = tuple(
        _checked(check_path, need, number, option, findings, rulebook.vocabulary)
        for number, check_path in enumerate(check.path for check in need.checks)
    )
    truth = all_of(c.judgement.truth for c in checks)
    promised = _promised(need, option, findings)
    if need.kind is NeedKind.SAFETY:
        return _safety(need, option, checks, truth, promised, findings, rulebook.vocabulary)
    if truth is Truth.NO:
        return NeedOutcome(need, NeedState.FAILED, None, checks)
    if truth is Truth.YES:
        return NeedOutcome(need, NeedState.MET, _shown(checks), checks)
    if promised and _in_the_acts_hands(checks):
        return NeedOutcome(need, NeedState.MET, Shown.PROMISED, checks)
    return NeedOutcome(need, NeedState.OPEN, None, checks)


def _checked(
    path: str, need: Need, number: int, option: Option, findings: Findings, vocabulary: Vocabulary
) -> CheckOutcome:
    facts = findings.facts
    after = facts.after[option.id, path]
    term = vocabulary.terms[key_of(path, facts.component.id)[1]]
    component = facts.today.subjects[1]
    judgement = judge(
        need.checks[number].test, term, after.fact, lambda name: facts.today.look(component, vocabulary.terms[name])
    )
    return CheckOutcome(need.checks[number], judgement, after)


def _shown(checks: tuple[CheckOutcome, ...]) -> Shown:
    """How firmly a need is shown: as firmly as its least firm check."""
    hows = {check.after.fact.how for check in checks}
    if How.CLAIMED in hows:
        return Shown.CLAIMED
    if How.COMPUTED in hows:
        return Shown.COMPUTED
    return Shown.TODAY


def _promised(need: Need, option: Option, findings: Findings) -> bool:
    """Whether an act that is for the need may, by a rule, promise to meet it."""
    return any(need.id in act.needs and _promise(act, option, findings) == (need.kind.value,) for act in option.acts)


def _promise(act: Act, option: Option, findings: Findings) -> tuple[object, ...]:
    fact = findings.established(f"act:{option.id}/{act.number}", "act.promises")
    return fact.values if fact is not None and fact.values is not None else ()


def _in_the_acts_hands(checks: tuple[CheckOutcome, ...]) -> bool:
    """A promise covers what the acts certainly change, never what they leave as it is and nobody knows."""
    return all((check.after.touched and check.after.surely) or check.judgement.truth is Truth.YES for check in checks)


# ---- safety -------------------------------------------------------------------------------------------

_SOMEBODY = "competent-person"  # no word of the test says who may conclude it, and no trade is guessed at


def _safety(
    need: Need,
    option: Option,
    checks: tuple[CheckOutcome, ...],
    truth: Truth,
    promised: bool,
    findings: Findings,
    vocabulary: Vocabulary,
) -> NeedOutcome:
    """A safety need is met only by a competent person's conclusion, in hand or required before use."""
    role = next((r for c in checks if (r := vocabulary.terms[c.judgement.term].stated_by)), _SOMEBODY)
    if truth is Truth.NO:
        return NeedOutcome(need, NeedState.FAILED, None, checks)
    if truth is Truth.YES and _concluded(need, checks, findings.facts, vocabulary):
        return NeedOutcome(need, NeedState.MET, Shown.CONCLUDED, checks)
    if truth is Truth.YES:
        return NeedOutcome(need, NeedState.MET, _shown(checks), checks, asked_of=role)
    if promised:
        return NeedOutcome(need, NeedState.MET, Shown.PROMISED, checks, asked_of=role)
    bears = _bearing(need, option, checks, findings.facts)
    return NeedOutcome(need, NeedState.IN_DOUBT if bears else NeedState.OPEN, None, checks, bears=bears)


def _concluded(need: Need, checks: tuple[CheckOutcome, ...], facts: Facts, vocabulary: Vocabulary) -> bool:
    """Whether a registered report that still stands answers the need, or states what it tests.

    A report is about the part as it is: it concludes nothing about what an act would make of it.
    """
    if any(c.after.touched for c in checks):
        return False
    reports = standing_reports(facts.casebook, facts.component, facts.on)
    competent = {r.id for r in reports if vocabulary.roles.get(r.role) and r.states}
    if any(f"needs/{need.id}" in r.answers for r in reports if r.id in competent):
        return True
    return bool(checks) and all(any(s.report in competent for s in c.after.fact.statements) for c in checks)


def _bearing(need: Need, option: Option, checks: tuple[CheckOutcome, ...], facts: Facts) -> tuple[str, ...]:
    """What bears on a safety need without showing it met, and no act of the option deals with."""
    if any(need.id in act.needs for act in option.acts):
        return ()
    straddling = [
        c.judgement.term
        for c in checks
        if c.judgement.truth is Truth.UNKNOWN and (c.after.fact.known or _disputed(c.after.fact))
    ]
    treated = {act.treats for act in option.acts}
    defects = [d.id for d in facts.component.defects or () if d.id not in treated and _threatens(facts, d.id)]
    return (*straddling, *defects)


def _disputed(fact: Fact) -> bool:
    """Whether the evidence for a fact disagrees, or that for what it is worked out from."""
    found = fact.working.missing if fact.working else (fact,)
    return any(one.how is How.DISPUTED for one in found)


def _threatens(facts: Facts, defect: str) -> bool:
    fact: Fact | None = facts.today.facts.get((f"defect:{defect}", "defect.affects_safety"))
    return fact is not None and fact.values == ("yes",)


# ---- called for ---------------------------------------------------------------------------------------


def act_call(
    act: Act, outcomes: tuple[NeedOutcome, ...], left: dict[str, NeedOutcome], facts: Facts, vocabulary: Vocabulary
) -> ActCall:
    """Whether an act is called for. To take away, the need must be shown; doubt never spends fabric.

    `left` is how leaving the part alone leaves each need, asked or not.
    """
    if facts.proposal.kind != "intervention":
        return _under_policy(act, facts)
    technique = vocabulary.techniques[act.technique]
    kept = {o.need.id for o in outcomes if o.state not in (NeedState.GIVEN_UP, NeedState.NOT_ASKED)}
    serves = tuple(name for name in act.needs if name in kept)
    state = {name: left[name].state for name in serves}
    failing = tuple(name for name in serves if state[name] is NeedState.FAILED)
    if failing:
        return ActCall(act, Call.CALLED_FOR, failing)
    takes_nothing = technique.takes == "nothing" and technique.facts["technique.heats"] in ("nothing", "warms")
    doubtful = tuple(name for name in serves if state[name] is NeedState.IN_DOUBT)
    if takes_nothing and doubtful:
        return ActCall(act, Call.CALLED_FOR, doubtful)
    unknown = tuple(name for name in serves if state[name] is NeedState.OPEN)
    if technique.examines and (unknown or doubtful or _finds(act, facts)):
        return ActCall(act, Call.CALLED_FOR, unknown or doubtful)
    if all(s is NeedState.MET for s in state.values()):
        return ActCall(act, Call.NOT_CALLED_FOR, serves)
    return ActCall(act, Call.OPEN, unknown or doubtful)


def _finds(act: Act, facts: Facts) -> bool:
    """Whether an examination answers a question that is open today."""
    if not act.finds:
        return False
    fact = facts.today.facts.get(key_of(act.finds, facts.component.id))
    return fact is None or not fact.known


def _under_policy(act: Act, facts: Facts) -> ActCall:
    """Routine care and holding works are called for by the policy that lists them."""
    policy = facts.casebook.object.policy
    if policy is None:
        return ActCall(act, Call.OPEN, ())
    listed = policy.routine_care if facts.proposal.kind == "routine-care" else policy.holding_works
    return ActCall(act, Call.CALLED_FOR if act.technique in listed else Call.NOT_CALLED_FOR, ())
