"""Decided cases from outside: what the rulebook makes of them, option by option, beside what was decided.

A case stands in one file under `tests/cases/`: its source, what was decided, which facts were filled in, what is
expected of each option, and the files of a small casebook. A published case has its facts and its decision from the
literature it names; one of common practice shows only that the rules agree with the trade. Where the rulebook differs, the
file says so under `differs:` with the reason, and the test asserts exactly that.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
import yaml
from helpers import HOUSE, folder_of, read, shipped_rules, weighed

from conserve.weighing import Verdict

CASES = sorted((HOUSE / "tests" / "cases").glob("*.yaml"))
KEYS = {"title", "kind", "source", "decided", "filled_in", "overlays", "expects", "differs", "files"}
KINDS = ("published", "common-practice")

WORDS = {
    Verdict.JUSTIFIED: "allowed",
    Verdict.WITH_REQUIREMENTS: "allowed",
    Verdict.NOT_JUSTIFIED: "refused",
    Verdict.NOT_YET_SHOWN: "waits",
    Verdict.REFER: "refers",
}
UNDECIDED = "undecided"  # the source does not say; weighed, not counted

# Options that agree, and options that were decided, of each kind.
AGREEMENT = {"published": (48, 49), "common-practice": (24, 25)}


@dataclass(frozen=True, slots=True)
class Decided:
    """One option of one case: what was decided, and, where the rulebook differs, what it says."""

    case: Path
    proposal: str
    option: str
    expected: str
    differs: str

    def __str__(self) -> str:
        return f"{self.case.stem}/{self.proposal}/{self.option}"


@cache
def case_of(path: Path) -> Mapping[str, object]:
    return yaml.load(path.read_text(encoding="utf-8"), Loader=yaml.BaseLoader)


def decided() -> list[Decided]:
    found = []
    for path in CASES:
        differs = case_of(path).get("differs", {})
        for proposal, options in case_of(path)["expects"].items():
            for option, expected in options.items():
                other = differs.get(proposal, {}).get(option, {}).get("gets", "")
                found.append(Decided(path, proposal, option, expected, other))
    return found


@cache
def verdicts(path: Path) -> Mapping[tuple[str, str], str]:
    """What the shipped rulebook, with the overlays that a case names, makes of each of its options."""
    case = case_of(path)
    rulebook = shipped_rules(*case.get("overlays", ()))
    with TemporaryDirectory() as root:
        casebook = read(folder_of(Path(root), case["files"]), rulebook)
        return {
            (proposal.id, weighing.option.id): WORDS[weighing.verdict]
            for proposal in casebook.proposals
            for part in weighed(casebook, proposal.id, rulebook).parts
            for weighing in part.options
        }


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_a_case_says_where_it_is_from_and_what_was_filled_in(path):
    case = case_of(path)
    assert set(case) <= KEYS and {"title", "source", "decided", "filled_in"} <= set(case)
    assert case["kind"] in KINDS
    assert set(verdicts(path)) == {(p, o) for p, options in case["expects"].items() for o in options}
    for options in case.get("differs", {}).values():
        assert all(set(one) == {"gets", "why"} for one in options.values())


@pytest.mark.parametrize("one", decided(), ids=str)
def test_the_rulebook_says_of_an_option_what_was_decided(one):
    got = verdicts(one.case)[one.proposal, one.option]
    assert one.expected in {*WORDS.values(), UNDECIDED}
    if one.differs:
        assert one.differs != one.expected and got == one.differs
    elif one.expected != UNDECIDED:
        assert got == one.expected


def test_how_far_the_rulebook_agrees_is_counted_apart_for_the_two_kinds(capsys):
    agree, total = Counter(), Counter()
    for one in decided():
        if one.expected == UNDECIDED:
            continue
        kind = case_of(one.case)["kind"]
        total[kind] += 1
        agree[kind] += verdicts(one.case)[one.proposal, one.option] == one.expected
    with capsys.disabled():
        print("\n" + "; ".join(f"{kind}: {agree[kind]} of {total[kind]} options agree" for kind in KINDS))
    assert {kind: (agree[kind], total[kind]) for kind in KINDS} == AGREEMENT
