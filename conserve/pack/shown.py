"""Who is shown what: which evidence goes with a bundle, and the register as its readers may see it.

What nobody has said may be shown is not shown. Of what is not shown, the register keeps only what rules read, so
that a weighing comes out the same; its file, its digest, where it is kept and what it shows are left out.
"""

from __future__ import annotations

import json
import re
from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass

from conserve.casebook import Evidence
from conserve.casebook.model import Audience
from conserve.yamlfile import Entries, Items, Node, Text

_KEPT = frozenset(
    (
        *("kind", "date", "by", "about", "grade", "role", "competence", "answers", "states", "lapses", "instrument"),
        *("calibrated", "show"),
    )
)
_ORIGINAL = frozenset(("file", "digest", "size", "shown_as", "shown_digest"))
_HEAD = "# Written for this bundle. What its readers may not see has been left out of it; GUIDE.txt says which.\n"
_MAY_SEE = {
    Audience.ANYONE: frozenset((Audience.ANYONE,)),
    Audience.REVIEWERS: frozenset((Audience.ANYONE, Audience.REVIEWERS)),
}


@dataclass(frozen=True, slots=True)
class Withheld:
    """A piece of evidence that does not go with a bundle, and why."""

    id: str
    why: str


@dataclass(frozen=True, slots=True)
class ShownFile:
    """A file of evidence that goes with a bundle: below evidence/, with the digest that was registered ("": none)."""

    evidence: str
    name: str
    digest: str
    instead: bool  # of the original, which stays where it is

    @property
    def at(self) -> str:
        """Its name in the bundle. Programs that check bags do not agree on how a % is written, so it has none."""
        return self.name.replace("%", "_")

    @property
    def told_otherwise(self) -> bool:
        """Whether the register of the bundle names another file than the casebook's."""
        return self.instead or self.at != self.name


def withheld_from(evidence: Mapping[str, Evidence], audience: Audience) -> tuple[Withheld, ...]:
    """What an audience is not shown, by id."""
    hidden = (item for item in evidence.values() if item.show not in _MAY_SEE.get(audience, frozenset()))
    return tuple(sorted((Withheld(item.id, _why(item)) for item in hidden), key=lambda one: one.id))


def _why(item: Evidence) -> str:
    if item.show is None:
        return "nobody has said who may see it"
    return "it is for reviewers only" if item.show is Audience.REVIEWERS else "it is to be shown to nobody"


def shown_files(evidence: Mapping[str, Evidence], withheld: Iterable[Withheld]) -> tuple[ShownFile, ...]:
    """The files that go with a bundle, by the id of their evidence; in place of an original, its copy to be shown."""
    hidden = {one.id for one in withheld}
    return tuple(
        ShownFile(item.id, item.shown_as, item.shown_digest, True)
        if item.shown_as
        else ShownFile(item.id, item.file, item.digest, False)
        for _, item in sorted(evidence.items())
        if item.id not in hidden and (item.file or item.shown_as)
    )


# ---- the register ---------------------------------------------------------------------------------------


def register_as_shown(register: Node, withheld: Iterable[Withheld], shown: Iterable[ShownFile]) -> str:
    """The register's text without what its readers may not see, by id. Remarks in it are left out too."""
    hidden = {one.id for one in withheld}
    other = {one.evidence: one for one in shown if one.told_otherwise}
    entries = {key.value: entry for key, entry in register.items} if isinstance(register, Entries) else {}
    lines = [_HEAD]
    for name, entry in sorted(entries.items()):
        lines += [f"{name}:\n", *(_further_in(one) for one in _entry(entry, name in hidden, other.get(name)))]
    return "".join(lines)


def _entry(entry: Node, hidden: bool, other: ShownFile | None) -> Iterator[str]:
    """What the register says of one piece of evidence, a key at a time."""
    assert isinstance(entry, Entries)  # as it was read before
    for key, value in entry.items:
        if key.value in _KEPT or not (hidden or (other and key.value in _ORIGINAL)):
            yield _line(key, value)
    if hidden:
        yield "held: Not told to the readers of this bundle\n"
        yield "shows: Not shown to the readers of this bundle.\n"
    elif other is not None:
        yield f"file: {json.dumps(other.at, ensure_ascii=False)}\n"
        if other.digest:
            yield f"digest: {other.digest}\n"


def _line(key: Text, value: Node) -> str:
    """A key with what stands under it, in block style."""
    if isinstance(value, Text):
        return f"{_scalar(key)}: {_scalar(value)}\n"
    if not value.items:
        return f"{_scalar(key)}: {'{}' if isinstance(value, Entries) else '[]'}\n"
    return f"{_scalar(key)}:\n" + "".join(_further_in(one) for one in _below(value))


def _below(value: Entries | Items) -> Iterator[str]:
    if isinstance(value, Entries):
        yield from (_line(key, below) for key, below in value.items)
        return
    for item in value.items:
        if isinstance(item, Text):
            yield f"- {_scalar(item)}\n"
        elif item.items:
            yield "-\n" + "".join(_further_in(one) for one in _below(item))
        else:
            yield f"- {'{}' if isinstance(item, Entries) else '[]'}\n"


def _further_in(text: str) -> str:
    return re.sub("^", "  ", text.removesuffix("\n"), flags=re.MULTILINE) + "\n"


def _scalar(text: Text) -> str:
    """A scalar as it was written, or in quotes where it stood in quotes, in a block or on several lines."""
    if text.quoted or "\n" in text.value or not text.value:
        return json.dumps(text.value, ensure_ascii=False)
    return text.value


# ---- what must not be named -----------------------------------------------------------------------------


def traces(
    evidence: Mapping[str, Evidence], withheld: Iterable[Withheld], shown: Iterable[ShownFile]
) -> dict[str, str]:
    """What would tell of a file that is not shown, its name or its digest -> the id of its evidence."""
    found: dict[str, str] = {}
    told = {one.name.rpartition("/")[2] for one in shown}  # files in other folders may have the same name
    for item in (evidence[one.id] for one in withheld):
        for said in (item.file, item.shown_as):
            found |= {said: item.id}
            if (last := said.rpartition("/")[2]) not in told:
                found |= {last: item.id}
        found |= {item.digest: item.id, item.shown_digest: item.id}
    for one in shown:
        if one.instead and (digest := evidence[one.evidence].digest) and digest != one.digest:
            found[digest] = one.evidence
    return {said: name for said, name in sorted(found.items()) if said}


def twins(
    evidence: Mapping[str, Evidence], withheld: Iterable[Withheld], shown: Iterable[ShownFile]
) -> tuple[str, str] | None:
    """Evidence that is not shown, and evidence that is and has the same file; none where there are no two such."""
    hidden = tuple(evidence[one.id] for one in withheld)
    for one in shown:
        for item in hidden:
            names = {item.file, item.shown_as} - {""}
            if one.name in names or (one.digest and one.digest in (item.digest, item.shown_digest)):
                return item.id, one.evidence
    return None


def trace_in(text: str, told: Mapping[str, str]) -> tuple[int, str] | None:
    """The line, from 1, on which a text names something that is not shown, and the id of that evidence."""
    flat = " ".join(text.lower().split()) if told else ""  # a text may break its lines anywhere
    for said, name in told.items():
        if " ".join(said.lower().split()) not in flat:  # much quicker than to look for its place
            continue
        words = r"\s+".join(map(re.escape, said.split()))
        found = re.search(rf"(?<![\w-]){words}(?![\w-])", text, re.IGNORECASE)
        if found:
            return text.count("\n", 0, found.start()) + 1, name
    return None
