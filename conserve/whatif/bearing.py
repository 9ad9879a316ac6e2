"""Which changes to an option bear on the reason of its verdict: every one that could undo it, and perhaps more."""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator
from dataclasses import replace
from decimal import Decimal

from conserve.casebook import Act
from conserve.casebook.model import Values
from conserve.facts import Fact
from conserve.quantity import Quantity
from conserve.rule import EffectKind, Rule, Test
from conserve.rulebook import Rulebook
from conserve.terms import Giver, Kind, Term
from conserve.weighing.model import NeedState, OptionWeighing, PartWeighing, Reason, Standing, Step
from conserve.whatif.answers import answers, tests_on
from conserve.whatif.model import Change, Lack, Unknown, What
from conserve.whatif.suppose import setting_of, weigh_setting, with_facts

_BY_ORDER = ("act.looked_at_bare", "act.fitted_later", "act.hot_work_later")


def bearing(part: PartWeighing, option: str, rulebook: Rulebook) -> frozenset[Change]:
    """Every change to an option that bears on why its verdict is what it is."""
    one = part.option(option)
    return frozenset(_bearing(one, part, rulebook))


def _bearing(one: OptionWeighing, part: PartWeighing, rulebook: Rulebook) -> Iterator[Change]:
    reason, name = one.reason, f"option:{one.option.id}"
    rules = tuple(_rules_behind(reason, rulebook))
    terms = frozenset(_terms_of(rules))
    yield from _choices(one, part, rulebook, terms)
    for act in one.option.acts if len(one.option.acts) > 1 else ():
        yield Change(What.LEAVE_OUT, f"act:{name.partition(':')[2]}/{act.number}", "")
    yield from _lower_uses(one, part, rulebook)
    if reason.step is Step.OBJECTION and reason.settled:
        yield Change(What.ANSWER, name, reason.settled.finding.rule.id)
    if reason.step is Step.OWED_NOW and reason.requirement and reason.requirement.finding:
        then, rule = reason.requirement.finding.rule.then, reason.requirement.id
        if then.answer:
            yield Change(What.ANSWER, name, rule)
        elif not then.known:
            yield Change(What.SHOW, name, rule, (then.evidence or "document",))
    if reason.step in (Step.GENTLER_WAITED_FOR, Step.LOSES_OTHER_THINGS):
        yield Change(What.REASON, name, reason.option)
    if "proposal.review_set" in terms:
        yield Change(What.REVIEW, "proposal", "proposal.review_set")
    if "option.competence_stated" in terms:
        yield Change(What.COMPETENCE, name, "option.competence_stated")


# ---- what a reason rests on -----------------------------------------------------------------------------


def _rules_behind(reason: Reason, rulebook: Rulebook) -> Iterator[Rule]:
    """The rule of a reason, those that override it, and those that establish a word that any of them asks about."""
    finding = reason.settled.finding if reason.settled else reason.requirement.finding if reason.requirement else None
    ahead, seen = [finding.rule] if finding else [], set[str]()
    ahead += [rule for rule in rulebook.rules if reason.need and _promises(rule)]
    while ahead:
        rule = ahead.pop()
        if rule.id in seen:
            continue
        seen.add(rule.id)
        yield rule
        asked = {premise.term for premise in rule.when}
        ahead += [
            other
            for other in rulebook.rules
            if any(edge.rule == rule.id for edge in other.overrides) or other.then.establishes[0] in asked
        ]


def _promises(rule: Rule) -> bool:
    return rule.then.kind is EffectKind.ESTABLISH and rule.then.establishes[0] == "act.promises"


def _terms_of(rules: Iterable[Rule]) -> Iterator[str]:
    for rule in rules:
        for premise in rule.when:
            yield premise.term
            yield from premise.test.limit_terms
        if rule.then.known:
            yield rule.then.known


# ---- the changes there are -------------------------------------------------------------------------------


def _choices(one: OptionWeighing, part: PartWeighing, rulebook: Rulebook, terms: frozenset[str]) -> Iterator[Change]:
    """What can be chosen otherwise of the option and its acts, of the terms that bear on the reason."""
    terms = frozenset(_inputs_too(terms, rulebook))
    tests = tests_on(rulebook, part, every=True)
    for owner, subject, act in _chosen_of(one):
        for term in rulebook.vocabulary.of(owner, Giver.PERSON):
            if term.chosen and term.kind is Kind.QUANTITY:
                if act and _counts(subject, term.name, one.reason):
                    yield from _numbers(term, subject, act, one, part, rulebook)
            elif term.chosen and term.name in terms:
                said = part.findings.facts.today.facts.get((subject, term.name))
                now = said.values if said else None
                for alike in _words(term, tests.get(term.name, ()), subject, part, rulebook):
                    if now not in alike:
                        yield Change(What.CHOOSE, subject, term.name, alike[0], also=alike[1:])


def _chosen_of(one: OptionWeighing) -> Iterator[tuple[str, str, Act | None]]:
    yield "option", f"option:{one.option.id}", None
    for act in one.option.acts:
        yield "act", f"act:{one.option.id}/{act.number}", act


def _words(
    term: Term, tests: tuple[Test, ...], subject: str, part: PartWeighing, rulebook: Rulebook
) -> Iterable[tuple[Values, ...]]:
    """What may be chosen, those that no rule tells apart together."""
    alike: dict[object, list[Values]] = {}
    reckoned = any(term.name in other.inputs.values() for other in rulebook.vocabulary.terms.values())
    for values in answers(Unknown(Lack.FACT, subject, term.name), part, rulebook, {term.name: tests}):
        told = values if reckoned else tuple(any(value in test.accepts for value in values) for test in tests)
        alike.setdefault(told, []).append(values)
    return [tuple(found) for found in alike.values()]


def _inputs_too(terms: frozenset[str], rulebook: Rulebook) -> Iterator[str]:
    """The terms, and those from which any of them is worked out."""
    ahead, seen = list(terms), set[str]()
    while ahead:
        name = ahead.pop()
        if name not in seen:
            seen.add(name)
            yield name
            term = rulebook.vocabulary.terms.get(name)
            ahead += list(term.inputs.values()) if term else []


def _lower_uses(one: OptionWeighing, part: PartWeighing, rulebook: Rulebook) -> Iterator[Change]:
    """Each use that asks less of the part than the option leaves it in."""
    duties = rulebook.vocabulary.duties
    for duty in duties[: duties.index(one.duty)] if one.duty in duties else ():
        yield Change(What.USE, f"option:{one.option.id}", "option.duty", (duty,))


# ---- numbers ---------------------------------------------------------------------------------------------

_TIMES = (
    *("0.1", "0.2", "0.3", "0.4", "0.5", "0.6", "0.7", "0.8", "0.9"),
    *("1.1", "1.2", "1.35", "1.5", "1.75", "2", "2.5", "3", "4", "6", "10"),
)
_HALVINGS = 8


def _counts(subject: str, term: str, reason: Reason) -> bool:
    """Whether a number stands behind what a need tests, or behind a rule's premise."""
    facts = [check.after.fact for check in reason.need.checks] if reason.need else []
    found = reason.settled.finding if reason.settled else reason.requirement.finding if reason.requirement else None
    facts += [fact for ground in found.grounds for fact in (ground.fact, *ground.limits)] if found else []
    return any((fact.subject, fact.term) == (subject, term) for one in facts for fact in written(one))


def written(fact: Fact) -> Iterator[Fact]:
    """The facts that a fact is worked out from, down to those that somebody wrote."""
    if fact.working is None:
        yield fact
    else:
        for _, given in fact.working.given:
            yield from written(given)


def _numbers(
    term: Term, subject: str, act: Act, one: OptionWeighing, part: PartWeighing, rulebook: Rulebook
) -> Iterator[Change]:
    """Ranges of a number of an act in which the verdict's reason is gone. Found by steps, then halved at both ends."""
    stated = act.facts.get(term.name, ())
    now = next((v for s in stated for v in s.values if isinstance(v, Quantity)), None)
    if now is None or not now.amount:
        return
    setting, reason = setting_of(part), one.reason

    def gone(amount: Decimal) -> bool:
        to = (replace(now, amount=amount),)
        there = weigh_setting(with_facts(setting, subject, term.name, to), rulebook, part).option(one.option.id)
        return _undone(reason, there)

    steps = [now.amount * Decimal(times) for times in _TIMES]
    good = [gone(step) for step in steps]
    for first in (n for n in range(len(steps)) if good[n] and (n == 0 or not good[n - 1])):
        last = next(n for n in range(first, len(steps)) if n + 1 == len(steps) or not good[n + 1])
        low = _edge(gone, steps[first], steps[first - 1]) if first else steps[first]
        high = _edge(gone, steps[last], steps[last + 1]) if last + 1 < len(steps) else steps[last]
        middle, least, most = (replace(now, amount=end) for end in ((low + high) / 2, low, high))
        yield Change(What.CHOOSE, subject, term.name, (middle,), (least,), (most,))


def _undone(reason: Reason, there: OptionWeighing) -> bool:
    """Whether a verdict's reason is no longer there."""
    if reason.need:
        return there.need(reason.need.need.id).state not in (NeedState.FAILED, NeedState.IN_DOUBT, NeedState.OPEN)
    name = reason.settled.finding.rule.id if reason.settled else reason.requirement.id if reason.requirement else ""
    standing = {s.finding.rule.id for s in there.settled if s.standing is not Standing.OUT}
    return name not in standing


def _edge(gone: Callable[[Decimal], bool], good: Decimal, bad: Decimal) -> Decimal:
    """The last number that will do, going from one that does to one that does not."""
    for _ in range(_HALVINGS):
        middle = (good + bad) / 2
        good, bad = (middle, bad) if gone(middle) else (good, middle)
    return good
