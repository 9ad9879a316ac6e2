"""Small rules folders and small casebooks, made from text, for tests that go from text to verdict."""

from __future__ import annotations

import os
from collections.abc import Iterable, Mapping
from functools import lru_cache
from pathlib import Path
from textwrap import dedent

from conserve.casebook import Casebook, read_casebook
from conserve.files import Folder
from conserve.problem import Problem
from conserve.quantity import Quantity
from conserve.rulebook import Rulebook, overlays_of, read_rulebook
from conserve.weighing import OptionWeighing, Weighing, weigh, weigh_all

HOUSE = Path(__file__).parent.parent
DEMO = HOUSE / "casebook" / "marrow-fen"
CLOCK = HOUSE / "casebook" / "sallow-wharf"
MORE = int(os.environ.get("CONSERVE_LAWS", "1"))  # how many times as many random cases

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
      as-built: {period: as-made, dates: "1868"}
    """

Files = Mapping[str, str]
Place = tuple[str, int, int]  # code, line, column


def folder_of(root: Path, files: Files) -> Folder:
    """Write dedented texts under a folder, and give the folder."""
    for name, text in files.items():
        path = root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text(dedent(text), encoding="utf-8")
    return Folder(root)


OVERLAYS = overlays_of(Folder(HOUSE / "rules"))


@lru_cache(maxsize=8)
def shipped_rules(*overlays: str) -> Rulebook:
    """The rulebook that travels with the program, with these overlays laid over it."""
    return rules_in(Folder(HOUSE / "rules"), *overlays)


def rules_in(folder: Folder, *overlays: str) -> Rulebook:
    rulebook, problems = read_rulebook(folder, overlays)
    assert rulebook is not None, "\n".join(map(str, problems))
    return rulebook


@lru_cache(maxsize=1)
def demo() -> Casebook:
    """The casebook that travels with the program."""
    return read(Folder(DEMO))


@lru_cache(maxsize=1)
def clock() -> Casebook:
    """The second casebook that travels with the program, a turret clock with overlays."""
    return read(Folder(CLOCK), clock_rules())


def clock_rules() -> Rulebook:
    """The rulebook with what the clock's casebook lays over it."""
    return shipped_rules("evidence-policy", "turret-clock")


def read(folder: Folder, rulebook: Rulebook | None = None) -> Casebook:
    """Read a casebook that must be sound."""
    casebook, problems = read_casebook(folder, (rulebook or shipped_rules()).vocabulary, "trial")
    assert casebook is not None, "\n".join(map(str, problems))
    return casebook


def casebook_of(root: Path, files: Files, rulebook: Rulebook | None = None) -> Casebook:
    """Write and read a small casebook; its object is given unless a file says otherwise."""
    return read(folder_of(root, {"object.yaml": OBJECT, **files}), rulebook)


def problems_of(root: Path, files: Files) -> tuple[Problem, ...]:
    """What is wrong with a small casebook."""
    folder = folder_of(root, {"object.yaml": OBJECT, **files})
    return read_casebook(folder, shipped_rules().vocabulary, "trial")[1]


def places(problems: Iterable[Problem]) -> list[Place]:
    return [(p.code, p.where.line, p.where.column) for p in problems]


def weighed(casebook: Casebook, proposal: str = "", rulebook: Rulebook | None = None) -> Weighing:
    """Weigh the named proposal of a casebook, or its only one."""
    asked = casebook.proposal(proposal) if proposal else casebook.proposals[0]
    assert asked is not None
    return weigh(asked, casebook, rulebook or shipped_rules())


@lru_cache(maxsize=1)
def every_weighing() -> dict[str, Weighing]:
    """Every proposal of both demonstrations, weighed, by its id; no id is used in both."""
    found = (*weigh_all(demo(), shipped_rules()), *weigh_all(clock(), clock_rules()))
    return {one.proposal.id: one for one in found}


def golden(name: str) -> str:
    """The record of a proposal of a demonstration as it is kept; test_record holds each to what is written today."""
    (path,) = (path for root in (DEMO, CLOCK) for path in (root / "records").glob(f"{name}.md"))
    return path.read_text(encoding="utf-8")


def fares(weighing: Weighing) -> dict[str, tuple[str, str]]:
    """Each option of a weighing of one component: its verdict, and the step that gave it."""
    (part,) = weighing.parts
    return {o.option.id: (str(o.verdict), str(o.reason.step)) for o in part.options}


def option(weighing: Weighing, name: str) -> OptionWeighing:
    (part,) = weighing.parts
    return part.option(name)


def amount(quantity: Quantity | None) -> float:
    """A number's amount, as a float to compare with."""
    assert quantity is not None
    return float(quantity.amount)


def doubt(quantity: Quantity | None) -> float:
    """A number's ±, which must be stated, as a float to compare with."""
    assert quantity is not None and quantity.uncertainty is not None
    return float(quantity.uncertainty)


# ---- small rulebooks ----------------------------------------------------------------------------------

WORDS = {
    name: (HOUSE / "rules" / name).read_text(encoding="utf-8")
    for name in ("terms.yaml", "techniques.yaml", "sources.yaml")
}


def rule(about: str, when: str, then: str, overrides: str = "", status: str = "adopted") -> str:
    """The text of a rule, but for its id: premises and effect in flow style, and its three examples."""
    kind = then.partition(":")[0].strip("{ ")
    outcomes = (kind, "silent", "open") if when != "{}" else (kind,)
    examples = "\n".join(f"- {{name: {outcome}, given: {{}}, expect: {outcome}}}" for outcome in outcomes)
    edges = f"overrides: [{{rule: {overrides}, why: so}}]\n" if overrides else ""
    return (
        f"title: A rule\nstatus: {status}\nsince: 2026-01-01\nabout: {about}\nsources: [common-practice]\n"
        f"because: So.\nwhen: {when}\nthen: {then}\n{edges}examples:\n{examples}\n"
    )


def rules_folder(root: Path, rules: Files) -> Folder:
    """A folder of rules with the words and sources that travel with the program."""
    return folder_of(root, {**WORDS, **{f"{name}.yaml": f"id: {name}\n{text}" for name, text in rules.items()}})


def rulebook_of(root: Path, **rules: str) -> Rulebook:
    """Write and read a small rulebook; a rule's id is `r/` and its key, with hyphens."""
    named = {f"r/{name.replace('_', '-')}": text for name, text in rules.items()}
    return rules_in(rules_folder(root / "rules", named))
