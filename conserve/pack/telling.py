"""What a bundle tells: the statement and the records of the casebook as its readers see it, readiness, the ledger."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from pathlib import Path

from conserve.casebook import Casebook
from conserve.files import FileRefused, Folder
from conserve.pack.contents import Contents
from conserve.readiness.model import Profile
from conserve.statement.model import Document, Figure
from conserve.weighing import Weighing

_MOST = 10_000_000  # bytes of pictures in the statement's page: more would have to be held at once


def made_of_weighings(contents: Contents, inside: Folder, word: bool, pdf: bool) -> Iterator[tuple[str, bytes]]:
    """The statement and the records, below the casebook's place. `inside` is the casebook in the bundle."""
    from conserve import statement
    from conserve.record import records_of

    for name, text in records_of(inside, contents.weighings, contents.rulebook):
        yield name, text.encode("utf-8")
    whole = (contents.weighings, contents.casebook, contents.rulebook, contents.day, contents.seals)
    document = statement.document_of(*whole)
    pictures = _pictures(document, inside)
    yield "statement/statement.md", statement.markdown(document).encode("utf-8")
    yield "statement/statement.json", statement.index(document).encode("utf-8")
    yield "statement/statement.html", statement.html(document, pictures).encode("utf-8")
    if word:
        from conserve.statement.word import docx

        yield "statement/statement.docx", docx(document, pictures)
    if pdf:
        from conserve.statement.typeset import pdf as typeset

        yield "statement/statement.pdf", typeset(document, pictures)


def _pictures(document: Document, inside: Folder) -> Mapping[str, bytes]:
    """The pictures that the statement names and the bundle holds, as far as there is room for them in one page."""
    found: dict[str, bytes] = {}
    left = _MOST
    for section in document.sections:
        for block in section.blocks:
            if isinstance(block, Figure) and block.file and block.file not in found:
                try:
                    found[block.file] = inside.read_bytes(f"evidence/{block.file}", limit=left)
                except FileRefused:  # told in the page by its caption alone
                    continue
                left -= len(found[block.file])
    return found


def made_of_object(
    contents: Contents, profile: Profile, weighings: Iterable[Weighing], casebook: Casebook, folder: Folder
) -> Iterator[tuple[str, str]]:
    """What stands at the head of the payload.

    Readiness is that of the casebook in its owner's hands (`casebook` in `folder`), where nothing is withheld.
    """
    from conserve.ledger import drawing, ledger_of
    from conserve.pack.ledger_page import page
    from conserve.readiness import readiness
    from conserve.readiness.telling import markdown

    ready = readiness(profile, weighings, casebook, contents.rulebook, folder, contents.day)
    yield "readiness.md", f"{markdown(ready).rstrip()}\n"
    ledger = ledger_of(contents.casebook, contents.rulebook.vocabulary)
    yield "ledger.md", page(ledger)
    yield "ledger.svg", f"{drawing(ledger).svg.rstrip()}\n"
    yield "checker.py", _checker()


def _checker() -> str:
    """The checker's own text: it is never imported, and stands alone wherever it is copied."""
    package = Path(__file__).parent.parent
    return Folder(package).read_bytes("checker.py").decode("utf-8")
