"""The justification record: Markdown for people, its proof for machines, and a page on request."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping

from conserve.explanation.proof import canonical_json, proof
from conserve.files import FileRefused, Folder
from conserve.record import bars, ladder
from conserve.record.drawing import Drawing
from conserve.record.markdown import place
from conserve.record.model import Page
from conserve.record.page import page_of
from conserve.rulebook import Rulebook
from conserve.weighing import Weighing
from conserve.weighing.whole import each_before_and_after


def markdown_record(weighing: Weighing, rulebook: Rulebook) -> str:
    """The Markdown record of a weighing."""
    return place(page_of(weighing, rulebook))


def write_records(folder: Folder, weighings: Iterable[Weighing], rulebook: Rulebook, html: bool) -> tuple[str, ...]:
    """Write each weighing's record and proof under `records/`; with `html`, its page too. Names what it wrote.

    Everything is made before anything is written, so that a fault leaves the folder as it was.
    """
    made = dict(records_of(folder, weighings, rulebook, html))
    for name, text in made.items():
        folder.write(name, text)
    return tuple(made)


def records_of(
    folder: Folder, weighings: Iterable[Weighing], rulebook: Rulebook, html: bool = False
) -> Iterator[tuple[str, str]]:
    """Each weighing's record and proof, and with `html` its page, by the name of its file. Writes nothing."""
    for weighing, whole in each_before_and_after(weighings, rulebook.vocabulary):
        name = f"records/{weighing.proposal.id}"
        page = page_of(weighing, rulebook, whole)
        record = place(page)
        yield f"{name}.md", record
        yield f"{name}.json", canonical_json(proof(weighing, rulebook, whole))
        if html:
            yield f"{name}.html", _html(folder, page, record, drawings_of(weighing))


def drawings_of(weighing: Weighing) -> dict[str, Drawing]:
    """The drawings of a record's page, by the id of the section that each opens."""
    return {
        "options-weighed": Drawing(
            ladder.svg(ladder.ladder_of(weighing)),
            "The options as a ladder, the gentlest at its foot. A rung's number says how far the gravest act of an "
            "option goes; 0 takes and adds nothing. The table below tells the same in full.",
        ),
        "what-is-lost-kept-and-added": Drawing(
            bars.svg(bars.bars_of(weighing)),
            "What each option leaves, measure by measure, each measure at one scale. The tables below tell more.",
        ),
    }


def _html(folder: Folder, page: Page, markdown: str, drawings: Mapping[str, Drawing]) -> str:
    from conserve.record.html import html_page

    pictures: dict[str, bytes] = {}
    for picture in page.pictures:
        try:
            pictures[picture.file] = folder.read_bytes(f"evidence/{picture.file}", limit=20_000_000)
        except FileRefused:  # told in the page by its caption alone
            continue
    return html_page(markdown, page.title, pictures, drawings)
