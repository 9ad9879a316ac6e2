"""Make a bundle: everything into a folder beside, whole and checked, before it gets its name."""

from __future__ import annotations

import os
import shutil
from collections.abc import Callable, Iterable, Iterator
from contextlib import contextmanager, suppress
from dataclasses import dataclass, replace
from datetime import date
from pathlib import Path

from conserve.casebook import Casebook
from conserve.casebook.model import Audience
from conserve.evidence.looking import location_in
from conserve.files import Folder
from conserve.pack.archive import write_zip
from conserve.pack.bag import PAYLOAD, Bag, Told
from conserve.pack.contents import Contents, home_of, identifier_of
from conserve.pack.copying import Changed, copy_casebook, copy_evidence, copy_rulebook, read_again
from conserve.pack.crate import FILE as CRATE
from conserve.pack.crate import crate
from conserve.pack.guide import FILE as GUIDE
from conserve.pack.guide import guide
from conserve.pack.provenance import FILE as PROVENANCE
from conserve.pack.provenance import provenance
from conserve.pack.refused import NotPacked
from conserve.pack.shown import ShownFile, Withheld, shown_files, trace_in, traces, twins, withheld_from
from conserve.pack.telling import made_of_object, made_of_weighings
from conserve.readiness.model import Profile
from conserve.rulebook import Rulebook
from conserve.seal import read_seals
from conserve.weighing import Weighing

Saying = Callable[[str], None]
Weigh = Callable[[Casebook, Rulebook], tuple[Weighing, ...]]


@dataclass(frozen=True, slots=True)
class Asked:
    """What a bundle is to be made of."""

    folder: Folder  # the casebook's
    casebook: Casebook
    rules: Folder
    rulebook: Rulebook
    weighings: tuple[Weighing, ...]  # of the casebook as it stands
    profile: Profile
    day: date
    to: Path  # the folder that it will stand in
    version: str
    word: bool = False
    pdf: bool = False

    @property
    def name(self) -> str:
        return f"{self.casebook.id}-{self.profile.id}-{self.day.isoformat()}"


@dataclass(frozen=True, slots=True)
class Packed:
    """A bundle that stands, whole."""

    folder: Path
    zip: Path
    files: int  # of its payload
    size: int  # of its payload, in bytes
    withheld: tuple[Withheld, ...]
    manifest: str  # the SHA-256 of manifest-sha256.txt
    seal: str  # the SHA-256 of tagmanifest-sha256.txt, which lists the manifests


def pack(asked: Asked, weigh: Weigh, told: Told = lambda _: None, saying: Saying = lambda _: None) -> Packed:
    """Write a bundle as a folder and as a zip file, or leave nothing.

    `weigh` weighs all proposals of a casebook as on the day asked for. `told` hears of every block that is copied, in
    bytes, and `saying` of every file that is made. Raises `NotPacked`, and `FileRefused` where a
    file cannot be opened or has changed.
    """
    folder, archive = check_place(asked.folder.root, asked.rules.root, asked.to, asked.name)
    with _beside(asked.to) as (building, zipped):
        bag = Bag(building)
        contents = _filled(bag, asked, weigh, told, saying)
        bag.close(_about(contents))
        names = [*sorted(bag.tags), *(f"{PAYLOAD}{name}" for name in sorted(bag.payload))]
        write_zip(building, names, zipped, asked.name, asked.day, told)
        check_place(asked.folder.root, asked.rules.root, asked.to, asked.name)  # someone may have been quicker
        os.rename(zipped, archive)
        try:
            os.rename(building, folder)
        except OSError:
            archive.unlink()
            raise
        _settle(asked.to)
    size = sum(sums.size for sums in bag.payload.values())
    manifest, seal = bag.tags["manifest-sha256.txt"].sha256, bag.tags["tagmanifest-sha256.txt"].sha256
    return Packed(folder, archive, len(bag.payload), size, contents.withheld, manifest, seal)


def check_place(casebook: Path, rules: Path, to: Path, name: str) -> tuple[Path, Path]:
    """Where a bundle will stand, or `NotPacked`: never in what it is made of, never in the place of something else."""
    if not name.isprintable() or "%" in name:
        raise NotPacked("the casebook's folder has a sign in its name that cannot stand in a bundle's", "rename it")
    if not to.is_dir():
        raise NotPacked(f"there is no folder '{to}'", "make it first")
    if to.resolve().is_relative_to(casebook.resolve()):
        raise NotPacked("a bundle does not belong in the casebook that it is made of", "--to FOLDER, outside of it")
    if to.resolve().is_relative_to(rules.resolve()):
        raise NotPacked("a bundle does not belong among the rules, which it would be read as", "--to another folder")
    folder, archive = to / name, to / f"{name}.zip"
    for path in (folder, archive):
        if os.path.lexists(path):
            raise NotPacked(f"'{path}' is there already, and is left as it is", "move it away, or --to another folder")
    return folder, archive


@contextmanager
def _beside(to: Path) -> Iterator[tuple[Path, Path]]:
    """A folder and a file with hidden names of their own, which are gone afterwards unless they were renamed."""
    building = to / f".packing-{os.urandom(8).hex()}"
    zipped = building.with_suffix(".zip")
    try:
        building.mkdir()
    except OSError as error:
        raise NotPacked(f"nothing can be written in '{to}': {(error.strerror or 'no reason given').lower()}") from None
    try:
        yield building, zipped
    finally:
        shutil.rmtree(building, ignore_errors=True)
        with suppress(FileNotFoundError):
            zipped.unlink()


def _settle(folder: Path) -> None:
    file = os.open(folder, os.O_RDONLY | os.O_DIRECTORY)
    try:
        os.fsync(file)
    finally:
        os.close(file)


# ---- what goes in ---------------------------------------------------------------------------------------


def _filled(bag: Bag, asked: Asked, weigh: Weigh, told: Told, saying: Saying) -> Contents:
    evidence, audience = asked.casebook.evidence, asked.profile.audience
    withheld = withheld_from(evidence, audience)
    shown = shown_files(evidence, withheld)
    if alike := twins(evidence, withheld, shown):
        sentence = f"'{alike[0]}' is not to be shown and '{alike[1]}' is, and both are the same file"
        raise NotPacked(sentence, "say the same of both under 'show:' in evidence/register.yaml")
    if audience is Audience.ANYONE:
        _check_no_place(asked.folder, shown)
    hidden = traces(evidence, withheld, shown)
    copy_casebook(bag, asked.folder, asked.casebook, withheld, shown, hidden, asked.profile.id)
    copy_evidence(bag, asked.folder, asked.casebook.id, shown, told)
    copy_rulebook(bag, asked.rules, asked.rulebook, asked.profile.id)
    casebook, rulebook = read_again(bag, asked.casebook.id, asked.rulebook)
    weighings = weigh(casebook, rulebook)
    _check_the_same(asked.weighings, weighings)
    inside = Folder(bag.path(home_of(asked.casebook.id)))
    contents = Contents(
        name=asked.name,
        profile=asked.profile.id,
        purpose=asked.profile.title,
        audience=asked.profile.audience.value,
        casebook=casebook,
        rulebook=rulebook,
        weighings=weighings,
        day=asked.day,
        version=asked.version,
        withheld=withheld,
        shown=shown,
        payload=bag.payload,
        seals=read_seals(inside, casebook, casebook.id),
    )
    for name, data in made_of_weighings(contents, inside, asked.word, asked.pdf):
        if name.endswith((".md", ".json", ".html")):
            _check_no_trace(name, data.decode("utf-8"), hidden)
        saying(name)
        bag.put(f"{contents.home}{name}", data)
    for name, text in made_of_object(contents, asked.profile, asked.weighings, asked.casebook, asked.folder):
        _check_no_trace(name, text, hidden)
        saying(name)
        bag.put(name, text)
    bag.put(GUIDE, guide(contents))
    contents = replace(contents, identifier=identifier_of(asked.name, bag.payload))
    bag.put(PROVENANCE, provenance(contents))
    bag.put(CRATE, crate(contents))
    return contents


def _check_no_place(folder: Folder, shown: Iterable[ShownFile]) -> None:
    """What goes to everyone must not say where it was taken (C093 of the register)."""
    for one in shown:
        if location_in(folder, f"evidence/{one.name}"):
            sentence = f"evidence/{one.name} ('{one.evidence}') says where it was taken, and this bundle is for anyone"
            raise NotPacked(sentence, "'conserve evidence check' says what to do")


def _check_the_same(before: Iterable[Weighing], after: Iterable[Weighing]) -> None:
    """What is withheld must not change what is concluded."""
    for was, now in zip(before, after, strict=True):
        if (was.verdicts, was.chosen, was.conclusion) != (now.verdicts, now.chosen, now.conclusion):
            raise Changed(was.proposal.id)


def _check_no_trace(name: str, text: str, hidden: dict[str, str]) -> None:
    if found := trace_in(text, hidden):
        hint = "give the file a name that is no common word; if it has one, report this as a fault"
        raise NotPacked(f"{name} would name the file of '{found[1]}', which is withheld", hint)


def _about(contents: Contents) -> list[tuple[str, str]]:
    return [
        ("Source-Organization", contents.casebook.object.owner),
        ("Bagging-Date", contents.day.isoformat()),
        ("External-Identifier", f"urn:uuid:{contents.identifier}"),
        ("External-Description", f"{contents.casebook.object.name}: evidence for '{contents.purpose}'"),
        ("Bag-Software-Agent", f"conserve {contents.version}"),
    ]
