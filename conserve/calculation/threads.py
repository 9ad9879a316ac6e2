"""Screw threads: what an old thread is, its Whitworth form, and why a metric part must not be forced into it."""

from __future__ import annotations

from decimal import Decimal
from itertools import combinations
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.calculation.propagation import through
from conserve.calculation.threads_tables import ALL, BSF, BSW, INCH, METRIC, Thread
from conserve.calculation.validity import above_zero
from conserve.quantity import EXACT, Quantity, show
from conserve.truth import Truth

DEPTH = Decimal("0.640327")  # of the pitch; BS 84, as quoted by boltscience.com
ROUND = Decimal("0.137329")
# How far below its nominal size the crest of a sound thread may stand, as a share of the pitch. Common practice, no
# published source; the greatest tolerance of a new thread listed here is 0.21 (M6, 5.794 mm at least, ISO 965).
_BELOW = Decimal("0.25")
_OLD = {thread.name: thread for thread in BSW + BSF}
_NEW = {thread.name: thread for thread in METRIC}


class Whitworth(NamedTuple):
    """The basic form of a Whitworth thread, mm."""

    depth: Quantity
    radius: Quantity
    effective: Quantity
    core: Quantity


class Match(NamedTuple):
    """Which listed threads a measured one may be."""

    candidates: str | None  # None where a measurement has no ±
    settled: Truth
    next: str


class Forced(NamedTuple):
    """How far a metric thread and a Whitworth one run apart, mm."""

    pitch_gap: Quantity
    drift: Quantity


def whitworth(diameter: Quantity, pitch_per_inch: Quantity) -> Whitworth:
    """The Whitworth form: p = 25.4/n, depth h = 0.640327 p, radius 0.137329 p, effective D - h, core D - 2h.

    Nominal diameter (length) and threads per inch in, mm out: basic sizes, without the tolerances of making.
    `ValueError` where either is not above zero, or the thread is so coarse that no core is left.
    Source: BS 84.
    """
    d, n = diameter.in_unit("mm"), pitch_per_inch.in_unit("1")
    for name, quantity in (("diameter", diameter), ("number of threads per inch", n)):
        above_zero(name, quantity)
    core = through(lambda dia, per: dia - 2 * DEPTH * INCH / per, "mm", d, n)
    if core.amount - (core.uncertainty or EXACT) <= 0:
        raise ValueError(f"{show(n)} threads per inch leave no core in a diameter of {show(diameter)}.")
    return Whitworth(
        through(lambda per: DEPTH * INCH / per, "mm", n),
        through(lambda per: ROUND * INCH / per, "mm", n),
        through(lambda dia, per: dia - DEPTH * INCH / per, "mm", d, n),
        core,
    )


def thread_match(
    diameter: Quantity,
    pitch: Quantity | None = None,
    per_inch: Quantity | None = None,
    flank_angle: Quantity | None = None,
) -> Match:
    """Which listed threads a measured one may be: all that no measurement, with its ±, rules out.

    Outside diameter and either pitch (lengths) or threads per inch; the angle between the flanks if gauged. A
    thread stays in where each measured value ± its uncertainty reaches the listed one, the crest standing from its
    nominal diameter to a quarter of the pitch below. Valid for a clean outside thread of the series listed, not
    worn, stretched or special. A measurement without ± rules nothing out, so then nothing is told. `ValueError`
    where pitch and threads per inch are both given or both missing, or a value is not above zero.
    Source: the tables of BS 84, BS 93, ISO 261 and ANSI B1.1; the quarter is common practice, no published source.
    """
    if (pitch is None) == (per_inch is None):
        raise ValueError("Give either the pitch or the threads per inch, and not both.")
    given = {"diameter": diameter, "pitch": pitch, "threads per inch": per_inch, "flank angle": flank_angle}
    measured = {name: quantity for name, quantity in given.items() if quantity is not None}
    for name, quantity in measured.items():
        above_zero(name, quantity)
    vague = [name for name, quantity in measured.items() if quantity.uncertainty is None]
    if vague:
        return Match(None, Truth.UNKNOWN, "how uncertain the measured " + " and ".join(vague) + " may be")
    left = [thread for thread in ALL if all(_may_be(name, value, thread) for name, value in measured.items())]
    if not left:
        return Match("none listed", Truth.NO, "all again; it may be worn, or a special thread")
    settled = Truth.YES if len(left) == 1 else Truth.UNKNOWN
    return Match(" or ".join(thread.name for thread in left), settled, _next(left))


def metric_in_whitworth(whitworth: str, metric: str, engagement: Quantity) -> Forced:
    """How far a metric thread runs out of step in a Whitworth one: gap |p1 - p2|, drift = gap × engagement/p2.

    Names of listed threads and the length of metric thread engaged; mm out. Valid for basic pitches. It says
    nothing of whether the two go together by hand: they must not be forced. `ValueError` for a thread that is not
    listed or an engagement that is not above zero. Source: geometry (derived).
    """
    for name, listed in ((whitworth, _OLD), (metric, _NEW)):
        if name not in listed:
            raise ValueError(f"'{name}' is not a listed thread; there are {', '.join(listed)}.")
    above_zero("engagement", engagement)
    old, new = _OLD[whitworth].pitch, _NEW[metric].pitch
    gap = abs(old - new)
    drift = through(lambda length: gap * length / new, "mm", engagement.in_unit("mm"))
    return Forced(Quantity(gap, EXACT, "mm"), drift)


def _may_be(name: str, measured: Quantity, thread: Thread) -> bool:
    """Whether the measured value with its ± reaches what the thread may have."""
    if name == "diameter":
        value, low, high = measured.in_unit("mm"), thread.diameter - _BELOW * thread.pitch, thread.diameter
    elif name == "flank angle":
        value, low, high = measured.in_unit("°"), thread.angle, thread.angle
    elif name == "pitch":
        value, low, high = measured.in_unit("mm"), thread.pitch, thread.pitch
    else:  # rounded, so that a counted 12 is not missed by a digit of 25.4/(25.4/12)
        value, low = measured.in_unit("1"), round(INCH / thread.pitch, 6)
        high = low
    spread = value.uncertainty or EXACT
    return value.amount - spread <= high and value.amount + spread >= low


def _next(left: list[Thread]) -> str:
    """What to gauge to tell apart those that are left."""
    pairs = list(combinations(left, 2))
    by_form = any(one[1:3] == other[1:3] for one, other in pairs)  # same diameter and pitch
    needed = []
    if any(one.pitch != other.pitch for one, other in pairs):
        needed.append("pitch, over more threads")
    elif any(one.diameter != other.diameter for one, other in pairs):
        needed.append("diameter, with a smaller ±")
    if by_form:
        needed.append("flank angle")
    return " and ".join(needed) or "nothing more to tell it from the others listed"


_SCREWED = (
    "Never force a thread: mixed threads can go together by hand and strip under load.",
    "Cutting a metric thread into an old hole takes the original thread away entirely.",
    "Old bolts carry no modern strength grade; a competent person decides what a fastening may bear.",
)

CALCULATIONS = (
    Calculation(
        name="whitworth",
        does="The basic sizes of a Whitworth thread.",
        formula="pitch p = 25.4 mm / threads per inch; depth = 0.640327 p; radius at crest and root = 0.137329 p; "
        "effective diameter = diameter − depth; core diameter = diameter − 2 × depth",
        inputs=(
            Input("diameter", "nominal outside diameter", "mm", exact=True),
            Input("pitch_per_inch", "threads per inch", "1", exact=True),
        ),
        gives=(
            Answer("depth", "depth of thread", "mm"),
            Answer("radius", "radius at crest and root", "mm"),
            Answer("effective", "effective diameter", "mm"),
            Answer("core", "core diameter", "mm"),
        ),
        valid="Basic sizes of the 55° Whitworth form (BSW, BSF), without the tolerances of making.",
        source="BS 84 Whitworth form",
        example={"diameter": "1/2 in", "pitch_per_inch": "12"},
        run=whitworth,
        cautions=_SCREWED,
    ),
    Calculation(
        name="thread-match",
        does="Which standard threads a measured one may be, and what to gauge next.",
        formula="a listed thread stays in where diameter, pitch and flank angle, each with its ±, reach its own; the "
        "crest may stand up to a quarter of the pitch below the nominal diameter",
        inputs=(
            Input("diameter", "outside diameter over the crests", "mm"),
            Input("pitch", "from crest to crest, best measured over many threads", "mm", optional=True),
            Input(
                "per_inch", "threads counted over a whole inch, instead of the pitch", "1", exact=True, optional=True
            ),
            Input("flank_angle", "angle between the flanks, from a gauge", "°", optional=True),
        ),
        gives=(
            Answer("candidates", "the listed threads that it may be"),
            Answer("settled", "whether one listed thread is left"),
            Answer("next", "what to gauge next"),
        ),
        valid="Clean outside threads, neither worn nor stretched, of BSW, BSF, UNC and UNF (1/4 to 1 1/2 in), "
        "M coarse (M6 to M36) and BA (0 to 10). Makers' own threads, pipe threads and others are not listed.",
        source="BS 84, BS 93, ANSI B1.1 and ISO 261 as tabled by makers; the quarter of the pitch is common "
        "practice, no published source",
        example={"diameter": "19.0 ± 0.05 mm", "pitch": "2.54 ± 0.02 mm"},
        run=thread_match,
        cautions=_SCREWED,
    ),
    Calculation(
        name="metric-in-whitworth",
        does="How far a metric thread runs out of step in a Whitworth one.",
        formula="pitch gap = the difference of the pitches; drift = pitch gap × engagement / metric pitch",
        inputs=(
            Input("whitworth", "the old thread", values=tuple(_OLD)),
            Input("metric", "the metric thread", values=tuple(_NEW)),
            Input("engagement", "length of metric thread engaged", "mm"),
        ),
        gives=(
            Answer("pitch_gap", "difference of the two pitches", "mm"),
            Answer("drift", "how far the threads are out of step at the end", "mm"),
        ),
        valid="Basic pitches of the listed threads. However small the drift, the flanks do not bear as made.",
        source="geometry (derived); pitches of BS 84 and ISO 261",
        example={"whitworth": "BSW 1/2-12", "metric": "M12", "engagement": "12 ± 0.5 mm"},
        run=metric_in_whitworth,
        cautions=_SCREWED,
    ),
)
