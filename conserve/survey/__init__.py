"""A survey: what to find out next about one proposal, or about all of a casebook at once."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace

from conserve.explanation.arguing import prospect_says
from conserve.explanation.sentences import requirement_says, rule_says
from conserve.explanation.words import capital, subject_name, term_in_words
from conserve.record.options import MAY_APPLY
from conserve.record.page import hazards
from conserve.rule import EffectKind, Stage
from conserve.rulebook import Rulebook
from conserve.survey.asking import ANY, Asking
from conserve.survey.model import About, Ask, Caution, Idle, Reach, Serves, Slot, Survey, Told, rounds, settled_by
from conserve.weighing.model import OptionWeighing, PartWeighing, Standing, Step, Verdict, Weighing
from conserve.whatif.inquiry import only_looks
from conserve.whatif.matters import idle
from conserve.whatif.prospect import prospect
from conserve.whatif.worth import worths

_OPEN = (Verdict.NOT_YET_SHOWN, Verdict.REFER)


def survey_of(weighing: Weighing, rulebook: Rulebook) -> Survey:
    """What to find out next about one proposal: each of its components, each thing once.

    Where it is decided and what was chosen stands, nothing is left to find out.
    """
    return merged(tuple(_of_part(weighing, part, rulebook) for part in weighing.parts))


def merged(surveys: tuple[Survey, ...]) -> Survey:
    """Surveys of one casebook, one or more, as one: each thing is asked once, for all the proposals that it serves."""
    surveys = tuple(sorted(surveys, key=lambda survey: survey.about[0].proposal))
    asks = _asked_once(ask for survey in surveys for ask in survey.asks)
    asked = {ask.slot for ask in asks}
    idle_anywhere = (one for survey in surveys for one in survey.idle if one.slot not in asked)
    return replace(
        surveys[0],
        on=max(survey.on for survey in surveys),
        cautions=tuple(dict.fromkeys(said for survey in surveys for said in survey.cautions)),
        about=_about_once(one for survey in surveys for one in survey.about),
        asks=asks,
        proposer=_told_once(one for survey in surveys for one in survey.proposer),
        elsewhere=_told_once(one for survey in surveys for one in survey.elsewhere),
        reports=_told_once(one for survey in surveys for one in survey.reports),
        idle=tuple(sorted({one.slot: one for one in idle_anywhere}.values(), key=lambda one: one.slot)),
    )


# ---- of one part --------------------------------------------------------------------------------------


def _of_part(weighing: Weighing, part: PartWeighing, rulebook: Rulebook) -> Survey:
    asking = Asking(part, rulebook)
    settled = weighing.proposal.decision is not None and weighing.verdict.stands
    found = () if settled else worths(part, rulebook)
    asks = [(worth, asking.ask(worth)) for worth in found]
    others = [worth for worth, ask in asks if ask is None]
    reports = [worth for worth in others if asking.is_report(worth.unknown)]
    proposer = [w for w in others if w not in reports and asking.is_chosen(w.unknown)]
    return Survey(
        casebook=weighing.casebook.id,
        object=weighing.casebook.object.name,
        on=weighing.on,
        cautions=tuple(_cautions(part)) if found else (),
        about=(_about(weighing, part, bool(found), rulebook),),
        asks=tuple(ask for _, ask in asks if ask is not None),
        proposer=tuple(asking.told(worth) for worth in proposer),
        elsewhere=tuple(asking.told(worth) for worth in others if worth not in reports and worth not in proposer),
        reports=tuple(asking.told(worth) for worth in reports),
        idle=tuple(_idle(asking, part, rulebook)) if found else (),
    )


def _cautions(part: PartWeighing) -> Iterator[Caution]:
    may = MAY_APPLY[Standing.OPEN]
    for said in hazards(part):
        yield Caution(said.removeprefix(may), part.component.id, part.component.name, said.startswith(may))


def _idle(asking: Asking, part: PartWeighing, rulebook: Rulebook) -> Iterator[Idle]:
    for unknown in sorted(idle(part, rulebook)):
        slot = asking.slot(unknown)
        if slot is not None:
            word = term_in_words(unknown.term) if "." in unknown.term else unknown.term
            yield Idle(slot, capital(subject_name(part.findings.facts, unknown.subject)), word)


def _about(weighing: Weighing, part: PartWeighing, is_open: bool, rulebook: Rulebook) -> About:
    chosen = part.option(weighing.chosen)
    return About(
        proposal=weighing.proposal.id,
        title=weighing.proposal.title,
        verdict=weighing.verdict,
        option=weighing.chosen,
        reaches=tuple(_reaches(chosen, part, rulebook)) if is_open and part is weighing.worst else (),
        to_answer=tuple(_to_answer(chosen, part)) if chosen.verdict in _OPEN else (),
    )


def _reaches(chosen: OptionWeighing, part: PartWeighing, rulebook: Rulebook) -> Iterator[Reach]:
    """How far the chosen option may come; of one that only looks, how far the others may that it looks on behalf of."""
    vocabulary = rulebook.vocabulary
    looks = only_looks(chosen.option, vocabulary)
    for option in part.options if looks else (chosen,):
        if not only_looks(option.option, vocabulary):
            name = option.option.id
            found = prospect(part, name, rulebook)
            said = tuple(prospect_says(name, found, part, rulebook))
            yield Reach(name, found.span.worst, found.span.best, found.exact, said)


def _to_answer(chosen: OptionWeighing, part: PartWeighing) -> Iterator[str]:
    """What no finding out will settle: objections, what is owed by the decision, and why not a gentler option."""
    facts = part.findings.facts
    for settled in chosen.settled:
        then = settled.finding.rule.then
        if then.kind is EffectKind.AGAINST and settled.standing is Standing.IN and settled.answer is None:
            yield f"{rule_says(settled.finding, facts)} Answer it under 'answers' ({settled.finding.rule.id})."
    for owed in chosen.requirements:
        if owed.by is Stage.DECISION and owed.certain and owed.left and not owed.met:
            yield f"{capital(requirement_says(owed, facts))} ({owed.id})"
    if chosen.reason.step in (Step.GENTLER_WAITED_FOR, Step.LOSES_OTHER_THINGS):
        yield f"Say under 'rather_than' why '{chosen.reason.option}' is not taken."


# ---- each thing once ------------------------------------------------------------------------------------


def _asked_once(asks: Iterable[Ask]) -> tuple[Ask, ...]:
    found: dict[Slot, Ask] = {}
    for ask in asks:
        known = found.get(ask.slot)
        found[ask.slot] = replace(known, serves=_together(known.serves, ask.serves)) if known else ask
    return tuple(sorted(found.values(), key=lambda ask: (-ask.rank, ask.slot)))


def _told_once(told: Iterable[Told]) -> tuple[Told, ...]:
    found: dict[tuple[str, str], Told] = {}
    for one in told:
        key = (one.file, one.question)
        known = found.get(key)
        found[key] = replace(known, serves=_together(known.serves, one.serves)) if known else one
    by_worth = sorted(found.values(), key=lambda one: (one.file, -settled_by(one.serves), one.question))
    return tuple(by_worth)


def _together(some: tuple[Serves, ...], more: tuple[Serves, ...]) -> tuple[Serves, ...]:
    """What an answer does for each proposal, added up."""
    found = {one.proposal: one for one in some}
    for one in more:
        known = found.get(one.proposal)
        found[one.proposal] = _added(known, one) if known else one
    return tuple(found[name] for name in sorted(found))


def _added(one: Serves, other: Serves) -> Serves:
    return Serves(
        one.proposal,
        one.settles + other.settles,
        one.of + other.of,
        _in_both(one.alone, other.alone),
        tuple(dict.fromkeys((*one.precise, *other.precise))),
    )


def _in_both(some: tuple[str, ...], others: tuple[str, ...]) -> tuple[str, ...]:
    """The answers after which nothing is open here nor there."""
    if (ANY,) in (some, others):
        return others if some == (ANY,) else some
    return tuple(answer for answer in some if answer in others)


def _about_once(abouts: Iterable[About]) -> tuple[About, ...]:
    found: dict[str, About] = {}
    for one in abouts:
        known = found.get(one.proposal)
        if known is not None:
            to_answer = tuple(dict.fromkeys((*known.to_answer, *one.to_answer)))
            one = replace(known, reaches=(*known.reaches, *one.reaches), to_answer=to_answer)
        found[one.proposal] = one
    return tuple(found[name] for name in sorted(found))


__all__ = [
    "About",
    "Ask",
    "Caution",
    "Idle",
    "Reach",
    "Serves",
    "Survey",
    "Told",
    "merged",
    "rounds",
    "settled_by",
    "survey_of",
]
