"""The proof of least intervention: an option held against every other, and why each that loses less will not do."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from enum import StrEnum

from conserve.account import Compared, compare
from conserve.casebook import NeedKind
from conserve.facts import adjusts
from conserve.rule import EffectKind
from conserve.terms import Technique, Vocabulary
from conserve.weighing.model import NeedOutcome, NeedState, OptionWeighing, PartWeighing, Settled, Standing, Verdict

_CUTS_TO_SIZE = ("skim", "bore", "turn")


class Held(StrEnum):
    """How what another option loses stands to what this one loses."""

    LESS = "loses less"
    ALIKE = "loses as much"
    MORE = "loses more"
    OTHER = "loses other things"
    CANNOT_TELL = "cannot be compared"


@dataclass(frozen=True, slots=True)
class Rival:
    """Another option: how it compares, and all that certainly keeps it from taking the chosen one's place.

    `fails` are needs that it certainly does not meet or leaves in doubt; `forbidden` the rules that forbid it for
    certain; `open` the needs of which it is not known.
    """

    option: OptionWeighing
    held: Held
    fails: tuple[NeedOutcome, ...]
    forbidden: tuple[Settled, ...]
    open: tuple[NeedOutcome, ...]
    only_it: frozenset[str]  # what it loses and the chosen one keeps
    only_chosen: frozenset[str]  # what the chosen one loses and it keeps

    @property
    def out_of_the_question(self) -> bool:
        """Whether it certainly cannot take the chosen one's place."""
        return bool(self.fails or self.forbidden) or self.option.own is Verdict.NOT_JUSTIFIED


class Gap(StrEnum):
    """What practice would also have put forward."""

    LEAVE = "leave alone"
    LOWER_USE = "a lower use"
    ADJUST = "adjust"
    LOWER_RUNG = "a gentler technique"


@dataclass(frozen=True, slots=True)
class Missing:
    """An option that practice would expect and the proposal lacks."""

    gap: Gap
    techniques: tuple[Technique, ...] = ()  # the next gentler that serve the same end
    instead_of: Technique | None = None


@dataclass(frozen=True, slots=True)
class Least:
    """The argument that an option is the least that will do, among those put forward."""

    chosen: OptionWeighing
    rivals: tuple[Rival, ...]
    missing: tuple[Missing, ...]

    @property
    def proved(self) -> bool:
        """Whether every option that loses less, or may, is certainly out of the question."""
        gentler = (r for r in self.rivals if r.held in (Held.LESS, Held.CANNOT_TELL))
        return self.chosen.verdict.stands and all(r.out_of_the_question for r in gentler)


def least_intervention(part: PartWeighing, chosen: str, vocabulary: Vocabulary) -> Least:
    """Hold an option against every other of its proposal, and name what practice would also have put forward."""
    one = part.option(chosen)
    rivals = tuple(_rival(other, one) for other in part.options if other is not one)
    return Least(one, rivals, tuple(_missing(one, part, vocabulary)))


def _rival(other: OptionWeighing, chosen: OptionWeighing) -> Rival:
    kept = {n.need.id for n in chosen.needs if n.state not in (NeedState.GIVEN_UP, NeedState.NOT_ASKED)}
    asked = [n for n in other.needs if n.need.id in kept]
    short = (NeedState.FAILED, NeedState.IN_DOUBT, NeedState.GIVEN_UP)
    forbids = [s for s in other.settled if s.finding.rule.then.kind is EffectKind.FORBID and s.standing is Standing.IN]
    return Rival(
        other,
        _held(other, chosen),
        tuple(n for n in asked if n.state in short),
        tuple({s.finding.rule.id: s for s in forbids}.values()),
        tuple(n for n in asked if n.state is NeedState.OPEN),
        other.account.lost - chosen.account.lost,
        chosen.account.lost - other.account.lost,
    )


def _held(other: OptionWeighing, chosen: OptionWeighing) -> Held:
    how, back = compare(other.account, chosen.account), compare(chosen.account, other.account)
    if how is Compared.GENTLER:
        return Held.LESS
    if back is Compared.GENTLER:
        return Held.MORE
    if Compared.CANNOT_TELL in (how, back):
        return Held.CANNOT_TELL
    return Held.ALIKE if Compared.ALIKE in (how, back) else Held.OTHER


# ---- what practice would expect ---------------------------------------------------------------------------


def _missing(chosen: OptionWeighing, part: PartWeighing, vocabulary: Vocabulary) -> Iterator[Missing]:
    """Options that practice would expect beside the chosen one. An option that touches nothing lacks none."""
    proposal = part.findings.facts.proposal
    touches = any(vocabulary.techniques[act.technique].touches for act in chosen.option.acts)
    if proposal.kind != "intervention" or not touches:
        return
    if not any(option.listed and not option.acts for option in proposal.options):
        yield Missing(Gap.LEAVE)
    if _could_be_used_less(chosen, part, vocabulary):
        yield Missing(Gap.LOWER_USE)
    if not any(part.option(name).own.stands for name in chosen.gentler):
        yield from _gentler_means(chosen, part, vocabulary)


def _gentler_means(chosen: OptionWeighing, part: PartWeighing, vocabulary: Vocabulary) -> Iterator[Missing]:
    """Adjusting, where metal is cut for the sake of a clearance; and the next lower rung of what takes nothing."""
    options = part.findings.facts.proposal.options
    techniques = {act.technique: vocabulary.techniques[act.technique] for act in chosen.option.acts}
    cut = any(one.takes in _CUTS_TO_SIZE for one in techniques.values()) and _for_a_clearance(part)
    if cut and not _adjusting_answered(chosen) and not any(adjusts(option, vocabulary) for option in options):
        yield Missing(Gap.ADJUST)
    least_work = part.findings.facts.today.facts.get(("proposal", "proposal.least_work"))
    if least_work is not None and least_work.values in (("among-the-options",), ("none-between",)):
        return  # somebody has looked
    tried = {act.technique for option in options for act in option.acts}
    for technique in techniques.values():
        below = next_gentler(technique, vocabulary)
        if below and not tried & {one.id for one in vocabulary.techniques.values() if _gentler(one, technique)}:
            yield Missing(Gap.LOWER_RUNG, below, technique)


def _for_a_clearance(part: PartWeighing) -> bool:
    """Whether a need that leaving alone fails is about a running clearance."""
    failing = (outcome for outcome in part.left.values() if outcome.state is NeedState.FAILED)
    return any(check.judgement.term.endswith(".running_clearance") for outcome in failing for check in outcome.checks)


def _adjusting_answered(chosen: OptionWeighing) -> bool:
    """Whether somebody has said why adjusting will not do."""
    answered = (r.finding.rule.when for r in chosen.requirements if r.answer is not None and r.finding is not None)
    return any(premise.term == "proposal.adjusting_listed" for when in answered for premise in when)


def _could_be_used_less(chosen: OptionWeighing, part: PartWeighing, vocabulary: Vocabulary) -> bool:
    """Whether a need of use calls for the work, and no option leaves the part in a lower use."""
    of_use = (NeedKind.FUNCTION, NeedKind.SAFETY)
    failing = any(n.state is NeedState.FAILED and n.need.at and n.need.kind in of_use for n in part.left.values())
    if not failing or not chosen.duty or chosen.duty in vocabulary.duties[:1]:
        return False
    return not any(o.duty and not vocabulary.as_demanding(o.duty, chosen.duty) for o in part.options)


def next_gentler(technique: Technique, vocabulary: Vocabulary) -> tuple[Technique, ...]:
    """The techniques on the next lower rung that serve every end this one serves, take nothing and can be undone."""
    below = [one for one in vocabulary.techniques.values() if _gentler(one, technique)]
    nearest = max((one.rung for one in below), default=0)
    return tuple(one for one in below if one.rung == nearest)


def _gentler(one: Technique, than: Technique) -> bool:
    lasts = (
        one.takes != "nothing" or one.facts["technique.heats"] != "nothing" or one.facts["technique.undone"] == "never"
    )
    changes = than.takes != "nothing" or than.facts["technique.adds"] != "nothing"
    serves = bool(than.serves) and set(than.serves) <= set(one.serves)
    return changes and not lasts and serves and one.rung < than.rung and than.takes != "whole-part"
