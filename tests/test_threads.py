from __future__ import annotations

from collections import Counter
from decimal import Decimal
from math import radians, sin, tan

import pytest

from conserve.calculation.threads import CALCULATIONS, metric_in_whitworth, thread_match, whitworth
from conserve.calculation.threads_tables import ALL, INCH
from conserve.quantity import Quantity, parse_quantity, show
from conserve.truth import Truth


def q(text: str, unit: str = "mm") -> Quantity:
    return parse_quantity(text, unit, exact=True)


def vague(text: str, unit: str = "mm") -> Quantity:
    return parse_quantity(text, unit, exact=False)


# TR Fastenings, "Thread geometry - British Standard Whitworth": diameter, threads per inch, effective and core
# diameter, inches.
PUBLISHED = """
    1/4 20 .2180 .1860; 5/16 18 .2769 .2414; 3/8 16 .3350 .2950; 7/16 14 .3918 .3460; 1/2 12 .4467 .3933
    5/8 11 .5668 .5086; 3/4 10 .6860 .6220; 7/8 9 .8039 .7327; 1 8 .9200 .8400; 1 1/8 7 1.0336 .9421
    1 1/4 7 1.1586 1.0671; 1 3/8 6 1.2683 1.1616; 1 1/2 6 1.3933 1.2866; 2 4.5 1.8578 1.7155
"""


@pytest.mark.parametrize("row", PUBLISHED.strip().replace("\n", ";").split(";"), ids=str.strip)
def test_a_whitworth_thread_has_the_diameters_of_a_makers_table(row: str) -> None:
    *size, per_inch, effective, core = row.split()
    form = whitworth(q(" ".join(size) + " in"), q(per_inch, "1"))
    assert float(form.effective.in_unit("in").amount) == pytest.approx(float(effective), abs=2e-4)
    assert float(form.core.in_unit("in").amount) == pytest.approx(float(core), abs=2e-4)


def test_the_whitworth_form_follows_from_its_angle() -> None:
    # Closed form: of the triangle's height p / (2 tan 27 1/2°) a sixth is rounded off above and below, and the arc
    # meets flanks of 55°: e = H/6, r = e sin a / (1 - sin a).
    form = whitworth(q("1 in"), q("8", "1"))
    a, pitch = radians(27.5), 25.4 / 8
    height = pitch / (2 * tan(a))
    assert float(form.depth.amount) == pytest.approx(height * 2 / 3, rel=2e-6)
    assert float(form.radius.amount) == pytest.approx(height / 6 * sin(a) / (1 - sin(a)), rel=5e-6)
    # oldengine.org's threading tables print 0.0800 and 0.0172 in.
    assert float(form.depth.in_unit("in").amount) == pytest.approx(0.0800, abs=1e-4)
    assert float(form.radius.in_unit("in").amount) == pytest.approx(0.0172, abs=1e-4)
    assert form.core.uncertainty == 0


def test_a_diameter_in_doubt_leaves_only_the_form_exact() -> None:
    form = whitworth(vague("12.7 mm"), q("12", "1"))
    assert form.effective.uncertainty is None
    assert form.core.uncertainty is None
    assert form.depth.uncertainty == 0


def test_inches_and_millimetres_make_the_same_whitworth_thread() -> None:
    assert whitworth(q("1/2 in"), q("12", "1")) == whitworth(q("12.7 mm"), q("12", "1"))


@pytest.mark.parametrize(
    ("diameter", "per_inch", "words"),
    [("0 mm", "12", "diameter is 0 mm"), ("1/2 in", "0", "threads per inch is 0"), ("2 mm", "12", "leave no core")],
)
def test_an_impossible_whitworth_thread_is_refused(diameter: str, per_inch: str, words: str) -> None:
    with pytest.raises(ValueError, match=words) as caught:
        whitworth(q(diameter), q(per_inch, "1"))
    assert str(caught.value).endswith(".")


# The tables


def test_unified_and_fine_threads_have_the_effective_diameters_of_published_tables() -> None:
    # Form of 60°: effective diameter = D - 0.649519 p (ISO 68-1). Inches from TR Fastenings (UNC), boltport.com (UNF).
    published = {
        "UNC 1/4-20": 0.2175, "UNC 5/16-18": 0.2764, "UNC 3/8-16": 0.3344, "UNC 7/16-14": 0.3911, "UNC 1/2-13": 0.4500,
        "UNC 9/16-12": 0.5084, "UNC 5/8-11": 0.5660, "UNC 3/4-10": 0.6850, "UNC 7/8-9": 0.8028, "UNC 1-8": 0.9188,
        "UNC 1 1/8-7": 1.0322, "UNC 1 1/4-7": 1.1572, "UNC 1 3/8-6": 1.2667, "UNC 1 1/2-6": 1.3917,
        "UNF 1/4-28": 0.2268, "UNF 5/16-24": 0.2854, "UNF 3/8-24": 0.3479, "UNF 7/16-20": 0.4050, "UNF 1/2-20": 0.4675,
        "UNF 9/16-18": 0.5264, "UNF 5/8-18": 0.5889, "UNF 3/4-16": 0.7094, "UNF 7/8-14": 0.8286, "UNF 1-12": 0.9459,
        "UNF 1 1/8-12": 1.0709, "UNF 1 1/4-12": 1.1959, "UNF 1 3/8-12": 1.3209, "UNF 1 1/2-12": 1.4459,
    }  # fmt: skip
    found = {t.name: float((t.diameter - Decimal("0.649519") * t.pitch) / INCH) for t in ALL if t.name.startswith("UN")}
    assert found == pytest.approx(published, abs=1e-4)


def test_metric_threads_have_the_stress_areas_of_iso_898_1() -> None:
    # π/4 (d - 0.9382 p)²; areas in mm2 as tabled after ISO 898-1 (usefastener.com).
    published = {
        "M6": 20.1, "M8": 36.6, "M10": 58.0, "M12": 84.3, "M14": 115, "M16": 157, "M18": 192, "M20": 245, "M22": 303,
        "M24": 353, "M27": 459, "M30": 561, "M33": 694, "M36": 817,
    }  # fmt: skip
    found = {t.name: 3.14159265 / 4 * float(t.diameter - Decimal("0.9382") * t.pitch) ** 2 for t in ALL if t.name[0] == "M"}
    assert found == pytest.approx(published, rel=4e-3)


def test_british_association_threads_follow_their_law() -> None:
    # p = 0.9^k and D = 6 p^1.2, each to two figures (British Association, 1884).
    for number, thread in enumerate(t for t in ALL if t.name.endswith("BA")):
        assert float(thread.pitch) == pytest.approx(0.9**number, abs=5.1e-3)
        assert float(thread.diameter) == pytest.approx(6 * 0.9 ** (1.2 * number), abs=0.0501)


def test_no_two_listed_threads_are_the_same() -> None:
    assert max(Counter(thread[1:] for thread in ALL).values()) == 1
    assert max(Counter(thread.name for thread in ALL).values()) == 1


# Which thread is it?


def test_three_quarter_whitworth_and_unified_coarse_need_a_flank_gauge() -> None:
    by_pitch = thread_match(q("19.0 ± 0.05 mm"), q("2.54 ± 0.02 mm"))
    assert by_pitch == ("BSW 3/4-10 or UNC 3/4-10", Truth.UNKNOWN, "flank angle")
    assert thread_match(q("19.0 ± 0.05 mm"), per_inch=q("10", "1")) == by_pitch
    gauged = thread_match(q("19.0 ± 0.05 mm"), q("2.54 ± 0.02 mm"), flank_angle=q("55 ± 1 °", "°"))
    assert gauged[:2] == ("BSW 3/4-10", Truth.YES)
    rough = thread_match(q("19.0 ± 0.05 mm"), q("2.54 ± 0.02 mm"), flank_angle=q("57 ± 3 °", "°"))
    assert rough == by_pitch


def test_half_inch_whitworth_has_twelve_and_unified_coarse_thirteen() -> None:
    assert thread_match(q("12.6 ± 0.05 mm"), per_inch=q("12", "1"))[:2] == ("BSW 1/2-12", Truth.YES)
    assert thread_match(q("12.6 ± 0.05 mm"), per_inch=q("13", "1"))[:2] == ("UNC 1/2-13", Truth.YES)
    unsure = thread_match(q("12.6 ± 0.05 mm"), per_inch=q("12.5 ± 1", "1"))
    assert unsure == ("BSW 1/2-12 or UNC 1/2-13", Truth.UNKNOWN, "pitch, over more threads")


@pytest.mark.parametrize(
    ("diameter", "pitch", "told"),
    [
        ("11.86 ± 0.02 mm", "1.75 ± 0.02 mm", "M12"),
        ("5.95 ± 0.02 mm", "1.00 ± 0.01 mm", "M6 or 0 BA"),
        ("4.65 ± 0.02 mm", "0.81 ± 0.01 mm", "2 BA"),
        ("0.742 ± 0.002 in", "0.1 ± 0.001 in", "BSW 3/4-10 or UNC 3/4-10"),
        # The least crest of a new M24, 23.577 mm (ISO 965-1, 6g; from memory), is still M24.
        ("23.577 ± 0.005 mm", "3.0 ± 0.02 mm", "M24"),
    ],
)
def test_a_measured_thread_may_be_what_its_size_and_pitch_allow(diameter: str, pitch: str, told: str) -> None:
    assert thread_match(q(diameter), q(pitch)).candidates == told


@pytest.mark.parametrize("thread", ALL, ids=lambda thread: thread.name)
def test_every_listed_thread_is_found_by_its_own_measures(thread) -> None:
    found = thread_match(
        Quantity(thread.diameter - thread.pitch / 10, Decimal("0.01"), "mm"),
        Quantity(thread.pitch, Decimal("0.005"), "mm"),
        flank_angle=Quantity(thread.angle, Decimal("0.5"), "°"),
    )
    assert found[:2] == (thread.name, Truth.YES)
    counted = thread_match(
        Quantity(thread.diameter, Decimal("0.01"), "mm"), per_inch=Quantity(round(INCH / thread.pitch, 6), Decimal(0), "1")
    )
    assert thread.name in (counted.candidates or "").split(" or ")


def test_a_poor_measurement_of_diameter_asks_for_a_better_one() -> None:
    found = thread_match(q("15 ± 1.2 mm"), q("2 ± 0.01 mm"))
    assert found == ("M14 or M16", Truth.UNKNOWN, "diameter, with a smaller ±")


def test_several_doubts_are_all_named() -> None:
    # Between 10.6 and 14.6 mm twelve threads to the inch are cut on 1/2 BSW, and on 9/16 BSW and UNC alike.
    counted = thread_match(q("12.6 ± 2 mm"), per_inch=q("12 ± 0.5", "1"))
    assert counted.candidates == "BSW 1/2-12 or BSW 9/16-12 or UNC 9/16-12"
    assert counted.next == "diameter, with a smaller ± and flank angle"
    # With thirteen in reach, 1/2 UNC and M14 (12.7 to the inch) come in.
    rough = thread_match(q("12.6 ± 2 mm"), per_inch=q("12 ± 1", "1"))
    assert rough.candidates == "BSW 1/2-12 or BSW 9/16-12 or UNC 1/2-13 or UNC 9/16-12 or M14"
    assert rough.next == "pitch, over more threads and flank angle"


def test_a_thread_that_is_not_listed_is_not_settled() -> None:
    found = thread_match(q("20.6 ± 0.02 mm"), per_inch=q("10", "1"))
    assert found[:2] == ("none listed", Truth.NO)
    assert "worn" in found.next


def test_an_unstated_doubt_tells_nothing() -> None:
    found = thread_match(vague("19.0 mm"), q("2.54 ± 0.02 mm"))
    assert found[:2] == (None, Truth.UNKNOWN)
    assert found.next == "how uncertain the measured diameter may be"
    told = thread_match(q("19.0 ± 0.05 mm"), q("2.54 ± 0.02 mm"), flank_angle=vague("55 °", "°"))
    assert told.candidates is None
    assert "flank angle" in told.next


@pytest.mark.parametrize(
    ("given", "words"),
    [
        ({}, "either the pitch or the threads per inch"),
        ({"pitch": q("2.54 ± 0.02 mm"), "per_inch": q("10", "1")}, "not both"),
        ({"pitch": q("0.01 ± 0.02 mm")}, "pitch is 0.01 ± 0.02 mm; it must be above zero"),
        ({"per_inch": q("-10", "1")}, "threads per inch is"),
        ({"per_inch": q("10", "1"), "flank_angle": q("0 °", "°")}, "flank angle is"),
    ],
)
def test_measures_that_cannot_be_are_refused(given: dict[str, Quantity], words: str) -> None:
    with pytest.raises(ValueError, match=words) as caught:
        thread_match(q("19.0 ± 0.05 mm"), **given)
    assert str(caught.value).endswith(".")


# A metric part in a Whitworth one


def test_a_metric_nut_runs_out_of_step_on_a_half_inch_whitworth_bolt() -> None:
    # Worked by hand: pitches 2.1167 and 1.75 mm; 12 mm of M12 has 6.857 threads, each 0.3667 mm out: 2.514 mm.
    forced = metric_in_whitworth("BSW 1/2-12", "M12", q("12 mm"))
    assert float(forced.pitch_gap.amount) == pytest.approx(0.3667, abs=5e-5)
    assert float(forced.drift.amount) == pytest.approx(2.514, abs=5e-4)
    assert forced.drift.uncertainty == 0
    doubtful = metric_in_whitworth("BSW 1/2-12", "M12", q("12 ± 0.5 mm"))
    assert show(doubtful.drift) == "2.51 ± 0.10 mm"
    assert metric_in_whitworth("BSW 1/2-12", "M12", vague("12 mm")).drift.uncertainty is None


def test_even_a_near_thread_drifts_with_its_length() -> None:
    # Closed form: after ten threads of each, 25.4 mm of 3/4 BSW stands beside 25 mm of M20.
    forced = metric_in_whitworth("BSW 3/4-10", "M20", q("25 mm"))
    assert (forced.pitch_gap.amount, forced.drift.amount) == (Decimal("0.04"), Decimal("0.4"))
    assert metric_in_whitworth("BSW 3/4-10", "M20", q("2.5 cm")) == forced


@pytest.mark.parametrize(
    ("old", "new", "length", "words"),
    [
        ("UNC 3/4-10", "M20", "25 mm", "'UNC 3/4-10' is not a listed thread; there are BSW 1/4-20"),
        ("BSW 3/4-10", "M21", "25 mm", "'M21' is not a listed thread; there are M6"),
        ("BSW 3/4-10", "M20", "0.1 ± 0.1 mm", "engagement is"),
    ],
)
def test_what_is_not_listed_or_not_engaged_is_refused(old: str, new: str, length: str, words: str) -> None:
    with pytest.raises(ValueError, match=words) as caught:
        metric_in_whitworth(old, new, q(length))
    assert str(caught.value).endswith(".")


def test_every_thread_calculation_warns_of_forcing_and_of_cutting_anew() -> None:
    for calculation in CALCULATIONS:
        said = " ".join(calculation.cautions)
        assert "Never force" in said and "takes the original thread away" in said
