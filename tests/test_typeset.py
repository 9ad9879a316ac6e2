"""The statement as PDF: that it is tagged as ISO 14289-1 asks, says all that it should, and that no text is markup.

The clauses are those of ISO 14289-1:2014 and the file's parts those of ISO 32000-1:2008, both cited from memory. A
second judge, the checker `outloud`, which is nobody's here, weighs the same files by rules of its own.
"""

from __future__ import annotations

import io
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from datetime import date
from functools import lru_cache
from hashlib import sha256
from itertools import pairwise
from pathlib import Path
from typing import Any

import pikepdf
import pytest
import typst
from helpers import HOUSE, clock, clock_rules
from hypothesis import given, settings
from hypothesis import strategies as st
from stated import HOSTILE, PICTURES, rich

from conserve.statement.model import Document, Figure, Grid, Prose, Section, told
from conserve.statement.numbering import column_widths, day_of, heading_levels, in_words, numbered, references, unbroken
from conserve.statement.signs import PRINTED, printable, tidied
from conserve.statement.typeset import pdf
from conserve.weighing import weigh_all

BARE = Document("A pump", (), (), (Section("only", "In short", (Prose("one", "Nothing yet.", ()),)),), {})


@lru_cache(maxsize=1)
def rich_pdf() -> bytes:
    return pdf(rich(), PICTURES)


@lru_cache(maxsize=1)
def demo_pdf() -> bytes:
    """The statement of a casebook that travels with the program."""
    from conserve.statement.document import document_of

    weighings = weigh_all(clock(), clock_rules())
    return pdf(document_of(weighings, clock(), clock_rules(), date(2026, 6, 1)), {})


def opened(data: bytes) -> pikepdf.Pdf:
    return pikepdf.open(io.BytesIO(data))


def with_text(words: str) -> Document:
    return replace(BARE, sections=(Section("only", "In short", (Prose("one", words, ()),)),))


# ---- reading a tagged file -----------------------------------------------------------------------------


def elements(at: Any) -> Iterator[tuple[str, Any]]:
    """Every structure element below one, in the order in which it is read: its type and itself."""
    kids = at.get("/K", [])
    for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
        if isinstance(kid, pikepdf.Dictionary) and "/S" in kid:
            yield str(kid.S), kid
            yield from elements(kid)


def tree(file: pikepdf.Pdf) -> list[tuple[str, Any]]:
    return list(elements(file.Root.StructTreeRoot))


def words_by_mark(page: pikepdf.Page) -> tuple[set[int], list[str]]:
    """The marked-content numbers of a page, and each thing drawn outside every mark."""
    marks: set[int] = set()
    outside: list[str] = []
    open_marks: list[bool] = []  # whether each is content of the tree or decoration
    for operands, operator in pikepdf.parse_content_stream(page):
        name = str(operator)
        if name in ("BDC", "BMC"):
            inside = operands[1] if len(operands) > 1 else {}
            if isinstance(inside, pikepdf.Dictionary) and "/MCID" in inside:
                marks.add(int(inside["/MCID"]))
                open_marks.append(True)
            else:
                open_marks.append(str(operands[0]) == "/Artifact")
        elif name == "EMC":
            open_marks.pop()
        elif name in ("Tj", "TJ", "'", '"', "Do", "S", "s", "f", "f*", "B", "B*", "b", "b*", "sh") and not any(
            open_marks
        ):
            outside.append(name)
    return marks, outside


def marks_in_tree(file: pikepdf.Pdf) -> set[tuple[int, int]]:
    """Page and number of every mark that the tree holds."""
    pages = {page.objgen: at for at, page in enumerate(file.pages)}
    found: set[tuple[int, int]] = set()
    for _, element in tree(file):
        kids = element.get("/K", [])
        for kid in kids if isinstance(kids, pikepdf.Array) else [kids]:
            if isinstance(kid, int):
                found.add((pages[element.Pg.objgen], int(kid)))
            elif isinstance(kid, pikepdf.Dictionary) and "/MCID" in kid:
                found.add((pages[kid.get("/Pg", element.get("/Pg")).objgen], int(kid.MCID)))
    return found


def read_out(data: bytes, tmp_path: Path) -> str:
    """All the words of a file, by a reader that is nobody's here (poppler)."""
    (tmp_path / "read.pdf").write_bytes(data)
    try:
        said = subprocess.run(["pdftotext", "-raw", "read.pdf", "-"], cwd=tmp_path, capture_output=True, text=True)
    except FileNotFoundError:
        pytest.skip("pdftotext (poppler-utils) is not on this machine")
    return " ".join(said.stdout.split())


# ---- what ISO 14289-1 asks -----------------------------------------------------------------------------


@pytest.fixture(params=[rich_pdf, demo_pdf], ids=["sample", "demonstration"])
def file(request: pytest.FixtureRequest) -> Iterator[pikepdf.Pdf]:
    with opened(request.param()) as one:
        yield one


def test_it_says_that_it_is_tagged_and_which_standard_it_keeps_to(file):
    # Clauses 5 (identification), 6.2 and 7.1.
    assert bool(file.Root.MarkInfo.Marked)
    assert not file.Root.MarkInfo.get("/Suspects", False)
    with file.open_metadata() as told_of_it:
        assert told_of_it["pdfuaid:part"] == "1"


def test_it_has_a_title_that_a_reader_shows_and_a_language(file):
    # Clauses 7.1 (title) and 7.2 (language).
    with file.open_metadata() as told_of_it:
        assert str(told_of_it["dc:title"]).startswith("Conservation statement")
    assert bool(file.Root.ViewerPreferences.DisplayDocTitle)
    assert str(file.Root.Lang) == "en-GB"


def test_whatever_is_drawn_is_in_the_tree_or_marked_as_decoration(file):
    # Clause 7.1: no content outside both.
    in_tree = marks_in_tree(file)
    for at, page in enumerate(file.pages):
        marks, outside = words_by_mark(page)
        assert outside == []
        assert marks and {(at, mark) for mark in marks} <= in_tree


def test_what_is_drawn_outside_every_mark_is_noticed():
    with opened(rich_pdf()) as spoilt:
        page = spoilt.pages[0]
        page.contents_add(b"BT (words) Tj ET", prepend=False)
        assert words_by_mark(page)[1] == ["Tj"]


def test_headings_begin_at_the_first_level_and_skip_none(file):
    # Clause 7.4.2.
    levels = [int(kind[2:]) for kind, _ in tree(file) if re.fullmatch(r"/H[1-6]", kind)]
    assert levels[0] == 1 and len(levels) > 5
    assert all(later <= earlier + 1 for earlier, later in pairwise(levels))


def test_every_figure_has_words_for_whoever_does_not_see_it(file):
    # Clause 7.3.
    for kind, element in tree(file):
        if kind == "/Figure":
            assert str(element.Alt).strip()


def test_every_table_has_cells_that_head_its_columns_and_says_which(file):
    # Clause 7.5.
    tables = [element for kind, element in tree(file) if kind == "/Table"]
    assert tables
    for table in tables:
        rows = [element for kind, element in elements(table) if kind == "/TR"]
        heads = [element for kind, element in elements(rows[0]) if kind == "/TH"]
        assert heads and all(scope_of(head) == "/Column" for head in heads)
        widths = {sum(kind in ("/TH", "/TD") for kind, _ in elements(row)) for row in rows}
        assert widths == {len(heads)}


def scope_of(cell: Any) -> str:
    attributes = cell.A if isinstance(cell.A, pikepdf.Array) else [cell.A]
    return next(str(one.Scope) for one in attributes if "/Scope" in one)


def test_every_link_says_in_words_where_it_leads_and_is_in_the_tree(file):
    # Clause 7.18.5.
    links = [note for page in file.pages for note in page.get("/Annots", []) if str(note.Subtype) == "/Link"]
    assert links
    assert all(str(link.Contents).strip() and "/StructParent" in link for link in links)
    assert all("/URI" not in link.get("/A", {}) for link in links)  # it leads nowhere outside itself


def test_pages_with_links_are_walked_in_the_order_of_the_tree(file):
    # Clause 7.18.3.
    assert all(str(page.Tabs) == "/S" for page in file.pages if "/Annots" in page)


def test_every_font_travels_with_it(file):
    # Clause 7.21.4.1.
    found = 0
    for item in file.objects:
        if isinstance(item, pikepdf.Dictionary) and item.get("/Type") == "/FontDescriptor":
            found += 1
            assert {"/FontFile", "/FontFile2", "/FontFile3"} & set(item.keys())
    assert found


def test_it_carries_no_script_no_file_and_no_form(file):
    assert {"/OpenAction", "/AA", "/AcroForm"}.isdisjoint(file.Root.keys())
    assert {"/JavaScript", "/EmbeddedFiles"}.isdisjoint(file.Root.get("/Names", {}).keys())


def test_another_checker_finds_nothing_against_the_standard(tmp_path):
    """Of a small statement with every kind of block; whole ones are weighed in tests/long."""
    assert conformance(rich_pdf(), tmp_path) == []


def test_the_other_checker_is_really_asked(tmp_path):
    with opened(rich_pdf()) as spoilt:
        del spoilt.Root.Lang
        figure = next(element for kind, element in tree(spoilt) if kind == "/Figure")
        del figure.Alt
        spoilt.save(tmp_path / "spoilt.pdf")
    found = conformance((tmp_path / "spoilt.pdf").read_bytes(), tmp_path)
    assert any("Figure" in one for one in found) and any("Lang" in one for one in found)


def conformance(data: bytes, tmp_path: Path) -> list[str]:
    """What the other checker has against a file, by the clauses of the standard alone."""
    (tmp_path / "one.pdf").write_bytes(data)
    asked = [sys.executable, "-m", "outloud.cli", "one.pdf", "--layer", "conformance", "--json", "one.json"]
    ran = subprocess.run(asked, cwd=tmp_path, capture_output=True, text=True)
    assert ran.returncode in (0, 1), ran.stderr
    (report,) = json.loads((tmp_path / "one.json").read_text(encoding="utf-8"))["results"]
    return [f"{one['rule']}: {one['message']}" for one in report["findings"]]


# ---- what it says --------------------------------------------------------------------------------------


def test_every_word_of_the_statement_is_there(tmp_path):
    said = squeezed(read_out(rich_pdf(), tmp_path))
    document = rich()
    wanted = [one.says for one in told(document) if not one.where.startswith("figures/") and "[" not in one.says]
    wanted += [*document.cautions, *(section.title for section in document.sections), HOSTILE, *document.sources]
    for text in wanted:
        assert squeezed(printable(text)) in said


def squeezed(text: str) -> str:
    """A text without what setting it changes: spaces and the marks of broken words."""
    return re.sub(r"[\s\u00ad\u2010-]+", "", text)


def test_cautions_come_before_the_contents_and_every_section(tmp_path):
    said = read_out(rich_pdf(), tmp_path)
    assert said.index("certifies nothing") < said.index("Contents") < said.index("Three proposals are decided")


def test_a_picture_that_is_missing_or_broken_is_told_in_words(tmp_path):
    said = squeezed(read_out(rich_pdf(), tmp_path))
    for file in ("cut-off.png", "gone.png"):
        assert squeezed(f"It is kept as evidence/{file}.") in said
    with opened(rich_pdf()) as file:
        alts = [str(element.Alt) for kind, element in tree(file) if kind == "/Figure"]
    assert alts == ["Two boxes, of which one is original.", "A grey plate."]


def test_no_text_is_markup():
    with opened(pdf(with_text("Nothing yet."), {})) as file:
        plain = [kind for kind, _ in tree(file)]
    for words in (
        HOSTILE,
        '#read("statement.typ")',
        "#include",
        "*a* _b_ `c` <d> @e $f$ = g\n= h\n+ i\n/ j: k",
        "\\",
        '"',
    ):
        with opened(pdf(with_text(words), {})) as file:
            assert [kind for kind, _ in tree(file)] == plain


@settings(max_examples=15)
@given(st.text(max_size=60))
def test_no_text_can_break_it(words):
    document = Document(words, ((words, words),), (words,), (Section("a", words, (Prose("b", words, ()),)),), {})
    assert pdf(document, {}).startswith(b"%PDF-")


@settings(max_examples=15)
@given(st.binary(max_size=60), st.sampled_from([b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff", b"<svg ", b"<svg>\xe6\xbc\xa2"]))
def test_no_picture_can_break_it(data, beginning):
    figure = Figure("f", "A picture", "Something.", (), file="it.png")
    document = replace(BARE, sections=(Section("s", "Pictures", (figure,)),))
    assert pdf(document, {"it.png": beginning + data}).startswith(b"%PDF-")


def test_every_sign_that_is_said_to_print_does():
    signs = [chr(at) for at in range(0x20, 0x3000) if re.fullmatch(f"[{PRINTED}]", chr(at))]
    assert len(signs) > 2500
    assert [one for one in signs if printable(one) != one and printable(one)[:2] == "[U"] == []
    data = pdf(with_text(" ".join(tidied(f"a{one}") for one in signs)), {})  # fails on a sign that no font has
    assert data.startswith(b"%PDF-")


def test_a_sign_that_no_font_has_is_told_by_its_number():
    assert printable("stud 漢 é") == "stud [U+6F22] é"
    assert tidied("a\u202eb\x00c\n d\u00a0e") == "abc d\u00a0e"


# ---- the same every time -------------------------------------------------------------------------------


def test_the_same_statement_gives_the_same_bytes_in_another_process():
    script = (
        "import sys; sys.path.insert(0, 'tests')\n"
        "from hashlib import sha256\nfrom stated import PICTURES, rich\nfrom conserve.statement.typeset import pdf\n"
        "print(sha256(pdf(rich(), PICTURES)).hexdigest())\n"
    )
    ran = subprocess.run([sys.executable, "-c", script], cwd=HOUSE, capture_output=True, text=True)
    assert ran.stdout.strip() == sha256(rich_pdf()).hexdigest(), ran.stderr


def test_the_day_of_the_file_is_the_day_of_the_statement():
    with opened(rich_pdf()) as file:
        assert str(file.docinfo.CreationDate).startswith("D:20260601")
    with opened(pdf(BARE, {})) as file:
        assert "/CreationDate" not in (file.docinfo or {})


# ---- numbering -----------------------------------------------------------------------------------------


def test_the_day_is_the_first_that_the_front_tells():
    assert day_of(rich()) == date(2026, 6, 1)
    assert day_of(replace(BARE, front=(("a", "12026-06-012"), ("b", "2026-02-31"), ("c", "on 2026-03-02")))) == date(
        2026, 3, 2
    )
    assert day_of(BARE) is None


def test_sources_are_numbered_by_name_and_runs_of_them_told_by_their_ends():
    numbers = numbered(rich())
    assert list(numbers) == sorted(rich().sources) and list(numbers.values()) == [1, 2, 3, 4, 5]
    assert references(("records/slipper", "object.yaml", "unknown"), numbers) == ((3,), (4,))
    assert references(rich().sources, numbers) == ((1, 5),)


def test_headings_never_go_down_two_levels_at_once():
    sections = tuple(Section(str(at), str(at), (), level) for at, level in enumerate((4, 4, 2, 3, 9)))
    assert heading_levels(replace(BARE, sections=sections)) == (1, 2, 1, 2, 3)


def test_every_column_has_room_for_a_word_of_its_own():
    grid = rich().sections[3].blocks[0]
    assert isinstance(grid, Grid)
    widths = column_widths(grid)
    columns = zip(grid.head, *(row.cells for row in grid.rows), strict=True)
    for width, column in zip(widths, columns, strict=True):
        assert width > max(len(piece) for cell in column for piece in unbroken(cell))
    assert sum(widths) <= 110
    assert widths[-1] > widths[0]  # the longer the cells, the wider their column


def test_a_line_may_end_after_a_hyphen_between_letters_and_not_within_a_day():
    assert unbroken("engine-house-1934 on 2026-01-22") == ["engine-", "house-1934", "on", "2026-01-22"]


def test_what_stands_in_for_a_picture_says_what_it_shows():
    assert "A grey plate." in in_words(Figure("f", "The plate", "A grey plate", (), file="plate.png"))


def test_the_fonts_are_those_that_come_with_the_program():
    families = typst.Fonts(include_system_fonts=False).families()
    template = (HOUSE / "templates" / "statement.typ").read_text(encoding="utf-8")
    named = set(re.findall(r'"((?:[A-Z][a-z]+ ?)+(?:Sans|Serif|Modern|Mono)+)"', template))
    assert named and named <= set(families)
