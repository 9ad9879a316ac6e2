"""What would change the answer: every smallest set of changes to a proposal that leads to a better verdict.

A change is one that whoever puts the proposal forward can make: what an act does or is made of, one of its numbers,
an act left out, a lower use, an answer, a reason. What is so of the part is found out, not changed.

A verdict has one reason, and no set of changes leads to a better one without undoing it. So every such set holds a
change that bears on the reason, and after that one that bears on the next reason, until the verdict is better: that
is the way the sets are built up, and none is missed. Each is weighed. Of numbers, which have no end, those are tried
that undo the reason alone, between a tenth of what is written and ten times as much.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

from conserve.casebook import Option
from conserve.casebook.model import Said
from conserve.facts import touched_by
from conserve.facts.today import key_of
from conserve.rulebook import Rulebook
from conserve.terms import Vocabulary
from conserve.truth import Truth
from conserve.weighing.model import ORDER, PartWeighing, Verdict
from conserve.whatif.bearing import bearing
from conserve.whatif.model import Change, What
from conserve.whatif.suppose import HERE, Setting, setting_of, weigh_setting, with_evidence, with_facts, with_option

MOST_CHANGES = 3  # that one set may hold
MOST = 400  # weighings that one search may take


ChangeSet = frozenset[Change]


@dataclass(frozen=True, slots=True)
class Way:
    """A smallest set of changes, and the verdict it leads to."""

    changes: tuple[Change, ...]
    verdict: Verdict


@dataclass(frozen=True, slots=True)
class Changes:
    """Every smallest set of up to `size` changes; where it is not exact, some may have been missed."""

    ways: tuple[Way, ...]
    size: int
    exact: bool
    weighed: int


def changes(
    part: PartWeighing,
    option: str,
    rulebook: Rulebook,
    stands: bool = False,
    size: int = MOST_CHANGES,
    most: int = MOST,
) -> Changes:
    """Every smallest set of changes that leads to a better verdict; with `stands`, to one that stands."""
    start, base = setting_of(part), part.option(option).verdict
    frontier: list[tuple[ChangeSet, PartWeighing]] = [(frozenset(), part)]
    seen: set[ChangeSet] = {frozenset()}
    found: dict[ChangeSet, Verdict] = {}
    weighed = 0
    for _ in range(size):
        ahead: list[tuple[ChangeSet, PartWeighing]] = []
        for made, there in frontier:
            for change in sorted(bearing(there, option, rulebook)):
                wider = made | {change}
                clashes = any(change.slot == other.slot or _undoes(change, other) for other in made)
                if clashes or wider in seen or any(known <= wider for known in found):
                    continue
                if weighed >= most:
                    return _told(found, size, False, weighed)
                seen.add(wider)
                weighed += 1
                result = weigh_setting(changed(start, option, wider, rulebook.vocabulary), rulebook, part)
                verdict = result.option(option).verdict
                if verdict.stands if stands else ORDER.index(verdict) > ORDER.index(base):
                    found[wider] = verdict
                else:
                    ahead.append((wider, result))
        frontier = ahead
    return _told(found, size, True, weighed)


def _told(found: dict[ChangeSet, Verdict], size: int, exact: bool, weighed: int) -> Changes:
    smallest = {made: verdict for made, verdict in found.items() if not any(other < made for other in found)}
    ways = [Way(tuple(sorted(made)), verdict) for made, verdict in smallest.items()]
    ways.sort(key=lambda way: (len(way.changes), -ORDER.index(way.verdict), way.changes))
    return Changes(tuple(ways), size, exact, weighed)


def _undoes(one: Change, other: Change) -> bool:
    """Whether one change leaves out the act that the other changes."""
    return What.LEAVE_OUT in (one.what, other.what) and one.subject == other.subject


# ---- making a change --------------------------------------------------------------------------------------


def changed(setting: Setting, option: str, made: ChangeSet, vocabulary: Vocabulary) -> Setting:
    """A setting with these changes made to one option of its proposal."""
    for change in sorted(made):
        setting = _changed(setting, option, change, vocabulary)
    return setting


def _changed(setting: Setting, option: str, change: Change, vocabulary: Vocabulary) -> Setting:
    said = Said("", "", HERE)
    if change.what is What.CHOOSE:
        return with_facts(setting, change.subject, change.term, change.to)
    if change.what is What.SHOW:
        return with_evidence(setting, change.term, str(change.to[0]))
    if change.what is What.REVIEW:
        return replace(setting, proposal=replace(setting.proposal, review=setting.on))

    def told(one: Option) -> Option:
        if change.what is What.LEAVE_OUT:
            return _without(one, change.subject, setting, vocabulary)
        if change.what is What.USE:
            return replace(one, duty=str(change.to[0]))
        if change.what is What.COMPETENCE:
            return replace(one, competence="stated")
        if change.what is What.REASON:
            return replace(one, rather_than={**one.rather_than, change.term: said})
        return replace(one, answers={**one.answers, change.term: said})

    return with_option(setting, option, told)


def _without(option: Option, subject: str, setting: Setting, vocabulary: Vocabulary) -> Option:
    """An option without one of its acts, and without what it claims of anything that this act bears on."""
    gone = replace(option, acts=tuple(a for a in option.acts if f"act:{option.id}/{a.number}" == subject))
    left = tuple(a for a in option.acts if a not in gone.acts)
    part = setting.component

    def its_own(path: str) -> bool:
        return touched_by(*key_of(path, part.id), gone, part, vocabulary) is not Truth.NO

    return replace(option, acts=left, after={p: said for p, said in option.after.items() if not its_own(p)})
