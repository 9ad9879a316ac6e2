"""What is tried in processes of its own: sealing by many at once, and sealing that is killed.

turns ROOT WHO EACH      so many processes each seal so many notes in one chain
killed ROOT TIMES SEED   the decisions of a small casebook are sealed again and again, and that is killed at random
clock ROOT TIMES SEED    the same with the demonstration's clock and all the rules
"""

from __future__ import annotations

import os
import random
import signal
import sys
import time
import traceback
from collections.abc import Callable
from dataclasses import replace
from functools import partial
from pathlib import Path

HERE = Path(__file__).parent
sys.path[:0] = [str(HERE.parent), str(HERE)]

from sealing import NOTE, Sealing, clock_in, small_in  # noqa: E402

from conserve.files import Folder, in_turn  # noqa: E402
from conserve.rulebook import read_rulebook  # noqa: E402
from conserve.seal import Made, append, as_sealed, kept, read_chain, rulebook_folder  # noqa: E402


def apart(do: Callable[[], None]) -> int:
    """Do something in another process."""
    child = os.fork()
    if child:
        return child
    try:
        do()
        os._exit(0)
    except BaseException:
        traceback.print_exc()
        os._exit(1)


def turns(root: Path, who: int, each: int) -> int:
    def seal(name: int) -> None:
        for number in range(each):
            with in_turn(root):
                append(Folder(root), replace(NOTE, note=f"note-{number}"), "2026-07-01T10:00:00+01:00", f"Sealer {name}")

    children = [apart(lambda name=name: seal(name)) for name in range(who)]
    return max(os.waitpid(child, 0)[1] for child in children)


def killed(root: Path, times: int, seed: int, start: Callable[[Path], Sealing] = small_in) -> int:
    """Kill whoever seals, and hold what is left against what was there before. Every tenth casebook is a new one."""
    chance, found, sealing, number, most = random.Random(seed), 0, start(root / "0"), 0, 0.0
    for turn in range(times):
        if turn % 10 == 0:
            sealing, most = start(root / str(turn + 1)), 0.3  # the first seal keeps all the rules
            made = sealing.made()
        before = read_chain(sealing.folder, "c").entries
        child = apart(lambda first=number, sealing=sealing, made=made: seal_many(sealing, made, first))
        time.sleep(chance.uniform(0, most))
        os.kill(child, signal.SIGKILL)
        os.waitpid(child, 0)
        number, most = number + 100, 0.05
        found += bool(left(sealing.root))
        must_stand(sealing, before)
        seal_many(sealing, made, number, 1)
        assert not read_chain(sealing.folder, "c").problems
        assert not left(sealing.root), left(sealing.root)
        number += 1
    print(f"killed {times} times; {found} times something half-written was left, and swept")
    return 0


def seal_many(sealing: Sealing, made: tuple[Made, ...], first: int, times: int = 100) -> None:
    """Seal all decisions with another record each time, so that there is something to seal."""
    for number in range(first, first + times):
        more = [replace(one, record=f"Record {number}.\n" * 2000) for one in made]
        assert len(sealing.seal_these(more)) == len(made)


def must_stand(sealing: Sealing, before: tuple[object, ...]) -> None:
    """All that was sealed before is there, and all that is sealed now is kept whole."""
    folder, rulebook = sealing.folder, sealing.rulebook
    chain = read_chain(folder, "c")
    assert {problem.code for problem in chain.problems} <= {"C105"}, chain.problems
    assert chain.entries[: len(before)] == before
    for entry in chain.entries[max(0, len(before) - 2) :]:
        sealed = entry.decision
        assert sealed is not None
        as_sealed(folder, sealed)
        kept(folder, sealed.proof)
        kept(folder, sealed.record)
    if len(chain.entries) > len(before):
        again, problems = read_rulebook(rulebook_folder(folder, rulebook.digest), tuple(one.name for one in rulebook.overlays))
        assert again is not None and again.digest == rulebook.digest, problems


def left(root: Path) -> list[str]:
    return sorted(str(path) for path in root.rglob(".writing-*"))


if __name__ == "__main__":
    what, at, *rest = sys.argv[1:]
    sys.exit({"turns": turns, "killed": killed, "clock": partial(killed, start=clock_in)}[what](Path(at), *map(int, rest)))
