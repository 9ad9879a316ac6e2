"""Problems: how they are sorted, counted and shown."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from conserve.problem import WIDEST_LINE, InvalidInput, Location, Problem, nearest, show, show_all

TOP = Path(__file__).parent.parent
WEAR = Problem(
    Location("components/guide-bar.yaml", 15, 43, 11, "surfaces.working-face.wear"),
    "C014", "'0.12 ± 0.02' has no unit", "write 0.12 ± 0.02 mm",
)  # fmt: skip
WEAR_LINE = "  working-face: {function: sliding, wear: 0.12 ± 0.02}"


def marked(block: str) -> str:
    """The text that stands over the marker of a shown problem."""
    lines = block.splitlines()
    marker = next(number for number, line in enumerate(lines) if line.strip(" |^") == "" and "^" in line)
    start, end = lines[marker].index("^"), lines[marker].rindex("^") + 1
    return lines[marker - 1][start:end]


def test_a_problem_is_shown_with_its_place_its_path_its_line_and_a_hint():
    problem = Problem(Location("rules/a/b.yaml", 12, 1, 4, "whne"), "R001", "unknown key 'whne'", "try 'when'")
    assert show(problem, "whne:\n").splitlines() == [
        "rules/a/b.yaml:12:1: R001 unknown key 'whne'",
        "     at whne",
        "   12 | whne:",
        "      | ^^^^",
        "    hint: try 'when'",
    ]


def test_what_is_not_known_of_a_problem_is_left_out():
    assert show(Problem(Location("a.yaml"), "C027", "the file is empty"), None) == "a.yaml:1:1: C027 the file is empty"


def test_the_marker_stands_under_the_text():
    at = WEAR_LINE.index("0.12") + 1
    assert marked(show(Problem(Location("a", 1, at, 11), "C014", "x"), WEAR_LINE)) == "0.12 ± 0.02"


@pytest.mark.parametrize("before", ["\t\t", "a\tb: ", "歯車: ", "é\t歯車: ", "‘’“”: "])
def test_the_marker_stands_under_the_text_after_tabs_and_wide_letters(before):
    problem = Problem(Location("a", 1, len(before) + 1, 5), "C014", "x")
    assert marked(show(problem, f"{before}wrong and more")) == "wrong"


@pytest.mark.parametrize("before", [0, 60, 300, 5000])
@pytest.mark.parametrize("after", [0, 60, 5000])
def test_a_long_line_is_cut_around_the_marker(before, after):
    line = "b" * before + "wrong" + "a" * after
    block = show(Problem(Location("a", 1, before + 1, 5), "C014", "x"), line)
    assert marked(block) == "wrong"
    assert max(map(len, block.splitlines())) <= WIDEST_LINE + 12


def test_a_marked_text_longer_than_a_line_is_marked_as_far_as_it_is_shown():
    block = show(Problem(Location("a", 1, 11, 900), "C011", "x"), "0123456789" + "w" * 900)
    assert set(marked(block)) == {"w"}


def test_control_characters_reach_no_terminal():
    problem = Problem(Location("a\x1b[2J.yaml", 1, 1, 1, "k\u202e"), "C010", "\x07 rings", "\x9b")
    block = show(problem, "k\x1b[31m\u202e: v")
    assert block.replace("\n", "").isprintable()


@given(st.text(), st.integers(1, 300), st.integers(0, 300))
def test_whatever_the_line_a_problem_can_be_shown(line, column, width):
    lines = show(Problem(Location("a", 1, column, width), "C001", "x"), line).splitlines()
    assert len(lines) == 3
    assert "^" in lines[2]


def test_all_problems_are_shown_in_order_of_place_and_counted():
    first, second = Problem(Location("a.yaml", 2), "C001", "one"), Problem(Location("b.yaml", 1), "C002", "two")
    text = show_all([second, first, second], lambda file, line: f"{file} line {line}")
    assert text.index("one") < text.index("two")
    assert text.endswith("\n2 problems in 2 files. Nothing was weighed.")
    assert show_all([first], lambda file, line: None).endswith("\n1 problem in 1 file. Nothing was weighed.")


def test_places_are_sorted_by_line_as_numbers():
    ninth, tenth = (Problem(Location("a", line), "C001", "x") for line in (9, 10))
    assert sorted([tenth, ninth]) == [ninth, tenth]


def test_invalid_input_carries_each_problem_once_and_sorted():
    later = Problem(Location("z.yaml"), "C001", "x")
    error = InvalidInput([later, WEAR, later])
    assert error.problems == (WEAR, later)
    assert str(error).splitlines()[0] == "components/guide-bar.yaml:15:43: C014 '0.12 ± 0.02' has no unit"


def test_the_nearest_word_is_found():
    assert nearest("whne", ("then", "when", "why")) == "when"
    assert nearest("xylophone", ("then", "when")) is None
    assert nearest("", ()) is None
    assert nearest("when " * 100_000, ("when",)) is None


def test_the_nearest_word_does_not_hang_on_the_order_of_the_known_ones():
    assert nearest("wea", ("wear", "weal")) == nearest("wea", ("weal", "wear"))


def test_importing_problems_and_files_loads_nothing_dear():
    code = "import sys, conserve.files; print(*{'difflib', 'tempfile', 'hashlib', 'yaml', 'shutil'} & set(sys.modules))"
    done = subprocess.run([sys.executable, "-S", "-c", code], cwd=TOP, capture_output=True, text=True, check=True)
    assert done.stdout.split() == []
