"""The plugin that makes a test of every example of every rule."""

from __future__ import annotations

import os
import subprocess
import sys
from pathlib import Path

from helpers import HOUSE, WORDS, folder_of, rule

RULE = "id: r/one\n" + rule("act", "{technique.takes: skim}", "{forbid: Do not.}").replace(
    "given: {}, expect: forbid", "given: {technique.takes: skim}, expect: forbid"
).replace("given: {}, expect: silent", "given: {technique.takes: bore}, expect: silent")


def run(root: Path, *more: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "pytest", "-p", "conserve.rule_tests", "-p", "no:cacheprovider", "-c", "/dev/null",
               "--rootdir", str(root), "-q", *more, str(root / "rules")]  # fmt: skip
    return subprocess.run(command, capture_output=True, text=True, cwd=root, check=False,
                          env={**os.environ, "PYTHONPATH": str(HOUSE)})


def rules(root: Path, text: str = RULE, **more: str) -> Path:
    folder_of(root / "rules", {**WORDS, "r/one.yaml": text, **more})
    return root


def test_each_example_is_a_test_named_by_its_file_and_line(tmp_path):
    ran = run(rules(tmp_path), "--collect-only")
    line = RULE.splitlines().index("- {name: silent, given: {technique.takes: bore}, expect: silent}") + 1
    assert f"rules/r/one.yaml::{line} silent" in ran.stdout
    assert run(tmp_path).stdout.splitlines()[-1].startswith("3 passed")


def test_an_example_that_comes_out_otherwise_fails_and_says_how(tmp_path):
    ran = run(rules(tmp_path, RULE.replace("{technique.takes: bore}, expect: silent", "{technique.takes: skim}, expect: silent")))
    assert ran.returncode == 1
    assert "expected silent, but it is forbid (all hold)" in ran.stdout
    assert "Traceback" not in ran.stdout


def test_rules_that_do_not_load_are_told_and_nothing_passes(tmp_path):
    ran = run(rules(tmp_path, RULE.replace("technique.takes: skim}\n", "technique.tales: skim}\n")))
    assert ran.returncode != 0
    assert "R003" in ran.stdout or "technique.tales" in ran.stdout


def test_an_overlays_examples_are_tests_too(tmp_path):
    law = RULE.replace("id: r/one", "id: law/r/two")
    overlay = "title: A law\nsays: It asks for this.\nwithdraws: none\n"
    ran = run(rules(tmp_path, **{"overlays/law/overlay.yaml": overlay, "overlays/law/r/two.yaml": law}))
    assert ran.stdout.splitlines()[-1].startswith("6 passed")


def test_the_suite_runs_every_shipped_rules_examples():
    assert '"-p", "conserve.rule_tests"' in (HOUSE / "pyproject.toml").read_text(encoding="utf-8")
    assert 'testpaths = ["tests", "rules"]' in (HOUSE / "pyproject.toml").read_text(encoding="utf-8")
