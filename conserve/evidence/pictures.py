"""What a JPEG or a PNG file is made of, and a copy of one without anything that could say where it was taken.

The picture itself is copied as it stands and never made again. What is kept is listed and everything else is
dropped: kinds of metadata that nobody has thought of are dropped too, and whatever stands behind the picture's end.

Sources: ITU-T T.81 (JPEG), annex B, markers and segments; ITU-T T.871 (JFIF); CIPA DC-008 (Exif), 4.5 and 4.7;
ICC.1, annex B, for profiles in JPEG; W3C, Portable Network Graphics (third edition), 5 and 11. From memory.
"""

from __future__ import annotations

import re
import struct
import zlib
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from itertools import islice
from typing import BinaryIO, Literal

_BLOCK = 1 << 20
_MOST_READ = 1 << 20  # of one piece of metadata
_MOST_PARTS = 200_000  # a picture has far fewer; to list more would take up all the memory there is
_JPEG, _PNG = b"\xff\xd8", b"\x89PNG\r\n\x1a\n"
# In a scan, a marker is 0xFF followed by neither a stuffed zero, a restart, nor another 0xFF.
_NEXT_MARKER = re.compile(rb"\xff[^\x00\xff\xd0-\xd7]")
_EXIF = b"Exif\0\0"
_XMP = (b"http://ns.adobe.com/xap/1.0/\0", b"http://ns.adobe.com/xmp/extension/\0")
_ICC = b"ICC_PROFILE\0"
# Chunks that say what the picture looks like, and nothing else.
_LOOKS = frozenset(
    b"IHDR PLTE IDAT IEND tRNS cHRM gAMA iCCP sBIT sRGB cICP mDCV cLLI bKGD hIST pHYs sPLT".split()
)  # fmt: skip

_TEXTS = (b"tEXt", b"zTXt", b"iTXt")
_PNG_XMP = b"XML:com.adobe.xmp\0"  # whether it is compressed stands behind
_PROFILE = b"Raw profile type "  # Exif or XMP in hex, as older programs write it (common practice, no standard)

Kind = Literal["jpeg", "png", ""]
Holds = Literal["picture", "exif", "xmp", "closed", "other"]


class NotWhole(Exception):
    """A file begins like a picture and does not go on like one."""


@dataclass(frozen=True, slots=True)
class Span:
    """Bytes `start` to `end` of a file, and what they hold: the picture, Exif, XMP, metadata that is packed
    so that it is not read here, or something else.

    `body` is where the content begins, behind whatever names it.
    """

    holds: Holds
    start: int
    body: int
    end: int


def kind_of(file: BinaryIO) -> Kind:
    """Which kind of picture a file is, by how it begins and not by its name."""
    file.seek(0)
    head = file.read(len(_PNG))
    return "jpeg" if head.startswith(_JPEG + b"\xff") else "png" if head == _PNG else ""


def spans_of(file: BinaryIO, kind: Kind) -> tuple[Span, ...]:
    """Take a picture apart without reading it into memory. Raises `NotWhole` where it cannot be done."""
    found = tuple(islice(_jpeg_spans(file) if kind == "jpeg" else _png_spans(file), _MOST_PARTS + 1))
    if len(found) > _MOST_PARTS:
        raise NotWhole(f"it has more than {_MOST_PARTS:,} parts")
    end = file.seek(0, 2)
    return (*found, Span("other", found[-1].end, found[-1].end, end)) if found[-1].end < end else found


def content(file: BinaryIO, span: Span) -> bytes:
    """What one piece of metadata says; at most 1 MiB of it."""
    file.seek(span.body)
    return file.read(min(span.end - span.body, _MOST_READ))


def plain_blocks(file: BinaryIO, kind: Kind, spans: Iterable[Span], orientation: int) -> Iterator[bytes]:
    """The picture alone, in blocks. Which way up it is stays told where it is not the usual way (2 to 8)."""
    for number, span in enumerate(span for span in spans if span.holds == "picture"):
        yield from _copied(file, span)
        if number == 0 and 1 < orientation <= 8:
            yield _which_way_up(kind, orientation)


def _copied(file: BinaryIO, span: Span) -> Iterator[bytes]:
    at = span.start
    while at < span.end:
        file.seek(at)  # whoever takes the blocks may have moved about
        block = file.read(min(_BLOCK, span.end - at))
        if not block:
            raise NotWhole("the file became shorter while it was read")
        yield block
        at += len(block)


def _which_way_up(kind: Kind, orientation: int) -> bytes:
    """The smallest Exif there is: one tag, Orientation (274), of the type SHORT."""
    exif = struct.pack(">2sHIHHHIHHI", b"MM", 42, 8, 1, 0x0112, 3, 1, orientation, 0, 0)
    if kind == "jpeg":
        return b"\xff\xe1" + struct.pack(">H", 2 + len(_EXIF) + len(exif)) + _EXIF + exif
    chunk = b"eXIf" + exif
    return struct.pack(">I", len(exif)) + chunk + struct.pack(">I", zlib.crc32(chunk))


# ---- JPEG -------------------------------------------------------------------------------------------------


def _jpeg_spans(file: BinaryIO) -> Iterator[Span]:
    yield Span("picture", 0, 2, 2)
    at = 2
    while True:
        start, marker = at, _marker(file, at)
        at = file.tell()
        if marker == 0xD9:
            yield Span("picture", start, at, at)
            return
        if marker == 0x01 or 0xD0 <= marker <= 0xD7:  # these stand alone
            yield Span("picture", start, at, at)
            continue
        length = int.from_bytes(_read(file, 2), "big")
        head = file.read(min(max(length - 2, 0), 64))
        holds, named = _segment(marker, head)
        end = at + length
        if length < 2 or end > file.seek(0, 2):
            raise NotWhole("one of its parts is longer than the file")
        at = _end_of_scan(file, end) if marker == 0xDA else end
        yield Span(holds, start, end - length + 2 + named, at)


def _marker(file: BinaryIO, at: int) -> int:
    """Read the marker at a place; there may be more than one 0xFF before it."""
    file.seek(at)
    if _read(file, 1) != b"\xff":
        raise NotWhole("something stands between its parts")
    while (marker := _read(file, 1)[0]) == 0xFF:
        pass
    return marker


def _segment(marker: int, head: bytes) -> tuple[Holds, int]:
    """What a segment holds, and how long its name is."""
    if marker == 0xE1 and head.startswith(_EXIF):
        return "exif", len(_EXIF)
    if marker == 0xE1:
        return next((("xmp", len(name)) for name in _XMP if head.startswith(name)), ("other", 0))
    looks = {0xE0: b"JFIF\0", 0xE2: _ICC, 0xEE: b"Adobe"}.get(marker)
    kept = head.startswith(looks) if looks else 0xC0 <= marker <= 0xDF
    return "picture" if kept else "other", 0


def _end_of_scan(file: BinaryIO, at: int) -> int:
    """Where the next marker stands behind the data of a scan."""
    while True:
        file.seek(at)
        block = file.read(_BLOCK)
        found = _NEXT_MARKER.search(block)
        if found:
            return at + found.start()
        if len(block) < 2:
            raise NotWhole("it ends before its picture does")
        at += len(block) - 1  # its last byte may begin a marker


# ---- PNG --------------------------------------------------------------------------------------------------


def _png_spans(file: BinaryIO) -> Iterator[Span]:
    size = file.seek(0, 2)
    start, at = 0, len(_PNG)  # the first span holds the signature and the header
    while True:
        file.seek(at)
        length, name = struct.unpack(">I4s", _read(file, 8))
        end = at + 12 + length
        if end > size:
            raise NotWhole("one of its parts is longer than the file")
        head = file.read(min(length, 32))
        yield Span(_chunk(name, head), start, at + 8, end)
        if name == b"IEND":
            return
        start = at = end


def _chunk(name: bytes, head: bytes) -> Holds:
    if name in _LOOKS:
        return "picture"
    if name == b"eXIf":
        return "exif"
    if name == b"iTXt" and head.startswith(_PNG_XMP):
        return "closed" if head[len(_PNG_XMP) :].startswith(b"\1") else "xmp"
    return "closed" if name in _TEXTS and head.startswith(_PROFILE) else "other"


def _read(file: BinaryIO, count: int) -> bytes:
    data = file.read(count)
    if len(data) < count:
        raise NotWhole("it ends before its picture does")
    return data
