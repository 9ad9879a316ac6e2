"""Which small changes to a rule none of its examples would notice, and an example that would.

A change is *noticed* when an example comes out otherwise. It is *no change* when no case tells the changed rule from
the rule (see `conserve.search.case`: every case is tried), as where an added value cannot occur with the other
premises. What is left would go unnoticed, and for each such change an example is made that notices it: of the case
with the fewest facts, less every fact that it can do without.

Of a long list of values, such as all techniques, examples need not show every one that a rule leaves alone: where two
of them are shown, the others are *stood for*, and are counted apart.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace

from conserve.inference import tried
from conserve.rule import EffectKind, Premise, Rule
from conserve.rulebook import Rulebook
from conserve.search.case import All, Any, Goal, Witness, as_given
from conserve.search.logic import NO, NOT_NO, NOT_YES, YES, Logic
from conserve.search.mutants import Change, ChangeKind, changes_of
from conserve.search.solver import smallest
from conserve.search.writing import as_in_file, told
from conserve.terms import Vocabulary
from conserve.truth import Truth, all_of


@dataclass(frozen=True, slots=True)
class Unnoticed:
    """A change that no example notices, a case that tells it, and what the rule comes to there."""

    change: Change
    witness: Witness  # what is given
    expect: str
    then: str  # what the changed rule comes to instead


@dataclass(frozen=True, slots=True)
class Changes:
    """What became of every small change to one rule."""

    rule: Rule
    noticed: int
    same: tuple[Change, ...]  # no case tells them from the rule
    stood_for: tuple[Change, ...]  # a value of a long list is let in, and examples show others of it kept out
    unnoticed: tuple[Unnoticed, ...]


LONG = 12  # values; a list that is longer is stood for by SHOWN of those that a rule leaves alone
SHOWN = 2


def try_changes(rule: Rule, rulebook: Rulebook, logic: Logic) -> Changes:
    """Make every small change to a rule, and see which of them its examples notice."""
    changes = tuple(changes_of(rule, rulebook.vocabulary))
    asked = tuple(dict.fromkeys(premise for when in (rule.when, *(c.when for c in changes)) for premise in when))
    judged = [(one.expect, _truths(asked, rule, one.given, rulebook)) for one in rule.examples]
    noticed: list[Change] = []
    same: list[Change] = []
    left: list[tuple[Change, Witness]] = []
    for change in changes:
        if any(_outcome(change.when, change.effect, truths) != expect for expect, truths in judged):
            noticed.append(change)
        elif (telling := smallest(_tells(change, logic), rulebook.vocabulary)) is None:
            same.append(change)
        else:
            left.append((change, telling))
    spoken = [change for change, _ in left if _stood_for(change, noticed, rulebook.vocabulary)]
    return Changes(
        rule,
        len(noticed),
        tuple(same),
        tuple(spoken),
        tuple(_example(change, telling, rulebook, logic) for change, telling in left if change not in spoken),
    )


def _stood_for(change: Change, noticed: Sequence[Change], vocabulary: Vocabulary) -> bool:
    """Whether examples keep out enough other values of the same long list."""
    if change.kind is not ChangeKind.ADDED or len(vocabulary.terms[change.term].values) <= LONG:
        return False
    return sum(one.kind is ChangeKind.ADDED and one.term == change.term for one in noticed) >= SHOWN


_Truths = dict[Premise, Truth]


def _truths(when: tuple[Premise, ...], rule: Rule, given: Witness, rulebook: Rulebook) -> _Truths:
    """What each of these premises comes to in a case, were they the rule's."""
    grounds = tried(replace(rule, when=when), given, rulebook).grounds
    return {premise: ground.truth for premise, ground in zip(when, grounds, strict=True)}


def _outcome(when: tuple[Premise, ...], effect: EffectKind, truths: _Truths) -> str:
    truth = all_of(truths[premise] for premise in when)
    return effect.value if truth is Truth.YES else "open" if truth is Truth.UNKNOWN else "silent"


def _tells(change: Change, logic: Logic) -> Goal:
    """The changed rule comes to something else than the rule."""
    rule, when = change.rule.when, change.when
    if change.kind is ChangeKind.EFFECT:
        return logic.body(rule, YES)
    ways = ((YES, NOT_YES), (NOT_YES, YES), (NO, NOT_NO), (NOT_NO, NO))
    return Any(tuple(All((logic.body(rule, one), logic.body(when, other))) for one, other in ways))


# ---- the example that would notice it ---------------------------------------------------------------


def _example(change: Change, telling: Witness, rulebook: Rulebook, logic: Logic) -> Unnoticed:
    rule = change.rule
    asked = tuple(dict.fromkeys((*rule.when, *change.when)))

    def outcomes(given: Witness) -> tuple[str, str]:
        truths = _truths(asked, rule, given, rulebook)
        return _outcome(rule.when, rule.then.kind, truths), _outcome(change.when, change.effect, truths)

    bears = logic.asked(rule)
    given = {name: values for name, values in as_given(telling, rulebook.vocabulary).items() if name in bears}
    for name in tuple(given):
        fewer = {term: values for term, values in given.items() if term != name}
        expect, then = outcomes(fewer)
        if expect != then:
            given = fewer
    return Unnoticed(change, given, *outcomes(given))


@dataclass(frozen=True, slots=True)
class Suggestion:
    """Changes that go unnoticed, and one line of examples that would notice them."""

    unnoticed: tuple[Unnoticed, ...]
    line: str


def suggestions(changes: Changes, vocabulary: Vocabulary) -> tuple[Suggestion, ...]:
    """The unnoticed changes to a rule; those whose cases differ only in the value of their word share a line."""
    alike: dict[tuple[object, ...], list[Unnoticed]] = {}
    for one in changes.unnoticed:
        shared = one.change.term if len(one.witness.get(one.change.term, ())) == 1 else ""
        rest = tuple((name, values) for name, values in one.witness.items() if name != shared)
        alike.setdefault((shared, one.expect, rest), []).append(one)
    return tuple(Suggestion(tuple(group), _as_yaml(group, vocabulary)) for group in alike.values())


def _as_yaml(group: Sequence[Unnoticed], vocabulary: Vocabulary) -> str:
    """Examples as one line to put under `examples:`, the values in which they differ under `each`."""
    first, term = group[0], group[0].change.term
    values = dict.fromkeys(
        as_in_file(one.witness[term], vocabulary.terms[term]) for one in group if term in one.witness
    )
    several = len(values) > 1
    given = {name: found for name, found in first.witness.items() if not (several and name == term)}
    facts = ", ".join(f"{name}: {as_in_file(found, vocabulary.terms[name])}" for name, found in given.items())
    said = [f"{vocabulary.terms[name].short.replace('_', ' ')} {told(found)}" for name, found in given.items()]
    each = f" each: {{{term}: [{', '.join(values)}]}}," if several else ""
    said += [vocabulary.terms[term].short.replace("_", " ")] if several else []
    return f"- {{name: {' and '.join(said) or 'nothing is known'}, given: {{{facts}}},{each} expect: {first.expect}}}"
