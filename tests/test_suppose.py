"""Supposing a thing is writing it, and weighing near another weighing is weighing: nothing else comes of either."""

from __future__ import annotations

import random

import pytest
from helpers import MORE, clock_rules, demo, every_weighing, shipped_rules
from supposing import Case, case_of, completions, part_of
from test_laws import told_of_option

from conserve.casebook.model import Values
from conserve.facts import facts_about
from conserve.inference import infer
from conserve.quantity import Quantity
from conserve.weighing import PartWeighing
from conserve.whatif.model import Lack, Unknown
from conserve.whatif.suppose import Setting, setting_of, suppose, weigh_supposing


def again(setting: Setting, case: Case, near: PartWeighing | None):
    facts = facts_about(setting.proposal, setting.component, setting.casebook, case.rulebook.vocabulary, setting.on)
    return infer(facts, case.rulebook, near.findings if near else None)


@pytest.mark.parametrize("number", range(40 * MORE))
def test_what_is_inferred_near_other_findings_is_what_is_inferred_alone(number):
    case, draw = case_of(number), random.Random(number)
    before = case.part
    for supposed, part in completions(case, 10, draw):
        setting = setting_of(part)
        assert again(setting, case, case.part) == again(setting, case, None), supposed
        assert again(setting, case, before) == again(setting, case, None), supposed
        before = part


@pytest.mark.parametrize("name", sorted(every_weighing()))
def test_the_parts_of_the_demonstration_are_inferred_alike_near_one_another(name):
    weighing = every_weighing()[name]
    rulebook = shipped_rules() if weighing.casebook is demo() else clock_rules()
    parts = weighing.parts[:2]
    for part in parts:
        for near in parts:
            assert infer(part.findings.facts, rulebook, near.findings) == infer(part.findings.facts, rulebook)


# ---- supposing is writing -------------------------------------------------------------------------------------


def written(values: Values, many: bool) -> object:
    told = ["none"] if not values else [f"{v.amount} ± {v.uncertainty} {v.unit}" if isinstance(v, Quantity) else str(v) for v in values]
    return told if many and values else told[0]


@pytest.mark.parametrize("number", range(40 * MORE))
def test_a_supposed_fact_comes_to_the_same_as_one_written_in_a_file(number):
    case, names = case_of(number), {}
    for unknown, domain in case.unsaid.items():
        place = place_of(unknown)
        if place is None:
            continue
        for values in domain[:3]:
            tree: dict = {**case.trees, place[0]: with_key(case.trees[place[0]], place[1], written_as(unknown, values, case))}
            there = part_of(tree, case.rulebook)
            if there is not None:
                names = {rule.id: rule.id for rule in case.rulebook.rules}
                supposed = weigh_supposing(case.part, {unknown: values}, case.rulebook)
                assert [told_of_option(o, names) for o in there.options] == [told_of_option(o, names) for o in supposed.options], values


def written_as(unknown: Unknown, values: Values, case: Case) -> object:
    term = case.rulebook.vocabulary.terms[unknown.term]
    return written(tuple(values), term.many)


def place_of(unknown: Unknown) -> tuple[str, tuple[str, ...]] | None:
    """Where a fact of the object, the part or a thing on it stands; None of another sort."""
    kind, _, name = unknown.subject.partition(":")
    short = unknown.term.partition(".")[2]
    if unknown.lack is not Lack.FACT or short == "fit_to_run":
        return None
    if kind == "object":
        return "object.yaml", (short,)
    if kind == "component":
        return "components/part.yaml", (short,)
    if kind in ("surface", "repair", "defect"):
        return "components/part.yaml", (f"{kind}s", name, short)
    return None


def with_key(tree: dict, way: tuple[str, ...], value: object) -> dict:
    if len(way) == 1:
        return {**tree, way[0]: value}
    return {**tree, way[0]: with_key(tree[way[0]], way[1:], value)}


@pytest.mark.parametrize("number", range(20))
def test_the_order_in_which_things_are_supposed_makes_no_difference(number):
    case, draw = case_of(number, 12), random.Random(number)
    supposed = [(unknown, draw.choice(domain)) for unknown, domain in sorted(case.unsaid.items())]
    first = suppose(setting_of(case.part), dict(supposed), case.rulebook.vocabulary)
    draw.shuffle(supposed)
    assert suppose(setting_of(case.part), dict(supposed), case.rulebook.vocabulary) == first
