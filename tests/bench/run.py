"""Ratios against a named peer or a floor, all in one run. Prints; asserts nothing.

    python tests/bench/run.py              1,000 proposals, a few minutes
    python tests/bench/run.py --smallest   what CI runs
"""

from __future__ import annotations

import argparse
import gc
import subprocess
import sys
import tempfile
import tracemalloc
from collections.abc import Callable, Sequence
from pathlib import Path
from statistics import median
from time import perf_counter

sys.path.insert(0, str(Path(__file__).parent))
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


def seconds(work: Callable[[], object]) -> float:
    gc.collect()
    began = perf_counter()
    work()
    return perf_counter() - began


def say(what: str, ratio: float, against: str, note: str = "") -> None:
    print(f"{what:<58} {ratio:>8.2f} x {against}{f'   ({note})' if note else ''}")


# ---- cold starts ------------------------------------------------------------------------------------


def cold(rounds: int) -> None:
    """Start afresh each time; the commands take turns, so that a busy minute touches all alike."""
    python = sys.executable
    commands = {
        "pass": [python, "-c", "pass"],
        "yaml": [python, "-c", "import yaml"],
        "help": [python, "-m", "conserve", "--help"],
        "weigh": [python, "-m", "conserve", "weigh", "crosshead-slipper"],
    }
    taken: dict[str, list[float]] = {name: [] for name in commands}
    for _ in range(rounds):
        for name, command in commands.items():
            run = lambda command=command: subprocess.run(command, cwd=HOUSE, capture_output=True, check=False)  # noqa: E731
            taken[name].append(seconds(run))
    middle = {name: median(times) for name, times in taken.items()}
    say("cold `conserve weigh` of one proposal", middle["weigh"] / middle["yaml"], "`import yaml`", "wanted: 6 or less")
    say("cold `conserve --help`", middle["help"] / middle["pass"], "`python -c pass`", "wanted: 7.5 or less")


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


def fire_plain(program: Program, bodies: tuple[Truth, ...]) -> Outcome:
    return fire_with(PLAIN, program, bodies)


def asked_of(casebook: Casebook, rulebook: Rulebook) -> list[Asked]:
    """Everything that weighing a casebook asks of the engines, in order."""
    asked: list[Asked] = []

    def listen(program: Program, bodies: tuple[Truth, ...]) -> Outcome:
        asked.append((program, bodies))
        return fire_plain(program, bodies)

    with_fire(listen, lambda: weigh_each(casebook, rulebook))
    return asked


def with_fire(other: Callable[[Program, tuple[Truth, ...]], Outcome], work: Callable[[], object]) -> float:
    """Time some work with another way to fire."""
    inference.fire = other  # type: ignore[assignment]
    try:
        return seconds(work)
    finally:
        inference.fire = fire


def many(size: int, rulebook: Rulebook, title: str, scratch: Path) -> float:
    """Measure one size; gives the time for a proposal over that of its parse."""
    folder = made.casebook(scratch / f"{title}-{size}".replace(" ", "-"), size)
    floor = min(seconds(lambda: parsed(folder)) for _ in range(3))
    fire.cache_clear()
    reading = seconds(lambda: read(folder, rulebook))
    casebook = read(folder, rulebook)
    fire.cache_clear()
    both = seconds(lambda: weigh_each(casebook, rulebook))
    told = fire.cache_info()
    alone = with_fire(fire_plain, lambda: weigh_each(casebook, rulebook))
    hits = told.hits / max(1, told.hits + told.misses)
    say(f"{size:>5} proposals, {title}: read and weigh", (reading + both) / floor, "their parse by the C loader",
        "wanted: 5 or less" if "30" in title else "")  # fmt: skip
    say(f"{size:>5} proposals, {title}: weigh with {' and '.join(engines())}", both / alone, "the plain evaluator alone",
        f"{hits:.0%} of the answers remembered")  # fmt: skip
    return (reading + both) / floor


def against_clips(casebook: Casebook, rulebook: Rulebook) -> None:
    """The same propositions matched by CLIPS, where it is installed."""
    try:
        import clips
    except ImportError:
        print("CLIPS is not installed here (pip install clipspy); left out.")
        return
    asked = asked_of(casebook, rulebook)
    environments = {}
    for program in {program for program, _ in asked}:
        environment = clips.Environment()
        for number, clause in enumerate(program.clauses):
            waits = "".join(f" (p{premise})" for premise in clause.waits_for)
            gives = "".join(
                f" (assert (p{index}))" for index, premise in enumerate(program.premises)
                if clause.establishes and premise.word == clause.establishes[0] and clause.establishes[1] in premise.accepts
            )  # fmt: skip
            environment.build(f"(defrule r{number} (b{number}){waits} =>{gives})")
        environments[program] = environment

    def match() -> None:
        for program, bodies in asked:
            environment = environments[program]
            for world in (Truth.YES, Truth.UNKNOWN):       # certain, then possible
                environment.reset()
                for number, body in enumerate(bodies):
                    if body >= world:
                        environment.assert_string(f"(b{number})")
                environment.run()

    def ours() -> None:
        for program, bodies in asked:
            fire(program, bodies)

    fire.cache_clear()
    say("both engines on what was asked, nothing remembered", seconds(ours) / seconds(match), "CLIPS, the same rules",
        f"{len(asked)} questions")  # fmt: skip


def memory(sizes: Sequence[int], rulebook: Rulebook, scratch: Path) -> None:
    """Peak memory while proposals are weighed one after another, over what one alone takes."""
    peaks = {}
    for size in sizes:
        casebook = read(made.casebook(scratch / f"memory-{size}", size), rulebook)
        fire.cache_clear()
        tracemalloc.start()
        weigh_each(casebook, rulebook)
        peaks[size] = tracemalloc.get_traced_memory()[1] / 1024
        tracemalloc.stop()
    small, large = min(sizes), max(sizes)
    say(f"peak memory of weighing {large} one after another", peaks[large] / peaks[small], f"that of {small}",
        f"{peaks[large]:.0f} KiB, remembered answers with it")  # fmt: skip


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__, formatter_class=argparse.RawDescriptionHelpFormatter)
    parser.add_argument("--smallest", action="store_true", help="as small as it goes: for CI")
    smallest = parser.parse_args().smallest
    sizes = (10, 50) if smallest else (10, 100, 1000)
    print(f"Python {sys.version.split()[0]}; engines: {', '.join(engines())}. Ratios, all of one run.\n")
    cold(3 if smallest else 11)
    with tempfile.TemporaryDirectory() as name:
        scratch = Path(name)
        spine, whole = rules_of(made.spine(shipped("rules"), scratch / "rules")), rules_of(shipped("rules"))
        for rulebook, title in ((spine, "30 rules"), (whole, f"{len(whole.rules)} rules")):
            ratios = [many(size, rulebook, title, scratch) for size in sizes]
            say(f"growth from {sizes[0]} to {sizes[-1]} proposals, {title}", ratios[-1] / ratios[0], "linear growth")
        against_clips(read(scratch / f"30-rules-{sizes[1]}", spine), spine)
        memory(sizes[:2], spine, scratch)


if __name__ == "__main__":
    main()
