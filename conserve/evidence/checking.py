"""The register held against its files.

C070  a file is not there, is a link, or leads outside (a casebook with such a name is not read at all)
C089  an entry names neither a file nor a place where it is held
C090  a file is not the one that was registered: its digest or size is another, or no digest was written down
C091  files and entries are not one to one: a file or a link without an entry, one file or one digest in two entries
C092  an instrument is named, and nobody says when it was calibrated; or it was calibrated after the day of the entry
C093  anyone may be shown a picture that says where it was taken

What may well be so, and is only worth a look, is a remark: a file that nothing uses, a calibration more than a year
old. How long a calibration holds is for whoever owns the instrument (common practice, no published source).
"""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass
from datetime import date

from conserve.casebook import Casebook, Evidence
from conserve.casebook.checking import check_files
from conserve.casebook.model import Audience, Facts, Proposal
from conserve.evidence.entry import REGISTER
from conserve.evidence.looking import Watch, location_in, unwatched
from conserve.files import WRITING, FileRefused, Folder, digest_of
from conserve.problem import Location, Problem
from conserve.shape import Problems

_YEAR = 366  # days
# Pictures that may say where they were taken, where their metadata cannot be read here.
_UNREAD = (".jpg", ".jpeg", ".png", ".heic", ".heif", ".avif", ".dng", ".tif", ".tiff", ".webp", ".mov", ".mp4")


@dataclass(frozen=True, slots=True, order=True)
class Remark:
    """Something about an entry that is worth a look, and need not be wrong."""

    where: Location
    says: str


def checked(casebook: Casebook, folder: Folder, watch: Watch = unwatched) -> Iterator[Problem | Remark]:
    """Everything that does not fit between a casebook's register and its files, and what is worth a look.

    Every registered file is read to its end, in blocks. `folder` is the casebook's.
    """
    shown = casebook.object.where.file.removesuffix("object.yaml").removesuffix("/")
    yield from held_against(casebook.evidence, folder, shown, watch)
    used = set(_used(casebook))
    for item in casebook.evidence.values():
        if item.file and not (item.id in used or item.answers or item.states):
            yield Remark(item.where, f"'{item.id}' is registered, and nothing in the casebook names it")


def held_against(
    evidence: Mapping[str, Evidence], folder: Folder, shown: str, watch: Watch = unwatched
) -> Iterator[Problem | Remark]:
    """The same for a register alone, where the rest of its casebook cannot be read."""
    into = Problems("C")
    for item in evidence.values():
        check_files(item, folder, into)
        yield from _calibration(item)
        for key in ("file", "shown_as"):
            yield from _file(item, key, folder, watch)
        yield from _place_shown(item, folder)
    yield from into.all
    yield from _twice(evidence.values())
    yield from _without_an_entry(evidence.values(), folder, Location(f"{shown}/{REGISTER}"))


# ---- one entry -------------------------------------------------------------------------------------------------


def _file(item: Evidence, key: str, folder: Folder, watch: Watch) -> Iterator[Problem]:
    """Whether a file is still the one that was registered."""
    name, digest_key = (item.file, "digest") if key == "file" else (item.shown_as, "shown_digest")
    digest = item.digest if key == "file" else item.shown_digest
    if not name:
        return
    try:
        with folder.opened(f"evidence/{name}") as file:
            size = file.seek(0, 2)
        found = digest_of(watch(folder.blocks(f"evidence/{name}"), size, "checking"))
    except FileRefused:
        return  # told by `check_files`
    if not digest:
        hint = f"if it is as it was: {digest_key}: {found}"
        said = f"no {digest_key} of '{name}' is written down, so nobody can tell whether it was changed"
        yield Problem(item.places[key], "C090", said, hint)
    elif digest != found:
        hint = "put the file back as it was, or register the other one under a name of its own"
        yield Problem(item.places[digest_key], "C090", f"'{name}' is not the file that was registered", hint)
    elif key == "file" and item.size not in (None, size):
        yield Problem(item.places["size"], "C090", f"'{name}' has {size} bytes", "write its size as it is")


def _calibration(item: Evidence) -> Iterator[Problem | Remark]:
    if not item.instrument:
        return
    if item.calibrated is None:
        hint = "calibrated: DATE of the last one before it was used, or calibrated: none"
        yield Problem(item.places["instrument"], "C092", "nobody says when this instrument was calibrated", hint)
    elif item.calibrated > item.on:
        said = f"a calibration after {item.on} says nothing of readings on that day"
        yield Problem(item.places["calibrated"], "C092", said, "write the last one before it, or none")
    elif item.calibrated == date.min:
        yield Remark(item.places["calibrated"], f"the instrument behind '{item.id}' was never calibrated")
    elif (item.on - item.calibrated).days > _YEAR:
        said = f"the instrument behind '{item.id}' had been calibrated more than a year before, on {item.calibrated}"
        yield Remark(item.places["calibrated"], said)


def _place_shown(item: Evidence, folder: Folder) -> Iterator[Problem | Remark]:
    """Whether what anyone may be shown says where it was taken."""
    name, key = (item.shown_as, "shown_as") if item.shown_as else (item.file, "file")
    if item.show is not Audience.ANYONE or not name:
        return
    try:
        placed = location_in(folder, f"evidence/{name}")
    except FileRefused:
        return
    if placed:
        hint = "show: reviewers, or name a copy without it under 'shown_as:', as --hide-location does on adding"
        yield Problem(item.places[key], "C093", f"'{name}' says where it was taken, and anyone may be shown it", hint)
    elif placed is None and name.lower().endswith(_UNREAD):
        yield Remark(item.places[key], f"nobody can tell here whether '{name}' says where it was taken")


# ---- files and entries -------------------------------------------------------------------------------------------


def _twice(evidence: Iterable[Evidence]) -> Iterator[Problem]:
    """One file, or the same bytes, in two entries: told at the later one."""
    seen: dict[str, Evidence] = {}
    for item in sorted(evidence, key=lambda item: item.where):
        told = False
        for key, what in ((item.file, "file"), (item.digest, "digest")):
            first = seen.setdefault(f"{what} {key}", item) if key and item.file else item
            if first is not item and not told:
                told = True
                said = f"'{item.id}' and '{first.id}' have the same {what}"
                yield Problem(item.places[what], "C091", said, f"keep one of them; see {first.where}")


def _without_an_entry(evidence: Iterable[Evidence], folder: Folder, where: Location) -> Iterator[Problem | Remark]:
    known = {REGISTER, *(f"evidence/{name}" for item in evidence for name in (item.file, item.shown_as) if name)}
    above = where.file.removesuffix(REGISTER)
    for name in folder.names("evidence", ""):
        if name in known:
            continue
        try:
            folder.check(name)
        except FileRefused as refused:
            yield Problem(where, "C091", f"{refused.reason}, and it has no entry", "put the file itself there")
        else:
            said, hint = f"'{name}' has no entry in the register", f"conserve evidence add {_quoted(f'{above}{name}')}"
            yield Problem(where, "C091", said, f"{hint} registers it where it is; or move it out of evidence/")
    for name in _left_over(folder):
        yield Remark(where, f"'{name}' was left by a copy that was cut off; it is of no use and may be deleted")


def _quoted(name: str) -> str:
    import shlex

    return shlex.quote(name)


def _left_over(folder: Folder) -> Iterator[str]:
    """What was being written when a machine stopped; hidden, and so not among the names of a folder."""
    for above in ("evidence", "evidence/shown"):
        at = folder.root / above
        if at.is_dir() and not at.is_symlink():
            yield from sorted(f"{above}/{found.name}" for found in at.glob(f"{WRITING}*"))


# ---- what is used -------------------------------------------------------------------------------------------------


def _used(casebook: Casebook) -> Iterator[str]:
    """The ids of all evidence that something in a casebook names."""
    yield from _behind(casebook.object.facts)
    for part in casebook.components.values():
        for facts in (part.facts, *(thing.facts for thing in part.known_things())):
            yield from _behind(facts)
    for proposal in casebook.proposals:
        yield from used_by(proposal)


def used_by(proposal: Proposal) -> Iterator[str]:
    """The ids of all evidence that a proposal names."""
    yield from _behind(proposal.facts)
    for option in proposal.options:
        yield from _behind(option.facts)
        for act in option.acts:
            yield from (*act.evidence, *_behind(act.facts))
        for resource in option.resources or ():
            yield from resource.evidence
    for met in proposal.work.met if proposal.work else ():
        yield from met.evidence


def _behind(facts: Facts) -> Iterator[str]:
    return (name for found in facts.values() for stated in found for name in stated.evidence)
