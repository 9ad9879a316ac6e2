"""A bag: files with their digests beside them, so that anyone can tell with common tools that none has changed.

Source: RFC 8493, The BagIt File Packaging Format (V1.0), sections 2.1 to 2.4; read.
"""

from __future__ import annotations

import hashlib
import os
import unicodedata
from collections.abc import Callable, Iterable, Sequence
from pathlib import Path
from typing import NamedTuple

from conserve.files import FileRefused

BLOCK = 1 << 20  # bytes that are held at a time
PAYLOAD = "data/"
DIGESTS = ("sha256", "sha512")  # the second is what the standard asks for by default, the first what most tools have
_BAGIT = "BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"

Told = Callable[[int], None]  # told of so many bytes more


class Sums(NamedTuple):
    """How long a file is, in bytes, and its digests, in hex."""

    size: int
    sha256: str
    sha512: str


class Bag:
    """A bag while it is being filled. `root` is an empty folder of our own."""

    __slots__ = ("_names", "payload", "root", "tags")

    def __init__(self, root: Path) -> None:
        self.root = root
        self.payload: dict[str, Sums] = {}  # below data/
        self.tags: dict[str, Sums] = {}  # beside data/
        self._names: dict[str, str] = {}

    def put(self, name: str, data: bytes | str) -> Sums:
        """Write a short file into the payload."""
        return self.pour(name, (data.encode("utf-8") if isinstance(data, str) else data,))

    def pour(self, name: str, blocks: Iterable[bytes]) -> Sums:
        """Write a file of any size into the payload, and work out its digests on the way."""
        path = self.root / PAYLOAD / self._new(name)
        path.parent.mkdir(parents=True, exist_ok=True)
        self.payload[name] = _written(path, blocks)
        return self.payload[name]

    def path(self, name: str = "") -> Path:
        """Where a file of the payload stands while the bag is being filled."""
        return self.root / PAYLOAD / name

    def close(self, about: Sequence[tuple[str, str]]) -> None:
        """Write what stands beside the payload: what the bag is, and the digests of every file."""
        total = sum(sums.size for sums in self.payload.values())
        listed = sorted((f"{PAYLOAD}{name}", sums) for name, sums in self.payload.items())
        self._tag("bagit.txt", _BAGIT)
        self._tag("bag-info.txt", _info((*about, ("Payload-Oxum", f"{total}.{len(self.payload)}"))))
        for kind in DIGESTS:
            self._tag(f"manifest-{kind}.txt", _manifest(kind, listed))
        beside = sorted(self.tags.items())  # what lists the others is listed by none
        for kind in DIGESTS:
            self._tag(f"tagmanifest-{kind}.txt", _manifest(kind, beside))
        for above, _, _ in os.walk(self.root / PAYLOAD):  # as its files: who packs it decides for the bag as a whole
            os.chmod(above, 0o755)

    def _tag(self, name: str, text: str) -> None:
        self.tags[name] = _written(self.root / name, (text.encode("utf-8"),))

    def _new(self, name: str) -> str:
        """A name that is plain, new, and no other's on a system that is less strict about letters."""
        try:
            name.encode("utf-8")
        except UnicodeEncodeError:
            raise FileRefused("outside", f"{name!a} is not a name that a bag can hold") from None
        if "\0" in name or any(part in ("", ".", "..") for part in name.split("/")):
            raise FileRefused("outside", f"'{name}' is not a plain path inside a bag")
        alike = unicodedata.normalize("NFC", name).casefold()
        if alike in self._names:
            other = self._names[alike]
            raise FileRefused("there", f"'{name}' and '{other}' would be one file on some systems; rename one of them")
        self._names[alike] = name
        return name


def _written(path: Path, blocks: Iterable[bytes]) -> Sums:
    size, short, long = 0, hashlib.sha256(), hashlib.sha512()
    with path.open("xb") as file:
        os.fchmod(file.fileno(), 0o644)
        for block in blocks:
            short.update(block)
            long.update(block)
            size += file.write(block)
        file.flush()
        os.fsync(file.fileno())
    return Sums(size, short.hexdigest(), long.hexdigest())


def _manifest(kind: str, listed: Iterable[tuple[str, Sums]]) -> str:
    return "".join(f"{getattr(sums, kind)}  {encoded(name)}\n" for name, sums in listed)


def encoded(name: str) -> str:
    """A path as a manifest writes it: only what would break its lines is written in another way."""
    return name.replace("%", "%25").replace("\r", "%0D").replace("\n", "%0A")


def _info(about: Iterable[tuple[str, str]]) -> str:
    return "".join(f"{label}: {' '.join(value.split())}\n" for label, value in about if value.strip())
