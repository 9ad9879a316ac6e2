"""The evidence behind a decision, and the bytes of its files."""

from __future__ import annotations

from collections.abc import Iterable, Iterator

from conserve.casebook import Casebook, Evidence, Facts, Proposal
from conserve.evidence.checking import used_by
from conserve.evidence.looking import Watch
from conserve.files import FileRefused, Folder, digest_of
from conserve.seal.refused import NotSealed
from conserve.weighing import Weighing


def behind(casebook: Casebook, proposal: Proposal) -> tuple[Evidence, ...]:
    """The evidence about the parts of a proposal or about the object, and what it, they or the object name."""
    about, names = {"object", *proposal.components}, {*used_by(proposal), *_named(casebook.object.facts)}
    for part in (casebook.components[name] for name in proposal.components):
        names.update(_named(part.facts))
        for thing in part.known_things():
            names.update(_named(thing.facts))
    return tuple(item for item in casebook.evidence.values() if item.id in names or not about.isdisjoint(item.about))


def _named(facts: Facts) -> Iterator[str]:
    return (name for found in facts.values() for stated in found for name in stated.evidence)


def files_behind(weighing: Weighing) -> tuple[str, ...]:
    """The names of the files of evidence behind a decision, in the casebook's folder, sorted."""
    found = behind(weighing.casebook, weighing.proposal)
    return tuple(sorted({f"evidence/{item.file}" for item in found if item.file}))


def digests_behind(folder: Folder, weighings: Iterable[Weighing], watch: Watch) -> dict[str, str]:
    """Each file of evidence behind decisions -> its digest; each is read once, whatever its size."""
    found = {}
    for name in sorted({name for weighing in weighings for name in files_behind(weighing)}):
        try:
            with folder.opened(name) as file:
                size = file.seek(0, 2)
            found[name] = digest_of(watch(folder.blocks(name), size, "sealing"))
        except FileRefused as refused:
            raise NotSealed(f"{refused.reason}; nothing is sealed", "put it back as it was, from a copy") from None
    return found
