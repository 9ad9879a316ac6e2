"""Casebooks with sealed decisions, any number of them: copies of the demonstrations, each with numbers of its own.

Every proposal with a preferred option is decided for it, and sealed for real. The text of a record takes ten times as
long as everything else and weighs nothing: a stand-in of one line is sealed in its place.
"""

from __future__ import annotations

import re
import shutil
from functools import lru_cache
from pathlib import Path
from random import Random

from conserve.casebook import Casebook, read_casebook
from conserve.engine import engines
from conserve.explanation.proof import canonical_json, proof
from conserve.facts import claims_that_disagree
from conserve.files import Folder, in_turn, shipped
from conserve.rulebook import Rulebook, read_rulebook
from conserve.seal import By, Made, seal_decisions
from conserve.weighing import weigh
from conserve.weighing.whole import each_before_and_after

BOOKS = {"marrow-fen": (), "sallow-wharf": ("evidence-policy", "turret-clock")}
DECIDED, SEALED, SINCE = "2026-05-20", "2026-06-01T10:00:00+00:00", "2026-07-01"
TIMES = 5  # that numbers are drawn, until they fit together
STAND_IN = "No record was written for this trial.\n"
_INPUTS = ("components", "proposals", "evidence", "object.yaml", "measurements.csv")
_NUMBER = re.compile(r"(?<=\.)([0-9]*)([0-9])(?= ± )")
_HISTORY = re.compile(r"^history:\n(?=( +)- )", re.MULTILINE)
_DECISION = "decision:\n  chosen: {}\n  by: lead\n  date: {}\n  reason: As it was put forward.\n"


def casebooks(root: Path, decisions: int, processes: int = 1) -> int:
    """Write casebooks with at least so many sealed decisions below a folder, and give how many there really are."""
    from joblib import Parallel, delayed

    pairs = -(-decisions // sum(map(_decisions, BOOKS)))
    made = [(root / f"{number:05d}-{name}", name, number) for number in range(pairs) for name in BOOKS]
    return sum(Parallel(n_jobs=processes)(delayed(casebook)(*one) for one in made))


def _decisions(name: str) -> int:
    texts = ((path.read_text(encoding="utf-8")) for path in (shipped("casebook") / name / "proposals").glob("*.yaml"))
    return sum("\ndecision:" in text or "\npreferred:" in text for text in texts)


def casebook(root: Path, name: str, seed: int) -> int:
    """One copy with numbers of its own; as it is shipped where these do not fit together. How many it has sealed."""
    rules, rulebook = rules_of(name)
    for draw in (*(Random(f"{name} {seed} {time}") for time in range(TIMES)), None):
        shutil.rmtree(root, ignore_errors=True)
        _write(root, name, draw)
        found, _ = read_casebook(Folder(root), rulebook.vocabulary, root.name)
        if found is not None and not claims_that_disagree(found, rulebook.vocabulary):
            number = _seal(Folder(root), found, rulebook, rules)
            _go_on(root)
            return number
    raise SystemExit(f"{root} cannot be read")


@lru_cache
def rules_of(name: str) -> tuple[Folder, Rulebook]:
    rules = Folder(shipped("rules"))
    rulebook, problems = read_rulebook(rules, BOOKS[name])
    if rulebook is None:
        raise SystemExit("\n".join(map(str, problems)))
    return rules, rulebook


def _write(root: Path, name: str, draw: Random | None) -> None:
    for part in _INPUTS:
        there, here = shipped("casebook") / name / part, root / part
        if there.is_dir():
            shutil.copytree(there, here)
        else:
            root.mkdir(parents=True, exist_ok=True)
            shutil.copyfile(there, here)
    for path in sorted((root / "components").glob("*.yaml")) if draw else ():
        assert draw is not None
        path.write_text(_changed(path.read_text(encoding="utf-8"), draw), encoding="utf-8")
    for path in sorted((root / "proposals").glob("*.yaml")):
        text = path.read_text(encoding="utf-8")
        preferred = re.search("^preferred: (.+)$", text, re.MULTILINE)
        if preferred and "\ndecision:" not in text:
            path.write_text(text + _DECISION.format(preferred[1], DECIDED), encoding="utf-8")


def _changed(text: str, draw: Random) -> str:
    """The last digit of each number with a ± may be another."""
    return _NUMBER.sub(lambda found: found[1] + str(draw.choice((found[2], draw.randint(1, 9)))), text)


def _seal(folder: Folder, found: Casebook, rulebook: Rulebook, rules: Folder) -> int:
    decided = [one for one in found.proposals if one.decision]
    weighed = each_before_and_after([weigh(one, found, rulebook) for one in decided], rulebook.vocabulary)
    made = [Made(one, STAND_IN, canonical_json(proof(one, rulebook, whole))) for one, whole in weighed]
    with in_turn(folder.root):
        entries = seal_decisions(folder, made, rulebook, rules, By(SEALED, "lead", engines(), "trial"))
    return len(entries)


def _go_on(root: Path) -> None:
    """Write what happened after the seal into the first part that has a history."""
    for path in sorted((root / "components").glob("*.yaml")):
        text = path.read_text(encoding="utf-8")
        after = _HISTORY.sub(rf"\g<0>\g<1>- {{date: {SINCE}, kind: examined, says: Looked at again.}}\n", text, count=1)
        if after != text:
            path.write_text(after, encoding="utf-8")
            return
