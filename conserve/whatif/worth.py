"""What to find out next: how much each answer would settle, for what it costs to find out."""

from __future__ import annotations

from conserve.rulebook import Rulebook
from conserve.terms import Cost, Vocabulary
from conserve.weighing.model import PartWeighing
from conserve.whatif.answers import answers, tests_on
from conserve.whatif.matters import matters
from conserve.whatif.model import Lack, Unknown, Worth
from conserve.whatif.suppose import weigh_supposing


def worths(part: PartWeighing, rulebook: Rulebook) -> tuple[Worth, ...]:
    """Every open question, what settles most for its cost first.

    An answer settles as many questions as can no longer change a verdict once it is given, itself among them. Of the
    answers that are tried, which the rules and the needs tell apart, none is held to be likelier than another.
    """
    asked, tests = matters(part, rulebook), tests_on(rulebook, part)
    found = []
    for unknown in asked:
        tried = []
        for values in answers(unknown, part, rulebook, tests):
            there = weigh_supposing(part, {unknown: values}, rulebook)
            tried.append((values, len(matters(there, rulebook) - {unknown})))
        left = sum(number for _, number in tried) / len(tried) if tried else len(asked) - 1
        found.append(Worth(unknown, len(asked) - left, len(asked), tuple(tried), cost_of(unknown, rulebook.vocabulary)))
    return tuple(sorted(found, key=lambda one: (-one.settles / one.cost.weight, one.unknown)))


def cost_of(unknown: Unknown, vocabulary: Vocabulary) -> Cost:
    """What it takes to find something out. What whoever puts the proposal forward says or chooses costs least."""
    costs = vocabulary.costs
    least = min(costs.values(), key=lambda cost: cost.weight)
    if unknown.lack is Lack.REPORT:
        return max(costs.values(), key=lambda cost: cost.weight)
    if unknown.lack is Lack.LIST and unknown.term in vocabulary.lists:
        return costs[vocabulary.lists[unknown.term]]
    term = vocabulary.terms.get(unknown.term.replace("mate.", "surface.", 1))
    return costs[term.cost] if term is not None and term.cost else least
