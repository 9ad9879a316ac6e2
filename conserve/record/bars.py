"""What each option leaves of a part, as bars: in place, in store, taken by the option, taken before. Never one score.

Each measure has one scale for all its bars. An amount that nobody can tell is an open box, at no scale and never
nothing; what is told of a measure whose rest is not known keeps to a quarter of the room, for nobody can say of how
much it is the share.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from decimal import Decimal

from conserve.account import UNITS, Column
from conserve.explanation.words import quantity_in_words, the
from conserve.quantity import Quantity
from conserve.record import drawing as draw
from conserve.record.ladder import mark_of
from conserve.weighing.model import Weighing

MEASURES = {"marks": "Marks", "surface": "Original surface", "metal": "Original metal"}
KINDS = {  # in the order in which they stand in a bar
    "left": "left in place",
    "stored": "kept in store",
    "taken": "taken by the option",
    "before": "taken before",
}
_NONE = Decimal(0)


@dataclass(frozen=True, slots=True)
class Segment:
    """One amount, with no break in what it says. `share` and `spread`, its ±, are parts of the measure's scale.

    None: it is not known, or not stated. A share below nothing, as where all may have gone, is told and takes no room.
    """

    kind: str
    says: str
    share: Decimal | None
    spread: Decimal | None

    @property
    def nothing(self) -> bool:
        return self.share == 0 and self.spread == 0


@dataclass(frozen=True, slots=True)
class Row:
    """One option by one measure."""

    option: str
    mark: str  # "chosen", "preferred" or ""
    segments: tuple[Segment, ...]  # all four kinds, in their order

    @property
    def name(self) -> str:
        return f"{self.option}, {self.mark}" if self.mark else self.option

    @property
    def says(self) -> str:
        """What it comes to; stores and losses of long ago only where there are any, or may be."""
        if all(segment.nothing for segment in self.segments):
            return "there was none"
        told = (s for s in self.segments if s.kind in ("left", "taken") or not s.nothing)
        return "; ".join(f"{KINDS[s.kind]}: {s.says}" for s in told)

    @property
    def unknown(self) -> int:
        return sum(segment.share is None for segment in self.segments)


@dataclass(frozen=True, slots=True)
class Measure:
    """One measure of every option, at one scale."""

    name: str
    rows: tuple[Row, ...]


@dataclass(frozen=True, slots=True)
class Bars:
    """What each option leaves, measure by measure."""

    title: str
    measures: tuple[Measure, ...]


def bars_of(weighing: Weighing, only: str = "") -> Bars:
    """The accounts of all options, or of the `only` one, of the part that fares worst."""
    part = weighing.worst
    held = {o.option.id: o.account.held for o in part.options if only in ("", o.option.id)}
    mark = {weighing.chosen: mark_of(weighing)}
    measures = (measure(name, {option: one.column(name) for option, one in held.items()}, mark) for name in MEASURES)
    return Bars(f"What each option leaves of {the(part.component.name)}", tuple(measures))


def measure(name: str, columns: Mapping[str, Column], marks: Mapping[str, str]) -> Measure:
    """One measure, from what each option leaves by it."""
    amounts = {option: _amounts(column) for option, column in columns.items()}
    scale = max((_reach(found) for found in amounts.values()), default=_NONE)
    if all(found["left"] is None for found in amounts.values()):
        scale *= 4
    rows = (
        Row(option, marks.get(option, ""), tuple(_segment(kind, amount, scale) for kind, amount in found.items()))
        for option, found in amounts.items()
    )
    return Measure(name, tuple(rows))


def _amounts(column: Column) -> dict[str, Quantity | None]:
    found = {"left": column.left, "stored": column.stored, "taken": column.taken, "before": column.before}
    return {kind: amount and amount.in_unit(UNITS[column.name]) for kind, amount in found.items()}


def _reach(amounts: dict[str, Quantity | None]) -> Decimal:
    """How far a bar goes with its whiskers."""
    end = reach = _NONE
    for amount in filter(None, amounts.values()):
        end += max(amount.amount, _NONE)
        reach = max(reach, end + (amount.uncertainty or _NONE))
    return reach


def _segment(kind: str, amount: Quantity | None, scale: Decimal) -> Segment:
    if amount is None:
        return Segment(kind, draw.NOT_KNOWN.replace(" ", draw.TIED), None, None)
    scale = scale or Decimal(1)  # nothing there by any option
    spread = None if amount.uncertainty is None else amount.uncertainty / scale
    return Segment(kind, quantity_in_words(amount).replace(" ", draw.TIED), amount.amount / scale, spread)


def told(bars: Bars) -> str:
    """The bars in sentences."""
    said = " ".join(
        f"{MEASURES[one.name]}. {' '.join(f'{row.name}: {row.says}.' for row in one.rows)}" for one in bars.measures
    )
    return said.replace(draw.TIED, " ")


# ---- drawn ---------------------------------------------------------------------------------------------

_SIDE, _HIGH, _STEP, _OPEN = 12, 16, 16, 84  # px: the margin, a bar, a line of words, the box of what is not known
_ROOM = draw.WIDTH - 2 * _SIDE
_LONGEST = int(_ROOM / (draw.SIZE * draw.EM))


def svg(bars: Bars) -> str:
    """The bars as a drawing, 720 px wide, with a key."""
    shapes: list[str] = []
    y = 4
    for one in bars.measures:
        y += 18
        shapes.append(draw.words(_SIDE, y, "", lead=MEASURES[one.name], size=15))
        room = Decimal(_ROOM - _OPEN * max((row.unknown for row in one.rows), default=0))
        for row in one.rows:
            said = draw.fitted(f"{row.name} – {row.says}", _LONGEST)
            for at, text in enumerate(said):
                y += _STEP + (5 if at == 0 else 0)
                shapes.append(_worded(text, row.name if at == 0 else "", y))
            y += 5
            shapes += _bar(row, y, room)
            y += _HIGH + 10
        y += 12
    shapes += _key(y)
    return draw.drawn("bars", bars.title, told(bars), y + 2 * 24, shapes)


def _worded(text: str, option: str, y: int) -> str:
    lead = option if text.startswith(option) else ""  # a name that is too long for a line is not set apart
    return draw.words(_SIDE, y, text.removeprefix(lead), lead=lead)


def _bar(row: Row, y: int, room: Decimal) -> Iterator[str]:
    x = Decimal(_SIDE)
    for at, segment in enumerate(row.segments):
        if segment.share is None:
            yield _open(x, y)
            x += _OPEN
        elif segment.share > 0:
            wide = segment.share * room
            yield _filled(segment.kind, x, y, max(wide, Decimal(1)), segment.kind)
            x += wide
        if segment.share is not None and segment.spread:
            yield _whisker(x, y + _HIGH + 3 + 3 * (at % 2), segment.spread * room, "whisker")


def _open(x: Decimal, y: int) -> str:
    said = draw.element("text", draw.NOT_KNOWN, x=x + _OPEN // 2, y=y + 12, font_size=12, text_anchor="middle")
    return draw.box(x + 3, y, _OPEN - 6, _HIGH, stroke_dasharray="5 3", class_="unknown") + said


def _filled(kind: str, x: Decimal, y: int, wide: Decimal, name: str) -> str:
    """A piece of a bar: solid, upright lines, slanted lines, or dotted ones."""
    fill: dict[str, str] = {"fill": "currentColor", "fill_opacity": "0.5"} if kind == "left" else {}
    edge = draw.box(x, y, wide, _HIGH, class_=name, **fill)
    lines = {"stored": draw.upright, "taken": draw.slanted, "before": draw.dotted}
    return edge + (lines[kind](x, y, wide, _HIGH) if kind in lines else "")


def _whisker(x: Decimal, y: int, spread: Decimal, name: str) -> str:
    """The ± of what ends at x."""
    low, high = max(x - spread, Decimal(_SIDE)), x + spread
    ends = "".join(f"M{draw.number(at)} {y - 2}V{y + 2}" for at in (low, high))
    return draw.path(f"M{draw.number(low)} {y}H{draw.number(high)}{ends}", class_=name, stroke_width=Decimal("1.3"))


def _key(y: int) -> Iterator[str]:
    places = [(_SIDE + _ROOM // 3 * (at % 3), y + 24 * (at // 3)) for at in range(6)]
    for (x, top), (kind, said) in zip(places, KINDS.items(), strict=False):
        yield _filled(kind, Decimal(x), top, Decimal(32), "key")
        yield draw.words(x + 40, top + 12, said)
    (x, top), (last, _) = places[4:]
    yield draw.box(x, top, 32, _HIGH, stroke_dasharray="5 3", class_="key")
    yield draw.words(x + 40, top + 12, "not known, at no scale")
    yield _whisker(Decimal(last + 16), top + 8, Decimal(14), "key")
    yield draw.words(last + 40, top + 12, "±, at the end of its amount")


# ---- on a terminal -------------------------------------------------------------------------------------

_SIGNS = {"left": "#", "stored": "=", "taken": "x", "before": "."}
_UNKNOWN = "?????"


def text(bars: Bars, width: int = 88) -> str:
    """The bars on a terminal, at most `width` columns wide, with a key."""
    lines = list(draw.fitted(f"{bars.title}.", width))
    for one in bars.measures:
        lines += ["", MEASURES[one.name]]
        most = max((row.unknown for row in one.rows), default=0)
        for row in one.rows:
            lines += [f"  {said}" for said in draw.fitted(f"{row.name} – {row.says}", width - 2)]
            lines.append(f"    [{_signs(row, width - 10 - most * len(_UNKNOWN))}]")
    key = (*(f"{sign} {KINDS[kind]}" for kind, sign in _SIGNS.items()), "? not known, at no scale")
    return "\n".join((*lines, "", *draw.fitted("; ".join(key), width)))


def _signs(row: Row, room: int) -> str:
    """A bar in signs; an amount that is not nothing has at least one."""
    said, end, put = "", _NONE, 0
    for segment in row.segments:
        if segment.share is None:
            said += _UNKNOWN
        elif segment.share > 0:
            end += segment.share
            many = max(1, int(end * room + Decimal("0.5")) - put)
            said, put = said + _SIGNS[segment.kind] * many, put + many
    return said
