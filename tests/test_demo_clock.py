"""The second demonstration, a turret clock: every verdict, what it turns on, and what its overlays tighten."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from helpers import CLOCK, clock, clock_rules, read, shipped_rules, weighed

from conserve.facts import How
from conserve.files import Folder
from conserve.quantity import Quantity
from conserve.weighing import OptionWeighing, Weighing
from conserve.weighing.model import NeedState, Shown, Standing, Step

STANDS, OWED = "justified", "justified with requirements"
NOT, NOT_YET, REFER = "not justified", "not yet shown", "refer to a competent person"

FARES = {
    "bell-blow": {
        "leave": (NOT, Step.NEED_FAILED),
        "shift-hammer": (OWED, Step.OWED_LATER),
        "build-up": (NOT, Step.FORBIDDEN),
    },
    "dial": {
        "leave": (NOT, Step.NEED_FAILED),
        "hold-and-touch-in": (NOT_YET, Step.OWED_NOW),
        "repaint-as-new": (NOT, Step.FORBIDDEN),
    },
    "fly-pivot": {"leave": (STANDS, Step.NOTHING_AGAINST), "new-bush": (NOT, Step.NOT_CALLED_FOR)},
    "monthly-care": {"as-policy": (STANDS, Step.NOTHING_AGAINST)},
    "strike-hook": {
        "leave": (NOT, Step.NEED_IN_DOUBT),
        "second-sling": (REFER, Step.REFERRED),
        "silent-strike": (OWED, Step.OWED_LATER),
    },
    "third-hole": {
        "leave": (NOT, Step.NEED_FAILED),
        "bush-the-bar": (OWED, Step.OWED_LATER),
        "bore-to-the-wear": (NOT, Step.NEED_FAILED),
    },
    "third-pivot": {"leave": (STANDS, Step.NOTHING_AGAINST), "turn-pivot": (NOT, Step.FORBIDDEN)},
    "weight-landed": {"as-policy": (OWED, Step.OWED_LATER)},
    "winder": {
        "leave": (NOT, Step.NEED_FAILED),
        "new-crank": (OWED, Step.OWED_LATER),
        "winder-on-old-bolts": (OWED, Step.OWED_LATER),
        "winder-on-cut-barrel": (NOT, Step.FORBIDDEN),
    },
}
CHOSEN = {
    "bell-blow": OWED, "dial": NOT_YET, "fly-pivot": STANDS, "monthly-care": STANDS, "strike-hook": REFER,
    "third-hole": OWED, "third-pivot": NOT, "weight-landed": OWED, "winder": OWED,
}  # fmt: skip


def weigh_clock(proposal: str) -> Weighing:
    return weighed(clock(), proposal, clock_rules())


def without_overlays(proposal: str) -> Weighing:
    return weighed(clock(), proposal, shipped_rules())


def of(weighing: Weighing, name: str) -> OptionWeighing:
    return weighing.parts[0].option(name)


def rules_in(option: OptionWeighing, kind: str) -> set[str]:
    return {s.finding.rule.id for s in option.settled if s.standing is Standing.IN and s.finding.rule.then.kind == kind}


def unmet(option: OptionWeighing) -> set[str]:
    return {r.id for r in option.requirements if not r.met and not r.routine}


@pytest.fixture
def casebook(tmp_path) -> Path:
    """A copy of the clock."""
    return Path(shutil.copytree(CLOCK, tmp_path / "clock", ignore=shutil.ignore_patterns("records")))


def edit(casebook: Path, name: str, old: str, new: str) -> None:
    text = (casebook / name).read_text(encoding="utf-8")
    assert old in text
    (casebook / name).write_text(text.replace(old, new), encoding="utf-8")


def again(casebook: Path, proposal: str) -> Weighing:
    return weighed(read(Folder(casebook), clock_rules()), proposal, clock_rules())


# ---- every verdict --------------------------------------------------------------------------------------


def test_every_proposal_of_the_clock_is_among_those_checked_here():
    assert {p.id for p in clock().proposals} == set(FARES) == set(CHOSEN)


@pytest.mark.parametrize("proposal", FARES)
def test_each_option_fares_as_practice_would_have_it(proposal):
    for part in weigh_clock(proposal).parts:
        assert {o.option.id: (str(o.verdict), o.reason.step) for o in part.options} == FARES[proposal]


@pytest.mark.parametrize("proposal", CHOSEN)
def test_the_verdict_is_that_of_the_chosen_or_preferred_option(proposal):
    assert str(weigh_clock(proposal).verdict) == CHOSEN[proposal]


@pytest.mark.parametrize(
    ("proposal", "option", "rule"),
    [
        ("bell-blow", "build-up", "turret-clock/wear/struck-in-one-place"),
        ("third-pivot", "turn-pivot", "turret-clock/machining/spare-the-arbor"),
        ("winder", "winder-on-cut-barrel", "turret-clock/fabric/barrels-uncut"),
        ("winder", "winder-on-cut-barrel", "turret-clock/new-work/existing-holes"),
        ("dial", "repaint-as-new", "surface/colour-by-evidence"),
        ("dial", "repaint-as-new", "periods/later-paint-stays"),
    ],
)
def test_what_is_forbidden_is_forbidden_by_name(proposal, option, rule):
    assert rule in rules_in(of(weigh_clock(proposal), option), "forbid")


def test_the_hook_waits_for_the_lifting_examiner_and_may_rest_meanwhile():
    weighing = weigh_clock("strike-hook")
    assert rules_in(of(weighing, "second-sling"), "refer") == {"safety/cracked-lifting"}
    assert of(weighing, "silent-strike").gives_up == ("weight-hangs",)


def test_the_new_crank_gives_up_the_daily_winding_that_the_winder_keeps():
    weighing = weigh_clock("winder")
    assert of(weighing, "new-crank").gives_up == ("wound-daily",)
    assert of(weighing, "winder-on-old-bolts").gives_up == ()


def test_the_dial_waits_for_its_layers_to_be_read():
    assert of(weigh_clock("dial"), "hold-and-touch-in").reason.step is Step.OWED_NOW
    owed = {r.id for r in of(weigh_clock("dial"), "hold-and-touch-in").requirements if r.by == "decision" and not r.met}
    assert owed == {"turret-clock/surface/dial-read-first"}


def test_a_sample_that_answers_for_the_layers_opens_the_way_for_the_dial(casebook):
    sample = """\
dial-layers:
  kind: sample
  date: 2026-03-12
  by: I. Selwood
  about: [dial]
  held: Granary office
  answers: [turret-clock/surface/dial-read-first, surface/paint-read-first]
  shows: Four grounds, edge-on.
"""
    with (casebook / "evidence/register.yaml").open("a", encoding="utf-8") as register:
        register.write(sample)
    assert str(of(again(casebook, "dial"), "hold-and-touch-in").verdict) == OWED


# ---- what turns on a number -----------------------------------------------------------------------------


def amounts(option: OptionWeighing) -> list[float]:
    (need,) = option.needs
    fact = need.checks[0].judgement.fact
    assert fact.how is How.COMPUTED
    return [float(value.amount) for value in fact.values or () if isinstance(value, Quantity)]


def test_the_slack_of_the_third_wheel_is_reckoned_from_hole_and_pivot_as_each_option_leaves_them():
    weighing = weigh_clock("third-hole")
    # The hole 9.12 to 9.31, the pivot 8.71 to 8.73 mm; then a bush of 8.84, or a hole of 9.40 mm.
    assert amounts(of(weighing, "leave")) == pytest.approx([0.39, 0.60])
    assert amounts(of(weighing, "bush-the-bar")) == pytest.approx([0.11, 0.13])
    assert amounts(of(weighing, "bore-to-the-wear")) == pytest.approx([0.67, 0.69])
    (need,) = of(weighing, "bush-the-bar").needs
    assert (need.state, need.shown) == (NeedState.MET, Shown.COMPUTED)


@pytest.mark.parametrize(
    ("size", "state"),
    [("8.84 ± 0.02 mm", NeedState.MET), ("8.91 ± 0.02 mm", NeedState.OPEN), ("9.00 ± 0.02 mm", NeedState.FAILED),
     ("8.74 ± 0.02 mm", NeedState.FAILED)],
)  # fmt: skip
def test_the_size_to_which_the_bush_is_finished_decides(casebook, size, state):
    edit(casebook, "proposals/third-hole.yaml", "finish_diameter: 8.84 ± 0.02 mm", f"finish_diameter: {size}")
    (need,) = of(again(casebook, "third-hole"), "bush-the-bar").needs
    assert need.state is state


def test_a_press_of_which_half_is_too_little_may_not_press_the_bush(casebook):
    edit(casebook, "proposals/third-hole.yaml", "press_at_hand: 20 kN", "press_at_hand: 1 kN")
    assert rules_in(of(again(casebook, "third-hole"), "bush-the-bar"), "forbid") == {"machining/half-the-press"}


def test_the_bush_of_the_fly_stays_while_its_slack_is_within_what_is_asked(casebook):
    # The bush 6.33 to 6.36, the pivot 6.20 to 6.22 mm.
    assert amounts(of(weigh_clock("fly-pivot"), "leave")) == pytest.approx([0.11, 0.16])
    edit(casebook, "proposals/fly-pivot.yaml", "between: [0.05 mm, 0.25 mm]", "between: [0.05 mm, 0.12 mm]")
    assert of(again(casebook, "fly-pivot"), "leave").reason.step is Step.NEED_FAILED


def test_without_the_readings_of_the_pivot_nothing_is_shown(casebook):
    text = (casebook / "measurements.csv").read_text(encoding="utf-8")
    kept = [line for line in text.splitlines(keepends=True) if ",third-arbor," not in line]
    (casebook / "measurements.csv").write_text("".join(kept), encoding="utf-8")
    assert str(again(casebook, "third-hole").verdict) == NOT_YET


# ---- what the overlays add ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("proposal", "option", "own"),
    [
        ("bell-blow", "build-up", Step.OBJECTION),
        ("dial", "hold-and-touch-in", Step.OWED_LATER),
        ("third-pivot", "turn-pivot", Step.NOT_CALLED_FOR),
        ("winder", "winder-on-cut-barrel", Step.OBJECTION),
    ],
)
def test_without_the_overlays_an_option_meets_less(proposal, option, own):
    assert of(without_overlays(proposal), option).own_reason.step is own
    assert of(weigh_clock(proposal), option).own_reason.step is not own


def test_without_the_overlays_the_dial_could_be_painted_before_its_layers_are_read():
    assert (str(without_overlays("dial").verdict), str(weigh_clock("dial").verdict)) == (OWED, NOT_YET)


def test_the_overlays_ask_for_more_before_use_and_never_for_less():
    for proposal in FARES:
        plain, laid = without_overlays(proposal).parts[0], weigh_clock(proposal).parts[0]
        for option in plain.options:
            asked = {r.id for r in option.requirements}
            assert asked <= {r.id for r in laid.option(option.option.id).requirements}
    more = unmet(of(weigh_clock("winder"), "winder-on-old-bolts")) - unmet(of(without_overlays("winder"), "winder-on-old-bolts"))
    assert more == {"turret-clock/use/winder-still-visited", "evidence-policy/record/photographed-after"}
