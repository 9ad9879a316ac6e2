"""The options as a ladder: their order, their verdicts told without colour, and the same in a drawing and in text."""

from __future__ import annotations

import json
import re
import subprocess
import sys
from dataclasses import replace
from pathlib import Path
from xml.etree import ElementTree

import pytest
import yaml
from helpers import CLOCK, DEMO, HOUSE, casebook_of, clock, demo, every_weighing, shipped_rules, weighed
from hypothesis import given
from hypothesis import strategies as st

from conserve.cli import main
from conserve.record import drawing, ladder
from conserve.record.ladder import Ladder, Rung, ladder_of
from conserve.weighing import Verdict, Weighing

SVG = "{http://www.w3.org/2000/svg}"
HOSTILE = "\"><script>alert(1)</script><!-- ]]> & ' onload='x() <![CDATA[ \x07"


@pytest.fixture(params=[p.id for p in (*demo().proposals, *clock().proposals)])
def weighing(request: pytest.FixtureRequest) -> Weighing:
    """Each proposal of both demonstrations, weighed."""
    return every_weighing()[request.param]


def read(svg: str) -> ElementTree.Element:
    return ElementTree.fromstring(svg)


def described(svg: str) -> str:
    root = read(svg)
    return f"{root.findtext(f'{SVG}title')} {root.findtext(f'{SVG}desc')}"


def lines(svg: str) -> list[tuple[float, str]]:
    """The lines of words of a drawing, from above: where each stands, and what it says."""
    found = ((float(t.get("y", "")), "".join(t.itertext())) for t in read(svg).iter(f"{SVG}text"))
    return sorted(found)


def drawn(name: str) -> str:
    return ladder.svg(ladder_of(weighed(demo(), name)))


# ---- order -----------------------------------------------------------------------------------------------


def test_options_stand_by_the_highest_rung_of_their_acts_and_then_as_they_are_written(weighing: Weighing):
    # Read from the files themselves, past the program's own reader.
    techniques = yaml.safe_load((HOUSE / "rules/techniques.yaml").read_text(encoding="utf-8"))
    folder = DEMO if weighing.casebook is demo() else CLOCK
    written = yaml.safe_load((folder / f"proposals/{weighing.proposal.id}.yaml").read_text(encoding="utf-8"))
    rungs = {
        name: max((techniques[act["technique"]]["rung"] for act in option["acts"]), default=0)
        for name, option in written["options"].items()
    } if "options" in written else {}  # fmt: skip
    found = [(rung.option, rung.rung) for rung in ladder_of(weighing).rungs]
    assert found
    if rungs:
        assert found == sorted(rungs.items(), key=lambda each: each[1])


def test_the_gentlest_stands_at_the_foot():
    said = " ".join(words for _, words in lines(drawn("crosshead-slipper")))
    places = [said.index(word) for word in ("most intrusive", "skim-working-face", "shim, chosen", "leave (rung 0)")]
    assert places == sorted(places)
    assert said.endswith("gentlest")
    told = ladder.text(ladder_of(weighed(demo(), "crosshead-slipper")))
    assert told.index("skim-working-face") < told.index("shim, chosen") < told.index("leave")


# ---- what it tells ---------------------------------------------------------------------------------------


def test_every_option_and_its_verdict_are_told_in_the_drawing_in_its_description_and_in_text(weighing: Weighing):
    found = ladder_of(weighing)
    svg = ladder.svg(found)
    seen = " ".join(words for _, words in lines(svg))
    said = " ".join(re.sub(r"^(->|  )\|.{9}\|", "", row) for row in ladder.text(found).splitlines())
    for option in weighing.worst.options:
        for told in (seen, described(svg), " ".join(said.split())):
            assert re.search(
                rf"{option.option.id}(, (chosen|preferred))? \(rung \d+\)\S? {option.verdict}", told, re.IGNORECASE
            ), (option.option.id, told)
    assert [rung.option for rung in found.rungs if rung.mark] == [weighing.chosen]


def test_an_option_is_called_chosen_only_where_somebody_has_decided():
    assert "shim, chosen" in described(drawn("crosshead-slipper"))
    assert "brush-and-wax, preferred" in described(drawn("cover-studs"))
    assert "chosen" not in described(drawn("cover-studs"))


def test_the_chosen_option_is_framed_and_has_an_arrow_and_no_other_has():
    root = read(drawn("crosshead-slipper"))
    (frame,) = (r for r in root.iter(f"{SVG}rect") if r.get("class") == "marked")
    (arrow,) = (p for p in root.iter(f"{SVG}path") if p.get("class") == "arrow")
    (at,) = (y for y, words in lines(drawn("crosshead-slipper")) if words.startswith("shim, chosen"))
    top, high = float(frame.get("y", "")), float(frame.get("height", ""))
    points = [float(y) for y in re.findall(r" (-?[\d.]+)", arrow.get("d", ""))]
    assert top < at < top + high
    assert all(top < y < top + high for y in points)
    wide = {line.get("stroke-width") for line in root.iter(f"{SVG}line")}
    assert "5" in wide and "2" in wide


def test_the_reason_is_the_need_that_fails_the_rule_that_forbids_or_the_option_that_will_do():
    because = {rung.option: rung.because for rung in ladder_of(weighed(demo(), "crosshead-slipper")).rungs}
    need = "The slipper runs on the guide bar without knock at demonstration speed"
    assert because["leave"] == f"Does not meet the need '{need}'."
    assert because["skim-working-face"] == "'shim' loses less and will do."
    (mill,) = (r for r in ladder_of(weighed(demo(), "guide-bar-back")).rungs if r.option == "mill-back")
    assert mill.because == "Do not cut the back of the bar; it bears, seals and guides nothing."
    (leave,) = (r for r in ladder_of(weighed(demo(), "flywheel-hub")).rungs if r.option == "leave")
    assert leave.because.startswith("Leaves in doubt the need '")


def test_a_long_reason_is_cut_at_a_word_in_the_drawing_and_whole_in_its_description():
    because = "Look " + "closely at the long and winding wall of the old boiler house " * 5 + "first."
    found = Ladder("Options", (Rung("leave", 0, Verdict.REFER, because, ""),))
    svg = ladder.svg(found)
    cut = " ".join(words for _, words in lines(svg)[2:-1])
    assert cut.endswith(" …")
    assert f"Refer to a competent person. {because}".startswith(cut.removesuffix("…"))
    assert because in described(svg)


# ---- told without colour ---------------------------------------------------------------------------------


def test_no_two_verdicts_share_a_sign():
    signs = {verdict: ladder.sign(verdict, 0, 0) for verdict in Verdict}
    assert len({re.sub(r' (fill|stroke|class)="[^"]*"', "", sign) for sign in signs.values()}) == len(Verdict)
    found = Ladder("Options", tuple(Rung(f"o{at}", at, v, "So.", "") for at, v in enumerate(Verdict)))
    rungs = re.findall(r"^  (\|.{9}\|)  o\d", ladder.text(found), re.MULTILINE)
    assert len(rungs) == len(set(rungs)) == len(Verdict)


def test_a_drawing_has_no_colour_but_the_ink_of_its_page(weighing: Weighing):
    for element in read(ladder.svg(ladder_of(weighing))).iter():
        assert element.get("fill", "none") in ("none", "currentColor")
        assert element.get("stroke", "none") in ("none", "currentColor")
        assert "style" not in element.attrib
        assert float(element.get("font-size", "12")) >= 12


# ---- any words -------------------------------------------------------------------------------------------


def test_hostile_words_stay_words():
    found = Ladder(HOSTILE, (Rung(HOSTILE, 3, Verdict.NOT_YET_SHOWN, HOSTILE, "chosen"),))
    svg = ladder.svg(found)
    assert {e.tag.removeprefix(SVG) for e in read(svg).iter()} <= {
        "svg", "title", "desc", "text", "tspan", "line", "path", "rect", "g",
    }  # fmt: skip
    assert not any(name.startswith("on") for e in read(svg).iter() for name in e.attrib)
    assert described(svg).count(HOSTILE.replace("\x07", "").rstrip()) == 3
    assert "<script" in described(svg) and "<script" not in svg


def test_a_need_may_say_anything(tmp_path: Path):
    said = "'\"><b>&amp; ]]> {{ 7*7 }} \\"
    written = json.dumps(said)
    casebook = casebook_of(
        tmp_path,
        {
            "components/plate.yaml": "name: Plate\nmaterial: brass\nphase: as-built\nserviceable: no\n",
            "proposals/clean.yaml": (
                "title: T\ncomponent: plate\nneeds:\n  runs: {kind: function, says: "
                f"{written}, test: {{component.serviceable: yes}}, set_by: me}}\n"
                "options: {leave: {acts: []}}\npreferred: leave\n"
            ),
        },
    )
    svg = ladder.svg(ladder_of(weighed(casebook)))
    assert f"Does not meet the need '{said}'." in described(svg)


@given(st.text(max_size=300), st.integers(2, 90), st.integers(0, 4))
def test_words_are_fitted_to_their_place_and_lost_only_at_the_end(text: str, width: int, most: int):
    found = drawing.fitted(text, width, most)
    assert all(drawing.columns(line) <= width for line in found)
    assert not most or len(found) <= most
    kept = re.sub(r"[ \t\r\n\xa0]", "", "".join(found))
    whole = re.sub(r"[ \t\r\n\xa0]", "", text)
    assert kept == whole or (most and whole.startswith(kept.removesuffix("…")))


# ---- the same each time, and on a terminal ---------------------------------------------------------------


def test_the_same_weighing_makes_the_same_bytes_in_any_process():
    script = (
        "import sys; sys.path.insert(0, 'tests')\n"
        "from helpers import demo, weighed\n"
        "from conserve.record import bars, ladder\n"
        "w = weighed(demo(), 'guide-bar-back')\n"
        "l, b = ladder.ladder_of(w), bars.bars_of(w)\n"
        "print(ladder.svg(l), ladder.text(l), bars.svg(b), bars.text(b))\n"
    )
    made = {
        subprocess.run(
            [sys.executable, "-c", script], cwd=HOUSE, capture_output=True, check=True,
            env={"PYTHONHASHSEED": seed, "PYTHONPATH": str(HOUSE), "PYTHONIOENCODING": "utf-8"},
        ).stdout
        for seed in ("0", "7")
    }  # fmt: skip
    assert len(made) == 1


@pytest.mark.parametrize("width", [40, 88])
def test_the_text_fits_a_terminal(weighing: Weighing, width: int):
    told = ladder.text(ladder_of(weighing), width)
    assert max(drawing.columns(row) for row in told.splitlines()) <= width


def test_why_tells_the_ladder_and_the_bars(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch):
    monkeypatch.chdir(HOUSE)
    monkeypatch.setenv("COLUMNS", "88")
    assert main(["why", "crosshead-slipper", "--in", "casebook/marrow-fen", "--length", "ladder"]) == 0
    told = capsys.readouterr().out
    assert ladder.text(ladder_of(weighed(demo(), "crosshead-slipper"))) in told
    assert "->|====o====|  shim, chosen (rung 6)" in told
    assert "skim-working-face – left in place: 388 ± 6 cm²" in told


def test_why_tells_the_bars_of_one_option_where_one_is_asked_about(
    capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
):
    monkeypatch.chdir(HOUSE)
    assert main(["why", "crosshead-slipper", "shim", "--in", "casebook/marrow-fen", "--length", "ladder"]) == 0
    told = capsys.readouterr().out
    assert "skim-working-face (rung 7)" in told
    assert "shim, chosen – left in place" in told and "skim-working-face –" not in told


def test_a_verdict_changes_its_sign_and_its_word_together():
    found = ladder_of(weighed(demo(), "guide-bar-back"))
    for verdict in Verdict:
        changed = replace(found, rungs=tuple(replace(rung, verdict=verdict) for rung in found.rungs))
        svg = ladder.svg(changed)
        assert svg.count('class="verdict"') == len(found.rungs)
        assert svg.count(f">{verdict.capitalize()}</tspan>") == len(found.rungs)


def test_the_rules_read_here_are_those_of_the_program():
    assert shipped_rules().vocabulary.techniques["shimming"].rung == 6
