"""What another edition of the rules would make of the decisions of a casebook, and which rule makes the difference."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace
from datetime import date

from conserve.audit.edition_cause import cause_of
from conserve.audit.edition_model import Asks, EditionChange, VerdictChange
from conserve.audit.edition_premises import grounds_of
from conserve.audit.edition_rules import pairs_of, rule_changes, word_changes
from conserve.audit.edition_trial import Between, Trial, chosen_verdict
from conserve.audit.heeded import person, reason_of
from conserve.casebook import Casebook, Proposal, read_casebook
from conserve.crosscheck import names_that_lead_nowhere
from conserve.explanation import requirement_says
from conserve.explanation.sentences import STAGES
from conserve.facts import claims_that_disagree
from conserve.files import Folder
from conserve.problem import Problem
from conserve.rulebook import Rulebook, read_rulebook
from conserve.weighing import PartWeighing, Weighing, weigh
from conserve.weighing.model import Requirement


def edition_change(
    folder: Folder,
    casebook: Casebook,
    old: Rulebook,
    new_rules: Folder,
    day: date,
    shown: str,
    weighed: Mapping[str, Weighing] | None = None,
) -> EditionChange:
    """What the rules in another folder would make of every decision of a casebook, with the facts of one day.

    `old` are the rules in use, `shown` is the casebook's folder as places are told; `weighed` has weighings by `old`
    as on the day, by proposal, where they have been made already. The other folder is read with the overlays that the
    casebook asks for; where it does not read, or the casebook does not by its words, that is what is told.
    """
    new, problems = read_rulebook(new_rules, casebook.object.overlays)
    if new is None:
        return replace(_nothing(casebook, old, day), unread="rules", problems=problems)
    return between(folder, casebook, old, new, day, shown, weighed)


def between(
    folder: Folder,
    casebook: Casebook,
    old: Rulebook,
    new: Rulebook,
    day: date,
    shown: str,
    weighed: Mapping[str, Weighing] | None = None,
) -> EditionChange:
    """The same where the other rules have been read already, with the overlays that the casebook asks for."""
    words = word_changes(old.vocabulary, new.vocabulary)
    told = replace(_nothing(casebook, old, day), new=new.digest, rules=rule_changes(old, new), words=words)
    later, problems = _read_anew(folder, casebook, new, shown) if words else (casebook, ())
    if later is None:
        return replace(told, unread="casebook", problems=problems)
    apart = Between(old, new, pairs_of(old, new), not words)
    decided = tuple(_decided(casebook, later, apart, day, weighed or {}))
    return replace(
        told,
        decided=len(decided),
        verdicts=tuple(_verdict_change(one, apart, [word.word for word in words]) for one in decided if one.moves),
        asks=tuple(asks for one in decided if not one.moves and (asks := _asks(one)) is not None),
        loose=names_that_lead_nowhere(later, new),
    )


def _nothing(casebook: Casebook, old: Rulebook, day: date) -> EditionChange:
    return EditionChange(casebook.id, casebook.object.name, day, old.digest, "")


def _read_anew(
    folder: Folder, casebook: Casebook, new: Rulebook, shown: str
) -> tuple[Casebook | None, tuple[Problem, ...]]:
    """The casebook read by other words; or everything in it that these do not allow."""
    later, problems = read_casebook(folder, new.vocabulary, casebook.id, shown)
    problems = problems or (claims_that_disagree(later, new.vocabulary) if later else ())
    return (None, problems) if problems else (later, ())


# ---- each decision -----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class _Decided:
    """A decision, weighed by both editions."""

    before: Weighing
    now: Weighing

    @property
    def moves(self) -> bool:
        return chosen_verdict(self.before) is not chosen_verdict(self.now)


def _decided(
    casebook: Casebook, later: Casebook, apart: Between, day: date, weighed: Mapping[str, Weighing]
) -> Iterator[_Decided]:
    anew = {proposal.id: proposal for proposal in later.proposals}
    alike = apart.same_words and not apart.pairs
    for asked in _in_order(casebook.proposals):
        before = weighed.get(asked.id) or weigh(asked, casebook, apart.old, day)
        yield _Decided(before, before if alike else weigh(anew[asked.id], later, apart.new, day))


def _in_order(proposals: Iterable[Proposal]) -> list[Proposal]:
    return sorted((one for one in proposals if one.decision), key=lambda one: one.id)


def _verdict_change(one: _Decided, apart: Between, words: list[str]) -> VerdictChange:
    asked, decision = one.before.proposal, one.before.proposal.decision
    assert decision is not None
    before, now = chosen_verdict(one.before), chosen_verdict(one.now)
    cause = cause_of(Trial(apart, one.before, one.now), words)
    vocabularies = apart.old.vocabulary, apart.new.vocabulary
    return VerdictChange(
        proposal=asked.id,
        title=asked.title,
        chosen=decision.chosen,
        by=person(decision.by, one.before.casebook),
        on=decision.on,
        before=before.value,
        now=now.value,
        reason_before=reason_of(one.before, decision.chosen),
        reason_now=reason_of(one.now, decision.chosen),
        stood=before.stands,
        stands=now.stands,
        cause=cause,
        grounds=tuple(
            ground
            for rule in cause.rules
            for ground in grounds_of(rule, apart.pairs[rule], one.before, one.now, vocabularies)
        ),
    )


# ---- what is required --------------------------------------------------------------------------------------------

_Required = dict[str, tuple[Requirement, PartWeighing]]


def _asks(one: _Decided) -> Asks | None:
    """What is required otherwise of a decision whose verdict stays. None where nothing is."""
    before, now = _required(one.before), _required(one.now)
    more = tuple(_in_words(*now[name]) for name in sorted(now.keys() - before.keys()))
    fewer = tuple(_in_words(*before[name]) for name in sorted(before.keys() - now.keys()))
    both = sorted(before.keys() & now.keys())
    otherwise = tuple(
        f"{_in_words(*now[name])}; before, it was {_how(before[name][0])}"
        for name in both
        if _how(before[name][0]) != _how(now[name][0])
    )
    asked = one.before.proposal
    verdict = chosen_verdict(one.before).value
    return Asks(asked.id, asked.title, verdict, more, fewer, otherwise) if more or fewer or otherwise else None


def _required(weighing: Weighing) -> _Required:
    """Everything that is required of the chosen option, each once, from the first part that asks for it."""
    found: _Required = {}
    for part in sorted(weighing.parts, key=lambda part: part.component.id):
        for one in part.option(weighing.chosen).requirements:
            if one.id not in found or (one.certain and not found[one.id][0].certain):
                found[one.id] = one, part
    return found


def _how(requirement: Requirement) -> str:
    """By when, and whether it is sure to be asked; what every such job owes is told as that."""
    asked = "asked" if requirement.certain else "asked perhaps"
    return f"{asked} {STAGES[requirement.by]}{', as of every such job' if requirement.routine else ''}"


def _in_words(requirement: Requirement, part: PartWeighing) -> str:
    said = requirement_says(requirement, part.findings.facts).rstrip(".")
    return f"{said} ({requirement.id}; {_how(requirement)})"
