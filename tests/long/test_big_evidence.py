"""Evidence of any size: taken in and checked in blocks, whatever a folder of scans and films comes to.

`CONSERVE_BIG` sets how much, such as `64M` (as it is without) or `5G`: it is laid out as files of at most 2 GiB.
Needs twice as much room in the folder for temporary files.
"""

from __future__ import annotations

import hashlib
import os
import resource
import subprocess
import sys
from pathlib import Path

from conserve.casebook import read_casebook
from conserve.files import Folder, shipped
from conserve.terms import read_vocabulary

HOUSE = Path(__file__).parents[2]
UNITS = {"M": 1 << 20, "G": 1 << 30}
ALLOWED = 150  # MB of memory, whatever the size of the evidence
LARGEST = 2 << 30
BLOCK = 1 << 20

OBJECT = "name: Trial engine\nsignificance: It turned for eighty years.\n"


def wanted() -> int:
    said = os.environ.get("CONSERVE_BIG", "64M")
    return int(said[:-1]) * UNITS[said[-1].upper()]


def sizes(total: int) -> list[int]:
    whole, rest = divmod(total, LARGEST)
    return [LARGEST] * whole + ([rest] if rest else [])


def written(path: Path, size: int) -> str:
    """Write a file that is full of bytes, not of holes, and give its digest."""
    sum_of, left, number = hashlib.sha256(), size, 0
    with path.open("wb") as out:
        while left:
            block = hashlib.shake_128(f"{path.name} {number}".encode()).digest(4096) * 256
            block = block[:left]
            out.write(block)
            sum_of.update(block)
            left -= len(block)
            number += 1
    return sum_of.hexdigest()


def run(*words: str) -> None:
    done = subprocess.run([sys.executable, "-m", "conserve", *words], cwd=HOUSE, capture_output=True, text=True)
    assert done.returncode == 0, done.stderr + done.stdout


def test_evidence_of_any_size_is_taken_in_and_checked_in_little_memory(tmp_path):
    casebook, source = tmp_path / "trial", tmp_path / "source"
    casebook.mkdir()
    source.mkdir()
    (casebook / "object.yaml").write_text(OBJECT, encoding="utf-8")
    digests = {}
    for number, size in enumerate(sizes(wanted())):
        path = source / f"film-{number}.mp4"
        digests[f"film-{number}"] = (written(path, size), size)
        run(
            "evidence", "add", str(path), "--in", str(casebook), "--kind", "document", "--date", "2026-03-02",
            "--by", "A. Name", "--about", "object", "--shows", "The engine at work.", "--show", "anyone",
        )  # fmt: skip
        path.unlink()
    run("evidence", "check", str(casebook))
    vocabulary, _ = read_vocabulary(Folder(shipped("rules")))
    assert vocabulary is not None
    read, problems = read_casebook(Folder(casebook), vocabulary, "trial")
    assert problems == () and read is not None
    assert {name: (item.digest, item.size) for name, item in read.evidence.items()} == digests
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1000  # of the largest child, in MB
    print(f"{wanted() / 1e9:.2f} GB of evidence; {peak:.0f} MB of memory at most")
    assert peak < ALLOWED
