"""What drawings are made of: words that fit their place, and shapes that are told apart without colour.

A drawing takes its ink from the page around it (`currentColor`), so that it can be read in light and dark and on
paper. It holds no script, no style and no address, and every word in it is escaped.
"""

from __future__ import annotations

import re
import unicodedata
from collections.abc import Iterable
from dataclasses import dataclass
from decimal import Decimal
from html import escape

WIDTH = 720  # px of every drawing
SIZE = 13  # px of ordinary words
EM = Decimal("0.56")  # width of an average letter: a little above that of DejaVu Sans, a wide face (measured)
NOT_KNOWN = "not known"
TIED = "\N{NO-BREAK SPACE}"  # a space at which no line breaks
_BREAKS = re.compile(r"[ \t\r\n]+")
_NOT_IN_XML = re.compile("[^\t\n\r -\ud7ff\ue000-\ufffd\U00010000-\U0010ffff]|[\x7f-\x9f]")

Number = Decimal | int


@dataclass(frozen=True, slots=True)
class Drawing:
    """A drawing for a page, with what stands under it."""

    svg: str
    caption: str


def figure(drawing: Drawing) -> str:
    """A drawing as a figure of a page. Where the screen is narrow it is moved within its own frame."""
    caption = escape(drawing.caption)
    return (
        f'\n<figure class="drawn"><div tabindex="0" role="group" aria-label="{caption}">{drawing.svg}</div>'
        f"<figcaption>{caption}</figcaption></figure>"
    )


# ---- words ---------------------------------------------------------------------------------------------


def columns(text: str) -> int:
    """How many columns of a terminal a text takes; in a drawing, how many average letters."""
    wide = sum(unicodedata.east_asian_width(sign) in "WF" for sign in text)
    return len(text) + wide - sum(unicodedata.combining(sign) > 0 for sign in text)


def fitted(text: str, width: int, most: int = 0) -> tuple[str, ...]:
    """Break a text into lines of `width` columns. Where there are more than `most`, it is cut at a word with "…"."""
    lines: list[str] = []
    for word in (piece for one in _BREAKS.split(text.strip()) for piece in _pieces(one, width)):
        if lines and columns(lines[-1]) + 1 + columns(word) <= width:
            lines[-1] += f" {word}"
        else:
            lines.append(word)
    if most and len(lines) > most:
        last = lines[most - 1]
        while columns(last) + 2 > width:
            last = last.rpartition(" ")[0] or last[:-2]
        lines[most - 1 :] = [f"{last} …"]
    return tuple(text.replace(TIED, " ") for text in lines)


def _pieces(word: str, width: int) -> Iterable[str]:
    """A word; one that no line can hold, in pieces."""
    while columns(word) > width:
        cut = len(word)
        while columns(word[:cut]) > width:
            cut -= 1
        yield word[:cut]
        word = word[cut:]
    yield word


# ---- shapes --------------------------------------------------------------------------------------------


def number(value: Number) -> str:
    """A length or a place in px, to a hundredth."""
    return f"{Decimal(value):.2f}".rstrip("0").rstrip(".")


def element(tag: str, *inside: str, **said: str | Number) -> str:
    """An element; `stroke_width` is written `stroke-width`, `class_` is `class`. `inside` is markup already."""
    told = "".join(
        f' {name.rstrip("_").replace("_", "-")}="{plain(value) if isinstance(value, str) else number(value)}"'
        for name, value in said.items()
    )
    return f"<{tag}{told}>{''.join(inside)}</{tag}>" if inside else f"<{tag}{told}/>"


def plain(text: str) -> str:
    """A text that starts no markup and holds no sign that XML forbids."""
    return escape(_NOT_IN_XML.sub("", text))


def words(x: Number, y: Number, text: str, lead: str = "", size: int = SIZE) -> str:
    """Words on one line, the first of them, `lead`, in bold."""
    bold = element("tspan", plain(lead), font_weight="700") if lead else ""
    return element("text", bold + plain(text), x=x, y=y, font_size=size)


def box(x: Number, y: Number, width: Number, height: Number, **said: str | Number) -> str:
    given: dict[str, str | Number] = {"fill": "none", "stroke": "currentColor", **said}
    return element("rect", x=x, y=y, width=width, height=height, **given)


def line(x: Number, y: Number, to_x: Number, to_y: Number, **said: str | Number) -> str:
    given: dict[str, str | Number] = {"stroke": "currentColor", **said}
    return element("line", x1=x, y1=y, x2=to_x, y2=to_y, **given)


def path(steps: str, **said: str | Number) -> str:
    given: dict[str, str | Number] = {"fill": "none", "stroke": "currentColor", **said}
    return element("path", d=steps, **given)


def slanted(x: Decimal, y: int, width: Decimal, height: int, gap: int = 5) -> str:
    """Slanted lines within a box, cut off at its sides, so that no pattern has to be named by an address."""
    steps = []
    for start in range(gap - height, int(width) + 1, gap):
        low, high = max(Decimal(start), Decimal(0)), min(Decimal(start + height), width)
        if low < high:
            steps.append(
                f"M{number(x + low)} {number(y + height - (low - start))}"
                f"L{number(x + high)} {number(y + height - (high - start))}"
            )
    return path("".join(steps)) if steps else ""


def upright(x: Decimal, y: int, width: Decimal, height: int, gap: int = 6) -> str:
    """Upright lines within a box."""
    steps = "".join(f"M{number(x + at)} {y}V{y + height}" for at in range(gap, int(width) + 1, gap))
    return path(steps) if steps else ""


def dotted(x: Decimal, y: int, width: Decimal, height: int, gap: int = 4) -> str:
    """Rows of dots within a box."""
    rows = "".join(f"M{number(x + 2)} {y + at}H{number(x + width)}" for at in range(gap, height, gap))
    return path(rows, stroke_dasharray="1 4") if width > gap else ""


def drawn(name: str, title: str, told: str, height: Number, shapes: Iterable[str]) -> str:
    """A whole drawing. `name` sets its ids apart from those of any other; `told` says the same as its shapes."""
    ids = f"{name}_title {name}_told"  # no heading's id holds an underscore
    inside = element("title", plain(title), id=f"{name}_title") + element("desc", plain(told), id=f"{name}_told")
    return element(
        "svg",
        f"{inside}\n" + "\n".join(shapes) + "\n",
        xmlns="http://www.w3.org/2000/svg",
        viewBox=f"0 0 {WIDTH} {number(height)}",
        width=WIDTH,
        height=height,
        role="img",
        aria_labelledby=ids,
        font_family="system-ui, sans-serif",
        fill="currentColor",
    )
