"""One file made of a folder: the same bytes each time and on every machine, whatever its size."""

from __future__ import annotations

import os
from collections.abc import Iterable
from datetime import date
from pathlib import Path
from zipfile import ZIP_STORED, ZipFile, ZipInfo

from conserve.pack.bag import BLOCK, Told

_ORDINARY = 0o100644 << 16  # a plain file that everyone may read, as Unix tells it
_UNIX = 3


def write_zip(root: Path, names: Iterable[str], to: Path, top: str, day: date, told: Told = lambda _: None) -> None:
    """Write files of a folder into a new zip file, below one folder `top`, all of them dated `day`.

    Nothing is read whole. Files beyond 4 GiB take the 64-bit form, which the sizes alone decide.
    """
    stamp = (min(max(day.year, 1980), 2107), day.month, day.day, 0, 0, 0)  # the years that a zip file can tell
    with to.open("xb") as file:
        with ZipFile(file, "w") as archive:
            for name in names:
                _add(archive, root / name, ZipInfo(f"{top}/{name}", stamp), told)
        file.flush()
        os.fsync(file.fileno())


def _add(archive: ZipFile, path: Path, entry: ZipInfo, told: Told) -> None:
    entry.create_system = _UNIX
    entry.external_attr = _ORDINARY
    entry.compress_type = ZIP_STORED  # squeezed bytes hang on the library that squeezed them
    entry.file_size = path.stat().st_size
    with path.open("rb") as source, archive.open(entry, "w") as target:
        while block := source.read(BLOCK):
            target.write(block)
            told(len(block))
