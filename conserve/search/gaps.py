"""What the logic of a rulebook leaves unsettled, each with the smallest case that shows it.

Cases are as `conserve.search.case` says, and every case is tried. Standing counts: a rule that another one sets
aside in a case is not held against a third there. What counts as unsettled:

- *contradiction*: two rules are certain at once and give one word two values; or a rule requires something only
  where another forbids the same act, so that nobody could ever owe it;
- *pulls apart*: a rule forbids, refers or objects and is in, while another gives a word that lets (`LETS`), about
  the same thing or its owner, and neither names the other under `overrides` or `beside`. Both must ask about a word
  in common: where they do not, the one is a matter apart from the other, and the order in which a verdict is reached
  settles it. With `wide` such pairs are told too;
- *never applies*: no case makes the rule certain; *only open*: none does, but some leave it open;
- *set aside*: wherever the rule is certain or open, one that overrides it is in;
- *tells nothing more*: another rule with the same effect on the same kind of thing is certain wherever this one is,
  and at least open wherever this one is. Two requirements, or two notes, are the same only if they ask for the same
  word or say the same; two objections are the same only if they say the same;
- *no answer*, *no such value*, *waits in vain*, *nobody asks*, *reaches nothing*: see `conserve.search.idle`.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Iterator, Sequence

from conserve.rule import EffectKind, Rule, Stage
from conserve.rulebook import Rulebook
from conserve.search.case import All, Any, Goal
from conserve.search.gap import LETS, Gap, GapKind
from conserve.search.idle import idle_in
from conserve.search.logic import NO, NOT_NO, NOT_YES, OWNERS, YES, Logic
from conserve.search.solver import possible, smallest
from conserve.terms import SEES

_HINDERS = (EffectKind.FORBID, EffectKind.REFER, EffectKind.AGAINST)


Through = Callable[[Sequence[Rule]], Iterable[Rule]]


def find_gaps(rulebook: Rulebook, *, wide: bool = False, through: Through = iter) -> tuple[Gap, ...]:
    """Everything that is unsettled, by kind and rule. `through` may tell how far the rules are gone through."""
    logic = Logic(rulebook.rules, rulebook.vocabulary)
    found = list(idle_in(logic))
    for rule in through(logic.rules):
        alone = list(_alone(rule, logic))
        found += alone
        if not any(gap.kind in (GapKind.NEVER_APPLIES, GapKind.ONLY_OPEN) for gap in alone):
            found += _with_others(rule, logic, wide)
    return tuple(sorted(found, key=lambda gap: (list(GapKind).index(gap.kind), gap.rules, gap.term, gap.values)))


# ---- one rule by itself -----------------------------------------------------------------------------


def _alone(rule: Rule, logic: Logic) -> Iterator[Gap]:
    words = logic.vocabulary
    certain = smallest(logic.rule(rule, YES), words)
    if certain is None:
        open_ = smallest(logic.rule(rule, NOT_NO), words)
        yield Gap(GapKind.NEVER_APPLIES if open_ is None else GapKind.ONLY_OPEN, (rule.id,), witness=open_)
    elif logic.overriders(rule) and not possible(logic.is_live(rule), words):
        by = tuple(other.id for other in logic.overriders(rule))
        yield Gap(GapKind.SET_ASIDE, (rule.id, *by), witness=certain)


# ---- two rules --------------------------------------------------------------------------------------


def _with_others(rule: Rule, logic: Logic, wide: bool) -> Iterator[Gap]:
    for other in logic.rules:
        if other is rule:
            continue
        if rule.id < other.id:
            yield from _two_values(rule, other, logic)
        yield from _never_owed(rule, other, logic)
        if not _named(rule, other):
            yield from _pulls_apart(rule, other, logic, wide)
            yield from _nothing_more(rule, other, logic)


def _named(one: Rule, other: Rule) -> bool:
    """Whether either names the other, as overridden or as standing beside it."""
    named = {edge.rule for edge in (*one.overrides, *one.beside)}
    return other.id in named or one.id in {edge.rule for edge in (*other.overrides, *other.beside)}


def _two_values(one: Rule, other: Rule, logic: Logic) -> Iterator[Gap]:
    (word, value), (other_word, other_value) = one.then.establishes, other.then.establishes
    if word and word == other_word and value != other_value:
        witness = smallest(All((logic.rule(one, YES), logic.rule(other, YES))), logic.vocabulary)
        if witness is not None:
            yield Gap(GapKind.CONTRADICTION, (one.id, other.id), word, (value, other_value), witness)


def _never_owed(forbids: Rule, requires: Rule, logic: Logic) -> Iterator[Gap]:
    """A requirement that is never in but where the same thing is forbidden."""
    if (forbids.then.kind, requires.then.kind) != (EffectKind.FORBID, EffectKind.REQUIRE):
        return
    if forbids.about == requires.about and not possible(_only_one(requires, forbids, logic), logic.vocabulary):
        witness = smallest(All((logic.is_in(requires), logic.is_in(forbids))), logic.vocabulary)
        if witness is not None:
            yield Gap(GapKind.CONTRADICTION, (forbids.id, requires.id), witness=witness)


def _only_one(one: Rule, other: Rule, logic: Logic) -> Goal:
    """The one is in, and the other is not."""
    return All((logic.is_in(one), logic.is_not_in(other)))


def _pulls_apart(hinders: Rule, lets: Rule, logic: Logic, wide: bool) -> Iterator[Gap]:
    word, value = lets.then.establishes
    if hinders.then.kind not in _HINDERS or word not in LETS or value == LETS[word]:
        return
    if not _related(hinders.about, lets.about) or not (wide or _asked(hinders) & _asked(lets)):
        return
    witness = smallest(All((logic.is_in(hinders), logic.rule(lets, YES))), logic.vocabulary)
    if witness is not None:
        yield Gap(GapKind.PULLS_APART, (hinders.id, lets.id), word, (value,), witness)


def _related(one: str, other: str) -> bool:
    """Whether two kinds of thing are the same, or one owns the other, or an act names it."""
    return one in (other, *OWNERS[other], *SEES[other]) or other in (*OWNERS[one], *SEES[one])


def _asked(rule: Rule) -> set[str]:
    return {premise.term for premise in rule.when}


def _nothing_more(rule: Rule, other: Rule, logic: Logic) -> Iterator[Gap]:
    """The other rule says as much, wherever this one does. Of two that are the same, the later is told."""
    if rule.about != other.about or not _says_as_much(rule, other):
        return
    if _somewhere_more(rule, other, logic):
        return
    if rule.id < other.id and _says_as_much(other, rule) and not _somewhere_more(other, rule, logic):
        return
    yield Gap(GapKind.NOTHING_MORE, (rule.id, other.id), witness=smallest(logic.rule(rule, YES), logic.vocabulary))


def _somewhere_more(rule: Rule, other: Rule, logic: Logic) -> bool:
    """Whether some case makes the rule certain and the other not, or lets it be open and the other silent."""
    certain = All((logic.rule(rule, YES), logic.rule(other, NOT_YES)))
    open_ = All((logic.rule(rule, NOT_NO), logic.rule(other, NO)))
    return possible(Any((certain, open_)), logic.vocabulary)


def _says_as_much(rule: Rule, other: Rule) -> bool:
    """Whether the other's effect leaves nothing for this one's to say."""
    one, two = rule.then, other.then
    if one.kind is not two.kind or one.gate > two.gate or (two.routine and not one.routine):
        return False
    if one.kind is EffectKind.FORBID:
        return True
    if one.kind is EffectKind.ESTABLISH:
        return one.establishes == two.establishes
    stages = list(Stage)
    if one.by is not None and two.by is not None and stages.index(two.by) > stages.index(one.by):
        return False
    same_word = bool(one.known) and one.known == two.known
    same_role = one.kind is EffectKind.REFER and one.to == two.to
    return same_word or same_role or one.says == two.says
