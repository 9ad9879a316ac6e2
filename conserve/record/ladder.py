"""The options of a proposal as a ladder: the gentlest at the foot, the most intrusive at the head.

An option stands by the highest rung among its acts, as `rules/techniques.yaml` gives it; one that does nothing stands
on rung 0. Options on one rung keep the order in which they are written. Like parts are told by the one that fares
worst, as in the record.
"""

from __future__ import annotations

from dataclasses import dataclass
from decimal import Decimal

from conserve.explanation.sentences import reason_says
from conserve.explanation.words import capital, full, the
from conserve.record import drawing as draw
from conserve.weighing.model import NeedState, OptionWeighing, PartWeighing, Verdict, Weighing

_NEED = {
    NeedState.FAILED: "does not meet the need",
    NeedState.IN_DOUBT: "leaves in doubt the need",
    NeedState.OPEN: "it is not known whether it meets the need",
}


@dataclass(frozen=True, slots=True)
class Rung:
    """One option: how far it goes, its verdict, and its one reason in few words."""

    option: str
    rung: int
    verdict: Verdict
    because: str
    mark: str  # "chosen" by a decision, "preferred" by who put the proposal forward, or ""

    @property
    def name(self) -> str:
        return f"{self.option}, {self.mark}" if self.mark else self.option

    @property
    def says(self) -> str:
        return f"{capital(self.verdict.value)}. {self.because}"


@dataclass(frozen=True, slots=True)
class Ladder:
    """The options, the gentlest first."""

    title: str
    rungs: tuple[Rung, ...]


def ladder_of(weighing: Weighing) -> Ladder:
    """Set the options of a proposal in order by how far they go."""
    part = weighing.worst
    found = (_rung(option, part, weighing) for option in part.options)
    title = f"The options for {the(part.component.name)}, the gentlest at the foot and the most intrusive at the head"
    return Ladder(title, tuple(sorted(found, key=lambda rung: rung.rung)))


def _rung(option: OptionWeighing, part: PartWeighing, weighing: Weighing) -> Rung:
    techniques = option.account.vocabulary.techniques
    return Rung(
        option.option.id,
        max((techniques[act.technique].rung for act in option.option.acts), default=0),
        option.verdict,
        _because(option, part),
        mark_of(weighing) if option.option.id == weighing.chosen else "",
    )


def mark_of(weighing: Weighing) -> str:
    """What the option that gives a proposal its verdict is: chosen, or only preferred while nobody has decided."""
    return "chosen" if weighing.proposal.decision else "preferred"


def _because(option: OptionWeighing, part: PartWeighing) -> str:
    """The one reason in short: a need by its words alone, anything else by its sentence."""
    need = option.reason.need
    if need is None or need.state not in _NEED:
        return reason_says(option, part)
    return full(f"{_NEED[need.state]} '{need.need.says.strip().rstrip('.')}'")


def told(ladder: Ladder) -> str:
    """The ladder in sentences, from its foot."""
    return " ".join(f"{rung.name} (rung {rung.rung}): {full(rung.says)}" for rung in ladder.rungs)


# ---- drawn ---------------------------------------------------------------------------------------------

_LEFT, _RIGHT, _WORDS, _STEP, _GAP = 40, 136, 168, 17, 22  # px: the two rails, where words begin, a line, between rungs
_LONGEST = int((draw.WIDTH - _WORDS - 14) / (draw.SIZE * draw.EM))  # columns of a line of words
_MOST = 2  # lines for the verdict and its reason
_MIDDLE = (_LEFT + _RIGHT) // 2
_DASHES = {Verdict.NOT_YET_SHOWN: "7 5", Verdict.REFER: "2 4"}


def svg(ladder: Ladder) -> str:
    """The ladder as a drawing, 720 px wide. Each verdict has a sign of its own and stands there in words."""
    shapes = [draw.words(_LEFT, 16, "most intrusive", size=12)]
    top = y = 34
    for rung in reversed(ladder.rungs):
        said = draw.fitted(rung.says, _LONGEST, _MOST)
        high = _STEP * (1 + len(said))
        shapes += _drawn_rung(rung, said, y, high)
        y += high + _GAP
    rails = [draw.line(x, top - 10, x, y - _GAP + 10, stroke_width=4) for x in (_LEFT, _RIGHT)]
    shapes.append(draw.words(_LEFT, y + 6, "gentlest", size=12))
    return draw.drawn("ladder", ladder.title, told(ladder), y + 14, [*rails, *shapes])


def _drawn_rung(rung: Rung, said: tuple[str, ...], y: int, high: int) -> list[str]:
    at = y + high // 2
    name, number = draw.fitted(rung.name, _LONGEST - 10, 1)[0], f" (rung {rung.rung})"
    verdict = capital(rung.verdict.value)
    lines = [draw.words(_WORDS, y + 12, number, lead=name, size=14)]
    for row, text in enumerate(said, 1):
        lead = verdict if row == 1 else ""
        lines.append(draw.words(_WORDS, y + 12 + _STEP * row, text.removeprefix(lead), lead))
    dashes = {"stroke_dasharray": _DASHES[rung.verdict]} if rung.verdict in _DASHES else {}
    step = [draw.line(a, at, b, at, stroke_width=5 if rung.mark else 2, **dashes) for a, b in _halves()]
    return [*(_marked(y, high) if rung.mark else ()), *step, sign(rung.verdict, _MIDDLE, at), *lines]


def _halves() -> tuple[tuple[int, int], tuple[int, int]]:
    return (_LEFT, _MIDDLE - 15), (_MIDDLE + 15, _RIGHT)


def _marked(y: int, high: int) -> tuple[str, str]:
    """An arrow to a rung, and a frame round its words."""
    at, frame = y + high // 2, (_WORDS - 10, y - 6, draw.WIDTH - _WORDS + 8, high + 10)
    arrow = draw.path(f"M14 {at - 9}L30 {at}L14 {at + 9}Z", fill="currentColor", class_="arrow")
    return draw.box(*frame, stroke_width=Decimal("2.5"), rx=4, class_="marked"), arrow


def sign(verdict: Verdict, x: int, y: int) -> str:
    """The sign of a verdict: a disc, a ring with a dot, a broken lozenge, a triangle, a cross."""
    ring = draw.element("circle", cx=x, cy=y, r=10, fill="none", stroke="currentColor", stroke_width=2)
    shape = {
        Verdict.JUSTIFIED: draw.element("circle", cx=x, cy=y, r=10),
        Verdict.WITH_REQUIREMENTS: ring + draw.element("circle", cx=x, cy=y, r=4),
        Verdict.NOT_YET_SHOWN: draw.path(
            f"M{x} {y - 11}L{x + 11} {y}L{x} {y + 11}L{x - 11} {y}Z", stroke_width=2, stroke_dasharray="4 3"
        ),
        Verdict.REFER: draw.path(f"M{x - 9} {y - 10}L{x + 11} {y}L{x - 9} {y + 10}Z", stroke_width=2),
        Verdict.NOT_JUSTIFIED: draw.path(
            f"M{x - 9} {y - 9}L{x + 9} {y + 9}M{x + 9} {y - 9}L{x - 9} {y + 9}", stroke_width=3
        ),
    }[verdict]
    return draw.element("g", shape, class_="verdict")


# ---- on a terminal -------------------------------------------------------------------------------------

_SIGNS = {
    Verdict.JUSTIFIED: "|====#====|",
    Verdict.WITH_REQUIREMENTS: "|====o====|",
    Verdict.NOT_YET_SHOWN: "|- - ? - -|",
    Verdict.REFER: "|. . > . .|",
    Verdict.NOT_JUSTIFIED: "|==  X  ==|",
}
_RAILS = "|         |"


def text(ladder: Ladder, width: int = 88) -> str:
    """The ladder on a terminal, at most `width` columns wide."""
    room = width - len(_RAILS) - 4
    lines = [*draw.fitted(f"{ladder.title}.", width), ""]
    for rung in reversed(ladder.rungs):
        arrow = "->" if rung.mark else "  "
        said = draw.fitted(f"{rung.name} (rung {rung.rung})", room) + draw.fitted(rung.says, room, 3)
        lines += [f"{arrow}{_SIGNS[rung.verdict]}  {said[0]}"]
        lines += [f"  {_RAILS}  {row}" for row in said[1:]]
        lines.append(f"  {_RAILS}")
    return "\n".join(lines)
