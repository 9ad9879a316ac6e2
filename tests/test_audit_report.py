"""How an audit is told: as a document, as data, and a part of it."""

from __future__ import annotations

import json
from dataclasses import replace

from audited import ALTERED, CHAIN, HOSTILE, LATE, answers, audit_with, decision, rich
from hypothesis import given
from hypothesis import strategies as st

from conserve.audit.data import SCHEMA, about_one, as_data, with_points
from conserve.audit.model import GRAVITY, Asked, Kind, Point
from conserve.audit.report import in_a_word, report
from conserve.statement import html, markdown
from conserve.statement.model import Document, Grid, Items, Prose, Row, Section, told
from conserve.truth import Truth


def section(document: Document, name: str) -> Section:
    return next(one for one in document.sections if one.id == name)


def texts(document: Document) -> tuple[str, ...]:
    return tuple(one.says for one in told(document))


# ---- what comes first --------------------------------------------------------------------------------------------


def test_what_it_is_not_comes_first_then_what_needs_eyes_then_figures_then_each_decision():
    document = report(rich())
    assert document.cautions[0].startswith("An audit certifies nothing.")
    names = [one.id for one in document.sections]
    assert names == ["eyes", "eyes-1", "eyes-2", "eyes-3", "figures", "decisions", "decision-slack", "decision-stud"]
    assert [one.level for one in document.sections] == [2, 3, 3, 3, 2, 2, 3, 3]


def test_points_stand_with_their_proposal_and_their_place_the_most_serious_first():
    document = report(rich())
    titles = [one.title for one in document.sections if one.id.startswith("eyes-")]
    assert titles == [
        "The chain is not whole (1)",
        "A fact was altered after the seal (1)",
        "Overdue (1)",
    ]
    (points,) = section(document, "eyes-2").blocks
    assert isinstance(points, Items)
    assert [one.says for one in points.items] == [f"slack: {ALTERED.says} (components/slide.yaml:4)"]


def test_it_says_how_much_was_changed_and_how_much_else_there_is():
    (said,) = section(report(rich()), "eyes").blocks
    assert said.says == "2 things were changed, or come out otherwise than they were sealed. 1 thing more needs somebody to look."
    (said,) = section(report(audit_with(decision("slack"))), "eyes").blocks
    assert said.says == "Nothing was found to be changed since it was sealed. Nothing else was found that needs a person's eyes."


def test_where_nothing_is_sealed_nobody_is_told_that_nothing_was_changed():
    document = report(audit_with(replace(decision("slack"), sealed=()), entries=0, code=""))
    (said,) = section(document, "eyes").blocks
    assert said.says.startswith("Nothing is sealed, so that nobody can tell what was changed.")
    assert document.cautions[-1].startswith("Nothing is sealed here")
    assert dict(document.front)["seals"] == "none"


def test_the_code_is_told_with_what_to_do_and_a_chain_that_is_not_whole_has_none():
    assert "3-K7QM" in report(audit_with(decision("slack"))).cautions[-1]
    assert report(rich()).cautions[-1] == "Today there is no code, for the chain is not whole."


# ---- figures and decisions ---------------------------------------------------------------------------------------


def test_every_question_is_counted_by_its_answers_and_each_row_adds_up():
    *_, grid = section(report(rich()), "figures").blocks
    assert isinstance(grid, Grid)
    assert [row.cells[0] for row in grid.rows] == [str(one) for one in Asked]
    assert all(sum(map(int, row.cells[1:])) == 2 for row in grid.rows)
    rows = {row.id: row.cells[1:] for row in grid.rows}
    assert rows["inputs"] == ("1", "1", "0", "0")
    assert rows["remade"] == ("1", "0", "1", "0")
    assert rows["as-left"] == ("1", "0", "0", "1")


def test_each_decision_has_a_line_for_each_question_with_the_answer_in_words_and_why():
    what, grid = section(report(rich()), "decision-slack").blocks
    assert isinstance(what, Prose) and isinstance(grid, Grid)
    assert "chosen on 2026-03-09 by N. Garrow." in what.says and "sealed in entry 1 and 3." in what.says
    assert "looked at closely: cannot be undone: welding and high significance." in what.says
    cells = {row.id: row.cells for row in grid.rows}
    assert len(cells) == len(Asked)
    assert cells["inputs"] == (str(Asked.INPUTS), "no", "Because of inputs.")
    assert cells["as-left"][1] == "does not arise" and cells["remade"][1] == "cannot tell"


def test_an_audit_of_nothing_says_so():
    document = report(audit_with(entries=0, code=""))
    (said,) = section(document, "decisions").blocks
    assert said.says == "Nothing is decided, nothing was begun, and nothing was ever sealed."


def test_every_answer_has_words_of_its_own():
    said = [in_a_word(one) for one in (Truth.YES, Truth.NO, Truth.UNKNOWN, None)]
    assert len(set(said)) == 4


def test_what_else_was_asked_stands_between_the_figures_and_the_decisions_without_its_sources():
    row = Row("a", ("a", "b"), ("rules/x",))
    blocks = (Prose("one", "So.", ("x",)), Items("some", (Prose("it", "It.", ("y",)),)), Grid("grid", "All", ("h", "i"), (row,)))
    document = report(rich(), [Section("sample", "For review", blocks)])
    names = [one.id for one in document.sections]
    assert names.index("sample") == names.index("figures") + 1 == names.index("decisions") - 1
    assert {name for one in told(document) for name in one.made_from} == set()


# ---- told --------------------------------------------------------------------------------------------------------


def test_words_of_a_casebook_never_become_markup():
    page, text = html(report(rich()), {}), markdown(report(rich()))
    assert "<b>bold" not in page and "{{ x }}" in page and 'href="http' not in page
    assert "\n# no" not in text and "<b>" not in text and "](http" not in text.replace("\\](", "")
    assert HOSTILE not in text


def test_a_report_names_no_sources_and_calls_itself_a_report():
    page, text = html(report(rich()), {}), markdown(report(rich()))
    for said in (page, text):
        assert "statement" not in said.replace("printed statement", "").replace('"statement"', "").replace("#statement", "")
        assert not any(one in said for one in ("What this was made from", "Made from", "made from |", '"made from"'))
        assert "digest" not in said
    assert "In this report" in page and "<script" not in page


def test_telling_it_twice_gives_the_same_bytes():
    assert html(report(rich()), {}) == html(report(rich()), {})
    assert markdown(report(rich())) == markdown(report(rich()))


# ---- as data -----------------------------------------------------------------------------------------------------


def test_as_data_it_is_all_there_and_plain():
    data = as_data(rich(), {"sample": [1]})
    assert json.loads(json.dumps(data, sort_keys=True)) == data
    assert data["schema"] == SCHEMA == "conserve-audit-1" and data["sample"] == [1]
    assert data["alters"] is True and data["witness"] is None
    assert [one["where"] for one in data["points"]] == ["chain.jsonl:2", "components/slide.yaml:4", "proposals/stud.yaml:1"]
    slack, stud = data["decisions"]
    assert set(slack["answers"]) == {one.name.lower() for one in Asked}
    assert [slack["answers"][one]["answer"] for one in ("inputs", "remade", "as_left", "sealed")] == ["no", "unknown", None, "yes"]
    assert slack["on"] == "2026-03-09" and stud["points"][0]["says"] == LATE.says


def test_what_else_was_asked_never_takes_the_place_of_what_an_audit_says():
    assert as_data(rich(), {"points": [], "schema": "x"}) == as_data(rich())


# ---- a part of it ------------------------------------------------------------------------------------------------


def test_of_one_decision_there_is_what_is_said_of_it_and_of_the_whole_chain():
    one = about_one(rich(), "stud")
    assert one is not None
    assert [point.kind for point in one.points] == [Kind.CHAIN, Kind.OVERDUE]
    assert [found.proposal for found in one.decisions] == ["stud"]
    assert one.figures["looked at"] == 1 and one.figures["points"] == 2 and one.figures["notes"] == 1
    assert about_one(rich(), "nothing") is None


POINTS = st.lists(st.builds(Point, st.sampled_from(Kind), st.sampled_from(("A.", "B.")), st.sampled_from(("slack", ""))))


@given(POINTS)
def test_points_that_are_added_are_counted_and_put_in_order_by_gravity(points):
    found = with_points(rich(), points)
    assert set(found.points) == {*rich().points, *points} and CHAIN in found.points
    assert found.figures["points"] == len(found.points) == len(set(found.points))
    assert [GRAVITY[one.kind] for one in found.points] == sorted(GRAVITY[one.kind] for one in found.points)
    assert found.figures["notes"] == rich().figures["notes"]
    document = report(found)
    assert sum(len(one.blocks[0].items) for one in document.sections if one.id.startswith("eyes-")) == len(found.points)


@given(st.fixed_dictionaries({one.name.lower(): st.sampled_from((*Truth, None)) for one in Asked}))
def test_no_answer_is_lost_whatever_it_is(said):
    one = replace(decision("slack"), answers=answers(**said))
    _, grid = section(report(audit_with(one)), "decision-slack").blocks
    assert [row.cells[1] for row in grid.rows] == [in_a_word(said[asked.name.lower()]) for asked in Asked]
