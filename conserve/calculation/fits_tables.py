"""The tables of ISO 286 up to 500 mm, in µm, as printed; the formulas behind them are rounded too freely to use.

Standard tolerances: Narayana, Kannaiah and Venkata Reddy, *Machine Drawing*, table 15.1 (ISO 286-1), and for
h5 to h9 a toolmaker's catalogue. Deviations: the same book, tables 15.2 and 15.3, read for d to k above 180 mm,
for m to s up to 180 mm and, as the mirrored holes M to S, above; d to k below 180 mm and all letters again in
tables of bearing and tool makers after ISO 286-2 and JIS B 0401. No value stands here from memory.
"""

from __future__ import annotations

from decimal import Decimal


def _row(text: str) -> tuple[Decimal, ...]:
    return tuple(Decimal(number) for number in text.split())


# Upper ends of the steps of nominal size, mm: each is over the one before, up to and including itself.
STEPS = _row("3 6 10 18 30 50 80 120 180 250 315 400 500")
FINE_STEPS = _row("3 6 10 18 30 50 65 80 100 120 140 160 180 200 225 250 280 315 355 400 450 500")

# Standard tolerance of a grade, a number a step. IT4 only serves to find the holes N5 and P5.
GRADES = {
    4: _row("3 4 4 5 6 7 8 10 12 14 16 18 20"),
    5: _row("4 5 6 8 9 11 13 15 18 20 23 25 27"),
    6: _row("6 8 9 11 13 16 19 22 25 29 32 36 40"),
    7: _row("10 12 15 18 21 25 30 35 40 46 52 57 63"),
    8: _row("14 18 22 27 33 39 46 54 63 72 81 89 97"),
    9: _row("25 30 36 43 52 62 74 87 100 115 130 140 155"),
    10: _row("40 48 58 70 84 100 120 140 160 185 210 230 250"),
    11: _row("60 75 90 110 130 160 190 220 250 290 320 360 400"),
}

# How far a shaft's upper limit lies below the nominal size.
BELOW = {
    "d": _row("20 30 40 50 65 80 100 120 145 170 190 210 230"),
    "e": _row("14 20 25 32 40 50 60 72 85 100 110 125 135"),
    "f": _row("6 10 13 16 20 25 30 36 43 50 56 62 68"),
    "g": _row("2 4 5 6 7 9 10 12 14 15 17 18 20"),
    "h": _row("0 0 0 0 0 0 0 0 0 0 0 0 0"),
}

# How far a shaft's lower limit lies above the nominal size; k so only in grades 4 to 7, else at the nominal size.
ABOVE = {
    "k": _row("0 1 1 1 2 2 2 3 3 4 4 4 5"),
    "m": _row("2 4 6 7 8 9 11 13 15 17 20 21 23"),
    "n": _row("4 8 10 12 15 17 20 23 27 31 34 37 40"),
    "p": _row("6 12 15 18 22 26 32 37 43 50 56 62 68"),
}
ABOVE_FINE = {
    "r": _row("10 15 19 23 28 34 41 43 51 54 63 65 68 77 80 84 94 98 108 114 126 132"),
    "s": _row("14 19 23 28 35 43 53 59 71 79 92 100 108 122 130 140 158 170 190 208 232 252"),
}
