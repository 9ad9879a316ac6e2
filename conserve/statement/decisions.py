"""What was decided and why, why not less, and what still waits for a person."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from conserve.casebook import Act
from conserve.explanation import capital, conclusion, full, like_parts, listed, option_line, requirement_says, taken
from conserve.explanation.arguing import argument
from conserve.explanation.sentences import STAGES, reason_says
from conserve.explanation.words import dated, lowered, plain
from conserve.record.after import as_left, work
from conserve.statement.alike import all_named
from conserve.statement.given import Given, file_of, items, made, person, proposal_of, prose, record_of, row
from conserve.statement.model import Block, Grid, Prose, Section
from conserve.statement.sealed import left_open
from conserve.terms import Vocabulary
from conserve.weighing.least import Held, Least, least_intervention
from conserve.weighing.model import Conclusion, OptionWeighing, Requirement, Verdict, Weighing

_UNDONE = {
    "readily": "This can be undone without loss",
    "with-effort": "This can be undone with effort",
    "never": "This can never be undone without loss",
}


def decisions(given: Given) -> Iterator[Section]:
    """What was done or decided against advice, then each decision in a part of its own."""
    yield Section("decisions", "What was decided, and why", tuple(_opening(given)))
    for weighing in given.decided:
        name = f"decision-{weighing.proposal.id}"
        yield Section(name, full(weighing.proposal.title).rstrip("."), tuple(_decision(given, weighing)), level=3)


def _opening(given: Given) -> Iterator[Block]:
    against = tuple(w for w in given.decided if not w.verdict.stands)
    told = items("against-the-verdict", (_against(given, weighing) for weighing in against))
    yield from told
    decided = [(proposal_of(w), record_of(w)) for w in given.decided]
    names = tuple(name for pair in decided for name in pair)
    if given.decided and not against:
        yield prose("none-against", "Nothing has been decided against what the weighing says.", names)
    yield from items("against-advice", _done_against_advice(given))
    if not given.decided:
        every = (proposal_of(w) for w in given.weighings)
        yield prose("none", "Nobody has decided anything yet.", given.object_file, every)
    yield from items(
        "superseded",
        (
            prose(old, f"'{old}' is no longer asked: '{new}' was decided in its place.", f"proposals/{new}.yaml")
            for old, new in given.superseded.items()
        ),
    )


def _against(given: Given, weighing: Weighing) -> Prose:
    decision = weighing.proposal.decision
    assert decision is not None
    says = (
        f"Decided against the verdict: {weighing.proposal.title}. {person(given.casebook, decision.by)} chose "
        f"'{decision.chosen}' on {decision.on}, and its verdict is: {weighing.verdict}. {full(decision.reason)}"
    )
    return prose(weighing.proposal.id, says, *_basis(given, weighing))


def _done_against_advice(given: Given) -> Iterator[Prose]:
    for part in given.casebook.components.values():
        for number, event in enumerate(part.history or ()):
            if event.kind == "done-against-advice":
                says = f"Done against advice, {dated(event.on, event.year_only)}, {part.name}: {full(event.says)}"
                yield prose(f"{part.id}-{number}", says, file_of(part.where))


def _basis(given: Given, weighing: Weighing) -> tuple[str, ...]:
    return made(record_of(weighing), proposal_of(weighing), given.part_files(weighing), given.object_file)


# ---- one decision --------------------------------------------------------------------------------------


def _decision(given: Given, weighing: Weighing) -> Iterator[Block]:
    decision, part = weighing.proposal.decision, weighing.worst
    assert decision is not None
    option, basis = part.option(weighing.chosen), _basis(given, weighing)
    yield prose("asked", _asked(given, weighing), proposal_of(weighing), given.part_files(weighing), given.object_file)
    what = f" {full(option.option.says)}" if option.option.says else ""
    says = (
        f"{person(given.casebook, decision.by)} decided on {decision.on} for '{decision.chosen}'.{what} "
        f"Reason given: {full(decision.reason)}"
    )
    yield prose("decided", says, proposal_of(weighing), given.object_file)
    yield from left_open(given, weighing.proposal.id)
    record = f"The whole argument is in {record_of(weighing)}.md."
    asked = tuple(_still_asked(weighing, option, basis))
    line = "What it asks is told below." if _told_below(weighing, option) else option_line(part, option)
    yield prose("verdict", f"As weighed: {weighing.verdict}. {line} {record}", basis)
    least = least_intervention(part, weighing.chosen, given.rulebook.vocabulary)
    yield from items("why-not-less", _why_not_less(least, weighing, basis))
    if option.option.acts or weighing.proposal.work:
        whether = undone(option.option.acts, given.rulebook.vocabulary)
        yield prose("takes", f"It takes {taken(option, part)} {_adds(option)} {whether}", basis)
        yield prose("work", f"The work: {lowered(' '.join(_work(weighing)))}", basis)
    else:
        yield prose("takes", "The part is left alone: nothing is taken, nothing is added, and there is no work.", basis)
    yield from items("still-asked", asked)


def _told_below(weighing: Weighing, option: OptionWeighing) -> bool:
    """Whether the verdict stands with things that are asked and not yet there, each of which is listed."""
    return weighing.verdict is Verdict.WITH_REQUIREMENTS and any(_open(option, routine=False))


def _open(option: OptionWeighing, routine: bool) -> Iterator[Requirement]:
    return (r for r in option.requirements if r.left and not r.met and r.routine is routine)


def undone(acts: Iterable[Act], vocabulary: Vocabulary) -> str:
    """Whether each technique can be undone; where a whole part comes off, only while somebody keeps it."""
    how: dict[str, list[str]] = {}
    for act in acts:
        facts = vocabulary.techniques[act.technique].facts
        says = _UNDONE[str(facts["technique.undone"])]
        if facts["technique.takes"] == "whole-part" and facts["technique.undone"] != "never":
            says += " while what came off is kept"
        how.setdefault(says, []).append(act.technique)
    return " ".join(f"{says}: {listed(dict.fromkeys(map(plain, names)))}." for says, names in sorted(how.items()))


def _asked(given: Given, weighing: Weighing) -> str:
    proposal = weighing.proposal
    names = all_named((given.casebook.components[name] for name in proposal.components), given.casebook)
    when = f" on {proposal.asked_on}" if proposal.asked_on else ""
    by = (
        f"Asked by {person(given.casebook, proposal.asked_by)}{when}."
        if proposal.asked_by
        else "Nobody says who asked."
    )
    needs = listed(f"'{need.says.rstrip('.')}'" for need in proposal.needs)
    wanted = f"What was needed: {needs}." if needs else "No need is written."
    return f"Part: {names}. {by} {wanted}"


def _why_not_less(least: Least, weighing: Weighing, basis: tuple[str, ...]) -> Iterator[Prose]:
    """Why each option that loses no more will not do, in a sentence, and what that comes to."""
    part = weighing.worst
    for rival in least.rivals:
        if rival.held is not Held.MORE:
            name = rival.option.option.id
            answer = least.chosen.option.rather_than.get(name)
            why = full(answer.says) if answer else reason_says(rival.option, part)
            by = f" {capital(answer.by)} says:" if answer else ""
            yield prose(name, f"Why not '{name}' ({rival.option.verdict}):{by} {why}", basis)
    if not least.chosen.option.acts:
        yield prose("so", "Nothing loses less than leaving the part alone.", basis)
        return
    yield prose("so", capital(argument(least, part)[-1].removeprefix("So, ").removeprefix("So ")), basis)


def _adds(option: OptionWeighing) -> str:
    added = listed(plain(one.partition(":")[2]) for one in option.account.added)
    return f"What it adds: {added}." if added else "It adds nothing."


def _work(weighing: Weighing) -> Iterator[str]:
    yield from work(weighing)
    decision, done = weighing.proposal.decision, weighing.proposal.work
    if decision and done and done.began:
        yield (
            "It was decided, with its reason, before the work began."
            if decision.on < done.began
            else "It was decided on the day on which the work began."
            if decision.on == done.began
            else f"The work began before it was decided on {decision.on}: the reason was written afterwards."
        )
    for what, promised, left, held in as_left(weighing.worst.option(weighing.chosen), weighing.worst).rows:
        yield f"As left: {what} {left}, promised {promised}; {held}."


def _still_asked(weighing: Weighing, option: OptionWeighing, basis: tuple[str, ...]) -> Iterator[Prose]:
    facts = weighing.worst.findings.facts
    for requirement in _open(option, routine=False):
        stage = capital(STAGES[requirement.by])
        name = requirement.id.replace("/", "-")
        yield prose(name, f"Still asked, {stage.lower()}: {requirement_says(requirement, facts)}", basis)
    routine = sum(1 for _ in _open(option, routine=True))
    if routine:
        things = "1 thing" if routine == 1 else f"{routine} things"
        yield prose("routine", f"And {things} that every such job owes; the record lists what.", basis)


# ---- what waits ----------------------------------------------------------------------------------------


def undecided(given: Given) -> Section:
    """What was put forward and waits for a person, with what it lacks."""
    waiting = given.undecided
    if not waiting:
        proposals = (proposal_of(weighing) for weighing in given.weighings)
        nothing = "Nothing that was put forward waits for a decision."
        return Section("undecided", "What is still undecided", (prose("none", nothing, given.object_file, proposals),))
    rows = (
        row(
            weighing.proposal.id,
            (
                weighing.proposal.title,
                all_named((given.casebook.components[name] for name in weighing.proposal.components), given.casebook),
                f"'{weighing.chosen}': {weighing.verdict}",
                " ".join(_waits(weighing)),
            ),
            _basis(given, weighing),
        )
        for weighing in _as_urgent(waiting)
    )
    head = ("question", "part", "put forward, and how it fares", "why, and what is lacking")
    told = prose("records", "The record of each question, under records/, tells the whole argument.")
    grid = Grid("waiting", "Questions that wait for a person", head, tuple(rows))
    return Section("undecided", "What is still undecided", (told, grid))


def _as_urgent(waiting: Iterable[Weighing]) -> list[Weighing]:
    """What keeps a part out of use first, then what waits for a competent person, then the rest."""

    def order(weighing: Weighing) -> tuple[bool, bool, str]:
        out = any(part.out_of_use for part in weighing.parts)
        return not out, weighing.verdict is not Verdict.REFER, weighing.proposal.id

    return sorted(waiting, key=order)


def _waits(weighing: Weighing) -> Iterator[str]:
    part = weighing.worst
    yield option_line(part, part.option(weighing.chosen))
    if len(weighing.parts) > 1:
        yield like_parts(weighing)
    if weighing.conclusion is not Conclusion.DECIDED or not weighing.verdict.stands:
        yield conclusion(weighing)
