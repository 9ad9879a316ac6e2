"""The statement: its sections, what each sentence was made from, and what a changed fact overtakes."""

from __future__ import annotations

import json
import re
import shutil
from collections.abc import Callable, Iterator
from dataclasses import replace
from functools import lru_cache
from html.parser import HTMLParser
from itertools import pairwise
from pathlib import Path
from typing import Any

import pytest
from helpers import CLOCK, DEMO, MORE, casebook_of, clock_rules, read, shipped_rules
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from conserve.casebook import Casebook, Proposal, read_casebook
from conserve.cli import main
from conserve.files import Folder
from conserve.rulebook import Rulebook
from conserve.seal import NOTHING_SEALED, Seals, read_seals
from conserve.statement import (
    Document,
    document_of,
    html,
    index,
    index_of,
    markdown,
    overtaken,
    read_index,
    read_sent,
    shown_pictures,
)
from conserve.statement.alike import in_a_row
from conserve.statement.decisions import undone
from conserve.statement.indexing import sealed
from conserve.statement.model import Figure, Grid, Items, told
from conserve.weighing import weigh, weigh_all

ORDER = [
    "how-to-read", "summary", "identity", "history", "significance", "condition", "use", "policy", "decisions",
    "undecided", "seals", "fabric", "removed", "hazards", "unknown", "later", "matrix", "sources",
]  # fmt: skip
SAYS_NOTHING_OF_IT = {"how-to-read"}  # the same in every statement
BARE = """\
    name: Bare engine
    """
PNG = b"\x89PNG\r\n\x1a\n and the rest"


def made(casebook: Casebook, rulebook: Rulebook | None = None, seals: Seals = NOTHING_SEALED) -> Document:
    rules = rulebook or shipped_rules()
    return document_of(weigh_all(casebook, rules), casebook, rules, casebook.as_at, seals)


def seals_of(folder: Folder) -> Seals:
    return read_seals(folder, named(folder.root), "c")


@lru_cache(maxsize=2)
def named(folder: Path) -> Casebook:
    """A demonstration by its own name, which is told in its proofs and so counts in their digests."""
    casebook, problems = read_casebook(Folder(folder), clock_rules().vocabulary, folder.name)
    assert casebook is not None, problems
    return casebook


@lru_cache(maxsize=1)
def marrow_fen() -> Document:
    return made(named(DEMO))


@lru_cache(maxsize=1)
def sallow_wharf() -> Document:
    return made(named(CLOCK), clock_rules(), seals_of(Folder(CLOCK)))


@lru_cache(maxsize=4)
def page_of(statement: Callable[[], Document]) -> str:
    return html(statement(), {})


@lru_cache(maxsize=4)
def text_of(statement: Callable[[], Document]) -> str:
    return markdown(statement())


def book_of(statement: Callable[[], Document]) -> Casebook:
    return named(DEMO if statement is marrow_fen else CLOCK)


each_statement = pytest.mark.parametrize("statement", [marrow_fen, sallow_wharf], ids=["marrow-fen", "sallow-wharf"])


def proposal_in(casebook: Casebook, name: str) -> Proposal:
    found = casebook.proposal(name)
    assert found is not None
    return found


def said(document: Document) -> dict[str, str]:
    return {one.where: one.says for one in told(document)}


def sections(document: Document) -> list[str]:
    return [section.id for section in document.sections if section.level == 2]


# ---- what it says ------------------------------------------------------------------------------------


@each_statement
def test_the_sections_are_all_there_in_their_order(statement: Callable[[], Document]):
    assert sections(statement()) == ORDER


@each_statement
def test_every_paragraph_has_a_place_of_its_own(statement: Callable[[], Document]):
    places = [one.where for one in told(statement())]
    assert len(places) == len(set(places))


@each_statement
def test_every_sentence_that_tells_a_fact_names_what_it_was_made_from(statement: Callable[[], Document]):
    """A digit, a component's name or a person's makes a sentence one about this object."""
    document = statement()
    casebook = book_of(statement)
    names = [part.name for part in casebook.components.values()]
    names += [one.name for one in casebook.object.people.values()]
    bare = [
        one.where
        for one in told(document)
        if not one.made_from
        and one.where.partition("/")[0] not in SAYS_NOTHING_OF_IT
        and (re.search(r"\d", one.says) or any(name in one.says for name in names))
    ]
    assert bare == []


@each_statement
def test_every_name_leads_to_a_digest_and_files_to_their_own(statement: Callable[[], Document]):
    document = statement()
    named = {name for one in told(document) for name in one.made_from}
    assert named <= set(document.sources)
    assert all(re.fullmatch("[0-9a-f]{64}", digest) for digest in document.sources.values())
    casebook = book_of(statement)
    assert {name: document.sources[name] for name in casebook.digests} == casebook.digests


def test_a_records_digest_is_that_of_the_proof_that_is_written(tmp_path: Path):
    from conserve.record import write_records

    proposal = proposal_in(named(DEMO), "crosshead-slipper")
    write_records(Folder(tmp_path), [weigh(proposal, named(DEMO), shipped_rules())], shipped_rules(), html=False)
    digest = Folder(tmp_path).digest("records/crosshead-slipper.json")
    assert marrow_fen().sources["records/crosshead-slipper"] == digest


@each_statement
def test_it_says_before_everything_else_that_it_certifies_nothing(statement: Callable[[], Document]):
    document = statement()
    assert "It certifies nothing" in document.cautions[0]
    for text in (text_of(statement), page_of(statement)):
        assert text.index("It certifies nothing") < text.index(document.sections[0].title)


def test_a_part_that_is_out_of_use_is_named_before_everything_else():
    assert any("Steam pipe lagging" in said and "Nobody in the aisle" in said for said in marrow_fen().cautions)


def test_like_parts_are_told_once():
    grades = [row.cells for row in grid(marrow_fen(), "significance/grades").rows]
    studs = [cells[0] for cells in grades if "stud-" in cells[0]]
    assert studs == [
        "Cylinder cover stud, stud-01 to stud-48 but for stud-17 and stud-31 (46 parts)",
        "Cylinder cover stud (stud-17)",
        "Cylinder cover stud (stud-31)",
    ]


def test_a_row_of_ids_is_told_run_by_run_where_much_is_missing():
    family = list("abcdefghij")
    assert in_a_row(list("abcdefghij"), family) == "a to j"
    assert in_a_row(list("abcefghij"), family) == "a to j but for d"
    assert in_a_row(list("abchij"), family) == "a to c and h to j"
    assert in_a_row(list("aj"), family) == "a and j"


def grid(document: Document, where: str) -> Grid:
    section, _, name = where.partition("/")
    blocks = [block for one in document.sections if one.id == section for block in one.blocks]
    found = next(block for block in blocks if block.id == name)
    assert isinstance(found, Grid)
    return found


def test_every_decision_is_told_with_its_person_its_reason_and_why_not_less():
    texts = said(marrow_fen())
    for proposal in named(DEMO).proposals:
        if proposal.decision:
            decided = texts[f"decision-{proposal.id}/decided"]
            assert str(proposal.decision.on) in decided
            assert " ".join(proposal.decision.reason.split())[:40] in decided
            assert f"decision-{proposal.id}/why-not-less/so" in texts


def test_a_decision_against_the_verdict_is_told_before_all_others(tmp_path: Path):
    casebook = changed(tmp_path, "proposals/third-pivot.yaml", lambda text: f"{text}{AGAINST}")
    document = made(casebook, clock_rules())
    against = said(document)["decisions/against-the-verdict/third-pivot"]
    assert "Decided against the verdict" in against and "not justified" in against
    assert next(one.id for one in document.sections if one.level == 3) == "decision-third-pivot"


AGAINST = """\
decision:
  chosen: turn-pivot
  by: lead
  date: 2026-05-01
  reason: It was wanted bright for the opening.
"""


def test_what_nobody_has_decided_stands_in_one_place_only():
    waiting = {row.id for row in grid(marrow_fen(), "undecided/waiting").rows}
    assert waiting == {p.id for p in named(DEMO).proposals if not p.decision and p.kind == "intervention"}


def test_the_matrix_has_every_proposal_once_the_decided_first_and_tells_its_gaps_in_words():
    (section,) = [one for one in marrow_fen().sections if one.id == "matrix"]
    grids = [block for block in section.blocks if isinstance(block, Grid)]
    (free,) = [block for block in section.blocks if isinstance(block, Items)]
    told_ = [table.id.removeprefix("of-") for table in grids] + [item.id for item in free.items]
    assert sorted(told_) == sorted(p.id for p in named(DEMO).proposals)
    decided = ["Decided" in table.title for table in grids]
    assert decided == sorted(decided, reverse=True) and any(decided)
    evidence = [row.cells[-1] for table in grids for row in table.rows]
    assert "Nobody has answered." in evidence
    assert "Not met yet. No evidence is registered." in evidence
    assert any("shown by back-face-before" in cell for cell in evidence)


def test_a_rule_in_the_matrix_is_among_what_its_row_was_made_from():
    rows = grid(marrow_fen(), "matrix/of-pipe-lagging").rows
    rule = next(row for row in rows if row.cells[0] == "safety/asbestos-disturbed")
    assert "rules/safety/asbestos-disturbed" in rule.made_from
    assert "records/pipe-lagging" in rule.made_from


# ---- what a reviewer of its authenticity asks ------------------------------------------------------------


def test_every_part_is_told_once_with_how_much_of_it_is_in_place():
    parts = grid(marrow_fen(), "fabric/apart")
    cells = {row.id: row.cells for row in parts.rows}
    assert parts.head[2:] == ("where it is", "Marks", "Original surface", "Metal")
    assert cells["makers-plate"][2:] == ("off, and kept", "0 %", "0 %", "0 %")
    assert cells["tray-bracket-left"][2] == "not there"
    assert cells["guide-bar-top"][2:4] == ("in place", "100 %")
    whole = said(marrow_fen())["fabric/whole"]
    for part in named(DEMO).components.values():
        if part.id not in cells and "stud" not in part.id:
            assert part.name in whole


def test_a_part_that_came_off_and_has_no_place_is_told_where_one_looks_for_it():
    texts = said(marrow_fen())
    assert texts["removed/off/slide-valve"].startswith("Main slide valve: off since 2026-03-24. Nobody has written where")
    assert [where for where in texts if where.startswith("removed/off/")] == ["removed/off/slide-valve"]


def test_a_report_is_told_with_what_it_concludes_beside_when_it_lapses():
    cells = {row.id: row.cells for row in grid(marrow_fen(), "hazards/reports").rows}
    assert cells["crankshaft-report"][3:] == ("Fit to run: yes.", "2027-04-30")
    assert cells["davit-report-2025"][3:] == ("Fit for lifting: yes.", "2026-03-31: lapsed")
    assert cells["rod-braze-test"][3] == "It states no fact."


def test_evidence_for_a_form_is_told_with_its_grade_and_what_the_grades_are():
    texts = said(marrow_fen())
    assert "rests on bracket-right-survey (grade A) and engine-house-1934 (grade C)" in texts["fabric/new/tray-bracket-1"]
    assert "F: memory or taste" in texts["sources/grades"]


def test_it_says_of_each_act_that_is_decided_whether_it_can_be_undone():
    texts = said(marrow_fen())
    assert "This can be undone without loss: shimming." in texts["decision-crosshead-slipper/takes"]
    assert "while what came off is kept: replacement." in texts["decision-stud-17/takes"]
    acts = next(o for o in proposal_in(named(CLOCK), "third-pivot").options if o.id == "turn-pivot").acts
    assert undone(acts, clock_rules().vocabulary).startswith("This can never be undone without loss: turning")


def test_leaving_alone_is_told_as_such_and_not_as_work_that_waits():
    texts = said(marrow_fen())
    assert texts["decision-guide-bar-back/takes"].startswith("The part is left alone")
    assert "decision-guide-bar-back/work" not in texts


@pytest.mark.parametrize(
    ("began", "says"),
    [
        ("2026-05-02", "It was decided, with its reason, before the work began."),
        ("2026-05-01", "It was decided on the day on which the work began."),
        ("2026-04-30", "The work began before it was decided on 2026-05-01: the reason was written afterwards."),
    ],
)
def test_it_says_whether_the_reason_came_before_the_work(tmp_path: Path, began: str, says: str):
    more = f"{AGAINST}work:\n  began: {began}\n"
    casebook = changed(tmp_path, "proposals/third-pivot.yaml", lambda text: f"{text}{more}")
    weighing = weigh(proposal_in(casebook, "third-pivot"), casebook, clock_rules())
    document = document_of((weighing,), casebook, clock_rules(), casebook.as_at)
    assert says in said(document)["decision-third-pivot/work"]


# ---- what is not said ----------------------------------------------------------------------------------


def test_a_casebook_with_nothing_but_a_name_gives_a_statement_of_gaps(tmp_path: Path):
    document = made(casebook_of(tmp_path, {"object.yaml": BARE}))
    assert sections(document) == ORDER
    texts = said(document)
    for where in (
        "history/no-phases", "significance/object", "condition/no-parts", "use/now", "use/wanted", "policy/none",
        "decisions/none", "seals/none", "fabric/no-fabric", "hazards/none-found", "hazards/nobody", "later/no-review", "matrix/none",
        "sources/no-evidence",
    ):  # fmt: skip
        assert re.match("Nobody |No |Nothing", texts[where]), f"{where}: {texts[where]}"
    assert '"Nobody has written this."' in texts["identity/identity/owner"]
    assert "no proof that there is none" in document.cautions[1]


def test_an_ungraded_part_and_one_that_nobody_has_examined_are_named(tmp_path: Path):
    document = made(casebook_of(tmp_path, {"components/rod.yaml": "name: Long rod\n"}))
    texts = said(document)
    assert "Long rod" in texts["significance/ungraded/rod"]
    assert "Long rod" in texts["condition/not-examined"]
    assert "Long rod" in texts["hazards/not-looked-for"]
    assert "Long rod" in texts["history/no-history"]
    assert "Nobody has written its defects." in texts["condition/parts/rod"]


REGISTER = """\
    secret:
      kind: photograph
      file: secret.png
      date: 2026-01-01
      by: A. Body
      about: object
      shows: Where the silver is.
      {show}
    """


def registered(root: Path, show: str) -> Document:
    (root / "evidence").mkdir(parents=True)
    (root / "evidence/secret.png").write_bytes(PNG)
    (root / "evidence/public.png").write_bytes(PNG)
    return made(casebook_of(root, {"evidence/register.yaml": REGISTER.replace("{show}", show)}))


@pytest.mark.parametrize("show", ["show: nobody", "note: nothing is said of who may see it"])
def test_of_evidence_that_may_be_shown_to_nobody_only_the_id_and_the_kind_are_told(tmp_path: Path, show: str):
    document = registered(tmp_path, show)
    assert said(document)["sources/not-shown/secret"].startswith("secret (photograph): not shown")
    for text in (markdown(document), html(document, {"secret.png": PNG}), index(document)):
        for word in ("silver", "A. Body", "secret.png", "data:image/png"):
            assert word not in text


def test_what_a_report_that_is_shown_to_nobody_states_is_not_told(tmp_path: Path):
    report = (
        "seen:\n  kind: report\n  date: 2026-01-01\n  by: A. Body\n  role: competent-engineer\n  about: [rod]\n"
        "  states: {component.fit_to_run: yes}\n  lapses: 2027-01-01\n  held: File 1\n  shows: The rod.\n  show: SHOW\n"
    )
    files = {"components/rod.yaml": "name: Long rod\n"}
    told_ = {
        show: made(casebook_of(tmp_path / show, {**files, "evidence/register.yaml": report.replace("SHOW", show)}))
        for show in ("reviewers", "nobody")
    }
    cells = {show: grid(document, "hazards/reports").rows[0].cells for show, document in told_.items()}
    assert cells["reviewers"][3] == "Fit to run: yes."
    assert cells["nobody"][1:4] == ("competent engineer, 2026-01-01", "rod", "not shown")


def test_a_picture_that_may_be_shown_stands_in_the_page_itself(tmp_path: Path):
    document = registered(tmp_path, "show: reviewers")
    pictures = shown_pictures(read(Folder(tmp_path)), Folder(tmp_path))
    assert set(pictures) == {"secret.png"}
    assert 'src="data:image/png;base64,' in html(document, pictures)
    assert "Where the silver is." in html(document, {})  # told in words where the picture is not there


# ---- the same every time ---------------------------------------------------------------------------------


class Backwards(Folder):
    """A folder that gives its files in another order."""

    __slots__ = ()

    def names(self, under: str, suffix: str) -> tuple[str, ...]:
        return tuple(reversed(Folder.names(self, under, suffix)))


def test_the_same_casebook_gives_the_same_bytes_in_whatever_order_its_files_are_read():
    again, _ = read_casebook(Backwards(CLOCK), clock_rules().vocabulary, CLOCK.name)
    assert again is not None
    weighings = tuple(reversed(weigh_all(again, clock_rules())))
    other = document_of(weighings, again, clock_rules(), again.as_at, seals_of(Backwards(CLOCK)))
    for form in (markdown, index, lambda document: html(document, {})):
        assert form(other) == form(sallow_wharf())


@pytest.mark.parametrize(
    ("folder", "statement"), [(DEMO, marrow_fen), (CLOCK, sallow_wharf)], ids=["marrow-fen", "sallow-wharf"]
)
def test_the_golden_statements_are_what_is_written_today(folder: Path, statement: Callable[[], Document]):
    """Made by `conserve statement casebook/marrow-fen` and its like; a change here is reviewed as a diff."""
    assert (folder / "statement/statement.md").read_text(encoding="utf-8") == text_of(statement)


# ---- what a changed fact overtakes -------------------------------------------------------------------------


def changed(root: Path, name: str, change: Callable[[str], str]) -> Casebook:
    """The smaller demonstration with another text in one of its files."""
    shutil.copytree(CLOCK, root / "book", ignore=shutil.ignore_patterns("records", "statement"))
    path = root / "book" / name
    text = path.read_text(encoding="utf-8")
    assert change(text) != text
    path.write_text(change(text), encoding="utf-8")
    casebook, problems = read_casebook(Folder(root / "book"), clock_rules().vocabulary, CLOCK.name)
    assert casebook is not None, problems
    return casebook


def test_nothing_is_overtaken_where_nothing_has_changed():
    assert overtaken(marrow_fen(), json.loads(index(marrow_fen()))) == ()


def test_a_changed_measurement_overtakes_the_row_that_tells_it_and_nothing_else(tmp_path: Path):
    book = changed(tmp_path, "components/bell.yaml", lambda text: text.replace("extent: 3.5 ± 0.3", "extent: 4.5 ± 0.3"))
    (one,) = overtaken(made(book, clock_rules(), seals_of(Folder(CLOCK))), index_of(sallow_wharf()))
    assert (one.where, one.how, one.because) == ("condition/parts/bell", "changed", ("components/bell.yaml",))
    assert "4.5 ± 0.3 mm" in one.says


def test_a_note_that_no_sentence_tells_overtakes_nothing(tmp_path: Path):
    book = changed(tmp_path, "components/bell.yaml", lambda text: f"{text}note: Seen in good light.\n")
    assert overtaken(made(book, clock_rules(), seals_of(Folder(CLOCK))), index_of(sallow_wharf())) == ()


def test_what_is_new_and_what_is_gone_are_named_as_such(tmp_path: Path):
    book = changed(tmp_path, "object.yaml", lambda text: text.replace("  keeper:\n", "  winder:\n"))
    found = {one.where: one for one in overtaken(made(book, clock_rules(), seals_of(Folder(CLOCK))), index_of(sallow_wharf()))}
    assert found["hazards/people/winder"].how == "new"
    assert found["hazards/people/keeper"].how == "gone"
    assert found["hazards/people/keeper"].says == ""
    assert found["hazards/people/keeper"].because == ("object.yaml",)


def test_where_only_the_day_is_another_no_file_is_blamed():
    from datetime import date

    day = date(2030, 1, 1)
    later = document_of(weigh_all(named(CLOCK), clock_rules(), day), named(CLOCK), clock_rules(), day, seals_of(Folder(CLOCK)))
    found = overtaken(later, index_of(sallow_wharf()))
    assert found
    assert all(set(one.because) <= {name for name in later.sources if name.startswith("records/")} for one in found)


_KEYS = "says|name|location|owner|significance_reason|place|tag|dates|competence|set_by|reason|title|shows|held"
VALUES = re.compile(rf"^ *(?:{_KEYS}): ([^>|\[{{\n]+)$|: \{{?(?:value: )?([0-9.]+) ±", re.MULTILINE)
NAMES = sorted(p.relative_to(CLOCK).as_posix() for p in CLOCK.rglob("*.yaml"))
FACTS = [(name, at) for name in NAMES for at in range(len(VALUES.findall((CLOCK / name).read_text(encoding="utf-8"))))]


def other_words(text: str, number: int) -> str:
    """A file with other words, or another number, in one place."""
    match = list(VALUES.finditer(text))[number]
    at = match.lastindex or 0
    other = "Quite other words" if at == 1 else f"1{match[2]}"
    return f"{text[: match.start(at)]}{other}{text[match.end(at) :]}"


@settings(max_examples=3 * MORE, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(st.sampled_from(FACTS))
def test_exactly_the_paragraphs_that_say_something_else_are_overtaken(
    tmp_path_factory: pytest.TempPathFactory, fact: tuple[str, int]
):
    """Whatever words or number of a person are changed: each paragraph of another text is named, with the file; no other is."""
    name, number = fact
    book = changed(tmp_path_factory.mktemp("changed"), name, lambda text: other_words(text, number))
    now = made(book, clock_rules(), seals_of(Folder(CLOCK)))
    before, after = said(sallow_wharf()), said(now)
    different = {where for where in {*before, *after} if before.get(where) != after.get(where)}
    found = overtaken(now, index_of(sallow_wharf()))
    assert {one.where for one in found} == different
    assert [one.where for one in found if name not in one.because] == []


# ---- hostile text ------------------------------------------------------------------------------------------

HOSTILE = "<script>alert(1)</script> | **bold** [link](javascript:x) # head <img src=x onerror=y> `code` & &lt;b>"
NASTY = f"""\
    name: "Engine {HOSTILE}"
    significance: "# {HOSTILE}"
    owner: "- {HOSTILE}"
    people:
      lead: {{name: "{HOSTILE}", role: lead, competence: "{HOSTILE}"}}
    policy:
      says: "{HOSTILE}"
      routine_care: []
      holding_works: []
    """
NASTY_PART = f"""\
    name: "Rod {HOSTILE}"
    significance: some
    significance_reason: "{HOSTILE}"
    surfaces: none
    repairs: none
    defects:
      one: {{name: "{HOSTILE}", kind: wear, says: "{HOSTILE}"}}
    """
BODY = {
    "html", "head", "meta", "title", "link", "style", "body", "a", "main", "h1", "h2", "h3", "dl", "dt", "dd", "section",
    "ul", "li", "nav", "p", "ol", "span", "table", "caption", "colgroup", "col", "thead", "tbody", "tr", "th", "td", "code", "figure", "img",
    "figcaption", "div", "svg", "desc", "g", "text", "tspan", "path", "rect", "line", "circle",
}  # fmt: skip
VOID = {"meta", "link", "img", "col"}


class Seen(HTMLParser):
    """What a reader of a page comes upon, and whether everything opened is closed."""

    def __init__(self, page: str) -> None:
        super().__init__(convert_charrefs=True)
        self.tags: list[tuple[str, dict[str, str]]] = []
        self.open: list[str] = []
        self.feed(page)
        self.close()

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))
        if tag not in VOID:
            self.open.append(tag)

    def handle_startendtag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.tags.append((tag, {name: value or "" for name, value in attrs}))

    def handle_endtag(self, tag: str) -> None:
        assert self.open and self.open.pop() == tag, f"</{tag}> closes nothing"

    def all(self, tag: str) -> Iterator[dict[str, str]]:
        return (attributes for name, attributes in self.tags if name == tag)


def harmless(page: str) -> Seen:
    """A page in which nothing acts, fetches or is left open."""
    seen = Seen(page)
    assert seen.open == []
    assert {tag for tag, _ in seen.tags} <= BODY
    for tag, attributes in seen.tags:
        assert not any(name.startswith("on") or name == "style" for name in attributes), (tag, attributes)
        for address in ("href", "src"):
            assert attributes.get(address, "#").startswith(("#", "data:"))
    return seen


def test_no_text_of_a_casebook_starts_markup_in_the_page_or_in_the_markdown(tmp_path: Path):
    document = made(casebook_of(tmp_path, {"object.yaml": NASTY, "components/rod.yaml": NASTY_PART}))
    harmless(html(document, {}))
    import markdown as renderer

    rendered = renderer.markdown(markdown(document), extensions=["tables"])
    tags = {tag for tag, _ in Seen(rendered).tags}
    assert tags <= {"h1", "h2", "h3", "p", "ul", "li", "em", "strong", "table", "thead", "tbody", "tr", "th", "td"}


@each_statement
def test_the_page_can_be_read_by_anyone(statement: Callable[[], Document]):
    """What WCAG 2.2 asks of structure: language, title, one first heading, order, names, captions, scopes, targets."""
    page = page_of(statement)
    seen = harmless(page)
    assert next(seen.all("html"))["lang"] == "en-GB"
    levels = [int(tag[1]) for tag, _ in seen.tags if re.fullmatch("h[1-6]", tag)]
    assert levels[0] == 1 and levels.count(1) == 1
    assert all(after <= before + 1 for before, after in pairwise(levels))
    ids = [attributes["id"] for _, attributes in seen.tags if "id" in attributes]
    assert len(ids) == len(set(ids))
    assert {link["href"][1:] for link in seen.all("a")} <= set(ids)
    assert page.count("<table") == page.count("<caption>")
    assert all(head.get("scope") in ("col", "row") for head in seen.all("th"))
    assert not any(True for _ in seen.all("script"))


@each_statement
def test_every_reference_leads_to_its_line_in_the_index(statement: Callable[[], Document]):
    document, page = statement(), page_of(statement)
    for number, name in enumerate(sorted(document.sources), 1):
        assert f'id="source-{number}"' in page
        assert document.sources[name] in page


@each_statement
def test_each_section_ends_with_how_many_things_it_was_made_from(statement: Callable[[], Document]):
    document = statement()
    lines = re.findall(r"Made from (?:\d+ things?|nothing in the casebook); digest [0-9a-f]{12}\.", text_of(statement))
    assert len(lines) == len(document.sections)


def test_each_drawing_in_the_statement_is_told_in_words_as_well():
    drawn = [b for s in marrow_fen().sections for b in s.blocks if isinstance(b, Figure) and b.svg]
    assert [figure.id for figure in drawn] == ["ledger-parts", "ledger-marks", "ledger-surface", "ledger-metal"]
    assert page_of(marrow_fen).count("<svg") == len(drawn)
    said = re.sub(r"\\", "", text_of(marrow_fen))
    assert all(figure.told[:60] in said for figure in drawn)


def test_what_all_rows_of_a_table_rest_on_is_told_once():
    (table,) = [b for s in marrow_fen().sections for b in s.blocks if isinstance(b, Grid) and b.id == "balances"]
    assert len(table.rows) > 10 and table.made_from == table.rows[0].made_from
    assert replace(table, rows=(*table.rows, replace(table.rows[0], made_from=()))).made_from == ()
    assert text_of(marrow_fen).count(f"| {table.head[-1]} |\n") == 1  # no column of its own
    assert page_of(marrow_fen).count("The whole table is made from") >= 1


# ---- the commands ------------------------------------------------------------------------------------------


@pytest.fixture(scope="module")
def written(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A small casebook with its statement written by the command."""
    root = tmp_path_factory.mktemp("written") / "trial"
    casebook_of(root, {"object.yaml": BARE, "components/rod.yaml": "name: Long rod\nexamined: yes\n"})
    assert main(["statement", str(root)]) == 0
    return root


@pytest.fixture
def book(tmp_path: Path, written: Path) -> Path:
    """The same, for one test alone."""
    return shutil.copytree(written, tmp_path / "trial")


def checked(capsys: pytest.CaptureFixture[str], book: Path) -> dict[str, Any]:
    capsys.readouterr()
    main(["check", str(book), "--json"])
    return json.loads(capsys.readouterr().out)


def test_statement_writes_its_text_and_its_index_and_what_else_is_asked_for(capsys, book: Path):
    assert {path.name for path in (book / "statement").iterdir()} == {"statement.md", "statement.json"}
    assert main(["statement", str(book), "--html", "--word", "--pdf"]) == 0
    names = [f"statement.{ending}" for ending in ("docx", "html", "json", "md", "pdf")]
    assert sorted(path.name for path in (book / "statement").iterdir()) == names
    assert "It certifies nothing." in capsys.readouterr().out


def test_statement_writes_nothing_where_the_input_is_broken(book: Path):
    shutil.rmtree(book / "statement")
    (book / "components/rod.yaml").write_text("name: [Long rod\n", encoding="utf-8")
    assert main(["statement", str(book)]) == 2
    assert not (book / "statement").exists()


def test_check_says_that_a_statement_holds(capsys, book: Path):
    assert checked(capsys, book)["statements"][0]["overtaken"] == []
    assert main(["check", str(book)]) == 0
    assert "still says what would be written now" in capsys.readouterr().out


def test_check_names_what_a_changed_fact_has_overtaken_and_is_done(capsys, book: Path):
    rod = book / "components/rod.yaml"
    rod.write_text(rod.read_text(encoding="utf-8").replace("examined: yes", "examined: no"), encoding="utf-8")
    assert main(["check", str(book)]) == 0
    told_ = capsys.readouterr().out
    assert "condition/not-examined: new, because of components/rod.yaml." in told_
    (one,) = checked(capsys, book)["statements"]
    assert one["because"] == ["components/rod.yaml"]
    assert {"condition/not-examined", "condition/all-examined"} <= {each["where"] for each in one["overtaken"]}


def sent_from(book: Path, **other: object) -> Path:
    """Write down that the statement of a book was sent."""
    then = json.loads((book / "statement/statement.json").read_text(encoding="utf-8"))
    bundle = {
        "schema": "conserve-sent-1", "profile": "grant", "sent": "2026-05-05", "to": "The fund", "manifest": "0" * 64,
        "statement": then, **other,
    }  # fmt: skip
    (book / "sent").mkdir(exist_ok=True)
    path = book / "sent/2026-05-05-grant.json"
    path.write_text(json.dumps(bundle), encoding="utf-8")
    return path


def test_check_says_which_bundle_already_sent_holds_what_is_overtaken(capsys, book: Path):
    sent_from(book)
    rod = book / "components/rod.yaml"
    rod.write_text(rod.read_text(encoding="utf-8").replace("Long rod", "Short rod"), encoding="utf-8")
    assert main(["statement", str(book)]) == 0  # the statement is up to date again, and what was sent is not
    own, sent = checked(capsys, book)["statements"]
    assert own["overtaken"] == [] and sent["overtaken"]
    assert sent["sent"] == {"to": "The fund", "on": "2026-05-05", "profile": "grant"}
    assert main(["check", str(book)]) == 0
    assert "The bundle sent to The fund on 2026-05-05 (grant):" in " ".join(capsys.readouterr().out.split())


def test_an_index_that_somebody_has_edited_is_a_problem(capsys, book: Path):
    path = book / "statement/statement.json"
    path.write_text(path.read_text(encoding="utf-8").replace("Bare engine", "Fine engine"), encoding="utf-8")
    assert main(["check", str(book)]) == 2
    (problem,) = checked(capsys, book)["problems"]
    assert (problem["code"], problem["file"].endswith("statement/statement.json")) == ("C095", True)


NO_INDEX: list[Any] = [
    "", "{", "[]", "null", "1e999", '{"schema": "conserve-statement-1"}', "\N{SNOWMAN}", "[" * 3000,
    {"schema": "conserve-statement-1", "title": "", "day": "today", "sources": {}, "paragraphs": []},
    {"schema": "conserve-statement-1", "title": "", "day": None, "sources": {"a": 1}, "paragraphs": []},
    {"schema": "conserve-statement-1", "title": "", "day": None, "sources": {}, "paragraphs": [{"where": 1}]},
    {"schema": "conserve-statement-1", "title": "\ud800", "day": None, "sources": {}, "paragraphs": []},
    {"schema": "another", "title": "", "day": None, "sources": {}, "paragraphs": []},
]  # fmt: skip


@pytest.mark.parametrize("data", NO_INDEX, ids=range(len(NO_INDEX)))
def test_what_is_no_index_is_a_problem_and_never_a_fault(tmp_path: Path, data: Any):
    if isinstance(data, dict):
        try:
            data = {**data, "digest": sealed(data)}
        except UnicodeEncodeError:
            data = {**data, "digest": ""}
    (tmp_path / "statement").mkdir()
    text = data if isinstance(data, str) else json.dumps(data)
    (tmp_path / "statement/statement.json").write_text(text, encoding="utf-8")
    found, problems = read_index(Folder(tmp_path), "book")
    assert found is None
    assert [(p.code, p.where.file) for p in problems] == [("C095", "book/statement/statement.json")]


@pytest.mark.parametrize("other", [{"sent": "soon"}, {"to": 1}, {"schema": "x"}, {"statement": []}, {"statement": {}}])
def test_what_does_not_tell_what_was_sent_is_a_problem(book: Path, other: dict[str, object]):
    sent_from(book, **other)
    found, problems = read_sent(Folder(book), "book")
    assert (found, [p.code for p in problems]) == ((), ["C095"])


def test_an_index_is_read_as_it_was_written():
    then = json.loads(index(marrow_fen()))
    assert then == index_of(marrow_fen())
    assert then["digest"] == sealed(then)
    assert [one["where"] for one in then["paragraphs"]] == [one.where for one in told(marrow_fen())]
