"""One rule: what can be read of its text, and what is wrong with it at which place."""

from __future__ import annotations

from datetime import date
from decimal import Decimal

import pytest
from helpers import places, rule, rulebook_of, rules_folder

from conserve.quantity import Quantity
from conserve.rule import Bound, EffectKind, Rule, Stage, Status
from conserve.rule import Test as Reads
from conserve.rulebook import read_rulebook

SKIM = "{technique.takes: skim}"
FORBID = "{forbid: Do not cut {{surface}}.}"


def exact(amount: str, unit: str) -> Quantity:
    return Quantity(Decimal(amount), Decimal(0), unit)


def one(tmp_path, text: str) -> Rule:
    return rulebook_of(tmp_path, one=text).rule("r/one")


def wrong(tmp_path, text: str) -> list[tuple[str, int, int]]:
    return places(read_rulebook(rules_folder(tmp_path, {"r/one": text}))[1])


# ---- what is read --------------------------------------------------------------------------------


def test_a_rule_is_what_its_file_says(tmp_path):
    text = rule("act", SKIM, '{forbid: "Do not cut {surface}.", instead: Leave it., gate: yes}')
    found = one(tmp_path, text)
    assert (found.id, found.principle, found.status, found.since) == ("r/one", "r", Status.ADOPTED, date(2026, 1, 1))
    assert [str(cited) for cited in found.sources] == ["common-practice"]
    assert (found.then.kind, found.then.says) == (EffectKind.FORBID, "Do not cut {surface}.")
    assert (found.then.instead, found.then.gate) == ("Leave it.", True)
    assert (found.where.file, found.where.line) == ("rules/r/one.yaml", 1)


@pytest.mark.parametrize(
    ("written", "test"),
    [
        ("technique.takes: skim", Reads(("skim",))),
        ("technique.covers: yes", Reads(("yes",))),
        ("technique.heats: {any_of: [melts, warms]}", Reads(("melts", "warms"))),
        ("technique.heats: {not: nothing}", Reads(("melts", "forge-heat", "warms"))),
        ("act.depth: {above: 0.5 mm}", Reads((), (Bound("above", exact("0.5", "mm")),))),
        ("act.depth: {at_most: {term: surface.wear}}", Reads((), (Bound("at_most", "surface.wear"),))),
        (
            "act.depth: {between: [0.1 mm, 4 thou]}",
            Reads((), (Bound("at_least", exact("0.1", "mm")), Bound("at_most", exact("4", "thou")))),
        ),
    ],
)  # fmt: skip
def test_a_premise_is_read(tmp_path, written, test):
    (premise,) = one(tmp_path, rule("act", f"{{{written}}}", "{note: Look.}")).when
    assert premise.test == test


def test_an_effect_carries_what_goes_with_it(tmp_path):
    then = "{require: Photograph it., by: before-work, evidence: photograph, routine: yes}"
    found = one(tmp_path, rule("act", SKIM, then)).then
    assert (found.by, found.evidence, found.routine) == (Stage.BEFORE_WORK, "photograph", True)
    refer = one(tmp_path / "b", rule("act", SKIM, "{refer: Ask., to: lead}")).then
    assert (refer.kind, refer.to) == (EffectKind.REFER, "lead")


def test_a_rule_about_everything_of_its_kind_needs_only_one_example(tmp_path):
    assert one(tmp_path, rule("act", "{}", "{note: Look.}")).when == ()


# ---- what is wrong -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("when", "place"),
    [
        # unknown words
        ("{technique.tkaes: skim}", ("R001", 8, 8)),
        ("{technique.takes: skimm}", ("R005", 8, 25)),
        ("{act.technique: miling}", ("R005", 8, 23)),
        ("{repair.period: working-life}", ("R001", 8, 8)),  # an act does not see the repairs
        # tests that cannot be meant
        ("{technique.takes: {any_of: [skim], not: bore}}", ("R041", 8, 25)),
        ("{technique.takes: {}}", ("R041", 8, 25)),
        ("{technique.takes: {any_of: []}}", ("R042", 8, 34)),
        ("{act.depth: {between: [0.4 mm, 0.1 mm]}}", ("R042", 8, 29)),
        ("{act.depth: {between: [0.4 mm]}}", ("R042", 8, 29)),
        ("{act.depth: {above: 3 kg}}", ("R013", 8, 27)),
        ("{act.depth: {above: 3}}", ("R014", 8, 27)),
        ("{act.depth: {above: {term: component.mass}}}", ("R005", 8, 34)),
        ("{act.depth: 3 mm}", ("R004", 8, 19)),
    ],
)
def test_a_premise_that_cannot_be_read_is_told_at_its_place(tmp_path, when, place):
    found = [p for p in wrong(tmp_path, rule("act", when, "{note: Look.}")) if p[0] not in ("R053",)]
    assert found == [place]


@pytest.mark.parametrize(
    ("then", "found"),
    [
        ("{forbid: Do not., against: A pity.}", [("R043", 9, 7)]),
        ("{note: Look., gate: yes}", [("R044", 9, 21)]),
        ("{forbid: Do not., by: decision}", [("R044", 9, 25)]),
        ("{against: A pity., to: lead}", [("R044", 9, 26)]),
        ("{require: Do it., by: decision, answer: yes, evidence: photograph}", [("R044", 9, 7)]),
        ("{require: Do it.}", [("R002", 9, 7)]),
        ("{refer: Ask.}", [("R002", 9, 7)]),
        ("{refer: Ask., to: anybody}", [("R005", 9, 25)]),
        ("{require: Do it., by: someday}", [("R005", 9, 29)]),
        ("{require: Do it., by: decision, known: component.colour}", [("R005", 9, 46)]),
        ("{establish: {act.hides_or_takes: yes, act.promises: safety}}", [("R043", 9, 19)]),
        ("{establish: {component.may_be_renewed: yes}}", [("R001", 9, 20)]),  # not a word about an act
        ("{establish: {act.tried_first: yes}}", [("R001", 9, 20)]),  # a second giver: a person gives it
        ('{note: "Look at {surfaces}."}', [("R045", 9, 14)]),
        ('{note: "Look at {repair}."}', [("R045", 9, 14)]),
        ('{note: "Look at {surface."}', [("R045", 9, 14)]),
        ('{forbid: "Do not.", instead: "See {component.colour}."}', [("R045", 9, 36)]),
    ],
)
def test_an_effect_that_cannot_be_meant_is_told_at_its_place(tmp_path, then, found):
    told = wrong(tmp_path, rule("act", SKIM, then))
    assert [p for p in told if p[0] != "R046"] == found


def test_a_rule_without_an_effect_is_a_problem(tmp_path):
    text = rule("act", SKIM, "{note: Look.}").replace("then: {note: Look.}", "then: {instead: Leave it.}")
    assert ("R043", 9, 7) in wrong(tmp_path, text)


def test_every_outcome_wants_an_example(tmp_path):
    text = rule("act", SKIM, "{note: Look.}").replace("- {name: open, given: {}, expect: open}\n", "")
    assert wrong(tmp_path, text) == [("R046", 11, 1)]


def test_an_example_of_what_the_rule_can_never_be_is_a_problem(tmp_path):
    text = rule("act", SKIM, "{note: Look.}") + "- {name: x, given: {}, expect: forbid}\n"
    assert wrong(tmp_path, text) == [("R046", 14, 3)]
    about_all = rule("act", "{}", "{note: Look.}") + "- {name: x, given: {}, expect: silent}\n"
    assert wrong(tmp_path / "b", about_all) == [("R046", 12, 3)]


@pytest.mark.parametrize(
    ("old", "new", "place"),
    [
        ("id: r/one", "id: One", ("R007", 1, 5)),
        ("status: adopted", "status: loved", ("R005", 3, 9)),
        ("since: 2026-01-01", "since: 2026-1-1", ("R006", 4, 8)),
        ("about: act", "about: deed", ("R005", 5, 8)),
        ("because: So.\n", "", ("R002", 1, 1)),
        ("when:", "whne:", ("R001", 8, 1)),
        ("given: {}, expect: open", "given: {technique.takes: skimm}, expect: open", ("R005", 13, 41)),
    ],
)
def test_a_key_or_value_that_is_not_known_is_told_at_its_place(tmp_path, old, new, place):
    folder = rules_folder(tmp_path, {"r/one": rule("act", SKIM, "{note: Look.}")})
    path = tmp_path / "r/one.yaml"
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new))
    assert place in places(read_rulebook(folder)[1])
