"""Which findings count, once those that override them are known."""

from __future__ import annotations

from collections.abc import Iterable, Mapping

from conserve.inference import Finding
from conserve.weighing.model import Standing

Key = tuple[str, str]  # rule, subject
Settlement = tuple[Standing, tuple[str, ...]]  # and the rules that put it there


def key_of(finding: Finding) -> Key:
    return finding.rule.id, finding.subject.id


def standings(findings: Iterable[Finding]) -> dict[Key, Settlement]:
    """Say which findings are in, out or open, and which rules put them there.

    A finding is out when one that is in overrides it; open when it is not certain, or when one that is open
    overrides it. An override reaches the same subject and what it owns, nothing else.
    """
    telling = tuple(findings)
    above: dict[str, list[Finding]] = {}  # rule -> findings of the rules that override it
    for finding in telling:
        for edge in finding.rule.overrides:
            above.setdefault(edge.rule, []).append(finding)
    settled: dict[Key, Settlement] = {}
    return {key_of(finding): _settle(finding, above, settled) for finding in telling}


def _settle(finding: Finding, above: Mapping[str, list[Finding]], settled: dict[Key, Settlement]) -> Settlement:
    """Settle one finding after those that override it. They stand in no circle: the rulebook has seen to it."""
    key = key_of(finding)
    if key not in settled:
        reaching = [f for f in above.get(finding.rule.id, ()) if finding.subject.owned_by(f.subject.id)]
        standing = [(f.rule.id, _settle(f, above, settled)[0]) for f in reaching]  # a rule may reach it from two places
        into = tuple(sorted({name for name, s in standing if s is Standing.IN}))
        undecided = tuple(sorted({name for name, s in standing if s is Standing.OPEN}))
        settled[key] = (
            (Standing.OUT, into)
            if into
            else (Standing.OPEN, undecided)
            if undecided or not finding.certain
            else (Standing.IN, ())
        )
    return settled[key]
