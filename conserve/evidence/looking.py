"""What a file says of itself: its digest, its size, when a camera took it and whether it says where."""

from __future__ import annotations

import warnings
from collections.abc import Callable, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime
from pathlib import Path
from typing import BinaryIO

from conserve.evidence.pictures import NotWhole, Span, content, kind_of, plain_blocks, spans_of
from conserve.files import Folder, digest_of

# Given the blocks of a file, its size in bytes and what is done with it, gives the blocks on: to say how far it is.
Watch = Callable[[Iterable[bytes], int, str], Iterable[bytes]]

_TAKEN, _GPS, _EXIF_BLOCK, _ORIENTATION = 0x9003, 0x8825, 0x8769, 0x0112  # Exif: CIPA DC-008, 4.6
_PLACE_IN_XMP = b"GPSL"  # exif:GPSLatitude and exif:GPSLongitude


@dataclass(frozen=True, slots=True)
class FileFacts:
    """What is read off a file. `digest` is its SHA-256 in hex, `size` is in bytes.

    `taken_on` is the day of Exif's DateTimeOriginal, by the camera's clock; None where there is none or it cannot be
    read. `has_location` is whether it holds the coordinates of a place, as Exif or XMP; None where that cannot be
    told: the file is neither JPEG nor PNG, or what it holds cannot be read here. `unread` says why, where it matters.
    """

    digest: str
    size: int
    taken_on: date | None = None
    has_location: bool | None = None
    unread: str = ""


@dataclass(frozen=True, slots=True)
class Seen:
    """What the metadata of a picture comes to. `orientation` is 1 to 8; 1 is the usual way up."""

    taken_on: date | None = None
    has_location: bool | None = None
    orientation: int = 1
    unread: str = ""


class CannotHide(Exception):
    """No copy without its location can be made of a file; a sentence for people, and one thing to try."""

    def __init__(self, sentence: str, hint: str = "") -> None:
        super().__init__(sentence)
        self.hint = hint


def unwatched(blocks: Iterable[bytes], size: int, doing: str) -> Iterable[bytes]:
    """Give blocks on, and say nothing."""
    return blocks


def file_facts(path: Path) -> FileFacts:
    """What is read off a file anywhere. Raises `FileRefused` for a link, and for what is no regular file."""
    return facts_of(Folder(path.parent), path.name)


def facts_of(folder: Folder, name: str, watch: Watch = unwatched) -> FileFacts:
    """What is read off a file of a folder, of any size. Raises `FileRefused`."""
    with folder.opened(name) as file:
        size = file.seek(0, 2)
        seen = look(file)
    digest = digest_of(watch(folder.blocks(name), size, "reading"))
    return FileFacts(digest, size, seen.taken_on, seen.has_location, seen.unread)


def location_in(folder: Folder, name: str) -> bool | None:
    """Whether a file holds the coordinates of a place; None where that cannot be told. Raises `FileRefused`."""
    with folder.opened(name) as file:
        return look(file).has_location


def look(file: BinaryIO) -> Seen:
    """Read the metadata of a picture; nothing is told of other files."""
    kind = kind_of(file)
    if not kind:
        return Seen()
    try:
        spans = spans_of(file, kind)
    except NotWhole as broken:
        return Seen(unread=f"it is no whole {kind.upper()} file: {broken}")
    return _seen(file, spans)


def without_location(folder: Folder, name: str) -> Iterator[bytes]:
    """The picture of a file and nothing else, in blocks. Raises `CannotHide`, `FileRefused`."""
    with folder.opened(name) as file:
        kind = kind_of(file)
        if not kind:
            hint = "make such a copy with another program, and name it with 'shown_as:' in the register"
            raise CannotHide("only of a JPEG or a PNG file can a copy without its location be made", hint)
        try:
            spans = spans_of(file, kind)
            seen = _seen(file, spans)
            if seen.unread:
                raise CannotHide(f"no copy without its location can be made: {seen.unread}")
            yield from plain_blocks(file, kind, spans, seen.orientation)
        except NotWhole as broken:
            raise CannotHide(f"no copy can be made, for it is no whole {kind.upper()} file: {broken}") from None


def _seen(file: BinaryIO, spans: tuple[Span, ...]) -> Seen:
    placed: bool | None = any(_PLACE_IN_XMP in content(file, span) for span in spans if span.holds == "xmp")
    if not placed and any(span.holds == "closed" for span in spans):
        placed = None
    exif = [content(file, span) for span in spans if span.holds == "exif"]
    if not exif:
        return Seen(has_location=placed)
    seen = _exif(exif[0])
    known = placed or seen.has_location or (None if placed is None else seen.has_location)
    return Seen(seen.taken_on, known, seen.orientation, seen.unread)


def _exif(data: bytes) -> Seen:
    try:
        from PIL import Image
    except ImportError:
        return Seen(unread="reading its metadata needs Pillow; install it with pip install -e '.[photographs]'")
    try:
        with warnings.catch_warnings():
            warnings.simplefilter("ignore")  # what is wrong with it is told by what cannot be read
            exif = Image.Exif()
            exif.load(data)
            taken, place = exif.get_ifd(_EXIF_BLOCK).get(_TAKEN), exif.get_ifd(_GPS)
            way = exif.get(_ORIENTATION, 1)
    except Exception:  # whatever is in a file, the library may say anything of it
        return Seen(unread="its Exif metadata cannot be read")
    coordinates = any(tag in place for tag in (1, 2, 3, 4))
    return Seen(_day(taken), coordinates, way if isinstance(way, int) and 1 <= way <= 8 else 1)


def _day(taken: object) -> date | None:
    try:
        return datetime.strptime(str(taken).strip("\0 "), "%Y:%m:%d %H:%M:%S").date()
    except ValueError:
        return None
