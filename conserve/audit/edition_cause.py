"""Which rules, of all that differ between two editions, make the difference to one decision's verdict."""

from __future__ import annotations

from collections.abc import Callable, Iterator, Sequence

from conserve.audit.edition_model import Cause, Makes
from conserve.audit.edition_rules import technique
from conserve.audit.edition_trial import Trial
from conserve.truth import Truth
from conserve.weighing import Weighing


def cause_of(trial: Trial, words: Sequence[str]) -> Cause:
    """What makes the difference: `words` are those that differ between the editions.

    A rule is put back as it was, by itself, and the decision weighed again: where that gives the verdict as it was, it
    makes the difference. Only rules that apply or may apply under one of the editions are tried so: one that is silent
    under both did nothing. Where none does by itself, the fewest are sought that do together; and where no rules do,
    the words have changed.
    """
    every = sorted(trial.between.pairs)
    telling = sorted(trial.between.pairs.keys() & (_telling(trial.before) | _telling(trial.now)))
    alone = tuple(name for name in telling if trial.restores([name]))
    if alone:
        return Cause(Makes.ALONE, alone)
    for wide in (telling, every):
        if wide and trial.restores(wide):
            return _several(fewest(wide, trial.restores), trial)
    with_words = fewest(every, lambda back: trial.restores(back, words=True))
    return Cause(Makes.WORDS, tuple(with_words), words=_heard(trial, words))


def _several(rules: Sequence[str], trial: Trial) -> Cause:
    if len(rules) == 1:
        return Cause(Makes.ALONE, tuple(rules))
    return Cause(Makes.TOGETHER, tuple(rules), tuple(name for name in rules if trial.brings(name)))


def fewest(items: Sequence[str], holds: Callable[[Sequence[str]], bool]) -> list[str]:
    """Leave out of items what can be left out, many at once and then one by one; none of the rest can be."""
    kept, size = list(items), max(len(items) // 2, 1)
    while size:
        before, at = len(kept), 0
        while at < len(kept):
            fewer = kept[:at] + kept[at + size :]
            if holds(fewer):
                kept = fewer
            else:
                at += size
        size = size // 2 if size > 1 else len(kept) != before
    return kept


def _telling(weighing: Weighing) -> set[str]:
    """The rules that apply or may apply to something."""
    return {f.rule.id for part in weighing.parts for f in part.findings.all if f.truth is not Truth.NO}


def _heard(trial: Trial, words: Sequence[str]) -> tuple[str, ...]:
    """The words that differ, without techniques that are not put forward and terms that nothing here is known by."""
    weighings, names = (trial.before, trial.now), _names(trial)
    heard = {name for weighing in weighings for name in _spoken(weighing)}
    return tuple(word for word in words if word in heard or word not in names) or tuple(words)


def _names(trial: Trial) -> set[str]:
    """Every term and technique of either edition, as words are named."""
    books = (trial.between.old.vocabulary, trial.between.new.vocabulary)
    return {name for words in books for name in (*words.terms, *map(technique, words.techniques))}


def _spoken(weighing: Weighing) -> Iterator[str]:
    """Every term that something is known of or asked about, and every technique that is put forward."""
    for part in weighing.parts:
        yield from (term for _, term in part.findings.facts.today.facts)
        yield from (ground.term for finding in part.findings.all for ground in finding.grounds)
    for option in weighing.proposal.options:
        yield from (technique(act.technique) for act in option.acts)
