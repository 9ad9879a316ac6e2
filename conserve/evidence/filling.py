"""What is said of a file that is to be evidence: what it tells itself, what must be told, and what to think of."""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterator, Mapping
from pathlib import Path

from conserve.evidence.entry import Said
from conserve.evidence.looking import FileFacts

NEEDED = ("kind", "date", "by", "about", "shows")
_BY_ENDING = {
    **dict.fromkeys((".jpg", ".jpeg", ".heic", ".heif", ".dng"), "photograph"),
    **dict.fromkeys((".pdf", ".txt", ".odt", ".docx"), "document"),
    **dict.fromkeys((".dxf", ".dwg"), "drawing"),
    **dict.fromkeys((".ply", ".e57", ".las", ".laz", ".stl"), "scan"),
}
_MEANS = ("one thing that the file does not tell", "some things that the file does not tell")
_HINT = (
    "--kind photograph --date 2026-03-02 --by 'who made it' --about COMPONENT (or object) --shows 'what is to be seen'"
)


class NotAdded(Exception):
    """A file is not taken in; a sentence for people, and one thing to try."""

    def __init__(self, sentence: str, hint: str = "") -> None:
        super().__init__(sentence)
        self.hint = hint


def filled_in(
    path: Path, facts: FileFacts, said: Mapping[str, Said], hide: bool
) -> tuple[dict[str, Said], tuple[str, ...]]:
    """What can be filled in that nobody has said, and what to tell of it."""
    filled: dict[str, Said] = {}
    told = [f"Its SHA-256 is {facts.digest}, its size {facts.size:,} bytes."]
    kind = _BY_ENDING.get(path.suffix.lower())
    if "kind" not in said and kind:
        filled["kind"] = kind
        told.append(f"Its kind is taken to be {kind}, from its ending {path.suffix}; --kind says otherwise.")
    taken = facts.taken_on
    if taken and "date" not in said:
        filled["date"] = taken.isoformat()
        told.append(f"Its date is {taken}, the day on which the camera's clock says it was taken (Exif).")
    elif taken and said["date"] != taken.isoformat():
        told.append(f"The camera's clock says that it was taken on {taken} (Exif); the date given stands.")
    return filled, (*told, *_cautions(facts, said, hide))


def _cautions(facts: FileFacts, said: Mapping[str, Said], hide: bool) -> Iterator[str]:
    if hide:
        yield "A copy without its metadata is shown in its place; the file itself is kept as it is."
    elif facts.has_location:
        yield (
            "It says where it was taken, and anyone who has the file can read that;"
            " with --hide-location a copy that does not say it is shown instead."
        )
    if facts.unread and not hide:
        yield f"Nobody can tell here when and where it was taken: {facts.unread}."
    if "show" not in said:
        yield "Nobody has said who may be shown it, and so nobody will be: show: anyone, reviewers or nobody."
    if "instrument" in said and "calibrated" not in said:
        yield "Nobody has said when the instrument was calibrated: calibrated: DATE, or none."


def must_be_said(said: Mapping[str, Said]) -> None:
    """Refuse where a key is wanting that only a person can fill, with all of them at once."""
    missing = [f"--{key}" for key in NEEDED if key not in said]
    if missing:
        raise NotAdded(f"nobody has said {_MEANS[0] if len(missing) == 1 else _MEANS[1]}: {', '.join(missing)}", _HINT)
    for key, value in said.items():
        try:
            "\n".join((value,) if isinstance(value, str) else value).encode("utf-8")
        except UnicodeEncodeError:
            raise NotAdded(f"what --{key} says is no UTF-8 text", "write it again") from None


def id_like(stem: str) -> str:
    """An id like a file's name."""
    plain = unicodedata.normalize("NFKD", stem).encode("ascii", "ignore").decode().lower()
    found = "-".join(re.findall("[a-z0-9]+", plain))
    if not found:
        raise NotAdded(f"no id can be made of the name '{stem}'", "give one with --id")
    return found
