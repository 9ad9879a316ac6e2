"""The lines of a sheet, in no order yet: the acts, what is asked, what is referred, what is measured as left."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import replace

from conserve.casebook.model import Act, Met
from conserve.explanation import full, listed, plain, requirement_says, value_in_words
from conserve.explanation.sentences import act_says, referral_says
from conserve.explanation.words import lowered, path_in_words, test_in_words
from conserve.facts import How, act_alone
from conserve.facts.today import key_of
from conserve.inference import Finding
from conserve.record.as_left import differences
from conserve.rule import EffectKind, Stage
from conserve.sheet.doing import adds, closes
from conserve.sheet.model import Done, Kind, Line
from conserve.sheet.people import roles_in, signs
from conserve.sheet.together import of_each
from conserve.terms import Vocabulary
from conserve.truth import Truth
from conserve.weighing.model import (
    CheckOutcome,
    NeedOutcome,
    OptionWeighing,
    PartWeighing,
    Requirement,
    Settled,
    Standing,
    Weighing,
)

_SOMEBODY_ELSES = ("report", "permit", "statement")  # evidence that is somebody's word


def lines_of(weighing: Weighing, part: PartWeighing, vocabulary: Vocabulary) -> Iterator[Line]:
    """Every line of one part: of the option that is chosen, or preferred before anyone has chosen."""
    of = _Of(weighing, part, vocabulary)
    yield from of.acts()
    yield from (of.referral(one) for one in of.chosen.settled if _refers(one))
    measured = {line.id: line for line in of.measured()}
    asked = {r.id: r for r in of.chosen.requirements}
    yield from (of.with_tick(line, asked.get(line.id)) for line in measured.values())
    yield from (of.asked(one) for name, one in asked.items() if name not in measured)


def _refers(settled: Settled) -> bool:
    return settled.finding.rule.then.kind is EffectKind.REFER and settled.standing is not Standing.OUT


class _Of:
    """One part of a weighing, and what its lines are made from."""

    def __init__(self, weighing: Weighing, part: PartWeighing, vocabulary: Vocabulary) -> None:
        self.weighing, self.part, self.vocabulary = weighing, part, vocabulary
        self.chosen: OptionWeighing = part.option(weighing.chosen)
        self.facts, self.work = part.findings.facts, weighing.proposal.work
        self.many = len(weighing.parts) > 1

    def _each(self, said: str) -> str:
        return of_each(said, self.part, self.many)

    # ---- acts -----------------------------------------------------------------------------------------

    def acts(self) -> Iterator[Line]:
        work = self.work
        for call in self.chosen.calls:
            more = f" {full(call.act.says)}" if call.act.says else ""
            yield Line(
                f"act/{call.act.number}",
                Kind.ACT,
                self._each(f"{full(act_says(call, self.facts))}{more}"),
                act=call.act.number,
                done=Done(work.finished, work.by, ()) if work and work.finished else None,
                write="work: began, finished, by",
            )

    # ---- what is asked --------------------------------------------------------------------------------

    def asked(self, requirement: Requirement) -> Line:
        says = requirement_says(requirement, self.facts)
        rule = requirement.finding.rule if requirement.finding else None
        kind = rule.then.evidence if rule else ""
        hold = _is_hold(requirement, kind)
        roles = (requirement.role,) if requirement.role else roles_in(says, self.vocabulary)
        return Line(
            requirement.id,
            Kind.ASKED,
            self._each(says),
            stage=requirement.by,
            act=_act_of(requirement.finding),
            short=_short(requirement),
            routine=requirement.routine,
            hold=hold,
            signs=signs(kind, roles, says, self.weighing) if hold else "",
            done=self._done(requirement),
            note=self._not_counted(requirement, kind),
            write=_write(requirement, kind),
        )

    def _done(self, requirement: Requirement) -> Done | None:
        if not requirement.met:
            return None
        if requirement.answer is not None:
            return Done(None, requirement.answer.by, ())
        ticked = next((met for met in self._ticks(requirement.id) if met.on == requirement.met_on), None)
        register = self.weighing.casebook.evidence
        by = ticked.by if ticked else listed(dict.fromkeys(register[e].by for e in requirement.evidence))
        return Done(requirement.met_on, by, requirement.evidence)

    def _ticks(self, name: str) -> Iterator[Met]:
        return (met for met in (self.work.met if self.work else ()) if met.requirement == name)

    def _not_counted(self, requirement: Requirement, kind: str) -> str:
        """A tick that does not count, and what it lacks."""
        ticked = next(self._ticks(requirement.id), None)
        if requirement.met or ticked is None:
            return ""
        if requirement.role or (requirement.finding and requirement.finding.rule.then.known):
            lacks = "nobody's tick will do for it"
        elif kind:
            lacks = f"it wants a registered {plain(kind)} of this part"
        else:
            lacks = "it wants evidence, or the name of who says so"
        return f"Ticked {ticked.on}, and does not count: {lacks}."

    # ---- referrals ------------------------------------------------------------------------------------

    def referral(self, settled: Settled) -> Line:
        rule = settled.finding.rule
        said = referral_says(settled.finding, self.facts)
        open_ = settled.standing is Standing.OPEN
        report = self.weighing.casebook.evidence.get(settled.report)
        return Line(
            rule.id,
            Kind.REFERRED,
            self._each(f"Find out whether this is asked; if so, {lowered(said)}" if open_ else said),
            stage=Stage.BEFORE_WORK,
            short=full(rule.title),
            hold=True,
            signs=signs("report", (rule.then.to,), said, self.weighing),
            done=Done(report.on, report.by, (report.id,)) if report else None,
            write=f"evidence/register.yaml: a report that answers {rule.id} and states what it finds",
        )

    # ---- what is measured as left -----------------------------------------------------------------------

    def measured(self) -> Iterator[Line]:
        """What the option reckons or claims that a need is left at, to be measured whatever the reckoning says."""
        for outcome in self.chosen.needs:
            checks = [c for c in outcome.checks if c.after.fact.how in (How.COMPUTED, How.CLAIMED) and c.after.touched]
            if checks:
                yield self._measured(outcome, checks)

    def _measured(self, outcome: NeedOutcome, checks: list[CheckOutcome]) -> Line:
        told = "; ".join(self._check(one) for one in checks)
        found = self.work.measured if self.work else {}
        got = [found[c.check.path] for c in checks if c.check.path in found]
        days = [one.on for stated in got for one in stated if one.on]
        done = None
        if len(got) == len(checks) and self.work:
            done = Done(max(days, default=self.work.finished), self.work.by, ())
        last = max((self._last_act(c.check.path, bool(c.check.test.bounds)) for c in checks), default=0)
        return Line(
            f"needs/{outcome.need.id}",
            Kind.MEASURED,
            self._each(f"Measure as left: {told}."),
            stage=Stage.AFTER_WORK,
            act=last,
            done=done,
            note=" ".join(self._as_left(checks)),
            write=f"work: measured: {', '.join(c.check.path for c in checks)}",
        )

    def _check(self, one: CheckOutcome) -> str:
        name = path_in_words(one.check.path, self.facts, bool(one.check.test.bounds))
        promised = value_in_words(one.after.fact.values)
        colon = "" if name.endswith(":") else ","
        return f"{name}{colon} wanted {test_in_words(one.check.test)}, promised {promised}"

    def _as_left(self, checks: list[CheckOutcome]) -> Iterator[str]:
        paths = {one.check.path for one in checks}
        for one in differences(self.part, self.chosen):
            if one.path in paths:
                differs = " This differs from what was promised: weigh it anew." if one.differs is Truth.YES else ""
                yield f"Found: {value_in_words(one.measured)}.{differs}"

    def with_tick(self, line: Line, requirement: Requirement | None) -> Line:
        """A measuring with the requirement that stands for the same need: one box, and both ways to write it back."""
        if requirement is None:
            return line
        if requirement.role:
            return self._asked_and_measured(line, requirement)
        done = self._done(requirement) or line.done
        more = self._not_counted(requirement, "")
        write = f"{line.write}; and {requirement.id}"
        return replace(line, done=done, note=f"{line.note} {more}".strip(), write=write)

    def _asked_and_measured(self, line: Line, requirement: Requirement) -> Line:
        """Of safety no measuring will do: only the conclusion counts, and it stands before use."""
        asked = self.asked(requirement)
        return replace(asked, note=f"{line.note} {asked.note}".strip())

    def _last_act(self, path: str, number: bool) -> int:
        """The last act before which measuring would be too early: not one that only puts back, or coats a size."""
        subject, _ = key_of(path, self.part.component.id)
        face = subject.removeprefix("surface:") if subject.startswith("surface:") else ""
        here = [a for a in self.chosen.option.acts if not (face and a.surface and a.surface != face)]
        telling = [a.number for a in here if not self._passes_over(a, number)]
        return max(telling, default=max((a.number for a in here), default=0))

    def _passes_over(self, act: Act, number: bool) -> bool:
        technique = self.vocabulary.techniques[act.technique]
        return closes(technique) or (number and adds(technique) == "coating")


def _is_hold(requirement: Requirement, kind: str) -> bool:
    """Whether nobody may go past it unsigned: somebody's word, what keeps people safe, or evidence before the work."""
    if requirement.role or (kind in _SOMEBODY_ELSES and requirement.by is not Stage.AFTER_WORK):
        return True
    early = requirement.by in (Stage.DECISION, Stage.BEFORE_WORK)
    safety = requirement.finding is not None and requirement.finding.rule.principle == "safety"
    return early and (safety or (bool(kind) and not requirement.routine))


def _short(requirement: Requirement) -> str:
    if requirement.finding is None:
        return ""
    title = full(requirement.finding.rule.title)
    return title if requirement.certain else full(f"Find out whether this is asked: {lowered(title)}")


def _write(requirement: Requirement, kind: str) -> str:
    """What to write so that the casebook knows."""
    then = requirement.finding.rule.then if requirement.finding else None
    if requirement.role:
        return f"evidence/register.yaml: a report that states it ({requirement.id})"
    if then and then.known:
        return f"{then.known}, in the casebook ({requirement.id})"
    if then and then.answer:
        return f"answers: {requirement.id}"
    return f"{requirement.id}{f' + {plain(kind)}' if kind else ''}"


def _act_of(finding: Finding | None) -> int:
    """The number of the act that a finding is about; 0 where it is about none."""
    if finding is None or finding.subject.kind != "act":
        return 0
    return int(act_alone(finding.subject.id).rpartition("/")[2])
