"""The command for the bench: any calculation, on numbers as somebody types them."""

from __future__ import annotations

import contextlib
import io
import json
import math
import shlex

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from conserve.calculation import MODULES, all_calculations
from conserve.cli import main

ROUND = "diameters=A@0 63.31 mm; A@60 63.36 mm; A@120 63.42 mm"


@pytest.fixture
def told(capsys):
    """Run the command; give its exit code, what it says, and what it complains of."""

    def run(*words: str) -> tuple[int, str, str]:
        code = main(["reckon", *words])
        said = capsys.readouterr()
        return code, said.out, said.err

    return run


def plain(text: str) -> str:
    return " ".join(text.split())


def answers(told, *words: str) -> dict[str, str]:
    code, said, _ = told(*words, "--json")
    assert code == 0
    return json.loads(said)["answers"]


# ---- what is told ----------------------------------------------------------------------------------


def test_without_a_name_every_calculation_is_listed_with_a_command_that_can_be_typed(told):
    code, said, _ = told()
    assert code == 0
    commands = [shlex.split(line) for line in said.splitlines() if line.strip().startswith("conserve reckon")]
    assert [words[2] for words in commands] == sorted(MODULES)
    for words, one in zip(commands, all_calculations(), strict=True):
        assert one.does in plain(said)
        assert dict(word.split("=", 1) for word in words[3:]) == one.example


def test_the_list_is_there_for_programs_too(told):
    code, said, _ = told("--json")
    listed = json.loads(said)
    assert code == 0
    assert sorted(listed) == sorted(MODULES)
    assert listed["ovality"]["example"]["diameters"].startswith("A@0 ")


def test_one_calculation_shows_formula_inputs_answers_validity_and_source(told):
    code, said, complaint = told("against-limits", "measured=0.185 ± 0.024 mm", "at_most=0.20 mm")
    assert (code, complaint) == (0, "")
    for words in ("Formula: the chance", "the measured value 0.185 ± 0.024 mm", "lies within 89.44 %",
                  "whether it lies within cannot be told", "would settle it 0.018 mm", "Holds for:", "JCGM 106:2012"):  # fmt: skip
        assert words in plain(said)


def test_what_can_hurt_is_told_before_the_method(told):
    code, said, _ = told("press-enough", "force=6 ± 1 kN", "press=10 kN", "joint=rusted")
    assert code == 0
    assert said.index("Caution:") == 0
    assert said.index("Caution:") < said.index("Formula:")


def test_json_gives_the_same_answers_with_their_cautions(told):
    words = ("press-enough", "force=6 ± 1 kN", "press=10 kN", "joint=clean")
    _, said, _ = told(*words)
    code, written, _ = told(*words, "--json")
    given_ = json.loads(written)
    assert code == 0
    assert set(given_) == {"calculation", "cautions", "formula", "given", "answers", "valid", "source"}
    assert given_["cautions"]
    assert given_["given"]["force"] == ["6 ± 1 kN"]
    for value in given_["answers"].values():
        assert value in said


def test_a_plus_minus_may_be_typed_as_people_type_it(told):
    assert answers(told, "against-limits", "measured=0.185 +/- 0.024 mm", "at_most=0.20 mm") == answers(
        told, "against-limits", "measured=0.185 ± 0.024 mm", "at_most=0.20 mm"
    )


def test_a_number_may_be_typed_in_any_unit_of_its_kind(told):
    inches = answers(told, "against-limits", "measured=0.0073 ± 0.0009 in", "at_most=0.0079 in")
    mm = answers(told, "against-limits", "measured=0.18542 ± 0.02286 mm", "at_most=0.20066 mm")
    assert inches["probability"] == mm["probability"]


# ---- instruments and readings ----------------------------------------------------------------------


def test_a_number_without_its_uncertainty_has_that_of_the_instrument(told):
    assert answers(told, "against-limits", "measured=0.185 mm", "at_most=0.20 mm")["within"] == "cannot be told"
    with_one = answers(told, "against-limits", "measured=0.185 mm", "at_most=0.20 mm", "--with", "outside-micrometer")
    typed = answers(told, "against-limits", "measured=0.185 ± 0.01 mm", "at_most=0.20 mm")
    assert with_one == typed
    assert typed["within"] == "yes"


def test_an_uncertainty_that_is_typed_counts_before_that_of_the_instrument(told):
    words = ("against-limits", "measured=0.185 ± 0.024 mm", "at_most=0.20 mm")
    assert answers(told, *words, "--with", "outside-micrometer") == answers(told, *words)


def test_an_instrument_of_another_kind_gives_a_number_no_uncertainty(told):
    found = answers(told, "against-limits", "measured=0.185 mm", "at_most=0.20 mm", "--with", "bench-scale")
    assert found["within"] == "cannot be told"


def test_a_limit_is_exact_whatever_it_was_read_with(told):
    _, said, _ = told("against-limits", "measured=0.185 mm", "at_most=0.20 mm", "--with", "outside-micrometer", "--json")
    assert json.loads(said)["given"]["at_most"] == ["0.20 mm"]


def test_readings_are_told_with_their_planes_and_angles(told):
    code, said, _ = told("ovality", ROUND, "--with", "outside-micrometer")
    assert code == 0
    for words in ("63.31 ± 0.01 mm (plane A at 0°)", "63.42 ± 0.01 mm (plane A at 120°)"):
        assert words in plain(said)


def test_what_readings_with_one_instrument_share_falls_out_of_a_difference(told):
    # Ovality by least squares at 0, 60 and 120: U = 2 √(2/3) of what each reading has of its own, here
    # √(0.01² - 0.006²) = 0.008 mm, and 0.010 mm where nothing is shared; a little more, for the formula is curved.
    for words, own in (((ROUND, "--with", "outside-micrometer"), 0.008), ((ROUND.replace(" mm", " ± 0.01 mm"),), 0.010)):
        spread = answers(told, "ovality", *words)["ovality"].split(" ± ")[1]
        assert float(spread.removesuffix(" mm")) == pytest.approx(2 * math.sqrt(2 / 3) * own, rel=0.05)


def test_a_reading_may_leave_out_its_plane_or_its_angle_or_both(told):
    for text in ("@0 5.00 ± 0.01 mm; @90 5.02 ± 0.01 mm", "A@ 5.00 ± 0.01 mm", "5.00 ± 0.01 mm; 5.02 ± 0.01 mm"):
        code, _, complaint = told("diameters", f"diameters={text}")
        assert (code, complaint) == (0, "")


def test_the_place_of_a_reading_is_what_decides_the_planes(told):
    one = answers(told, "taper", "diameters=A@0 50.02 ± 0.01 mm; B@0 49.95 ± 0.01 mm")
    assert (one["taper"].partition(" ")[0], one["thin_plane"]) == ("0.070", "B")


@pytest.mark.parametrize("at", [0, 1, 2, 3])
def test_an_option_may_stand_anywhere_among_what_is_given(told, at):
    words = ["against-limits", "measured=0.185 mm", "at_most=0.20 mm"]
    words[at:at] = ["--with", "outside-micrometer"]
    assert answers(told, *words)["within"] == "yes"


def test_an_option_that_there_is_not_is_still_told(told):
    code, said, complaint = told("against-limits", "measured=0.185 mm", "--wiht", "tape", "at_most=1 mm")
    assert (code, said) == (2, "")
    assert "--wiht" in complaint


# ---- bad input -------------------------------------------------------------------------------------

MEASURED, MOST = "measured=0.185 ± 0.024 mm", "at_most=0.20 mm"


@pytest.mark.parametrize(
    ("words", "complaints"),
    [
        (("against-limts", MEASURED), ["against-limts"]),
        (("against-limits", MOST), ["measured is missing"]),
        (("against-limits", MEASURED, "at_mots=1 mm"), ["'at_mots'"]),
        (("against-limits", MEASURED, "at_most"), ["'at_most'"]),
        (("against-limits", MEASURED, "=3"), ["''"]),
        (("against-limits", MEASURED, MEASURED), ["given twice"]),
        (("against-limits", "measured=0.185"), ["no unit"]),
        (("against-limits", "measured=0.185 kg"), ["unit of mass"]),
        (("against-limits", "measured=0.185 ell"), ["not a known unit"]),
        (("against-limits", "measured=nan mm"), ["finite"]),
        (("against-limits", "measured=1,5 mm"), ["comma"]),
        (("against-limits", "measured=1e5 mm"), ["exponent"]),
        (("against-limits", "measured=0.1 ± -0.2 mm"), ["negative"]),
        (("against-limits", "measured="), ["not a quantity"]),
        (("running-clearance", "form=slot", "diameters=5 mm", "mate=5 mm"), ["'slot'"]),
        (("metal-drilled", "diameter=6 mm", "depth=3 mm", "holes=two"), ["'two'"]),
        (("metal-drilled", "diameter=6 mm", "depth=3 mm", "holes=-2"), ["'-2'"]),
        (("ovality", "diameters=A@x 3 mm"), ["A@x"]),
        (("ovality", "diameters=A@0 3 mm; A@60 much"), ["much"]),
        (("against-limits", MEASURED, MOST, "--with", "thumb"), ["'thumb'"]),
        (
            ("against-limits", "measured=0.185 kg", "at_leest=1 mm", "at_most=0.20", "at_most=3 mm"),
            ["unit of mass", "'at_leest'", "no unit"],
        ),
        (("against-limits", "measured=0.185", "--with", "thumb"), ["no unit", "'thumb'"]),
        (("running-clearance", "form=slot", "daimeters=3 mm"), ["'slot'", "'daimeters'", "diameters is missing", "mate is missing"]),
    ],
)
def test_everything_that_is_wrong_with_what_was_typed_is_told_at_once_without_a_traceback(told, words, complaints):
    code, said, complaint = told(*words)
    assert (code, said) == (2, "")
    assert "Traceback" not in complaint
    for one in complaints:
        assert one in complaint
    faults = [line for line in complaint.splitlines() if line.startswith("conserve: ")]
    assert len(faults) == len(complaints)


@pytest.mark.parametrize(
    ("words", "hint"),
    [
        (("against-limts",), "did you mean 'against-limits'?"),
        (("against-limits", "at_leest=3 mm", MEASURED), "did you mean 'at_least'?"),
        (("against-limits", "q=3", MEASURED), "it takes measured, at_least, at_most"),
        (("against-limits", "measured=0.185"), "write 0.185 mm"),
        (("against-limits",), "measured='12.3 ± 0.1 mm'"),
        (("running-clearance", "form=slot", "diameters=5 mm", "mate=5 mm"), "one of hole, shaft"),
        (("metal-drilled", "diameter=6 mm", "depth=3 mm"), "holes=3"),
        (("ovality",), "PLANE@ANGLE before each"),
        (("against-limits", MEASURED, "--with", "microometer"), "did you mean 'outside-micrometer'?"),
    ],
)
def test_each_fault_has_one_thing_to_try(told, words, hint):
    _, _, complaint = told(*words)
    assert hint in complaint


def test_an_input_that_was_typed_wrongly_is_not_called_missing_as_well(told):
    _, _, complaint = told("against-limits", "measured=0.185")
    assert "missing" not in complaint


@pytest.mark.parametrize(
    ("words", "sentence"),
    [
        (("against-limits", MEASURED), "A limit is needed"),
        (("against-limits", MEASURED, "at_least=0.3 mm", MOST), "The lower limit 0.3 mm is above the upper limit 0.20 mm"),
        (("ovality", "diameters=A@0 63.31 ± 0.01 mm"), "Ovality needs diameters at three or more"),
        (("ovality", "diameters=;"), "At least one reading"),
        (("metal-bored", "before=30 ± 0.01 mm", "after=20 ± 0.01 mm", "length=5 ± 0.1 mm"), "cannot be bored to a smaller"),
        (("dew-point", "air=300 ± 1 °C", "humidity=50 ± 3 %"), "300"),
    ],
)
def test_a_number_outside_the_formula_is_refused_in_one_sentence_with_how_far_it_holds(told, words, sentence):
    code, said, complaint = told(*words)
    first, *rest = complaint.splitlines()
    assert (code, said) == (2, "")
    assert first.startswith("conserve: ")
    assert sentence in first
    assert ". " not in first
    assert rest[0].startswith("    hint: ")


def test_numbers_that_are_too_far_apart_are_refused_and_not_a_fault(told):
    huge, tiny = "999999999999999000000000000000", "0.000000000000000000000000000001"
    code, _, complaint = told("diameters", f"diameters={huge} ± {tiny} m; {tiny} ± {tiny} m")
    assert code in (0, 2)
    assert "Traceback" not in complaint


# What people's fingers may do; a space and a semicolon part readings.
typed = st.text(alphabet="0123456789.± mminkg%°@A;=-/,eé\n", max_size=24)


@settings(max_examples=60, deadline=None)
@given(st.sampled_from(sorted(MODULES)), st.data())
def test_whatever_is_typed_the_command_answers_or_says_what_is_wrong(name, data):
    one = next(calculation for calculation in all_calculations() if calculation.name == name)
    texts = dict(one.example)
    for key in data.draw(st.lists(st.sampled_from(sorted(texts)), min_size=1, max_size=2, unique=True)):
        texts[key] = data.draw(typed)
    out, complaint = io.StringIO(), io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(complaint):
        code = main(["reckon", name, *(f"{key}={value}" for key, value in texts.items())])
    assert code in (0, 2)
    assert bool(out.getvalue()) == (code == 0)
    assert complaint.getvalue().startswith("conserve: ") == (code == 2)


@pytest.mark.parametrize("reading", ["É@0 63.4 ± 0.01 mm", "A @ 0 63.4 ± 0.01 mm", "A@- 63.4 ± 0.01 mm"])
def test_a_place_that_cannot_be_read_is_told_with_how_to_write_one(told, reading):
    code, _, complaint = told("ovality", f"diameters={reading}")
    assert code == 2
    assert "is no reading" in complaint
    assert "PLANE@ANGLE" in complaint


def test_an_angle_may_be_counted_backwards(told):
    forward = "diameters=@0 63.0 ± 0.01 mm; @60 63.1 ± 0.01 mm; @120 63.3 ± 0.01 mm"
    assert answers(told, "ovality", forward) == answers(told, "ovality", forward.replace("@120", "@-60"))


def test_a_count_that_nobody_counts_to_is_refused_in_plain_words(told):
    code, _, complaint = told("metal-drilled", "diameter=8 mm", "depth=3 mm", "holes=" + "9" * 5000)
    assert code == 2
    assert "no whole number" in complaint
    assert "sys." not in complaint
