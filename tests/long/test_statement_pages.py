"""The whole statements of the demonstrations: judged in a browser and as PDF, and given back by Word's reader."""

from __future__ import annotations

import io
import sys
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent.parent
sys.path.insert(0, str(HOUSE / "tests"))

from helpers import CLOCK, DEMO, clock_rules, read, shipped_rules  # noqa: E402
from test_pages import browser, faults, looked_at, overflow  # noqa: E402, F401
from test_typeset import conformance  # noqa: E402

from conserve.files import Folder  # noqa: E402
from conserve.statement import Document, document_of, html, shown_pictures  # noqa: E402
from conserve.statement.typeset import pdf  # noqa: E402
from conserve.statement.word import docx  # noqa: E402
from conserve.weighing import weigh_all  # noqa: E402

RULES = {DEMO: shipped_rules, CLOCK: clock_rules}


@pytest.fixture(scope="module", params=[DEMO, CLOCK], ids=lambda folder: folder.name)
def whole(request: pytest.FixtureRequest) -> tuple[Document, dict[str, bytes]]:
    folder, rules = Folder(request.param), RULES[request.param]()
    casebook = read(folder, rules)
    made = document_of(weigh_all(casebook, rules), casebook, rules, casebook.as_at)
    return made, dict(shown_pictures(casebook, folder))


@pytest.mark.parametrize("light", ["light", "dark"])
@pytest.mark.parametrize("width", [1100, 320])
def test_anyone_can_read_the_whole_statement(whole, light, width, looked_at):  # noqa: F811
    seen = looked_at(html(*whole), width, light)
    assert faults(seen) == []
    assert overflow(seen) <= 0


def test_another_checker_finds_nothing_against_the_whole_statement_as_pdf(whole, tmp_path):
    assert conformance(pdf(*whole), tmp_path) == []


def test_every_table_of_the_whole_statement_is_there_in_word(whole):
    from docx import Document as reopened

    document, _ = whole
    tables = reopened(io.BytesIO(docx(*whole))).tables
    wanted = [block.head for section in document.sections for block in section.blocks if hasattr(block, "head")]
    heads = [tuple(cell.text.lower() for cell in table.rows[0].cells) for table in tables]
    assert heads[: len(wanted)] == [tuple(cell.lower() for cell in head) for head in wanted]
