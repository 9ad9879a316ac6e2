"""What `check` says of statements that are kept and bundles that were sent: what a changed fact has overtaken."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date
from typing import TYPE_CHECKING, Any

from conserve.cli.reading import Broken, Read
from conserve.cli.showing import counted, in_colour, wrapped

if TYPE_CHECKING:
    from conserve.seal import Seals
    from conserve.statement import Document, Overtaken, Sent

MOST_TOLD = 12  # paragraphs told of one statement; --json tells them all
_ONLY_THE_DAY = "the day alone, or this program, for nothing that it was made from has changed"


@dataclass(frozen=True, slots=True)
class Held:
    """A statement that is kept, or was sent, and what of it has been overtaken."""

    file: str
    day: str  # as at which it was made
    overtaken: tuple[Overtaken, ...]
    sent: Sent | None = None

    @property
    def because(self) -> tuple[str, ...]:
        return tuple(sorted({name for one in self.overtaken for name in one.because}))


def held_against(read: Read, seals: Seals, as_json: bool) -> tuple[Held, ...]:
    """Hold every statement that is kept or was sent against the casebook as it is now.

    Nothing is weighed where there is none, or where nothing has changed since. Raises Broken for one that is unsound.
    """
    if not _any(read):
        return ()
    from conserve.statement import read_index, read_sent  # slow to load

    own, problems = read_index(read.folder, read.place.shown)
    sent, of_sent = read_sent(read.folder, read.place.shown)
    if problems or of_sent:
        raise Broken((*problems, *of_sent), {read.place.shown: read.folder}, as_json, answer=True)
    made: dict[date, Document] = {}
    found = [_held(read, seals, "statement/statement.json", own, made)] if own else []
    return (*found, *(_held(read, seals, one.file, one.index, made, one) for one in sent))


def _any(read: Read) -> bool:
    return any(read.folder.names(under, ".json") for under in ("statement", "sent"))


def _held(
    read: Read,
    seals: Seals,
    file: str,
    then: Mapping[str, Any],
    made: dict[date, Document],
    sent: Sent | None = None,
) -> Held:
    from conserve.statement import overtaken
    from conserve.statement.indexing import still_as

    casebook, day = read.casebook, str(then["day"])
    now = max(date.fromisoformat(then["day"]), casebook.as_at) if then["day"] else casebook.as_at
    if still_as(then, {**casebook.digests, **seals.files}, read.rulebook.digest, now):
        return Held(file, day, (), sent)
    if now not in made:
        made[now] = document_on(read, seals, now)
    return Held(file, day, overtaken(made[now], then), sent)


def document_on(read: Read, seals: Seals, day: date) -> Document:
    """The statement of a casebook as it is now, as on a day."""
    from conserve.cli.weighing import weigh_these
    from conserve.statement import document_of

    weighings = weigh_these(read.casebook.proposals, read, day)
    return document_of(weighings, read.casebook, read.rulebook, day, seals)


# ---- telling -------------------------------------------------------------------------------------------


def as_data(held: Iterable[Held]) -> list[dict[str, object]]:
    """The same for programs."""
    return [
        {
            "file": one.file,
            "as_at": one.day,
            "sent": one.sent and {"to": one.sent.to, "on": one.sent.on.isoformat(), "profile": one.sent.profile},
            "because": list(one.because),
            "overtaken": [
                {"where": each.where, "how": each.how, "says": each.says, "because": list(each.because)}
                for each in one.overtaken
            ],
        }
        for one in held
    ]


def in_words(held: Iterable[Held]) -> Iterator[str]:
    """What has been overtaken, for people: of the statement paragraph by paragraph, of bundles by their number."""
    for one in held:
        if not one.overtaken:
            yield wrapped(f"{_name(one)} still says what would be written now.")
            continue
        paragraphs = counted(len(one.overtaken), "paragraph is", "paragraphs are")
        said = f"{_name(one)}: {paragraphs} overtaken, because of {', '.join(one.because) or _ONLY_THE_DAY}."
        yield in_colour(wrapped(said), "doubt")
        if one.sent is None:
            yield from _paragraphs(one)
            yield "To bring it up to date: conserve statement"


def _name(one: Held) -> str:
    if one.sent is None:
        return f"The statement as at {one.day}"
    return f"The bundle sent to {one.sent.to} on {one.sent.on} ({one.sent.profile})"


def _paragraphs(one: Held) -> Iterator[str]:
    for each in one.overtaken[:MOST_TOLD]:
        of = f", because of {', '.join(each.because)}" if each.because else ""
        yield wrapped(f"{each.where}: {each.how}{of}.", "      ", "    ")
        if each.says:
            yield wrapped(f"Now: {each.says}", "        ", "      ")
    if len(one.overtaken) > MOST_TOLD:
        yield f"    And {len(one.overtaken) - MOST_TOLD} more: --json tells them all."
