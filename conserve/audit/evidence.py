"""Whether the evidence behind a decision is as it was: its bytes against the seal, or against the register."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass

from conserve.audit.given import Given, Sealed
from conserve.audit.model import Answer, Asked, Kind, Point
from conserve.casebook import Proposal
from conserve.explanation import listed
from conserve.files import FileRefused, digest_of
from conserve.seal import behind
from conserve.truth import Truth

_FOLDER = "evidence/"


@dataclass(frozen=True, slots=True)
class Bytes:
    """A file of evidence as it is today; `digest` is empty where it cannot be read, and `why` says so."""

    digest: str
    why: str = ""


def read_evidence(given: Given, sealed: Mapping[str, Sealed]) -> dict[str, Bytes]:
    """Every registered or sealed file of evidence, each read once, by its name below the casebook's folder."""
    names = {below(name) for one in sealed.values() for name in given.listed(one.what.evidence)}
    names |= {below(item.file) for item in given.casebook.evidence.values() if item.file}
    return {name: _read(name, given) for name in sorted(names)}


def below(name: str) -> str:
    """A file of evidence by its name below the casebook's folder, however it was told."""
    return name if name.startswith(_FOLDER) else f"{_FOLDER}{name}"


def _read(name: str, given: Given) -> Bytes:
    try:
        with given.folder.opened(name) as file:
            size = file.seek(0, 2)
        return Bytes(digest_of(given.watch(given.folder.blocks(name), size, "checking")))
    except FileRefused as refused:
        return Bytes("", refused.reason)


def evidence_of(
    asked: Proposal | None, sealed: Sealed | None, found: Mapping[str, Bytes], given: Given
) -> tuple[Answer, tuple[Point, ...]]:
    """The answer about the evidence of one decision, and what is not as it was."""
    expected, unknown = _expected(asked, sealed, given)
    points = (*_exchanged(sealed, given), *_altered(expected, found, given))
    if points:
        names = listed(dict.fromkeys(point.where for point in points))
        return Answer(Asked.EVIDENCE, Truth.NO, f"It is not what it was: {names}."), points
    if unknown:
        says = f"No digest of it was ever written down: {listed(unknown)}."
        return Answer(Asked.EVIDENCE, Truth.UNKNOWN, says), ()
    if not expected:
        return Answer(Asked.EVIDENCE, None, "No file of evidence is about it."), ()
    many = "1 file" if len(expected) == 1 else f"{len(expected)} files"
    since = "when it was sealed" if sealed else "when it was registered"
    return Answer(Asked.EVIDENCE, Truth.YES, f"{many} of evidence, to the byte as {since}."), ()


def _expected(
    asked: Proposal | None, sealed: Sealed | None, given: Given
) -> tuple[dict[str, tuple[str, str]], list[str]]:
    """The digest that each file should have and what says so; and the files of which nobody wrote one down."""
    items = behind(given.casebook, asked) if asked else ()
    expected = {below(item.file): (item.digest, "registered") for item in items if item.file}
    if sealed:
        expected |= {below(name): (digest, "sealed") for name, digest in given.listed(sealed.what.evidence).items()}
    unknown = sorted(name for name, (digest, _) in expected.items() if not digest)
    return {name: how for name, how in sorted(expected.items()) if how[0]}, unknown


def _exchanged(sealed: Sealed | None, given: Given) -> Iterator[Point]:
    """Files that were others at one seal of a decision than at a later one: sealing again hides nothing."""
    known: dict[str, tuple[str, int]] = {}
    for one in given.of(sealed.what.proposal) if sealed else ():
        for name, digest in sorted(given.listed(one.what.evidence).items()):
            was, entry = known.get(name, (digest, 0))
            if was != digest:
                says = f"'{name}' was another file when it was sealed in entry {entry} than in entry "
                yield Point(Kind.EVIDENCE_ALTERED, f"{says}{one.entry.sequence}: its bytes are others.", where=name)
            known[name] = digest, one.entry.sequence


def _altered(expected: Mapping[str, tuple[str, str]], found: Mapping[str, Bytes], given: Given) -> Iterator[Point]:
    for name, (digest, how) in expected.items():
        bytes_ = found[name]
        if bytes_.digest == digest:
            continue
        if bytes_.why:
            says = f"Evidence that was {how} cannot be read: {bytes_.why}."
        else:
            says = f"'{name}' is not the file that was {how}: its bytes are others."
        yield Point(Kind.EVIDENCE_ALTERED, says, where=name)
