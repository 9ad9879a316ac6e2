"""The command that writes the conservation statement: statement."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from typing import TYPE_CHECKING

from conserve.cli.overtaking import document_on
from conserve.cli.parser import takes_day, takes_one_casebook, takes_rules, with_example
from conserve.cli.reading import Refused, find, how_to_install, read_all, seals_of
from conserve.cli.showing import counted

if TYPE_CHECKING:
    from conserve.statement import Document

DONE = 0
_FILE = "statement/statement"
_FORMS = (".html", ".docx", ".pdf")


def add_statement(parser: argparse.ArgumentParser) -> None:
    takes_one_casebook(parser)
    parser.add_argument("--html", action="store_true", help="write it as a web page too")
    parser.add_argument("--word", action="store_true", help="write it for a word processor too (.docx)")
    parser.add_argument("--pdf", action="store_true", help="write it as a tagged PDF too")
    takes_day(parser, "as on this day; otherwise as on the latest day in the casebook")
    takes_rules(parser)
    with_example(
        parser, "conserve statement casebook/marrow-fen", "conserve statement casebook/marrow-fen --html --pdf"
    )
    parser.set_defaults(run=statement)


def statement(given: argparse.Namespace) -> int:
    read = read_all(find(given.casebook), given.rules)
    from conserve.statement import index, markdown, shown_pictures  # slow to load

    day = given.day or read.casebook.as_at
    document = document_on(read, seals_of(read), day)
    pictures = shown_pictures(read.casebook, read.folder)
    texts = {f"{_FILE}.md": markdown(document), f"{_FILE}.json": index(document)}
    made = {**{name: text.encode() for name, text in texts.items()}, **_others(given, document, pictures)}
    for name, data in made.items():  # all of them are made before any is written
        read.folder.put(name, data)
    print("\n".join(f"{read.place.shown}/{name}" for name in made))
    for ending in _FORMS:
        if f"{_FILE}{ending}" in set(read.folder.names("statement", ending)) - set(made):
            print(f"{read.place.shown}/{_FILE}{ending} is of an earlier day and is left as it is.")
    print(f"{counted(len(made), 'file')} written. It certifies nothing.")
    return DONE


def _others(given: argparse.Namespace, document: Document, pictures: Mapping[str, bytes]) -> dict[str, bytes]:
    """The other forms that are asked for. One that needs what is not installed is refused, and nothing is written."""
    made: dict[str, bytes] = {}
    if given.html:
        from conserve.statement import html

        made[f"{_FILE}.html"] = html(document, pictures).encode()
    if given.word:
        made[f"{_FILE}.docx"] = _as_word(document, pictures)
    if given.pdf:
        made[f"{_FILE}.pdf"] = _as_pdf(document, pictures)
    return made


def _as_word(document: Document, pictures: Mapping[str, bytes]) -> bytes:
    from conserve.statement import word

    try:
        return word.docx(document, pictures)
    except ModuleNotFoundError as error:
        raise _absent(error, "a file for a word processor", "word") from error


def _as_pdf(document: Document, pictures: Mapping[str, bytes]) -> bytes:
    from conserve.statement import typeset

    try:
        return typeset.pdf(document, pictures)
    except ModuleNotFoundError as error:
        raise _absent(error, "a PDF", "pdf") from error


def _absent(error: ModuleNotFoundError, form: str, extra: str) -> Refused:
    sentence = f"{form} cannot be made here: {error.name} is not installed. Nothing was written"
    return Refused(sentence, how_to_install(extra))
