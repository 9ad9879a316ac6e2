"""A pytest plugin: every example of every rule is a test of its own, named by the rule's file and line.

`python -m pytest -p conserve.rule_tests rules` runs them, for the rules that came along or for a folder of your own
that holds terms.yaml. An overlay's rules are read as laid over the rulebook.
"""

from __future__ import annotations

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path
from typing import TYPE_CHECKING

import pytest

from conserve.files import is_a_rule

if TYPE_CHECKING:
    from conserve.rule import Example, Rule
    from conserve.rulebook import Rulebook


def pytest_collect_file(file_path: Path, parent: pytest.Collector) -> pytest.Collector | None:
    """Take up each rule's file under a folder that holds terms.yaml."""
    root = _root_of(file_path) if file_path.suffix == ".yaml" else None
    if root is None or not is_a_rule(file_path.relative_to(root).as_posix()):
        return None
    return RuleFile.from_parent(parent, path=file_path)


def _root_of(path: Path) -> Path | None:
    return next((folder for folder in path.parents if (folder / "terms.yaml").is_file()), None)


class RuleFile(pytest.File):
    """One rule's file."""

    def collect(self) -> Iterator[pytest.Item]:
        root = _root_of(self.path)
        assert root is not None  # else it would not have been taken up
        parts = self.path.relative_to(root).with_suffix("").parts
        overlays = parts[1:2] if parts[0] == "overlays" else ()
        rulebook, problems = _rulebook(root, overlays)
        if rulebook is None:
            raise self.CollectError(problems)
        rule = rulebook.rule("/".join(parts[1:] if overlays else parts))
        for example in rule.examples if rule is not None else ():
            name = f"{example.where.line} {example.name}"
            yield ExampleTest.from_parent(self, name=name, rule=rule, example=example, rulebook=rulebook)


class ExampleTest(pytest.Item):
    """One example: the rule must make of its facts what the example says."""

    def __init__(self, *, rule: Rule, example: Example, rulebook: Rulebook, **given: object) -> None:
        super().__init__(**given)  # type: ignore[arg-type]
        self.rule, self.example, self.rulebook = rule, example, rulebook

    def runtest(self) -> None:
        from conserve.inference import tried

        found = tried(self.rule, self.example.given, self.rulebook)
        if found.outcome != self.example.expect:
            decided = ", ".join(f"{ground.term} is {ground.truth}" for ground in found.decisive)
            raise NotAsExpected(f"expected {self.example.expect}, but it is {found.outcome} ({decided or 'all hold'})")

    def repr_failure(self, excinfo: pytest.ExceptionInfo[BaseException], style: object = None) -> str:
        if isinstance(excinfo.value, NotAsExpected):
            return f"{self.rule.id}, line {self.example.where.line}, {self.example.name}: {excinfo.value}"
        return str(super().repr_failure(excinfo))

    def reportinfo(self) -> tuple[Path, int, str]:
        return self.path, self.example.where.line - 1, self.name


class NotAsExpected(Exception):
    """An example that does not come out as it says."""


@lru_cache(maxsize=16)
def _rulebook(root: Path, overlays: tuple[str, ...]) -> tuple[Rulebook | None, str]:
    """The rules of a folder, or what is wrong with them; read once however many files ask."""
    from conserve.files import Folder
    from conserve.rulebook import read_rulebook

    rulebook, problems = read_rulebook(Folder(root), overlays)
    return rulebook, "\n".join(map(str, problems))
