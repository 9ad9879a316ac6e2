"""The demonstration's questions that turn on computed numbers, as they stand and as they stand once more is measured."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest
from helpers import DEMO, demo, read, shipped_rules, weighed

from conserve.facts import Fact, How
from conserve.files import Folder
from conserve.quantity import Quantity
from conserve.record import markdown_record
from conserve.weighing import OptionWeighing, Weighing
from conserve.weighing.model import NeedState, Shown, Standing, Step


@pytest.fixture
def casebook(tmp_path) -> Path:
    """A copy of the demonstration."""
    return Path(shutil.copytree(DEMO, tmp_path / "marrow-fen", ignore=shutil.ignore_patterns("records")))


def again(casebook: Path, proposal: str) -> Weighing:
    return weighed(read(Folder(casebook)), proposal)


def edit(casebook: Path, name: str, old: str, new: str) -> None:
    text = (casebook / name).read_text(encoding="utf-8")
    assert old in text
    (casebook / name).write_text(text.replace(old, new), encoding="utf-8")


def append(casebook: Path, *rows: str) -> None:
    with (casebook / "measurements.csv").open("a", encoding="utf-8") as sheet:
        sheet.writelines(f"2026-05-12,fitter,{row},,mm\n" for row in rows)


def of(weighing: Weighing, option: str) -> OptionWeighing:
    (part,) = weighing.parts
    return part.option(option)


def judged(option: OptionWeighing, need: str, check: int = 0) -> Fact:
    return next(n for n in option.needs if n.need.id == need).checks[check].judgement.fact


def amounts(fact: Fact) -> list[float]:
    return [float(value.amount) for value in fact.values or () if isinstance(value, Quantity)]


def spreads(fact: Fact) -> list[float]:
    return [float(value.uncertainty) for value in fact.values or () if isinstance(value, Quantity)]


def in_and_forbidding(option: OptionWeighing) -> set[str]:
    found = (s for s in option.settled if s.standing is Standing.IN and s.finding.rule.then.kind == "forbid")
    return {s.finding.rule.id for s in found}


# ---- the rocking lever's eye ---------------------------------------------------------------------------


def test_the_slack_of_the_rocking_lever_is_reckoned_from_its_eye_and_its_pin():
    leave = of(weighed(demo(), "rocking-lever-eye"), "leave")
    found = judged(leave, "lever-runs-true")
    # The eye 40.41 to 40.49, the pin 39.95 to 39.97 mm.
    assert (found.how, amounts(found)) == (How.COMPUTED, pytest.approx([0.44, 0.54]))
    assert leave.reason.step is Step.NEED_FAILED


def test_the_bush_may_not_be_pressed_in_with_a_press_that_is_too_small():
    weighing = weighed(demo(), "rocking-lever-eye")
    pressed = of(weighing, "bush-pressed")
    assert (str(pressed.verdict), pressed.reason.step) == ("not justified", Step.FORBIDDEN)
    assert in_and_forbidding(pressed) == {"machining/half-the-press"}
    (settled,) = (s for s in pressed.settled if s.finding.rule.id == "machining/half-the-press")
    enough = next(g.fact for g in settled.finding.grounds if g.term == "act.press_enough")
    assert (enough.how, enough.values) == (How.COMPUTED, ("no",))
    (force,) = (fact for _, fact in enough.working.given if fact.term == "act.press_force")
    # Lamé by hand: p = δ / D (Ah / Eh + Ai / Ei), F = π D L p µ, in the middle of what friction may be; more than 5 kN.
    (value,) = force.values
    assert value.in_unit("kN").amount - value.in_unit("kN").uncertainty > 5


@pytest.mark.parametrize(("press", "step"), [("10 kN", Step.FORBIDDEN), ("50 kN", Step.SOMETHING_OPEN)])
def test_a_larger_press_leaves_it_in_doubt_and_no_longer_forbidden(casebook, press, step):
    edit(casebook, "proposals/rocking-lever-eye.yaml", "press_at_hand: 10 kN", f"press_at_hand: {press}")
    assert of(again(casebook, "rocking-lever-eye"), "bush-pressed").own_reason.step is step


def test_a_press_of_which_half_is_plenty_forbids_nothing(casebook):
    edit(casebook, "proposals/rocking-lever-eye.yaml", "press_at_hand: 10 kN", "press_at_hand: 500 kN")
    assert in_and_forbidding(of(again(casebook, "rocking-lever-eye"), "bush-pressed")) == set()


def test_the_bush_that_is_warmed_in_stands_on_the_clearance_that_it_will_leave():
    weighing = weighed(demo(), "rocking-lever-eye")
    warmed = of(weighing, "bush-warmed")
    assert warmed.verdict.stands
    (need,) = warmed.needs
    assert (need.state, need.shown) == (NeedState.MET, Shown.COMPUTED)
    # The bush 40.08, the pin 39.97 and 39.95 mm.
    assert amounts(judged(warmed, "lever-runs-true")) == pytest.approx([0.11, 0.13])


@pytest.mark.parametrize(
    ("size", "state"),
    [("40.08 ± 0.02 mm", NeedState.MET), ("40.16 ± 0.02 mm", NeedState.OPEN), ("40.30 ± 0.02 mm", NeedState.FAILED),
     ("39.96 ± 0.02 mm", NeedState.FAILED)],
)  # fmt: skip
def test_the_size_to_which_the_bush_is_finished_decides(casebook, size, state):
    edit(casebook, "proposals/rocking-lever-eye.yaml", "40.08 ± 0.02 mm", size)
    (need,) = of(again(casebook, "rocking-lever-eye"), "bush-warmed").needs
    assert need.state is state


@pytest.mark.parametrize(
    ("file", "old", "new"),
    [
        ("proposals/rocking-lever-eye.yaml", "        finish_diameter: 40.08 ± 0.02 mm\n", ""),
        ("components/rocking-lever.yaml", "    mate: lever-pin/body\n", ""),
        ("components/rocking-lever.yaml", "    form: hole\n", ""),
        ("measurements.csv", "lever-pin,body,A,0,diameter,39.96", "lever-pin,body,A,0,diameter,39.66"),
    ],
)
def test_what_the_clearance_needs_and_nobody_has_said_lets_the_warmed_bush_stand_no_longer(casebook, file, old, new):
    edit(casebook, file, old, new)
    assert not of(again(casebook, "rocking-lever-eye"), "bush-warmed").verdict.stands


# ---- the crankshaft's near journal ---------------------------------------------------------------------


def test_the_journal_is_left_on_an_ovality_that_is_reckoned():
    leave = of(weighed(demo(), "crankshaft-journal"), "leave")
    found = judged(leave, "journal-fit", 1)
    assert (found.term, found.how) == ("surface.ovality", How.COMPUTED)
    # Plane B by hand: 126.74, 126.72, 126.75 at 0, 60 and 120; 2 √(a² + b²) with a = 2/3 Σ D cos 2φ and b likewise.
    a = 2 / 3 * (126.74 - 126.72 / 2 - 126.75 / 2)
    b = 2 / 3 * (126.72 - 126.75) * 3**0.5 / 2
    assert amounts(found) == pytest.approx([2 * (a * a + b * b) ** 0.5], abs=1e-6)
    assert leave.verdict.stands


def test_what_all_readings_of_the_micrometer_share_does_not_make_the_ovality_less_certain(casebook):
    sheet = (casebook / "measurements.csv").read_text(encoding="utf-8").splitlines(keepends=True)
    apart = [
        row.replace("outside-micrometer", "").replace(",,mm", ",0.01,mm") if "crankshaft,near-journal" in row else row
        for row in sheet
    ]
    (casebook / "measurements.csv").write_text("".join(apart), encoding="utf-8")
    shared, alone = (
        judged(of(weighing, "leave"), "journal-fit", 1)
        for weighing in (weighed(demo(), "crankshaft-journal"), again(casebook, "crankshaft-journal"))
    )
    assert amounts(shared) == amounts(alone)
    # Of 0.01 mm, 0.006 mm is shared: √(0.01² - 0.006²) / 0.01.
    assert spreads(shared)[0] / spreads(alone)[0] == pytest.approx(0.8, abs=0.03)


def test_a_journal_that_is_clearly_oval_is_not_left(casebook):
    edit(casebook, "measurements.csv", "near-journal,B,60,diameter,126.72", "near-journal,B,60,diameter,126.60")
    leave = of(again(casebook, "crankshaft-journal"), "leave")
    assert (str(leave.verdict), leave.reason.step) == ("not justified", Step.NEED_FAILED)


def test_without_its_angles_the_journal_is_not_yet_shown(casebook):
    for angle in ("0", "60", "120"):
        for plane in "ABC":
            edit(casebook, "measurements.csv", f"near-journal,{plane},{angle},diameter", f"near-journal,{plane},,diameter")
    leave = of(again(casebook, "crankshaft-journal"), "leave")
    assert (str(leave.verdict), leave.reason.step) == ("not yet shown", Step.SOMETHING_OPEN)


def test_the_limit_of_the_journal_stays_and_an_overhaul_is_counted_against_it():
    facts = weighed(demo(), "crankshaft-journal").parts[0].findings.facts.today.facts
    # (126.00 - 124.00) / 0.80
    assert amounts(facts["act:turn-journal/1", "act.cuts_left_after"]) == pytest.approx([2.5])


# ---- the governor's lower bush -------------------------------------------------------------------------

BUSH, SPINDLE = "bore-gauge,governor-bush,bore", "outside-micrometer,governor-spindle,journal"


def test_the_governors_bush_is_not_yet_shown_by_a_caliper():
    leave = of(weighed(demo(), "governor-bush"), "leave")
    assert (str(leave.verdict), leave.reason.step) == ("not yet shown", Step.SOMETHING_OPEN)
    assert amounts(judged(leave, "governor-steady")) == pytest.approx([0.13, 0.16])
    text = " ".join(markdown_record(weighed(demo(), "governor-bush"), shipped_rules()).split())
    assert "measure more closely the diameter of the bore" in text


def test_the_same_places_read_again_with_a_bore_gauge_justify_leaving_it(casebook):
    append(
        casebook,
        f"{BUSH},A,0,diameter,28.645", f"{BUSH},A,90,diameter,28.655",
        f"{SPINDLE},A,0,diameter,28.500", f"{SPINDLE},A,90,diameter,28.505",
    )  # fmt: skip
    weighing = again(casebook, "governor-bush")
    leave = of(weighing, "leave")
    assert (str(leave.verdict), leave.reason.step) == ("justified", Step.NOTHING_AGAINST)
    found = judged(leave, "governor-steady")
    assert max(spreads(found)) < 0.03
    assert str(of(weighing, "new-bush").verdict) == "not justified"
    assert of(weighing, "new-bush").own_reason.step is Step.NOT_CALLED_FOR


def test_a_larger_reading_with_a_bore_gauge_condemns_the_fit(casebook):
    # Within the caliper's ± of what it read, and so no contradiction.
    append(
        casebook,
        f"{BUSH},A,0,diameter,28.685", f"{BUSH},A,90,diameter,28.710",
        f"{SPINDLE},A,0,diameter,28.490", f"{SPINDLE},A,90,diameter,28.500",
    )  # fmt: skip
    weighing = again(casebook, "governor-bush")
    leave = of(weighing, "leave")
    assert (str(leave.verdict), leave.reason.step) == ("not justified", Step.NEED_FAILED)
    (call,) = of(weighing, "new-bush").calls
    assert call.needs == ("governor-steady",)


def test_a_reading_that_contradicts_the_caliper_settles_nothing(casebook):
    append(casebook, f"{BUSH},A,0,diameter,28.80")
    leave = of(again(casebook, "governor-bush"), "leave")
    assert str(leave.verdict) == "not yet shown"
    found = judged(leave, "governor-steady")
    assert [one.how for one in found.working.missing] == [How.DISPUTED]


def test_another_reading_with_the_same_caliper_settles_nothing(casebook):
    append(casebook, *(f"vernier-caliper,governor-bush,bore,A,{angle},diameter,28.65" for angle in (0, 90)))
    assert str(of(again(casebook, "governor-bush"), "leave").verdict) == "not yet shown"
