"""One decision looked at: every question that an audit asks of it, answered."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, replace

from conserve.audit.evidence import Bytes, evidence_of
from conserve.audit.given import Given, Sealed
from conserve.audit.heeded import person, referral, today_of, with_verdict
from conserve.audit.model import GRAVITY, Answer, Asked, DecisionAudit, Kind, Point
from conserve.audit.reading import Reader
from conserve.audit.records import record_of
from conserve.audit.remaking import Remade, unlike_its_proof
from conserve.audit.requirements import as_left, required
from conserve.audit.rules_kept import Rules, rulebook_of
from conserve.audit.same import decided_as_sealed, facts_as_sealed
from conserve.audit.timing import before_work
from conserve.audit.weighty import weighty
from conserve.casebook import Proposal
from conserve.explanation import full
from conserve.record.owed import Owed
from conserve.truth import Truth

Found = tuple[Answer, tuple[Point, ...]]


@dataclass(frozen=True, slots=True)
class Around:
    """What is worked out once for all decisions of a casebook."""

    given: Given
    read: Reader
    evidence: Mapping[str, Bytes]
    rules: Mapping[Rules, str]
    holds: Mapping[str, str]  # digest of a kept proof -> what the checker finds wrong; "" where it holds
    owed: Mapping[str, tuple[Owed, ...]]  # proposal -> what it owes
    points: Mapping[str, tuple[Point, ...]]  # proposal -> what is told of it as a part of the chain or of its notes
    against: Mapping[str, tuple[Point, ...]]  # proposal -> what was done under it against advice


def decision_audit(name: str, sealed: Sealed | None, then: Remade | None, around: Around) -> DecisionAudit:
    """Everything about one proposal that is decided, begun or was ever sealed."""
    given = around.given
    asked = given.casebook.proposal(name)
    found = list(_of_the_seal(name, asked, sealed, then, around))
    if asked is not None:
        found += _of_the_work(asked, sealed, then, around)
    answers = {answer.asked: answer for answer, _ in found}
    gone = (Answer(one, None, "The proposal is no longer in the casebook.") for one in Asked if one not in answers)
    answers |= {answer.asked: answer for answer in gone}
    own = (replace(point, proposal=name) for _, told in found for point in told)
    points = in_order((*own, *around.points.get(name, ())))
    return _told(name, asked, sealed, then, tuple(answers[one] for one in Asked), points, around)


def _told(
    name: str,
    asked: Proposal | None,
    sealed: Sealed | None,
    then: Remade | None,
    answers: tuple[Answer, ...],
    points: tuple[Point, ...],
    around: Around,
) -> DecisionAudit:
    given, weighing = around.given, around.given.weighings.get(name)
    old = then.then.casebook.proposal(name) if then and then.then else None
    stands = asked or old
    decision = stands.decision if stands else None
    return DecisionAudit(
        proposal=name,
        title=stands.title if stands else name,
        components=stands.components if stands else (),
        chosen=weighing.chosen if weighing else sealed.what.chosen if sealed else "",
        verdict=str(weighing.verdict) if weighing else "",
        by=person(decision.by if decision else sealed.what.by if sealed else "", given.casebook),
        on=decision.on if decision else None,
        reason=decision.reason if decision else "",
        sealed=tuple(one.entry.sequence for one in given.of(name)),
        answers=answers,
        points=points,
        weighty=tuple(weighty(weighing, points, given.rulebook.vocabulary)) if weighing else (),
        notes=tuple(sorted(note.id for note in given.notes if note.about == name)),
    )


def in_order(points: Iterable[Point]) -> tuple[Point, ...]:
    """Points, each once, the most serious first."""
    return tuple(sorted(set(points), key=lambda one: (GRAVITY[one.kind], one.proposal, one.where, one.says)))


def _of_the_seal(
    name: str, asked: Proposal | None, sealed: Sealed | None, then: Remade | None, around: Around
) -> Iterator[Found]:
    given = around.given
    yield decided_as_sealed(name, asked, sealed, then, given)
    if asked is not None:
        yield facts_as_sealed(asked, sealed, then, around.read, given)
    yield rulebook_of(sealed, around.rules, given), ()
    yield _remade(sealed, then, given)
    yield _checked(sealed, around)
    yield evidence_of(asked, sealed, around.evidence, given)
    yield record_of(name, asked, then, given)


def _of_the_work(asked: Proposal, sealed: Sealed | None, then: Remade | None, around: Around) -> Iterator[Found]:
    given = around.given
    today, owed = given.weighings[asked.id], around.owed.get(asked.id, ())
    yield before_work(asked, given)
    yield with_verdict(asked, today, sealed, then, given)
    yield referral(asked, today, sealed, then, around.against.get(asked.id, ()), given)
    yield required(asked, today, owed, given)
    yield as_left(asked, today, owed, given)
    yield today_of(asked, today, sealed, given)


def _remade(sealed: Sealed | None, then: Remade | None, given: Given) -> Found:
    if sealed is None or then is None:
        return Answer(Asked.REMADE, None, "It was never sealed."), ()
    before = given.of(sealed.what.proposal)[:-1]
    unlike = [(one, wrong) for one in before if (wrong := unlike_its_proof(one, given))]
    if unlike:
        points = tuple(Point(Kind.NOT_REMADE, wrong, where=given.line_of(one.entry)) for one, wrong in unlike)
        answer, told = _latest_remade(sealed, then, given)
        says = " ".join((*(wrong for _, wrong in unlike), answer.says))
        return Answer(Asked.REMADE, Truth.NO, says), (*points, *told)
    return _latest_remade(sealed, then, given)


def _latest_remade(sealed: Sealed, then: Remade, given: Given) -> Found:
    earlier = [one.entry.sequence for one in given.of(sealed.what.proposal)[:-1]]
    more = f" Of its earlier entries ({', '.join(map(str, earlier))}) only the digests were held." if earlier else ""
    says = f"{then.says[:1].upper()}{then.says[1:].rstrip('.')}.{more}"
    where = given.line_of(sealed.entry)
    if then.whole is Truth.UNKNOWN:
        return Answer(Asked.REMADE, Truth.UNKNOWN, says), (Point(Kind.CANNOT_TELL, says, where=where),)
    if then.whole is Truth.NO:
        return Answer(Asked.REMADE, Truth.NO, says), (Point(Kind.NOT_REMADE, says, where=where),)
    if then.record is False:
        says = "Its proof is the same to the byte; its record, re-made, is another."
        return Answer(Asked.REMADE, Truth.NO, says), (Point(Kind.NOT_REMADE, says, where=where),)
    both = " So is its record." if then.record else ""
    return Answer(Asked.REMADE, Truth.YES, f"{says.removesuffix(more)}{both}{more}"), ()


def _checked(sealed: Sealed | None, around: Around) -> Found:
    if sealed is None:
        return Answer(Asked.CHECKER, None, "It was never sealed."), ()
    every = around.given.of(sealed.what.proposal)
    wrong = {one.what.proof: said for one in every if (said := around.holds.get(one.what.proof))}
    if wrong:
        points = (Point(Kind.CHECKER_DIFFERS, said, where=f"sealed/{proof}.gz") for proof, said in wrong.items())
        return Answer(Asked.CHECKER, Truth.NO, " ".join(map(full, wrong.values()))), tuple(points)
    if sealed.what.proof not in around.holds:
        return Answer(Asked.CHECKER, Truth.UNKNOWN, "The proof that was sealed is not here as it was kept."), ()
    return Answer(Asked.CHECKER, Truth.YES, "The stand-alone checker draws every conclusion of it again."), ()
