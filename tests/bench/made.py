"""Casebooks of any size, made from a seed: every part and every proposal differs in its facts."""

from __future__ import annotations

import shutil
from pathlib import Path
from random import Random

OBJECT = """\
name: Trial engine
kind: stationary-engine
duty_now: static
duty_wanted: demonstration
working_is_significant: yes
rarity: few
consent: not-needed
upkeep_provided: yes
significance: It turned for eighty years.
phases:
  first: {period: as-made, dates: "1868"}
  second: {period: working-life, dates: "1902"}
"""
MATERIALS = ("grey-cast-iron", "wrought-iron", "mild-steel", "bronze")
SIGNIFICANCE = ("exceptional", "considerable", "some", "little")
FUNCTIONS = ("bearing", "sliding", "sealing", "mating", "non-functional")
ROLES = ("bearing", "sealing", "pressure", "lifting", "structure", "fixing", "body")
SPINE = 30


def maybe(chance: Random, line: str) -> str:
    """A line that one casebook in eight leaves out: nobody has said."""
    return "" if chance.random() < 0.125 else f"{line}\n"


def component(number: int, chance: Random) -> str:
    yes = lambda: chance.choice(("yes", "no"))  # noqa: E731
    marks = (
        "    marks: none\n"
        if chance.random() < 0.5
        else f"    marks:\n      stamp: {{kind: {chance.choice(('stamp', 'scribe-line'))}, recorded: {yes()}}}\n"
    )
    face = "".join(
        (
            maybe(chance, f"    function: {chance.choice(FUNCTIONS)}"),
            maybe(chance, f"    shows_use: {yes()}"),
            f"    finish: {chance.choice(('machined', 'as-cast', 'scraped'))}\n    sets_clearance: yes\n",
            f"    area: {chance.randint(50, 900)} ± {chance.randint(1, 9)} cm2\n",
            f"    wear: 0.{chance.randint(10, 60)} ± 0.02 mm\n",
        )
    )
    return "".join(
        (
            f"name: Part {number}\nphase: {chance.choice(('first', 'second'))}\n",
            maybe(chance, f"role: [{chance.choice(ROLES)}]"),
            maybe(chance, f"material: {chance.choice(MATERIALS)}"),
            maybe(chance, f"significance: {chance.choice(SIGNIFICANCE)}"),
            maybe(chance, f"hazards: {chance.choice(('none', '[lead-paint]', '[stored-energy]'))}"),
            f"present: yes\nexamined: {yes()}\nmade_to_be_renewed: {yes()}\nserviceable: {yes()}\n",
            f"running_clearance: 0.{chance.randint(20, 90)} ± 0.04 mm\nmass: {chance.randint(2, 60)} ± 0.2 kg\n",
            f"surfaces:\n  front:\n{face}{marks}  back:\n    function: {chance.choice(FUNCTIONS)}\n    shows_use: {yes()}\n"
            "    finish: bare\n    sets_clearance: no\n    marks: none\nrepairs: none\n",
            f"defects:\n  slack: {{kind: wear, seen: seen, active: {yes()}, cause: wear-in-use, affects_function: {yes()}, "
            f"affects_safety: no, is_history: no}}\nhistory:\n  - {{date: 2026-01-10, says: Taken off.}}\n",
        )
    )


def proposal(number: int, chance: Random) -> str:
    cut = (
        f"{{technique: milling, where: front, depth: 0.{chance.randint(10, 90)} ± 0.05 mm, treats: slack, takes: none}}"
    )
    pack = (
        f"{{technique: shimming, where: front, thickness: 0.{chance.randint(10, 60)} mm, treats: slack, takes: none}}"
    )
    return f"""\
title: Take up the slack in part {number}
component: part-{number:04d}
prompted_by: {chance.choice(("need", "cost", "appearance"))}
asked: {{date: 2026-02-0{chance.randint(1, 9)}, by: lead}}
needs:
  fit:
    kind: function
    says: It runs without knock.
    test: {{component.running_clearance: {{between: [0.10 mm, 0.{chance.randint(30, 60)} mm]}}}}
    set_by: the workshop sheet
options:
  leave:
    acts: []
  pack:
    done_by: volunteer
    competence: Has done it before.
    acts:
      - {pack}
  cut:
    done_by: tradesperson
    competence: Has done it before.
    acts:
      - {cut}
      - {pack}
preferred: {chance.choice(("pack", "cut"))}
"""


def casebook(root: Path, size: int, seed: int = 7) -> Path:
    """Write a casebook of so many parts and proposals."""
    chance = Random(seed)
    for folder in ("components", "proposals"):
        (root / folder).mkdir(parents=True)
    (root / "object.yaml").write_text(OBJECT, encoding="utf-8")
    for number in range(size):
        (root / f"components/part-{number:04d}.yaml").write_text(component(number, chance), encoding="utf-8")
        (root / f"proposals/slack-{number:04d}.yaml").write_text(proposal(number, chance), encoding="utf-8")
    return root


def spine(rules: Path, root: Path) -> Path:
    """A rulebook of thirty of the shipped rules, evenly chosen among those that name no other."""
    texts = {p.relative_to(rules): p.read_text(encoding="utf-8") for p in sorted(rules.glob("*/*.yaml"))}
    lone = [name for name, text in texts.items() if "\noverrides:" not in text and "\nbeside:" not in text]
    chosen = [lone[index * len(lone) // SPINE] for index in range(SPINE)]
    for name in ("terms.yaml", "techniques.yaml", "sources.yaml"):
        (root / name).parent.mkdir(parents=True, exist_ok=True)
        shutil.copy(rules / name, root / name)
    for name in chosen:
        (root / name).parent.mkdir(exist_ok=True)
        (root / name).write_text(texts[name], encoding="utf-8")
    return root
