"""Whether the rules that were kept at a seal are as they were, and whether they are those of today."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from itertools import chain

from conserve.audit.given import Given, Sealed
from conserve.audit.model import Answer, Asked, Kind, Point
from conserve.explanation import listed
from conserve.files import FileRefused, Folder
from conserve.rulebook.reading import digest_of_files, files_of
from conserve.seal import NotKept, rulebook_folder
from conserve.truth import Truth

Rules = tuple[str, tuple[str, ...]]  # a digest, and the overlays that were laid over it


def rules_of(one: Sealed) -> Rules:
    """The rules that a decision was sealed with."""
    return one.what.rulebook, tuple(sorted(one.what.overlays))


def altered_rules(given: Given) -> dict[Rules, str]:
    """What is wrong with each rulebook that was kept at any seal, in a sentence; "" where it is as it was."""
    every = {rules_of(one) for one in chain.from_iterable(given.sealed.values())}
    return {rules: _altered(*rules, given) for rules in sorted(every)}


def rule_points(altered: Mapping[Rules, str]) -> Iterator[Point]:
    """A point for each rulebook that is not as it was kept."""
    for (digest, _), why in altered.items():
        if why:
            yield Point(Kind.RULES_ALTERED, why, where=f"rulebooks/{digest}")


def rulebook_of(one: Sealed | None, altered: Mapping[Rules, str], given: Given) -> Answer:
    """Whether a decision was sealed with the rules of today."""
    if one is None:
        return Answer(Asked.RULEBOOK, None, "It was never sealed.")
    why = altered[rules_of(one)]
    if rules_of(one) == given.rulebook_key:
        return Answer(Asked.RULEBOOK, Truth.YES, f"It was sealed with the rules of today.{why and f' {why}'}")
    return Answer(Asked.RULEBOOK, Truth.NO, f"The rules have changed since: {why or 'those of then are kept'}.")


def _altered(digest: str, overlays: tuple[str, ...], given: Given) -> str:
    try:
        folder = rulebook_folder(given.folder, digest)
        if digest_of_files(folder, files_of(folder, overlays)) == digest:
            return ""
        others = _differing(folder, overlays, given) if given.rulebook_key == (digest, overlays) else []
    except NotKept as error:
        return f"The rules of {digest[:8]} are not kept: {error}"
    except FileRefused as refused:
        return f"The rules that were kept cannot be read: {refused.reason}."
    if others:
        return f"The rules that were kept were altered: {listed(others)}."
    return f"The rules that were kept were altered: they no longer give the digest {digest[:8]} that was sealed."


def _differing(folder: Folder, overlays: tuple[str, ...], given: Given) -> list[str]:
    """The files in which the kept rules differ from those of today, which are the same edition."""
    kept, today = set(files_of(folder, overlays)), set(files_of(given.rules, overlays))
    gone, more = today - kept, kept - today
    other = {name for name in kept & today if folder.digest(name) != given.rules.digest(name)}
    told = {**dict.fromkeys(gone, " (missing)"), **dict.fromkeys(more, " (put in)"), **dict.fromkeys(other, "")}
    return [f"{name}{how}" for name, how in sorted(told.items())]
