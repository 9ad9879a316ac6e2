"""What the rules leave unsettled: each kind of it, and every case of small random rulebooks tried besides."""

from __future__ import annotations

import json
from dataclasses import replace
from decimal import Decimal

import pytest
from helpers import MORE, folder_of, rule, rulebook_of, shipped_rules
from hypothesis import given, settings
from hypothesis import strategies as st
from small_rules import OWNERS, adopted, every_case, small_rulebooks, standing, truths

from conserve.cli import main
from conserve.facts import Fact
from conserve.facts.fact import How
from conserve.inference import outcome_of, tried
from conserve.quantity import Quantity
from conserve.rule import EffectKind, Rule
from conserve.rulebook import Rulebook
from conserve.search.case import as_given
from conserve.search.gap import LETS, Gap, GapKind
from conserve.search.gaps import find_gaps
from conserve.search.idle import ASKED_BY_WEIGHING
from conserve.search.writing import as_on_command_line
from conserve.truth import Truth
from conserve.weighing.model import Standing

FORBIDS = rule("act", "{technique.takes: skim}", "{forbid: Do not.}")


def told(rulebook: Rulebook, **more: bool) -> list[tuple[str, ...]]:
    """What is unsettled, but for values of the shipped words that so few rules leave unused."""
    return [(str(gap.kind), *gap.rules) for gap in find_gaps(rulebook, **more) if gap.rules]


def gap_of(rulebook: Rulebook, kind: GapKind) -> Gap:
    (found,) = (gap for gap in find_gaps(rulebook) if gap.kind is kind)
    return found


def comes_to(rulebook: Rulebook, gap: Gap, name: str) -> str:
    one = rulebook.rule(name)
    assert one is not None and gap.witness is not None
    return outcome_of(one, as_given(gap.witness, rulebook.vocabulary), rulebook)


# ---- each kind --------------------------------------------------------------------------------------


def test_rules_that_fit_together_leave_nothing_unsettled(tmp_path):
    assert told(rulebook_of(tmp_path, one=FORBIDS, two=rule("act", "{technique.fusion: yes}", "{note: Look.}"))) == []


def with_rules(rulebook: Rulebook, *changed: Rule) -> Rulebook:
    """A rulebook with rules in it that would not load."""
    by_id = {r.id: r for r in (*rulebook.rules, *changed)}
    return replace(rulebook, rules=tuple(by_id.values()))


def test_two_values_for_one_word_are_a_contradiction(tmp_path):
    one = rule("act", "{act.technique: milling}", "{establish: {act.promises: function}}")
    two = rule("act", "{act.technique: drying}", "{establish: {act.promises: safety}}")
    rulebook = rulebook_of(tmp_path, one=one, two=two)
    assert told(rulebook) == []
    second = rulebook.rule("r/two")
    assert second is not None
    clashing = with_rules(rulebook, replace(second, when=rulebook.rule("r/one").when))
    gap = gap_of(clashing, GapKind.CONTRADICTION)
    assert gap.rules == ("r/one", "r/two") and gap.values == ("function", "safety")
    assert gap.witness == {"act.technique": ("milling",)}


def test_a_requirement_that_is_only_owed_where_the_act_is_forbidden_is_a_contradiction(tmp_path):
    when = "{technique.takes: skim, surface.function: datum}"
    requires = rule("act", when, "{require: Measure it., by: after-work}")
    rulebook = rulebook_of(tmp_path, forbids=FORBIDS, requires=requires)
    gap = gap_of(rulebook, GapKind.CONTRADICTION)
    assert gap.rules == ("r/forbids", "r/requires")
    assert set(gap.witness or ()) == {"act.technique", "surface.function"}


def test_a_requirement_that_is_owed_elsewhere_too_is_none(tmp_path):
    requires = rule("act", "{technique.takes: {any_of: [skim, bore]}}", "{require: Measure it., by: after-work}")
    assert told(rulebook_of(tmp_path, forbids=FORBIDS, requires=requires)) == []


PROMISES = rule("act", "{act.technique: milling, act.specified_by: engineer}", "{establish: {act.promises: function}}")
NARROW = rule("act", "{act.technique: milling, surface.function: datum}", "{forbid: Do not.}")


def test_a_rule_that_forbids_pulls_apart_from_one_that_lets(tmp_path):
    rulebook = rulebook_of(tmp_path, forbids=NARROW, lets=PROMISES)
    gap = gap_of(rulebook, GapKind.PULLS_APART)
    assert gap.rules == ("r/forbids", "r/lets")
    assert gap.witness == {
        "surface.function": ("datum",), "act.technique": ("milling",), "act.specified_by": ("engineer",),
    }  # fmt: skip
    assert [comes_to(rulebook, gap, name) for name in gap.rules] == ["forbid", "establish"]


def test_a_promise_of_nothing_pulls_at_nothing(tmp_path):
    nothing = PROMISES.replace("function}", "nothing}")
    assert told(rulebook_of(tmp_path, forbids=NARROW, lets=nothing)) == []


@pytest.mark.parametrize("names", ["forbids", "lets"])
def test_rules_that_name_one_another_as_standing_beside_are_settled(tmp_path, names):
    other = {"forbids": "lets", "lets": "forbids"}[names]
    texts = {"forbids": NARROW, "lets": PROMISES}
    texts[names] = texts[names].replace("examples:", f"beside: [{{rule: r/{other}, why: so}}]\nexamples:")
    assert told(rulebook_of(tmp_path, **texts)) == []


def test_rules_that_ask_about_no_word_in_common_are_told_only_when_asked(tmp_path):
    elsewhere = rule("act", "{surface.function: datum}", "{against: Why?}")
    rulebook = rulebook_of(tmp_path, objects=elsewhere, lets=PROMISES)
    assert told(rulebook) == []
    assert told(rulebook, wide=True) == [("pulls apart", "r/objects", "r/lets")]


def test_a_rule_that_is_set_aside_wherever_another_lets_does_not_pull_apart(tmp_path):
    over = rule("act", "{act.technique: milling}", "{note: Look.}", "r/forbids")
    rulebook = rulebook_of(tmp_path, forbids=NARROW, lets=PROMISES, over=over)
    assert ("pulls apart", "r/forbids", "r/lets") not in told(rulebook)


def test_a_rule_about_a_thing_pulls_apart_from_one_about_its_owner(tmp_path):
    renews = rule("component", "{component.material: lead}", "{establish: {component.may_be_renewed: yes}}")
    forbids = rule("act", "{technique.takes: whole-part, component.material: lead}", "{forbid: Do not.}")
    asks = rule("act", "{component.may_be_renewed: yes}", "{note: Look.}")
    found = told(rulebook_of(tmp_path, forbids=forbids, lets=renews, asks=asks))
    assert found == [("pulls apart", "r/forbids", "r/lets")]


def test_a_rule_whose_limits_leave_no_number_never_applies(tmp_path):
    when = "{act.depth: {above: {term: surface.wear}}, surface.wear: {at_least: {term: act.depth}}}"
    assert told(rulebook_of(tmp_path, one=rule("act", when, "{forbid: Do not.}"))) == [("only open", "r/one")]


def test_a_rule_that_waits_for_a_value_that_no_rule_can_give_with_it_never_applies(tmp_path):
    covers = rule("act", "{technique.covers: yes}", "{establish: {act.hides_or_takes: yes}}")
    waits = rule("act", "{act.hides_or_takes: yes, act.technique: wiping}", "{forbid: Do not.}")
    assert told(rulebook_of(tmp_path, covers=covers, waits=waits)) == [("never applies", "r/waits")]


def test_a_word_that_can_only_be_in_doubt_leaves_a_rule_only_open(tmp_path):
    hides = rule("act", "{surface.function: datum}", "{establish: {act.hides_or_takes: yes}}")
    waits = rule("act", "{act.hides_or_takes: yes, surface.function: sliding}", "{forbid: Do not.}")
    rulebook = rulebook_of(tmp_path, hides=hides, waits=waits)
    gap = gap_of(rulebook, GapKind.ONLY_OPEN)
    assert gap.rules == ("r/waits",) and gap.witness == {}
    assert comes_to(rulebook, gap, "r/waits") == "open"


def test_a_rule_is_set_aside_where_a_wider_one_overrides_it(tmp_path):
    over = rule("act", "{technique.takes: {any_of: [skim, bore]}}", "{note: Look.}", "r/forbids")
    rulebook = rulebook_of(tmp_path, forbids=FORBIDS, over=over)
    assert told(rulebook) == [("set aside", "r/forbids", "r/over")]
    narrow = rule("act", "{technique.takes: skim, surface.function: datum}", "{note: Look.}", "r/forbids")
    assert told(rulebook_of(tmp_path / "b", forbids=FORBIDS, over=narrow)) == []


def test_a_rule_is_not_set_aside_by_one_that_is_itself_set_aside_there(tmp_path):
    over = rule("act", "{technique.takes: {any_of: [skim, bore]}}", "{note: Look.}", "r/forbids")
    back = rule("act", "{surface.function: datum}", "{note: But look.}", "r/over")
    assert told(rulebook_of(tmp_path, forbids=FORBIDS, over=over, back=back)) == []


def test_a_rule_tells_nothing_more_than_a_wider_one(tmp_path):
    narrow = rule("act", "{act.technique: milling, surface.function: datum}", "{forbid: Nor this.}")
    assert told(rulebook_of(tmp_path, wide=FORBIDS, narrow=narrow)) == [("tells nothing more", "r/narrow", "r/wide")]


def test_of_two_rules_that_are_the_same_one_is_told(tmp_path):
    assert told(rulebook_of(tmp_path, a=FORBIDS, b=FORBIDS)) == [("tells nothing more", "r/b", "r/a")]


@pytest.mark.parametrize(
    ("wide", "narrow", "found"),
    [
        ("{forbid: Do not.}", "{forbid: Nor., gate: yes}", False),
        ("{refer: Ask., to: engineer}", "{refer: Ask again., to: engineer}", True),
        ("{refer: Ask., to: engineer}", "{refer: Ask again., to: conservator}", False),
        ("{require: Look., by: decision}", "{require: Measure., by: decision}", False),
        ("{require: Look., by: decision}", "{require: Look., by: after-work}", True),
        ("{require: Look., by: after-work}", "{require: Look., by: decision}", False),
        (
            "{require: A., known: component.mass, by: decision}",
            "{require: B., known: component.mass, by: decision}",
            True,
        ),
        ("{against: Why?}", "{against: What for?}", False),
    ],
)
def test_what_counts_as_telling_the_same(tmp_path, wide, narrow, found):
    texts = {
        "wide": rule("act", "{technique.takes: skim}", wide),
        "narrow": rule("act", "{technique.takes: skim, surface.function: datum}", narrow),
    }
    assert told(rulebook_of(tmp_path, **texts)) == ([("tells nothing more", "r/narrow", "r/wide")] if found else [])


def test_an_override_that_reaches_nothing_is_told(tmp_path):
    over = rule("surface", "{surface.function: datum}", "{note: Look.}", "r/forbids")
    assert told(rulebook_of(tmp_path, forbids=FORBIDS, over=over)) == [("reaches nothing", "r/over", "r/forbids")]


def test_a_word_that_nobody_asks_for_is_told(tmp_path):
    rulebook = rulebook_of(
        tmp_path, one=rule("act", "{technique.covers: yes}", "{establish: {act.hides_or_takes: yes}}")
    )
    gap = gap_of(rulebook, GapKind.NOBODY_ASKS)
    assert (gap.rules, gap.term) == (("r/one",), "act.hides_or_takes")


def test_a_word_that_no_rule_gives_and_a_value_that_none_gives_are_told(tmp_path):
    asks = rule("act", "{act.promises: safety, act.technique: milling}", "{note: Look.}")
    rulebook = rulebook_of(tmp_path, asks=asks)
    found = {(str(gap.kind), gap.rules, gap.term): gap.values for gap in find_gaps(rulebook)}
    assert found["no answer", ("r/asks",), "act.promises"] == ()
    assert found["waits in vain", ("r/asks",), "act.promises"] == ("safety",)
    assert ("never applies", ("r/asks",), "") in found


def test_a_technique_word_with_a_value_that_no_technique_has_is_told(tmp_path):
    rulebook = rulebook_of(tmp_path, one=FORBIDS)
    without = {k: v for k, v in rulebook.vocabulary.techniques.items() if v.facts["technique.heats"] != "melts"}
    fewer = replace(rulebook, vocabulary=replace(rulebook.vocabulary, techniques=without))
    found = {gap.term: gap.values for gap in find_gaps(fewer) if gap.kind is GapKind.NO_SUCH_VALUE}
    assert found["technique.heats"] == ("melts",)


# ---- the shipped rules ------------------------------------------------------------------------------


def test_words_that_let_and_words_that_the_weighing_asks_for_exist():
    terms = shipped_rules().vocabulary.terms
    for word, nothing in LETS.items():
        assert terms[word].otherwise == nothing
    assert set(ASKED_BY_WEIGHING) <= set(terms)


def test_every_case_told_of_the_shipped_rules_is_as_told():
    rulebook = shipped_rules()
    for gap in find_gaps(rulebook, wide=True):
        expected = {GapKind.ONLY_OPEN: "open"}
        for name in gap.rules[:1] if gap.witness is not None else ():
            one = rulebook.rule(name)
            assert one is not None
            assert comes_to(rulebook, gap, name) == expected.get(gap.kind, str(one.then.kind)), gap
        if gap.kind is GapKind.PULLS_APART:
            assert comes_to(rulebook, gap, gap.rules[1]) == "establish"


def test_the_shipped_rules_leave_nothing_unsettled():
    assert [(str(gap.kind), *gap.rules, gap.term) for gap in find_gaps(shipped_rules())] == []


# ---- every case of small rulebooks ------------------------------------------------------------------

_HINDERS = (EffectKind.FORBID, EffectKind.REFER, EffectKind.AGAINST)
_BY_CASES = {
    GapKind.CONTRADICTION, GapKind.PULLS_APART, GapKind.NEVER_APPLIES, GapKind.ONLY_OPEN, GapKind.SET_ASIDE,
}  # fmt: skip


def by_trying_everything(rulebook: Rulebook, numbered: bool) -> set[tuple[str, ...]]:
    """What is unsettled, by going through every case and asking the engines and the weighing."""
    known = every_case(rulebook, numbered)
    found: set[tuple[str, ...]] = set()
    sound = []
    for one in adopted(rulebook):
        if all(here[one.id] is not Truth.YES for _, here, _ in known):
            silent = all(here[one.id] is Truth.NO for _, here, _ in known)
            found.add(("never applies" if silent else "only open", one.id))
            continue
        sound.append(one)
        over = {r.id for r in adopted(rulebook) for e in r.overrides if e.rule == one.id and reaches(r, one)}
        if over and all(stands[one.id] is Standing.OUT for _, _, stands in known):
            found.add(("set aside", one.id))
    for one in sound:
        for other in adopted(rulebook):
            if other is not one:
                found |= set(_pairs(one, other, known))
    return found


def _pairs(one: Rule, other: Rule, known):
    (word, value), (second, another) = one.then.establishes, other.then.establishes
    both = any(here[one.id] is here[other.id] is Truth.YES for _, here, _ in known)
    if one.id < other.id and word and word == second and value != another and both:
        yield ("contradiction", one.id, other.id)
    if one.then.kind is EffectKind.FORBID and other.then.kind is EffectKind.REQUIRE and one.about == other.about:
        owed = [stands[one.id] for _, _, stands in known if stands[other.id] is Standing.IN]
        if owed and set(owed) == {Standing.IN}:
            yield ("contradiction", one.id, other.id)
    pull = one.then.kind in _HINDERS and second in LETS and another != LETS[second]
    alike = {p.term for p in one.when} & {p.term for p in other.when}
    together = any(stands[one.id] is Standing.IN and here[other.id] is Truth.YES for _, here, stands in known)
    if pull and alike and together:
        yield ("pulls apart", one.id, other.id)


def reaches(one: Rule, other: Rule) -> bool:
    return one.about == other.about or one.about in OWNERS[other.about]


def shortened(gap: Gap) -> tuple[str, ...]:
    return (str(gap.kind), *(gap.rules[:1] if gap.kind is GapKind.SET_ASIDE else gap.rules))


@pytest.mark.parametrize("numbered", [False, True])
@given(data=st.data())
@settings(max_examples=40 * MORE)
def test_the_search_finds_what_trying_every_case_finds(numbered, data):
    rulebook = data.draw(small_rulebooks(numbered))
    found = [gap for gap in find_gaps(rulebook) if gap.kind in _BY_CASES]
    assert {shortened(gap) for gap in found} == by_trying_everything(rulebook, numbered)


@pytest.mark.parametrize("numbered", [False, True])
@given(data=st.data())
@settings(max_examples=40 * MORE)
def test_each_case_is_as_told_and_no_case_needs_fewer_facts(numbered, data):
    rulebook = data.draw(small_rulebooks(numbered))
    known = every_case(rulebook, numbered)
    for gap in find_gaps(rulebook):
        if gap.kind is GapKind.PULLS_APART:
            assert gap.witness is not None
            here = truths(gap.witness, rulebook)
            assert here[gap.rules[1]] is Truth.YES
            assert standing(here, rulebook)[gap.rules[0]] is Standing.IN
            fits = [
                facts
                for facts, truth, stands in known
                if truth[gap.rules[1]] is Truth.YES and stands[gap.rules[0]] is Standing.IN
            ]
            assert len(gap.witness) <= min(map(len, fits))


@pytest.mark.parametrize("numbered", [False, True])
@given(data=st.data())
@settings(max_examples=40 * MORE)
def test_a_rule_that_tells_nothing_more_tells_nothing_more_in_any_case(numbered, data):
    rulebook = data.draw(small_rulebooks(numbered))
    known = every_case(rulebook, numbered)
    idle = {gap.rules for gap in find_gaps(rulebook) if gap.kind is GapKind.NOTHING_MORE}
    forbids = [r for r in adopted(rulebook) if r.then.kind is EffectKind.FORBID]
    for one in forbids:
        for other in (o for o in forbids if o is not one and o.about == one.about):
            covered = all(t[other.id] >= t[one.id] for _, t, _ in known)
            back = all(t[one.id] >= t[other.id] for _, t, _ in known)
            ever = any(t[one.id] is Truth.YES for _, t, _ in known)
            named = {e.rule for r in (one, other) for e in r.overrides} & {one.id, other.id}
            expected = covered and ever and not named and not (back and one.id < other.id)
            assert ((one.id, other.id) in idle) is expected


# ---- the command ------------------------------------------------------------------------------------


WORDS_TOLD = {
    "terms.yaml": """\
        duties: [stored]
        roles: {lead: {means: Leads.}}
        instruments: {}
        materials: {iron: {}}
        costs: {look: {weight: 1, means: Look.}}
        lists: {surfaces: look, marks: look, repairs: look, defects: look, history: look}
        terms:
          act.technique: {giver: person, cost: look, type: choice, values: techniques, means: So., ask: So?}
          act.specified_by: {giver: person, cost: look, type: choice, values: [engineer, lead], means: So., ask: So?}
          surface.function: {giver: person, cost: look, type: choice, values: [sliding, datum], means: So., ask: So?}
          act.promises: {giver: rule, type: choice, values: [function, nothing], otherwise: nothing, means: So., ask: So?}
        """,
    "techniques.yaml": "milling: {does: milling, rung: 1, source: common-practice}\n",
    "sources.yaml": "common-practice: {title: Common practice, clauses: none}\n",
}
BESIDE = PROMISES.replace("examples:", "beside: [{rule: r/one, why: so}]\nexamples:")


def written(root, **rules: str):
    texts = {f"r/{name}.yaml": f"id: r/{name}\n{text}" for name, text in rules.items()}
    return folder_of(root / "rules", {**WORDS_TOLD, **texts})


def gaps_told(capsys, root, *more: str) -> str:
    assert main(["rules", "gaps", "--rules", str(root / "rules"), *more]) == 0
    return capsys.readouterr().out


def test_the_command_says_that_nothing_is_unsettled(tmp_path, capsys):
    written(tmp_path, one=NARROW, lets=BESIDE)
    assert gaps_told(capsys, tmp_path) == "Nothing is unsettled.\n"


def test_the_command_tells_each_thing_with_its_case_and_ends_with_the_number(tmp_path, capsys):
    written(tmp_path, forbids=NARROW, lets=PROMISES)
    out = " ".join(gaps_told(capsys, tmp_path).split())
    assert "where the act's ‘technique’ is milling, the act's ‘specified by’ is engineer and the surface's" in out
    assert out.endswith("1 thing unsettled.")


def test_the_case_in_json_can_be_tried_as_it_stands(tmp_path, capsys):
    written(tmp_path, forbids=NARROW, lets=PROMISES)
    (gap,) = json.loads(gaps_told(capsys, tmp_path, "--json"))["gaps"]
    facts = [f"{term}={value}" for term, value in gap["facts"].items()]
    for name in gap["rules"]:
        assert main(["rules", "try", name, *facts, "--rules", str(tmp_path / "rules")]) == 0
        assert capsys.readouterr().out.startswith("The rule applies")


def test_a_number_that_is_measured_is_told_so_that_it_can_be_tried(tmp_path):
    words = rulebook_of(tmp_path, one=FORBIDS).vocabulary
    measured = {"surface.wear": (Quantity(Decimal("0.2"), Decimal(0), "mm"),)}
    assert as_on_command_line(measured, words) == {"surface.wear": "0.2 ± 0 mm"}


def test_overlays_are_laid_over_the_rules_first(tmp_path, capsys):
    written(tmp_path, one=NARROW, lets=BESIDE)
    laid = tmp_path / "rules/overlays/law"
    (laid / "r").mkdir(parents=True)
    (laid / "overlay.yaml").write_text("title: Law\nsays: So.\nwithdraws: none\n")
    (laid / "r/two.yaml").write_text(f"id: law/r/two\n{NARROW}")
    assert gaps_told(capsys, tmp_path) == "Nothing is unsettled.\n"
    assert "law/r/two" in gaps_told(capsys, tmp_path, "--overlay", "law")
    assert main(["rules", "gaps", "--rules", str(tmp_path / "rules"), "--overlay", "lwa"]) == 2
    assert "law" in capsys.readouterr().err


def test_a_fact_that_is_made_up_is_as_sure_as_one_that_is_written(tmp_path):
    rulebook = rulebook_of(tmp_path, one=FORBIDS)
    one = rulebook.rule("r/one")
    assert one is not None
    (ground,) = tried(one, {"technique.takes": ("skim",)}, rulebook).grounds
    assert ground.fact == Fact("technique.takes", "", ("skim",), How.WRITTEN)
