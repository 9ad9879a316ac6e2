"""What is said not to matter changes no verdict in any completion, whatever it is said to be."""

from __future__ import annotations

import random
from collections.abc import Iterator

import pytest
from helpers import MORE
from supposing import Case, Completed, case_of, completed, completions, last_word, verdicts

from conserve.facts import ABSENT
from conserve.inference import Finding
from conserve.truth import Truth
from conserve.weighing import PartWeighing
from conserve.whatif.matters import idle, matters
from conserve.whatif.model import Lack, Unknown


def flipped(case: Case, unknown: Unknown, completion: Completed, draw: random.Random) -> Iterator[Completed]:
    """A completion with each other answer to one question, all else as it was where it is still asked."""
    supposed, _ = completion
    for values in case.unsaid[unknown]:
        if values != supposed[unknown]:
            yield completed(case, {**supposed, unknown: values}, draw)


@pytest.mark.parametrize("number", range(30 * MORE))
def test_what_does_not_matter_changes_no_verdict_in_any_completion(number):
    case, draw, found = case_of(number), random.Random(number), []
    asleep = sorted(case.unsaid.keys() - matters(case.part, case.rulebook))
    for completion in completions(case, 8, draw) if asleep else ():
        for unknown in asleep:
            before = verdicts(completion[1])
            for supposed, part in flipped(case, unknown, completion, draw):
                after = verdicts(part)
                if any(last_word(before[o]) and last_word(after[o]) and before[o] is not after[o] for o in before):
                    found.append((unknown, completion[0], supposed[unknown], before, after))
    assert found == []


def test_some_of_what_is_unsaid_matters_and_some_is_idle():
    asked = idle_ = unasked = 0
    for number in range(60):
        case = case_of(number)
        some, rest = matters(case.part, case.rulebook), idle(case.part, case.rulebook)
        asked += len(case.unsaid.keys() & some)
        idle_ += len(case.unsaid.keys() & rest)
        unasked += len(case.unsaid.keys() - some - rest)
    assert asked > 20 and idle_ > 5 and unasked > 10


@pytest.mark.parametrize("number", range(30 * MORE))
def test_what_is_idle_is_unsaid_and_does_not_matter(number):
    case = case_of(number)
    found = idle(case.part, case.rulebook)
    assert not found & matters(case.part, case.rulebook)
    assert {u for u in found if not told(u, case.part)} == found


def told(unknown: Unknown, part: PartWeighing) -> bool:
    fact = part.findings.facts.today.facts.get((unknown.subject, unknown.term))
    return fact is not None and fact.known and not any(getattr(v, "uncertainty", 0) for v in fact.values or ())


# ---- what safety and a gate ask ----------------------------------------------------------------------------------


def asked_by_safety(part: PartWeighing) -> Iterator[tuple[str, str]]:
    """What a person has yet to say for a rule about safety, or a gate, that is open: subject and term, as it stands."""
    for finding in part.findings.all:
        if finding.truth is Truth.UNKNOWN and (finding.rule.principle == "safety" or finding.rule.then.gate):
            yield from _unsaid_behind(finding)


def _unsaid_behind(finding: Finding) -> Iterator[tuple[str, str]]:
    for judgement in finding.grounds:
        for fact in (judgement.fact, *judgement.limits):
            if judgement.truth is Truth.UNKNOWN and not fact.known and fact.subject not in (ABSENT, "?"):
                yield fact.subject, fact.term


@pytest.mark.parametrize("number", range(60 * MORE))
def test_what_a_rule_about_safety_or_a_gate_asks_is_never_idle(number):
    case = case_of(number)
    found = {(u.subject, u.term) for u in idle(case.part, case.rulebook) if u.lack is Lack.FACT}
    assert not found & set(asked_by_safety(case.part))


def test_rules_about_safety_are_open_in_many_of_these_cases():
    assert sum(bool(set(asked_by_safety(case_of(number).part))) for number in range(30)) > 5
