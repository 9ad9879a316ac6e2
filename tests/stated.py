"""A conservation statement of an invented pump, with every kind of block, for the tests of its printed forms."""

from __future__ import annotations

import struct
import zlib
from hashlib import sha256

from conserve.record.drawing import box, drawn, words
from conserve.statement.model import Document, Figure, Grid, Items, Prose, Row, Section

HOSTILE = '#panic("no") = Not a heading *bold* $x$ @ref <b>&amp; {{ x }} \\u{41} [a](http://x.example)'
LONG = "The packing was cut back to sound metal, cleaned, and laid again; what was taken is kept in box 7. " * 4


def picture() -> bytes:
    """A small PNG of a shaded plate, made here."""
    wide, high = 60, 40
    rows = b"".join(b"\0" + bytes(120 + 2 * ((x + y) % 60) for x in range(wide)) for y in range(high))

    def chunk(kind: bytes, data: bytes) -> bytes:
        return struct.pack(">I", len(data)) + kind + data + struct.pack(">I", zlib.crc32(kind + data))

    head = struct.pack(">IIBBBBB", wide, high, 8, 0, 0, 0, 0)
    return b"\x89PNG\r\n\x1a\n" + chunk(b"IHDR", head) + chunk(b"IDAT", zlib.compress(rows)) + chunk(b"IEND", b"")


PICTURES = {"plate.png": picture(), "cut-off.png": picture()[:60], "not-one.png": b"words"}


def rich() -> Document:
    """Every kind of block: prose, lists, tables short and long, drawings, pictures there and missing."""
    return Document(
        title="Conservation statement: the Sedge Lane pump",
        front=(("Of", "the Sedge Lane pump"), ("As at", "2026-06-01"), ("Rules", "the shipped rules, digest 0f3a")),
        cautions=(
            "This statement certifies nothing. It does not say that anything is safe, fit or lawful.",
            "White deposits on the lagging may be asbestos: a competent person must say before it is touched.",
        ),
        sections=(
            _summary(),
            Section("parts", "Part by part", (Prose("opening", "Each part in its turn.", ("object.yaml",)),)),
            _slipper(),
            _matrix(),
            _figures(),
            Section("strange", "Ünusual signs – « Łódź » 漢", (Prose("hostile", HOSTILE, ("object.yaml",)),)),
        ),
        sources={name: sha256(name.encode()).hexdigest() for name in SOURCES},
    )


SOURCES = ("object.yaml", "components/slipper.yaml", "evidence/register.yaml", "records/slipper", "rules/record/first")


def _summary() -> Section:
    return Section(
        "summary",
        "In short",
        (
            Prose("decided", "Three proposals are decided, and two wait.", ("records/slipper", "object.yaml")),
            Items(
                "waiting",
                (
                    Prose("one", "Stud 17 waits for a crack test.", ("records/slipper",)),
                    Prose("two", "The lagging waits for a competent person’s report.", ("rules/record/first",)),
                ),
            ),
        ),
    )


def _slipper() -> Section:
    return Section(
        "slipper",
        "Top slipper",
        (
            Prose("why", f"It knocked. {LONG}", ("records/slipper", "components/slipper.yaml")),
            Grid(
                "sizes",
                "Sizes as found and as left",
                ("Where", "Found", "Left"),
                (
                    Row("bed", ("Bed", "0.70 ± 0.04 mm", "0.22 ± 0.04 mm"), ("components/slipper.yaml",)),
                    Row("back", ("Back", "not measured", "not measured"), ("components/slipper.yaml",)),
                ),
            ),
        ),
        level=3,
    )


def _matrix() -> Section:
    head = ("Part", "What is proposed", "Decision", "Rule", "Source", "Evidence")
    rows = tuple(
        Row(
            f"row-{number}",
            (
                f"part-{number:02}",
                f"Shim part {number}",
                "Decided on 2026-05-02 by the lead.",
                "record/hidden-first: photograph what will be covered.",
                "Common practice; no published source.",
                LONG if number % 7 == 0 else "No evidence registered.",
            ),
            ("records/slipper", "evidence/register.yaml"),
        )
        for number in range(1, 22)
    )
    return Section("matrix", "Decisions, rules and evidence", (Grid("all", "Every decision", head, rows),))


def _figures() -> Section:
    svg = drawn(
        "bars", "What is whose", "Two boxes, of which one is original.", 60,
        (box(10, 10, 300, 40), words(20, 34, "original fabric 漢"), box(320, 10, 120, 40), words(330, 34, "new")),
    )  # fmt: skip
    return Section(
        "figures",
        "Drawings and pictures",
        (
            Figure("bars", "What is original", "Two boxes, of which one is original.", ("object.yaml",), svg=svg),
            Figure("plate", "The plate", "A grey plate.", ("evidence/register.yaml",), file="plate.png"),
            Figure("cut", "Half a picture", "A picture that broke off.", ("object.yaml",), file="cut-off.png"),
            Figure("gone", "The back", "Nobody put it here.", ("object.yaml",), file="gone.png"),
        ),
    )
