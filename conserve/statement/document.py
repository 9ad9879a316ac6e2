"""The statement of a casebook: its sections in order, and the digest of everything that a sentence names."""

from __future__ import annotations

import hashlib
from collections.abc import Iterable
from datetime import date
from typing import Any

from conserve.casebook import Casebook
from conserve.explanation.pieces import canonical_json, told_rule
from conserve.explanation.proof import proof
from conserve.explanation.words import day_in_words
from conserve.rule import COMMON_PRACTICE
from conserve.rulebook import Rulebook
from conserve.seal import NOTHING_SEALED, Seals
from conserve.statement.condition import condition
from conserve.statement.decisions import decisions, undecided
from conserve.statement.fabric import fabric, removed
from conserve.statement.given import Given, record_of
from conserve.statement.hazards import cautions, hazards
from conserve.statement.identity import history, identity, significance
from conserve.statement.later import later, unknown
from conserve.statement.matrix import matrix
from conserve.statement.model import Document, Section, told
from conserve.statement.policy import policy, use
from conserve.statement.sealed import sealed
from conserve.statement.sources import sources
from conserve.statement.summary import how_to_read, summary
from conserve.weighing.model import Weighing
from conserve.weighing.whole import each_before_and_after

RULEBOOK = "rulebook"  # the name under which all the rules together stand among the sources
_RULES = "rules/"


def document_of(
    weighings: Iterable[Weighing], casebook: Casebook, rulebook: Rulebook, day: date, seals: Seals = NOTHING_SEALED
) -> Document:
    """The conservation statement of a casebook, as on a day. `weighings` are all of its proposals, as on that day.

    The same casebook, rules and day give the same document, in whatever order they were read.
    """
    given = Given(tuple(sorted(weighings, key=lambda w: w.proposal.id)), casebook, rulebook, day, seals)
    sections = (
        how_to_read(),
        summary(given),
        identity(given),
        history(given),
        significance(given),
        condition(given),
        use(given),
        policy(given),
        *decisions(given),
        undecided(given),
        sealed(given),
        fabric(given),
        removed(given),
        hazards(given),
        unknown(given),
        later(given),
        matrix(given),
    )
    sections = (*sections, sources(given, _rules_named(sections)))
    name = casebook.object.name
    front = (
        ("object", name),
        ("as at", day_in_words(day)),
        ("rulebook", rulebook.digest),
        ("overlays", ", ".join(overlay.name for overlay in rulebook.overlays) or "none"),
    )
    return Document(f"Conservation statement: {name}", front, cautions(given), sections, _digests(given, sections))


def _named(sections: Iterable[Section]) -> frozenset[str]:
    whole = Document("", (), (), tuple(sections), {})
    return frozenset(name for one in told(whole) for name in one.made_from)


def _rules_named(sections: Iterable[Section]) -> frozenset[str]:
    return frozenset(name.removeprefix(_RULES) for name in _named(sections) if name.startswith(_RULES))


# ---- digests -------------------------------------------------------------------------------------------


def _digests(given: Given, sections: Iterable[Section]) -> dict[str, str]:
    """Every file of the casebook, for the weighings read them all; and each record and rule that is named.

    A record's digest is that of its `records/ID.json`, as `conserve record` writes it on the same day.
    """
    names = _named(sections)
    found = {**given.casebook.digests, **given.seals.files, RULEBOOK: given.rulebook.digest}
    named = (weighing for weighing in given.weighings if record_of(weighing) in names)
    for weighing, whole in each_before_and_after(named, given.rulebook.vocabulary):
        found[record_of(weighing)] = _digest(canonical_json(proof(weighing, given.rulebook, whole)))
    for rule in given.rulebook.rules:
        if f"{_RULES}{rule.id}" in names:
            found[f"{_RULES}{rule.id}"] = _digest(canonical_json(_rule(rule.id, given.rulebook)))
    return dict(sorted(found.items()))


def _rule(name: str, rulebook: Rulebook) -> dict[str, Any]:
    """What a rule says and stands on. Its examples are no part of it."""
    rule = rulebook.rule(name)
    assert rule is not None
    cited = {}
    for one in rule.sources:
        source = rulebook.sources[one.source]
        clause = () if one.source == COMMON_PRACTICE else source.gists[one.clause]
        cited[str(one)] = [source.title, source.edition, source.publisher, *clause]
    return {**told_rule(rule), "id": rule.id, "because": rule.because, "instead": rule.then.instead, "cited": cited}


def _digest(text: str) -> str:
    return hashlib.sha256(text.encode()).hexdigest()
