"""What lies behind a judgement that cannot be told: the things that somebody could say."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from conserve.casebook import Component
from conserve.facts import ABSENT, UNSAID, Fact, How, Judgement, act_alone, touched_by
from conserve.facts.today import key_of
from conserve.inference import Finding
from conserve.rule import EffectKind
from conserve.rulebook import Rulebook
from conserve.terms import Giver
from conserve.truth import Truth
from conserve.weighing.model import CheckOutcome, OptionWeighing, PartWeighing
from conserve.whatif.model import Lack, Unknown


class Unknowns:
    """Finds what is unknown about one part of a proposal."""

    def __init__(self, part: PartWeighing, rulebook: Rulebook) -> None:
        self.vocabulary, self.terms = rulebook.vocabulary, rulebook.vocabulary.terms
        self.facts = part.findings.facts
        self.giving: dict[tuple[str, str], list[Finding]] = {}  # a word of a subject -> the rules that may give it
        for finding in part.findings.all:
            if finding.rule.then.kind is EffectKind.ESTABLISH:
                self.giving.setdefault((finding.subject.id, finding.rule.then.establishes[0]), []).append(finding)

    def of_finding(self, finding: Finding) -> Iterator[Unknown]:
        """What keeps a finding open."""
        for judgement in finding.grounds:
            yield from self.of_judgement(judgement, finding)

    def of_judgement(self, judgement: Judgement, finding: Finding | None = None) -> Iterator[Unknown]:
        if judgement.truth is Truth.UNKNOWN:
            facts = (judgement.fact, *judgement.limits)
            doubtful = [fact for fact in facts if not fact.known] or facts
            for fact in doubtful:
                yield from self.of_fact(fact, finding)

    def of_fact(self, fact: Fact, finding: Finding | None = None) -> Iterator[Unknown]:
        """What would have to be said for a fact to be known, or known more closely."""
        term, part = self.terms.get(fact.term), self.facts.component
        owner = fact.term.partition(".")[0]
        if fact.subject in (ABSENT, UNSAID):
            yield from self._unsaid(owner, finding)
        elif fact.term == "component.period":
            yield Unknown(Lack.PHASE, f"component:{part.id}", "phase")
        elif fact.term == "option.duty":
            yield Unknown(Lack.FACT, f"component:{part.id}", "component.duty_wanted")
        elif fact.term == "option.treats_worsening":
            yield from self._worsening(fact)
        elif fact.how is How.ESTABLISHED or (term is not None and term.giver is Giver.RULE):
            for giving in self.giving.get((fact.subject, fact.term), ()):
                yield from self.of_finding(giving) if giving.truth is Truth.UNKNOWN else ()
        elif fact.working is not None:
            for below in [one for _, one in fact.working.given if not one.known] or [
                one for _, one in fact.working.given if _rough(one)
            ]:
                yield from self.of_fact(below, finding)
        elif term is not None and term.giver is Giver.ROLL_UP:
            yield from self._below(fact)
        else:
            yield Unknown(Lack.FACT, fact.subject, fact.term)

    def of_path(self, path: str) -> Iterator[Unknown]:
        """What would have to be said for the fact that a path names to be known."""
        subject, name = key_of(path, self.facts.component.id)
        fact = self.facts.today.facts.get((subject, name)) or Fact(name, subject, None, How.SILENT)
        if not fact.known:
            yield from self.of_fact(fact)

    # ---- what stands in lists -----------------------------------------------------------------------

    def _unsaid(self, owner: str, finding: Finding | None) -> Iterator[Unknown]:
        """What hides a thing that may be there: a list that nobody has written, or an act that does not name it."""
        act = act_alone(finding.subject.id) if finding and finding.subject.kind == "act" else ""
        part = self.facts.component
        if owner == "defect" and act and part.defects:
            yield Unknown(Lack.LIST, act, "treats")
        elif owner == "mark":
            if part.surfaces is None:
                yield Unknown(Lack.LIST, f"component:{part.id}", "surfaces")
            yield from unlisted_marks(part)
            if act:
                yield Unknown(Lack.LIST, act, "takes")
        elif owner == "surface" and part.surfaces is not None:  # the face of a mark that nobody has written down
            yield from unlisted_marks(part)
        else:
            yield Unknown(Lack.LIST, f"component:{part.id}", f"{owner}s")
            if act and owner == "defect":
                yield Unknown(Lack.LIST, act, "treats")

    def _below(self, fact: Fact) -> Iterator[Unknown]:
        """What a roll-up waits for: a list, or a word of something on it."""
        kind, _, short = self.terms[fact.term].of.partition(".")
        part = self.facts.component
        if part.things(kind) is None:
            yield from unlisted_marks(part) if kind == "mark" else ()
            if kind != "mark" or part.surfaces is None:
                yield Unknown(Lack.LIST, f"component:{part.id}", "surfaces" if kind == "mark" else f"{kind}s")
        for thing in part.known_things() if short else ():
            key = (f"{kind}:{thing.id}", f"{kind}.{short}")
            if thing.kind == kind and not self._known(*key):
                yield Unknown(Lack.FACT, *key)

    def _worsening(self, fact: Fact) -> Iterator[Unknown]:
        part, name = self.facts.component, fact.subject.partition(":")[2]
        option = self.facts.proposal.option(name)
        if part.defects is None:
            yield Unknown(Lack.LIST, f"component:{part.id}", "defects")
        for act in option.acts if option else ():
            if act.treats is None:
                yield Unknown(Lack.LIST, f"act:{name}/{act.number}", "treats")
        for defect in part.defects or ():
            if not self._known(f"defect:{defect.id}", "defect.active"):
                yield Unknown(Lack.FACT, f"defect:{defect.id}", "defect.active")

    def _known(self, subject: str, term: str) -> bool:
        fact = self.facts.today.facts.get((subject, term))
        return fact is not None and fact.known

    # ---- needs ----------------------------------------------------------------------------------------

    def of_checks(self, checks: Iterable[CheckOutcome], option: OptionWeighing | None = None) -> Iterator[Unknown]:
        """What keeps the checks of a need open under an option; without one, as the part is left alone."""
        for check in checks:
            if check.judgement.truth is not Truth.UNKNOWN:
                continue
            fact = check.after.fact
            if option is None or not check.after.touched:
                yield from self.of_judgement(check.judgement)
            else:
                yield from self._of_touched(check, option)
            if self.terms[fact.term].stated_by and not fact.known:
                yield Unknown(Lack.FACT, *key_of(check.check.path, self.facts.component.id))

    def _of_touched(self, check: CheckOutcome, option: OptionWeighing) -> Iterator[Unknown]:
        """What keeps a check open on what an option's acts touch, or may."""
        fact = check.after.fact
        for below in fact.working.missing if fact.working else ():
            yield from self._afterwards(below, option)
        if fact.known or fact.working is not None:
            yield from self.of_judgement(check.judgement)
        elif self.terms[fact.term].giver is Giver.ROLL_UP:
            yield from self._below(fact)
            yield from self._reached(option)
        elif check.after.surely and not self.terms[fact.term].stated_by:  # what only a report states is never claimed
            yield Unknown(Lack.CLAIM, f"option:{option.option.id}", check.check.path)
        elif not check.after.surely:
            yield from self._reached(option)

    def _afterwards(self, fact: Fact, option: OptionWeighing) -> Iterator[Unknown]:
        """What a number is once the option is carried out, where an act changes it and nobody has said to what."""
        part, (kind, _, name) = self.facts.component, fact.subject.partition(":")
        if kind in ("component", "surface") and fact.term in self.terms:
            touched = touched_by(fact.subject, fact.term, option.option, part, self.vocabulary)
            path = fact.term if kind == "component" else f"surfaces.{name}.{fact.term.partition('.')[2]}"
            if touched is Truth.YES and path not in option.option.after:
                yield Unknown(Lack.CLAIM, f"option:{option.option.id}", path)

    def _reached(self, option: OptionWeighing) -> Iterator[Unknown]:
        """What the acts of an option do not say about what they reach."""
        for act in option.option.acts:
            name = f"act:{option.option.id}/{act.number}"
            if act.treats is None and self.facts.component.defects != ():
                yield Unknown(Lack.LIST, name, "treats")
            if act.takes is None:
                yield Unknown(Lack.LIST, name, "takes")
            if "act.disturbs_repair" not in act.facts:
                yield Unknown(Lack.FACT, name, "act.disturbs_repair")
            if act.surface and not self._known(f"surface:{act.surface}", "surface.sets_clearance"):
                yield Unknown(Lack.FACT, f"surface:{act.surface}", "surface.sets_clearance")


def unlisted_marks(part: Component) -> Iterator[Unknown]:
    """The faces whose marks nobody has written."""
    for surface in part.surfaces or ():
        if surface.marks is None:
            yield Unknown(Lack.LIST, f"surface:{surface.id}", "marks")


def _rough(fact: Fact) -> bool:
    """Whether a number could be measured more closely."""
    return any(getattr(value, "uncertainty", 0) != 0 for value in fact.values or ())
