"""What would change the answer: held against every set of changes that there is, up to two at a time."""

from __future__ import annotations

from collections.abc import Iterator
from functools import cache
from itertools import combinations

import pytest
from helpers import MORE
from supposing import Case, case_of

from conserve.casebook.model import Values
from conserve.rule import EffectKind, Stage
from conserve.terms import Giver, Kind
from conserve.weighing import Verdict
from conserve.weighing.model import ORDER
from conserve.whatif.changes import Changes, changed, changes
from conserve.whatif.model import Change, What
from conserve.whatif.suppose import setting_of, weigh_setting

Told = frozenset[tuple[What, str, str, object]]
SIZE = 2
MOST_SETS = 700


# ---- every change that there is --------------------------------------------------------------------------------


def universe(case: Case, option: str) -> Iterator[Change]:
    """Every change of words, acts, use, answers, evidence, reasons, review and competence; numbers have no end."""
    proposal, name = case.part.findings.facts.proposal, f"option:{option}"
    one = proposal.option(option)
    assert one is not None
    for owner, subject in (("option", name), *(("act", f"act:{option}/{act.number}") for act in one.acts)):
        yield from words(case, owner, subject)
    for act in one.acts if len(one.acts) > 1 else ():
        yield Change(What.LEAVE_OUT, f"act:{option}/{act.number}", "")
    duties = case.rulebook.vocabulary.duties
    now = case.part.option(option).duty
    for duty in duties[: duties.index(now)] if now else ():
        yield Change(What.USE, name, "option.duty", (duty,))
    for rule in case.rulebook.rules:
        owed = rule.then.kind is EffectKind.REQUIRE and rule.then.by is Stage.DECISION
        if rule.then.kind is EffectKind.AGAINST or (owed and rule.then.answer):
            yield Change(What.ANSWER, name, rule.id)
        elif owed and not rule.then.known:
            yield Change(What.SHOW, name, rule.id, (rule.then.evidence or "document",))
    for other in proposal.options:
        if other.id != option:
            yield Change(What.REASON, name, other.id)


def words(case: Case, owner: str, subject: str) -> Iterator[Change]:
    asked = {term for program in case.rulebook.programs.values() for term in program.asks}
    for term in case.rulebook.vocabulary.of(owner, Giver.PERSON):
        if term.chosen and term.kind is not Kind.QUANTITY and term.name in asked:
            fact = case.part.findings.facts.today.facts.get((subject, term.name))
            now = told_apart(case, term.name, fact.values) if fact and fact.values is not None else None
            sorts = {told_apart(case, term.name, (value,)): (value,) for value in term.values}
            for sort, values in sorts.items():
                if sort != now:
                    yield Change(What.CHOOSE, subject, term.name, values)


def told_apart(case: Case, term: str, values: Values) -> object:
    """What the rules make of a word: two of which they make the same are not told apart."""
    tests = [premise.test for rule in case.rulebook.rules for premise in rule.when if premise.term == term]
    return tuple(any(value in test.accepts for value in values) for test in tests)


def told(case: Case, made: frozenset[Change]) -> Told:
    return frozenset(
        (c.what, c.subject, c.term, told_apart(case, c.term, c.to) if c.what is What.CHOOSE else c.to) for c in made
    )


def after(case: Case, option: str, made: frozenset[Change]) -> Verdict:
    setting = changed(setting_of(case.part), option, made, case.rulebook.vocabulary)
    return weigh_setting(setting, case.rulebook).option(option).verdict


def works(case: Case, option: str, made: frozenset[Change], stands: bool) -> bool:
    verdict = after(case, option, made)
    return verdict.stands if stands else ORDER.index(verdict) > ORDER.index(case.part.option(option).verdict)


@cache
def all_smallest(number: int, option: str, stands: bool) -> frozenset[Told] | None:
    """Every smallest set of up to two changes that works; None where there are too many to try.

    To leave out every act is no change to an option: it is another option.
    """
    case, found = case_of(number, 2), list[frozenset[Change]]()
    there = list(universe(case, option))
    if len(there) * (len(there) - 1) / 2 > MOST_SETS:
        return None
    for size in range(1, SIZE + 1):
        for chosen in combinations(there, size):
            made = frozenset(chosen)
            slots = {c.slot for c in made}
            gone = {c.subject for c in made if c.what is What.LEAVE_OUT}
            acts = {f"act:{option}/{act.number}" for act in case.part.option(option).option.acts}
            clash = len(slots) < size or gone == acts or any(c.subject in gone and c.what is not What.LEAVE_OUT for c in made)
            if not clash and not any(smaller < made for smaller in found) and works(case, option, made, stands):
                found.append(made)
    return frozenset(told(case, made) for made in found)


def of_words(found: Changes) -> Iterator[frozenset[Change]]:
    """The sets in which no number is changed."""
    for way in found.ways:
        if not any(change.low for change in way.changes):
            yield frozenset(way.changes)


def to_try() -> list[tuple[int, str, bool]]:
    """Options of small cases that do not stand, each by both questions."""
    return [
        (number, one.option.id, stands)
        for number in range(35 * MORE)
        for one in case_of(number, 2).part.options
        for stands in (False, True)
        if not one.verdict.stands and one.option.acts
    ]


@pytest.mark.parametrize(("number", "option", "stands"), to_try())
def test_the_smallest_sets_are_all_there_are_and_none_is_missed(number, option, stands):
    case = case_of(number, 2)
    found = changes(case.part, option, case.rulebook, stands, SIZE, 5000)
    assert found.exact
    true = all_smallest(number, option, stands)
    if true is not None:
        assert {told(case, made) for made in of_words(found)} == true


@pytest.mark.parametrize(("number", "option", "stands"), to_try())
def test_each_set_leads_where_it_is_told_to_and_no_smaller_one_does(number, option, stands):
    case = case_of(number, 2)
    for way in changes(case.part, option, case.rulebook, stands, SIZE, 5000).ways:
        made = frozenset(way.changes)
        assert after(case, option, made) is way.verdict
        assert works(case, option, made, stands)
        assert not any(works(case, option, made - {change}, stands) for change in made)


def test_a_search_that_is_cut_short_says_so():
    cut = 0
    for number, option, stands in to_try():
        case = case_of(number, 2)
        found = changes(case.part, option, case.rulebook, stands, SIZE, 3)
        whole = changes(case.part, option, case.rulebook, stands, SIZE, 5000)
        assert found.exact is (whole.weighed <= 3)
        cut += not found.exact
    assert cut > 3
