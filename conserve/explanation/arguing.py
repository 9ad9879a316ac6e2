"""Why not less, as a numbered argument; what would change the answer; how far the numbers may move."""

from __future__ import annotations

from collections.abc import Iterable, Iterator
from dataclasses import replace
from decimal import Decimal

from conserve.account import NOTHING, named
from conserve.casebook.model import Said
from conserve.explanation import amount_says, reason_says, taken
from conserve.explanation.asking import case_in_words, changes_in_words, question_of
from conserve.explanation.sentences import need_says, requirement_says, rule_says, sources
from conserve.explanation.words import (
    capital,
    full,
    listed,
    lowered,
    plain,
    quantity_in_words,
    role_in_words,
    subject_name,
    term_in_words,
    the,
)
from conserve.quantity import Quantity
from conserve.rule import EffectKind
from conserve.rulebook import Rulebook
from conserve.weighing.least import Gap, Held, Least, Missing, Rival
from conserve.weighing.model import NeedState, OptionWeighing, PartWeighing, Standing, Step, Verdict
from conserve.whatif.changes import Changes, Way
from conserve.whatif.inquiry import Inquiry
from conserve.whatif.margins import Margin, Number, Turn
from conserve.whatif.model import Case, Change, Prospect, Unknown, Worth

# ---- least intervention -----------------------------------------------------------------------------------


def argument(least: Least, part: PartWeighing) -> tuple[str, ...]:
    """The proof of least intervention, a step each, or what it lacks."""
    chosen = least.chosen
    order = (Held.LESS, Held.CANNOT_TELL, Held.OTHER, Held.ALIKE, Held.MORE)
    rivals = sorted(least.rivals, key=lambda rival: order.index(rival.held))
    return (
        f"'{chosen.option.id}' takes {taken(chosen, part)}",
        *(_rival_says(rival, least, part) for rival in rivals),
        *(_missing_says(one) for one in least.missing),
        *_answered(chosen, part),
        _so(least),
    )


def _rival_says(rival: Rival, least: Least, part: PartWeighing) -> str:
    name = rival.option.option.id
    if rival.held is Held.MORE:
        return f"'{name}' loses more: {taken(rival.option, part)}"
    said = [_compared(rival, least)]
    if rival.held in (Held.OTHER, Held.CANNOT_TELL):
        said.append(_trade(rival, least, part))
    said += _why_not(rival, least, part)
    answer = least.chosen.option.rather_than.get(name)
    if answer is not None:
        said.append(_person(answer))
    return " ".join(said)


def _why_not(rival: Rival, least: Least, part: PartWeighing) -> Iterator[str]:
    """Every need it certainly fails, with its number, and every rule that forbids it; else how it stands."""
    facts = part.findings.facts
    for outcome in rival.fails:
        if outcome.state is NeedState.GIVEN_UP:
            yield f"It gives up '{outcome.need.says.rstrip('.')}', which '{least.chosen.option.id}' keeps."
        else:
            yield f"'{outcome.need.says.rstrip('.')}' is {lowered(need_says(outcome, facts))}"
    for settled in rival.forbidden:
        yield f"It is forbidden: {rule_says(settled.finding, facts)} ({sources(settled.finding)})"
    if not rival.fails and not rival.forbidden:
        for outcome in rival.open:
            yield f"'{outcome.need.says.rstrip('.')}' is {lowered(need_says(outcome, facts))}"
        if rival.option.own_reason.step is not Step.SOMETHING_OPEN or not rival.open:
            yield (
                "It stands, and meets every need that is kept."
                if rival.option.own.stands
                else f"Its verdict: {rival.option.verdict}. {reason_says(rival.option, part)}"
            )


def _compared(rival: Rival, least: Least) -> str:
    ours, theirs = least.chosen.option.id, rival.option.option.id
    if rival.held is Held.CANNOT_TELL:
        return f"Whether '{theirs}' loses less than '{ours}' cannot be told."
    if rival.held is Held.ALIKE and not least.chosen.account.lost and least.chosen.account.volume == NOTHING:
        return f"'{theirs}' takes nothing either."
    return f"'{theirs}' {rival.held.value}."


def _trade(rival: Rival, least: Least, part: PartWeighing) -> str:
    """What each loses that the other keeps, laid out for a person to choose."""
    sides = ((least.chosen, rival.only_chosen), (rival.option, rival.only_it))
    told = [f"only '{one.option.id}' loses {_things(things, part)}" for one, things in sides if things]
    told += [f"'{o.option.id}' takes {amount_says(o.account.volume, o.account.mass)}" for o, _ in sides]
    untold = listed(dict.fromkeys(question for one, _ in sides for question in one.account.untold))
    return full(f"The trade: {'; '.join(told)}") + (f" Not told: {untold}" if untold else "")


def _things(things: frozenset[str], part: PartWeighing) -> str:
    here = {t.id: t.name for t in part.component.known_things()} | {part.component.id: part.component.name}
    names = {name: the(words).removeprefix("the ") for name, words in here.items()}
    return listed(named(thing, names) for thing in sorted(things)) or "nothing"


def _person(said: Said) -> str:
    return f"{capital(said.by)} says why it is not taken: {full(said.says)}"


def _missing_says(missing: Missing) -> str:
    if missing.gap is Gap.LEAVE:
        return "Not put forward: leaving the part alone."
    if missing.gap is Gap.LOWER_USE:
        return "Not put forward: a lower use, in which the need that calls for the work is not asked."
    if missing.gap is Gap.ADJUST:
        return "Not put forward: adjusting or packing, which takes nothing."
    done = listed((technique.does for technique in missing.techniques), "or")
    than = f" than {missing.instead_of.does}" if missing.instead_of else ""
    return f"Not put forward: {done}, a gentler way to the same end{than}. Say why it will not do, or add it."


def _answered(chosen: OptionWeighing, part: PartWeighing) -> Iterator[str]:
    """What was asked before anyone decided, and answered: why less will not do, among other things."""
    for requirement in chosen.requirements:
        if requirement.answer is not None:
            asked = requirement_says(requirement, part.findings.facts)
            said = f"{capital(requirement.answer.by)}: {full(requirement.answer.says)}"
            yield f"Asked: {lowered(asked)} {said} ({requirement.id})"


def _so(least: Least) -> str:
    name = least.chosen.option.id
    if least.proved:
        beside = " Whether what was not put forward would do is not shown." if least.missing else ""
        return f"So, of what was put forward, nothing that loses less than '{name}' will do.{beside}"
    less = [r.option for r in least.rivals if r.held is Held.LESS and r.option.own.stands and not r.fails]
    if less:
        return f"So '{name}' is not the least: '{less[0].option.id}' loses less and will do."
    if not least.chosen.verdict.stands:
        return f"'{name}' does not stand, so that it is not shown to be the least that will do."
    return f"That '{name}' is the least that will do rests on a person's reason, for a gentler option may yet do."


# ---- what would change the answer -------------------------------------------------------------------------

_TOLD = 12  # ways that a record tells in full


def what_would_change(inquiry: Inquiry, part: PartWeighing, rulebook: Rulebook) -> tuple[str, ...]:
    """Every smallest set of changes to the proposal that leads to a better verdict, or that there is none."""
    better, standing = inquiry.better, inquiry.standing
    if better is None or standing is None:
        return ()
    name = f"'{inquiry.least.chosen.option.id}'"
    told = _ways_say(better.ways, part, rulebook)
    beyond = _ways_say([way for way in standing.ways if way not in better.ways], part, rulebook)
    said = [*told[:_TOLD], *(f"To make it stand: {lowered(way)}" for way in beyond[:_TOLD])]
    if len(told) > _TOLD or len(beyond) > _TOLD:
        said.append(f"And {max(0, len(told) - _TOLD) + max(0, len(beyond) - _TOLD)} more.")
    if not better.ways:
        said.append(f"Nothing that can be changed in {name} leads to a better verdict{_unless(better)}.")
    elif not standing.ways:
        said.append(f"Nothing that can be changed in {name} makes it acceptable{_unless(standing)}.")
    if not standing.ways:
        said.append("Another option may serve: see 'Why not less'.")
    return (*said, _searched(better))


def _ways_say(ways: Iterable[Way], part: PartWeighing, rulebook: Rulebook) -> list[str]:
    """Each way in a sentence; single choices of one thing that lead to the same verdict in one."""
    alike: dict[object, tuple[tuple[Change, ...], Verdict]] = {}
    for way in ways:
        first = way.changes[0]
        single = len(way.changes) == 1 and first.to and not first.low
        key = (first.slot, way.verdict) if single else way
        if single and key in alike:
            (known,) = alike[key][0]
            first = replace(known, also=(*known.also, first.to, *first.also))
        alike[key] = ((first, *way.changes[1:]), way.verdict)
    return [f"{changes_in_words(made, part, rulebook)}: then {verdict}." for made, verdict in alike.values()]


def _unless(found: Changes) -> str:
    return "" if found.exact else ", as far as was tried"


def _searched(found: Changes) -> str:
    sets = f"sets of up to {found.size} changes"
    if found.exact:
        return f"All {sets} that bear on it were tried: {found.weighed} weighings."
    return f"Of the {sets} that bear on it, {found.weighed} were weighed; there may be more."


# ---- what it may come to -----------------------------------------------------------------------------------


def may_come_to(inquiry: Inquiry, part: PartWeighing, rulebook: Rulebook) -> tuple[str, ...]:
    """Of every open option: the best and the worst verdict there can be, with a case that reaches each."""
    found = inquiry.prospects.items()
    return tuple(said for name, prospect in found for said in prospect_says(name, prospect, part, rulebook))


def prospect_says(name: str, prospect: Prospect, part: PartWeighing, rulebook: Rulebook) -> Iterator[str]:
    """What one option may come to, what is still owed before use, and who may refuse it."""
    span, roles = prospect.span, _referred_to(name, part)
    if span.settled:
        found = "once all that is asked is answered" if roles else "whatever is found out, once all is answered"
        yield f"'{name}', {found}: {span.best}.{_owed_before_use(prospect.to_best, name)}"
    else:
        best = f"{span.best}{_if(prospect.to_best, rulebook)}"
        yield f"'{name}', at best: {best}.{_owed_before_use(prospect.to_best, name)}"
        yield f"'{name}', at worst: {span.worst}{_if(prospect.to_worst, rulebook)}."
    if roles:
        yield f"'{name}' only as far as {listed(roles)} allows it; what is refused must not be done."
    if not prospect.exact:
        yield f"'{name}' can come to no verdict beyond these; {prospect.weighed} cases were weighed, not all."


def _referred_to(name: str, part: PartWeighing) -> list[str]:
    """The roles to whom something about an option is referred and not yet answered."""
    referred = (
        s.finding.rule.then.to
        for s in part.option(name).settled
        if s.finding.rule.then.kind is EffectKind.REFER and s.standing is not Standing.OUT and not s.report
    )
    return [role_in_words(role) for role in dict.fromkeys(referred)]


def _owed_before_use(case: Case | None, name: str) -> str:
    """What a case still owes to a competent person before use, so that nobody takes it for leave to use."""
    owed = case.part.option(name).requirements if case and case.verdict.stands else ()
    roles = [role_in_words(role) for role in dict.fromkeys(r.role for r in owed if r.role and r.left)]
    return f" Before use {listed(roles)} must still conclude that it is fit." if roles else ""


def _if(case: Case | None, rulebook: Rulebook) -> str:
    if case is None:
        return ", perhaps; no case that reaches it was found"
    told = case_in_words(case, rulebook)
    return f", if {told}" if told else ", whatever is found out"


# ---- what to find out next ---------------------------------------------------------------------------------


def find_out(inquiry: Inquiry, part: PartWeighing, rulebook: Rulebook) -> tuple[str, ...]:
    """The open questions, what settles most for its cost first."""
    return tuple(f"{question_of(w.unknown, part, rulebook)} {_worth_says(w)}" for w in inquiry.worths)


def _worth_says(worth: Worth) -> str:
    cost = full(f"To find out: {lowered(worth.cost.means)}")
    if worth.of == 1:
        return f"It is the only open question. {cost}"
    alone = any(not left for _, left in worth.answers)
    settles = f"On average an answer settles {worth.settles:.2g} of the {worth.of} open questions"
    return f"{settles}{', and some answers settle them all' if alone else ''}. {cost}"


def not_worth_it(unknowns: Iterable[Unknown], part: PartWeighing) -> tuple[str, ...]:
    """What the rules ask and cannot change a verdict here, thing by thing."""
    found: dict[str, list[str]] = {}
    for unknown in sorted(unknowns):
        word = plain(unknown.term.rpartition(".")[2])
        found.setdefault(subject_name(part.findings.facts, unknown.subject), []).append(word)
    return tuple(f"{capital(name)}: {', '.join(dict.fromkeys(words))}." for name, words in found.items())


# ---- margins -----------------------------------------------------------------------------------------------

_NO_TOLERANCE = "This says where the rules would notice. It is no tolerance to work to."


def margin_says(margin: Margin, part: PartWeighing) -> str:
    """Beyond which numbers the verdict is another, and which."""
    number, first = margin.number, margin.number.first
    several = len(number.fact.values or ())
    if several > 1:
        what = f"{_number_name(number, part)}, {several} readings moved together"
        ends = ((margin.down, "lower"), (margin.up, "higher"))
        told = [f"{turn.verdict} if all were more than {_away(turn, first)} {way}" for turn, way in ends if turn]
    else:
        what = f"{_number_name(number, part)}, {quantity_in_words(first)}"
        ends = ((margin.down, "below"), (margin.up, "above"))
        told = [f"{turn.verdict} {way} {_plainly(turn.holds_to.amount)} {first.unit}" for turn, way in ends if turn]
    return f"{what}: {'; '.join(told)}."


def _away(turn: Turn, first: Quantity) -> str:
    return f"{_plainly(abs(turn.holds_to.amount - first.amount))} {first.unit}"


def _plainly(amount: Decimal) -> str:
    return f"{amount.normalize():f}"


def _number_name(number: Number, part: PartWeighing) -> str:
    facts, fact = part.findings.facts, number.fact
    claimed = ", as the option claims it" if number.claimed else ""
    return f"{capital(subject_name(facts, fact.subject))}, {term_in_words(fact.term)}{claimed}"


def how_far(inquiry: Inquiry, part: PartWeighing) -> tuple[str, ...]:
    """The numbers that the verdict hangs on, with what this is not."""
    told = [margin_says(margin, part) for margin in inquiry.margins if margin.down or margin.up]
    return (_NO_TOLERANCE, *told) if told else ()
