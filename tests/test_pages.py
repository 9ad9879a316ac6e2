"""Every page that the program makes, in a browser: that anyone can read it, and that it asks nobody for anything.

The judge is axe-core, with its rules for WCAG 2.2 at levels A and AA; reflow (criterion 1.4.10, no scrolling in two
directions at 320 px) is measured here, because axe-core does not.
"""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterator
from datetime import date
from functools import lru_cache
from pathlib import Path
from typing import Any

import audited
import pytest
from axe_playwright_python.sync_playwright import Axe
from helpers import DEMO, HOUSE, MORE, clock, clock_rules, demo, shipped_rules, weighed
from playwright.sync_api import Browser, Page, sync_playwright
from stated import PICTURES, rich

from conserve.audit.report import report
from conserve.files import Folder
from conserve.record import drawings_of, markdown_record
from conserve.record.html import html_page
from conserve.sheet import read_sequence, sheet_of
from conserve.sheet.telling import html_sheets
from conserve.statement import document_of
from conserve.statement import html as html_statement
from conserve.survey import survey_of
from conserve.survey.sheets import html_sheet
from conserve.weighing import weigh_all

WCAG = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa"]
ASKED = {"runOnly": {"type": "tag", "values": WCAG}, "resultTypes": ["violations"]}
# As root it needs the first; the others keep it from asking after updates.
SWITCHES = (
    "--no-sandbox",
    "--disable-background-networking",
    "--disable-component-update",
    "--disable-sync",
    "--no-first-run",
    "--disable-quic",
)
FAULTY = (
    '<!DOCTYPE html><html><head><title>x</title></head><body style="background:#fff"><img src="data:,">'
    '<p style="color:#ccc">pale words</p><table style="width:40rem"><tr><td>wide</td></tr></table></body></html>'
)


def chromium() -> str:
    """Where the browser is, or nothing."""
    named = os.environ.get("CONSERVE_CHROMIUM", "")
    return named or shutil.which("chromium") or ("/usr/bin/chromium" if Path("/usr/bin/chromium").exists() else "")


@pytest.fixture(scope="module")
def browser() -> Iterator[Browser]:
    place = chromium()
    if not place:
        pytest.skip("no Chromium here: install it, or name it in CONSERVE_CHROMIUM")
    with sync_playwright() as started:
        opened = started.chromium.launch(executable_path=place, args=list(SWITCHES))
        yield opened
        opened.close()


# ---- the pages -----------------------------------------------------------------------------------------


def record() -> str:
    weighing = weighed(demo(), "crosshead-slipper")
    pictures = {
        name.rpartition("/")[2]: Folder(DEMO).read_bytes(name) for name in Folder(DEMO).names("evidence", ".svg")
    }
    return html_page(
        markdown_record(weighing, shipped_rules()), weighing.proposal.title, pictures, drawings_of(weighing)
    )


def survey() -> str:
    return html_sheet(survey_of(weighed(demo(), "governor-bush"), shipped_rules()))


def sheet() -> str:
    before, problems = read_sequence(Folder(HOUSE / "rules"), shipped_rules())
    assert problems == ()
    sheets = [sheet_of(weighed(demo(), name), shipped_rules(), before) for name in ("stud-17", "pipe-lagging")]
    return html_sheets(sheets, "Workshop sheets")


def statement() -> str:
    weighings = weigh_all(clock(), clock_rules())
    return html_statement(document_of(weighings, clock(), clock_rules(), date(2026, 6, 1)), {})


def statement_with_pictures() -> str:
    return html_statement(rich(), PICTURES)


def audit() -> str:
    return html_statement(report(audited.rich()), {})


PAGES = (record, survey, sheet, statement, statement_with_pictures, audit)


@lru_cache(maxsize=len(PAGES))
def made(page: Callable[[], str]) -> str:
    return page()


# ---- looking at them -----------------------------------------------------------------------------------


@pytest.fixture
def looked_at(browser: Browser, tmp_path: Path) -> Iterator[Callable[..., Page]]:
    """Open a text as a page without a network, so wide and in that light."""
    contexts: list[Any] = []

    def look(text: str, width: int = 1100, light: str = "light") -> Page:
        (tmp_path / "page.html").write_text(text, encoding="utf-8")
        context = browser.new_context(viewport={"width": width, "height": 900}, color_scheme=light, offline=True)
        contexts.append(context)
        page = context.new_page()
        page.goto((tmp_path / "page.html").as_uri())
        return page

    yield look
    for context in contexts:
        context.close()


def faults(page: Page) -> list[str]:
    """What axe-core finds against a page: the rule, what it asks, and the first place."""
    found = Axe().run(page, options=ASKED).response["violations"]
    return [f"{one['id']}: {one['help']} at {one['nodes'][0]['target']} ({len(one['nodes'])})" for one in found]


def overflow(page: Page) -> int:
    """How many px a page is wider than its window."""
    return int(page.evaluate("document.documentElement.scrollWidth - document.documentElement.clientWidth"))


# The whole statement takes long to judge, and is judged in tests/long; the small one has every kind of block.
WAYS = [(page, light, width) for page in PAGES for light in ("light", "dark") for width in (1100, 320)]
# Colours hang on the light and layout on the width: two of the four ways show all of both.
SHOWING = (("dark", 320), ("light", 1100))
EVERYDAY = [way for way in WAYS if (way[1:] in SHOWING and way[0] is not statement) or MORE > 1]


@pytest.mark.parametrize(("page", "light", "width"), EVERYDAY, ids=lambda one: getattr(one, "__name__", str(one)))
def test_anyone_can_read_it(page, light, width, looked_at):
    seen = looked_at(made(page), width, light)
    assert faults(seen) == []
    assert overflow(seen) <= 0


@pytest.mark.parametrize("page", PAGES, ids=lambda page: page.__name__)
def test_it_asks_nobody_for_anything_and_its_own_rules_refuse_nothing_of_it(page, browser, tmp_path):
    (tmp_path / "page.html").write_text(made(page), encoding="utf-8")
    context = browser.new_context(offline=True)
    seen = context.new_page()
    asked: list[str] = []
    said: list[str] = []
    seen.on("request", lambda request: asked.append(request.url))
    seen.on("console", lambda message: said.append(message.text))
    seen.goto((tmp_path / "page.html").as_uri())
    context.close()
    assert [url for url in asked if not url.startswith("data:")] == [(tmp_path / "page.html").as_uri()]
    assert said == []


def test_the_judge_finds_faults_that_are_planted(looked_at):
    seen = looked_at(FAULTY, 320)
    found = {one.partition(":")[0] for one in faults(seen)}
    assert {"color-contrast", "html-has-lang", "image-alt"} <= found
    assert overflow(seen) > 0
