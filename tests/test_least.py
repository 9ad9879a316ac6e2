"""The proof of least intervention. What is expected of each proposal is read from its own file by hand; that an end
is served by gentler techniques is common practice, no published source."""

from __future__ import annotations

from dataclasses import replace

import pytest
from helpers import clock, clock_rules, demo, every_weighing, shipped_rules

from conserve.account import Compared, compare
from conserve.casebook import Option
from conserve.weighing import weigh
from conserve.weighing.least import Gap, Held, Least, least_intervention, next_gentler
from conserve.weighing.model import NeedState, PartWeighing, Verdict

DEMO = {"rulebook": shipped_rules, "casebook": demo}
CLOCK = {"rulebook": clock_rules, "casebook": clock}


def least_of(name: str, **which: object) -> tuple[Least, PartWeighing]:
    book = which or DEMO
    casebook, rulebook = book["casebook"](), book["rulebook"]()  # type: ignore[operator]
    weighing = weigh(casebook.proposal(name), casebook, rulebook)
    part = weighing.worst
    return least_intervention(part, weighing.chosen, rulebook.vocabulary), part


def held(least: Least) -> dict[str, Held]:
    return {rival.option.option.id: rival.held for rival in least.rivals}


def gaps(least: Least) -> list[Gap]:
    return [missing.gap for missing in least.missing]


def test_the_shim_is_held_against_leaving_and_against_the_skim():
    least, _ = least_of("crosshead-slipper")
    assert held(least) == {"leave": Held.ALIKE, "skim-working-face": Held.MORE}
    leave = least.rivals[0]
    assert [(outcome.need.id, outcome.state) for outcome in leave.fails] == [("running-clearance", NeedState.FAILED)]
    assert least.rivals[1].only_it == frozenset({"surface:working-face"})
    assert least.proved


def test_where_a_gentler_option_stands_nothing_is_proved():
    least, _ = least_of("pump-outer-bearing")
    assert held(least)["pack-shell"] is Held.LESS
    assert not least.proved


def test_what_forbids_a_rival_is_named_by_rule():
    least, _ = least_of("tray-bracket")
    survivor = next(rival for rival in least.rivals if rival.option.option.id == "cast-from-survivor")
    assert "new-work/survivor-is-no-pattern" in [settled.finding.rule.id for settled in survivor.forbidden]


def test_a_need_that_a_rival_gives_up_is_among_what_it_fails():
    least, _ = least_of("winder", **CLOCK)
    crank = next(rival for rival in least.rivals if rival.option.option.id == "new-crank")
    assert [(outcome.need.id, outcome.state) for outcome in crank.fails] == [("wound-daily", NeedState.GIVEN_UP)]


@pytest.mark.parametrize(
    ("name", "book", "expected"),
    [
        ("crosshead-slipper", DEMO, []),  # it says that the least work that might serve is among its options
        ("pump-door", DEMO, [Gap.LOWER_USE, Gap.LOWER_RUNG]),  # stitches, and nobody has thought of a strap
        ("third-hole", CLOCK, [Gap.LOWER_USE]),  # why it cannot be adjusted is answered
        ("slide-lubricator", DEMO, [Gap.LOWER_USE]),
        ("pump-outer-bearing", DEMO, [Gap.LOWER_USE]),  # packing is among its options
        ("tray-bracket", DEMO, []),  # nothing gentler makes a missing part, and the need is asked at every use
        ("guide-bar-back", DEMO, []),  # leaving alone lacks nothing
        ("summer-care", DEMO, []),  # care under the policy
    ],
)
def test_options_that_practice_would_expect_are_named(name, book, expected):
    assert gaps(least_of(name, **book)[0]) == expected


def test_leaving_alone_is_missed_where_it_is_not_listed():
    casebook, rulebook = demo(), shipped_rules()
    asked = casebook.proposal("crosshead-slipper")
    options = tuple(replace(o, listed=False) if not o.acts else o for o in asked.options)
    part = weigh(replace(asked, options=options), casebook, rulebook).worst
    assert Gap.LEAVE in gaps(least_intervention(part, "shim", rulebook.vocabulary))


def unlooked_for(name: str, *more: Option) -> Least:
    """A proposal of the demonstration whose people have not looked for less, with some options more."""
    casebook, rulebook = demo(), shipped_rules()
    asked = casebook.proposal(name)
    facts = {term: said for term, said in asked.facts.items() if term != "proposal.least_work"}
    part = weigh(replace(asked, facts=facts, options=(*asked.options, *more)), casebook, rulebook).worst
    return least_intervention(part, asked.preferred, rulebook.vocabulary)


def test_a_gentler_technique_is_missed_until_it_is_put_forward_or_looked_for():
    shim = demo().proposal("crosshead-slipper").option("shim")
    adjust = replace(shim, id="adjust", acts=(replace(shim.acts[0], technique="adjustment", facts={}),))
    assert gaps(unlooked_for("crosshead-slipper")) == [Gap.LOWER_RUNG]
    assert gaps(unlooked_for("crosshead-slipper", adjust)) == []


def test_adjusting_is_missed_where_metal_is_cut_for_a_clearance_and_nobody_says_why():
    casebook, rulebook = clock(), clock_rules()
    asked = casebook.proposal("third-hole")
    options = tuple(replace(o, answers={}) for o in asked.options)
    part = weigh(replace(asked, options=options), casebook, rulebook).worst
    assert Gap.ADJUST in gaps(least_intervention(part, "bush-the-bar", rulebook.vocabulary))


def test_the_next_gentler_technique_stands_lower_and_serves_an_end_in_common():
    vocabulary = shipped_rules().vocabulary
    assert [one.id for one in next_gentler(vocabulary.techniques["shimming"], vocabulary)] == ["adjustment"]
    for technique in vocabulary.techniques.values():
        below = next_gentler(technique, vocabulary)
        assert len({one.rung for one in below}) <= 1
        for one in below:
            assert one.rung < technique.rung
            assert set(technique.serves) <= set(one.serves)
            assert one.takes == "nothing"
            assert one.facts["technique.undone"] != "never"


def test_every_technique_says_what_it_serves_but_what_only_prepares():
    silent = [one.id for one in shipped_rules().vocabulary.techniques.values() if not one.serves]
    assert silent == ["weld-preparation"]


@pytest.mark.parametrize("name", every_weighing())
def test_every_other_option_is_held_against_the_chosen_one(name):
    weighing = every_weighing()[name]
    rulebook = shipped_rules() if weighing.casebook is demo() else clock_rules()
    part = weighing.worst
    least = least_intervention(part, weighing.chosen, rulebook.vocabulary)
    assert {*held(least), weighing.chosen} == {option.option.id for option in part.options}
    for rival in least.rivals:
        how = compare(rival.option.account, least.chosen.account)
        assert (rival.held is Held.LESS) is (how is Compared.GENTLER)
    if least.proved:
        unsettled = [r for r in least.rivals if r.held in (Held.LESS, Held.CANNOT_TELL) and not r.out_of_the_question]
        assert unsettled == []
        assert all(
            rival.option.own is Verdict.NOT_JUSTIFIED or rival.fails or rival.forbidden
            for rival in least.rivals
            if rival.held is Held.LESS
        )
