"""The justification record: Markdown for people, its proof for machines, and a page on request."""

from __future__ import annotations

from collections.abc import Iterable

from conserve.account import Held, held_today
from conserve.explanation.proof import canonical_json, proof
from conserve.files import FileRefused, Folder
from conserve.record.markdown import place
from conserve.record.model import Page
from conserve.record.page import page_of
from conserve.rulebook import Rulebook
from conserve.weighing import Weighing
from conserve.weighing.whole import whole_before_and_after


def markdown_record(weighing: Weighing, rulebook: Rulebook) -> str:
    """The Markdown record of a weighing."""
    return place(page_of(weighing, rulebook))


def write_records(folder: Folder, weighings: Iterable[Weighing], rulebook: Rulebook, html: bool) -> tuple[str, ...]:
    """Write each weighing's record and proof under `records/`; with `html`, its page too. Names what it wrote.

    Everything is made before anything is written, so that a fault leaves the folder as it was.
    """
    made: dict[str, str] = {}
    today: dict[str, Held] | None = None  # of the one casebook that all of them are about
    for weighing in weighings:
        today = held_today(weighing.casebook, rulebook.vocabulary) if today is None else today
        whole = whole_before_and_after(weighing, rulebook.vocabulary, today)
        name = f"records/{weighing.proposal.id}"
        page = page_of(weighing, rulebook, whole)
        made[f"{name}.md"] = place(page)
        made[f"{name}.json"] = canonical_json(proof(weighing, rulebook, whole))
        if html:
            made[f"{name}.html"] = _html(folder, page, made[f"{name}.md"])
    for name, text in made.items():
        folder.write(name, text)
    return tuple(made)


def _html(folder: Folder, page: Page, markdown: str) -> str:
    from conserve.record.html import html_page

    pictures: dict[str, bytes] = {}
    for picture in page.pictures:
        try:
            pictures[picture.file] = folder.read_bytes(f"evidence/{picture.file}", limit=20_000_000)
        except FileRefused:  # told in the page by its caption alone
            continue
    return html_page(markdown, page.title, pictures)
