"""An entry and its line: canonical JSON, so that one entry has one line, and what is changed in it is seen.

A line is JSON with its keys sorted, in ASCII, without spaces. Its digest is the SHA-256 of the same line without the
key `digest`. What is signed is the line without `signature` and `digest`.
"""

from __future__ import annotations

import hashlib
import json
import re
from collections.abc import Mapping
from dataclasses import fields
from typing import Any

from conserve.seal.model import Entry, SealedDecision, SealedNote, Signature, Superseded
from conserve.seal.values import (
    NotAnEntry,
    as_day,
    as_digest,
    as_instant,
    as_number,
    as_text,
    as_texts,
)

FORMAT = "conserve-seal-1"
LONGEST = 8_000_000  # bytes of a line

_KEYS = frozenset(("format", "sequence", "previous", "at", "by", "signature", "digest"))
_KEY = re.compile("[0-9a-f]{64}").fullmatch
_VALUE = re.compile("[0-9a-f]{128}").fullmatch
_dumps = json.JSONEncoder(sort_keys=True, ensure_ascii=True, separators=(",", ":"), allow_nan=False).encode

Said = dict[str, Any]


def digest_of_entry(said: Mapping[str, Any]) -> str:
    """The digest of an entry's line, in hex. `said` may have its `digest` or not."""
    return hashlib.sha256(_without(said, "digest")).hexdigest()


def to_be_signed(said: Mapping[str, Any]) -> bytes:
    """The bytes that a signature of an entry is made over."""
    return _without(said, "digest", "signature")


def _without(said: Mapping[str, Any], *keys: str) -> bytes:
    return _dumps({key: value for key, value in said.items() if key not in keys}).encode("ascii")


# ---- from an entry to its line -----------------------------------------------------------------------------------


def line_of(entry: Entry) -> bytes:
    """The line of an entry, with its line end."""
    return _dumps(as_said(entry)).encode("ascii") + b"\n"


def as_said(entry: Entry) -> Said:
    """An entry as plain data, as its line has it."""
    said: Said = {
        "format": FORMAT,
        "sequence": entry.sequence,
        "previous": entry.previous,
        "at": entry.at,
        "by": entry.by,
        "signature": _plain(entry.signature) if entry.signature else None,
        "digest": entry.digest,
    }
    if isinstance(entry.what, SealedDecision):
        over = entry.what.supersedes
        said["decision"] = {**_plain(entry.what), "supersedes": _plain(over) if over else None}
    else:
        said["note"] = _plain(entry.what)
    return said


def _plain(value: SealedDecision | SealedNote | Signature | Superseded) -> Said:
    return {one.name: _jsonable(getattr(value, one.name)) for one in fields(value)}


def _jsonable(value: Any) -> Any:
    return list(value) if isinstance(value, tuple) else value


# ---- from a line to its entry ------------------------------------------------------------------------------------


def read_line(line: bytes) -> tuple[Entry, bool]:
    """The entry of a line without its line end, and whether its digest is that of the line. Raises `NotAnEntry`."""
    said = _loaded(line)
    _keys(said, _KEYS | ({"decision"} if "decision" in said else {"note"}), "the line")
    if said["format"] != FORMAT:
        raise NotAnEntry(f"its format is not '{FORMAT}'")
    entry = Entry(
        sequence=as_number(said["sequence"], "sequence"),
        previous=as_digest(said["previous"], "previous"),
        at=as_instant(said["at"]),
        by=as_text(said["by"], "by"),
        what=_decision(said["decision"]) if "decision" in said else _note(said["note"]),
        signature=None if said["signature"] is None else _signature(said["signature"]),
        digest=as_digest(said["digest"], "digest"),
    )
    return entry, digest_of_entry(said) == entry.digest


def _loaded(line: bytes) -> Said:
    if len(line) > LONGEST:
        raise NotAnEntry(f"it is longer than {LONGEST:,} bytes")
    try:
        text = line.decode("ascii")
    except UnicodeDecodeError as error:
        raise NotAnEntry(f"byte {error.start + 1} of the line is no sign of ASCII") from None
    try:
        said = json.loads(text)
        again = _dumps(said)
    except (ValueError, RecursionError):
        raise NotAnEntry("it is not JSON") from None
    if not isinstance(said, dict):
        raise NotAnEntry("it is not a mapping of keys to values")
    if again != text:
        raise NotAnEntry("it is not written as entries are: keys sorted, each once, no spaces, only signs of ASCII")
    return said


def _keys(said: Any, keys: frozenset[str] | set[str], what: str) -> None:
    if not isinstance(said, dict):
        raise NotAnEntry(f"{what} is not a mapping of keys to values")
    if said.keys() == keys:
        return
    for wrong, how in ((keys - said.keys(), "has no"), (said.keys() - keys, "has an unknown key")):
        if wrong:
            raise NotAnEntry(f"{what} {how} {min(wrong)!a}")


def _decision(said: Any) -> SealedDecision:
    _keys(said, {one.name for one in fields(SealedDecision)}, "'decision'")
    plain = {key: as_text(said[key], key) for key in ("proposal", "chosen", "by", "verdict", "version")}
    return SealedDecision(
        proposal=plain["proposal"],
        chosen=plain["chosen"],
        by=plain["by"],
        on=as_day(said["on"], "on"),
        verdict=plain["verdict"],
        weighed_on=as_day(said["weighed_on"], "weighed_on"),
        proof=as_digest(said["proof"], "proof"),
        record=as_digest(said["record"], "record"),
        files=as_digest(said["files"], "files"),
        evidence=as_digest(said["evidence"], "evidence"),
        rulebook=as_digest(said["rulebook"], "rulebook"),
        overlays=as_texts(said["overlays"], "overlays"),
        engines=as_texts(said["engines"], "engines"),
        version=plain["version"],
        supersedes=None if said["supersedes"] is None else _superseded(said["supersedes"]),
    )


def _note(said: Any) -> SealedNote:
    _keys(said, {one.name for one in fields(SealedNote)}, "'note'")
    about = said["about"]
    return SealedNote(
        note=as_text(said["note"], "note"),
        file=as_digest(said["file"], "file"),
        proposal=as_text(said["proposal"], "proposal"),
        about=None if about is None else as_number(about, "about"),
    )


def _superseded(said: Any) -> Superseded:
    _keys(said, {one.name for one in fields(Superseded)}, "'supersedes'")
    sequence, entry = as_number(said["sequence"], "sequence"), as_digest(said["entry"], "entry")
    return Superseded(as_text(said["proposal"], "proposal"), sequence, entry)


def _signature(said: Any) -> Signature:
    _keys(said, {one.name for one in fields(Signature)}, "'signature'")
    for key, fits, signs in (("key", _KEY, 64), ("value", _VALUE, 128)):
        if not (isinstance(said[key], str) and fits(said[key])):
            raise NotAnEntry(f"'{key}' of its signature is not {signs} signs of hex, in lower case")
    return Signature(said["key"], said["value"])
