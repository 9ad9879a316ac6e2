"""How the record shows its sums: each formula once, each input with its place, what was refused and what is missing."""

from __future__ import annotations

from pathlib import Path

import pytest
from helpers import casebook_of, demo, every_weighing, golden, shipped_rules, weighed

from conserve.record.model import Workings
from conserve.record.workings import cautions, workings
from conserve.weighing import Weighing, weigh_all

HEADER = "date,by,instrument,component,where,plane,angle,quantity,reading,plus_minus,unit\n"
READ = (
    "2026-03-01,R. Fitter,bore-gauge,bush,bore,A,0,diameter,40.10,,mm\n"
    "2026-03-01,R. Fitter,bore-gauge,bush,bore,A,90,diameter,40.12,,mm\n"
    "2026-03-01,R. Fitter,outside-micrometer,pin,body,A,0,diameter,40.00,,mm\n"
)
BUSH = """\
    name: Bush
    material: grey-cast-iron
    phase: as-built
    surfaces:
      bore:
        form: hole
        mate: pin/body
        size_limit: {value: 42 mm, by: A. Examiner, date: 2026-02-01}
        cut_each: 0.4 ± 0.1 mm
        length: 60 ± 0.1 mm
        hub_outside: 96 ± 1 mm
        marks: none
    history: none
    """
PIN = "    name: Pin\n    surfaces: {body: {form: shaft, marks: none}}\n"
PRESS = (
    "{technique: bushing, where: bore, to_diameter: 48 ± 0 mm, finish_diameter: 40.08 ± 0.02 mm, new_material: bronze, "
    "fitted_by: pressed, interference: 0.055 ± 0.01 mm, bush_bore: 39.6 mm, joint_state: clean, press_at_hand: 10 kN}"
)
BORE = "{technique: boring, where: bore, to_diameter: 40.30 ± 0 mm}"
CLEARANCE, FORCE = "The tightest and the loosest clearance", "Pressure, force and stresses"


def case(root: Path, test: str, bush: str = BUSH, read: str = READ, **options: str) -> Weighing:
    root.mkdir(exist_ok=True)
    (root / "measurements.csv").write_text(HEADER + read, encoding="utf-8")
    listed = "".join(f"      {name}: {{acts: [{act}]}}\n" for name, act in options.items())
    question = f"""\
    title: Q
    component: bush
    needs:
      snug: {{kind: function, says: It runs., test: {{{test}}}, set_by: me}}
    options:
      leave: {{acts: []}}
{listed}    preferred: {next(iter(options), "leave")}
    """
    files = {"components/bush.yaml": bush, "components/pin.yaml": PIN, "proposals/q.yaml": question}
    return weighed(casebook_of(root, files))


def shown(weighing: Weighing) -> dict[str, Workings]:
    """The workings of a record, by the head of their title."""
    part = weighing.worst
    found = workings(part.option(weighing.chosen), part)
    assert len({one.title for one in found}) == len(found)
    return {one.title: one for one in found}


def lines(weighing: Weighing, title: str) -> tuple[str, ...]:
    return next(one.lines for head, one in shown(weighing).items() if head.startswith(title))


SNUG = "surfaces.bore.running_clearance: {at_most: 0.11 mm}"


# ---- each formula once -------------------------------------------------------------------------------


def test_a_formula_is_told_once_and_under_it_each_number_that_it_gave(tmp_path):
    weighing = case(tmp_path, SNUG, press=PRESS, bore=BORE)
    told = lines(weighing, CLEARANCE)
    assert [line.partition(":")[0] for line in told] == [
        "Running clearance of the bore",
        "Running clearance of the bore after 'press'",
        "Running clearance of the bore after 'bore'",
    ]
    assert sum("least hole − greatest shaft" in one.formula for one in shown(weighing).values()) == 1


def test_two_needs_on_one_number_show_it_once(tmp_path):
    twice = f"{SNUG}, surfaces.bore.wear: {{at_most: 1 mm}}"
    assert len(lines(case(tmp_path, twice), CLEARANCE)) == 1


def test_a_formula_is_told_with_how_far_it_holds_and_where_it_comes_from(tmp_path):
    for one in shown(case(tmp_path, SNUG, press=PRESS)).values():
        assert one.formula.endswith(".") and one.valid.endswith(".") and one.source.endswith(".")
        assert one.lines


@pytest.mark.parametrize("weighing", weigh_all(demo(), shipped_rules()), ids=lambda w: w.proposal.id)
def test_no_record_of_the_demonstration_tells_a_formula_or_a_number_twice(weighing):
    part = weighing.worst
    found = workings(part.option(weighing.chosen), part)
    assert len({one.formula for one in found}) == len(found)
    for one in found:
        assert len(set(one.lines)) == len(one.lines)


def test_a_record_without_a_computed_number_has_no_such_section():
    found = {
        (bool(workings(weighing.worst.option(weighing.chosen), weighing.worst)), "## Workings" in golden(weighing.proposal.id))
        for weighing in weigh_all(demo(), shipped_rules())
    }
    assert found == {(True, True), (False, False)}


# ---- what a number comes from ------------------------------------------------------------------------


def test_each_input_is_told_with_its_value_and_the_line_where_it_is_written(tmp_path):
    (line,) = lines(case(tmp_path, SNUG), CLEARANCE)
    written = (tmp_path / "components/bush.yaml").read_text(encoding="utf-8").splitlines()
    form = next(number for number, text in enumerate(written, 1) if "form: hole" in text)
    assert "40.100 ± 0.015 mm and 40.120 ± 0.015 mm (R. Fitter, measurements.csv, lines 2 and 3)" in line
    assert f"hole (components/bush.yaml:{form})" in line
    assert "40.00 ± 0.01 mm (R. Fitter, measurements.csv:4)" in line


def test_who_set_a_limit_stands_beside_it(tmp_path):
    (line,) = lines(case(tmp_path, "surfaces.bore.cuts_left: {at_least: 1}"), "How many")
    assert "42 mm (A. Examiner, components/bush.yaml:8)" in line


def test_a_size_after_an_act_is_told_with_the_line_of_the_act(tmp_path):
    weighing = case(tmp_path, SNUG, press=PRESS)
    _, after = lines(weighing, CLEARANCE)
    written = (tmp_path / "proposals/q.yaml").read_text(encoding="utf-8").splitlines()
    number = next(number for number, text in enumerate(written, 1) if "finish_diameter" in text)
    assert f"40.08 ± 0.02 mm (proposals/q.yaml:{number})" in after


def test_far_inputs_are_worked_out_before_what_needs_them(tmp_path):
    weighing = case(tmp_path, SNUG, press=PRESS)
    heads = list(shown(weighing))
    force = next(n for n, head in enumerate(heads) if head.startswith(FORCE))
    share = next(n for n, head in enumerate(heads) if any(line.startswith("Press enough") for line in shown(weighing)[head].lines))
    assert force < share
    (line,) = shown(weighing)[heads[share]].lines
    assert "see its own working" in line
    assert "10 kN (proposals/q.yaml:" in line


# ---- what was not reckoned ---------------------------------------------------------------------------


def test_what_is_refused_is_told_with_its_reason(tmp_path):
    (line,) = lines(case(tmp_path, "surfaces.bore.ovality: {at_most: 0.1 mm}"), "How oval")
    assert line.startswith("Ovality of the bore: not reckoned. Ovality needs diameters at three or more")
    assert line.endswith(".")


def test_what_is_missing_is_named_with_whose_it_is(tmp_path):
    (line,) = lines(case(tmp_path, SNUG, read=READ[: READ.rindex("2026")], bush=BUSH.replace("        form: hole\n", "")), CLEARANCE)
    assert line == (
        "Running clearance of the bore: not reckoned, for want of the form of the bore and the diameter of the body of the pin."
    )


def test_a_refusal_on_the_way_is_told_where_it_arose_and_the_rest_is_not_reckoned(tmp_path):
    weighing = case(tmp_path, SNUG, bush=BUSH.replace("grey-cast-iron", "timber"), press=PRESS)
    (force,) = (line for line in lines(weighing, FORCE) if line.startswith("Press force"))
    assert "not reckoned. No E" in force
    enough = next(line for one in shown(weighing).values() for line in one.lines if line.startswith("Press enough"))
    assert "not reckoned" in enough


def test_no_line_leaves_a_blank_where_a_name_belongs(tmp_path):
    # An act on the whole part has no face.
    weighing = case(tmp_path, SNUG, press=PRESS.replace("where: bore, ", ""))
    for one in shown(weighing).values():
        for line in one.lines:
            assert "of the ," not in line and "of the ." not in line and "the  " not in line and "of the and" not in line


# ---- what can hurt -----------------------------------------------------------------------------------


def test_what_a_calculation_warns_of_is_a_hazard_of_the_record_before_any_method():
    weighing, text = every_weighing()["rocking-lever-eye"], golden("rocking-lever-eye")
    told = cautions(weighing.worst)
    assert any("seizes" in caution for caution in told)
    for caution in told:
        assert text.count(caution) == 1
        assert text.index("## Hazards and cautions") < text.index(caution) < text.index("## Options weighed")


def test_a_caution_stands_though_the_number_could_not_be_reckoned(tmp_path):
    assert any("seizes" in caution for caution in cautions(case(tmp_path, SNUG, read="").worst))
