"""Which decisions are out of line with their like: factors from the rules, cases, clashes, what explains them."""

from __future__ import annotations

import pickle
import random
from collections.abc import Mapping, Sequence
from dataclasses import replace
from functools import lru_cache
from itertools import combinations, product
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import test_laws as laws
from helpers import MORE, casebook_of, clock, clock_rules, demo, every_weighing, rule, rulebook_of, shipped_rules
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from conserve.audit.cases import Case, Outcome, cases_of, fares_of, no_worse
from conserve.audit.clashes import alike, better, clashes
from conserve.audit.cover import NOBODY, matching, smallest_cover
from conserve.audit.factors import Counts, Factors, Premised, Stepped, factor_in_words, factors_of
from conserve.audit.model import Kind
from conserve.audit.near import DOZEN, FEW, near
from conserve.audit.out_of_line import OutOfLine, out_of_line, smallest_set
from conserve.casebook.model import Decision
from conserve.rulebook import Rulebook
from conserve.weighing import OptionWeighing, Verdict, Weighing, weigh, weigh_all
from conserve.weighing.model import ORDER

# ---- the law: what is no worse in every factor fares no worse -------------------------------------------------------

Fares = tuple[int, ...]


def all_fares(weighings: Sequence[Weighing], rulebook: Rulebook) -> list[tuple[OptionWeighing, Fares]]:
    factors = factors_of(rulebook)
    return [
        (part.option(name), fares)
        for weighing in weighings
        for part in weighing.parts
        for name, fares in fares_of(part, factors, rulebook.vocabulary).items()
    ]


def breaches(found: Sequence[tuple[OptionWeighing, Fares]]) -> tuple[int, list[str]]:
    """How many pairs can be compared, and those in which the one that is no worse fares worse all the same."""
    compared, told = 0, []
    for (one, mine), (other, theirs) in product(found, found):
        if one is not other and no_worse(mine, theirs):
            compared += 1
            for verdict, held in ((one.own, other.own), (one.verdict, other.verdict)):
                if ORDER.index(verdict) < ORDER.index(held):
                    told.append(f"{one.option.id}: {verdict}; {other.option.id}: {held} ({one.reason.step})")
    return compared, told


def dense(number: int) -> Rulebook | None:
    """A random rulebook with far more overrides, for these are where favourable and adverse change places."""
    draw = random.Random(f"dense {number}")
    rules = {name: one for name, one in laws.random_rules(number).items() if name not in laws.clashing(number)}
    telling = [name for name, one in rules.items() if "establish" not in one["then"]]
    for at, name in enumerate(telling):
        if at and draw.random() < 0.8:
            over = draw.sample(telling[:at], min(at, draw.randint(1, 2)))
            rules[name] = {**rules[name], "overrides": [{"rule": one, "why": "so"} for one in over]}
    return laws._read(rules, tuple(range(99)))[0]


@settings(max_examples=6 * MORE, suppress_health_check=[HealthCheck.too_slow, HealthCheck.data_too_large])
@given(st.integers(1, 60), st.data())
def test_an_option_that_is_no_worse_in_every_factor_fares_no_worse_under_any_rules(number, data):
    rulebook = dense(number)
    if rulebook is None:
        return
    weighings = []
    for _ in range(2):
        with TemporaryDirectory() as root:
            desk = laws.Desk(Path(root), data.draw(laws.casebooks(rulebook)), rulebook)
            gone = data.draw(st.lists(st.sampled_from(desk.facts()), min_size=1, max_size=4, unique=True))
            weighings += [desk.whole, *(w for fact in gone if (w := desk.weighed_without(fact)) is not None)]
    assert breaches(all_fares(weighings, rulebook))[1] == []


@pytest.mark.parametrize(("casebook", "rulebook"), [(demo, shipped_rules), (clock, clock_rules)])
def test_an_option_of_the_demonstrations_that_is_no_worse_fares_no_worse(casebook, rulebook):
    of_this = [one for one in every_weighing().values() if one.casebook is casebook()]
    found = {(one.own, one.verdict, fares): one for one, fares in all_fares(of_this, rulebook())}
    compared, told = breaches([(one, key[2]) for key, one in found.items()])
    assert told == []
    assert compared > 1


# Four ways in which this could go wrong that hardly ever come up by chance.


def cut_in(root: Path, rulebook: Rulebook, part: str, options: str = "") -> tuple[Fares, Verdict]:
    """How the option `cut` of one part fares, and its verdict."""
    proposal = PROPOSAL.format(name="a", parts="a", chosen="cut").replace("options:\n", f"options:\n{options}")
    casebook = casebook_of(root, {"components/a.yaml": part, "proposals/on-a.yaml": proposal}, rulebook)
    (found,) = weigh(casebook.proposals[0], casebook, rulebook).parts
    return fares_of(found, factors_of(rulebook), rulebook.vocabulary)["cut"], found.option("cut").verdict


def all_over(root: Path, rulebook: Rulebook, part: str) -> tuple[Fares, Verdict]:
    """As `cut_in`, of an act that goes over the whole part, of which nobody has said which marks it takes."""
    proposal = PROPOSAL.format(name="a", parts="a", chosen="cut")
    act = "{technique: blasting, treats: play, for: [rest]}"
    at = proposal.index("{technique")
    proposal = f"{proposal[:at]}{act}\n    {proposal[proposal.index('decision'):]}"
    casebook = casebook_of(root, {"components/a.yaml": part, "proposals/on-a.yaml": proposal}, rulebook)
    (found,) = weigh(casebook.proposals[0], casebook, rulebook).parts
    return fares_of(found, factors_of(rulebook), rulebook.vocabulary)["cut"], found.option("cut").verdict


def test_what_is_about_the_part_and_sets_aside_what_is_about_an_act_counts_for_the_act(tmp_path):
    note = rule("component", "{component.made_to_be_renewed: 'yes'}", "{note: So.}", overrides="r/cut")
    rules = rulebook_of(tmp_path, cut=CUT, note=note)
    parts = (PART.format(renewed=renewed, shows="yes") for renewed in ("yes", "no"))
    (mine, well), (other, ill) = (cut_in(tmp_path / str(at), rules, part) for at, part in enumerate(parts))
    assert (well, ill) == (Verdict.JUSTIFIED, Verdict.NOT_JUSTIFIED)
    assert no_worse(mine, other) and not no_worse(other, mine)


def test_what_sets_aside_of_the_act_as_a_whole_counts_at_each_face(tmp_path):
    cut = rule("act", "{surface.shows_use: 'yes'}", "{forbid: So not.}")
    note = rule("act", "{mark.recorded: 'yes'}", "{note: So.}", overrides="r/cut")
    rules = rulebook_of(tmp_path, cut=cut, note=note)
    back = "  back: {function: mating, shows_use: no, finish: bare, area: 9 cm2, sets_clearance: no%s}"
    texts = (TWO_FACES % (back % marks) for marks in ("", ", marks: none"))
    (maybe, waits), (sure, ill) = (all_over(tmp_path / str(at), rules, text) for at, text in enumerate(texts))
    assert (waits, ill) == (Verdict.NOT_YET_SHOWN, Verdict.NOT_JUSTIFIED)
    assert not no_worse(sure, maybe)


def test_a_word_that_is_established_of_an_act_is_that_of_the_act_at_each_face(tmp_path):
    word = rule("act", "{surface.shows_use: 'yes'}", "{establish: {act.hides_or_takes: 'yes'}}")
    rules = rulebook_of(tmp_path, word=word, bars=rule("act", "{act.hides_or_takes: 'yes'}", "{forbid: So not.}"))
    back = "  back: {function: mating, shows_use: %s, finish: bare, area: 9 cm2, sets_clearance: no, marks: none}"
    texts = ((TWO_FACES % (back % shows)).replace("shows_use: yes", f"shows_use: {shows}") for shows in ("yes", "no"))
    (ill, no), (well, yes) = (all_over(tmp_path / str(at), rules, text) for at, text in enumerate(texts))
    assert (no, yes) == (Verdict.NOT_JUSTIFIED, Verdict.JUSTIFIED)
    assert no_worse(well, ill) and not no_worse(ill, well)


def test_a_gentler_option_that_stands_speaks_against_an_option(tmp_path):
    rules = rulebook_of(tmp_path, cut=CUT)
    shim = (
        "  shim:\n        after: {defects.play.active: no}\n        acts:\n"
        "          - {technique: shimming, where: face, thickness: 0.4 mm, treats: play, takes: none, for: [rest]}\n"
    )
    part = PART.format(renewed="no", shows="no")
    alone, well = cut_in(tmp_path / "1", rules, part)
    beside, ill = cut_in(tmp_path / "2", rules, part, f"    {shim}")
    assert (well, ill) == (Verdict.JUSTIFIED, Verdict.NOT_JUSTIFIED)
    assert no_worse(alone, beside) and not no_worse(beside, alone)


# ---- factors --------------------------------------------------------------------------------------------------------

CUT = rule("act", "{technique.takes: skim, surface.shows_use: 'yes'}", "{forbid: So not.}")
WORN = rule(
    "act", "{component.made_to_be_renewed: 'yes'}", "{against: It is a pity.}", overrides="r/cut"
)  # which counts by itself, and sets the other aside
RECORD = rule("act", "{technique.takes: skim}", "{require: Draw it first., by: decision, evidence: drawing}")


def counts(factors: Factors) -> set[tuple[str, str]]:
    return {(one.term, str(one.counts)) for one in factors.all if isinstance(one, Premised)}


def test_a_premise_counts_the_way_its_rule_does(tmp_path):
    found = factors_of(rulebook_of(tmp_path, cut=CUT))
    assert counts(found) == {("technique.takes", "against"), ("surface.shows_use", "against")}
    (shows,) = (one for one in found.all if isinstance(one, Premised) and one.term == "surface.shows_use")
    assert shows.rules == ("r/cut",)
    assert factor_in_words(shows) == "surface, shows use: yes"


def test_a_premise_of_a_rule_that_sets_another_aside_counts_for_and_its_own_effect_against(tmp_path):
    found = counts(factors_of(rulebook_of(tmp_path, cut=CUT, worn=WORN)))
    assert {("component.made_to_be_renewed", "for"), ("component.made_to_be_renewed", "against")} <= found


def test_a_note_that_sets_a_rule_aside_counts_for_alone(tmp_path):
    note = rule("act", "{component.made_to_be_renewed: 'yes'}", "{note: It was made for it.}", overrides="r/cut")
    assert ("component.made_to_be_renewed", "for") in (found := counts(factors_of(rulebook_of(tmp_path, cut=CUT, note=note))))
    assert ("component.made_to_be_renewed", "against") not in found


@pytest.mark.parametrize(
    "then",
    ["{note: Look.}", "{establish: {act.hides_or_takes: 'yes'}}", "{require: Sweep., by: after-work, routine: 'yes'}"],
)
def test_what_never_changes_a_verdict_by_itself_is_no_factor(then, tmp_path):
    found = factors_of(rulebook_of(tmp_path, one=rule("act", "{surface.shows_use: 'yes'}", then)))
    assert counts(found) == set()


def test_an_established_word_is_a_factor_and_not_what_it_is_established_from(tmp_path):
    rules = rulebook_of(
        tmp_path,
        word=rule("act", "{surface.shows_use: 'yes'}", "{establish: {act.hides_or_takes: 'yes'}}"),
        bars=rule("act", "{act.hides_or_takes: 'yes'}", "{forbid: Do not.}"),
    )
    assert counts(factors_of(rules)) == {("act.hides_or_takes", "against")}


def test_a_draft_counts_for_nothing(tmp_path):
    draft = rule("act", "{surface.shows_use: 'yes'}", "{forbid: Do not.}", status="draft")
    assert counts(factors_of(rulebook_of(tmp_path, draft=draft))) == set()


def test_the_same_rules_always_have_the_same_factors_with_the_same_numbers(tmp_path):
    one = rulebook_of(tmp_path / "one", cut=CUT, worn=WORN, record=RECORD)
    other = rulebook_of(tmp_path / "other", record=RECORD, worn=WORN, cut=CUT)
    assert one.digest == other.digest
    assert factors_of(one) == factors_of(other)


def test_every_factor_of_the_rules_that_travel_with_the_program_can_be_said_in_words():
    found = factors_of(shipped_rules())
    told = [factor_in_words(one) for one in found.all]
    assert all(told) and not any("{" in one or "_" in one for one in told)
    rules = {one.id for one in shipped_rules().rules}
    assert {name for one in found.all for name in one.rules} <= rules


def test_factors_can_be_sent_to_another_process():
    found = factors_of(shipped_rules())
    assert pickle.loads(pickle.dumps(found)) == found


# ---- cases ----------------------------------------------------------------------------------------------------------

PART = """\
    name: Part
    phase: as-built
    material: grey-cast-iron
    made_to_be_renewed: {renewed}
    surfaces:
      face: {{function: sliding, shows_use: {shows}, finish: machined, area: 400 ± 5 cm2, sets_clearance: no, marks: none}}
    repairs: none
    defects: {{play: {{kind: wear, active: yes}}}}
    mass: 10 ± 0.1 kg
    """
PROPOSAL = """\
    title: Stop the wear of {name}
    components: [{parts}]
    asked: {{date: 2026-03-02, by: me}}
    needs:
      rest: {{kind: stability, says: It wears no more., set_by: me, test: {{defects.play.active: no}}}}
    options:
      leave: {{acts: []}}
      cut:
        after: {{defects.play.active: no}}
        acts:
          - {{technique: milling, where: face, depth: 0.10 ± 0.02 mm, treats: play, takes: none, for: [rest]}}
    decision: {{chosen: {chosen}, by: me, date: 2026-03-04, reason: So.}}
    """
TWO_FACES = """\
    name: Part
    phase: as-built
    material: grey-cast-iron
    surfaces:
      face: {function: sliding, shows_use: yes, finish: machined, area: 400 cm2, sets_clearance: no, marks: none}
    %s
    repairs: none
    defects: {play: {kind: wear, active: yes}}
    mass: 10 ± 0.1 kg
    """
Parts = Mapping[str, tuple[str, str]]  # id -> made to be renewed, shows use


def cases_in(root: Path, parts: Parts, chosen: Mapping[str, str], rulebook: Rulebook) -> tuple[Case, ...]:
    """One proposal for each part, or for each row of them with a plus between; decided as it says."""
    files = {f"components/{name}.yaml": PART.format(renewed=a, shows=b) for name, (a, b) in parts.items()}
    for names, option in chosen.items():
        name = names.replace("+", "-")
        text = PROPOSAL.format(name=name, parts=", ".join(names.split("+")), chosen=option)
        files[f"proposals/on-{name}.yaml"] = text
    weighings = weigh_all(casebook_of(root / "book", files, rulebook), rulebook)
    return cases_of(weighings, rulebook, factors_of(rulebook))


@pytest.fixture
def rules(tmp_path: Path) -> Rulebook:
    note = rule("act", "{component.made_to_be_renewed: 'yes'}", "{note: It was made for it.}", overrides="r/cut")
    return rulebook_of(tmp_path, cut=CUT, note=note)


def test_the_chosen_option_and_what_was_passed_over_for_a_gentler_one_are_cases(tmp_path, rules):
    parts = {"a": ("no", "no"), "b": ("no", "yes")}
    found = cases_in(tmp_path, parts, {"a": "cut", "b": "leave"}, rules)
    assert [(one.outcome, one.part, one.techniques, one.verdict) for one in found] == [
        (Outcome("trial", "on-a", "cut", accepted=True), "a", ("milling",), Verdict.JUSTIFIED),
        (Outcome("trial", "on-b", "cut", accepted=False), "b", ("milling",), Verdict.NOT_JUSTIFIED),
    ]


def test_what_is_not_decided_is_no_case(rules):
    weighings = [one for one in every_weighing().values() if one.proposal.decision is None]
    assert weighings
    assert cases_of(weighings, shipped_rules(), factors_of(shipped_rules())) == ()


def test_an_option_that_is_neither_gentler_nor_less_gentle_than_the_chosen_is_no_case():
    factors = factors_of(shipped_rules())
    for weighing in every_weighing().values():
        if weighing.casebook is demo():
            for one in cases_of([_decided(weighing, weighing.chosen)], shipped_rules(), factors):
                for part in weighing.parts:
                    chosen = part.option(weighing.chosen)
                    gentler = weighing.chosen in part.option(one.outcome.option).gentler or not chosen.option.acts
                    assert one.outcome.accepted or gentler


def test_a_case_is_small_and_is_the_same_after_it_was_sent(tmp_path, rules):
    (one,) = cases_in(tmp_path, {"a": ("no", "no")}, {"a": "cut"}, rules)
    sent = pickle.dumps(one)
    assert pickle.loads(sent) == one
    assert len(sent) < 2000 and b"conserve.casebook" not in sent


def test_a_case_is_under_the_name_that_its_casebook_has_among_others(rules):
    factors = factors_of(shipped_rules())
    weighing = next(one for one in every_weighing().values() if one.casebook is demo() and one.proposal.decision)
    assert {one.outcome.casebook for one in cases_of([weighing], shipped_rules(), factors, "north/mill")} == {"north/mill"}


# ---- clashes --------------------------------------------------------------------------------------------------------


def names(pairs: OutOfLine) -> list[tuple[str, str]]:
    return [(one.refused.outcome.proposal, one.accepted.outcome.proposal) for one in pairs.clashes]


def test_a_refused_option_that_is_no_worse_than_an_accepted_one_clashes_with_it(tmp_path, rules):
    parts = {"a": ("no", "no"), "b": ("no", "yes")}
    found = out_of_line(cases_in(tmp_path, parts, {"a": "leave", "b": "cut"}, rules), factors_of(rules))
    assert names(found) == [("on-a", "on-b")]
    assert (found.accepted, found.refused, found.left_out) == (1, 1, 0)


def test_decisions_that_follow_the_rules_do_not_clash(tmp_path, rules):
    parts = {"a": ("no", "no"), "b": ("no", "yes"), "c": ("yes", "yes")}
    found = out_of_line(cases_in(tmp_path, parts, {"a": "cut", "b": "leave", "c": "cut"}, rules), factors_of(rules))
    assert found.clashes == () and found.points == () and found.smallest.outcomes == ()


def test_what_speaks_for_an_option_makes_it_better(tmp_path, rules):
    # Both faces show their use, which forbids the cut; the part that was made to be renewed may be cut all the same.
    parts = {"a": ("yes", "yes"), "b": ("no", "yes")}
    found = out_of_line(cases_in(tmp_path, parts, {"a": "leave", "b": "cut"}, rules), factors_of(rules))
    assert names(found) == [("on-a", "on-b")]
    told = {(one.asks, one.counts): (one.refused, one.accepted) for one in better(found.clashes[0], factors_of(rules))}
    refused, accepted = told["component, made to be renewed: yes", Counts.FOR]
    assert refused == "Part, made to be renewed: yes (components/a.yaml:4)"
    assert accepted == "Part, made to be renewed: no (components/b.yaml:4)"
    both = {one.asks: one.refused for one in alike(found.clashes[0], factors_of(rules))}
    assert both["surface, shows use: yes"] == "Face, shows use: yes (components/a.yaml:6)"


def test_what_is_not_known_is_worse_than_what_is_known_to_be_well_and_better_than_what_is_not(tmp_path, rules):
    unknown = dict.fromkeys("b", ("no", "unknown"))
    text = cases_in(tmp_path / "1", {"a": ("no", "no"), **unknown}, {"a": "leave", "b": "cut"}, rules)
    assert names(out_of_line(text, factors_of(rules))) == [("on-a", "on-b")]
    text = cases_in(tmp_path / "2", {"a": ("no", "yes"), **unknown}, {"a": "leave", "b": "cut"}, rules)
    assert names(out_of_line(text, factors_of(rules))) == []


def test_an_option_that_is_refused_because_of_another_part_does_not_clash(tmp_path, rules):
    parts = {"a": ("no", "no"), "b": ("no", "yes"), "c": ("no", "no"), "d": ("no", "no"), "e": ("no", "no")}
    found = cases_in(tmp_path / "1", parts, {"a+b": "leave", "c": "cut"}, rules)
    assert clashes(found, factors_of(rules)) == ()
    found = cases_in(tmp_path / "2", parts, {"d+e": "leave", "c": "cut"}, rules)
    assert len(clashes(found, factors_of(rules))) == 1


def test_cases_by_other_rules_are_left_out_and_counted(tmp_path, rules):
    mine = cases_in(tmp_path, {"a": ("no", "no"), "b": ("no", "yes")}, {"a": "leave", "b": "cut"}, rules)
    other = tuple(replace(one, rules="f" * 64) for one in mine)
    found = out_of_line((mine[0], other[1]), factors_of(rules))
    assert (found.accepted + found.refused, found.left_out, found.clashes) == (1, 1, ())


def _decided(weighing: Weighing, option: str) -> Weighing:
    where = weighing.proposal.where
    decision = Decision(option, "me", weighing.on, "So.", where)
    return replace(weighing, proposal=replace(weighing.proposal, decision=decision), chosen=option)


@lru_cache
def anyhow(seed: int) -> tuple[tuple[Case, ...], Factors]:
    """Both demonstrations' options decided at random by the rules of the first, in six casebooks."""
    factors, draw = factors_of(shipped_rules()), random.Random(seed)
    few = [one for one in every_weighing().values() if one.casebook is demo() and len(one.parts) == 1]
    found: list[Case] = []
    for number in range(6):
        decided = [_decided(one, draw.choice(sorted(one.verdicts))) for one in few]
        found += cases_of(decided, shipped_rules(), factors, f"book-{number}")
    return tuple(found), factors


@pytest.mark.parametrize("seed", range(2))
def test_clashes_are_exactly_the_pairs_that_their_definition_gives(seed):
    cases, factors = anyhow(seed)
    wanted = {
        (one.outcome, other.outcome)
        for one, other in product(cases, cases)
        if not one.outcome.accepted and other.outcome.accepted
        if one.outcome.decision != other.outcome.decision and no_worse(one.fares, other.fares)
    }
    assert wanted
    assert {(one.refused.outcome, one.accepted.outcome) for one in clashes(cases, factors)} == wanted


def test_the_order_of_cases_changes_nothing():
    cases, factors = anyhow(1)
    found = out_of_line(cases, factors)
    assert out_of_line(random.Random(1).sample(cases, len(cases)), factors) == found
    assert found.clashes


def test_each_decision_of_the_smallest_set_is_a_point_that_says_what_it_clashes_with(tmp_path, rules):
    parts = {"a": ("no", "no"), "b": ("no", "yes"), "c": ("no", "no")}
    found = out_of_line(cases_in(tmp_path, parts, {"a": "leave", "b": "cut", "c": "leave"}, rules), factors_of(rules))
    (point,) = found.points
    assert (point.kind, point.proposal, point.casebook) == (Kind.CLASH, "on-b", "trial")
    assert point.says.startswith(
        "'cut' was chosen. 'cut' (on-a) and 'cut' (on-c) were passed over for something gentler, and nothing more "
        "speaks against them."
    )
    assert found.smallest.alone


def test_where_either_of_two_may_be_at_fault_it_is_not_said_to_be_certain(tmp_path, rules):
    parts = {"a": ("no", "no"), "b": ("no", "yes")}
    found = out_of_line(cases_in(tmp_path, parts, {"a": "leave", "b": "cut"}, rules), factors_of(rules))
    assert len(found.smallest.outcomes) == 1 and found.smallest.certain == () and not found.smallest.alone


def test_nothing_clashes_in_the_demonstrations_as_they_are_decided():
    for casebook, rulebook in ((demo(), shipped_rules()), (clock(), clock_rules())):
        weighings = [one for one in every_weighing().values() if one.casebook is casebook]
        assert clashes(cases_of(weighings, rulebook, factors_of(rulebook)), factors_of(rulebook)) == ()


# ---- the smallest set that explains all of them ---------------------------------------------------------------------

graphs = st.integers(0, 6).flatmap(
    lambda width: st.tuples(
        st.lists(st.sets(st.integers(0, width - 1)) if width else st.just(set()), max_size=6), st.just(width)
    )
)


def covers(edges: Sequence[set[int]], width: int) -> list[tuple[frozenset[int], frozenset[int]]]:
    """Every smallest set of vertices that touches all edges, found by trying all sets."""
    every = [("left", at) for at in range(len(edges))] + [("right", at) for at in range(width)]
    for size in range(len(every) + 1):
        found = []
        for some in map(set, combinations(every, size)):
            if all(("left", at) in some or ("right", to) in some for at, tos in enumerate(edges) for to in tos):
                sides = ({at for side, at in some if side == which} for which in ("left", "right"))
                found.append(tuple(map(frozenset, sides)))
        if found:
            return found  # type: ignore[return-value]
    raise AssertionError


@settings(max_examples=80 * MORE)
@given(graphs)
def test_a_cover_is_one_of_the_smallest_and_certain_is_what_all_of_these_have(graph):
    some, width = graph
    found, every = smallest_cover([sorted(one) for one in some], width), covers(some, width)
    assert (frozenset(found.left), frozenset(found.right)) in every
    assert set(found.certain_left) == frozenset.intersection(*(left for left, _ in every))
    assert set(found.certain_right) == frozenset.intersection(*(right for _, right in every))


@settings(max_examples=40 * MORE)
@given(st.integers(1, 40), st.integers(1, 40), st.integers(0, 400), st.integers())
def test_a_matching_is_as_large_as_that_of_scipy(height, width, number, seed):
    sparse, csgraph = pytest.importorskip("scipy.sparse"), pytest.importorskip("scipy.sparse.csgraph")
    draw = random.Random(seed)
    pairs = sorted({(draw.randrange(height), draw.randrange(width)) for _ in range(number)})
    edges = [[to for at, to in pairs if at == one] for one in range(height)]
    left, right = matching(edges, width)
    table = sparse.csr_matrix(([1] * len(pairs), tuple(zip(*pairs, strict=True)) or ((), ())), shape=(height, width))
    assert sum(mate != NOBODY for mate in left) == (csgraph.maximum_bipartite_matching(table) >= 0).sum()
    assert all(mate == NOBODY or (mate in edges[at] and right[mate] == at) for at, mate in enumerate(left))


@pytest.mark.parametrize("seed", range(2))
def test_without_the_smallest_set_nothing_clashes_and_no_smaller_set_is_as_good_as_a_matching_shows(seed):
    cases, factors = anyhow(seed)
    found = clashes(cases, factors)
    smallest = smallest_set(found)
    assert clashes([one for one in cases if one.outcome not in smallest.outcomes], factors) == ()
    assert set(smallest.certain) <= set(smallest.outcomes)
    apart: set[Outcome] = set()  # clashes of which no two share an outcome, taken greedily: each needs one of its own
    number = 0
    for one in found:
        if not {one.refused.outcome, one.accepted.outcome} & apart:
            apart |= {one.refused.outcome, one.accepted.outcome}
            number += 1
    assert number <= len(smallest.outcomes) <= 2 * number


@pytest.mark.parametrize("seed", range(2))
def test_had_the_smallest_set_gone_the_other_way_nothing_would_clash(seed):
    # Being no worse passes from one to the next, so that turning round what a smallest set has makes no new clash.
    cases, factors = anyhow(seed)
    turned = smallest_set(clashes(cases, factors)).outcomes
    other = (
        replace(one, outcome=replace(one.outcome, accepted=not one.outcome.accepted)) if one.outcome in turned else one
        for one in cases
    )
    assert turned and clashes(tuple(other), factors) == ()


# ---- what lies near -------------------------------------------------------------------------------------------------


def test_near_pairs_are_told_with_what_makes_the_difference(tmp_path, rules):
    parts = {"a": ("no", "no"), "b": ("no", "yes")}
    found = near(cases_in(tmp_path, parts, {"a": "cut", "b": "leave"}, rules), factors_of(rules))
    (pair,) = found
    assert (pair.refused.outcome.proposal, pair.accepted.outcome.proposal) == ("on-b", "on-a")
    (told,) = pair.differs
    assert (told.asks, told.counts, told.rules) == ("surface, shows use: yes", Counts.AGAINST, ("r/cut",))
    assert told.refused == "Face, shows use: yes (components/b.yaml:6)"
    assert told.accepted == "Face, shows use: no (components/a.yaml:6)"


def test_what_clashes_is_not_told_again_as_near(tmp_path, rules):
    found = cases_in(tmp_path, {"a": ("no", "no"), "b": ("no", "yes")}, {"a": "leave", "b": "cut"}, rules)
    assert near(found, factors_of(rules)) == ()


@pytest.mark.parametrize("seed", range(3))
def test_near_pairs_are_few_by_the_same_techniques_and_differ_little_the_least_first(seed, tmp_path, rules):
    draw, yes = random.Random(seed), ("yes", "no", "unknown")
    parts = {f"p{number}": (draw.choice(yes), draw.choice(yes)) for number in range(16)}
    cases = cases_in(tmp_path, parts, {name: draw.choice(("cut", "leave")) for name in parts}, rules)
    factors = factors_of(rules)
    found = near(cases, factors)
    assert 0 < len(found) <= DOZEN
    numbers = []
    for one in found:
        assert one.refused.techniques == one.accepted.techniques
        assert one.refused.outcome.decision != one.accepted.outcome.decision
        assert not no_worse(one.refused.fares, one.accepted.fares)
        bits = factors.numbers(one.refused.worst ^ one.accepted.worst)
        numbers.append(len({factors.all[number].told_by for number in bits}))
    assert numbers == sorted(numbers) and numbers[-1] <= FEW
    assert near(draw.sample(cases, len(cases)), factors) == found


# ---- what the steps of a weighing came to ---------------------------------------------------------------------------


def test_each_step_is_told_by_the_name_that_the_weighing_gives_it():
    told = [factor_in_words(one) for one in factors_of(shipped_rules()).all if isinstance(one, Stepped)]
    assert {"a function need fails", "an act is not called for", "a gentler option stands"} <= set(told)
    assert len(told) == len(set(told))


def test_an_objection_that_a_person_answered_speaks_no_longer_against_an_option(tmp_path):
    rules = rulebook_of(tmp_path, pity=rule("act", "{technique.takes: skim}", "{against: It is a pity.}"))
    text = PROPOSAL.format(name="b", parts="b", chosen="cut")
    answered = text.replace("after:", "answers: {r/pity: {by: me, says: It must be.}}\n        after:", 1)
    part = PART.format(renewed="no", shows="no")
    files = {f"components/{name}.yaml": part for name in "ab"}
    files |= {"proposals/on-a.yaml": PROPOSAL.format(name="a", parts="a", chosen="leave"), "proposals/on-b.yaml": answered}
    casebook, factors = casebook_of(tmp_path / "book", files, rules), factors_of(rules)
    other, mine = (fares_of(weigh(one, casebook, rules).parts[0], factors, rules.vocabulary)["cut"] for one in casebook.proposals)
    assert no_worse(mine, other) and not no_worse(other, mine)
