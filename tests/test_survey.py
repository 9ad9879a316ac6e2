"""What to find out next, as a sheet: what stands on it, and that a filled sheet says what was left out."""

from __future__ import annotations

import csv
import io
import json
import re
import shutil
from functools import lru_cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path

import pytest
from helpers import DEMO, casebook_of, clock, clock_rules, demo, every_weighing, read, rules_in, shipped_rules, weighed

from conserve.casebook import Casebook, Stated
from conserve.casebook.surveys import COLUMNS
from conserve.cli import main
from conserve.files import FileRefused, Folder, WithMore
from conserve.quantity import Quantity
from conserve.rulebook import Rulebook
from conserve.survey import Survey, merged, rounds, survey_of
from conserve.survey.sheets import csv_sheet, html_sheet, markdown_sheet
from conserve.survey.telling import NOTHING_OPEN, sheet_of
from conserve.terms import Giver

# Facts that a person tells of a part or of a thing on it, each on a line of its own in the demonstrations.
TOLD = ("function", "shows_use", "active", "soundness", "finish", "cause", "material", "hazards", "significance")
TOLD += ("role", "examined", "diameter", "wear", "made_to_be_renewed", "rarity")


def rows_of(text: str) -> list[dict[str, str]]:
    return list(csv.DictReader(io.StringIO(text)))


def left_out(root: Path, folder: Path, component: str, *words: str) -> Folder:
    """A copy of a demonstration in which nobody has written some facts of one component and of what is on it."""
    shutil.copytree(folder, root, ignore=shutil.ignore_patterns("records"))
    path = root / "components" / f"{component}.yaml"
    lines = path.read_text(encoding="utf-8").splitlines(keepends=True)
    gone = re.compile(rf" *(?:{'|'.join(words)}): *[^ |>\n]")
    kept = [line for line in lines if not gone.match(line)]
    assert len(kept) < len(lines)
    path.write_text("".join(kept), encoding="utf-8")
    return Folder(root)


def known(casebook: Casebook, row: dict[str, str]) -> tuple[Stated, ...]:
    """What a casebook says of what a row asks."""
    if row["component"] == "object":
        return casebook.object.facts.get(row["term"], ())
    part = casebook.components[row["component"]]
    if not row["where"]:
        return part.facts.get(row["term"], ())
    kind, _, name = row["where"].rpartition("/")
    thing = part.thing(kind.removesuffix("s") or "surface", name)
    assert thing is not None
    return thing.facts.get(row["term"], ())


def filled(rows: list[dict[str, str]], casebook: Casebook) -> list[dict[str, str]]:
    """The rows with every answer that a casebook knows; of several readings, the first."""
    found = []
    for row in rows:
        for stated in known(casebook, row)[:1]:
            row = {**row, **answer_of(stated), "date": "2026-01-05", "by": "A. Name"}
        found.append(row)
    return found


def answer_of(stated: Stated) -> dict[str, str]:
    value = stated.values[0] if stated.values else "none"
    if not isinstance(value, Quantity):
        return {"answer": "; ".join(map(str, stated.values)) or "none"}
    spread = "" if value.uncertainty is None else str(value.uncertainty)
    return {"answer": str(value.amount), "plus_minus": spread, "unit": value.unit}


def as_csv(rows: list[dict[str, str]]) -> str:
    written = io.StringIO()
    sheet = csv.DictWriter(written, COLUMNS, lineterminator="\n")
    sheet.writeheader()
    sheet.writerows(rows)
    return written.getvalue()


def with_answers(markdown: str, rows: list[dict[str, str]]) -> str:
    """A Markdown sheet with answers written into the cells of its rows, as somebody would with a pen."""
    answers = {(row["component"], row["where"], row["term"]): row for row in rows}
    lines = []
    for line in markdown.splitlines():
        cells = [cell.strip() for cell in line.strip("|").split("|")]
        row = answers.get(tuple(cells[:3])) if len(cells) == len(COLUMNS) else None
        if row:
            kept = ("component", "where", "term", "question", "cost", "note")
            cells = [cell if name in kept else row[name] for name, cell in zip(COLUMNS, cells, strict=True)]
            line = f"| {' | '.join(cells)} |"
        lines.append(line)
    return "\n".join(lines) + "\n"


def book_survey(casebook: Casebook, rulebook: Rulebook) -> Survey:
    return merged(tuple(survey_of(weighed(casebook, one.id, rulebook), rulebook) for one in casebook.proposals))


@lru_cache(maxsize=1)
def demo_survey() -> Survey:
    return book_survey(demo(), shipped_rules())


@lru_cache(maxsize=1)
def sparse() -> tuple[Casebook, Survey]:
    """A small casebook in which little is known, and what to find out in it."""
    import tempfile

    with tempfile.TemporaryDirectory() as root:
        casebook = casebook_of(Path(root), SMALL)
        return casebook, book_survey(casebook, shipped_rules())


SMALL = {
    "components/bar.yaml": """\
        name: "=HYPERLINK(cmd) bar | <b>top</b>"
        phase: as-built
        surfaces:
          face: {function: sliding}
        """,
    "components/arm.yaml": """\
        name: Arm
        phase: as-built
        """,
    "proposals/slack.yaml": """\
        title: Take up the *slack* | <i>now</i>
        component: bar
        needs:
          fit:
            kind: function
            says: It runs.
            test: {component.running_clearance: {between: [0.10 mm, 0.40 mm]}}
            set_by: the sheet
        options:
          leave:
            acts: []
          skim:
            acts:
              - {technique: milling, where: face, depth: 0.20 ± 0.05 mm}
        preferred: leave
        """,
    "proposals/tidy.yaml": """\
        title: Tidy the bar
        component: bar
        needs:
          seen: {kind: function, says: It shows., test: {component.examined: "yes"}, set_by: the sheet}
        options:
          leave:
            acts: []
        preferred: leave
        """,
    "proposals/arm.yaml": """\
        title: Mend the arm
        component: arm
        needs:
          sound: {kind: function, says: It holds., test: {component.examined: "yes"}, set_by: the sheet}
        options:
          leave:
            acts: []
        preferred: leave
        """,
}


# ---- there and back -------------------------------------------------------------------------------------


LEFT_OUT = [
    ("crosshead-slipper", "crosshead-slipper-top", TOLD),
    ("slide-valve-face", "slide-valve", TOLD),
    ("pump-door", "pump-door", TOLD),
    ("bed-rust", "bed-frame", TOLD),
    ("rocking-lever-eye", "rocking-lever", TOLD),
    ("stud-17", "studs", TOLD),
    ("slide-lubricator", "slide-lubricator", TOLD),
    ("crankshaft-journal", "crankshaft", TOLD),
]


@pytest.mark.parametrize(("proposal", "component", "words"), LEFT_OUT, ids=[one[0] for one in LEFT_OUT])
def test_a_filled_sheet_brings_back_the_verdict_that_the_facts_left_out_had_given(
    tmp_path, proposal, component, words
):
    folder = left_out(tmp_path / "book", DEMO, component, *words)
    before = weighed(read(folder), proposal)
    survey = survey_of(before, shipped_rules())
    assert survey.asks
    rows, whole = filled(rows_of(csv_sheet(survey)), demo()), every_weighing()[proposal]
    assert before.verdicts != whole.verdicts
    for name, text in (("first.csv", as_csv(rows)), ("first.md", with_answers(markdown_sheet(survey), rows))):
        folder.write(f"surveys/{name}", text)
        after = weighed(read(folder), proposal)
        assert after.verdicts == whole.verdicts
        assert (after.verdict, after.chosen) == (whole.verdict, whole.chosen)
        (folder.root / "surveys" / name).unlink()


@pytest.mark.parametrize("form", ["csv", "markdown"])
def test_a_sheet_that_nobody_has_filled_in_changes_nothing(tmp_path, form):
    root = Path(shutil.copytree(DEMO, tmp_path / "book", ignore=shutil.ignore_patterns("records")))
    text = csv_sheet(demo_survey()) if form == "csv" else markdown_sheet(demo_survey())
    Folder(root).write(f"surveys/empty.{'csv' if form == 'csv' else 'md'}", text)
    there = read(Folder(root))
    assert (there.components.keys(), there.as_at) == (demo().components.keys(), demo().as_at)
    for proposal in ("governor-bush", "flywheel-hub", "big-end-slack"):
        assert weighed(there, proposal).verdicts == every_weighing()[proposal].verdicts


def test_a_name_that_a_spreadsheet_would_run_is_harmless_and_the_sheets_are_read_back(tmp_path):
    survey = sparse()[1]
    casebook = casebook_of(tmp_path, {**SMALL, "surveys/one.csv": csv_sheet(survey), "surveys/two.md": markdown_sheet(survey)})
    assert casebook.components["bar"].facts == {}
    cells = [cell for row in rows_of(csv_sheet(survey)) for cell in row.values()]
    assert cells and not [cell for cell in cells if cell[:1] in tuple("=+-@\t\r")]
    assert any("=HYPERLINK(cmd) bar | <b>top</b>" in cell for cell in cells)


def test_a_question_that_begins_as_a_formula_does_stands_behind_a_quote(tmp_path):
    words = (Path(__file__).parent.parent / "rules/terms.yaml").read_text(encoding="utf-8")
    asked = re.search(r"component.examined:\n(?:    .*\n)*?    ask: (.*)\n", words)
    assert asked
    rules = Path(shutil.copytree(Path(__file__).parent.parent / "rules", tmp_path / "rules"))
    (rules / "terms.yaml").write_text(words.replace(asked[0], asked[0].replace(asked[1], '"=cmd() {component}?"')), encoding="utf-8")
    rulebook = rules_in(Folder(rules))
    survey = book_survey(casebook_of(tmp_path / "book", SMALL, rulebook), rulebook)
    cells = [row["question"] for row in rows_of(csv_sheet(survey)) if row["term"] == "component.examined"]
    assert cells and all(cell.startswith("'=cmd()") for cell in cells)
    assert "| =cmd()" not in markdown_sheet(survey)
    there = {**SMALL, "surveys/one.csv": csv_sheet(survey), "surveys/two.md": markdown_sheet(survey)}
    casebook_of(tmp_path / "again", there, rulebook)


# ---- what stands on it ----------------------------------------------------------------------------------


def test_only_what_a_person_may_answer_there_is_a_row():
    terms = shipped_rules().vocabulary.terms
    for survey in (demo_survey(), sparse()[1]):
        assert survey.asks
        for ask in survey.asks:
            term = terms.get(ask.term)
            if term is None:
                assert ask.term in ("surfaces", "marks", "repairs", "defects")
            else:
                assert term.giver is Giver.PERSON and not term.stated_by and not term.chosen
                assert term.owner not in ("act", "option", "proposal")
                assert ask.unit == term.unit


def test_what_a_competent_person_must_report_is_told_apart_and_never_a_row():
    survey = demo_survey()
    reported = " ".join(told.question for told in survey.reports)
    assert "What has a lifting examiner concluded about the pump cover davit?" in reported
    assert {told.file for told in survey.reports} == {"evidence/register.yaml"}
    assert not [told for told in survey.proposer if "fit " in told.question]
    assert not {"component.fit_to_run", "component.fit_for_lifting"} & {ask.term for ask in survey.asks}


def test_what_only_the_proposer_can_say_names_the_file_it_is_written_in():
    (told,) = demo_survey().proposer
    assert told.question == "What will the diameter of the bore be after 'new-bush'?"
    assert told.file == "proposals/governor-bush.yaml"


def test_what_settles_most_for_its_cost_comes_first():
    for survey in (demo_survey(), sparse()[1]):
        ranks = [ask.rank for ask in survey.asks]
        assert ranks == sorted(ranks, reverse=True) and len(set(ranks)) > 1


def test_a_number_known_but_not_closely_enough_says_how_closely_it_must_be():
    (ask,) = (ask for ask in demo_survey().asks if ask.term == "component.running_clearance")
    (line,) = (line for group in sheet_of(demo_survey()).groups for line in group.lines if line.term == ask.term)
    assert "± 0.036 mm" in line.question + line.precise
    assert (line.question + line.precise).count("± 0.036 mm") == 1


def test_a_number_that_nobody_has_measured_says_what_it_is_held_against(tmp_path):
    (ask,) = (ask for ask in sparse()[1].asks if ask.term == "component.running_clearance")
    assert "it is held against: between 0.10 mm and 0.40 mm" in ask.serves[0].precise


def test_each_thing_is_asked_once_for_all_the_proposals_that_it_serves():
    casebook, survey = sparse()
    slots = [ask.slot for ask in survey.asks]
    assert len(slots) == len(set(slots))
    (ask,) = (ask for ask in survey.asks if ask.slot == ("bar", "", "component.examined"))
    alone = [survey_of(weighed(casebook, name), shipped_rules()) for name in ("slack", "tidy")]
    settled = [one.serves[0].settles for each in alone for one in each.asks if one.slot == ask.slot]
    assert [one.proposal for one in ask.serves] == ["slack", "tidy"]
    assert sum(one.settles for one in ask.serves) == pytest.approx(sum(settled))


def test_one_goes_round_the_machine_once():
    for survey in (demo_survey(), sparse()[1]):
        components = [row["component"] for row in rows_of(csv_sheet(survey))]
        runs = [name for at, name in enumerate(components) if at == 0 or components[at - 1] != name]
        assert runs == [one.component for one in rounds(survey)]
        assert len(runs) == len(set(runs)) > 1


def test_what_cannot_change_a_verdict_is_named_and_is_no_row():
    survey = demo_survey()
    assert survey.idle
    assert not {one.slot for one in survey.idle} & {ask.slot for ask in survey.asks}
    assert "Do not spend time on these" in markdown_sheet(survey)


def test_cautions_come_before_every_question():
    survey = demo_survey()
    for text in (markdown_sheet(survey), html_sheet(survey)):
        assert text.index("Take the load off the part") < text.index("What is the diameter of the bore")
        assert text.index("There is asbestos in or on the steam pipe lagging") < text.index("component.running_clearance")


def test_a_caution_that_several_parts_share_is_told_once_and_names_them():
    told = [said for said in sheet_of(demo_survey()).cautions if "before it turns, and say at what speed" in said]
    assert told == [
        "Have a competent engineer judge the work on the part before it turns, and say at what speed. "
        "So for: Flywheel hub and key and Lower bush of the governor."
    ]


def test_every_caution_that_a_part_has_stands_on_the_sheet():
    sheet = sheet_of(demo_survey())
    said = " ".join((*sheet.cautions, *sheet.may_apply))
    for caution in demo_survey().cautions:
        assert caution.says in said or caution.name in said


def test_the_span_names_a_case_that_reaches_each_end_and_whether_it_is_exact():
    (about,) = (one for one in demo_survey().about if one.proposal == "governor-bush")
    (reach,) = about.reaches
    assert (reach.option, reach.worst, reach.best, reach.exact) == ("leave", "not justified", "justified", True)
    assert len([said for said in reach.says if ", if " in said]) == 2


def test_where_nothing_is_open_one_sentence_says_so():
    survey = survey_of(every_weighing()["tray-bracket"], shipped_rules())
    assert survey.nothing_open
    assert csv_sheet(survey) == f"{','.join(COLUMNS)}\n"
    for text in (markdown_sheet(survey), html_sheet(survey)):
        assert text.count(NOTHING_OPEN) == 1
        assert "What to find out</" not in text and "## What to find out" not in text


def test_what_no_finding_out_settles_is_told_to_whoever_puts_it_forward():
    survey = survey_of(every_weighing()["dial"], clock_rules())
    assert survey.nothing_open
    assert "Read the layers on the face edge-on in one small sample" in markdown_sheet(survey)


def test_a_whole_casebook_with_overlays_is_surveyed():
    survey = book_survey(clock(), clock_rules())
    assert [one.proposal for one in survey.about] == sorted(one.id for one in clock().proposals)
    assert {ask.slot for ask in survey.asks} == {("strike-hook", "defects/throat-line", "defect.cause")}


# ---- the same every time ----------------------------------------------------------------------------------


def test_the_same_casebook_gives_the_same_bytes_whatever_the_order_of_its_proposals():
    survey = demo_survey()  # of the proposals in their own order
    again = merged(tuple(survey_of(weighed(demo(), one.id), shipped_rules()) for one in reversed(demo().proposals)))
    assert csv_sheet(again) == csv_sheet(survey)
    assert markdown_sheet(again) == markdown_sheet(survey)
    assert html_sheet(survey) == html_sheet(book_survey(demo(), shipped_rules()))


# ---- the page -------------------------------------------------------------------------------------------


class Seen(HTMLParser):
    """The tags of a page with their attributes, and all its words; every tag must be closed."""

    def __init__(self, text: str) -> None:
        super().__init__()
        self.tags: list[tuple[str, dict[str, str | None]]] = []
        self.words = ""
        self.open: list[str] = []
        self.feed(text)
        self.close()
        assert self.open == []

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, dict(attrs)))
        if tag not in ("meta", "link", "br"):
            self.open.append(tag)

    def handle_endtag(self, tag: str) -> None:
        assert self.open.pop() == tag

    def handle_data(self, data: str) -> None:
        self.words += data


@pytest.mark.parametrize("which", ["demo", "sparse"])
def test_the_page_holds_every_question_and_nothing_that_runs_or_is_fetched(which):
    survey = demo_survey() if which == "demo" else sparse()[1]
    page = Seen(html_sheet(survey))
    assert not {"script", "iframe", "img", "object", "b", "i", "form"} & {tag for tag, _ in page.tags}
    assert not [name for _, given in page.tags for name in given if name.startswith("on")]
    assert [given for tag, given in page.tags if tag == "link"] == [{"rel": "icon", "href": "data:,"}]
    for ask in survey.asks:
        assert ask.question in page.words
        assert all(value in page.words for value in ask.values)


def test_the_page_says_what_a_screen_reader_needs():
    page = Seen(html_sheet(sparse()[1]))
    assert ("html", {"lang": "en-GB"}) in page.tags
    levels = [int(tag[1]) for tag, _ in page.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after - before <= 1 for before, after in pairwise(levels))
    heads = [given for tag, given in page.tags if tag == "th"]
    assert heads and all(given["scope"] in ("col", "row") for given in heads)
    assert all(given["data-label"] for tag, given in page.tags if tag == "td")
    ids = [given["id"] for _, given in page.tags if "id" in given]
    assert len(ids) == len(set(ids))
    assert {given["aria-labelledby"] for _, given in page.tags if "aria-labelledby" in given} <= set(ids)


# ---- the command ----------------------------------------------------------------------------------------


# What the tests below ask about, and what the histories of parts name.
ASKED = ("big-end-slack", "governor-bush", "tray-bracket", "flywheel-hub", "crosshead-slipper", "stud-17", "pump-davit",
         "crankshaft-journal")  # fmt: skip


@pytest.fixture
def book(tmp_path, monkeypatch) -> Path:
    """A copy of the demonstration with a few of its proposals, and the current folder above it."""
    shutil.copytree(DEMO, tmp_path / "casebook/marrow-fen", ignore=shutil.ignore_patterns("records", "statement"))
    for path in (tmp_path / "casebook/marrow-fen/proposals").iterdir():
        if path.stem not in ASKED:
            path.unlink()
    monkeypatch.chdir(tmp_path)
    return tmp_path / "casebook/marrow-fen"


def test_it_tells_on_a_screen_what_to_find_out_first(capsys, book):
    assert main(["survey", "governor-bush"]) == 0
    told = capsys.readouterr().out
    assert "What is the diameter of the bore" in told
    assert "What will the diameter of the bore be after 'new-bush'?" in told
    assert told.index("! ") < told.index("What is the diameter")
    assert main(["survey", "tray-bracket"]) == 0
    assert NOTHING_OPEN in capsys.readouterr().out


@pytest.mark.parametrize(
    ("name", "begins"),
    [("a.csv", "component,where,term,"), ("a.md", "# What to find out"), ("a.html", "<!DOCTYPE html>"), ("a.txt", "What")],
)
def test_the_name_of_the_file_says_how_it_is_written_and_nothing_is_overwritten(capsys, book, name, begins):
    assert main(["survey", "big-end-slack", "--out", name]) == 0
    assert "1 question" in capsys.readouterr().out
    assert Path(name).read_text(encoding="utf-8").lstrip().startswith(begins)
    Path(name).write_text("filled in", encoding="utf-8")
    assert main(["survey", "big-end-slack", "--out", name]) == 2
    assert "left as it is" in capsys.readouterr().err
    assert Path(name).read_text(encoding="utf-8") == "filled in"


def test_what_is_printed_is_what_is_written(capsys, book):
    for form, name in (("csv", "a.csv"), ("markdown", "a.md"), ("html", "a.html")):
        assert main(["survey", "flywheel-hub", "--format", form]) == 0
        printed = capsys.readouterr().out
        assert main(["survey", "flywheel-hub", "--out", name]) == 0
        capsys.readouterr()
        assert Path(name).read_text(encoding="utf-8") == printed


def test_it_tells_programs_the_same(capsys, book):
    assert main(["survey", "governor-bush", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert {ask["term"] for ask in told["asks"]} == {"surface.diameter"}
    assert told["about"][0]["reaches"][0]["exact"] is True
    assert told["nothing_open"] is False


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["--out", "nowhere/a.csv"], "nowhere"),
        (["--read", "nowhere.csv"], "nowhere.csv"),
        (["--read", "casebook/marrow-fen/object.yaml"], ".csv or .md"),
        (["--read", ".hidden.csv"], ".csv or .md"),
        (["--read", "a.csv", "--out", "b.csv"], "either written or read"),
        (["--read", "folder.csv"], "folder.csv"),
        (["no-such-proposal"], "no-such-proposal"),
        (["--format", "pdf"], "pdf"),
    ],
)
def test_what_cannot_be_done_is_told_with_something_to_try(capsys, book, words, says):
    Path("folder.csv").mkdir()
    assert main(["survey", *words]) == 2
    told = capsys.readouterr()
    assert says in told.err and told.out == ""


def big_end(**cells: str) -> str:
    row = {"component": "big-end-brass", "term": "component.running_clearance", "unit": "mm", "date": "2026-05-20"}
    return as_csv([{**dict.fromkeys(COLUMNS, ""), **row, "by": "A. Name", **cells}])


def test_a_filled_sheet_is_kept_byte_for_byte_and_what_it_changes_is_told(capsys, book):
    text = "\ufeff" + big_end(answer="0.36", plus_minus="0.01").replace("\n", "\r\n")
    Path("May.CSV").write_bytes(text.encode())
    assert main(["survey", "--read", "May.CSV"]) == 0
    told = capsys.readouterr().out
    assert "casebook/marrow-fen/surveys/May.csv is taken in" in told
    assert re.search(r"big-end-slack +not yet shown \(measure-again\) +not justified \(measure-again\)", told)
    assert (book / "surveys/May.csv").read_bytes() == text.encode()
    assert main(["survey", "--read", "May.CSV"]) == 2
    assert "left as it is" in capsys.readouterr().err
    assert main(["check"]) == 0


def test_programs_are_told_what_a_sheet_changes(capsys, book):
    Path("may.csv").write_text(big_end(answer="0.36", plus_minus="0.01"), encoding="utf-8")
    assert main(["survey", "--read", "may.csv", "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert told["sheet"] == "casebook/marrow-fen/surveys/may.csv"
    assert [one["proposal"] for one in told["changed"]] == ["big-end-slack"]


def test_a_sheet_with_problems_is_told_of_all_at_once_and_nothing_is_written(capsys, book):
    bad = big_end(answer="0.36 kg") + "no-such-part,,component.examined,,,maybe,,,,2026-05-20,A. Name,\n"
    Path("may.csv").write_text(bad, encoding="utf-8")
    assert main(["survey", "--read", "may.csv", "--json"]) == 2
    problems = json.loads(capsys.readouterr().out)["problems"]
    assert {(one["file"], one["line"]) for one in problems} == {("./may.csv", 2), ("./may.csv", 3)}
    assert main(["survey", "--read", "may.csv"]) == 2
    told = capsys.readouterr()
    assert "no-such-part,,component.examined" in told.err
    assert not (book / "surveys").exists()


def test_a_sheet_that_nobody_has_filled_in_is_not_taken_in(capsys, book):
    assert main(["survey", "--out", "empty.csv"]) == 0
    assert main(["survey", "--read", "empty.csv"]) == 0
    assert "Nothing was taken in" in capsys.readouterr().out
    assert not (book / "surveys").exists()


@pytest.mark.parametrize("content", [b"", b"\xff\xfe\x00", b"|", b'"', b"component,where\n", b"\x00" * 40])
@pytest.mark.parametrize("name", ["a.csv", "a.md"])
def test_no_sheet_gives_a_traceback(capsys, book, name, content):
    Path(name).write_bytes(content)
    assert main(["survey", "--read", name]) in (0, 2)
    assert "Traceback" not in "".join(capsys.readouterr())
    assert not (book / "surveys").exists()


# ---- a folder with one file more --------------------------------------------------------------------------


def test_a_folder_with_one_file_more_reads_as_if_it_were_written(tmp_path):
    (tmp_path / "surveys").mkdir()
    (tmp_path / "surveys/a.csv").write_bytes(b"a")
    supposed = WithMore(tmp_path, {"surveys/b.csv": b"bb"})
    seen = [(supposed.names(*given), supposed.read_bytes("surveys/b.csv"), supposed.digest("surveys/b.csv"))
            for given in (("", ".csv"), ("surveys", ".csv"), ("surveys", ".md"), ("other", ".csv"))]  # fmt: skip
    with pytest.raises(FileRefused):
        supposed.read_bytes("surveys/b.csv", limit=1)
    written = Folder(tmp_path)
    written.add("surveys/b.csv", b"bb")
    assert seen == [
        (written.names(*given), written.read_bytes("surveys/b.csv"), written.digest("surveys/b.csv"))
        for given in (("", ".csv"), ("surveys", ".csv"), ("surveys", ".md"), ("other", ".csv"))
    ]


def test_a_new_file_never_takes_the_place_of_another(tmp_path):
    folder = Folder(tmp_path)
    folder.add("new/a.csv", b"one\r\n")
    with pytest.raises(FileRefused) as refused:
        folder.add("new/a.csv", b"two")
    assert refused.value.kind == "there"
    assert (tmp_path / "new/a.csv").read_bytes() == b"one\r\n"
    assert [path.name for path in (tmp_path / "new").iterdir()] == ["a.csv"]
