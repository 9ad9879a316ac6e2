"""What was sealed is kept: each file once, under the digest of what is inside, for any tool that reads gzip."""

from __future__ import annotations

import gzip
import re
import zlib
from collections.abc import Mapping
from dataclasses import dataclass

from conserve.files import FileRefused, Folder, Only, digest_of
from conserve.seal.model import SealedDecision
from conserve.seal.refused import NotKept, NotSealed

KEPT = "sealed"
LARGEST = 200_000_000  # bytes of what is kept in one file
TORN = f"{KEPT}/torn-"

_NAME = re.compile(rf"{KEPT}/([0-9a-f]{{64}})\.gz").fullmatch
_LISTED = re.compile("([0-9a-f]{64})  (.+)").fullmatch
_LEVEL = 6


def name_of(digest: str) -> str:
    """The name of the file that keeps what has this digest, in the casebook's folder."""
    return f"{KEPT}/{digest}.gz"


def keep(folder: Folder, data: bytes) -> str:
    """Keep data, and give its SHA-256 in hex. Raises `NotSealed` where what is kept under it already was altered."""
    digest = digest_of((data,))
    if len(data) > LARGEST:
        raise NotSealed(f"what is more than {LARGEST:,} bytes is not kept", "divide the file")
    if folder.has(name_of(digest)):
        _must_be_whole(folder, digest)
    else:
        folder.add(name_of(digest), gzip.compress(data, _LEVEL, mtime=0))
    return digest


def _must_be_whole(folder: Folder, digest: str) -> None:
    try:
        kept(folder, digest)
    except NotKept as not_kept:
        raise NotSealed(not_kept.reason, "put it back as it was, from a copy") from None


def kept(folder: Folder, digest: str) -> bytes:
    """What is kept under a digest. Raises `NotKept` where it is missing, altered or cannot be read."""
    name = name_of(digest)
    if not _NAME(name):
        raise NotKept(f"{digest!a} is no digest of anything that is kept")
    try:
        data = _unpacked(folder.read_bytes(name, LARGEST))
    except FileRefused as refused:
        raise NotKept(refused.reason) from None
    except (zlib.error, EOFError):
        raise NotKept(f"'{name}' was altered: it is no whole gzip file") from None
    if digest_of((data,)) != digest:
        raise NotKept(f"'{name}' was altered: what is inside has another digest")
    return data


def _unpacked(data: bytes) -> bytes:
    """What is inside a gzip file of one part, and nothing after it."""
    reading = zlib.decompressobj(wbits=31)
    inside = reading.decompress(data, LARGEST + 1)  # limited, because a small file can unpack into a huge one
    if len(inside) > LARGEST or not reading.eof or reading.unused_data:
        raise EOFError
    return inside


def all_kept(folder: Folder) -> tuple[str, ...]:
    """The digests of everything that is kept, sorted, whether or not it is whole."""
    return tuple(found[1] for name in folder.names(KEPT, ".gz") if (found := _NAME(name)))


# ---- lists of files -----------------------------------------------------------------------------------------------


def list_of(files: Mapping[str, str]) -> bytes:
    """A list of files and their digests, as `sha256sum` writes it. `NotSealed` where a name cannot stand in one."""
    for name in files:
        if not name.isprintable() or "\\" in name:
            raise NotSealed(f"{name!a} is no name that can be sealed", "rename the file")
    return "".join(f"{digest}  {name}\n" for name, digest in sorted(files.items())).encode("utf-8")


def kept_list(folder: Folder, digest: str) -> Mapping[str, str]:
    """The files of a list that is kept, each with its digest. Raises `NotKept`."""
    try:
        lines = kept(folder, digest).decode("utf-8").split("\n")
    except UnicodeDecodeError:
        raise NotKept(f"'{name_of(digest)}' holds no list of files") from None
    found = [_LISTED(line) for line in lines[:-1]]
    if lines[-1] or not all(found):
        raise NotKept(f"'{name_of(digest)}' holds no list of files")
    return {one[2]: one[1] for one in found if one}


@dataclass(frozen=True, slots=True)
class _AsSealed(Only):
    """Files that were kept. Of evidence only digests are, so that a file of evidence is there and cannot be read."""

    def check(self, name: str) -> None:
        parts = name.split("/")
        if name in self.files or parts[0] != "evidence" or {"", ".", ".."} & {*parts}:
            Only.check(self, name)


def as_sealed(folder: Folder, sealed: SealedDecision) -> Folder:
    """The casebook's folder as a decision was sealed: the files that it was made from, and nothing else.

    The evidence that the register names counts as there. Raises `NotKept` with all that is gone or altered.
    """
    files, gone = {}, []
    for name, digest in kept_list(folder, sealed.files).items():
        try:
            files[name] = kept(folder, digest)
        except NotKept as not_kept:
            gone.append(f"of '{name}': {not_kept.reason}")
    if gone:
        raise NotKept("; ".join(gone))
    return _AsSealed(folder.root, files)


def changed(folder: Folder, files: Mapping[str, str]) -> tuple[str, ...]:
    """The names of files whose digest is no longer this, or that cannot be read."""
    found = []
    for name, digest in files.items():
        try:
            if folder.digest(name) != digest:
                found.append(name)
        except FileRefused:
            found.append(name)
    return tuple(found)
