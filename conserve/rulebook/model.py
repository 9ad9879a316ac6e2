"""What a rulebook is: rules, sources, words and overlays that have been checked together."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass

from conserve.engine import Program
from conserve.rule import Override, Premise, Rule
from conserve.terms import Vocabulary


@dataclass(frozen=True, slots=True)
class Clauses:
    """A published source, and what its cited clauses say, in our own words."""

    id: str
    title: str
    edition: str
    publisher: str
    gists: Mapping[str, tuple[str, str]]  # clause -> (gist, read: yes | in part | no)


@dataclass(frozen=True, slots=True)
class KindProgram:
    """The adopted rules about one kind of subject, as propositions."""

    rules: tuple[Rule, ...]
    premises: tuple[Premise, ...]  # those judged before inference, each once however many rules share it
    ordinary: tuple[tuple[int, ...], ...]  # for each rule: which of these
    program: Program
    asks: frozenset[str]  # every term that a premise is about, or takes its limit from


@dataclass(frozen=True, slots=True)
class Overlay:
    """Rules of one country's law, one kind of object or one policy, laid over the rulebook."""

    name: str
    title: str
    says: str
    withdraws: tuple[Override, ...]  # rules of the rulebook that it takes out, and why


@dataclass(frozen=True, slots=True)
class Rulebook:
    """Rules, sources and words that have been checked together."""

    vocabulary: Vocabulary
    sources: Mapping[str, Clauses]
    rules: tuple[Rule, ...]  # every rule, by id
    overlays: tuple[Overlay, ...]  # those that are laid over it
    programs: Mapping[str, KindProgram]  # kind of subject -> its adopted rules
    digest: str

    def rule(self, name: str) -> Rule | None:
        return next((rule for rule in self.rules if rule.id == name), None)
