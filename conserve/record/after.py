"""What followed, what it rests on, and who: the work, the evidence, the sources, the unknown, the people."""

from __future__ import annotations

from collections.abc import Iterator
from datetime import date

from conserve.casebook.model import Values
from conserve.explanation import full, listed, plain, question_says, value_in_words
from conserve.explanation.arguing import find_out
from conserve.explanation.sentences import grounds, instead
from conserve.explanation.words import path_in_words
from conserve.quantity import Quantity
from conserve.record.as_left import differences
from conserve.record.model import Table
from conserve.record.options import one_each
from conserve.record.part import about
from conserve.rule import COMMON_PRACTICE
from conserve.rulebook import Rulebook
from conserve.truth import Truth
from conserve.weighing.model import OptionWeighing, PartWeighing, Settled, Standing, Verdict, Weighing
from conserve.whatif.inquiry import Inquiry

_HELD = {
    Truth.YES: "differs: weigh anew, and supersede this record",
    Truth.NO: "agrees",
    Truth.UNKNOWN: "cannot be told, for a ± is not stated",
}
_READ = {"yes": "", "in part": " Read in part.", "no": " Cited from memory."}


def work(weighing: Weighing) -> Iterator[str]:
    work = weighing.proposal.work
    if work is None:
        yield "Not begun."
        return
    yield f"Began: {work.began or 'not said'}. Finished: {work.finished or 'not yet'}."
    if work.by:
        competence = full(work.competence) if work.competence else "Nobody has said on what competence."
        yield f"Done by {work.by}. {competence}"
    for title, said in (("Differs from the plan", work.differences), ("Found on the way", work.surprises)):
        yield from (f"{title}: {full(one)}" for one in said)


def as_left(chosen: OptionWeighing, part: PartWeighing) -> Table:
    rows = tuple(
        (
            path_in_words(d.path, part.findings.facts, _is_number(d.promised)).rstrip(":"),
            value_in_words(d.promised),
            value_in_words(d.measured),
            _HELD[d.differs],
        )
        for d in differences(part, chosen)
    )
    return Table("", ("what", "promised", "as left", "held together"), rows)


def _is_number(values: Values) -> bool:
    return any(isinstance(value, Quantity) for value in values)


def evidence(weighing: Weighing) -> Table:
    rows = []
    for item in about(weighing, weighing.worst.component.id):
        lapses = f" Lapses {item.lapses}." if item.lapses and item.lapses != date.max else ""
        rows.append(
            (
                item.id,
                plain(item.kind),
                item.on.isoformat(),
                item.by + (f", {plain(item.role)}" if item.role else ""),
                f"{full(item.shows)}{lapses}",
                item.grade,
            )
        )
    return Table("", ("id", "kind", "date", "by", "shows", "grade"), tuple(rows))


def sources(chosen: OptionWeighing, part: PartWeighing, rulebook: Rulebook) -> Iterator[str]:
    """Each rule that bears on the chosen option, why it applies, and the clauses it stands on."""
    facts = part.findings.facts
    for settled in sorted(one_each(chosen.settled), key=lambda s: s.finding.rule.id):
        rule = settled.finding.rule
        set_aside = f" Set aside by {listed(settled.overridden_by)}." if settled.standing is Standing.OUT else ""
        alternative = f" Instead: {instead(settled.finding, facts)}" if rule.then.instead else ""
        why = " ".join(grounds(settled.finding, facts))
        clauses = _clauses(settled, rulebook)
        yield f"{rule.id}: {full(rule.title)} {clauses} Applies because: {why}{set_aside}{alternative}"


def _clauses(settled: Settled, rulebook: Rulebook) -> str:
    said = []
    for cited in settled.finding.rule.sources:
        source = rulebook.sources[cited.source]
        if cited.source == COMMON_PRACTICE:
            said.append("Common practice, no published source.")
        else:
            gist, read = source.gists[cited.clause]
            edition = f", {source.edition}" if source.edition else ""
            said.append(f"{source.title}{edition}, {cited.clause}: {full(gist)}{_READ[read]}")
    return " ".join(said)


def unknown(chosen: OptionWeighing, inquiry: Inquiry, part: PartWeighing, rulebook: Rulebook) -> Iterator[str]:
    """What to find out next, what settles most for its cost first; then what else is asked of the chosen option."""
    yield from find_out(inquiry, part, rulebook)
    if chosen.verdict is Verdict.NOT_JUSTIFIED:  # what is not known stands in its way no more
        return
    ranked = {(worth.unknown.subject, worth.unknown.term) for worth in inquiry.worths}
    asked = (q for q in chosen.questions if (q.fact.subject, q.fact.term) not in ranked)
    yield from dict.fromkeys(question_says(q, part.findings.facts, rulebook.vocabulary) for q in asked)
    yield from chosen.account.untold


def who(weighing: Weighing, chosen: OptionWeighing) -> Iterator[str]:
    proposal, people = weighing.proposal, weighing.casebook.object.people

    def name(said: str) -> str:
        person = people.get(said)
        return (
            f"{person.name}, {plain(person.role)}"
            + (f" ({person.competence.rstrip('.')})" if person.competence else "")
            if person
            else said
        )

    decision = proposal.decision
    yield (
        f"Decided: '{decision.chosen}', by {name(decision.by)}, on {decision.on}. {full(decision.reason)}"
        if decision
        else "Nobody has decided yet."
    )
    advised = sorted({said.by for said in (*chosen.option.answers.values(), *chosen.option.rather_than.values())})
    if advised:
        yield f"Answered or advised: {'; '.join(name(one) for one in advised)}."
    done_by = chosen.option.facts.get("option.done_by")
    if done_by:
        competence = f" {full(chosen.option.competence)}" if chosen.option.competence else ""
        yield f"To be done by: {value_in_words(done_by[0].values)}.{competence}"
    if proposal.review:
        yield f"To be looked at again by {proposal.review}."
