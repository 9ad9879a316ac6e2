"""Laws: what must hold for every casebook and every rulebook.

The first of them is the promise that silence is unknown, never no: *deleting a fact never turns an option that
does not stand into one that does, and never removes a requirement*. As it holds, on a given day:

- a fact is whatever a person may leave unsaid: a value, a list, an answer, a report, a claim. What an option *is*
  (its acts, their places, its duty) and what is asked of it (the needs) is the question, not a fact, and an entry
  of a closed list is not silent when it is taken out: the list then says that there is no such thing;
- doubt calls for looking and holding. An act that takes nothing away may be called for by what is not known,
  so an option whose only fault was such an act, not called for, may stand once something is unknown;
- where a person has said under an option why a gentler one is not waited for, that answer counts when the
  gentler one no longer stands;
- a requirement to make good a need (`needs/...`) is owed while the need is met; once it is not, the option does
  not stand.
"""

from __future__ import annotations

import random
from collections.abc import Iterator, Mapping
from copy import deepcopy
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
import yaml
from helpers import DEMO, HOUSE, demo, shipped_rules
from hypothesis import HealthCheck, assume, given, settings
from hypothesis import strategies as st

from conserve.casebook import Casebook, read_casebook
from conserve.files import Folder
from conserve.rulebook import Rulebook, read_rulebook
from conserve.truth import Truth
from conserve.weighing import OptionWeighing, Weighing, weigh
from conserve.weighing.model import Call, NeedState, Step

Tree = dict[str, Any]
Trees = dict[str, Tree]  # file -> what stands in it
Path_ = tuple[str, tuple[str | int, ...]]  # file, and the way to a key in it


# ---- the law ----------------------------------------------------------------------------------------


def breaches(before: Weighing, after: Weighing, rulebook: Rulebook) -> list[str]:
    """Where the second weighing, which knows less, lets more pass than the first."""
    return [
        f"{part.component.id}, {one.option.id}: {told}"
        for part, other in zip(before.parts, after.parts, strict=True)
        for one in part.options
        for told in _breaches(one, other.option(one.option.id), rulebook)
    ]


def _breaches(one: OptionWeighing, less: OptionWeighing, rulebook: Rulebook) -> Iterator[str]:
    if not one.own.stands and less.own.stands and not _doubt_may_call(one, rulebook):
        yield f"on its own {one.own} ({one.own_reason.step}), then {less.own}"
    excused = one.option.rather_than or (not one.own.stands and _doubt_may_call(one, rulebook))
    if not one.verdict.stands and less.verdict.stands and not excused:
        yield f"{one.verdict} ({one.reason.step}), then {less.verdict}"
    there = {requirement.id for requirement in less.requirements}
    for gone in sorted({requirement.id for requirement in one.requirements} - there):
        need = next((n for n in less.needs if f"needs/{n.need.id}" == gone), None)
        if need is None or need.state is NeedState.MET or less.verdict.stands:
            yield f"{gone} is no longer required"


def _doubt_may_call(one: OptionWeighing, rulebook: Rulebook) -> bool:
    """Whether all that speaks against an option is that acts which take nothing away are not called for."""
    uncalled = [call.act.technique for call in one.calls if call.call is not Call.CALLED_FOR]
    takes = (rulebook.vocabulary.techniques[name].takes for name in uncalled)
    return one.own_reason.step is Step.NOT_CALLED_FOR and all(taken == "nothing" for taken in takes)


# ---- casebooks as trees ---------------------------------------------------------------------------------

_IS_THE_QUESTION = ("needs", "technique", "where", "for", "duty", "component", "components", "kind")
_CLOSED = ("surfaces", "marks", "repairs", "defects", "options", "each")
_NOBODY_WEIGHS = ("says", "name", "note", "shows", "held", "title", "dates", "significance_reason", "people", "location")


def facts_in(tree: object, at: tuple[str | int, ...] = ()) -> Iterator[tuple[str | int, ...]]:
    """The way to every key that could have been left unsaid."""
    below = enumerate(tree) if isinstance(tree, list) else tree.items() if isinstance(tree, dict) else ()
    for key, value in below:
        if key in _NOBODY_WEIGHS or (key in _IS_THE_QUESTION and (at and at[-1] != "defects" or key == "needs")):
            if not (key == "kind" and _of_a_thing(at)):
                continue
        listed = isinstance(key, int) or (at and at[-1] in _CLOSED)
        if not listed:
            yield (*at, key)
        yield from facts_in(value, (*at, key))


def _of_a_thing(at: tuple[str | int, ...]) -> bool:
    return len(at) > 1 and at[-2] in ("marks", "repairs", "defects")


def without(tree: Tree, way: tuple[str | int, ...]) -> Tree:
    if len(way) == 1:
        return {key: value for key, value in tree.items() if key != way[0]}
    changed: Any = list(tree) if isinstance(tree, list) else dict(tree)
    changed[way[0]] = without(tree[way[0]], way[1:])
    return changed


def dumped(tree: Tree) -> str:
    return yaml.dump(tree, Dumper=yaml.CSafeDumper, allow_unicode=True, sort_keys=False, width=10**6)


class Desk:
    """A casebook in a folder whose files are changed one at a time."""

    def __init__(self, root: Path, trees: Trees, rulebook: Rulebook, readings: str = "") -> None:
        self.root, self.trees, self.rulebook, self.readings = root, trees, rulebook, readings
        for name, tree in trees.items():
            (root / name).parent.mkdir(parents=True, exist_ok=True)
            (root / name).write_text(dumped(tree), encoding="utf-8")
        if readings:
            (root / "measurements.csv").write_text(readings, encoding="utf-8")
        casebook = self.read()
        assert casebook is not None
        self.day = casebook.as_at
        self.whole = self.weigh(casebook)

    def read(self) -> Casebook | None:
        casebook, self.problems = read_casebook(Folder(self.root), self.rulebook.vocabulary, "trial")
        return casebook

    def weigh(self, casebook: Casebook) -> Weighing:
        return weigh(casebook.proposals[0], casebook, self.rulebook, self.day)

    def weighed_with(self, changed: Mapping[str, Tree], readings: str | None = None) -> Weighing | None:
        """Weigh with some files changed, then put them back. None: it does not load, so nothing is weighed."""
        for name, tree in changed.items():
            (self.root / name).write_text(dumped(tree), encoding="utf-8")
        if readings is not None:
            (self.root / "measurements.csv").write_text(readings, encoding="utf-8")
        casebook = self.read()
        for name in changed:
            (self.root / name).write_text(dumped(self.trees[name]), encoding="utf-8")
        if readings is not None:
            (self.root / "measurements.csv").write_text(self.readings, encoding="utf-8")
        return None if casebook is None else self.weigh(casebook)

    def facts(self) -> list[Path_]:
        return [(name, way) for name, tree in self.trees.items() for way in facts_in(tree)]

    def thinned(self, gone: list[Path_]) -> Trees:
        """The files that lack these facts. The longest ways first, so that none has lost its footing."""
        changed: Trees = {}
        for name, way in sorted(gone, key=lambda fact: -len(fact[1])):
            changed[name] = without(changed.get(name, self.trees[name]), way)
        return changed

    def weighed_without(self, *gone: Path_) -> Weighing | None:
        changed = self.thinned(list(gone))
        weighing = self.weighed_with(changed)
        if weighing is None and any(problem.code == "C062" for problem in self.problems):
            # What a list named is gone, and so is every word that named it.
            for name, tree in self.trees.items():
                if name.startswith("proposals/"):
                    changed[name] = naming_nothing(changed.get(name, tree))
            weighing = self.weighed_with(changed)
        return weighing


def naming_nothing(proposal: Tree) -> Tree:
    """A proposal whose acts do not say which defect they treat and which marks they take."""
    bare = deepcopy(proposal)
    for option in bare.get("options", {}).values():
        for act in option.get("acts", ()):
            for key in ("treats", "takes"):
                if act.get(key) != "none":
                    act.pop(key, None)
    return bare


# ---- every fact of the demonstration ----------------------------------------------------------------------


@lru_cache(maxsize=64)
def tree_of(name: str) -> Tree:
    return yaml.load((DEMO / name).read_text(encoding="utf-8"), Loader=yaml.CBaseLoader)


def trees_for(proposal: str) -> tuple[Trees, str]:
    """One proposal of the demonstration with all that bears on it, and nothing else. Of like parts: three."""
    asked = deepcopy(tree_of(f"proposals/{proposal}.yaml"))
    known = demo().proposal(proposal)
    assert known is not None
    parts = set(known.components) if len(known.components) < 10 else {"stud-01", "stud-17", "stud-31"}
    if len(known.components) > 1:
        asked["components"] = sorted(parts)
    trees = {"object.yaml": {k: v for k, v in tree_of("object.yaml").items() if k != "people"}}
    for part in sorted(parts):
        trees[f"components/{part}.yaml"] = component_tree(part)
    trees[f"proposals/{proposal}.yaml"] = asked
    register = {}
    for name, item in tree_of("evidence/register.yaml").items():
        about = "object" if item["about"] == "object" else [part for part in item["about"] if part in parts]
        if about:
            register[name] = {**{k: v for k, v in item.items() if k != "file"}, "about": about}
    trees["evidence/register.yaml"] = register
    first, *rows = (DEMO / "measurements.csv").read_text(encoding="utf-8").splitlines()
    return trees, "\n".join((first, *(row for row in rows if row.split(",")[3] in parts))) + "\n"


def component_tree(part: str) -> Tree:
    if (DEMO / f"components/{part}.yaml").exists():
        return {k: v for k, v in tree_of(f"components/{part}.yaml").items() if k != "part_of"}
    alike = tree_of("components/studs.yaml")
    return {**{k: v for k, v in alike.items() if k not in ("alike", "each")}, **alike["each"].get(part, {})}


PROPOSALS = sorted(path.stem for path in (DEMO / "proposals").glob("*.yaml"))


@pytest.mark.parametrize("proposal", PROPOSALS)
def test_no_deleted_fact_of_the_demonstration_lets_anything_pass(proposal, tmp_path):
    trees, readings = trees_for(proposal)
    desk = Desk(tmp_path, trees, shipped_rules(), readings)
    found, loaded = [], 0
    for name, way in desk.facts():
        weighing = desk.weighed_without((name, way))
        if weighing is not None:
            loaded += 1
            found += [f"{name} {'.'.join(map(str, way))}: {told}" for told in told_of(desk, weighing)]
    first, *rows = readings.splitlines()
    for fact in sorted({tuple(row.split(",")[i] for i in (3, 4, 7)) for row in rows}):
        left = [row for row in rows if tuple(row.split(",")[i] for i in (3, 4, 7)) != fact]
        weighing = desk.weighed_with({}, "\n".join((first, *left)) + "\n")
        if weighing is not None:
            found += [f"readings of {fact}: {told}" for told in told_of(desk, weighing)]
    assert found == []
    assert loaded >= 30  # that most deletions load, or the test tests nothing


@pytest.mark.parametrize("proposal", PROPOSALS)
def test_no_handful_of_deleted_facts_of_the_demonstration_lets_anything_pass(proposal, tmp_path):
    trees, readings = trees_for(proposal)
    desk = Desk(tmp_path, trees, shipped_rules(), readings)
    facts, draw, found = desk.facts(), random.Random(proposal), []
    for _ in range(25):
        gone = tuple(one for one in draw.sample(facts, draw.randint(2, 12)))
        gone = tuple(f for f in gone if not any(f[0] == g[0] and f != g and f[1][: len(g[1])] == g[1] for g in gone))
        weighing = desk.weighed_without(*gone)
        if weighing is not None:
            found += [f"{gone}: {told}" for told in told_of(desk, weighing)]
    assert found == []


def told_of(desk: Desk, weighing: Weighing) -> list[str]:
    return breaches(desk.whole, weighing, desk.rulebook)
