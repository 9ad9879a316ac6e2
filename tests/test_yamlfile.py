"""YAML as text with places: what comes out, what is refused, and that nothing makes it raise."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path
from textwrap import dedent

import pytest
import yaml
from hypothesis import example, given
from hypothesis import strategies as st

from conserve.files import Folder
from conserve.yamlfile import DEEPEST, LARGEST, Entries, Items, Node, Text, parse, read_yaml

TOP = Path(__file__).parent.parent

PROPOSAL = """\
title: Take up the slack in the top slipper
asked: {date: 2026-03-02, by: lead}
needs:
  running-clearance:
    kind: function
    says: >
      The slipper runs on the guide bar
      without knock at demonstration speed.
    at: [demonstration, service]
    test: {component.running_clearance: {between: [0.10 mm, 0.40 mm]}}
options:
  shim:
    acts:
      - {technique: shimming, where: back-face, thickness: 0.50 mm, takes: none}
      - technique: "lubrication"   # a comment
    after: {component.running_clearance: 0.20 ± 0.04 mm}
preferred: shim
"""


def read(text: str) -> Entries:
    """The top of a text that has nothing wrong with it."""
    node, problems = parse(dedent(text), "f.yaml", "C")
    assert problems == ()
    assert isinstance(node, Entries)
    return node


def problems_in(text: str) -> list[tuple[str, int, int]]:
    return [(p.code, p.where.line, p.where.column) for p in parse(dedent(text), "f.yaml", "C")[1]]


def plain(node: Node) -> object:
    """A node without its places, as a document of the usual kind."""
    if isinstance(node, Text):
        return node.value
    if isinstance(node, Items):
        return [plain(item) for item in node.items]
    return {key.value: plain(below) for key, below in node.items}


def texts(node: Node) -> list[Text]:
    """All scalars, in order, keys among them."""
    if isinstance(node, Text):
        return [node]
    if isinstance(node, Items):
        return [text for item in node.items for text in texts(item)]
    return [text for key, below in node.items for text in (key, *texts(below))]


# ---- what comes out -------------------------------------------------------------------------------


def test_a_document_says_what_yaml_says_with_every_scalar_as_text():
    assert plain(read(PROPOSAL)) == yaml.load(PROPOSAL, Loader=yaml.BaseLoader)


@pytest.mark.parametrize(
    "written", ["no", "3:30", "010", "1e3", "~", "null", "2026-03-02", "0x1F", "1_000", ".inf", "="]
)
def test_a_scalar_stays_the_text_that_was_written(written):
    assert plain(read(f"fact: {written}")) == {"fact": written}


def test_every_scalar_is_where_it_says():
    lines = PROPOSAL.splitlines()
    for text in texts(read(PROPOSAL)):
        where = text.where
        marked = lines[where.line - 1][where.column - 1 : where.column - 1 + where.width]
        assert marked in (text.value, f'"{text.value}"', ">")


def test_a_place_counts_letters_and_not_bytes():
    (_, value), *_ = read("µ: {± é 歯車: here}").items
    assert isinstance(value, Entries)
    assert value.items[0][1].where[1:4] == (1, 13, 4)


def test_the_path_of_a_node_counts_list_items_from_one():
    paths = [text.where.at for text in texts(read("acts:\n  - {where: back-face}\n  - skim\ntitle: x"))]
    assert paths == ["acts", "acts.1.where", "acts.1.where", "acts.2", "title", "title"]


def test_quoted_and_block_text_is_known_from_plain_text():
    node = read("""\
        plain: none
        single: 'none'
        double: "none"
        folded: >
          none
        literal: |
          none
        """)
    quoted = {key.value: below.quoted for key, below in node.items if isinstance(below, Text)}
    assert quoted == {"plain": False, "single": True, "double": True, "folded": True, "literal": True}


def test_the_width_of_a_text_over_several_lines_is_that_of_its_first():
    assert read("says: one two\n  three four\nnext: x").items[0][1].where[1:4] == (1, 7, 7)


def test_a_mark_at_the_start_of_the_file_moves_no_place():
    text = "name: x\nsays: one two\n  three\n"
    assert parse(f"\ufeff{text}", "f.yaml", "C") == (read(text), ())


def test_line_ends_of_any_system_give_the_same():
    unix, windows = read("a: >\n  b\n  c\nd: e f\n  g\n"), read("a: >\r\n  b\r\n  c\r\nd: e f\r\n  g\r\n")
    assert unix == windows


def test_a_document_may_start_with_three_dashes():
    assert plain(read("---\nname: x\n...\n")) == {"name": "x"}


# ---- what is wrong --------------------------------------------------------------------------------


@pytest.mark.parametrize(("text", "expected"), [
    ("a: 1\nb: 2\na: 3\n", ("C003", 3, 1)),
    ("a: {b: 1, b: 2}\n", ("C003", 1, 11)),
    ("a:\nb: 1\n", ("C008", 1, 1)),
    ("a: {b: , c: 1}\n", ("C008", 1, 5)),
    ("a:\n  - x\n  -\n", ("C008", 3, 4)),
    ("a: {says: oil it, then turn it}\n", ("C009", 1, 19)),
    ("a: {b}\n", ("C009", 1, 5)),
    ("a: [b\n", ("C020", 1, 4)),
    ("a: b: c\n", ("C020", 1, 5)),
    ("a: @b\n", ("C020", 1, 4)),
    ("a: 'b\n", ("C020", 1, 4)),
    ("a: 1\nb\nc: 2\n", ("C020", 2, 1)),
    ("a:\n\t- b\n", ("C020", 2, 1)),
    ("a: b\n c: d\n", ("C020", 2, 3)),
    ('a: "\\q"\n', ("C020", 1, 5)),
    ("é: x\nb: c\x07\n", ("C020", 2, 5)),
    ("b: \ud800\n", ("C020", 1, 4)),
    ("a: &x 1\n", ("C021", 1, 4)),
    ("a: &x [1]\n", ("C021", 1, 4)),
    ("&x a: 1\n", ("C021", 1, 1)),
    ("a: [*x]\n", ("C021", 1, 5)),
    ("*x : 1\n", ("C021", 1, 1)),
    ("a: !!int 1\n", ("C022", 1, 4)),
    ("a: !!null\n", ("C022", 1, 4)),
    ("a: ! {b: c}\n", ("C022", 1, 4)),
    ("a: !!python/object:os.system {}\n", ("C022", 1, 4)),
    ("a: 1\n---\nb: 2\n", ("C026", 2, 1)),
    ("", ("C027", 1, 1)),
    ("# only a comment\n", ("C027", 1, 1)),
    ("- a\n", ("C027", 1, 1)),
    ("words\n", ("C027", 1, 1)),
    ("? [a]\n: b\n", ("C027", 1, 3)),
    ("a: {[b]: c}\n", ("C027", 1, 5)),
    ("?\n: b\n", ("C027", 1, 2)),
])  # fmt: skip
def test_what_is_wrong_has_one_code_and_one_place(text, expected):
    assert problems_in(text) == [expected]


@pytest.mark.parametrize("word", ["on", "off", "yes", "no", "y", "N", "TRUE", "False", "null", "~", "No"])
def test_a_key_that_other_readers_take_for_yes_or_no_is_refused_unless_quoted(word):
    assert problems_in(f"a: 1\n{word}: 2\n") == [("C028", 2, 1)]
    assert problems_in(f"a: 1\n'{word}': 2\n") == []


def test_a_repeated_key_says_where_the_first_is_and_the_first_is_kept():
    node, (problem,) = parse("a: 1\nb: 2\na: 3\n", "f.yaml", "C")
    assert node is not None
    assert plain(node) == {"a": "1", "b": "2"}
    assert "line 1" in problem.message


def test_all_problems_of_a_file_are_told_in_order():
    assert problems_in("""\
        on: 1
        a: &x {b, c: !!int 2}
        a: *x
        d:
        """) == [("C028", 1, 1), ("C021", 2, 4), ("C009", 2, 8), ("C022", 2, 14),
                 ("C003", 3, 1), ("C021", 3, 4), ("C008", 4, 1)]  # fmt: skip


def test_what_stands_before_a_syntax_error_is_told_as_well():
    assert problems_in("a: 1\na: 2\nb: [\n") == [("C003", 2, 1), ("C020", 3, 5)]


def test_an_empty_text_that_comes_out_was_quoted_or_is_a_problem():
    node, problems = parse("a:\nb: ''\nc: [*x, &y]\nd: !!null\n", "f.yaml", "C")
    assert node is not None
    empty = {text.where.at for text in texts(node) if not text.value and not text.quoted}
    assert empty == {"a", "c.1", "c.2", "d"}
    assert {problem.where.at for problem in problems} == empty


@pytest.mark.parametrize("opening", ["[", "{a: ", "- "])
def test_nesting_is_read_to_its_limit_and_no_deeper(opening):
    closing = {"[": "]", "{a: ": "}", "- ": ""}[opening]

    def nested(depth: int) -> list[str]:
        return [code for code, *_ in problems_in(f"a:\n {opening * depth}x{closing * depth}\n")]

    assert nested(DEEPEST - 1) == []
    assert nested(DEEPEST) == ["C023"]
    assert nested(100_000) == ["C023"]


def test_a_file_of_too_many_values_is_given_up():
    node, problems = parse(f"a: [{'x, ' * 200_001}]", "f.yaml", "C")
    assert node is None
    assert [problem.code for problem in problems] == ["C024"]


def test_the_prefix_of_the_code_is_the_one_asked_for():
    assert parse("", "f.yaml", "R")[1][0].code == "R027"


# ---- files ----------------------------------------------------------------------------------------


def problem_of(tmp_path: Path, data: bytes) -> tuple[str, int, int]:
    (tmp_path / "f.yaml").write_bytes(data)
    node, (problem,) = read_yaml(Folder(tmp_path), "f.yaml", "C")
    assert node is None
    return problem.code, problem.where.line, problem.where.column


def test_a_file_is_read_under_the_name_it_is_shown_by(tmp_path):
    (tmp_path / "f.yaml").write_text("name: µm\n", encoding="utf-8")
    node, problems = read_yaml(Folder(tmp_path), "f.yaml", "R", shown="rules/f.yaml")
    assert problems == ()
    assert node is not None
    assert plain(node) == {"name": "µm"}
    assert node.where.file == "rules/f.yaml"


def test_a_file_that_is_not_utf_8_is_refused_at_the_letter(tmp_path):
    assert problem_of(tmp_path, "a: µ\nb: µ ".encode() + b"\xb5\n") == ("C025", 2, 6)


def test_a_file_over_two_megabytes_is_refused(tmp_path):
    assert problem_of(tmp_path, b"a: " + b"x" * LARGEST) == ("C024", 1, 1)
    assert problems_in("a: " + "x" * LARGEST) == [("C024", 1, 1)]


@pytest.mark.parametrize("make", [
    lambda path: path.symlink_to("other.yaml"),
    lambda path: path.mkdir(),
    os.mkfifo,
    lambda path: None,
], ids=["a link", "a folder", "a pipe", "nothing"])  # fmt: skip
def test_what_is_not_a_regular_file_inside_is_refused(tmp_path, make):
    (tmp_path / "other.yaml").write_text("name: x\n")
    make(tmp_path / "f.yaml")
    node, (problem,) = read_yaml(Folder(tmp_path), "f.yaml", "C")
    assert node is None
    assert problem.code == "C029"


def test_a_path_out_of_the_folder_is_refused(tmp_path):
    node, (problem,) = read_yaml(Folder(tmp_path), "../f.yaml", "C")
    assert node is None
    assert problem.code == "C029"


# ---- nothing makes it raise -----------------------------------------------------------------------


ODD = st.sampled_from([*"\t\r\n\x85\u2028\ufeff\0\x1b{}[]:,-?&*!|>'\"%@`#~ \\\ud800±", "\n---\n", "\n...\n", "<<: "])


@st.composite
def damaged(draw: st.DrawFn) -> str:
    """A proposal with a few cuts, copies and strange characters."""
    text = PROPOSAL
    for _ in range(draw(st.integers(1, 6))):
        at = draw(st.integers(0, len(text)))
        end = min(len(text), at + draw(st.integers(0, 12)))
        text = text[:at] + draw(ODD | st.text(max_size=4) | st.just(text[at:end] * 2)) + text[end:]
    return text


def check(text: str) -> None:
    """Whatever the text: no exception, places that exist, and a node or a problem."""
    node, problems = parse(text, "f.yaml", "C")
    assert node is not None or problems
    assert list(problems) == sorted(set(problems))
    last = len(text.splitlines()) + 1  # an empty value may stand past the end
    nodes = [] if node is None else texts(node)
    for where in [problem.where for problem in problems] + [text.where for text in nodes]:
        assert 1 <= where.line <= last
        assert where.column >= 1
        assert where.width >= 1


@given(st.text() | st.text(alphabet="ab \n\t:-?[]{},&*!|>'\"%@#~\\\u0085\ufeff", max_size=60))
@example("%YAML 9.9\n---\na: b")
@example("%YAML 99999999999999999999.1\n---\na: b")
@example("%TAG ! tag:x,2000:\n---\na: !b c")
@example('a: "\\U00110000 \\ud800"')
@example("a: b\ufeff\nc: \ufeff d")
@example("? ? ? a")
@example("a: !<")
def test_no_text_makes_it_raise(text):
    check(text)


@given(damaged())
def test_no_damaged_file_makes_it_raise(text):
    check(text)


@given(st.binary(max_size=60))
def test_no_bytes_make_it_raise(tmp_path_factory, data):
    root = tmp_path_factory.getbasetemp()
    (root / "bytes.yaml").write_bytes(data)
    node, problems = read_yaml(Folder(root), "bytes.yaml", "C")
    assert node is not None or problems


@given(damaged())
def test_a_damaged_file_that_passes_says_what_yaml_says(text):
    node, problems = parse(text, "f.yaml", "C")
    if not problems:
        assert node is not None
        # The parser written in C, as here: the other one refuses a tab inside plain text.
        assert plain(node) == yaml.load(text, Loader=getattr(yaml, "CBaseLoader", yaml.BaseLoader))


def test_the_parser_written_in_python_reads_the_same_where_there_is_no_other():
    code = dedent("""\
        import sys
        sys.modules["yaml._yaml"] = None
        from conserve.yamlfile import _Loader, parse
        assert _Loader.__name__ == "SafeLoader"
        for text in sys.stdin.read().split("\\0"):
            node, problems = parse(text, "f.yaml", "C")
            print(ascii((node, [(p.code, p.where) for p in problems])))
        """)
    cases = [PROPOSAL, "a: 1\na: 2\n", "a: &x 1\nb: *x\n", "a:\nb: {c, d: e}\n", "a: 'b\n", "a: b: c\n", "é: \x07\n",
             "a: &x 1\nb: !!null\nc: - d\n", "- a", "", "a: >\n  b\n\n  c\nd: |-\n  e\n", "a: [" * 50]  # fmt: skip
    done = subprocess.run([sys.executable, "-c", code], input="\0".join(cases), cwd=TOP,
                          capture_output=True, encoding="utf-8", check=True)  # fmt: skip
    expected = []
    for text in cases:
        node, problems = parse(text, "f.yaml", "C")
        expected.append(ascii((node, [(p.code, p.where) for p in problems])))
    for ours, theirs in zip(expected, done.stdout.splitlines(), strict=True):
        assert ours == theirs
