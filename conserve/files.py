"""Files inside one folder: opened without following links, written whole or not at all, digested.

Needs a system that can open a file relative to an open directory (any POSIX system).
"""

from __future__ import annotations

import errno
import fcntl
import io
import os
import stat
from collections.abc import Iterable, Iterator, Mapping
from contextlib import contextmanager, suppress
from dataclasses import dataclass
from pathlib import Path
from typing import BinaryIO, Literal

_FOLDER = os.O_RDONLY | os.O_DIRECTORY | os.O_NOFOLLOW | os.O_CLOEXEC
_READ = os.O_RDONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC  # non-blocking: a pipe must not hang us
_WRITE = os.O_WRONLY | os.O_NOFOLLOW | os.O_NONBLOCK | os.O_CLOEXEC
_NEW = os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_NOFOLLOW | os.O_CLOEXEC
_BLOCK = 1 << 20

WRITING = ".writing-"  # how the name begins of what is being written; hidden, so that a reader passes it over
PROFILES = "profiles/"  # below a rules folder or a casebook: what purposes ask for, which weighs nothing
_NO_RULES = ("sources.yaml", "terms.yaml", "techniques.yaml", "sequence.yaml", "overlay.yaml")

Kind = Literal["outside", "link", "too-large", "missing", "not-a-file", "unreadable", "there"]


class FileRefused(Exception):
    """A file is not opened: `kind` for programs, `reason` as a sentence for people."""

    kind: Kind
    reason: str

    def __init__(self, kind: Kind, reason: str) -> None:
        super().__init__(reason)
        self.kind = kind
        self.reason = reason


@dataclass(frozen=True, slots=True)
class Folder:
    """A folder whose files are named by relative paths with `/`. Only the folder itself may be a link."""

    root: Path

    def read_bytes(self, name: str, limit: int = 2_000_000) -> bytes:
        """Read a regular file of at most `limit` bytes."""
        with self._opened(name) as file:
            blocks: list[bytes] = []
            left = limit + 1  # counted while reading, because a file can grow after it was measured
            while left > 0 and (block := os.read(file, min(left, _BLOCK))):
                blocks.append(block)
                left -= len(block)
        if left <= 0:
            raise FileRefused("too-large", f"'{name}' is larger than {limit:,} bytes")
        return b"".join(blocks)

    def digest(self, name: str) -> str:
        """Give the SHA-256 of a file, in hex. Files of any size."""
        return digest_of(self.blocks(name))

    def blocks(self, name: str) -> Iterator[bytes]:
        """Give a file of any size in blocks of at most 1 MiB."""
        with self._opened(name) as file:
            while block := os.read(file, _BLOCK):
                yield block

    @contextmanager
    def opened(self, name: str) -> Iterator[BinaryIO]:
        """Open a regular file to move about in."""
        with self._opened(name) as file, open(file, "rb", closefd=False) as seekable:
            yield seekable

    def check(self, name: str) -> None:
        """Refuse what reading would refuse, without reading it: so that a large picture costs nothing."""
        with self._opened(name):
            pass

    def names(self, under: str, suffix: str) -> tuple[str, ...]:
        """List what ends in `suffix` at any depth below `under` ("" for all), sorted by code point.

        Nothing is listed where `under` does not exist. Links are listed but never followed. Hidden files and
        folders are passed over: editors and version control keep their own there.
        """
        found: list[str] = []
        waiting = [under]
        while waiting:
            at = waiting.pop()
            try:
                folder = self._folder(_parts(at) if at else ())
            except FileRefused as refused:
                if at == under and refused.kind == "missing":
                    return ()
                raise
            try:
                with os.scandir(folder) as entries:
                    for entry in entries:
                        if entry.name.startswith("."):
                            continue
                        name = f"{at}/{entry.name}" if at else entry.name
                        if entry.is_dir(follow_symlinks=False):
                            waiting.append(name)
                        elif name.endswith(suffix):
                            found.append(name)
            finally:
                os.close(folder)
        return tuple(sorted(found))

    def write(self, name: str, text: str) -> None:
        """Write a text file whole or not at all, in UTF-8 with `\\n` line ends; make the folders above it.

        Written beside, flushed, renamed. After a failure the old file is as it was and nothing new is left.
        """
        self._put(name, (text.replace("\r\n", "\n").replace("\r", "\n").encode("utf-8"),), new=False)

    def put(self, name: str, data: bytes) -> None:
        """Write a file whole or not at all, byte for byte, in place of what has its name already."""
        self._put(name, (data,), new=False)

    def add(self, name: str, data: bytes) -> None:
        """Write a new file whole or not at all, byte for byte; refuse it where something has its name already."""
        self._put(name, (data,), new=True)

    def add_blocks(self, name: str, blocks: Iterable[bytes]) -> None:
        """Write a new file of any size as its blocks come, whole or not at all; whatever they raise leaves nothing."""
        self._put(name, blocks, new=True)

    def add_folder(self, name: str, files: Mapping[str, bytes]) -> None:
        """Write a new folder with all these files below it, whole or not at all; refuse it where it is there already.

        Written as a hidden folder beside, flushed, renamed.
        """
        import shutil  # only wanted where something is written

        *above, last = _parts(name)
        folder = self._folder(tuple(above), [])
        beside = f"{WRITING}{os.urandom(8).hex()}"
        try:
            try:
                os.mkdir(beside, dir_fd=folder)
                inside = Folder(self.root.joinpath(*above, beside))
                for file, data in files.items():
                    inside.add(file, data)
                os.rename(beside, last, src_dir_fd=folder, dst_dir_fd=folder)
            except BaseException as error:
                shutil.rmtree(beside, ignore_errors=True, dir_fd=folder)
                if isinstance(error, OSError) and error.errno in (errno.ENOTEMPTY, errno.EEXIST, errno.ENOTDIR):
                    raise FileRefused("there", f"'{name}' is there already, and is left as it is") from None
                raise
            os.fsync(folder)
        finally:
            os.close(folder)

    def append(self, name: str, data: bytes) -> None:
        """Write at the end of a file in one write, and flush it; make the file where there is none yet.

        What could be written only in part, as on a full disk, is taken off again.
        """
        with self._written(name, os.O_APPEND | os.O_CREAT) as (folder, file):
            before = os.fstat(file).st_size
            try:
                if os.write(file, data) != len(data):
                    raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC), name)
                os.fsync(file)
            except OSError:
                os.ftruncate(file, before)
                raise
            os.fsync(folder)

    def cut(self, name: str, size: int) -> None:
        """Take off all that stands in a file after its first `size` bytes, and flush it."""
        with self._written(name, 0) as (_, file):
            os.ftruncate(file, min(size, os.fstat(file).st_size))
            os.fsync(file)

    def has(self, name: str) -> bool:
        """Whether there is something of this name, without reading it. Raises `FileRefused` for what is no file."""
        try:
            self.check(name)
        except FileRefused as refused:
            if refused.kind == "missing":
                return False
            raise
        return True

    def sweep(self, under: str) -> None:
        """Take away what a machine that stopped was writing in a folder; whoever else writes there must be waiting."""
        import shutil

        try:
            folder = self._folder(_parts(under))
        except FileRefused:
            return
        try:
            with os.scandir(folder) as entries:
                left = [
                    (one.name, one.is_dir(follow_symlinks=False)) for one in entries if one.name.startswith(WRITING)
                ]
            for name, is_folder in left:
                if is_folder:
                    shutil.rmtree(name, dir_fd=folder)
                else:
                    os.unlink(name, dir_fd=folder)
        finally:
            os.close(folder)

    def remove(self, name: str) -> None:
        """Take a file away, or a link itself; refuse where there is none."""
        *above, last = _parts(name)
        folder = self._folder(tuple(above))
        try:
            with _refusing(name, folder, last):
                os.unlink(last, dir_fd=folder)
            os.fsync(folder)
        finally:
            os.close(folder)

    def _put(self, name: str, blocks: Iterable[bytes], new: bool) -> None:
        *above, last = _parts(name)
        made: list[tuple[str, ...]] = []
        try:
            folder = self._folder(tuple(above), made)
            try:
                _replace(folder, last, blocks, name, new)
            finally:
                os.close(folder)
        except BaseException:
            for path in reversed(made):
                with suppress(OSError, FileRefused):
                    self._remove_folder(path)
            raise

    @contextmanager
    def _opened(self, name: str) -> Iterator[int]:
        *above, last = _parts(name)
        folder = self._folder(tuple(above))
        try:
            with _refusing(name, folder, last):
                file = os.open(last, _READ, dir_fd=folder)
        finally:
            os.close(folder)
        try:
            if not stat.S_ISREG(os.fstat(file).st_mode):
                raise _not_a_file(name)
            yield file
        finally:
            os.close(file)

    @contextmanager
    def _written(self, name: str, how: int) -> Iterator[tuple[int, int]]:
        """Open a regular file to write to it in place: its folder and the file."""
        *above, last = _parts(name)
        folder = self._folder(tuple(above))
        try:
            with _refusing(name, folder, last):
                file = os.open(last, _WRITE | how, 0o666, dir_fd=folder)
            try:
                if not stat.S_ISREG(os.fstat(file).st_mode):
                    raise _not_a_file(name)
                yield folder, file
            finally:
                os.close(file)
        finally:
            os.close(folder)

    def _folder(self, parts: tuple[str, ...], made: list[tuple[str, ...]] | None = None) -> int:
        """Open a folder step by step, so that no step can be a link; with `made`, make what is missing."""
        with _refusing(str(self.root), None, ""):
            folder = os.open(self.root, _FOLDER & ~os.O_NOFOLLOW)
        for depth, part in enumerate(parts, 1):
            try:
                if made is not None:
                    with suppress(FileExistsError):
                        os.mkdir(part, dir_fd=folder)
                        made.append(parts[:depth])
                        os.fsync(folder)
                with _refusing("/".join(parts[:depth]), folder, part):
                    below = os.open(part, _FOLDER, dir_fd=folder)
            finally:
                os.close(folder)
            folder = below
        return folder

    def _remove_folder(self, parts: tuple[str, ...]) -> None:
        above = self._folder(parts[:-1])
        try:
            os.rmdir(parts[-1], dir_fd=above)
        finally:
            os.close(above)


@dataclass(frozen=True, slots=True)
class WithMore(Folder):
    """A folder as it would be with more files, or with other text in some, which is not written."""

    more: Mapping[str, bytes]

    def read_bytes(self, name: str, limit: int = 2_000_000) -> bytes:
        if name not in self.more:
            return Folder.read_bytes(self, name, limit)
        if len(self.more[name]) > limit:
            raise FileRefused("too-large", f"'{name}' is larger than {limit:,} bytes")
        return self.more[name]

    def blocks(self, name: str) -> Iterator[bytes]:
        return iter((self.more[name],)) if name in self.more else Folder.blocks(self, name)

    def check(self, name: str) -> None:
        if name not in self.more:
            Folder.check(self, name)

    def names(self, under: str, suffix: str) -> tuple[str, ...]:
        above = f"{under}/" if under else ""
        more = {name for name in self.more if name.startswith(above) and name.endswith(suffix)}
        return tuple(sorted({*Folder.names(self, under, suffix), *more}))


@dataclass(frozen=True, slots=True)
class Only(Folder):
    """A folder of just these files, which stand nowhere; nothing can be written in it. `root` is only a name."""

    files: Mapping[str, bytes]

    def read_bytes(self, name: str, limit: int = 2_000_000) -> bytes:
        data = self._data(name)
        if len(data) > limit:
            raise FileRefused("too-large", f"'{name}' is larger than {limit:,} bytes")
        return data

    def blocks(self, name: str) -> Iterator[bytes]:
        return iter((self._data(name),))

    @contextmanager
    def opened(self, name: str) -> Iterator[BinaryIO]:
        yield io.BytesIO(self._data(name))

    def check(self, name: str) -> None:
        self._data(name)

    def _data(self, name: str) -> bytes:
        _parts(name)
        if name not in self.files:
            raise FileRefused("missing", f"'{name}' does not exist")
        return self.files[name]

    def names(self, under: str, suffix: str) -> tuple[str, ...]:
        above = f"{under}/" if under else ""
        return tuple(sorted(name for name in self.files if name.startswith(above) and name.endswith(suffix)))

    def _folder(self, parts: tuple[str, ...], made: list[tuple[str, ...]] | None = None) -> int:
        raise FileRefused("unreadable", f"'{self.root}' stands nowhere, and nothing can be written in it")


@contextmanager
def in_turn(root: Path) -> Iterator[None]:
    """Wait until nobody else on this machine writes in this casebook, and keep others waiting."""
    folder = os.open(root, os.O_RDONLY | os.O_DIRECTORY | os.O_CLOEXEC)
    try:
        with suppress(OSError):  # a file system without locks: files are still written whole or not at all
            fcntl.flock(folder, fcntl.LOCK_EX)
        yield
    finally:
        os.close(folder)


def digest_of(blocks: Iterable[bytes]) -> str:
    """The SHA-256 of what comes in blocks, in hex."""
    import hashlib

    sum_of = hashlib.sha256()
    for block in blocks:
        sum_of.update(block)
    return sum_of.hexdigest()


def shipped(kind: Literal["rules", "templates", "casebook"]) -> Path:
    """Find what travels with the package: inside it once installed, beside it in a checkout."""
    package = Path(__file__).parent
    for place in (package / "_shipped" / kind, package.parent / kind):
        if place.is_dir():
            return place
    raise FileRefused("missing", f"the folder '{kind}' did not come with this installation")


def is_a_rule(name: str) -> bool:
    """Whether a file below a rules folder holds a rule, by its name: words, sources, profiles hold none."""
    return name.endswith(".yaml") and not name.startswith(PROFILES) and name.rpartition("/")[2] not in _NO_RULES


def _parts(name: str) -> tuple[str, ...]:
    """Split a relative path into its steps, or refuse it."""
    parts = tuple(name.split("/"))
    if "\0" in name or any(part in ("", ".", "..") for part in parts):
        raise FileRefused("outside", f"'{name}' is not a plain path inside the folder")
    return parts


def _link(name: str) -> FileRefused:
    return FileRefused("link", f"'{name}' is a symbolic link; links are not followed")


def _not_a_file(name: str) -> FileRefused:
    return FileRefused("not-a-file", f"'{name}' is not a regular file")


@contextmanager
def _refusing(name: str, folder: int | None, step: str) -> Iterator[None]:
    """Turn the system's reasons for not opening a step into ours."""
    try:
        yield
    except UnicodeEncodeError:
        raise FileRefused("outside", f"{name!a} is not a name that a file can have") from None
    except OSError as error:
        raise _refusal(error, name, folder, step) from None


def _refusal(error: OSError, name: str, folder: int | None, step: str) -> FileRefused:
    if folder is not None and error.errno in (errno.ELOOP, errno.ENOTDIR, errno.EMLINK):
        with suppress(OSError):  # systems differ in what they say of a link, so look
            if stat.S_ISLNK(os.stat(step, dir_fd=folder, follow_symlinks=False).st_mode):
                return _link(name)
    if error.errno == errno.ENOENT:
        return FileRefused("missing", f"'{name}' does not exist")
    if error.errno == errno.ENOTDIR:
        return FileRefused("not-a-file", f"'{name}' is not a folder")
    if error.errno in (errno.EISDIR, errno.ENXIO):
        return _not_a_file(name)
    why = (error.strerror or "no reason given").lower()
    return FileRefused("unreadable", f"'{name}' cannot be opened: {why}")


def _replace(folder: int, last: str, blocks: Iterable[bytes], name: str, new: bool) -> None:
    """Put data in the place of a file, or where there is none yet, in one step that others see whole."""
    mode = None if new else _mode(folder, last, name)
    beside = f"{WRITING}{os.urandom(8).hex()}"
    file = os.open(beside, _NEW, 0o666, dir_fd=folder)
    try:
        try:
            if mode is not None:
                os.fchmod(file, mode)
            for block in blocks:
                left = memoryview(block)
                while left:
                    left = left[os.write(file, left) :]
            os.fsync(file)
        finally:
            os.close(file)
        if new:  # a link, unlike a rename, never takes the place of what is there
            _link_new(folder, beside, last, name)
        else:
            os.replace(beside, last, src_dir_fd=folder, dst_dir_fd=folder)
    except BaseException:
        with suppress(OSError):
            os.unlink(beside, dir_fd=folder)
        raise
    os.fsync(folder)


def _link_new(folder: int, beside: str, last: str, name: str) -> None:
    try:
        os.link(beside, last, src_dir_fd=folder, dst_dir_fd=folder, follow_symlinks=False)
    except FileExistsError:
        raise FileRefused("there", f"'{name}' is there already, and is left as it is") from None
    os.unlink(beside, dir_fd=folder)


def _mode(folder: int, last: str, name: str) -> int | None:
    """Give the permissions of the file that will be replaced; None where there is none yet."""
    try:
        with _refusing(name, folder, last):
            old = os.stat(last, dir_fd=folder, follow_symlinks=False)
    except FileRefused as refused:
        if refused.kind == "missing":
            return None
        raise
    if stat.S_ISLNK(old.st_mode):
        raise _link(name)
    if not stat.S_ISREG(old.st_mode):
        raise _not_a_file(name)
    return stat.S_IMODE(old.st_mode)
