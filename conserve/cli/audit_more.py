"""What is asked besides of one casebook: decisions out of line with their like, a sample, a change of rules."""

from __future__ import annotations

import argparse
from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from datetime import date
from typing import TYPE_CHECKING, Any

from conserve.cli.reading import Read, rules_folder
from conserve.files import Folder

if TYPE_CHECKING:
    from conserve.audit.edition_model import EditionChange
    from conserve.audit.factors import Factors
    from conserve.audit.model import Audit
    from conserve.audit.out_of_line import OutOfLine
    from conserve.statement.model import Section
    from conserve.weighing import Weighing


@dataclass(frozen=True, slots=True)
class More:
    """What else was asked than the audit itself: as sections of a report, as data, as lines on a screen."""

    sections: list[Section] = field(default_factory=list)
    data: dict[str, Any] = field(default_factory=dict)
    lines: list[str] = field(default_factory=list)

    def add(self, key: str, section: Section, data: Mapping[str, Any], lines: tuple[str, ...]) -> None:
        self.sections.append(section)
        self.data[key] = data
        self.lines.extend(lines)


def compared(weighed: Mapping[str, Weighing], read: Read) -> tuple[OutOfLine, Factors]:
    """What is out of line among the decisions of one casebook, which is not named again at each."""
    from conserve.audit.cases import cases_of
    from conserve.audit.factors import factors_of
    from conserve.audit.out_of_line import out_of_line

    factors = factors_of(read.rulebook)
    cases = cases_of(weighed.values(), read.rulebook, factors)
    return out_of_line([replace(one, outcome=replace(one.outcome, casebook="")) for one in cases], factors), factors


def add_line(more: More, found: OutOfLine, factors: Factors) -> None:
    """Tell what is out of line."""
    from conserve.audit.line_telling import line_data, line_lines, line_section

    more.add("out_of_line", line_section(found, factors), line_data(found, factors), line_lines(found))


def add_sample(more: More, found: Audit, size: int, seed: int) -> None:
    """Draw the decisions that a person goes through. What the casebook's folder is called makes no difference."""
    from conserve.audit.sample_telling import sample_data, sample_lines, sample_section
    from conserve.audit.sampling import sample

    told = sample(found.decisions, size, seed), seed, size, len(found.decisions)
    more.add("sample", sample_section(*told), sample_data(*told), sample_lines(*told))


def add_rule_change(
    more: More, read: Read, day: date, weighed: Mapping[str, Weighing], given: argparse.Namespace
) -> None:
    """Say what the rules of another folder would make of the decisions, or of the one that is asked about."""
    from conserve.audit.edition_data import edition_data
    from conserve.audit.edition_telling import edition_lines, edition_section
    from conserve.audit.editions import edition_change

    rules = Folder(rules_folder(given.with_rules))
    change = edition_change(read.folder, read.casebook, read.rulebook, rules, day, read.place.shown, weighed)
    if read.place.proposal:
        change = _only(change, read.proposal(read.place.proposal).id, weighed)
    more.add("rule_change", edition_section(change), edition_data(change), edition_lines(change))


def _only(change: EditionChange, proposal: str, weighed: Mapping[str, Weighing]) -> EditionChange:
    return replace(
        change,
        decided=int(proposal in weighed and not change.unread),
        verdicts=tuple(one for one in change.verdicts if one.proposal == proposal),
        asks=tuple(one for one in change.asks if one.proposal == proposal),
    )
