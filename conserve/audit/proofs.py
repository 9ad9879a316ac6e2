"""Kept proofs, checked by the checker that stands alone: run as it is, never imported."""

from __future__ import annotations

import sys
from collections.abc import Callable, Mapping, Sequence
from itertools import islice
from pathlib import Path

_AT_ONCE = 200  # proofs that one process is given
_PATIENCE = 30  # seconds for each of them, and to begin with; some hundredths of one is usual


def holding(proofs: Mapping[str, Callable[[], bytes]]) -> dict[str, str]:
    """What the checker finds wrong with each proof, by its name; "" where it holds. Names are digests.

    The proofs are read one by one and written out under a temporary folder, because the checker opens files.
    """
    from tempfile import TemporaryDirectory

    found: dict[str, str] = {}
    waiting = iter(sorted(proofs))
    while names := tuple(islice(waiting, _AT_ONCE)):
        with TemporaryDirectory(prefix="conserve-") as root:
            for name in names:
                Path(root, f"{name}.json").write_bytes(proofs[name]())
            found |= _checked(names, root)
    return found


def _checked(names: Sequence[str], root: str) -> dict[str, str]:
    """Ask of all at once, and of halves where one of them does not hold: what it prints is never taken apart."""
    holds, said = _run(names, root)
    if holds:
        return dict.fromkeys(names, "")
    if len(names) == 1:
        return {names[0]: said}
    middle = len(names) // 2
    return {**_checked(names[:middle], root), **_checked(names[middle:], root)}


def _run(names: Sequence[str], root: str) -> tuple[bool, str]:
    import subprocess

    checker = Path(__file__).parent.parent / "checker.py"
    asked = [sys.executable, "-I", str(checker), *(f"{name}.json" for name in names)]
    patience = _PATIENCE * (len(names) + 1)
    try:
        ran = subprocess.run(
            asked, cwd=root, capture_output=True, encoding="utf-8", errors="replace", check=False, timeout=patience
        )
    except subprocess.TimeoutExpired:
        return False, f"the checker came to no end in {patience} seconds"
    if ran.returncode not in (0, 1, 2):
        return False, f"the checker stopped: {(ran.stderr.strip().splitlines() or ['no reason given'])[-1]}"
    return ran.returncode == 0, " ".join((ran.stdout or ran.stderr).split())
