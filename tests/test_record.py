"""The record: what it holds, in what order, and that no text in a casebook can start markup in it."""

from __future__ import annotations

from pathlib import Path

import markdown
import pytest
from helpers import CLOCK, DEMO, clock, clock_rules, demo, golden, shipped_rules
from hypothesis import given
from hypothesis import strategies as st

from conserve.casebook import Casebook
from conserve.files import Folder
from conserve.record import markdown_record, write_records
from conserve.record.markdown import Ready, escaped, front, place, row
from conserve.rulebook import Rulebook
from conserve.weighing import Weighing, weigh, weigh_all

# The casebooks that travel with the program, each with the rules it is weighed by.
BOOKS = [(DEMO, demo(), shipped_rules()), (CLOCK, clock(), clock_rules())]
RECORDS = [(folder, book, rules, p.id) for folder, book, rules in BOOKS for p in book.proposals]
each_casebook = pytest.mark.parametrize(
    ("casebook", "rulebook"), [(book, rules) for _, book, rules in BOOKS], ids=[folder.name for folder, _, _ in BOOKS]
)


def weighed(name: str) -> Weighing:
    proposal = demo().proposal(name)
    assert proposal is not None
    return weigh(proposal, demo(), shipped_rules())


@pytest.mark.parametrize(
    ("folder", "casebook", "rulebook", "name"), RECORDS, ids=[f"{folder.name}/{name}" for folder, _, _, name in RECORDS]
)
def test_the_golden_records_are_what_is_written_today(folder: Path, casebook: Casebook, rulebook: Rulebook, name: str):
    """Made by `conserve record casebook/marrow-fen` and its like; a change here is reviewed as a diff."""
    proposal = casebook.proposal(name)
    assert proposal is not None
    golden = folder / "records" / f"{name}.md"
    assert golden.read_text(encoding="utf-8") == markdown_record(weigh(proposal, casebook, rulebook), rulebook)


@pytest.mark.parametrize(
    ("folder", "casebook"), [(folder, book) for folder, book, _ in BOOKS], ids=[folder.name for folder, _, _ in BOOKS]
)
def test_no_golden_record_is_left_of_a_proposal_that_is_gone(folder: Path, casebook: Casebook):
    assert {path.stem for path in (folder / "records").glob("*.md")} == {p.id for p in casebook.proposals}


def test_the_sections_stand_in_the_order_in_which_a_trustee_reads():
    text = golden("crosshead-slipper")
    heads = [line[3:] for line in text.splitlines() if line.startswith("## ")]
    assert heads == [
        "Hazards and cautions", "The need", "What is there", "Options weighed", "Why not less", "How far the numbers may move",
        "What is lost, kept and added", "Objections and answers", "Requirements", "Workings", "The work", "Evidence",
        "Sources of practice", "What is not known", "Who",
    ]  # fmt: skip


@each_casebook
def test_every_record_says_that_it_certifies_nothing(casebook: Casebook, rulebook: Rulebook):
    for proposal in casebook.proposals:
        assert "It certifies nothing" in golden(proposal.id)


def test_a_caution_stands_before_any_method():
    text = golden("pump-davit")
    assert text.index("A lifting examiner must say") < text.index("Welding, the arm")


def test_a_decision_against_the_verdict_is_what_a_reader_sees_first():
    weighing = weighed("eccentric-rod-braze")
    assert not weighing.verdict.stands
    assert "**Not justified (grind-flush).**" in golden("eccentric-rod-braze")


def test_as_left_stands_beside_what_was_promised():
    text = golden("crosshead-slipper")
    row_of = next(line for line in text.splitlines() if "0.22 ± 0.04 mm" in line)
    assert "0.20 ± 0.04 mm" in row_of
    assert "agrees" in row_of


@each_casebook
def test_a_clause_cited_from_memory_says_so(casebook: Casebook, rulebook: Rulebook):
    sources = rulebook.sources.values()
    unread = {(s.id, clause) for s in sources for clause, (_, read) in s.gists.items() if read == "no"}
    for weighing in weigh_all(casebook, rulebook):
        cited = {(c.source, c.clause) for o in [weighing.worst.option(weighing.chosen)] for s in o.settled
                 for c in s.finding.rule.sources}
        said = golden(weighing.proposal.id)
        assert ("Cited from memory" in said) == bool(cited & unread)


def test_records_are_written_with_their_proofs(tmp_path: Path):
    written = write_records(Folder(tmp_path), [weighed("stud-17")], shipped_rules(), html=False)
    assert written == ("records/stud-17.md", "records/stud-17.json")
    assert all((tmp_path / name).stat().st_size > 1000 for name in written)


# ---- escaping -----------------------------------------------------------------------------------------

nasty = st.text(
    alphabet=st.sampled_from(list("ab1 .)|<>&*_[]()`#+-=~:!\\\"'\n\r\t{}%$/")), max_size=40
) | st.text(max_size=40)


@given(nasty)
def test_a_value_stays_on_one_line_and_starts_no_block(text: str):
    said = escaped(text)
    assert "\n" not in said
    html = markdown.markdown(said, extensions=["tables"])
    for tag in ("<h", "<ul", "<ol", "<table", "<pre", "<hr", "<blockquote", "<img", "<a ", "<em", "<strong", "<code"):
        assert tag not in html, (said, html)


@given(nasty)
def test_no_value_brings_in_html(text: str):
    html = markdown.markdown(escaped(text))
    assert "<" not in html.replace("<p>", "").replace("</p>", "")


@given(st.lists(nasty, min_size=1, max_size=4))
def test_a_row_keeps_its_cells(cells: list[str]):
    head = [f"c{n}" for n in range(len(cells))]
    text = "\n".join((row(head), f"|{' --- |' * len(head)}", row(cells)))
    html = markdown.markdown(text, extensions=["tables"])
    assert html.count("<td") == len(cells)
    assert html.count("<tr") == 2


@given(nasty)
def test_front_matter_is_one_yaml_scalar_a_value(text: str):
    import yaml

    printable = "".join(c for c in text if c.isprintable())
    said = yaml.safe_load(f"key: {front(printable)}")
    assert str(said["key"]) == " ".join(printable.split())


def test_a_template_refuses_a_name_it_does_not_know():
    from jinja2 import UndefinedError

    class Empty:
        front = ()

    with pytest.raises(UndefinedError):
        place(Empty())


def test_text_that_is_markdown_already_is_left_alone():
    assert escaped(Ready("**as it is**")) == "**as it is**"
