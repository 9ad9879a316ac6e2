"""Take a file in as evidence: copied byte for byte, digested, and entered in the register, or nothing at all.

What is guaranteed. The register is read with the new entry in it before anything is written. The files are written
first and the register last, each whole or not at all: if the machine stops in between, a file stands in evidence/
without an entry, `checked` names it, and nothing else is changed. On one machine, those who add take turns. Whoever
edits the register by hand meanwhile loses nothing: it is compared just before it is replaced.
"""

from __future__ import annotations

import unicodedata
from collections.abc import Iterable, Iterator, Mapping
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path

from conserve.casebook import Evidence
from conserve.evidence.entry import REGISTER, Said, appended
from conserve.evidence.filling import NotAdded, filled_in, id_like, must_be_said
from conserve.evidence.looking import FileFacts, Watch, facts_of, unwatched, without_location
from conserve.files import FileRefused, Folder, WithMore, digest_of

_SHOWN = "shown"  # the folder below evidence/ for copies that may be shown


@dataclass(frozen=True, slots=True)
class Addition:
    """A file that is to be taken in, and all that will be written of it. Names are relative to the casebook."""

    id: str
    source: Folder
    source_name: str
    name: str  # evidence/NAME
    copied: bool  # False: it stands in evidence/ already
    facts: FileFacts
    said: Mapping[str, Said]
    shown: str  # evidence/shown/NAME; "" for none
    before: bytes | None  # the register; None where there is none yet
    after: bytes
    told: tuple[str, ...]  # what was filled in and from where, and what to think of

    def seen_with(self, root: Path) -> Folder:
        """The casebook's folder as it will be."""
        files = {name: b"" for name in (self.name, self.shown) if name}
        return WithMore(root, {**files, REGISTER: self.after})


def addition(
    path: Path,
    root: Path,
    evidence: Mapping[str, Evidence],
    given: Mapping[str, Said],
    name: str = "",
    hide: bool = False,
    watch: Watch = unwatched,
) -> Addition:
    """What taking a file in would come to. `given` is what a person says, by the register's keys.

    Writes nothing. Raises `NotAdded`, `CannotHide`, `FileRefused`.
    """
    folder, source = Folder(root), Folder(path.parent)
    target, copied = _target(path, root)
    source.check(path.name)
    _must_be_free(target, copied, folder, evidence)
    facts = facts_of(source, path.name, watch)
    _must_be_new(facts, folder, evidence)
    said = {key: value for key, value in given.items() if value}
    filled, told = filled_in(path, facts, said, hide)
    said = {**filled, **said, "file": target.removeprefix("evidence/"), "digest": facts.digest, "size": str(facts.size)}
    must_be_said(said)
    shown = ""
    if hide:
        shown = f"evidence/{_SHOWN}/{target.rpartition('/')[2]}"
        _must_be_absent(shown, folder)
        said["shown_as"] = shown.removeprefix("evidence/")
        said["shown_digest"] = digest_of(watch(without_location(source, path.name), facts.size, "reading"))
    entry = name or id_like(path.stem)
    if entry in evidence:
        raise NotAdded(f"there is an entry '{entry}' already", "give this one another with --id")
    before = _register(folder)
    after = appended(before, entry, said)
    return Addition(entry, source, path.name, target, copied, facts, said, shown, before, after, told)


def take_in(root: Path, add: Addition, watch: Watch = unwatched) -> None:
    """Write the files, then the register; if it cannot be done, take away what was written of it."""
    folder, written = Folder(root), []
    try:
        if add.copied:
            blocks = watch(add.source.blocks(add.source_name), add.facts.size, "copying")
            folder.add_blocks(add.name, _same(blocks, add.facts.digest))
            written.append(add.name)
        if add.shown:
            blocks = watch(without_location(folder, add.name), add.facts.size, "copying")
            folder.add_blocks(add.shown, _same(blocks, str(add.said["shown_digest"])))
            written.append(add.shown)
        if _register(folder) != add.before:
            raise NotAdded("the register was changed meanwhile; nothing was added", "try again")
        if add.before is None:
            folder.add(REGISTER, add.after)
        else:
            folder.put(REGISTER, add.after)
    except BaseException:
        if not _entered(folder, add):
            for name in written:
                with suppress(OSError, FileRefused):
                    folder.remove(name)
        raise


def _entered(folder: Folder, add: Addition) -> bool:
    """Whether the register names the file already, so that it must stay whatever stopped us."""
    try:
        return _register(folder) == add.after
    except (OSError, FileRefused):
        return True  # nobody can tell: a file too many is told by `checked`, a file that is gone is lost


def _same(blocks: Iterable[bytes], digest: str) -> Iterator[bytes]:
    """Give blocks on, and refuse at their end if they are not those that were read before."""
    import hashlib

    sum_of = hashlib.sha256()
    for block in blocks:
        sum_of.update(block)
        yield block
    if sum_of.hexdigest() != digest:
        raise NotAdded("the file was changed while it was copied; nothing was added", "try again")


# ---- where it goes -------------------------------------------------------------------------------------------


def _target(path: Path, root: Path) -> tuple[str, bool]:
    """The name under which the casebook keeps a file, and whether it has to be copied there."""
    name, home = path.name, (root / "evidence").resolve()
    above = path.parent.resolve()
    if not name or name.startswith(".") or not name.isprintable() or "\\" in name:
        hint = "give it a name that begins with a letter or a digit"
        raise NotAdded(f"{name!a} is no name for a file of evidence", hint)
    if above.is_relative_to(home):
        inside = (above / name).relative_to(home).as_posix()
        if inside == REGISTER.removeprefix("evidence/"):
            raise NotAdded("the register is no evidence itself", "name the file to be added")
        return f"evidence/{inside}", False
    if name == REGISTER.removeprefix("evidence/"):
        raise NotAdded(f"'{name}' is the name of the register itself", "give the file another name")
    return f"evidence/{name}", True


def _must_be_free(target: str, copied: bool, folder: Folder, evidence: Mapping[str, Evidence]) -> None:
    for item in evidence.values():
        if target in (f"evidence/{item.file}", f"evidence/{item.shown_as}"):
            raise NotAdded(f"'{target}' is registered already, as '{item.id}'", "give the file another name")
    if copied:
        _must_be_absent(target, folder)


def _must_be_absent(target: str, folder: Folder) -> None:
    for name in folder.names("evidence", ""):
        if name == target:
            hint = "if it is the file, name it where it stands; otherwise give yours another name"
            raise NotAdded(f"'{target}' is there already, and is left as it is", hint)
        if _alike(name) == _alike(target):
            hint = "give the file another name"
            raise NotAdded(f"'{target}' and '{name}' would be one file on some systems", hint)


def _alike(name: str) -> str:
    return unicodedata.normalize("NFC", name).casefold()


def _must_be_new(facts: FileFacts, folder: Folder, evidence: Mapping[str, Evidence]) -> None:
    """The same bytes are registered once; of an entry without a digest the file itself is read."""
    for item in evidence.values():
        if item.file and (item.digest or folder.digest(f"evidence/{item.file}")) == facts.digest:
            hint = "name that entry wherever it is evidence"
            raise NotAdded(f"the same file is registered already, as '{item.id}' ({item.file})", hint)


def _register(folder: Folder) -> bytes | None:
    try:
        return folder.read_bytes(REGISTER)
    except FileRefused as refused:
        if refused.kind == "missing":
            return None
        raise
