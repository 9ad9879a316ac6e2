"""The statement as a Word file: that its headings, lists, tables and pictures are real ones, and its bytes the same.

Names of elements are those of ECMA-376, part 1, section 17, cited from memory. The file is read back by python-docx
and, part by part, by an ordinary XML reader.
"""

from __future__ import annotations

import io
import re
import subprocess
import sys
import zipfile
from dataclasses import replace
from functools import lru_cache
from hashlib import sha256
from typing import Any
from xml.etree import ElementTree

import pytest
from docx import Document as reopened
from docx.document import Document as Made
from helpers import HOUSE
from hypothesis import given, settings
from hypothesis import strategies as st
from stated import HOSTILE, PICTURES, rich

from conserve.statement.model import Document, Figure, Prose, Section, told
from conserve.statement.signs import tidied
from conserve.statement.word import docx

W = "{http://schemas.openxmlformats.org/wordprocessingml/2006/main}"


@lru_cache(maxsize=1)
def rich_file() -> bytes:
    return docx(rich(), PICTURES)


def read_back(data: bytes | None = None) -> Made:
    return reopened(io.BytesIO(data or rich_file()))


def part(name: str, data: bytes | None = None) -> Any:
    with zipfile.ZipFile(io.BytesIO(data or rich_file())) as packed:
        return ElementTree.fromstring(packed.read(name))


def body(data: bytes | None = None) -> Any:
    return part("word/document.xml", data)


def words_of(data: bytes | None = None) -> str:
    """Every word of a file, paragraph by paragraph."""
    return "\n".join("".join(text.text or "" for text in one.iter(f"{W}t")) for one in body(data).iter(f"{W}p"))


def test_headings_are_real_ones_and_skip_no_level():
    found = [(p.style.name, p.text) for p in read_back().paragraphs if p.style.name.startswith(("Heading", "Title"))]
    assert found == [
        ("Title", "Conservation statement: the Sedge Lane pump"),
        ("Heading 1", "Cautions"),
        ("Heading 1", "Contents"),
        ("Heading 1", "In short"),
        ("Heading 1", "Part by part"),
        ("Heading 2", "Top slipper"),
        ("Heading 1", "Decisions, rules and evidence"),
        ("Heading 1", "Drawings and pictures"),
        ("Heading 1", "Ünusual signs – « Łódź » 漢"),
        ("Heading 1", "What this was made from"),
    ]


def test_every_word_of_the_statement_is_there():
    said = words_of()
    document = rich()
    wanted = [one.says for one in told(document) if not one.where.startswith(("figures/", "slipper/sizes", "matrix/"))]
    wanted += [*document.cautions, *document.sources, *document.sources.values(), HOSTILE, "part-21", "0.22 ± 0.04 mm"]
    for text in wanted:
        assert tidied(text) in said


def test_cautions_come_before_the_contents_and_every_section():
    said = words_of()
    assert said.index("certifies nothing") < said.index("Contents") < said.index("Three proposals are decided")


def test_lists_are_real_lists():
    listed = [p.text for p in read_back().paragraphs if p.style.name == "List Bullet"]
    assert [one.partition(" [")[0] for one in listed] == [
        "Stud 17 waits for a crack test.",
        "The lagging waits for a competent person’s report.",
    ]
    bullets = next(s for s in part("word/styles.xml").iter(f"{W}style") if s.get(f"{W}styleId") == "ListBullet")
    assert bullets.find(f"{W}pPr/{W}numPr") is not None


def test_every_table_has_a_name_and_a_first_row_that_heads_it_on_every_page():
    tables = list(body().iter(f"{W}tbl"))
    names = [one.find(f"{W}tblPr/{W}tblCaption").get(f"{W}val") for one in tables]
    assert names[:2] == ["Sizes as found and as left", "Every decision"] and len(names) == 3
    for one in tables:
        heads = [row.find(f"{W}trPr/{W}tblHeader") is not None for row in one.iter(f"{W}tr")]
        assert heads[0] and not any(heads[1:])
        assert one.find(f"{W}tblPr/{W}tblLook").get(f"{W}firstRow") == "1"


def test_pictures_say_what_they_show_and_the_rest_is_told_in_words():
    told_of = [e.get("descr") for e in body().iter() if e.tag.endswith("}docPr")]
    assert told_of == ["Two boxes, of which one is original.", "A grey plate."]
    captions = [p.text.partition(" [")[0] for p in read_back().paragraphs if p.style.name == "Caption"]
    assert {"What is original", "The plate"} <= set(captions)
    for file in ("cut-off.png", "gone.png"):
        assert f"It is kept as evidence/{file}." in words_of()


def test_a_picture_is_never_wider_or_taller_than_its_place():
    for shape in read_back().inline_shapes:
        assert shape.width.mm <= 160.1 and shape.height.mm <= 90.1


def test_every_link_leads_to_a_place_that_is_there():
    places = [e.get(f"{W}name") for e in body().iter(f"{W}bookmarkStart")]
    ids = [e.get(f"{W}id") for e in body().iter(f"{W}bookmarkStart")]
    ends = [e.get(f"{W}id") for e in body().iter(f"{W}bookmarkEnd")]
    links = [e.get(f"{W}anchor") for e in body().iter(f"{W}hyperlink")]
    assert links and set(links) <= set(places)
    assert len(set(places)) == len(places) and len(set(ids)) == len(ids) and sorted(ids) == sorted(ends)


def test_it_says_its_language_its_title_and_its_day():
    known = read_back().core_properties
    assert (known.title, known.language) == ("Conservation statement: the Sedge Lane pump", "en-GB")
    assert known.created.date().isoformat() == known.modified.date().isoformat() == "2026-06-01"
    assert known.author == known.last_modified_by == ""
    language = part("word/styles.xml").find(f"{W}docDefaults/{W}rPrDefault/{W}rPr/{W}lang")
    assert language.get(f"{W}val") == "en-GB"


def test_the_page_is_a4_and_numbered():
    page = read_back().sections[0]
    assert (round(page.page_width.mm), round(page.page_height.mm)) == (210, 297)
    fields = [e.text.strip() for e in page.footer._element.iter(f"{W}instrText")]
    assert fields == ["PAGE", "NUMPAGES"]
    kinds = [e.get(f"{W}fldCharType") for e in body().iter(f"{W}fldChar")]
    assert kinds == ["begin", "separate", "end"]  # the contents, whose lines stand there already


def test_it_holds_no_macro_and_reaches_for_nothing_outside():
    with zipfile.ZipFile(io.BytesIO(rich_file())) as packed:
        names = packed.namelist()
        links = b"".join(packed.read(name) for name in names if name.endswith(".rels"))
    assert not [name for name in names if re.search(r"vba|activeX|embeddings|\.bin$", name, re.IGNORECASE)]
    assert b'TargetMode="External"' not in links


def test_the_same_statement_gives_the_same_bytes_in_another_process():
    script = (
        "import sys; sys.path.insert(0, 'tests')\n"
        "from hashlib import sha256\nfrom stated import PICTURES, rich\nfrom conserve.statement.word import docx\n"
        "print(sha256(docx(rich(), PICTURES)).hexdigest())\n"
    )
    ran = subprocess.run([sys.executable, "-c", script], cwd=HOUSE, capture_output=True, text=True)
    assert ran.stdout.strip() == sha256(rich_file()).hexdigest(), ran.stderr


def test_without_the_extra_that_draws_a_drawing_is_told_in_words_and_a_photograph_stays():
    script = (
        "import sys; sys.path.insert(0, 'tests'); sys.modules['typst'] = None\n"
        "from stated import PICTURES, rich\nfrom conserve.statement.word import docx\n"
        "sys.stdout.buffer.write(docx(rich(), PICTURES))\n"
    )
    ran = subprocess.run([sys.executable, "-c", script], cwd=HOUSE, capture_output=True)
    assert ran.returncode == 0, ran.stderr.decode()
    assert [e.get("descr") for e in body(ran.stdout).iter() if e.tag.endswith("}docPr")] == ["A grey plate."]
    assert "A picture belongs here, and is not shown: What is original." in words_of(ran.stdout)
    assert "It is kept as evidence/cut-off.png." in words_of(ran.stdout)


@settings(max_examples=10)
@given(st.text(max_size=60))
def test_no_text_can_break_it(words):
    document = Document(words, ((words, words),), (words,), (Section("a", words, (Prose("b", words, ()),)),), {})
    assert words_of(docx(document, {})).count(tidied(words)) >= 5


@pytest.mark.parametrize("data", [b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff\xe0 no more", b"GIF89a", b"", b"<svg"])
def test_what_is_no_picture_is_told_in_words(data):
    figure = Figure("f", "A picture", "Something grey", (), file="it.png")
    document = replace(rich(), sections=(Section("s", "Pictures", (figure,)),))
    assert "is not shown: A picture. Something grey." in words_of(docx(document, {"it.png": data}))


def test_a_statement_of_nothing_is_still_a_file():
    assert words_of(docx(Document("", (), (), (), {}), {})).startswith("Without a title")


def test_a_title_longer_than_a_file_can_tell_stands_whole_on_its_page():
    title = "A pump " * 60
    data = docx(Document(title, (), (), (), {}), {})
    assert words_of(data).startswith(tidied(title))
    assert tidied(title).startswith(read_back(data).core_properties.title)
