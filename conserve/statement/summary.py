"""How to read a statement, and what is decided, waiting and refused, in five sentences."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from conserve.explanation import listed
from conserve.statement.given import Given, items, proposal_of, prose, record_of
from conserve.statement.model import Block, Prose, Section
from conserve.statement.sealed import in_short
from conserve.weighing.model import Verdict, Weighing

_HOW = {
    "what": "It is put together from the casebook: what people have written down of the object, and what the rules say "
    "of it. Nothing stands here that stands nowhere else.",
    "from": "Each sentence tells what it was made from. The last part lists these things, each with its digest: a "
    "number that changes as soon as anything there changes.",
    "silence": "Where nobody has written a thing, that is said. Silence is never taken for a no.",
    "verdicts": "'Justified' says that nothing in the rules stands against an option and that no gentler one would do. "
    "'With requirements' says what must still be there. 'Not yet shown' says that something has to be found out. "
    "'Refer' says that a competent person has to answer first. 'Not justified' says that it must not be done as it is "
    "put forward.",
    "who-decides": "A verdict is no decision. Only people decide, and what they decide is told with their names.",
}


def how_to_read() -> Section:
    """What a statement is, and what the words in it mean."""
    return Section(
        "how-to-read", "How to read this", (*items("how", (prose(name, says) for name, says in _HOW.items())),)
    )


def summary(given: Given) -> Section:
    """What is decided, waiting and refused."""
    return Section("summary", "In short", tuple(_summary(given)))


def _summary(given: Given) -> Iterator[Block]:
    files = [proposal_of(weighing) for weighing in given.weighings]
    parts = len({name for weighing in given.weighings for name in weighing.proposal.components})
    asked = _count(len(given.weighings), "question has", "questions have")
    of = f"{parts} of its {len(given.casebook.components)} parts"
    care = f", {len(given.care)} of them for care under its owner's policy" if given.care else ""
    whole = f"Of the {_bare(given.casebook.object.name)} {asked} been put, about {of}{care}."
    yield prose("asked", whole, files, given.object_file)
    if not given.weighings:
        return
    stands = [w for w in given.undecided if w.verdict.stands]
    waits = [w for w in given.undecided if w.verdict in (Verdict.REFER, Verdict.NOT_YET_SHOWN)]
    refused = [w for w in given.undecided if w.verdict is Verdict.NOT_JUSTIFIED]
    yield _said("decided", "Decided by a person", given.decided, "Nobody has decided any of them")
    yield _said(
        "could-be-decided", "Not decided, but what is put forward would stand", stands,
        "Nothing else that is put forward would stand as it is",
    )  # fmt: skip
    yield _said(
        "waiting", "Waiting for an answer or for a competent person", waits,
        "Nothing waits for an answer or for a competent person",
    )  # fmt: skip
    yield _refused(refused, [w for w in given.decided if not w.verdict.stands])
    yield from in_short(given)


def _bare(name: str) -> str:
    return name.removeprefix("The ").removeprefix("the ")


def _count(number: int, one: str, many: str) -> str:
    return f"{number} {one if number == 1 else many}"


def _said(name: str, what: str, found: Iterable[Weighing], otherwise: str) -> Prose:
    of = list(found)
    told = "; ".join(_lowered(weighing) for weighing in of)
    return prose(name, f"{what} ({len(of)}): {told}." if of else f"{otherwise}.", *(record_of(w) for w in of))


def _lowered(weighing: Weighing) -> str:
    title = weighing.proposal.title.rstrip(".")
    return f"{title} ('{weighing.chosen}')"


def _refused(refused: list[Weighing], against: list[Weighing]) -> Prose:
    """What may not be done as it is put forward, and what was chosen all the same."""
    first = _said("refused", "Not to be done as it is put forward", refused, "Nothing put forward is refused")
    if not against:
        return first
    said = f" Chosen all the same, against the verdict: {listed(w.proposal.title for w in against)}."
    return prose("refused", first.says + said, first.made_from, *(record_of(w) for w in against))
