"""The rules that a decision was weighed by, kept beside it: a folder that reads as the same rulebook."""

from __future__ import annotations

import re

from conserve.files import FileRefused, Folder
from conserve.rulebook import Rulebook, digest_of_files, files_of
from conserve.seal.refused import NotKept, NotSealed

RULEBOOKS = "rulebooks"
_DIGEST = re.compile("[0-9a-f]{64}").fullmatch


def keep_rulebook(folder: Folder, rules: Folder, rulebook: Rulebook) -> None:
    """Keep what a rulebook was read from, once, as `rulebooks/DIGEST/`. The caller holds `files.in_turn`.

    Raises `NotSealed` where the rules were changed since they were read, or what is kept was altered.
    """
    overlays = tuple(overlay.name for overlay in rulebook.overlays)
    if _digest(rules, overlays) != rulebook.digest:
        raise NotSealed("the rules were changed after they were read; nothing is sealed", "try again")
    name = _name(rulebook.digest)
    if not folder.names(name, ".yaml"):
        folder.add_folder(name, {file: rules.read_bytes(file) for file in files_of(rules, overlays)})
    if _digest(rulebook_folder(folder, rulebook.digest), overlays) != rulebook.digest:
        said = f"the rules that are kept in '{name}' were altered; nothing is sealed"
        raise NotSealed(said, "put them back as they were, from a copy")


def rulebook_folder(folder: Folder, digest: str) -> Folder:
    """The folder of a rulebook that is kept. What stands in it is not held against its digest here.

    Raises `NotKept` where there is none.
    """
    name = _name(digest)
    try:
        there = folder.names(name, ".yaml")
    except FileRefused as refused:
        raise NotKept(refused.reason) from None
    if not there:
        raise NotKept(f"the rules are not kept: there is no folder '{name}' with any")
    return Folder(folder.root / RULEBOOKS / digest)


def _name(digest: str) -> str:
    if not _DIGEST(digest):
        raise NotKept(f"{digest!a} is no digest of rules that are kept")
    return f"{RULEBOOKS}/{digest}"


def _digest(rules: Folder, overlays: tuple[str, ...]) -> str:
    try:
        return digest_of_files(rules, files_of(rules, overlays))
    except FileRefused:
        return ""  # what cannot be opened is not as it was
