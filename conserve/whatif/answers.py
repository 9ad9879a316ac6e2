"""What the answer to a question could be: values that the rules and the needs tell apart."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from decimal import Context, Decimal
from itertools import pairwise

from conserve.calculation import calculation_named
from conserve.casebook.model import Values
from conserve.facts import Fact
from conserve.facts.today import key_of
from conserve.quantity import EXACT, Quantity
from conserve.rule import Test
from conserve.rulebook import Rulebook
from conserve.terms import Kind, Term
from conserve.truth import Truth
from conserve.weighing.model import PartWeighing
from conserve.whatif.model import Lack, Unknown
from conserve.whatif.suppose import NONE, ONE

Answers = tuple[Values, ...]
_MANY = 8  # up to so many words, each is tried; of more, one of each sort that the rules tell apart
_FIVE_FIGURES = Context(prec=5)
_SCALE = tuple(Decimal(text) for text in ("0.01", "0.1", "1", "10", "100", "1000"))


def tests_on(rulebook: Rulebook, part: PartWeighing, every: bool = False) -> Mapping[str, tuple[Test, ...]]:
    """Every test that a need of this proposal makes, or a rule that is not silent here, by its term.

    A rule that is silent stays so whatever is found out; with `every`, its tests are told too, for whoever changes
    what is known.
    """
    found: dict[str, list[Test]] = {}
    telling = {finding.rule.id for finding in part.findings.all if every or finding.truth is not Truth.NO}
    for program in rulebook.programs.values():
        for premise in (one for rule in program.rules if rule.id in telling for one in rule.when):
            found.setdefault(premise.term, []).append(premise.test)
            for limit in premise.test.limit_terms:  # a limit is tested by what is held against it
                found.setdefault(limit, []).append(premise.test)
    for need in part.findings.facts.proposal.needs:
        for check in need.checks:
            found.setdefault(key_of(check.path, "")[1], []).append(check.test)
    return {term: tuple(dict.fromkeys(tests)) for term, tests in found.items()}


def answers(unknown: Unknown, part: PartWeighing, rulebook: Rulebook, tests: Mapping[str, tuple[Test, ...]]) -> Answers:
    """Answers to try, each unlike the others to some rule or need. None where it is not known what to try."""
    vocabulary, facts = rulebook.vocabulary, part.findings.facts
    if unknown.lack is Lack.LIST:
        return _of_list(unknown, part)
    if unknown.lack is Lack.REPORT:
        return _of_report(unknown, part, rulebook)
    if unknown.lack is Lack.POLICY:
        return (ONE, NONE)
    if unknown.lack is Lack.PHASE:
        return tuple((value,) for value in vocabulary.terms["component.period"].values)
    name = key_of(unknown.term, "")[1] if unknown.lack is Lack.CLAIM else unknown.term
    term = vocabulary.terms.get(name.replace("mate.", "surface.", 1))
    if term is None:
        return ()
    told = facts.today.facts.values()  # what is seen of another face stands under this one, and says whose it is
    fact = next((f for f in told if f.subject == unknown.subject and f.term == name), None)
    if term.kind in (Kind.CHOICE, Kind.FLAG):
        return _of_words(term, tests.get(name, ()))
    if term.kind is Kind.COUNT:
        return _of_count(tests.get(name, ()))
    numbers = [Quantity(amount, EXACT, term.unit) for amount in _of_number(term, tests.get(name, ()), fact, part)]
    if unknown.lack is Lack.FACT and _read_round(term.name, rulebook):  # a round one, then one that is oval
        oval = [(one, one, one.times(Decimal("1.001")).in_unit(term.unit)) for one in numbers]
        return (*((one, one, one) for one in numbers), *oval)
    return tuple((one,) for one in numbers)


def _read_round(name: str, rulebook: Rulebook) -> bool:
    """Whether something is worked out from several readings of this number."""
    return any(
        one.readings and term.inputs.get(one.name, "").replace("mate.", "surface.", 1) == name
        for term in rulebook.vocabulary.terms.values()
        if term.inputs and (calculation := calculation_named(term.calculation)) is not None
        for one in calculation.inputs
    )


def covers_all(unknown: Unknown, part: PartWeighing, rulebook: Rulebook) -> bool:
    """Whether the answers that are tried are all there can be."""
    if unknown.lack is Lack.LIST:  # an act treats one defect or none
        return unknown.term == "treats" and part.component.defects is not None
    if unknown.lack in (Lack.REPORT, Lack.PHASE, Lack.POLICY):
        return unknown.lack is not Lack.REPORT
    term = rulebook.vocabulary.terms.get(unknown.term)
    words = term is not None and term.kind in (Kind.CHOICE, Kind.FLAG)
    return unknown.lack is Lack.FACT and words and term is not None and not term.many and len(term.values) <= _MANY


def _of_words(term: Term, tests: tuple[Test, ...]) -> Answers:
    values = term.values
    if len(values) > _MANY:
        alike = {tuple(value in test.accepts for test in tests): value for value in reversed(values)}
        values = tuple(value for value in values if value in alike.values())
    single = tuple((value,) for value in values)
    return (NONE, *single, values) if term.many and len(values) > 1 else (NONE, *single) if term.many else single


def _of_count(tests: tuple[Test, ...]) -> Answers:
    limits = {int(b.limit.amount) for t in tests for b in t.bounds if isinstance(b.limit, Quantity)}
    return tuple((number,) for number in sorted({0, 1, *(n + d for n in limits for d in (-1, 0, 1) if n + d >= 0)}))


def _of_number(term: Term, tests: tuple[Test, ...], fact: Fact | None, part: PartWeighing) -> Iterable[Decimal]:
    """Numbers below, on, between and beyond the limits; of a number that is known roughly, those it may still be."""
    limits = sorted({limit for test in tests for limit in _limits(test, term, part)})
    found = sorted(_around(limits)) if limits else list(dict.fromkeys(map(_FIVE_FIGURES.plus, _likely(term, part))))
    known = [v.in_unit(term.unit) for v in (fact.values if fact else None) or () if isinstance(v, Quantity)]
    if not known:
        return found
    low = min(v.amount - (v.uncertainty or EXACT) for v in known)
    high = max(v.amount + (v.uncertainty or EXACT) for v in known)
    if low == high:
        return found
    ends = sorted({low, high, *(number for number in found if low < number < high)})
    return sorted({*ends, *((a + b) / 2 for a, b in pairwise(ends))})


def _limits(test: Test, term: Term, part: PartWeighing) -> Iterator[Decimal]:
    facts = part.findings.facts.today.facts
    for bound in test.bounds:
        if isinstance(bound.limit, Quantity):
            yield bound.limit.in_unit(term.unit).amount
        else:
            for (_, name), fact in facts.items():
                if name == bound.limit and name != term.name:
                    yield from (v.in_unit(term.unit).amount for v in fact.values or () if isinstance(v, Quantity))


def _around(limits: list[Decimal]) -> Iterator[Decimal]:
    """A number in each gap between the limits, each limit, and one beyond either end."""
    yield limits[0] / 2 if limits[0] > 0 else limits[0] - 1
    yield limits[-1] * 2 if limits[-1] > 0 else limits[-1] + 1
    yield from limits
    yield from ((one + other) / 2 for one, other in pairwise(limits))


def _likely(term: Term, part: PartWeighing) -> Iterator[Decimal]:
    """Where nothing is held against a number: numbers near known ones of its kind, and some of each size."""
    facts = part.findings.facts.today.facts
    like = {term.name, f"mate.{term.short}"}
    for (_, name), fact in facts.items():
        if name in like:
            for value in fact.values or ():
                if isinstance(value, Quantity):
                    amount = value.in_unit(term.unit).amount
                    yield from (amount, amount * Decimal("0.998"), amount * Decimal("1.002"))
    yield from _SCALE


def _of_list(unknown: Unknown, part: PartWeighing) -> Answers:
    kind, _, name = unknown.subject.partition(":")
    if kind != "act":
        return (NONE, ONE)
    component, number = part.component, name.partition("/")[2]
    if unknown.term == "treats":
        return (NONE, *((defect.id,) for defect in component.defects or ()))
    option = part.findings.facts.proposal.option(name.partition("/")[0])
    act = next(act for act in option.acts if str(act.number) == number) if option else None
    here = [s for s in component.surfaces or () if act is None or act.surface in ("", s.id)]
    marks = tuple(mark.id for surface in here for mark in surface.marks or ())
    return (NONE, marks) if marks else (NONE,)


def _of_report(unknown: Unknown, part: PartWeighing, rulebook: Rulebook) -> Answers:
    """A report that answers a referral says again something that is known of the part, if it says nothing new."""
    rule = rulebook.rule(unknown.term)
    own = f"component:{part.component.id}"
    facts = part.findings.facts.today.facts
    tested = {check.path for need in part.findings.facts.proposal.needs for check in need.checks}
    known = [(t, f.values) for (subject, t), f in sorted(facts.items()) if subject == own and t not in tested]
    for term, values in known:
        if rule is not None and values and term in part.component.facts:
            return ((rule.then.to, term, *values),)
    return ((rule.then.to, "component.examined", "yes"),) if rule is not None else ()
