"""Everything that is looked into about the option put forward, for a record or a question."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from conserve.casebook import Option
from conserve.rulebook import Rulebook
from conserve.terms import Vocabulary
from conserve.weighing.least import Least, least_intervention
from conserve.weighing.model import PartWeighing, Verdict
from conserve.whatif.changes import Changes, changes
from conserve.whatif.margins import Margin, margins
from conserve.whatif.matters import idle
from conserve.whatif.model import Prospect, Unknown, Worth
from conserve.whatif.prospect import prospect
from conserve.whatif.worth import worths

_OPEN = (Verdict.NOT_YET_SHOWN, Verdict.REFER)


@dataclass(frozen=True, slots=True)
class Inquiry:
    """Why not less; what would change the answer; what it may come to; what to find out next; how numbers may move.

    `better` and `standing` are None where the option stands; `prospects`, `worths` and `idle` are empty where its
    verdict is not open, and `margins` where it does not stand.
    """

    least: Least
    better: Changes | None  # sets of changes that lead to a better verdict
    standing: Changes | None  # sets of changes after which it stands
    prospects: Mapping[str, Prospect]  # of every option whose verdict is open; but of none that only looks
    worths: tuple[Worth, ...]
    idle: frozenset[Unknown]
    margins: tuple[Margin, ...]


def look_into(part: PartWeighing, option: str, rulebook: Rulebook) -> Inquiry:
    """Look into one option of a part."""
    verdict = part.option(option).verdict
    is_open = verdict in _OPEN
    better = None if verdict.stands else changes(part, option, rulebook)
    return Inquiry(
        least_intervention(part, option, rulebook.vocabulary),
        better,
        _standing(better, part, option, rulebook),
        _prospects(part, rulebook) if is_open else {},
        worths(part, rulebook) if is_open else (),
        idle(part, rulebook) if is_open else frozenset(),
        margins(part, option, rulebook) if verdict.stands else (),
    )


def _prospects(part: PartWeighing, rulebook: Rulebook) -> dict[str, Prospect]:
    return {
        one.option.id: prospect(part, one.option.id, rulebook)
        for one in part.options
        if one.verdict in _OPEN and not only_looks(one.option, rulebook.vocabulary)
    }


def only_looks(option: Option, vocabulary: Vocabulary) -> bool:
    """Whether an option only examines: it is called for by what is not known, and so by nothing once all is known."""
    return bool(option.acts) and all(vocabulary.techniques[act.technique].examines for act in option.acts)


def _standing(better: Changes | None, part: PartWeighing, option: str, rulebook: Rulebook) -> Changes | None:
    """The sets after which it stands: the same ones, where each of them leads that far."""
    if better is None or all(way.verdict.stands for way in better.ways):
        return better
    return changes(part, option, rulebook, stands=True)
