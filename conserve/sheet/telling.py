"""A sheet in words: the lines as they are read at the bench, on a screen, in Markdown and on paper."""

from __future__ import annotations

import re
from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from math import ceil

from conserve.explanation import full, listed
from conserve.sheet.model import Done, Kind, Line, Placed, Sheet

CERTIFIES_NOTHING = "This sheet certifies nothing. It tells what the casebook asks for; competent people decide."
_TO_WRITE = "To write a tick back:"
WITNESS = "Witness code of the chain of seals:"
MET = "met: - {requirement: ID, date: YEAR-MONTH-DAY, by: NAME, evidence: [ID]}"
_ROOMY = 12  # points: at this size or more there is room to say in full what every job owes
_FITS = ((13, False), (12, False), (11, False), (11, True))  # points on paper, and whether small things pair up
_PAGE = 278  # mm of an A4 page that a sheet may take
_COLUMN = 134  # mm of a line's words
_HALF = 61  # mm of the words of a line that shares its row
_WHOLE = 182  # mm of what goes right across


@dataclass(frozen=True, slots=True)
class Row:
    """One line in words."""

    done: bool
    hold: bool
    act: bool
    inside: bool  # whether it belongs to an act
    pairs: bool  # whether two such may share a row where room is short
    said: str
    notes: tuple[str, ...]
    signs: str  # who signs a hold that is not signed yet
    ticked: str  # when, by whom, shown by what; "" where it is not done
    write: str


@dataclass(frozen=True, slots=True)
class Told:
    """A sheet in sentences."""

    id: str
    title: str
    about: str
    stop: tuple[str, ...]
    not_to_do: tuple[str, ...]
    cautions: tuple[str, ...]
    may_apply: tuple[str, ...]
    does: str
    who: str
    sections: tuple[tuple[str, tuple[Row, ...]], ...]
    left_out: str
    strays: tuple[str, ...]
    write_back: str
    foot: str

    @property
    def status(self) -> str:
        """In a few words, for a list of sheets."""
        rows = [row for _, rows in self.sections for row in rows]
        owed = sum(not row.done for row in rows)
        if self.stop:
            return self.stop[0].partition(":")[0]
        if not owed:
            return "every line done" if rows else "nothing is to be done"
        return f"{owed} {'line' if owed == 1 else 'lines'} open"

    @property
    def fit(self) -> tuple[int, bool]:
        """The type in points, and whether small lines pair up, at which it should stand on one side of A4."""
        return next((fit for fit in _FITS if _height(self, *fit) <= _PAGE), _FITS[-1])


def told(sheet: Sheet) -> Told:
    """Put a sheet into the sentences that are read: what every such job owes in full only where there is room."""
    full_length = _told(sheet, False)
    return full_length if full_length.fit[0] >= _ROOMY else _told(sheet, True)


def _told(sheet: Sheet, short: bool) -> Told:
    parts = listed(sheet.parts) if len(sheet.parts) < 4 else f"{sheet.parts[0]} and {len(sheet.parts) - 1} more"
    alike = f" ({len(sheet.components)} of them)" if len(sheet.components) > len(sheet.parts) else ""
    return Told(
        id=sheet.proposal,
        title=sheet.title,
        about=f"{sheet.object}: {parts}{alike}. Option '{sheet.option}'.",
        stop=sheet.stop,
        not_to_do=sheet.not_to_do,
        cautions=sheet.cautions,
        may_apply=sheet.may_apply,
        does=sheet.does,
        who=" ".join(sheet.who),
        sections=tuple((s.title, tuple(_row(one, sheet, short) for one in s.lines)) for s in sheet.sections),
        left_out=sheet.left_out,
        strays=sheet.strays,
        write_back=f"{_TO_WRITE} proposals/{sheet.proposal}.yaml, under work, {MET}" if sheet.sections else "",
        foot=" ".join(filter(None, (CERTIFIES_NOTHING, sheet.as_at, _witness(sheet)))),
    )


def _witness(sheet: Sheet) -> str:
    return f"{WITNESS} {sheet.witness}." if sheet.witness else ""


def _row(placed: Placed, sheet: Sheet, short: bool) -> Row:
    line = placed.line
    act = line.kind is Kind.ACT
    return Row(
        done=line.done is not None,
        hold=line.hold,
        act=act,
        inside=line.stage is None or bool(line.act and not line.hold and line.kind is Kind.ASKED and _within(line)),
        pairs=line.routine and not line.hold and not line.note and not placed.because,
        said=f"Act {line.act}: {line.says}" if act else _said(line, sheet, short),
        notes=tuple(filter(None, (line.note, *placed.because))),
        signs="" if line.done else line.signs,
        ticked=_ticked(line.done) if line.done else "",
        write="" if act or line.done else line.write,
    )


def _within(line: Line) -> bool:
    return line.stage == "during-work"


def _said(line: Line, sheet: Sheet, short: bool) -> str:
    """A line, in few words where a caution above says it in full, or where short is asked of what every job owes."""
    told_above = line.says in (*sheet.cautions, *sheet.may_apply)
    return line.short if line.short and (told_above or (short and line.routine)) else line.says


def _ticked(done: Done) -> str:
    shown = f"; {listed(done.evidence)}" if done.evidence else ""
    return f"Done{f' {done.on}' if done.on else ''}{f', {done.by}' if done.by else ''}{shown}"


# ---- how much room it takes ------------------------------------------------------------------------------


def _height(one: Told, size: int, paired: bool) -> float:
    """About how many mm of A4 a sheet takes; what printers make of it differs a little."""
    line = size * 0.3528 * (1.12 if paired else 1.22)
    wide = size * 0.3528 * 0.5  # of an average letter
    across = [one.about, f"{one.does} {one.who}", one.left_out, *one.strays, *one.stop, *one.not_to_do]
    across += [f"    {said}" for said in (*one.cautions, *one.may_apply)]
    height = (22 if paired else 27) + (line if WITNESS in one.foot else 0)  # which makes the foot a line longer
    height += sum(ceil(len(said) * wide / _WHOLE) * line for said in across if said)
    for _, rows in one.sections:
        height += (1.5 if paired else 1.8) * line
        height += sum(_row_height(row, line, wide, paired) for row in rows)
    written = sum(len(row.write) + 8 for _, rows in one.sections for row in rows if row.write) if paired else 0
    return height + ceil(written * wide * 0.64 / _WHOLE) * line * 0.62


def _row_height(row: Row, line: float, wide: float, paired: bool) -> float:
    shares = paired and row.pairs
    signs = f" To be signed by {row.signs}" if row.signs else ""
    words = f"12 {'HOLD   ' if row.hold else ''}{' '.join((row.said, *row.notes))}{signs}"
    letters = len(words) * (1.08 if row.act else 1) + (0 if paired else len(row.write) * 0.8)
    left = ceil(letters * wide / (_HALF if shares else _COLUMN + 7 * paired))
    right = ceil(len(row.ticked) * wide * 0.8 / 43) if row.ticked else 1
    return (max(left, right * 0.8, 1.2) * line + (0.9 if paired else 2)) / (2 if shares else 1)


# ---- text -----------------------------------------------------------------------------------------------


def lines_told(one: Told) -> Iterator[tuple[str, str, str, str]]:
    """A sheet line by line for a screen: what stands before the first line and the others, the text, its weight."""
    for said in one.stop:
        yield "", "", said, "bad"
    yield "", "", f"{one.title} ({one.id})", "strong"
    yield "", "", one.about, ""
    for said in (*one.not_to_do, *one.cautions):
        yield "! ", "  ", said, "bad"
    for said in one.may_apply:
        yield "! ", "  ", f"Not known whether this applies: {said}", "bad"
    for said in (one.does, one.who):
        if said:
            yield "", "", said, ""
    for title, rows in one.sections:
        yield "", "", "", ""
        yield "", "", title, "strong"
        for row in rows:
            yield from _row_told(row)
    for said in (one.left_out, *one.strays):
        if said:
            yield "", "", said, ""
    yield "", "", "", ""
    for said in filter(None, (one.write_back, one.foot)):
        yield "", "", said, ""


def _row_told(row: Row) -> Iterator[tuple[str, str, str, str]]:
    indent = "    " if row.inside and not row.act else "  "
    box = "[x] " if row.done else "[ ] "
    hold = "HOLD: " if row.hold else ""
    write = f" ({row.write})" if row.write else ""
    yield f"{indent}{box}", f"{indent}    ", f"{hold}{row.said}{write}", "strong" if row.act else ""
    signed = f"To be signed by {row.signs}." if row.signs else ""
    small = " ".join(filter(None, (row.ticked and full(row.ticked), signed, *row.notes)))
    if small:
        yield f"{indent}    ", f"{indent}    ", small, ""


# ---- Markdown and a page ----------------------------------------------------------------------------------


def markdown_sheets(sheets: Iterable[Sheet]) -> str:
    """Sheets in Markdown, one after the other."""
    from conserve.record.markdown import template

    said = template("sheet.md.j2").render(sheets=[told(one) for one in sheets])
    return re.sub(r"\n{3,}", "\n\n", said).strip() + "\n"


def html_sheets(sheets: Iterable[Sheet], title: str) -> str:
    """Sheets as one page that stands alone; printed, each begins a side of A4."""
    from conserve.record.html import page_template

    return page_template("sheet.html.j2").render(sheets=[told(one) for one in sheets], title=title)
