"""The plain text that a bundle opens with: what is here, how to check it, what was left out, what it cannot show."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator

from conserve.notes import NOTES
from conserve.pack.contents import Contents
from conserve.pack.shown import ShownFile
from conserve.seal import CHAIN

FILE = "GUIDE.txt"
_WIDE = 78


def guide(contents: Contents) -> str:
    """The guide to a bundle."""
    return "\n".join(line for block in _blocks(contents) for line in (*block, "")).rstrip("\n") + "\n"


def _blocks(contents: Contents) -> Iterator[list[str]]:
    name = contents.casebook.object.name
    yield _title(f"{name}: evidence for '{contents.purpose}'")
    yield _said(
        "This bundle certifies nothing. It does not say that anything is safe, fit, lawful or paid for. Whether a "
        "thing is safe, fit or lawful is for a competent person under local law. Read the cautions in the statement "
        "and in each record before any method."
    )
    yield _said(f"Put together as on {contents.day}, for {_readers(contents)}, with conserve {contents.version}.")
    yield _head("What is here")
    yield _listed(_parts(contents))
    yield _head("How to check that nothing has changed")
    yield _said("In the folder that holds bagit.txt. No program of ours is needed.")
    yield [
        "    sha256sum --strict -c tagmanifest-sha256.txt",
        "    sha256sum --strict -c manifest-sha256.txt",
    ]
    yield _said(
        "On a Mac, write shasum -a 256 in place of sha256sum, and leave out --strict. The folder is a bag (RFC 8493): "
        "any program that checks bags will also find a file too many."
    )
    yield _said(
        "These lists find damage. They do not show who made the bundle: whoever changes a file can change its list. "
        "Ask the sender for the SHA-256 of tagmanifest-sha256.txt by another way, such as a letter, and compare."
    )
    yield _head("How to check the conclusions")
    yield _said("With Python 3.11 or later and nothing else, in the folder data:")
    yield [f"    python3 -I checker.py {_quoted(f'{contents.home}records/')}*.json"]
    yield _said(
        "It draws every conclusion again from what each proof gives. With conserve, make the records again from what "
        "is written, and check the lists once more. They must still agree:"
    )
    yield [f"    conserve record {_quoted(contents.home)} --rules rulebook --on {contents.day}"]
    if contents.seals.chain.entries:
        yield _head("How to check the seals")
        yield _said(_seals(contents))
    yield _head("What was withheld")
    yield from _withheld(contents)
    yield _head("What it cannot show")
    yield _listed(_limits(contents))


def _readers(contents: Contents) -> str:
    return "readers of any kind" if contents.audience == "anyone" else contents.audience


def _parts(contents: Contents) -> Iterator[str]:
    home = contents.home
    yield f"{home}statement/ - the conservation statement. Read statement.html first, or statement.md."
    yield "readiness.md - what the purpose asks for, and which of it the casebook did not hold."
    if "ledger.md" in contents.payload:
        yield "ledger.md, ledger.svg - how much of the object is original, through time."
    yield f"{home}records/ - why each thing was weighed as it was: .md to read, .json as its proof."
    yield f"{home}evidence/ - the register, and {_counted(len(contents.shown), 'file')} of evidence."
    yield f"{home} - the rest of the casebook: object, components, proposals, measurements, as they are written."
    if f"{home}{CHAIN}" in contents.payload:
        yield f"{home}{CHAIN} - who sealed which decision, and when; each line names the one before."
    if any(name.startswith(f"{home}{NOTES}/") for name in contents.payload):
        yield f"{home}{NOTES}/ - what others say of decisions."
    yield "rulebook/ - the rules, words and sources that it was weighed by."
    yield "checker.py - checks the proofs."
    yield "ro-crate-metadata.json, provenance.jsonld - what each file is and comes from, for programs."


def _seals(contents: Contents) -> str:
    code = contents.seals.witness
    given = f"Its witness code is {code}. " if code else "It is not whole, and has no witness code. "
    return (
        f"The chain had {_counted(len(contents.seals.chain.entries), 'line')} when this was put together. {given}"
        "Write the code down: if the owner's chain never came to it, it was written anew. What was kept at each seal "
        "stays with the owner, since it may name what is withheld; 'conserve audit' there weighs each decision again. "
        "A record here need not be the one that was sealed, where things have happened since."
    )


def _withheld(contents: Contents) -> Iterator[list[str]]:
    if not contents.withheld:
        yield _said("No evidence was withheld.")
    else:
        yield _said(
            f"{_counted(len(contents.withheld), 'piece')} of evidence. Of these the register keeps only what rules "
            "read: kind, date, by whom, about what, role and competence, what a report states and answers. The file, "
            "its name, its digest, where it is kept and what it shows are left out."
        )
        yield [*(f"  {one.id} - {one.why}" for one in contents.withheld)]
    if copies := [one for one in contents.shown if one.instead]:
        yield _said("Shown as a copy made for the purpose, in place of the original:")
        yield _ids(copies)
    if renamed := [one for one in contents.shown if one.at != one.name]:
        yield _said("Under another name, because programs for bags do not agree on how a % is written:")
        yield _ids(renamed)
    if unsure := [one for one in contents.shown if not one.digest]:
        yield _said("No digest was registered, so that nothing shows whether the file has changed since:")
        yield _ids(unsure)


def _ids(shown: list[ShownFile]) -> list[str]:
    return [f"  {one.evidence}" for one in shown]


def _limits(contents: Contents) -> Iterator[str]:
    yield "That what people wrote is true. It shows what was written, by whom and when, and what follows from it."
    yield "That a file shows what its entry says. Look at it."
    yield "That nothing else exists. What is not written here is not known; it is not absent."
    yield "That anything has not changed since the day above."
    yield (
        "Who may use what. Names, places of storage and notes stand in the casebook as they were written; only "
        "evidence is withheld. Where an entry states rights, they hold; where none are stated, ask the owner: "
        f"{contents.casebook.object.owner or 'nobody is named'}."
    )


# ---- plain text -----------------------------------------------------------------------------------------


def _title(text: str) -> list[str]:
    lines = textwrap.wrap(_plain(text), _WIDE)
    return [*lines, "=" * max(map(len, lines))]


def _head(text: str) -> list[str]:
    return [text, "-" * len(text)]


def _said(text: str) -> list[str]:
    return textwrap.wrap(_plain(text), _WIDE, break_long_words=False, break_on_hyphens=False)


def _listed(items: Iterator[str]) -> list[str]:
    return [
        line
        for item in items
        for line in textwrap.wrap(
            _plain(item),
            _WIDE,
            initial_indent="- ",
            subsequent_indent="  ",
            break_long_words=False,
            break_on_hyphens=False,
        )
    ]


def _plain(text: str) -> str:
    """A text on one line that cannot rearrange the screen that it is read on."""
    return "".join(sign if sign.isprintable() else " " for sign in text)


def _quoted(path: str) -> str:
    import shlex

    return shlex.quote(_plain(path))


def _counted(number: int, noun: str) -> str:
    return f"{number} {noun}" if number == 1 else f"{number} {noun}s"
