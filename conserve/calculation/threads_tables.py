"""Common threads: nominal diameter, pitch and flank angle.

BSW: TR Fastenings' table of thread geometry. BSF: BS 1083 as printed in *Machinery's Handbook* (31st edition), and
1 3/8 in from a gauge maker's list after BS 84. UNC: TR Fastenings. UNF: boltport.com and threadchart.net, after
ASME B1.1. M: ISO 261 coarse pitches, as tabled with the stress areas of ISO 898-1 and in GE's guide to measuring
bolts. BA: cgtk.co.uk, and the same in inches elsewhere. Angles: 55° and 47 1/2° (British Standards), 60° (ISO 68-1).
"""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

INCH = Decimal("25.4")


class Thread(NamedTuple):
    """A thread of a standard series; lengths in mm, the angle between its flanks in degrees."""

    name: str
    diameter: Decimal
    pitch: Decimal
    angle: Decimal


def _inches(text: str) -> Decimal:
    """`1 1/8` as millimetres."""
    whole, _, fraction = text.rpartition(" ")
    top, _, bottom = fraction.partition("/")
    return (Decimal(whole or 0) + Decimal(top) / Decimal(bottom or 1)) * INCH


def _by_inch(series: str, angle: str, rows: str) -> tuple[Thread, ...]:
    """Threads from `size-threads per inch`, as they are named."""
    found = []
    for row in rows.split(", "):
        size, _, per_inch = row.partition("-")
        found.append(Thread(f"{series} {row}", _inches(size), INCH / Decimal(per_inch), Decimal(angle)))
    return tuple(found)


def _metric(named: str, angle: str, rows: str) -> tuple[Thread, ...]:
    """Threads from `number:diameter:pitch`; the name takes the number."""
    parts = [row.split(":") for row in rows.split()]
    return tuple(Thread(named.format(n), Decimal(d), Decimal(p), Decimal(angle)) for n, d, p in parts)


BSW = _by_inch(
    "BSW",
    "55",
    "1/4-20, 5/16-18, 3/8-16, 7/16-14, 1/2-12, 9/16-12, 5/8-11, 3/4-10, 7/8-9, 1-8, 1 1/8-7, 1 1/4-7, 1 3/8-6, 1 1/2-6",
)
BSF = _by_inch(
    "BSF",
    "55",
    "1/4-26, 5/16-22, 3/8-20, 7/16-18, 1/2-16, 9/16-16, 5/8-14, 3/4-12, 7/8-11, 1-10, 1 1/8-9, 1 1/4-9, 1 3/8-8, "
    "1 1/2-8",
)
UNC = _by_inch(
    "UNC",
    "60",
    "1/4-20, 5/16-18, 3/8-16, 7/16-14, 1/2-13, 9/16-12, 5/8-11, 3/4-10, 7/8-9, 1-8, 1 1/8-7, 1 1/4-7, 1 3/8-6, 1 1/2-6",
)
UNF = _by_inch(
    "UNF",
    "60",
    "1/4-28, 5/16-24, 3/8-24, 7/16-20, 1/2-20, 9/16-18, 5/8-18, 3/4-16, 7/8-14, 1-12, 1 1/8-12, 1 1/4-12, "
    "1 3/8-12, 1 1/2-12",
)
METRIC = _metric(
    "M{}",
    "60",
    "6:6:1 8:8:1.25 10:10:1.5 12:12:1.75 14:14:2 16:16:2 18:18:2.5 20:20:2.5 22:22:2.5 24:24:3 27:27:3 30:30:3.5 "
    "33:33:3.5 36:36:4",
)
BA = _metric(
    "{} BA",
    "47.5",
    "0:6:1 1:5.3:0.9 2:4.7:0.81 3:4.1:0.73 4:3.6:0.66 5:3.2:0.59 6:2.8:0.53 7:2.5:0.48 8:2.2:0.43 "
    "9:1.9:0.39 10:1.7:0.35",
)
ALL = BSW + BSF + UNC + UNF + METRIC + BA
