"""Shapes: what each lets stand, where it says that something is wrong, and that its schema agrees."""

from __future__ import annotations

from datetime import date
from decimal import Decimal
from textwrap import dedent

import pytest
import yaml
from hypothesis import given
from hypothesis import strategies as st
from jsonschema import Draft202012Validator

from conserve.problem import Location, Problem
from conserve.shape import (
    Amount,
    Choice,
    Count,
    Day,
    Either,
    Field,
    FileName,
    Flag,
    Identifier,
    Line,
    ListOf,
    Long,
    LongOr,
    MapOf,
    Problems,
    Record,
    RuleName,
    Shape,
    Value,
    Words,
)
from conserve.yamlfile import parse

DUTY = Choice(("stored", "static", "demonstration"), "duty")
WEAR = Amount("mm", exact=False)


def read(shape: Shape, text: str) -> tuple[Value | None, tuple[Problem, ...]]:
    """Read a whole text with a shape."""
    node, problems = parse(dedent(text), "f.yaml", "C")
    into = Problems("C")
    into.extend(problems)
    value = None if node is None else shape.read(node, into)
    return value, into.all


def content_of(shape: Shape, written: str) -> object:
    """What a shape makes of a value that it takes; lists and mappings without their places."""
    value, problems = read(Record((Field("it", shape),)), f"it: {written}")
    assert problems == ()
    assert value is not None
    return bare(value.content["it"])


def bare(value: Value) -> object:
    """The content of a value without its places."""
    content = value.content
    if isinstance(content, dict):
        return {name: bare(below) for name, below in content.items()}
    if isinstance(content, tuple):
        return tuple(map(bare, content))
    return content


def problems_in(shape: Shape, text: str) -> list[tuple[str, int, int]]:
    return [(p.code, p.where.line, p.where.column) for p in read(shape, text)[1]]


def problem_with(shape: Shape, written: str) -> Problem:
    """The one problem with a value, which stands at line 1, column 5."""
    value, (problem,) = read(Record((Field("it", shape),)), f"it: {written}")
    assert value is not None
    assert value.content == {}
    assert (problem.where.line, problem.where.column) == (1, 5)
    assert problem.where.at == "it"
    return problem


# ---- one value ------------------------------------------------------------------------------------


@pytest.mark.parametrize(("shape", "written", "content"), [
    (Line(), "a punched 4, beside the oil hole", "a punched 4, beside the oil hole"),
    (Line(), "no", "no"),
    (Line(), "1902-1931", "1902-1931"),
    (Line(), "' spaced '", "spaced"),
    (Line(), "x" * 200, "x" * 200),
    (Line(), "Žižka’s 歯車 – ½", "Žižka’s 歯車 – ½"),
    (Words(), "|\n  two\n  lines\n", "two\nlines"),
    (Words(), ">\n  one\n  line\n", "one line"),
    (Identifier(), "guide-bar-2", "guide-bar-2"),
    (Identifier(), "1912", "1912"),
    (RuleName(), "record/hidden-first", "record/hidden-first"),
    (RuleName(), "a/b-c/d", "a/b-c/d"),
    (FileName(), "sheets/wear 1..2.svg", "sheets/wear 1..2.svg"),
    (Day(), "2026-03-02", date(2026, 3, 2)),
    (Day(), "2024-02-29", date(2024, 2, 29)),
    (DUTY, "static", "static"),
    (Flag(), "yes", "yes"),
    (Flag(), "'no'", "no"),
    (Count(), "0", 0),
    (Count(), "48", 48),
])  # fmt: skip
def test_a_value_of_the_right_shape_is_read(shape, written, content):
    assert content_of(shape, written) == content


def test_an_amount_is_read_as_a_quantity():
    value, _ = read(Record((Field("wear", WEAR),)), "wear: 0.12 ± 0.02 mm")
    assert value is not None
    quantity = value.content["wear"].content
    assert (quantity.amount, quantity.uncertainty, quantity.unit) == (Decimal("0.12"), Decimal("0.02"), "mm")


@pytest.mark.parametrize(("shape", "written", "code"), [
    (Line(), "''", "C010"),
    (Line(), "' '", "C010"),
    (Line(), "|\n  two\n  lines\n", "C010"),
    (Line(), '"bell\\a"', "C010"),
    (Line(), '"a\\u202eb"', "C010"),
    (Line(), '"a\\u2067b"', "C010"),
    (Line(), '"a\\u200fb"', "C010"),
    (Line(), '"a\\u061cb"', "C010"),
    (Line(), '"a\\u2028b"', "C010"),
    (Line(), "x" * 201, "C011"),
    (Words(), "''", "C010"),
    (Words(), '"a\\u202eb"', "C010"),
    (Words(), '"a\\0b"', "C010"),
    (Words(), "[a]", "C004"),
    (Identifier(), "Guide_Bar", "C007"),
    (Identifier(), "guide--bar", "C007"),
    (Identifier(), "guide-", "C007"),
    (Identifier(), "führung", "C007"),
    (Identifier(), '"bar\\n"', "C007"),
    (RuleName(), "hidden-first", "C007"),
    (RuleName(), "record/", "C007"),
    (FileName(), "/etc/passwd", "C030"),
    (FileName(), "../up.svg", "C030"),
    (FileName(), "a/../../up.svg", "C030"),
    (FileName(), "a//b.svg", "C030"),
    (FileName(), "a\\b.svg", "C030"),
    (FileName(), "'c:/b.svg'", "C030"),
    (FileName(), '"a\\0b"', "C010"),
    (Day(), "2026-3-2", "C006"),
    (Day(), "20260302", "C006"),
    (Day(), "2026-W10-1", "C006"),
    (Day(), "2026-02-30", "C006"),
    (Day(), "٢٠٢٦-٠٣-٠٢", "C006"),
    (DUTY, "Static", "C005"),
    (Flag(), "true", "C005"),
    (Flag(), "Yes", "C005"),
    (Flag(), "unknown", "C005"),
    (WEAR, "very worn", "C012"),
    (WEAR, "0.12 kg", "C013"),
    (WEAR, "0.12 ± 0.02", "C014"),
    (WEAR, "nan mm", "C016"),
    (Count(), "-1", "C012"),
    (Count(), "010", "C012"),
    (Count(), "4.0", "C012"),
    (Count(), "٤", "C012"),
    (Count(), "9" * 5000, "C012"),
    (Line(), "{a: b}", "C004"),
    (ListOf(Line()), "rust", "C004"),
    (ListOf(Line()), "{a: b}", "C004"),
    (ListOf(Line()), "none", "C004"),
    (MapOf(Identifier(), Line()), "[a]", "C004"),
    (MapOf(Identifier(), Line()), "none", "C004"),
    (Record(()), "words", "C004"),
    (Either(text=Line()), "[a]", "C004"),
    (Either(entries=Record(()), items=ListOf(Line())), "words", "C004"),
])  # fmt: skip
def test_a_value_of_the_wrong_shape_has_one_code_and_stands_where_it_is(shape, written, code):
    assert problem_with(shape, written).code == code


@pytest.mark.parametrize(("shape", "written", "hint"), [
    (DUTY, "statik", "did you mean 'static'?"),
    (DUTY, "xyz", "write one of stored, static, demonstration"),
    (Flag(), "True", "write yes"),
    (Flag(), "off", "write no"),
    (Identifier(), "Guide Bar (top)", "write guide-bar-top"),
    (WEAR, "0.12 ± 0.02", "write 0.12 ± 0.02 mm"),
    (ListOf(Line()), "rust", "write [rust]"),
])  # fmt: skip
def test_a_problem_says_one_thing_to_try(shape, written, hint):
    assert problem_with(shape, written).hint == hint


def test_a_wear_without_a_unit_points_at_the_number():
    shape = Record((Field("surfaces", MapOf(Identifier(), Record((Field("wear", LongOr(WEAR, ())),)))),))
    assert problems_in(shape, """\
        surfaces:
          bed: {wear: 0.12}
        """) == [("C014", 2, 15)]  # fmt: skip


def test_what_was_left_empty_is_told_once():
    every = (Line(), Words(), Flag(), WEAR, ListOf(Line()), ListOf(Line(), lone=True), MapOf(Line(), Line()),
             Record((Field("x", Line(), required=True),)), LongOr(WEAR, ()), Either(items=ListOf(Line())))  # fmt: skip
    for shape in every:
        assert problems_in(Record((Field("it", shape, required=True),)), "it:\n") == [("C008", 1, 1)]
    assert problems_in(Record((Field("it", ListOf(Line())),)), "it:\n  -\n") == [("C008", 2, 4)]


# ---- records --------------------------------------------------------------------------------------

PART = Record((
    Field("name", Line(), required=True, means="what the part is called"),
    Field("shows_use", LongOr(Flag(), (Field("by", Line()),)), fact=True),
    Field("wear", LongOr(WEAR, (Field("instrument", Line()), Field("date", Day()))), fact=True),
    Field("says", Words()),
))  # fmt: skip


def test_a_record_says_where_each_value_and_its_key_stand():
    value, problems = read(PART, "name: bar\nsays: worn\n")
    assert problems == ()
    assert value is not None
    assert value.where == Location("f.yaml")
    says = value.content["says"]
    assert (says.content, says.where[1:], says.key[1:]) == ("worn", (2, 7, 4, "says"), (2, 1, 4, "says"))


def test_an_unknown_key_is_told_at_the_key_with_the_nearest_known_one():
    _, (problem,) = read(PART, "name: bar\nwaer: 1 mm\n")
    assert (problem.code, problem.where[1:4]) == ("C001", (2, 1, 4))
    assert problem.hint == "did you mean 'wear'?"


def test_a_missing_key_is_told_where_the_record_stands_and_what_it_means():
    shape = Record((Field("parts", ListOf(PART)),))
    value, (problem,) = read(shape, "parts:\n  - name: bar\n  - says: worn\n")
    assert (problem.code, problem.where[1:3], problem.where.at) == ("C002", (3, 5), "parts.2")
    assert problem.hint == "what the part is called"
    assert value is not None
    assert [part.content["name"].content for part in value.content["parts"].content] == ["bar"]


def test_every_missing_key_is_told():
    shape = Record((Field("a", Line(), required=True), Field("b", Line(), required=True)))
    assert problems_in(shape, "{}") == [("C002", 1, 1), ("C002", 1, 1)]


def test_a_record_whose_required_value_is_wrong_does_not_come_back():
    value, problems = read(PART, "name: ''\nsays: worn\n")
    assert value is None
    assert [problem.code for problem in problems] == ["C010"]


def test_a_required_value_that_is_no_fact_cannot_be_unknown():
    value, problems = read(Record((Field("date", Day(), required=True),)), "date: unknown\n")
    assert value is None
    assert [problem.code for problem in problems] == ["C006"]


def test_all_problems_of_a_record_are_told_in_order_of_place():
    assert problems_in(PART, """\
        wear: 0.12
        shows_use: true
        colour: green
        """) == [("C002", 1, 1), ("C014", 1, 7), ("C005", 2, 12), ("C001", 3, 1)]  # fmt: skip


def test_a_key_that_the_reader_of_yaml_refused_is_told_once():
    assert problems_in(PART, "name: bar\non: 2026\n") == [("C028", 2, 1)]
    assert problems_in(PART, "name: bar\n'on': 2026\n") == [("C001", 2, 1)]


def test_keys_that_are_not_known_may_be_let_in():
    value, problems = read(Record((Field("name", Line()),), extra=Flag()), "name: bar\nworn: yes\n")
    assert problems == ()
    assert value is not None
    assert bare(value) == {"name": "bar", "worn": "yes"}


def test_very_many_unknown_keys_are_all_told_but_only_the_first_with_a_suggestion():
    _, problems = read(PART, "name: bar\n" + "".join(f"nam{number}: x\n" for number in range(20_000)))
    assert len(problems) == 20_000
    assert problems[0].hint == "did you mean 'name'?"
    assert problems[-1].hint == ""


# ---- facts: unknown, none and the long form -------------------------------------------------------


@pytest.mark.parametrize("written", ["unknown", "{value: unknown, instrument: depth-gauge}"])
def test_a_fact_said_to_be_unknown_is_the_same_as_one_left_out(written):
    value, problems = read(PART, f"name: bar\nwear: {written}\n")
    assert problems == ()
    assert value is not None
    assert bare(value) == {"name": "bar"}


def test_only_a_fact_may_be_unknown_and_only_unquoted():
    value, _ = read(PART, "name: unknown\n")
    assert value is not None
    assert bare(value) == {"name": "unknown"}
    assert problems_in(PART, "name: bar\nwear: 'unknown'\n") == [("C012", 2, 7)]


def test_a_required_fact_may_be_unknown_but_must_be_written():
    shape = Record((Field("wear", WEAR, required=True, fact=True),))
    assert read(shape, "wear: unknown")[1] == ()
    assert problems_in(shape, "{}") == [("C002", 1, 1)]


def test_a_fact_is_read_alike_in_its_short_and_its_long_form():
    short, _ = read(PART, "name: bar\nwear: 0.12 ± 0.02 mm\n")
    long, problems = read(PART, """\
        name: bar
        wear:
          value: 0.12 ± 0.02 mm
          instrument: depth-gauge
          date: 2026-02-14
        """)  # fmt: skip
    assert problems == ()
    assert short is not None
    assert long is not None
    first, second = short.content["wear"].content, long.content["wear"].content
    assert isinstance(first, Long)
    assert isinstance(second, Long)
    assert first.value.content == second.value.content
    assert first.more == {}
    assert {name: below.content for name, below in second.more.items()} == {
        "instrument": "depth-gauge", "date": date(2026, 2, 14),
    }  # fmt: skip
    assert second.value.where[1:4] == (3, 10, 14)


@pytest.mark.parametrize(("written", "expected"), [
    ("{instrument: depth-gauge}", ("C002", 2, 7)),
    ("{value: 0.12, date: 2026-02-14}", ("C014", 2, 15)),
    ("{value: unknown, date: soon}", ("C006", 2, 30)),
    ("{value: 1 mm, instrumnet: x}", ("C001", 2, 21)),
    ("[1 mm]", ("C004", 2, 7)),
])  # fmt: skip
def test_what_is_wrong_in_the_long_form_is_told_where_it_stands(written, expected):
    assert problems_in(PART, f"name: bar\nwear: {written}\n") == [expected]


# ---- lists, mappings, either ----------------------------------------------------------------------

HAZARDS = Choice(("lead-paint", "asbestos", "none"), "hazard")


def test_a_list_says_where_each_item_stands():
    value, _ = read(Record((Field("it", ListOf(HAZARDS)),)), "it: [lead-paint, asbestos]")
    assert value is not None
    items = value.content["it"].content
    assert [(item.content, item.where.column, item.where.at) for item in items] == [
        ("lead-paint", 6, "it.1"), ("asbestos", 18, "it.2"),
    ]  # fmt: skip


def test_a_wrong_item_is_told_and_the_others_are_kept():
    value, problems = read(Record((Field("it", ListOf(HAZARDS)),)), "it: [lead, asbestos]")
    assert [problem.code for problem in problems] == ["C005"]
    assert value is not None
    assert bare(value) == {"it": ("asbestos",)}


def test_none_closes_a_list_and_a_mapping_that_may_be_none():
    assert content_of(ListOf(HAZARDS, none=True), "none") == ()
    assert content_of(ListOf(HAZARDS, none=True, lone=True), "none") == ()
    assert content_of(MapOf(Identifier(), Line(), none=True), "none") == {}


def test_an_empty_list_is_a_closed_one_too():
    assert content_of(ListOf(HAZARDS), "[]") == ()


def test_one_item_may_stand_without_a_list_where_it_is_allowed():
    assert content_of(ListOf(HAZARDS, lone=True), "asbestos") == ("asbestos",)
    assert problem_with(ListOf(HAZARDS, lone=True), "lead").code == "C005"


def test_a_mapping_keeps_its_order_and_says_where_its_keys_stand():
    value, _ = read(MapOf(Identifier(), Flag()), "z: yes\na: no\n")
    assert value is not None
    assert [(key, below.content, below.key.line) for key, below in value.content.items()] == [
        ("z", "yes", 1), ("a", "no", 2),
    ]  # fmt: skip


def test_a_wrong_key_of_a_mapping_is_told_along_with_what_is_wrong_below_it():
    assert problems_in(MapOf(Identifier(), Flag()), "Bad_Key: maybe\ngood: yes\n") == [("C007", 1, 1), ("C005", 1, 10)]


def test_either_picks_by_what_stands_there():
    shape = Either(text=Flag(), entries=MapOf(Identifier(), Flag()), items=ListOf(Flag()))
    assert content_of(shape, "yes") == "yes"
    assert content_of(shape, "{a: yes}") == {"a": "yes"}
    assert content_of(shape, "[no]") == ("no",)


# ---- problems -------------------------------------------------------------------------------------


def test_problems_come_out_sorted_each_once_with_codes_of_three_digits():
    into = Problems("R")
    into.note(Location("b.yaml"), 7, "x")
    into.note(Location("a.yaml"), 53, "y", "z")
    into.extend([Problem(Location("b.yaml"), "R007", "x")])
    assert [str(problem) for problem in into.all] == ["a.yaml:1:1: R053 y", "b.yaml:1:1: R007 x"]


# ---- the schema -----------------------------------------------------------------------------------

WHOLE = Record((
    Field("title", Line(), required=True, means="what is asked"),
    Field("says", Words()), Field("component", Identifier()), Field("rule", RuleName()), Field("file", FileName()),
    Field("date", Day()), Field("duty", DUTY, fact=True, means="the use wanted"), Field("worn", Flag(), fact=True),
    Field("grade", Choice(("1", "2", "yes", "no"))), Field("wear", LongOr(WEAR, (Field("date", Day()),)), fact=True),
    Field("size", Amount("mm", exact=True)), Field("count", Count()),
    Field("hazards", ListOf(HAZARDS, none=True, lone=True)), Field("marks", MapOf(Identifier(), PART, none=True)),
    Field("test", Either(text=Line(), entries=Record((), extra=Flag()))),
))  # fmt: skip

FULL = """\
title: Take up the slack
says: |
  Two
  lines.
component: 1912
rule: record/hidden-first
file: sheets/wear.svg
date: 2026-03-02
duty: unknown
worn: no
grade: 2
wear: {value: 0.12 ± 0.02 mm, date: 2026-02-14}
size: 3 1/2 in
count: 48
hazards: none
marks:
  stamp: {name: 4, shows_use: yes, wear: unknown}
test: {a: yes, b: no}
"""


def schema() -> Draft202012Validator:
    Draft202012Validator.check_schema(WHOLE.schema())
    return Draft202012Validator(WHOLE.schema())


@pytest.mark.parametrize("loader", [yaml.BaseLoader, yaml.SafeLoader], ids=["as text", "as editors read it"])
def test_the_schema_lets_stand_what_the_shape_reads(loader):
    assert read(WHOLE, FULL)[1] == ()
    document = yaml.load(FULL, Loader=loader)
    document["date"] = document["wear"]["date"] = "2026-03-02"  # a date of Python's is no JSON
    assert [error.message for error in schema().iter_errors(document)] == []


@pytest.mark.parametrize("line", [
    "titel: x", "component: Guide_Bar", "rule: hidden", "file: ../x", "file: /x", "duty: running", "worn: maybe",
    "wear: {date: 2026-02-14}", "wear: worn", "count: -1", "count: 010", "hazards: [lead]", "marks: [a]",
    "marks: {A: {name: x}}", "marks: {a: {says: x}}", "test: [a]", "says: {a: b}",
])  # fmt: skip
def test_the_schema_refuses_what_the_shape_refuses(line):
    text = f"title: x\n{line}\n"
    assert read(WHOLE, text)[1] != ()
    assert list(schema().iter_errors(yaml.load(text, Loader=yaml.BaseLoader))) != []


def test_the_schema_carries_what_each_key_means():
    properties = WHOLE.schema()["properties"]
    assert isinstance(properties, dict)
    assert properties["title"]["description"] == "what is asked"
    assert properties["duty"]["description"] == "the use wanted"


ONES = (Line(), Words(), Identifier(), RuleName(), FileName(), Day(), DUTY, Flag(), WEAR, Count())


@given(st.sampled_from(ONES), st.one_of(
    st.text(max_size=20), st.from_regex(r"\A[a-z0-9/.-]{1,12}\Z"), st.from_regex(r"\A[0-9]{4}-[0-9]{2}-[0-9]{2}\Z"),
    st.from_regex(r"\A[0-9]{1,3} ?(± ?0\.[0-9] )?(mm|in|kg)\Z"), st.sampled_from(["yes", "no", "static", "7"]),
))  # fmt: skip
def test_whatever_a_shape_reads_its_schema_lets_stand(shape, text):
    quoted = "'" + text.replace("'", "''") + "'"
    value, problems = read(Record((Field("it", shape),)), f"it: {quoted}")
    if value is not None and value.content:
        assert Draft202012Validator(shape.schema()).is_valid(text.strip())
    else:
        assert problems != ()
