"""A bundle of much evidence: written in blocks, never held whole. CONSERVE_BIG says how much: 64M unless said, or 5G."""

from __future__ import annotations

import os
import re
import resource
import subprocess
import sys
from pathlib import Path

TESTS = Path(__file__).parent.parent
MOST = 150  # MB of memory at any time
UNITS = {"M": 1 << 20, "G": 1 << 30}

SCRIPT = """
import sys
sys.path[:0] = sys.argv[1:3]
from pathlib import Path
from conserve.files import Folder
from packing import asked_of, packed
found = packed(asked_of(Folder(Path("engine")), Folder(Path("rules")), Path("out")))
print(found.size, found.folder, found.zip)
"""


def big() -> int:
    said = re.fullmatch("([0-9]+)([MG])", os.environ.get("CONSERVE_BIG", "64M"))
    assert said is not None, "write a number and M or G"
    return int(said[1]) * UNITS[said[2]]


def test_much_evidence_takes_little_memory(tmp_path: Path):
    sys.path.insert(0, str(TESTS))
    from packing import REGISTER, casebook_at, register, rules_at

    size, files = big(), 4
    block = os.urandom(1 << 20)
    entries = register()
    for number in range(files):
        entry = REGISTER["face-before"].replace("face 100% – Würfel's.svg", f"scan-{number}.bin")
        entry = re.sub(r"\n *(?:digest|size):[^\n]*", "", entry)
        entries += f"scan-{number}:\n{entry.rstrip(' ')}"
    casebook_at(tmp_path / "engine", entries)
    rules_at(tmp_path / "rules")
    (tmp_path / "out").mkdir()
    for number in range(files):
        with (tmp_path / f"engine/evidence/scan-{number}.bin").open("wb") as file:
            for at in range(size // files // len(block)):
                file.write(at.to_bytes(8, "big") + block[8:])
    done = subprocess.run(
        [sys.executable, "-c", SCRIPT, str(TESTS), str(TESTS.parent)], cwd=tmp_path, capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    written, folder, zipped = done.stdout.split()
    assert int(written) >= size
    checked = ["sha256sum", "--quiet", "--strict", "-c", "manifest-sha256.txt"]
    assert subprocess.run(checked, cwd=tmp_path / folder).returncode == 0
    tested = [sys.executable, "-m", "zipfile", "-t", zipped]
    assert subprocess.run(tested, cwd=tmp_path, capture_output=True).returncode == 0
    peak = resource.getrusage(resource.RUSAGE_CHILDREN).ru_maxrss / 1000  # kB on Linux; of the largest child
    print(f"{size / 1e9:.2f} GB of evidence, at most {peak:.0f} MB of memory")
    assert peak < MOST
