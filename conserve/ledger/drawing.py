"""The ledger drawn: for each measure, what all that was ever made or added came to, through the years.

One panel a measure. In each, bands stand upon one another: what is in place of each phase's fabric, then what is in
store, then what is lost. The top of them is all that had been made or added by then, and so it never falls. A year
with no change has no step; its column is as wide as it can be told, so that time is not quite to scale.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from decimal import Context, Decimal

from conserve.account.balance import Fabric
from conserve.account.held import UNITS
from conserve.explanation.words import capital, listed, quantity_in_words
from conserve.ledger.model import Ledger, Line, Measure, Step
from conserve.ledger.telling import HOW, MEASURES, fabric_says, share_says, untold_says
from conserve.quantity import EXACT, Quantity
from conserve.record import drawing as draw

_SIDE, _HIGH, _NARROW, _KEY, _STEP = 12, 132, 44, 20, 16  # px: margin, panel, narrowest column, a line of key, of words
_ROOM = draw.WIDTH - 2 * _SIDE
_LONGEST = int(_ROOM / (draw.SIZE * draw.EM))
_STORE, _LOST = "in store", "lost"
_NONE = Decimal(0)


@dataclass(frozen=True, slots=True)
class Band:
    """One band: a fabric in place, or all that is in store, or all that is lost. Heights are shares of the panel."""

    name: str
    look: int  # its pattern
    heights: tuple[Decimal, ...]  # year by year
    says: str  # how it stands now


@dataclass(frozen=True, slots=True)
class Panel:
    """One measure through the years in which it changed."""

    title: str
    says: str  # how it is counted, and how much the full height is
    years: tuple[str, ...]
    widths: tuple[int, ...]  # px of each year's column
    bands: tuple[Band, ...]
    blank: tuple[int, ...]  # the columns of which something cannot be told
    notes: tuple[str, ...]


def drawing(ledger: Ledger) -> draw.Drawing:
    """The ledger as a drawing with what stands under it."""
    panels = tuple(_panel(measure, ledger) for measure in ledger.measures)
    title = f"How much of each phase's fabric is in place: {ledger.title}"
    name = "-".join(("ledger", *(measure.name for measure in ledger.measures)))  # apart from others on the same page
    shapes: list[str] = []
    y = 4
    for panel in panels:
        y = _drawn(panel, y, shapes)
    return draw.Drawing(
        draw.drawn(name, title, " ".join(_told(panel) for panel in panels), y, shapes),
        f"{title}, as at {ledger.on.isoformat()}. Each measure stands by itself. Bands from below: in place, phase by "
        "phase; in store; lost. Together they are all that had been made or added by then.",
    )


def _told(panel: Panel) -> str:
    bands = " ".join(f"{band.name}: {band.says}." for band in panel.bands)
    years = f"Changes in {listed(panel.years)}." if panel.years else "Nothing of it can be told."
    return f"{panel.title}, {panel.says}. {years} {bands} {' '.join(panel.notes)}"


# ---- what is drawn --------------------------------------------------------------------------------------


def _panel(measure: Measure, ledger: Ledger) -> Panel:
    steps = _by_year(measure.steps)
    fabrics = [line.fabric for line in measure.now if line.balance and line.balance.told and line.balance.made]
    top = max((_total(step, fabrics) for step in steps), default=_NONE)
    bands = [_in_place(fabric, at, steps, measure, top, ledger) for at, fabric in enumerate(fabrics)]
    bands += [_gone(name, steps, fabrics, top) for name in (_STORE, _LOST)]
    shown = tuple(band for band in bands if any(band.heights)) if top else ()
    blank = tuple(at for at, step in enumerate(steps) if not _is_told(step, fabrics))
    unknown = [capital(fabric_says(line.fabric, ledger)) for line in measure.now if line.fabric not in fabrics]
    notes = [untold_says(measure)] if untold_says(measure) else []
    if unknown:
        notes.append(f"Not drawn, because how much it is is not known: {listed(unknown)}.")
    full = Quantity(top, EXACT, UNITS[measure.name]) if top else None
    says = HOW[measure.name] + (f"; the full height is {_rounded(full)}" if full else "")
    return Panel(
        MEASURES[measure.name],
        says,
        tuple(year for year, _ in steps_named(steps)),
        _widths(steps),
        shown,
        blank,
        tuple(notes),
    )


def _rounded(amount: Quantity) -> str:
    """An amount to three figures, for a scale."""
    return quantity_in_words(Quantity(Context(prec=3).plus(amount.amount).normalize(), EXACT, amount.unit))


def _by_year(steps: Sequence[Step]) -> list[Step]:
    """The last step of each year, so that no column is too narrow to be seen."""
    return list({step.says[:4]: step for step in steps}.values())


def steps_named(steps: Sequence[Step]) -> Iterator[tuple[str, Step]]:
    """Each step with its year; one whose date nobody has written is named so."""
    return (("no date" if step.says.startswith("not") else step.says[:4], step) for step in steps)


def _is_told(step: Step, fabrics: Sequence[Fabric]) -> bool:
    lines = [line for fabric in fabrics if (line := step.line(fabric)) and (line.told or fabric.added)]
    return all(line.balance is not None and line.balance.told for line in lines)


def _amount(line: Line | None, name: str) -> Decimal:
    """An amount of a line in its measure's unit; nothing where it cannot be told: its column is left blank."""
    balance = line.balance if line else None
    if balance is None or not balance.told:
        return _NONE
    found = {"made": balance.made, "place": balance.in_place, _STORE: balance.in_store, _LOST: balance.lost}[name]
    return max(found.in_unit(UNITS[balance.column.name]).amount, _NONE) if found else _NONE


def _total(step: Step, fabrics: Sequence[Fabric]) -> Decimal:
    return sum((_amount(step.line(fabric), "made") for fabric in fabrics), _NONE)


def _in_place(fabric: Fabric, at: int, steps: Sequence[Step], measure: Measure, top: Decimal, ledger: Ledger) -> Band:
    line = next(line for line in measure.now if line.fabric == fabric)
    said = f"{share_says(line.balance)} of it in place"
    if line.told < line.parts:
        said += f", told of {line.told} of {line.parts} parts"
    heights = tuple(_amount(step.line(fabric), "place") / (top or 1) for step in steps)
    return Band(capital(fabric_says(fabric, ledger)), at, heights, said)


def _gone(name: str, steps: Sequence[Step], fabrics: Sequence[Fabric], top: Decimal) -> Band:
    """What is in store, or lost, of all fabrics together."""
    heights = tuple(sum((_amount(step.line(f), name) for f in fabrics), _NONE) / (top or 1) for step in steps)
    now = (100 * heights[-1]).quantize(Decimal("0.1")) if heights else _NONE
    less = "less than 0.1" if heights and heights[-1] and not now else f"{now:f}"
    return Band(capital(name), -1 if name == _STORE else -2, heights, f"{less} % of all that is drawn")


def _widths(steps: Sequence[Step]) -> tuple[int, ...]:
    """Columns as wide as the years between changes, but none so narrow that it cannot be read."""
    if not steps:
        return ()
    narrow = min(_NARROW, _ROOM // len(steps))
    years = [step.on.year for step in steps]
    spans = [max(0, later - one) for one, later in zip(years, [*years[1:], years[-1]], strict=True)]
    if years[0] == 1:  # a date that nobody has written
        spans[0] = 0
    spare = _ROOM - narrow * len(steps)
    widths = [narrow + spare * span // (sum(spans) or 1) for span in spans]
    widths[-1] += _ROOM - sum(widths)
    return tuple(widths)


# ---- drawn ----------------------------------------------------------------------------------------------


def _drawn(panel: Panel, y: int, shapes: list[str]) -> int:
    """One panel from y down; gives where the next begins."""
    y += 20
    said = draw.fitted(f"{panel.title}, {panel.says}", _LONGEST)
    shapes.append(draw.words(_SIDE, y, said[0].removeprefix(panel.title), lead=panel.title))
    shapes += [draw.words(_SIDE, y + _STEP * at, text) for at, text in enumerate(said) if at]
    y += _STEP * (len(said) - 1) + 8
    if panel.bands:
        shapes += _columns(panel, y)
        y += _HIGH + 18
        for band in reversed(panel.bands):
            shapes.append(_pattern(band.look, _SIDE, y, 32, 14))
            shapes.append(draw.box(_SIDE, y, 32, 14, class_="key"))
            said = draw.fitted(f"{band.name}: {band.says}", _LONGEST - 7)
            shapes += [draw.words(_SIDE + 40, y + 12 + _STEP * at, text) for at, text in enumerate(said)]
            y += _KEY + _STEP * (len(said) - 1)
    for text in (line for note in panel.notes for line in draw.fitted(note, _LONGEST)):
        y += _STEP
        shapes.append(draw.words(_SIDE, y, text))
    return y + 16


def _columns(panel: Panel, y: int) -> Iterator[str]:
    """Every year's column with its bands, a step-line over each band, and the years below."""
    x, free = _SIDE, _SIDE
    tops: dict[str, list[str]] = {band.name: [] for band in panel.bands}
    for at, (year, wide) in enumerate(zip(panel.years, panel.widths, strict=True)):
        if at in panel.blank:
            yield _unknown(x, y, wide)
        low, sum_of = y + _HIGH, _NONE
        for band in panel.bands if at not in panel.blank else ():
            sum_of += band.heights[at]
            high = y + _HIGH - int(sum_of * _HIGH + Decimal("0.5"))
            if band.heights[at]:
                high = min(high, low - 1)  # what is not nothing can be seen
            if high < low:
                yield _pattern(band.look, x, high, wide, low - high)
                tops[band.name].append(f"M{x} {high}H{x + wide}")
            low = min(low, high)
        yield draw.line(x, y + _HIGH, x, y + _HIGH + 4)
        if x >= free:
            yield draw.words(x, y + _HIGH + 14, year, size=11)
            free = x + 8 * len(year)
        x += wide
    for steps in tops.values():
        if steps:
            yield draw.path("".join(steps), class_="top", stroke_width=Decimal("1.2"))
    yield draw.line(_SIDE, y + _HIGH, _SIDE + _ROOM, y + _HIGH)


def _unknown(x: int, y: int, wide: int) -> str:
    """A column of which something cannot be told: open, at no scale, with its words where there is room."""
    said = draw.NOT_KNOWN if wide >= 64 else "?"
    text = draw.element("text", said, x=x + wide // 2, y=y + _HIGH // 2, font_size=11, text_anchor="middle")
    return draw.box(x + 2, y, wide - 4, _HIGH, stroke_dasharray="5 3", class_="unknown") + text


def _pattern(look: int, x: int, y: int, wide: int, high: int) -> str:
    """A band's look: solid, upright, slanted, dotted, and paler or closer ones; store is empty, the lost has dots."""
    at = Decimal(x)
    if look == -1:
        return draw.box(x, y, wide, high, stroke_width=Decimal("0.6"), stroke_dasharray="2 2", class_="store")
    if look == -2:
        return draw.dotted(at, y, Decimal(wide), high)
    kinds = (
        lambda: _filled(x, y, wide, high, "0.62"),
        lambda: draw.upright(at, y, Decimal(wide), high, 5),
        lambda: draw.slanted(at, y, Decimal(wide), high, 6),
        lambda: _filled(x, y, wide, high, "0.22"),
        lambda: _filled(x, y, wide, high, "0.22") + draw.slanted(at, y, Decimal(wide), high, 4),
        lambda: draw.upright(at, y, Decimal(wide), high, 12),
        lambda: draw.slanted(at, y, Decimal(wide), high, 12),
    )
    return kinds[look % len(kinds)]()


def _filled(x: int, y: int, wide: int, high: int, how: str) -> str:
    return draw.element("rect", x=x, y=y, width=wide, height=high, fill="currentColor", fill_opacity=how)
