"""What the README shows is what there is."""

from __future__ import annotations

import re

from helpers import HOUSE, shipped_rules

from conserve.cli import main
from conserve.cli.parser import COMMANDS

README = (HOUSE / "README.md").read_text(encoding="utf-8")


def blocks(kind: str) -> list[str]:
    return re.findall(rf"```{kind}\n(.*?)```", README, re.DOTALL)


def test_the_example_is_what_the_command_prints(capsys, monkeypatch):
    monkeypatch.chdir(HOUSE)
    monkeypatch.setenv("COLUMNS", "100")
    (shown,) = blocks("console")
    command, _, output = shown.partition("\n")
    assert command.startswith("$ conserve ")
    main(command.removeprefix("$ conserve ").split())
    printed = capsys.readouterr().out
    engines = re.compile(r"Two engines agree\.|One engine[^.]*\.")
    assert engines.sub("ENGINES", printed) == engines.sub("ENGINES", output)


def test_the_rule_shown_is_the_rule_shipped():
    (shown,) = blocks("yaml")
    assert shown == (HOUSE / "rules/machining/functional-face-only.yaml").read_text(encoding="utf-8")


def test_every_command_named_is_a_command(capsys):
    named = set(re.findall(r"\bconserve ([a-z]+)\b", "".join(blocks("sh")) + README))
    assert {command.name for command in COMMANDS if command.shown} - named <= {"schema", "completion", "reckon"}
    for command in sorted(named & {command.name for command in COMMANDS}):
        assert main([command, "--help"]) == 0
        assert f"conserve {command}" in capsys.readouterr().out


def test_the_number_of_rules_told_is_about_right():
    told = int(re.search(r"as (\d+) short rules", README)[1])
    assert abs(len(shipped_rules().rules) - told) <= 5
