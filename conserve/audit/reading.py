"""The casebook and the rules as they stood when something was sealed, read again from what was kept."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from functools import lru_cache

from conserve.audit.given import Given, Sealed
from conserve.audit.rules_kept import Rules, rules_of
from conserve.casebook import Casebook, read_casebook
from conserve.files import FileRefused
from conserve.rulebook import Rulebook, read_rulebook
from conserve.seal import NotKept, as_sealed, rulebook_folder
from conserve.seal.model import SealedDecision

_AT_HAND = 4  # casebooks and rulebooks that are held at once: decisions of one seal come one after another


@dataclass(frozen=True, slots=True)
class AsSealed:
    """A casebook and the rules as they stood when something was sealed."""

    casebook: Casebook
    rulebook: Rulebook


Reader = Callable[[Sealed], AsSealed | str]


def reader(given: Given) -> Reader:
    """What reads an entry's casebook and rules as they were sealed, or says in a sentence why they cannot be had.

    What several entries were sealed from alike is read once, if they come one after another.
    """

    @lru_cache(maxsize=_AT_HAND)
    def rulebook(rules: Rules) -> Rulebook | str:
        return given.rulebook if rules == given.rulebook_key else _kept_rulebook(given, *rules)

    @lru_cache(maxsize=_AT_HAND)
    def casebook(files: str, rules: Rules) -> AsSealed | str:
        return _as_sealed(made[files, rules], rulebook(rules), given)

    made: dict[object, SealedDecision] = {}

    def read(one: Sealed) -> AsSealed | str:
        key = alike(one)
        made[key] = one.what
        found = casebook(*key)
        del made[key]
        return found

    return read


def alike(one: Sealed) -> tuple[str, Rules]:
    """What decisions have in common that were sealed from the same files and rules."""
    return one.what.files, rules_of(one)


def _kept_rulebook(given: Given, digest: str, overlays: tuple[str, ...]) -> Rulebook | str:
    """The rules as they were kept; or why they cannot be had, in a sentence."""
    try:
        rulebook, problems = read_rulebook(rulebook_folder(given.folder, digest), overlays)
    except (NotKept, FileRefused) as error:
        return f"the rules that it was weighed by are not here as they were kept: {error}"
    if rulebook is None:
        return f"the rules that it was weighed by do not read: {problems[0].message} ({problems[0].where})"
    if rulebook.digest != digest:
        return "the rules that were kept for it are not those that it was weighed by"
    return rulebook


def _as_sealed(what: SealedDecision, rulebook: Rulebook | str, given: Given) -> AsSealed | str:
    """The casebook as it was sealed; or why it cannot be had, in a sentence."""
    if isinstance(rulebook, str):
        return rulebook
    files = given.listed(what.files)
    gone = next((given.unkept[d] for d in (what.files, *files.values()) if d in given.unkept), "")
    if gone:
        return f"a file that it was made from is not there as it was kept: {gone}"
    if files == given.casebook.digests and rulebook.digest == given.rulebook.digest:
        return AsSealed(given.casebook, rulebook)
    try:
        folder = as_sealed(given.folder, what)
        casebook, problems = read_casebook(folder, rulebook.vocabulary, given.casebook.id, given.shown)
    except (NotKept, FileRefused) as error:
        return f"what it was made from is not here as it was kept: {error}"
    if casebook is None:
        return f"the casebook as it was sealed does not read: {problems[0].message} ({problems[0].where})"
    return AsSealed(casebook, rulebook)
