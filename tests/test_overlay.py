"""Whether an overlay only tightens: each way to loosen, and every case of small random overlays tried besides."""

from __future__ import annotations

import json
from dataclasses import replace

import pytest
from helpers import HOUSE, MORE, folder_of, rule, rules_folder
from hypothesis import given, settings
from hypothesis import strategies as st
from small_rules import (
    NUMBERED,
    OWNERS,
    WORDY,
    adopted,
    book,
    cases,
    small_rulebooks,
    small_rules,
    standing,
    truths,
    vocabulary,
)

from conserve.cli import main
from conserve.facts import Fact
from conserve.facts.fact import How, judge
from conserve.files import Folder
from conserve.problem import Location
from conserve.rule import EffectKind, Override, Premise, Rule, Stage, Status
from conserve.rule import Test as Asked
from conserve.rulebook import Rulebook, overlays_of, read_rulebook
from conserve.search.case import as_given
from conserve.search.gap import LETS
from conserve.search.overlay import Loosened, Strictness, loosened, strictness
from conserve.terms import SEES
from conserve.truth import Truth
from conserve.weighing.model import Standing

CUT = "{technique.takes: skim}"
BASE = {
    "r/forbids": rule("act", CUT, "{forbid: Do not.}"),
    "r/objects": rule("act", "{technique.takes: bore}", "{against: Why?}"),
    "r/measures": rule("act", "{technique.takes: bore}", "{require: Measure., by: after-work}"),
    "r/covers": rule("act", "{technique.covers: yes}", "{establish: {act.hides_or_takes: yes}}"),
    "r/asks": rule("act", "{act.hides_or_takes: yes}", "{require: Photograph it., by: decision}"),
    "r/tells": rule("act", "{technique.fusion: yes}", "{note: Look.}"),
}


def laid(root, withdraws: str = "none", base=BASE, **rules: str) -> tuple[Rulebook, Rulebook]:
    """A rulebook, and the same with an overlay `law` over it."""
    overlay = f"title: Law\nsays: So.\nwithdraws: {withdraws}\n"
    over = {f"overlays/law/r/{name}.yaml": f"id: law/r/{name}\n{text}" for name, text in rules.items()}
    folder = rules_folder(root / "rules", base)
    folder_of(root / "rules", {"overlays/law/overlay.yaml": overlay, **over})
    before, after = read_rulebook(folder)[0], read_rulebook(folder, ("law",))[0]
    assert before is not None and after is not None, read_rulebook(folder, ("law",))[1]
    return before, after


def withdraw(*names: str) -> str:
    return f"[{', '.join(f'{{rule: {name}, why: so}}' for name in names)}]"


def found(root, withdraws: str = "none", **rules: str) -> list[Loosened]:
    return list(loosened(*laid(root, withdraws, **rules)))


# ---- what tightens ----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    "more",
    [
        {},
        {"more": rule("act", "{technique.fusion: yes}", "{forbid: Nor this.}")},
        {"over": rule("act", "{technique.takes: bore}", "{forbid: Do not.}", "r/objects")},
        {"over": rule("act", "{technique.takes: bore}", "{refer: Ask., to: engineer}", "r/measures")},
        {"word": rule("act", "{technique.takes: skim}", "{establish: {act.hides_or_takes: yes}}")},
    ],
    ids=["nothing", "one more", "stricter over milder", "a referral over a requirement", "a word that asks more"],
)
def test_what_only_adds_or_is_stricter_tightens(tmp_path, more):
    assert found(tmp_path, **more) == []


def test_a_note_and_a_word_that_lets_may_be_withdrawn(tmp_path):
    assert found(tmp_path, withdraw("r/tells")) == []


def test_a_rule_that_is_replaced_by_one_as_strict_is_not_loosened(tmp_path):
    wider = rule("act", "{technique.takes: {any_of: [skim, bore]}}", "{forbid: Do not.}")
    assert found(tmp_path, withdraw("r/forbids"), wider=wider) == []


# ---- each way to loosen -----------------------------------------------------------------------------


def test_a_rule_that_is_withdrawn_loosens_where_it_was_in(tmp_path):
    (one,) = found(tmp_path, withdraw("r/forbids"))
    assert (one.rule, one.certain, one.falls) == ("r/forbids", True, True)
    assert one.witness["act.technique"] in (("milling",), ("scraping",), ("grinding",))
    assert len(one.witness) == 1


def test_a_rule_that_is_replaced_by_a_narrower_one_loosens_in_the_rest(tmp_path):
    narrow = rule("act", "{technique.takes: skim, surface.function: datum}", "{forbid: Do not.}")
    (one,) = found(tmp_path, withdraw("r/forbids"), narrow=narrow)
    assert one.rule == "r/forbids" and "surface.function" not in one.witness


def test_a_stricter_rule_that_a_milder_one_overrides_is_loosened(tmp_path):
    milder = rule("act", "{technique.takes: skim, surface.function: datum}", "{against: Why?}", "r/forbids")
    (one,) = found(tmp_path, milder=milder)
    assert (one.rule, one.falls) == ("r/forbids", True)
    assert set(one.witness) == {"act.technique"}  # as long as nobody has said what the face does, nothing is sure


def test_a_milder_rule_that_is_only_in_doubt_loosens_too(tmp_path):
    # Nobody has said what the face does: the rule that was in is open.
    milder = rule("act", "{technique.takes: skim, surface.function: datum}", "{note: Look.}", "r/forbids")
    before, after = laid(tmp_path, milder=milder)
    assert [one.rule for one in loosened(before, after)] == ["r/forbids"]


def test_a_requirement_is_not_made_good_by_another_that_was_there_all_along(tmp_path):
    (one,) = found(tmp_path, withdraw("r/measures"))
    assert (one.rule, one.falls) == ("r/measures", False)


def test_a_withdrawn_word_loosens_the_rule_that_waits_for_it(tmp_path):
    (one,) = found(tmp_path, withdraw("r/covers"))
    assert (one.rule, one.certain, one.falls) == ("r/asks", True, True)


def test_a_word_that_silences_a_strict_rule_loosens(tmp_path):
    base = {
        "r/lets": rule("component", "{component.serviceable: no}", "{establish: {component.may_be_renewed: yes}}"),
        "r/forbids": rule("act", "{component.may_be_renewed: no, technique.takes: whole-part}", "{forbid: Do not.}"),
    }
    word = rule("component", "{component.material: lead}", "{establish: {component.may_be_renewed: yes}}")
    told = loosened(*laid(tmp_path, base=base, word=word))
    assert {(one.rule, one.word) for one in told} == {("r/forbids", ""), ("", "component.may_be_renewed")}
    (gain,) = (one for one in told if one.word)
    assert gain.witness == {"component.material": ("lead",)} and gain.certain


def test_an_act_that_may_promise_more_loosens(tmp_path):
    promise = rule("act", "{act.technique: drying}", "{establish: {act.promises: safety}}")
    (one,) = found(tmp_path, promise=promise)
    assert (one.word, one.value, one.witness) == ("act.promises", "safety", {"act.technique": ("drying",)})


def test_the_worst_is_told_first(tmp_path):
    told = found(tmp_path, withdraw("r/measures", "r/forbids"))
    assert [one.rule for one in told] == ["r/forbids", "r/measures"]


def test_the_order_of_strictness():
    def of(kind: EffectKind, **more) -> Strictness:
        one = next(r for r in read_rulebook(Folder(HOUSE / "rules"))[0].rules if r.then.kind is EffectKind.FORBID)
        return strictness(replace(one, then=replace(one.then, kind=kind, **more)))

    ladder = [
        of(EffectKind.NOTE),
        of(EffectKind.REQUIRE, by=Stage.AFTER_WORK, routine=True),
        of(EffectKind.REQUIRE, by=Stage.AFTER_WORK),
        of(EffectKind.REQUIRE, by=Stage.DECISION),
        of(EffectKind.REFER),
        of(EffectKind.FORBID),
    ]
    assert ladder == sorted(set(ladder))
    assert of(EffectKind.AGAINST) is of(EffectKind.REQUIRE, by=Stage.DECISION)


@pytest.mark.parametrize("name", overlays_of(Folder(HOUSE / "rules")))
def test_a_shipped_overlay_only_tightens(name):
    folder = Folder(HOUSE / "rules")
    before, after = read_rulebook(folder)[0], read_rulebook(folder, (name,))[0]
    assert before is not None and after is not None
    assert loosened(before, after) == ()


# ---- every case -------------------------------------------------------------------------------------


@st.composite
def overlaid(draw: st.DrawFn, numbered: bool) -> tuple[Rulebook, Rulebook]:
    """A small rulebook, and the same with some rules withdrawn and some laid over, which override some."""
    before = draw(small_rulebooks(numbered))
    after = None
    while after is None:
        gone = draw(st.sets(st.sampled_from([r.id for r in before.rules]), max_size=1))
        kept = tuple(replace(r, status=Status.WITHDRAWN) if r.id in gone else r for r in before.rules)
        more = tuple(draw(_over(r, kept)) for r in draw(small_rules(numbered, "law/r", 2)))
        after = book((*kept, *more))
    return before, after


@st.composite
def _over(draw: st.DrawFn, one: Rule, others: tuple[Rule, ...]) -> Rule:
    telling = [o for o in others if EffectKind.ESTABLISH not in (o.then.kind, one.then.kind)]
    if not telling or draw(st.booleans()):
        return one
    other = draw(st.sampled_from(telling))
    return replace(one, overrides=(Override(other.id, "so", one.where),))


def brute(before: Rulebook, after: Rulebook, numbered: bool):
    """Each rule or word that some case loosens, and how: by going through every case."""
    told: set[tuple[str, str, str]] = set()
    brought = {r.id for r in after.rules} - {r.id for r in before.rules}
    for facts in cases(NUMBERED if numbered else WORDY):
        had, has = (standing(truths(facts, one), one) for one in (before, after))
        for one in adopted(before):
            if lost(one, had, has, after, brought):
                told.add((one.id, "", ""))
        for word, value in gained(facts, before, after):
            told.add(("", word, value))
    return told


def lost(one: Rule, had, has, after: Rulebook, brought: set[str]) -> bool:
    near = [r for r in adopted(after) if r.about == one.about or r.about in OWNERS[one.about]]
    instead = [
        r
        for r in near
        if r.id == one.id or r.then.kind is EffectKind.FORBID or (r.id in brought and strictness(r) >= strictness(one))
    ]
    if not strictness(one):
        return False
    for stands in ((Standing.IN,), (Standing.IN, Standing.OPEN)):
        if had[one.id] in stands and not any(has[r.id] in stands for r in instead):
            return True
    return False


def gained(facts, before: Rulebook, after: Rulebook):
    for word, nothing in LETS.items():
        for value in vocabulary().terms[word].values:
            had, has = (answer(facts, word, value, one) for one in (before, after))
            if value != nothing and ((has is Truth.YES and had is not Truth.YES) or (has > had is Truth.NO)):
                yield word, value


def answer(facts, word: str, value: str, rulebook: Rulebook) -> Truth:
    """Whether a word has a value, as a rule that asks about nothing else would find."""
    from conserve.inference import tried

    about = "act" if word.startswith("act") else "component"
    asks = replace(rulebook.rules[0], about=about, when=(Premise(word, Asked((value,)), Location("r")),))
    (ground,) = tried(asks, as_given(facts, rulebook.vocabulary), rulebook).grounds
    return ground.truth


@pytest.mark.parametrize("numbered", [False, True])
@given(data=st.data())
@settings(max_examples=15 * MORE)
def test_an_overlay_is_proved_exactly_where_no_case_loosens(numbered, data):
    before, after = data.draw(overlaid(numbered))
    found = loosened(before, after)
    assert {(one.rule, one.word, one.value) for one in found} == brute(before, after, numbered)


@pytest.mark.parametrize("numbered", [False, True])
@given(data=st.data())
@settings(max_examples=15 * MORE)
def test_what_is_said_of_a_case_is_so_there(numbered, data):
    before, after = data.draw(overlaid(numbered))
    for one in (told for told in loosened(before, after) if told.rule):
        had, has = (standing(truths(one.witness, r), r) for r in (before, after))
        stands = (Standing.IN,) if one.certain else (Standing.IN, Standing.OPEN)
        rule_of = next(r for r in before.rules if r.id == one.rule)
        near = [r for r in adopted(after) if r.about == rule_of.about or r.about in OWNERS[rule_of.about]]
        assert had[one.rule] in stands and has.get(one.rule) not in stands
        as_strict = any(has[r.id] in stands and strictness(r) >= strictness(rule_of) for r in near)
        assert as_strict is not one.falls


@given(data=st.data())
@settings(max_examples=15 * MORE)
def test_where_an_overlay_tightens_the_strictest_thing_said_is_nowhere_milder(data):
    before, after = data.draw(overlaid(False))
    if loosened(before, after):
        return
    for facts in cases(WORDY):
        had, has = (standing(truths(facts, r), r) for r in (before, after))
        for kind in ("component", "act"):
            for stands in ((Standing.IN,), (Standing.IN, Standing.OPEN)):
                assert strictest(kind, has, stands, after) >= strictest(kind, had, stands, before)


def strictest(kind: str, standing_of, stands, rulebook: Rulebook) -> Strictness:
    own = (r for r in adopted(rulebook) if r.about == kind or r.about in OWNERS[kind])
    return max((strictness(r) for r in own if standing_of[r.id] in stands), default=Strictness.NONE)


def test_a_fact_of_a_case_is_judged_as_a_written_one_is():
    term = vocabulary().terms["component.role"]
    fact = Fact("component.role", "", (), How.WRITTEN)
    assert judge(Asked(("plate",)), term, fact, lambda name: fact).truth is Truth.NO
    assert set(OWNERS) <= set(SEES)


# ---- the command ------------------------------------------------------------------------------------


def test_the_command_says_that_an_overlay_only_tightens(tmp_path, capsys):
    laid(tmp_path)
    assert main(["rules", "overlay", "law", "--rules", str(tmp_path / "rules")]) == 0
    assert capsys.readouterr().out.startswith("The overlay 'law' only tightens")


def test_the_command_tells_what_an_overlay_loosens_and_what_it_withdraws(tmp_path, capsys):
    laid(tmp_path, withdraw("r/forbids"))
    assert main(["rules", "overlay", "law", "--rules", str(tmp_path / "rules")]) == 0
    out = " ".join(capsys.readouterr().out.split())
    assert out.startswith("The overlay 'law' loosens 1 thing. r/forbids holds without it")
    assert "where the act's ‘technique’ is" in out and "It withdraws r/forbids: so" in out


def test_the_command_tells_it_in_json(tmp_path, capsys):
    laid(tmp_path, withdraw("r/forbids"))
    assert main(["rules", "overlay", "law", "--rules", str(tmp_path / "rules"), "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["tightens"] is False
    (one,) = told["loosens"]
    assert one["rule"] == "r/forbids" and list(one["facts"]) == ["act.technique"]


def test_an_overlay_that_is_not_there_is_told_so(tmp_path, capsys):
    laid(tmp_path)
    assert main(["rules", "overlay", "lwa", "--rules", str(tmp_path / "rules")]) == 2
    assert "'lwa'" in capsys.readouterr().err
