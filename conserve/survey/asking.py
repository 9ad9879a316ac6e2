"""Which of the open questions a sheet can ask, and who else has to answer the others."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.casebook.surveys import OBJECT
from conserve.explanation.asking import answer_in_words, place_of, question_of
from conserve.explanation.words import capital, plain, subject_name, term_in_words, test_in_words
from conserve.facts import How, Judgement
from conserve.quantity import Quantity, show
from conserve.rulebook import Rulebook
from conserve.survey.model import Ask, Serves, Slot, Told
from conserve.terms import PLACES, Giver, Kind
from conserve.truth import Truth
from conserve.weighing.model import PartWeighing, Question
from conserve.whatif.bearing import written
from conserve.whatif.model import Lack, Unknown, Worth

_LISTS = {"mark": "marks", "repair": "repairs", "defect": "defects"}
ANY = "any answer"


class Asking:
    """Puts the open questions about one part of a proposal to those who can answer them."""

    def __init__(self, part: PartWeighing, rulebook: Rulebook) -> None:
        self.part, self.rulebook, self.vocabulary = part, rulebook, rulebook.vocabulary
        self.facts = part.findings.facts

    def ask(self, worth: Worth) -> Ask | None:
        """The question as a sheet asks it; None where a sheet cannot."""
        unknown = worth.unknown
        slot = self.slot(unknown)
        if slot is None or not self._on_a_sheet(unknown):
            return None
        term = self.vocabulary.terms.get(unknown.term)
        component = self.facts.casebook.components.get(slot[0])
        return Ask(
            component=slot[0],
            name=component.name if component else self.facts.casebook.object.name,
            where=slot[1],
            place=capital(subject_name(self.facts, unknown.subject)),
            term=slot[2],
            question=question_of(unknown, self.part, self.rulebook),
            cost=worth.cost,
            values=term.values if term else ("none",),
            many=term is not None and term.many,
            unit=term.unit if term else "",
            file=place_of(unknown, self.part),
            serves=(self.serves(worth),),
        )

    def told(self, worth: Worth) -> Told:
        """The question as somebody else is asked it."""
        unknown = worth.unknown
        role = self._stated_by(unknown)
        question = question_of(unknown, self.part, self.rulebook)
        if role:
            question = f"{question} Only a registered report can say, by this competent person: {plain(role)}."
        file = "evidence/register.yaml" if self.is_report(unknown) else place_of(unknown, self.part)
        return Told(question, file, worth.cost, (self.serves(worth),))

    def is_report(self, unknown: Unknown) -> bool:
        """Whether only a competent person can answer."""
        return unknown.lack is Lack.REPORT or bool(self._stated_by(unknown))

    def _stated_by(self, unknown: Unknown) -> str:
        """The role that alone may state a fact; "" where anyone may."""
        term = self.vocabulary.terms.get(unknown.term)
        return term.stated_by if term and unknown.lack is Lack.FACT else ""

    def is_chosen(self, unknown: Unknown) -> bool:
        """Whether whoever puts the proposal forward says or chooses it, or the owner does."""
        term = self.vocabulary.terms.get(unknown.term)
        kind = unknown.subject.partition(":")[0]
        asked_of = kind in ("act", "option", "proposal") or unknown.lack in (Lack.CLAIM, Lack.POLICY)
        return asked_of or (unknown.lack is Lack.FACT and bool(term and term.chosen))

    def slot(self, unknown: Unknown) -> Slot | None:
        """Where on a sheet an answer stands; None for what is not of the machine."""
        kind, _, name = unknown.subject.partition(":")
        if unknown.lack not in (Lack.FACT, Lack.LIST):
            return None
        if kind == "object":
            return OBJECT, "", unknown.term
        if kind == "component":
            return name, "", unknown.term
        if kind == "mate":
            component, _, face = name.partition("/")
            return component, face, unknown.term
        if kind == "surface":
            return self.part.component.id, name, unknown.term
        return (self.part.component.id, f"{_LISTS[kind]}/{name}", unknown.term) if kind in _LISTS else None

    def _on_a_sheet(self, unknown: Unknown) -> bool:
        if self.is_chosen(unknown) or self.is_report(unknown):
            return False
        kind, _, name = unknown.subject.partition(":")
        if unknown.lack is Lack.LIST:
            return self._unwritten(kind, name, unknown.term)
        term = self.vocabulary.terms.get(unknown.term)
        owner = "surface" if kind == "mate" else kind
        if term is None or term.giver is not Giver.PERSON or term.owner != owner:
            return False
        fact = self.facts.today.facts.get((unknown.subject, unknown.term))
        return fact is None or fact.how is not How.DISPUTED  # one more answer would not make them agree

    def _unwritten(self, kind: str, name: str, term: str) -> bool:
        """Whether nobody has written a list, so that a sheet may say that it is empty."""
        component = self.part.component
        if kind == "surface":
            face = component.thing("surface", name)
            return term == "marks" and face is not None and face.marks is None
        return term in PLACES and term != "marks" and component.things(PLACES[term]) is None

    # ---- what an answer does --------------------------------------------------------------------------

    def serves(self, worth: Worth) -> Serves:
        """What an answer would do for this proposal."""
        proposal = self.facts.proposal.id
        return Serves(proposal, worth.settles, worth.of, self._alone(worth), tuple(self._precise(worth.unknown)))

    def _alone(self, worth: Worth) -> tuple[str, ...]:
        """The answers after which nothing is open. Those tried of a number stand for others near them."""
        alone = [values for values, left in worth.answers if not left]
        if alone and len(alone) == len(worth.answers):
            return (ANY,)
        said = tuple(dict.fromkeys(answer_in_words(worth.unknown, one, self.part, self.rulebook) for one in alone))
        if alone and isinstance(alone[0][0] if alone[0] else None, Quantity):
            return (f"such as {said[0]}",)
        return said

    def _precise(self, unknown: Unknown) -> Iterator[str]:
        """How closely a number must be known, or, where it is not known at all, what it will be held against."""
        term = self.vocabulary.terms.get(unknown.term)
        if unknown.lack is not Lack.FACT or term is None or term.kind is not Kind.QUANTITY:
            return
        about = (unknown.subject, unknown.term)
        closely, held = [], []
        for judgement in self._open_judgements():
            inputs = {(one.subject, one.term) for fact in (judgement.fact, *judgement.limits) for one in written(fact)}
            if judgement.test.bounds and about in inputs:
                fact, within = judgement.fact, Question(judgement.fact, (), judgement).settle
                itself = (fact.subject, fact.term) == about
                what = "it" if itself else f"the {term_in_words(fact.term)} worked out from it"
                if within is None:
                    held.append(f"{what} is held against: {test_in_words(judgement.test)}")
                else:
                    closely.append(f"{what} must be known to within ± {show(within)}")
        yield from dict.fromkeys(closely or held)

    def _open_judgements(self) -> Iterator[Judgement]:
        for option in self.part.options:
            for need in option.needs:
                yield from (c.judgement for c in need.checks if c.judgement.truth is Truth.UNKNOWN)
            for settled in option.settled:
                yield from (ground for ground in settled.finding.grounds if ground.truth is Truth.UNKNOWN)
