"""What founders and standards print: contraction of cast metals, tolerances of castings, and what to beware of."""

from __future__ import annotations

from decimal import Decimal

# Linear contraction, %: who prints it, the lowest and the highest figure. Inches per foot are told as hundredths
# of the pattern: 1/8 in/ft is 1.04 %. All were read on the web: Dooley, Applied Science for Metal Workers, § 426;
# a text-book of mechanical engineering of about 1900 (archive.org, its page 63; its figure for aluminium is
# illegible there); a list of shrink rules (nonesuchtools.com); calculatoredge.com, whose heading says volume but
# whose figures are those that others print for length; teaching notes without an author (studymode.com).
_DOOLEY, _TEXT_BOOK, _RULES = "Dooley", "text-book of about 1900", "list of shrink rules"
_CHART, _NOTES = "web chart", "teaching notes"
CONTRACTIONS: dict[str, tuple[tuple[str, str, str], ...]] = {
    "grey-cast-iron": (
        (_DOOLEY, "0.78", "0.78"),
        (_TEXT_BOOK, "1.04", "1.04"),
        (_RULES, "1.04", "1.04"),
        (_CHART, "1", "1"),
        (_NOTES, "0.55", "1"),
    ),
    "malleable-iron": ((_CHART, "1.6", "1.6"), (_NOTES, "1", "1")),
    "mild-steel": (  # cast steel
        (_DOOLEY, "1.56", "1.56"),
        (_TEXT_BOOK, "1.56", "1.56"),
        (_RULES, "2.08", "2.08"),
        (_CHART, "2", "2"),
        (_NOTES, "2", "2"),
    ),
    "brass": (
        (_DOOLEY, "1.56", "1.82"),
        (_TEXT_BOOK, "1.56", "1.56"),
        (_RULES, "1.56", "1.56"),
        (_CHART, "1.5", "1.5"),
        (_NOTES, "1.3", "1.55"),
    ),
    "bronze": ((_DOOLEY, "1.30", "1.30"), (_CHART, "1.5", "1.5"), (_NOTES, "1.05", "2.1")),
    "gunmetal": ((_TEXT_BOOK, "1.39", "1.39"), (_CHART, "1.5", "1.5")),
    "aluminium": (
        (_DOOLEY, "1.82", "1.82"),
        (_RULES, "1.56", "1.56"),
        (_CHART, "1.25", "1.25"),
        (_NOTES, "1.3", "1.65"),
    ),
}

# Total tolerance, mm, of a raw casting's dimension up to and including so many mm: the first grade of the row and
# its values grade by grade. ISO 8062-3:2007, Table 2, read to 400 mm in full and to grade 13 in the next row; the
# rest from a founder's table (chinametalcastings.com), of which grade 9 agrees with another's (deangroup-int.co.uk).
# Where the three were not read the row stops.
_ROWS = """
10    1  0.09 0.13 0.18 0.26 0.36 0.52 0.74 1 1.5 2 2.8 4.2
16    1  0.1 0.14 0.2 0.28 0.38 0.54 0.78 1.1 1.6 2.2 3 4.4
25    1  0.11 0.15 0.22 0.3 0.42 0.58 0.82 1.2 1.7 2.4 3.2 4.6 6 8 10 12
40    1  0.12 0.17 0.24 0.32 0.46 0.64 0.9 1.3 1.8 2.6 3.6 5 7 9 11 14
63    1  0.13 0.18 0.26 0.36 0.5 0.7 1 1.4 2 2.8 4 5.6 8 10 12 16
100   1  0.14 0.2 0.28 0.4 0.56 0.78 1.1 1.6 2.2 3.2 4.4 6 9 11 14 18
160   1  0.15 0.22 0.3 0.44 0.62 0.88 1.2 1.8 2.5 3.6 5 7 10 12 16 20
250   2  0.24 0.34 0.5 0.7 1 1.4 2 2.8 4 5.6 8 11 14 18 22
400   3  0.4 0.56 0.78 1.1 1.6 2.2 3.2 4.4 6.2 9 12 16 20 25
630   4  0.64 0.9 1.2 1.8 2.6 3.6 5 7 10 14 18
1000  9  4 6 8 11 16 20
1600  9  4.6 7 9 13 18 23
2500  9  5.4 8 10 15 21 26
4000  9  6.2 9 12 17 24 30
6300  9  7 10 14 20 28 35
"""


def _parsed(row: str) -> tuple[Decimal, dict[int, Decimal]]:
    end, first, *values = row.split()
    return Decimal(end), dict(enumerate(map(Decimal, values), int(first)))


TOLERANCES = tuple(_parsed(row) for row in _ROWS.strip().splitlines())

# Cautions for any replica in cast metal.
STRENGTH = (
    "A replica is not as strong as the original until tested: castings hide chilled and porous metal.",
    "Never use one for lifting or pressure without test by a competent person, under local law.",
    "Mark the copy for good with its date and maker.",
)
