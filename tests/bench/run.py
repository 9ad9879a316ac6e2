"""Ratios against a named peer or a floor, all in one run. Prints; asserts nothing.

python tests/bench/run.py              1,000 proposals, a few minutes
python tests/bench/run.py --smallest   what CI runs
python tests/bench/run.py --json       the same rows, for programs
"""

from __future__ import annotations

import argparse
import gc
import json
import os
import subprocess
import sys
import tempfile
import tracemalloc
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from functools import partial
from importlib import import_module
from pathlib import Path
from statistics import median
from time import perf_counter
from typing import NamedTuple

sys.path.insert(0, str(Path(__file__).parent))
import looking
import made
import yaml

import conserve.inference as inference
from conserve.casebook import Casebook, read_casebook
from conserve.engine import Engine, Outcome, Program, engines, fire, fire_with, plain
from conserve.files import Folder, shipped
from conserve.rulebook import Rulebook, read_rulebook
from conserve.truth import Truth
from conserve.weighing import weigh

HOUSE = Path(__file__).parent.parent.parent
PLAIN = (Engine("plain", plain.fire),)
Asked = tuple[Program, tuple[Truth, ...]]
Fire = Callable[[Program, tuple[Truth, ...]], Outcome]


class Row(NamedTuple):
    """One ratio: of what, against what, and at most how much is wanted, if anything is."""

    what: str
    ratio: float
    against: str
    wanted: float | None = None
    note: str = ""

    def __str__(self) -> str:
        notes = [f"wanted: {self.wanted:g} or less"] if self.wanted is not None else []
        notes += [self.note] if self.note else []
        told = f"   ({'; '.join(notes)})" if notes else ""
        return f"{self.what:<64} {self.ratio:>7.2f} x {self.against}{told}"


def seconds(work: Callable[[], object], times: int = 1) -> float:
    """The shortest of some runs: what disturbs a run only ever makes it longer."""
    taken = []
    for _ in range(times):
        gc.collect()
        began = perf_counter()
        work()
        taken.append(perf_counter() - began)
    return min(taken)


# ---- cold starts ------------------------------------------------------------------------------------


def cold(rounds: int, scratch: Path) -> Iterator[Row]:
    """Start afresh each time; the commands take turns, so that a busy minute touches all alike.

    All of them find their modules compiled, as they do once installed: an untimed round does it.
    """
    python = sys.executable
    commands = {
        "pass": [python, "-c", "pass"],
        "yaml": [python, "-c", "import yaml"],
        "help": [python, "-m", "conserve", "--help"],
        "weigh": [python, "-m", "conserve", "weigh", "crosshead-slipper"],
    }
    surroundings = {name: value for name, value in os.environ.items() if name != "PYTHONDONTWRITEBYTECODE"}
    surroundings["PYTHONPYCACHEPREFIX"] = str(scratch / "compiled")

    def run(command: list[str]) -> None:
        done = subprocess.run(command, cwd=HOUSE, env=surroundings, capture_output=True, check=False)
        if done.stderr:  # a command that fails comes back sooner
            raise SystemExit(done.stderr.decode())

    for command in commands.values():
        run(command)
    taken: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(rounds):
        for name, command in commands.items():
            began = perf_counter()
            run(command)
            taken[name].append(perf_counter() - began)
    middle = {name: median(times) for name, times in taken.items()}
    told = f"{1000 * middle['weigh']:.0f} ms here"
    yield Row("cold `conserve weigh` of one proposal", middle["weigh"] / middle["yaml"], "`import yaml`", 6, told)
    yield Row("cold `conserve --help`", middle["help"] / middle["pass"], "`python -c pass`", 7.5)


# ---- many proposals ---------------------------------------------------------------------------------


def read(folder: Path, rulebook: Rulebook) -> Casebook:
    casebook, problems = read_casebook(Folder(folder), rulebook.vocabulary, "trial")
    if casebook is None:
        raise SystemExit("\n".join(map(str, problems)))
    return casebook


def rules_of(folder: Path) -> Rulebook:
    rulebook, problems = read_rulebook(Folder(folder))
    if rulebook is None:
        raise SystemExit("\n".join(map(str, problems)))
    return rulebook


def weigh_each(casebook: Casebook, rulebook: Rulebook) -> None:
    for proposal in casebook.proposals:
        weigh(proposal, casebook, rulebook)


def parsed(folder: Path) -> None:
    """The floor: the C loader's parse of the same files into plain lists and dictionaries."""
    for name in sorted(folder.rglob("*.yaml")):
        with name.open("rb") as file:
            yaml.load(file, Loader=yaml.CSafeLoader)


def fire_both(program: Program, bodies: tuple[Truth, ...]) -> Outcome:
    """Every engine there is, with nothing remembered."""
    return fire.__wrapped__(program, bodies)


def fire_plain(program: Program, bodies: tuple[Truth, ...]) -> Outcome:
    return fire_with(PLAIN, program, bodies)


@contextmanager
def firing(other: Fire) -> Iterator[None]:
    """Weigh with another way to fire."""
    inference.fire = other  # type: ignore[assignment]
    try:
        yield
    finally:
        inference.fire = fire


def many(size: int, casebook_folder: Path, rulebook: Rulebook, title: str) -> Iterator[Row | float]:
    """The rows of one size; at the end the seconds that one proposal takes."""
    floor = seconds(lambda: parsed(casebook_folder), 3)
    times = 3 if size <= 100 else 1
    reading = seconds(lambda: read(casebook_folder, rulebook), times)
    casebook = read(casebook_folder, rulebook)

    def weighing() -> None:
        weigh_each(casebook, rulebook)

    with firing(fire_both):
        both = seconds(weighing, times)
    with firing(fire_plain):
        alone = seconds(weighing, times)
    fire.cache_clear()
    remembering = seconds(weighing)
    told = fire.cache_info()
    remembered = f"{told.hits / max(1, told.hits + told.misses):.0%} of the answers remembered"
    subject, named = f"{size:,} proposals, {title}", " and ".join(engines())
    parts = f"reading {reading / floor:.1f}, weighing {both / floor:.1f}"
    wanted = 5 if title == SPINE and size >= 1000 else None
    yield Row(f"{subject}: read and weigh", (reading + both) / floor, "their parse by the C loader", wanted, parts)
    yield Row(f"{subject}: the same as it is used", (reading + remembering) / floor, "their parse", wanted, remembered)
    yield Row(f"{subject}: weigh with {named}", both / alone, "the plain evaluator alone")
    yield (reading + both) / size


SPINE = f"{made.SPINE} rules"


def growth(sizes: Sequence[int], each: Sequence[float], title: str) -> Row:
    told = ", ".join(f"{1000 * one:.2f} ms at {size:,}" for size, one in zip(sizes, each, strict=True))
    return Row(f"time for a proposal of {sizes[-1]:,}, {title}", each[-1] / each[0], f"that of {sizes[0]}", None, told)


# ---- against CLIPS ----------------------------------------------------------------------------------


def asked_of(casebook: Casebook, rulebook: Rulebook) -> list[Asked]:
    """Everything that weighing a casebook asks of the engines, in order."""
    asked: list[Asked] = []

    def listen(program: Program, bodies: tuple[Truth, ...]) -> Outcome:
        asked.append((program, bodies))
        return fire_plain(program, bodies)

    with firing(listen):
        weigh_each(casebook, rulebook)
    return asked


def against_clips(casebook: Casebook, rulebook: Rulebook, title: str) -> Iterator[Row]:
    """The same propositions matched by CLIPS: bodies as facts, in the certain and in the possible world.

    CLIPS has the lighter work: it fills in no `otherwise`, and its facts are written out before the clock starts.
    """
    try:
        import clips
    except ImportError:
        print("CLIPS is not installed here (pip install clipspy); left out.", file=sys.stderr)
        return
    asked = asked_of(casebook, rulebook)
    environments = {}
    for program in {program for program, _ in asked}:
        environments[program] = environment = clips.Environment()
        for rule in _as_clips(program):
            environment.build(rule)
    worlds = [
        (environments[program], " ".join(f"(b{number})" for number, body in enumerate(bodies) if body >= world))
        for program, bodies in asked
        for world in (Truth.YES, Truth.UNKNOWN)
    ]

    def match() -> None:
        for environment, facts in worlds:
            environment.reset()
            if facts:
                environment.load_facts(facts)
            environment.run()

    peer = seconds(match, 3)
    for ours, named in ((fire_both, " and ".join(engines())), (fire_plain, "the plain evaluator")):
        taken = seconds(partial(_match, asked, ours), 3)
        yield Row(f"{title}: matching by {named}", taken / peer, "CLIPS, the same rules", None, f"{len(asked)} times")


def _match(asked: Sequence[Asked], ours: Fire) -> None:
    for program, bodies in asked:
        ours(program, bodies)


def _as_clips(program: Program) -> Iterator[str]:
    for number, clause in enumerate(program.clauses):
        waits = "".join(f" (p{premise})" for premise in clause.waits_for)
        word, value = clause.establishes or (-1, "")
        settles = (
            at for at, premise in enumerate(program.premises) if premise.word == word and value in premise.accepts
        )
        yield f"(defrule r{number} (b{number}){waits} => {' '.join(f'(assert (p{at}))' for at in settles)})"


# ---- memory -----------------------------------------------------------------------------------------


def memory(sizes: Sequence[int], folders: Sequence[Path], rulebook: Rulebook) -> Iterator[Row]:
    """What a proposal and its part hold once read, and the most that weighing one takes and gives back."""
    held, most = [], []
    for size, folder in zip(sizes, folders, strict=True):
        weigh_each(read(folder, rulebook), rulebook)  # what is made once and kept is made here
        tracemalloc.start()
        casebook = read(folder, rulebook)
        gc.collect()
        held.append(tracemalloc.get_traced_memory()[0] / size / 1024)
        most.append(max(_taken(partial(weigh, one, casebook, rulebook)) for one in casebook.proposals) / 1024)
        tracemalloc.stop()
    small, large = f"that of {sizes[0]}", f"{sizes[-1]:,}"
    yield Row(f"memory held by a proposal read, of {large}", held[-1] / held[0], small, None, f"{held[-1]:.0f} KiB")
    yield Row(
        f"most memory that weighing one takes, of {large}", most[-1] / most[0], small, None, f"{most[-1]:.0f} KiB"
    )


def _taken(work: Callable[[], object]) -> int:
    tracemalloc.reset_peak()
    before = tracemalloc.get_traced_memory()[0]
    work()
    return tracemalloc.get_traced_memory()[1] - before


# ---- all of it --------------------------------------------------------------------------------------


def rows(sizes: Sequence[int], rounds: int, scratch: Path) -> Iterator[Row]:
    yield from cold(rounds, scratch)
    folders = [made.casebook(scratch / f"casebook-{size}", size) for size in sizes]
    spine, whole = rules_of(made.spine(shipped("rules"), scratch / "rules")), rules_of(shipped("rules"))
    for rulebook, title in ((spine, SPINE), (whole, f"{len(whole.rules)} rules")):
        each: list[float] = []
        for size, folder in zip(sizes, folders, strict=True):
            for found in many(size, folder, rulebook, title):
                if isinstance(found, Row):
                    yield found
                else:
                    each.append(found)
        yield growth(sizes, each, title)
        yield from against_clips(read(folders[1], rulebook), rulebook, title)
    yield from memory(sizes, folders, spine)
    yield from looking_into(smallest=sizes[-1] < 1000)
    yield from neighbours(smallest=sizes[-1] < 1000)


def looking_into(smallest: bool) -> Iterator[Row]:
    """What it takes to look into a proposal, and how that grows with what is unknown."""
    for one in looking.told(smallest):
        note = f"at worst {one.worst:.0f} x; {one.note}"
        yield Row(one.what, one.middle, "weighing it once, in the middle", None, note)


def neighbours(smallest: bool) -> Iterator[Row]:
    """What each `bench_*.py` beside this one measures; each also runs alone, and there takes other sizes."""
    for path in sorted(Path(__file__).parent.glob("bench_*.py")):
        yield from (Row(*one) for one in import_module(path.stem).rows(smallest))


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--smallest", action="store_true", help="as small as it goes: for CI")
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")
    given = parser.parse_args()
    sizes, rounds = ((10, 50), 3) if given.smallest else ((10, 100, 1000), 15)
    told = {"python": sys.version.split()[0], "engines": list(engines())}
    with tempfile.TemporaryDirectory() as name:
        if given.json:
            print(json.dumps({**told, "rows": [row._asdict() for row in rows(sizes, rounds, Path(name))]}, indent=1))
            return
        print(f"Python {told['python']}; engines: {', '.join(engines())}. Ratios, all of one run.\n")
        for row in rows(sizes, rounds, Path(name)):
            print(row, flush=True)


if __name__ == "__main__":
    main()
