"""Entries of a chain made by hand, and a small casebook with decisions that are sealed for real."""

from __future__ import annotations

import atexit
import shutil
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import date
from functools import lru_cache
from pathlib import Path
from tempfile import mkdtemp

from helpers import CLOCK, HOUSE, OBJECT, clock_rules, folder_of, read, rules_folder, rules_in

from conserve.casebook import Casebook
from conserve.explanation.proof import canonical_json, proof
from conserve.files import Folder, in_turn
from conserve.problem import Problem
from conserve.rulebook import Rulebook
from conserve.seal import By, Entry, Made, SealedDecision, SealedNote, append, read_chain, seal_decisions
from conserve.seal.appending import Sign
from conserve.weighing import weigh

AT = "2026-07-01T10:00:00+01:00"


def sum_of(sign: str) -> str:
    """A digest of nothing in particular."""
    return (sign * 64)[:64]


DECISION = SealedDecision(
    proposal="slack",
    chosen="shim",
    by="me",
    on="2026-03-09",
    verdict="justified",
    weighed_on="2026-03-20",
    proof=sum_of("a"),
    record=sum_of("b"),
    files=sum_of("c"),
    evidence=sum_of("d"),
    rulebook=sum_of("e"),
    overlays=("turret-clock",),
    engines=("durable-rules", "plain"),
    version="1.0",
)
NOTE = SealedNote("slack-1", sum_of("f"), "slack", 1)


def chain_of(folder: Folder, number: int, sign: Sign | None = None) -> tuple[Entry, ...]:
    """Seal some decisions an hour apart, every third a note, so that each entry is another."""
    made = []
    for n in range(number):
        what = replace(NOTE, note=f"slack-{n}") if n % 3 == 2 else replace(DECISION, proposal=f"slack-{n}")
        made.append(append(folder, what, f"2026-07-01T{10 + n}:00:00+01:00", "Ann Ash", sign))
    return tuple(made)


def wrong(folder: Folder) -> list[tuple[str, int]]:
    """The code and the line of everything that is wrong with a chain."""
    return [told(problem) for problem in read_chain(folder, "c").problems]


def state(root: Path) -> dict[str, bytes]:
    """Every file below a folder, as it stands."""
    return {str(path.relative_to(root)): path.read_bytes() for path in sorted(root.rglob("*")) if path.is_file()}


def told(problem: Problem) -> tuple[str, int]:
    return problem.code, problem.where.line


# ---- a casebook ------------------------------------------------------------------------------------------------

PART = """\
    name: Slide
    significance: some
    material: grey-cast-iron
    phase: as-built
    running_clearance: {value: 0.70 ± 0.04 mm, evidence: [named]}
    present: yes
    serviceable: yes
    surfaces:
      face: {function: sliding, area: 400 ± 6 cm2, sets_clearance: yes, marks: none}
      back: {function: mating, area: 400 ± 6 cm2, sets_clearance: yes, marks: none}
    repairs: none
    defects:
      slack: {kind: wear, seen: seen, active: no, affects_safety: no}
    history: none
    """
PROPOSAL = """\
    title: Take up the slack
    component: slide
    needs:
      fit:
        kind: function
        says: It runs.
        test: {component.running_clearance: {between: [0.10 mm, 0.40 mm]}}
        set_by: me
    options:
      leave: {acts: []}
      shim: {acts: [{technique: shimming, where: back, thickness: 0.50 mm, treats: slack, takes: none, disturbs_repair: no}]}
    preferred: shim
    asked: {date: 2026-03-02, by: me}
    """
DECIDED = "decision: {chosen: shim, by: me, date: 2026-03-09, reason: It is the gentlest that serves.}\n"
REGISTER = """\
    about: {kind: photograph, date: 2026-03-01, by: me, about: [slide], shows: Its face., file: about.jpg}
    named: {kind: measurement-sheet, date: 2026-03-01, by: me, about: [wheel], shows: Readings., file: named.csv.gz}
    apart: {kind: photograph, date: 2026-03-01, by: me, about: [wheel], shows: The wheel., file: apart.jpg}
    whole: {kind: document, date: 2026-03-01, by: me, about: [object], shows: A drawing., file: whole.pdf}
    lent: {kind: document, date: 2026-03-01, by: me, about: [slide], shows: A letter., held: The record office}
    """
FILES = {
    "object.yaml": OBJECT,
    "components/slide.yaml": PART,
    "components/wheel.yaml": PART.replace("Slide", "Wheel").replace("{value: 0.70 ± 0.04 mm, evidence: [named]}", "0.70 mm"),
    "proposals/slack.yaml": PROPOSAL + DECIDED,
    "proposals/again.yaml": PROPOSAL + DECIDED,
    "proposals/open.yaml": PROPOSAL,
    "evidence/register.yaml": REGISTER,
    **{f"evidence/{name}": f"{name}\n" for name in ("about.jpg", "named.csv.gz", "apart.jpg", "whole.pdf")},
}


@lru_cache(maxsize=1)
def small_rules() -> tuple[Rulebook, Folder]:
    """A rulebook of words alone, and the folder that it stands in."""
    root = mkdtemp()
    atexit.register(shutil.rmtree, root, ignore_errors=True)
    folder = rules_folder(Path(root), {})
    return rules_in(folder), folder


@dataclass
class Sealing:
    """A casebook on the disk, and what it takes to seal its decisions."""

    root: Path
    rulebook: Rulebook
    rules: Folder

    @property
    def folder(self) -> Folder:
        return Folder(self.root)

    @property
    def casebook(self) -> Casebook:
        return read(self.folder, self.rulebook)

    def write(self, name: str, text: str) -> None:
        folder_of(self.root, {name: text})

    def made(self, *names: str, record: str = "A record.\n", on: date | None = None) -> tuple[Made, ...]:
        """The named proposals, or all that are decided, weighed."""
        casebook = self.casebook
        asked = [one for one in casebook.proposals if (one.id in names if names else one.decision)]
        weighings = (weigh(one, casebook, self.rulebook, on) for one in asked)
        return tuple(Made(one, record, canonical_json(proof(one, self.rulebook))) for one in weighings)

    def seal(self, *names: str, at: str = AT, record: str = "A record.\n", sign: Sign | None = None) -> dict[str, Entry]:
        """Seal the named proposals, or all that are decided; those that were sealed, by their id."""
        return self.seal_these(self.made(*names, record=record), at, sign)

    def seal_these(self, made: Sequence[Made], at: str = AT, sign: Sign | None = None) -> dict[str, Entry]:
        with in_turn(self.root):
            how = By(at, "Ann Ash", ("plain",), "1.0", sign)
            found = seal_decisions(self.folder, made, self.rulebook, self.rules, how)
        return {one.weighing.proposal.id: entry for one, entry in zip(made, found, strict=True) if entry}


def small_in(root: Path) -> Sealing:
    """A small casebook with a decision, `slack`, another, `again`, and a question that is `open`."""
    folder_of(root, FILES)
    return Sealing(root, *small_rules())


def clock_in(root: Path) -> Sealing:
    """A copy of the demonstration's clock that was never sealed, by the rules that came along and its overlays."""
    shutil.copytree(CLOCK, root, ignore=shutil.ignore_patterns("chain.jsonl", "sealed", "rulebooks", "notes"))
    return Sealing(root, clock_rules(), Folder(HOUSE / "rules"))
