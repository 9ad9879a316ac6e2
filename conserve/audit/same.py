"""Whether a decision, and the facts behind it, are what they were when it was sealed."""

from __future__ import annotations

from collections.abc import Iterator
from itertools import pairwise, takewhile

from conserve.audit.given import Given, Sealed
from conserve.audit.inputs import Change, Changes, changes
from conserve.audit.model import Answer, Asked, Kind, Point
from conserve.audit.reading import Reader
from conserve.audit.remaking import Remade
from conserve.casebook import Proposal
from conserve.casebook.model import Decision
from conserve.explanation import capital, listed
from conserve.truth import Truth

_FEW = 6  # files that are named
_LONG = 200  # signs of a text that are told


# ---- the decision ------------------------------------------------------------------------------------------------


def decided_as_sealed(
    name: str, asked: Proposal | None, sealed: Sealed | None, then: Remade | None, given: Given
) -> tuple[Answer, tuple[Point, ...]]:
    """Whether it was sealed, and stands in the casebook as it was sealed."""
    if sealed is None:
        return _never(asked, given)
    entries = ", ".join(str(one.entry.sequence) for one in given.of(name))
    head = f"Sealed on {sealed.day} by {sealed.entry.by} (entry {entries})."
    if asked is None:
        says = f"It was sealed on {sealed.day}, and the proposal is no longer in the casebook."
        return Answer(Asked.SEALED, Truth.NO, says), (
            Point(Kind.DECISION_ALTERED, says, name, f"proposals/{name}.yaml"),
        )
    apart = tuple(_apart(asked, sealed, then))
    where = given.where(asked.decision.where if asked.decision else asked.where)
    points = (
        *(Point(Kind.DECISION_ALTERED, f"Since it was sealed on {sealed.day}, {said}.", name, where) for said in apart),
        *_sealed_otherwise(name, given),
        *_back_dated(sealed, then, given),
    )
    if points:
        return Answer(Asked.SEALED, Truth.NO, f"{head} {' '.join(point.says for point in points)}"), points
    taken = _superseded(name, given)
    if _as_sealed(name, then) is None:
        says = f"{head} Its reason cannot be held against what was sealed, which cannot be read."
        return Answer(Asked.SEALED, Truth.UNKNOWN, f"{says}{taken}"), ()
    return Answer(Asked.SEALED, Truth.YES, f"{head}{taken}"), ()


def _sealed_otherwise(name: str, given: Given) -> Iterator[Point]:
    """One decision that was sealed in two ways: it should have been superseded, never edited."""
    entries = given.of(name)
    for before, after in pairwise(entries):
        was, now = ((one.what.chosen, one.what.by, one.what.on) for one in (before, after))
        if was != now:
            numbers = f"Entry {after.entry.sequence} seals another decision than entry {before.entry.sequence}"
            says = f"{numbers}: it was not to be edited, but superseded."
            yield Point(Kind.DECISION_ALTERED, says, name, given.line_of(after.entry))


def _back_dated(sealed: Sealed, then: Remade | None, given: Given) -> Iterator[Point]:
    """A seal that is dated before the latest day in the casebook that it seals."""
    latest = then.then.casebook.as_at if then and then.then else None
    if latest and latest > sealed.day:
        says = f"Entry {sealed.entry.sequence} is dated {sealed.day}, and what it seals tells of {latest}."
        yield Point(Kind.BACK_DATED, says, sealed.what.proposal, given.line_of(sealed.entry))


def _never(asked: Proposal | None, given: Given) -> tuple[Answer, tuple[Point, ...]]:
    assert asked is not None  # what was never sealed stands in the casebook
    if asked.decision is None:
        return Answer(Asked.SEALED, None, "Nobody has decided it, so that there is nothing to seal."), ()
    taken = _superseded(asked.id, given)
    says = f"It was decided on {asked.decision.on}, and never sealed: nobody can show that it is as it was."
    point = Point(Kind.NOT_SEALED, f"{says}{taken}", asked.id, given.where(asked.decision.where))
    return Answer(Asked.SEALED, Truth.NO, f"{says}{taken}"), (point,)


def _superseded(name: str, given: Given) -> str:
    """That another decision has taken its place, and whether that one is sealed."""
    taker = given.taken_by.get(name, "")
    entries = given.of(taker)
    how = f"sealed in entry {entries[-1].entry.sequence}" if entries else "which is not sealed"
    return f" '{taker}' has taken its place, {how}." if taker else ""


def _apart(asked: Proposal, sealed: Sealed, then: Remade | None) -> Iterator[str]:
    """Where a decision is no longer what was sealed."""
    now, what = asked.decision, sealed.what
    if now is None:
        yield "its decision was taken out"
        return
    pairs = (
        ("the chosen option", what.chosen, now.chosen),
        ("who decided", what.by, now.by),
        ("the day of the decision", what.on, now.on.isoformat()),
    )
    yield from (f"{word} was altered: it was '{was}' and is '{is_}'" for word, was, is_ in pairs if was != is_)
    old = _as_sealed(asked.id, then)
    if old and old.reason != now.reason:
        yield f"its reason was altered: it was '{old.reason}' and is '{now.reason}'"


def _as_sealed(name: str, then: Remade | None) -> Decision | None:
    proposal = then.then.casebook.proposal(name) if then and then.then else None
    return proposal.decision if proposal else None


# ---- the facts ---------------------------------------------------------------------------------------------------


def facts_as_sealed(
    asked: Proposal, sealed: Sealed | None, then: Remade | None, read: Reader, given: Given
) -> tuple[Answer, tuple[Point, ...]]:
    """Whether the statements that a decision was made from still stand, none gone and none altered."""
    if sealed is None:
        return Answer(Asked.INPUTS, None, "It was never sealed."), ()
    points = tuple(_between_seals(asked, read, given))
    same = dict(given.listed(sealed.what.files)) == dict(given.casebook.digests)
    found = _since(asked, sealed, then, given) if not same else None
    if found is not None:
        points += tuple(_altered(one, f"After the seal of {sealed.day}", given) for one in found.altered)
        points += tuple(_happened(one, given) for one in found.happened)
    if any(point.kind.alters for point in points):
        return Answer(Asked.INPUTS, Truth.NO, " ".join(point.says for point in points)), points
    if points:
        return Answer(Asked.INPUTS, Truth.UNKNOWN, " ".join(point.says for point in points)), points
    if same:
        return Answer(Asked.INPUTS, Truth.YES, "Every file of the casebook is as it was when it was sealed."), ()
    if found is None:
        return Answer(Asked.INPUTS, Truth.UNKNOWN, "What it was made from cannot be read as it was sealed."), ()
    return Answer(Asked.INPUTS, Truth.YES, " ".join(_unaltered(found, sealed, given))), ()


def _since(asked: Proposal, sealed: Sealed, then: Remade | None, given: Given) -> Changes | None:
    """What became of the statements since the latest seal; None where they cannot be read as they were."""
    if then is None or then.then is None or then.then.casebook.proposal(asked.id) is None:
        return None
    return changes(then.then.casebook, given.casebook, asked.id, sealed.day)


def _between_seals(asked: Proposal, read: Reader, given: Given) -> Iterator[Point]:
    """What was altered between one seal of a decision and the next: sealing again hides nothing."""
    for before, after in pairwise(given.of(asked.id)):
        if before.what.files == after.what.files:
            continue
        old, new = read(before), read(after)
        if isinstance(old, str) or isinstance(new, str):
            why = old if isinstance(old, str) else new
            says = f"What was altered between entries {before.entry.sequence} and {after.entry.sequence}: {why}."
            yield Point(Kind.CANNOT_TELL, says, where=given.line_of(before.entry))
            continue
        if old.casebook.proposal(asked.id) and new.casebook.proposal(asked.id):
            found = changes(old.casebook, new.casebook, asked.id, before.day)
            when = f"Between the seals of {before.day} and {after.day} (entry {after.entry.sequence})"
            yield from (_altered(one, when, given) for one in found.altered)


def _altered(change: Change, when: str, given: Given) -> Point:
    says = f"{when} this was altered: {_words(change)}."
    return Point(Kind.FACT_ALTERED, says, where=given.where(change.said.where))


def _happened(change: Change, given: Given) -> Point:
    says = f"This changed with what has happened to the part since, and nobody can tell more: {_words(change)}."
    return Point(Kind.CANNOT_TELL, says, where=given.where(change.said.where))


def _words(change: Change) -> str:
    was, now = (listed(one.says or "nothing" for one in some) for some in (change.was, change.now))
    if not change.now:
        return f"{change.said.what}, which was '{_from(was, 0)}', is gone"
    alike = sum(1 for _ in takewhile(lambda two: two[0] == two[1], zip(was, now, strict=False)))
    return f"{change.said.what} was '{_from(was, alike)}' and is '{_from(now, alike)}'"


def _from(said: str, place: int) -> str:
    """A text, or of a long one what stands about a place in it."""
    if len(said) <= _LONG:
        return said
    start = max(0, min(place - _LONG // 4, len(said) - _LONG))
    end = "…" if start + _LONG < len(said) else ""
    return f"{'…' if start else ''}{said[start : start + _LONG]}{end}"


def _unaltered(found: Changes, sealed: Sealed, given: Given) -> Iterator[str]:
    """What is new, what was written in, and which files were changed all the same."""
    if found.replaced:
        told = listed(capital(_words(change)) for change in found.replaced[:_FEW])
        more = f" and {len(found.replaced) - _FEW} more" if len(found.replaced) > _FEW else ""
        yield f"What is dated later stands in the place of what it was made from: {told}{more}."
    else:
        yield "Everything that it was made from still stands."
    if found.since:
        yield f"New since the seal: {found.since}."
    if found.written_in:
        told = listed(f"{one.what} ({given.where(one.where)})" for one in found.written_in[:_FEW])
        more = f" and {len(found.written_in) - _FEW} more" if len(found.written_in) > _FEW else ""
        yield f"Written in since, in the place of nothing: {told}{more}."
    if not (found.since or found.written_in):
        files = sorted(_other_files(sealed, given))
        yield f"Something else was changed in {listed(files[:_FEW])}."


def _other_files(sealed: Sealed, given: Given) -> set[str]:
    then, now = given.listed(sealed.what.files), given.casebook.digests
    return {name for name in {*then, *now} if then.get(name) != now.get(name)}
