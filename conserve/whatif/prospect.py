"""What an option may come to once everything is known: the worst and the best, with a case that reaches each.

The ends come from `bounds` and hold whatever is found out. Each is then looked for, by supposing answers one at a
time and weighing again, until a case is found in which the verdict is that, whatever the rest turns out to be.
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from conserve.casebook.model import Values
from conserve.rulebook import Rulebook
from conserve.weighing.model import ORDER, NeedState, OptionWeighing, PartWeighing, Standing, Verdict
from conserve.whatif.answers import answers, covers_all, tests_on
from conserve.whatif.bounds import spans
from conserve.whatif.matters import Open, matters, still_open
from conserve.whatif.model import Case, Lack, Prospect, Span, Supposed, Unknown
from conserve.whatif.suppose import answered, weigh_supposing

MOST = 400  # weighings that one search may take


def prospect(part: PartWeighing, option: str, rulebook: Rulebook, most: int = MOST) -> Prospect:
    """The worst and the best an option may come to, each with a case that reaches it where one is found.

    Exact where both are reached. Where all answers have been tried and none reaches an end, the span is drawn in;
    where the search has grown too long, the end is told as a bound.
    """
    search = _Search(part, option, rulebook, most)
    span = spans(part)[option]
    worst, to_worst = _end(search, span, ORDER)
    best, to_best = _end(search, Span(worst, span.best), ORDER[::-1])
    return Prospect(Span(worst, best), to_worst, to_best, bool(to_worst and to_best), search.weighed)


def _end(search: _Search, span: Span, order: tuple[Verdict, ...]) -> tuple[Verdict, Case | None]:
    """The first verdict of the span, in this order, that a case reaches or that cannot be ruled out."""
    low, high = ORDER.index(span.worst), ORDER.index(span.best)
    inside = [v for v in order if low <= ORDER.index(v) <= high and v not in (Verdict.REFER, Verdict.NOT_YET_SHOWN)]
    for target in inside:
        case, tried_all = search.reach(target)
        if case is not None or not tried_all:
            return target, case
    return inside[0], None


class _Search:
    """Looks for answers that bring an option to a verdict."""

    def __init__(self, part: PartWeighing, option: str, rulebook: Rulebook, most: int) -> None:
        self.part, self.option, self.rulebook, self.most = part, option, rulebook, most
        self.tests = tests_on(rulebook, part)
        self.weighed = 0
        self.known: dict[frozenset[tuple[Unknown, Values]], PartWeighing] = {}  # what has been tried
        self.dead_ends = self.stop = 0
        self.cut = False  # whether something was left untried
        self.blamed: dict[Unknown, int] = {}  # what has led to dead ends, and how often

    def reach(self, target: Verdict) -> tuple[Case | None, bool]:
        """A case in which the verdict is the target; and, where there is none, whether everything has been tried.

        What led to a dead end is asked first at the next try, which may meet twice as many dead ends.
        """
        self.stop, allowed, self.blamed = self.weighed + self.most, 1, {}
        while True:
            self.dead_ends, self.cut = allowed, False
            found, tried_all = self._reach(target, {}, self.part)
            if found is not None or not self.cut or self.weighed >= self.stop:
                return (self._fewer(found) if found else None), tried_all
            allowed *= 2

    def _reach(self, target: Verdict, supposed: Supposed, part: PartWeighing) -> tuple[Case | None, bool]:
        span = spans(part)[self.option]
        if not ORDER.index(span.worst) <= ORDER.index(target) <= ORDER.index(span.best):
            return None, True
        unknown = self._next(supposed, part)
        if (span.settled or unknown is None) and (case := self._case(target, supposed)) is not None:
            return case, False
        if unknown is None:
            self._blame(one for opened in self._open(part) for one in opened.behind)
            return None, not _doubtful(part.option(self.option))
        tried_all = covers_all(unknown, part, self.rulebook)
        for further, there in self._tried(target, unknown, supposed, part):
            if self.dead_ends <= 0 or self.weighed >= self.stop:
                self.cut = True
                return None, False
            found, all_there = self._reach(target, further, there)
            if found is not None:
                return found, False
            tried_all = tried_all and all_there
        self._blame((unknown,))
        return None, tried_all

    def _blame(self, unknowns: Iterable[Unknown]) -> None:
        self.dead_ends -= 1
        for unknown in unknowns:
            self.blamed[unknown] = self.blamed.get(unknown, 0) + 1

    def _open(self, part: PartWeighing) -> tuple[Open, ...]:
        return still_open(part.option(self.option), part, self.rulebook)

    def _next(self, supposed: Supposed, part: PartWeighing) -> Unknown | None:
        """What to suppose next: what has led to dead ends; then what goes against the option and hangs on least."""
        groups = [
            (not one.fatal, len(behind), behind)
            for one in self._open(part)
            if (behind := [unknown for unknown in one.behind if unknown not in supposed])
        ]
        if not groups:
            return min((one for one in matters(part, self.rulebook) if one not in supposed), default=None)
        first = max(self.blamed.get(unknown, 0) for _, _, behind in groups for unknown in behind)
        if first:
            blamed = (unknown for _, _, behind in groups for unknown in behind)
            return min(unknown for unknown in blamed if self.blamed.get(unknown, 0) == first)
        return min(groups)[2][0]

    def _tried(
        self, target: Verdict, unknown: Unknown, supposed: Supposed, part: PartWeighing
    ) -> Iterator[tuple[Supposed, PartWeighing]]:
        """Each answer to a question, weighed: for the worst, the one that goes furthest against the option first."""
        given = answers(unknown, part, self.rulebook, self.tests)
        weighed = ((further, self._weigh(further)) for further in ({**supposed, unknown: values} for values in given))
        if target is not Verdict.NOT_JUSTIFIED:
            return weighed

        def left(there: PartWeighing) -> tuple[bool, int]:
            return not spans(there)[self.option].settled, sum(len(one.behind) for one in self._open(there))

        return iter(sorted(weighed, key=lambda one: left(one[1])))

    def _weigh(self, supposed: Supposed) -> PartWeighing:
        """A try that has been made before is counted and not made again."""
        self.weighed += 1
        tried = frozenset(supposed.items())
        if tried not in self.known:
            self.known[tried] = weigh_supposing(self.part, supposed, self.rulebook)
        return self.known[tried]

    def _case(self, target: Verdict, supposed: Supposed) -> Case | None:
        """The case, where the verdict is the target indeed once all that a person must answer is answered."""
        part = answered(self._weigh(supposed), self.rulebook)
        reached = part.option(self.option).verdict is target
        settled = spans(part)[self.option].settled or self._next(supposed, part) is None
        return Case(target, supposed, part) if reached and settled else None

    def _fewer(self, case: Case) -> Case:
        """The case without the answers that it does not need."""
        for unknown in sorted(case.supposed, key=lambda one: (one.lack is Lack.LIST, one)):
            fewer = {one: values for one, values in case.supposed.items() if one != unknown}
            case = self._case(case.verdict, fewer) or case
        return replace(case, whatever=frozenset(one for one in case.supposed if self._any_will_do(one, case)))

    def _any_will_do(self, unknown: Unknown, case: Case) -> bool:
        """Whether every answer that is tried to one question would do as well: that it is known is what matters."""
        given = answers(unknown, self.part, self.rulebook, self.tests) if unknown.lack is Lack.FACT else ()
        told = ({**case.supposed, unknown: values} for values in given)
        return len(given) > 1 and all(self._case(case.verdict, supposed) is not None for supposed in told)


def _doubtful(option: OptionWeighing) -> int:
    """How many findings and needs of an option are open."""
    return sum(s.standing is Standing.OPEN for s in option.settled) + sum(
        n.state is NeedState.OPEN for n in option.needs
    )
