"""Which decisions a person goes through: the gravest all, and of the rest a draw that anybody can make again."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import dataclass
from hashlib import sha256

from conserve.audit.model import DecisionAudit, Kind

# Of these a decision's `weighty` tells already.
_TOLD = (Kind.AGAINST_REFERRAL, Kind.DECIDED_AGAINST, Kind.DISSENT)
_SLIGHT = (Kind.QUERY, Kind.NOT_SEALED, Kind.CANNOT_TELL)
_WEIGHTY, _POINT = 2, 2  # lots for each reason to look closely, and for each kind of point that is not slight


@dataclass(frozen=True, slots=True)
class Lots:
    """One decision before a draw. `gravest` says why it is looked at in any case; `because` what each lot is for."""

    casebook: str
    proposal: str
    title: str
    gravest: tuple[str, ...]
    because: tuple[tuple[str, int], ...]

    @property
    def number(self) -> int:
        """How many lots it has: twice as many make it twice as likely to be drawn first."""
        return sum(lots for _, lots in self.because)


@dataclass(frozen=True, slots=True)
class Sampled:
    """A decision that a person is to go through. `drawn`: the lot fell on it; else it is looked at in any case."""

    casebook: str
    proposal: str
    title: str
    drawn: bool
    lots: int
    why: str


def sample(decisions: Iterable[DecisionAudit], size: int, seed: int, casebook: str = "") -> tuple[Sampled, ...]:
    """Draw so many of one casebook's decisions. `casebook` is its name, which the draw depends on."""
    return draw((lots_of(one, casebook) for one in decisions), size, seed)


def lots_of(decision: DecisionAudit, casebook: str = "") -> Lots:
    """What a decision has in a draw, by what an audit found of it."""
    kinds = dict.fromkeys(point.kind for point in decision.points)
    gravest = tuple(str(kind) for kind in Kind if kind in kinds and _gravest(kind))
    return Lots(casebook, decision.proposal, decision.title, gravest, tuple(_because(decision, kinds)))


def draw(lots: Iterable[Lots], size: int, seed: int) -> tuple[Sampled, ...]:
    """Draw so many: first those that are looked at in any case, then the rest by their lots.

    The same decisions and the same seed give the same sample, in whatever order they come and on any machine; a
    larger sample begins with the smaller one. Where more are the gravest than are wanted, these are drawn from alone.
    A `size` below 1 raises ValueError.
    """
    if size < 1:
        raise ValueError(f"a sample has at least one decision, not {size}")
    every = sorted(lots, key=lambda one: (not one.gravest, -_luck(one, seed), one.casebook, one.proposal))
    gravest = sum(bool(one.gravest) for one in every)
    return tuple(_sampled(one, size < gravest, size >= len(every)) for one in every[:size])


def _gravest(kind: Kind) -> bool:
    return kind.alters or kind is Kind.AGAINST_REFERRAL


def _because(decision: DecisionAudit, kinds: Iterable[Kind]) -> Iterator[tuple[str, int]]:
    yield "every decision has it", 1
    for reason in sorted(set(decision.weighty)):
        yield reason, _WEIGHTY
    for kind in sorted(set(kinds), key=tuple(Kind).index):
        if not _gravest(kind) and kind not in _TOLD:
            yield str(kind), 1 if kind in _SLIGHT else _POINT


def _luck(one: Lots, seed: int) -> int:
    """The highest of its lots. In whole numbers, so that no machine rounds otherwise.

    The best of n equal lots beats the best of m in n cases of n + m: this is a draw without putting back in which
    every decision is as likely as it has lots (Efraimidis and Spirakis, 2006).
    """
    return max(_lot(f"{seed}/{one.casebook}/{one.proposal}/{number}") for number in range(1, one.number + 1))


def _lot(name: str) -> int:
    return int.from_bytes(sha256(name.encode("utf-8", "surrogateescape")).digest(), "big")


# ---- in words ------------------------------------------------------------------------------------------------------


def _sampled(one: Lots, too_many: bool, everything: bool) -> Sampled:
    drawn = not everything and (too_many or not one.gravest)
    return Sampled(one.casebook, one.proposal, one.title, drawn, one.number, " ".join(_why(one, drawn, everything)))


def _why(one: Lots, drawn: bool, everything: bool) -> Iterator[str]:
    if one.gravest:
        yield f"To be looked at in any case: {'; '.join(one.gravest)}."
    if drawn:
        yield f"{'Of such decisions it was drawn' if one.gravest else 'Drawn'} with {_counted(one)}."
    elif everything and not one.gravest:
        yield "No more decisions are there than were asked for."
    if everything and not one.gravest and one.number > 1:
        yield f"It is to be looked at closely: {'; '.join(why for why, _ in one.because[1:])}."


def _counted(one: Lots) -> str:
    more = [f"{lots} for '{why}'" for why, lots in one.because[1:]]
    number = "1 lot" if one.number == 1 else f"{one.number} lots"
    return f"{number}: {'; '.join(['1 as every decision has', *more])}" if more else f"{number}, as every decision has"
