"""Why a rule makes the difference to a decision: the premise that is judged otherwise, on its fact, in words."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass

from conserve.audit.edition_model import Ground
from conserve.audit.edition_rules import Pair, effect_says
from conserve.explanation import full, rule_says
from conserve.explanation.words import fact_in_words, place, test_in_words
from conserve.facts import Fact, Judgement, Subject, judge
from conserve.inference import Finding
from conserve.rule import EffectKind, Rule
from conserve.terms import Vocabulary
from conserve.truth import Truth
from conserve.weighing.model import ORDER, PartWeighing, Weighing

_ANSWERS = {Truth.YES: "yes", Truth.NO: "no", Truth.UNKNOWN: "cannot tell"}
_ANSWERED = {Truth.YES: "it is", Truth.NO: "it is not", Truth.UNKNOWN: "that cannot be told"}
_NOT_ASKED = "not asked"


@dataclass(frozen=True, slots=True)
class _Side:
    """A decision's part by one of the two editions."""

    part: PartWeighing
    vocabulary: Vocabulary

    def judged(self, rule: Rule | None, subject: Subject) -> dict[str, Judgement]:
        """Every premise of a rule on a subject, by its term."""
        today, terms = self.part.findings.facts.today, self.vocabulary.terms

        def look(name: str) -> Fact:
            return today.look(subject, terms[name])

        when = rule.when if rule else ()
        return {one.term: judge(one.test, terms[one.term], look(one.term), look) for one in when}

    def says(self, fact: Fact) -> str:
        return fact_in_words(fact, self.part.findings.facts)


def grounds_of(
    name: str, pair: Pair, before: Weighing, now: Weighing, words: tuple[Vocabulary, Vocabulary]
) -> tuple[Ground, ...]:
    """Why one rule makes the difference; `words` are those of the earlier and of the later edition."""
    was, is_ = (_Side(part, vocabulary) for part, vocabulary in zip(_part(before, now), words, strict=True))
    told = _where_it_differs(name, was.part, is_.part, before.chosen)
    if told is None:
        return (Ground(name, "It is about nothing that this decision has."),)
    first, second = told
    finding = second or first
    assert finding is not None
    subject = finding.subject
    earlier, later = was.judged(pair.was, subject), is_.judged(pair.now, subject)
    if pair.was is None or pair.now is None:
        side, judged = (was, earlier) if pair.now is None else (is_, later)
        return (*_whole(name, finding, side, pair), *_held(name, judged, side, pair.now is None))
    found = tuple(_otherwise(name, earlier, later, was, is_))
    return (*found, *_effects(name, pair, finding, is_))


def _part(before: Weighing, now: Weighing) -> tuple[PartWeighing, PartWeighing]:
    """The part at which the decision fares worst by either edition, as each of them has it."""
    verdicts = [weighing.verdicts[weighing.chosen] for weighing in (before, now)]
    worse = before if ORDER.index(verdicts[0]) < ORDER.index(verdicts[1]) else now
    name = worse.worst.component.id
    first, second = (next(p for p in w.parts if p.component.id == name) for w in (before, now))
    return first, second


_Told = tuple[Finding | None, Finding | None]


def _where_it_differs(name: str, was: PartWeighing, now: PartWeighing, chosen: str) -> _Told | None:
    """What the rule came to by each edition at the subject where that differs most, of the chosen option first."""
    by = [{f.subject.id: f for f in part.findings.all if f.rule.id == name} for part in (was, now)]

    def rank(subject: str) -> tuple[bool, bool, int, str]:
        first, second = (found.get(subject) for found in by)
        truths = [one.truth if one else Truth.NO for one in (first, second)]
        one = second or first
        assert one is not None
        own = one.subject.kind not in ("option", "act") or one.subject.owned_by(f"option:{chosen}")
        return truths[0] is truths[1] is Truth.NO, not own, -abs(truths[0] - truths[1]), subject

    subjects = sorted({*by[0], *by[1]}, key=rank)
    return (by[0].get(subjects[0]), by[1].get(subjects[0])) if subjects else None


# ---- in words ----------------------------------------------------------------------------------------------------


def _whole(name: str, finding: Finding, side: _Side, pair: Pair) -> Iterator[Ground]:
    """What a rule that is new or gone says."""
    facts = side.part.findings.facts
    applies = "may apply" if finding.truth is Truth.UNKNOWN else "applies"
    verb = applies if pair.now else {"applies": "applied", "may apply": "might have applied"}[applies]
    then = finding.rule.then
    said = f": {rule_says(finding, facts)}" if then.kind is not EffectKind.ESTABLISH else "."
    yield Ground(name, full(f"The rule {verb} and {effect_says(then)}{said}"))


def _held(name: str, judged: dict[str, Judgement], side: _Side, gone: bool) -> Iterator[Ground]:
    """The premises of a rule that is new or gone, on their facts."""
    for term, one in judged.items():
        answer = _ANSWERS[one.truth]
        says = f"{side.says(one.fact)}. The rule {_asks('asked' if gone else 'asks', one)}"
        before, now = (answer, _NOT_ASKED) if gone else (_NOT_ASKED, answer)
        yield Ground(name, full(says), term, before, now, _places(one.fact))
    if not judged:
        yield Ground(name, "It asks for nothing, and so applies to every one of its kind.")


def _otherwise(
    name: str, earlier: dict[str, Judgement], later: dict[str, Judgement], was: _Side, now: _Side
) -> Iterator[Ground]:
    """The premises that are judged otherwise by the two editions."""
    for term in dict.fromkeys((*earlier, *later)):
        first, second = earlier.get(term), later.get(term)
        answers = [_ANSWERS[one.truth] if one else _NOT_ASKED for one in (first, second)]
        one = second or first
        assert one is not None
        if answers[0] != answers[1]:
            fact = _fact(first, second, was, now)
            says = f"{fact}. {_asked('Before', 'asked', first)} {_asked('Now', 'asks', second)}"
            yield Ground(name, full(says), term, answers[0], answers[1], _places(one.fact))


def _fact(first: Judgement | None, second: Judgement | None, was: _Side, now: _Side) -> str:
    """The fact in words; both, where it is another by the two editions."""
    before, after = was.says(first.fact) if first else "", now.says(second.fact) if second else ""
    if before and after and before != after:
        return f"Before, {before}; now, {after}"
    return after or before


def _asked(when: str, verb: str, judged: Judgement | None) -> str:
    if judged is None:
        return f"{when}, the rule {'did' if verb == 'asked' else 'does'} not ask."
    return f"{when}, the rule {_asks(verb, judged)}."


def _asks(verb: str, judged: Judgement) -> str:
    """A premise and its answer: "asked whether it is above 2 mm: it is not"."""
    test = test_in_words(judged.test)
    return f"{verb} whether it is {test if judged.test.bounds else repr(test)}: {_ANSWERED[judged.truth]}"


def _effects(name: str, pair: Pair, finding: Finding, side: _Side) -> Iterator[Ground]:
    """What the rule does otherwise where it applies."""
    assert pair.was and pair.now
    before, after = effect_says(pair.was.then), effect_says(pair.now.then)
    if before != after:
        yield Ground(name, full(f"Where it applies, the rule {after}; before, it {before}. {_says(finding, side)}"))
    for verb, one, other in (("now sets", pair.was, pair.now), ("no longer sets", pair.now, pair.was)):
        aside = sorted({e.rule for e in other.overrides} - {e.rule for e in one.overrides})
        yield from (Ground(name, f"The rule {verb} {rule} aside.") for rule in aside)


def _says(finding: Finding, side: _Side) -> str:
    return f"It says: {rule_says(finding, side.part.findings.facts)}" if finding.rule.then.says else ""


def _places(fact: Fact) -> tuple[str, ...]:
    return tuple(place(stated.where) for stated in fact.statements)
