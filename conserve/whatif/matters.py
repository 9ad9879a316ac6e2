"""Which of the things that nobody has said can matter to a verdict here, and which cannot."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from conserve.account import Compared, compare
from conserve.facts import ABSENT, How
from conserve.rule import EffectKind
from conserve.rulebook import Rulebook
from conserve.terms import Giver
from conserve.truth import Truth
from conserve.weighing.model import (
    Call,
    NeedState,
    OptionWeighing,
    PartWeighing,
    Settled,
    Shown,
    Standing,
    Verdict,
)
from conserve.whatif.bounds import own_spans, spans
from conserve.whatif.model import Lack, Unknown
from conserve.whatif.unknowns import Unknowns, unlisted_marks

# What the fabric account takes from the part and its faces, beside what the acts say.
_NO_LOSS = ("component.made_to_be_renewed", "component.significance")
_OF_PART = ("component.material", "component.mass", "component.volume")
_OF_FACE = ("surface.area", "surface.diameter", "surface.length")


def matters(part: PartWeighing, rulebook: Rulebook) -> frozenset[Unknown]:
    """What is unknown and may change the verdict of an option, whatever else turns out to be so.

    An option whose verdict no answer can change asks nothing, unless another option's verdict may hang on it.
    """
    return frozenset(
        unknown for option in _alive(part) for one in still_open(option, part, rulebook) for unknown in one.behind
    )


def idle(part: PartWeighing, rulebook: Rulebook) -> frozenset[Unknown]:
    """What rules ask about and nobody has said, and what changes no verdict here, whatever it turns out to be.

    Only what rules ask that stay silent whatever it is: what any rule may yet tell of, a note or a caution too, is
    not among them, nor is anything about a defect.
    """
    unknowns = Unknowns(part, rulebook)
    asked = frozenset(one for one in _asked(part, rulebook, unknowns) if not one.subject.startswith("defect:"))
    return asked - matters(part, rulebook) - frozenset(_told_of(part, rulebook, unknowns))


def _alive(part: PartWeighing) -> list[OptionWeighing]:
    """The options whose verdict, or whose hold over another's, may still change."""
    own, final = own_spans(part), spans(part)
    undecided = [o for o in part.options if final[o.option.id].best is not Verdict.NOT_JUSTIFIED]

    def bears(option: OptionWeighing) -> bool:
        if option in undecided:
            return True
        if own[option.option.id].best is Verdict.NOT_JUSTIFIED:
            return False
        others = (one for one in undecided if one is not option)
        return any(compare(one.account, option.account) is not Compared.GENTLER for one in others)

    return [option for option in part.options if bears(option)]


# ---- what lies behind an option --------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Open:
    """Something open about an option, and what lies behind it. `fatal`: it would go against it, were it so."""

    fatal: bool
    behind: tuple[Unknown, ...]


def still_open(option: OptionWeighing, part: PartWeighing, rulebook: Rulebook) -> tuple[Open, ...]:
    """Everything open about an option, with what lies behind each."""
    found = (
        Open(fatal, tuple(dict.fromkeys(behind))) for fatal, behind in _open(option, part, Unknowns(part, rulebook))
    )
    return tuple(one for one in found if one.behind)


def _open(option: OptionWeighing, part: PartWeighing, unknowns: Unknowns) -> Iterator[tuple[bool, Iterator[Unknown]]]:
    for settled in option.settled:
        if _may_matter(settled):
            fatal = settled.finding.rule.then.kind is EffectKind.FORBID
            yield fatal, _behind_finding(settled, part, unknowns)
    for outcome in option.needs:
        if outcome.state in (NeedState.OPEN, NeedState.IN_DOUBT) or outcome.shown is Shown.PROMISED or outcome.asked_of:
            yield True, unknowns.of_checks(outcome.checks, option)
    if any(n.need.at for n in option.needs) and not option.duty:
        yield True, iter((Unknown(Lack.FACT, f"component:{part.component.id}", "component.duty_wanted"),))
    yield True, _behind_calls(option, part, unknowns)
    if any(_cannot_be_told(option, other) for other in part.options if other is not option):
        yield False, _behind_account(option, part)


def _may_matter(settled: Settled) -> bool:
    """Whether a finding may colour a verdict: notes never do, nor what every job owes."""
    then = settled.finding.rule.then
    return settled.standing is not Standing.OUT and then.kind is not EffectKind.NOTE and not then.routine


def _behind_finding(settled: Settled, part: PartWeighing, unknowns: Unknowns) -> Iterator[Unknown]:
    finding, then = settled.finding, settled.finding.rule.then
    if then.kind is EffectKind.REFER and not settled.report:
        yield Unknown(Lack.REPORT, f"component:{part.component.id}", finding.rule.id)
    if then.known:
        fact = unknowns.facts.today.look(finding.subject, unknowns.terms[then.known])
        if not fact.known and fact.how is not How.ABSENT:
            yield from unknowns.of_fact(fact, finding)
    if settled.standing is Standing.OPEN:
        yield from unknowns.of_finding(finding)
        for other in part.findings.telling if settled.overridden_by else ():
            if other.rule.id in settled.overridden_by and finding.subject.owned_by(other.subject.id):
                yield from unknowns.of_finding(other)


def _behind_calls(option: OptionWeighing, part: PartWeighing, unknowns: Unknowns) -> Iterator[Unknown]:
    """What decides whether the option's acts are called for: how leaving the part alone leaves the needs."""
    for call in option.calls:
        if part.findings.facts.proposal.kind != "intervention":
            if call.call is Call.OPEN:
                yield Unknown(Lack.POLICY, "object", "policy")
            continue
        for outcome in part.left.values():
            if outcome.need.id in call.act.needs and outcome.state is not NeedState.FAILED:
                yield from unknowns.of_checks(outcome.checks)
        if call.act.finds:
            yield from unknowns.of_path(call.act.finds)


def _cannot_be_told(one: OptionWeighing, other: OptionWeighing) -> bool:
    return Compared.CANNOT_TELL in (compare(one.account, other.account), compare(other.account, one.account))


def _behind_account(option: OptionWeighing, part: PartWeighing) -> Iterator[Unknown]:
    """What is not written of all that keeps what an option takes from being compared: names, reliefs or amounts."""
    account, component = option.account, part.component
    own = f"component:{component.id}"
    if account.spared or account.untold:
        yield from _behind_names(option, part)
    untold = account.volume is None or account.volume.uncertainty is None
    if untold:
        yield from (Unknown(Lack.FACT, own, term) for term in _OF_PART if term not in component.facts)
    for surface in component.surfaces or ():
        amounts = _OF_FACE if untold else ()
        relief = ("surface.relief", "surface.finish") if f"surface:{surface.id}" in account.presumed else ()
        for term in (*relief, *amounts):
            if term not in surface.facts:
                yield Unknown(Lack.FACT, f"surface:{surface.id}", term)


def _behind_names(option: OptionWeighing, part: PartWeighing) -> Iterator[Unknown]:
    """What is not written of the things that an option takes, or that make taking the part no loss."""
    component = part.component
    own = f"component:{component.id}"
    yield from (Unknown(Lack.FACT, own, term) for term in _NO_LOSS if term not in component.facts)
    for kind, written in (("surfaces", component.surfaces), ("repairs", component.repairs)):
        if written is None:
            yield Unknown(Lack.LIST, own, kind)
    yield from unlisted_marks(component)
    for surface in component.surfaces or ():
        if "surface.finish" not in surface.facts:
            yield Unknown(Lack.FACT, f"surface:{surface.id}", "surface.finish")
    for act in option.option.acts:
        name = f"act:{option.option.id}/{act.number}"
        if act.takes is None:
            yield Unknown(Lack.LIST, name, "takes")
        if "act.disturbs_repair" not in act.facts:
            yield Unknown(Lack.FACT, name, "act.disturbs_repair")


# ---- what is asked at all --------------------------------------------------------------------------------


def _asked(part: PartWeighing, rulebook: Rulebook, unknowns: Unknowns) -> Iterator[Unknown]:
    """Every unknown fact of the object, the part and the things on it that some rule asks a person about here."""
    terms, today = rulebook.vocabulary.terms, part.findings.facts.today
    for subject in today.subjects:
        for name in rulebook.programs[subject.kind].asks:
            term = terms[name]
            if subject.sees.get(term.owner, ABSENT) and term.giver in (Giver.PERSON, Giver.ROLL_UP):
                fact = today.look(subject, term)
                if not fact.known and fact.how is not How.ABSENT:
                    yield from (one for one in unknowns.of_fact(fact) if _to_find_out(one, rulebook))


def _to_find_out(unknown: Unknown, rulebook: Rulebook) -> bool:
    """Whether it is a fact to be found out, not one that whoever puts the proposal forward chooses or says."""
    term = rulebook.vocabulary.terms.get(unknown.term)
    return unknown.subject.partition(":")[0] not in ("act", "option", "proposal") and not (term and term.chosen)


def _told_of(part: PartWeighing, rulebook: Rulebook, unknowns: Unknowns) -> Iterator[Unknown]:
    """What lies behind anything that a rule may yet tell, and behind what keeps the part out of use."""
    for finding in part.findings.all:  # a word that a rule about safety gives is told by no finding of its own
        if finding.truth is Truth.UNKNOWN and finding.rule.principle == "safety":
            yield from unknowns.of_finding(finding)
    for finding in part.findings.telling:
        yield from unknowns.of_finding(finding)
        if finding.rule.then.known:
            fact = part.findings.facts.today.look(finding.subject, rulebook.vocabulary.terms[finding.rule.then.known])
            if not fact.known and fact.how is not How.ABSENT:
                yield from unknowns.of_fact(fact, finding)
    for outcome in part.out_of_use:
        yield from unknowns.of_checks(outcome.checks)
