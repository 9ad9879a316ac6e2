"""Files inside one folder: what is refused, and that a file is written whole or not at all."""

from __future__ import annotations

import hashlib
import os
import signal
import stat
import subprocess
import sys
import time
from pathlib import Path

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from conserve.files import FileRefused, Folder, Only, in_turn, shipped

TOP = Path(__file__).parent.parent


@pytest.fixture
def folder(tmp_path):
    root = tmp_path / "inside"
    (root / "a" / "b").mkdir(parents=True)
    (root / "a" / "b" / "part.yaml").write_text("name: slipper\n")
    (tmp_path / "outside.yaml").write_text("secret\n")
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere" / "part.yaml").write_text("secret\n")
    return Folder(root)


def read(folder: Folder, name: str) -> object:
    return folder.read_bytes(name)


def digest(folder: Folder, name: str) -> object:
    return folder.digest(name)


def write(folder: Folder, name: str) -> object:
    return folder.write(name, "new\n")


def append(folder: Folder, name: str) -> object:
    return folder.append(name, b"more\n")


def cut(folder: Folder, name: str) -> object:
    return folder.cut(name, 0)


every_way = pytest.mark.parametrize("way", [read, digest, write, append, cut])


def refusal(way, folder: Folder, name: str) -> str:
    with pytest.raises(FileRefused) as caught:
        way(folder, name)
    assert caught.value.reason
    return caught.value.kind


def everything(folder: Folder) -> list[str]:
    return sorted(str(path.relative_to(folder.root)) for path in folder.root.rglob("*"))


def test_a_file_is_read_and_digested(folder):
    assert folder.read_bytes("a/b/part.yaml") == b"name: slipper\n"
    assert folder.digest("a/b/part.yaml") == hashlib.sha256(b"name: slipper\n").hexdigest()


@every_way
@pytest.mark.parametrize(
    "name",
    [
        "../outside.yaml",
        "a/../../outside.yaml",
        "a/../a/b/part.yaml",
        "..",
        ".",
        "",
        "a//b/part.yaml",
        "./a/b/part.yaml",
        "a/b/",
        "a/b/part.yaml\0",
        "\ud800",
    ],
)
def test_a_name_that_is_no_plain_path_is_refused(folder, way, name):
    assert refusal(way, folder, name) == "outside"


@every_way
def test_an_absolute_path_is_refused_even_to_a_file_inside(folder, way):
    assert refusal(way, folder, str(folder.root / "a/b/part.yaml")) == "outside"


@every_way
@pytest.mark.parametrize("target", ["../../../outside.yaml", "part.yaml", "nowhere"])
def test_a_link_in_place_of_a_file_is_refused_wherever_it_leads(folder, way, target):
    (folder.root / "a/b/link.yaml").symlink_to(target)
    assert refusal(way, folder, "a/b/link.yaml") == "link"
    assert (folder.root / "a/b/link.yaml").is_symlink()


@every_way
@pytest.mark.parametrize("step", ["a", "a/b"])
def test_a_link_in_place_of_a_folder_is_refused_at_any_step(folder, way, step):
    real = folder.root / "moved"
    (folder.root / step).rename(real)
    (folder.root / step).symlink_to(real)
    assert refusal(way, folder, "a/b/part.yaml") == "link"
    assert all(path.read_text() == "name: slipper\n" for path in real.rglob("*.yaml"))


@every_way
def test_a_link_out_of_the_folder_is_refused_and_nothing_is_written_there(folder, way):
    (folder.root / "out").symlink_to(folder.root.parent / "elsewhere")
    assert refusal(way, folder, "out/part.yaml") == "link"
    assert (folder.root.parent / "elsewhere/part.yaml").read_text() == "secret\n"


def test_the_folder_itself_may_be_reached_by_a_link(folder):
    (folder.root.parent / "shortcut").symlink_to(folder.root)
    assert Folder(folder.root.parent / "shortcut").read_bytes("a/b/part.yaml") == b"name: slipper\n"


@every_way
def test_a_pipe_is_refused_without_waiting_for_its_other_end(folder, way):
    os.mkfifo(folder.root / "pipe.yaml")
    assert refusal(way, folder, "pipe.yaml") == "not-a-file"


@every_way
def test_a_folder_is_no_file(folder, way):
    assert refusal(way, folder, "a/b") == "not-a-file"


@every_way
def test_a_file_is_no_folder(folder, way):
    assert refusal(way, folder, "a/b/part.yaml/deeper.yaml") == "not-a-file"


@pytest.mark.parametrize("way", [read, digest])
@pytest.mark.parametrize("name", ["a/missing.yaml", "missing/part.yaml"])
def test_a_missing_file_is_refused_and_nothing_is_made(folder, way, name):
    before = everything(folder)
    assert refusal(way, folder, name) == "missing"
    assert everything(folder) == before


@every_way
def test_a_name_too_long_for_the_system_is_refused(folder, way):
    assert refusal(way, folder, "n" * 300) == "unreadable"


@every_way
def test_a_missing_folder_is_refused(tmp_path, way):
    assert refusal(way, Folder(tmp_path / "nowhere"), "part.yaml") == "missing"


def test_a_file_is_read_up_to_its_limit_and_refused_above_it(folder):
    (folder.root / "large").write_bytes(b"x" * 1000)
    assert len(folder.read_bytes("large", limit=1000)) == 1000
    with pytest.raises(FileRefused, match="larger than 999") as caught:
        folder.read_bytes("large", limit=999)
    assert caught.value.kind == "too-large"


def test_a_digest_has_no_limit(folder):
    data = b"0123456789" * 300_000
    (folder.root / "scan.bin").write_bytes(data)
    assert folder.digest("scan.bin") == hashlib.sha256(data).hexdigest()


@given(name=st.text(max_size=30))
@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], max_examples=300, deadline=None)
def test_whatever_the_name_a_file_is_read_or_refused(folder, name):
    with pytest.raises(FileRefused):
        folder.read_bytes(name)


# ---- names ----------------------------------------------------------------------------------------


def test_names_are_listed_in_one_order_at_any_depth(folder):
    for name in ("z.yaml", "a/b.yaml", "a/B.yaml", "a/notes.txt", "a/b/c/d.yaml"):
        (folder.root / name).parent.mkdir(parents=True, exist_ok=True)
        (folder.root / name).touch()
    assert folder.names("", ".yaml") == ("a/B.yaml", "a/b.yaml", "a/b/c/d.yaml", "a/b/part.yaml", "z.yaml")
    assert folder.names("a/b", ".yaml") == ("a/b/c/d.yaml", "a/b/part.yaml")


def test_links_are_listed_but_never_followed(folder):
    (folder.root / "link.yaml").symlink_to("../outside.yaml")
    (folder.root / "out").symlink_to("../elsewhere")
    (folder.root / "loop").symlink_to(".")
    assert folder.names("", ".yaml") == ("a/b/part.yaml", "link.yaml")


def test_hidden_files_and_folders_are_passed_over(folder):
    folder.write(".git/x.yaml", "")
    (folder.root / ".#part.yaml").symlink_to("someone@desk.1234")
    assert folder.names("", ".yaml") == ("a/b/part.yaml",)


def test_nothing_is_listed_where_there_is_no_folder(folder):
    assert folder.names("proposals", ".yaml") == ()


def test_a_folder_that_is_a_link_is_not_listed(folder):
    (folder.root / "out").symlink_to("../elsewhere")
    assert refusal(lambda f, name: f.names(name, ".yaml"), folder, "out") == "link"


# ---- writing --------------------------------------------------------------------------------------


def test_a_file_is_written_with_the_folders_above_it(folder):
    folder.write("records/2026/shim.md", "first\r\nsecond\rthird\n± ok")
    assert (folder.root / "records/2026/shim.md").read_bytes() == "first\nsecond\nthird\n± ok".encode()


def test_writing_leaves_nothing_else_behind(folder):
    before = everything(folder)
    folder.write("a/b/part.yaml", "new\n")
    assert everything(folder) == before
    assert folder.read_bytes("a/b/part.yaml") == b"new\n"


def test_a_file_keeps_its_permissions(folder):
    path = folder.root / "a/b/part.yaml"
    path.chmod(0o640)
    folder.write("a/b/part.yaml", "new\n")
    assert stat.S_IMODE(path.stat().st_mode) == 0o640


def test_a_second_name_of_the_old_file_keeps_the_old_text(folder):
    os.link(folder.root / "a/b/part.yaml", folder.root / "kept.yaml")
    folder.write("a/b/part.yaml", "new\n")
    assert folder.read_bytes("kept.yaml") == b"name: slipper\n"


def test_text_that_cannot_be_written_makes_nothing(folder):
    before = everything(folder)
    with pytest.raises(UnicodeEncodeError):
        folder.write("records/x.md", "\ud800")
    assert everything(folder) == before


@pytest.mark.parametrize("step", ["write", "fsync", "replace"])
@pytest.mark.parametrize("name", ["a/b/part.yaml", "records/2026/shim.md"])
def test_after_a_failure_the_old_file_is_whole_and_nothing_new_is_left(folder, monkeypatch, step, name):
    before = everything(folder)

    def full_disk(*_: object, **__: object) -> None:
        raise OSError(28, "No space left on device")

    monkeypatch.setattr(os, step, full_disk)
    with pytest.raises(OSError, match="No space left"):
        folder.write(name, "new\n")
    monkeypatch.undo()
    assert everything(folder) == before
    assert folder.read_bytes("a/b/part.yaml") == b"name: slipper\n"


_WRITER = """
import sys
from pathlib import Path
from conserve.files import Folder
folder, number = Folder(Path(sys.argv[1])), 0
print("ready", flush=True)
while True:
    number += 1
    folder.write("record.md", f"{number}\\n" * 20_000)
"""


def test_a_writer_killed_at_any_moment_leaves_a_whole_file(folder):
    folder.write("record.md", "0\n" * 20_000)
    for round_number in range(12):
        command = [sys.executable, "-c", _WRITER, str(folder.root)]
        with subprocess.Popen(command, cwd=TOP, stdout=subprocess.PIPE) as writer:
            assert writer.stdout is not None
            writer.stdout.readline()
            time.sleep(0.003 * round_number)
            writer.send_signal(signal.SIGKILL)
        lines = folder.read_bytes("record.md").decode().splitlines()
        assert len(lines) == 20_000
        assert len(set(lines)) == 1
    assert folder.names("", "") == ("a/b/part.yaml", "record.md")


# ---- what is shipped ------------------------------------------------------------------------------


def test_the_rules_and_templates_of_a_checkout_are_found():
    assert shipped("rules") == TOP / "rules"
    assert shipped("templates") == TOP / "templates"


def test_the_rules_of_an_installed_package_are_found_inside_it(tmp_path):
    package = tmp_path / "conserve"
    (package / "_shipped" / "rules").mkdir(parents=True)
    for name in ("__init__.py", "files.py", "problem.py"):
        (package / name).write_bytes((TOP / "conserve" / name).read_bytes())
    code = "from conserve.files import shipped; print(shipped('rules'))"
    done = subprocess.run([sys.executable, "-c", code], cwd=tmp_path, capture_output=True, text=True, check=True)
    assert done.stdout.strip() == str(package / "_shipped" / "rules")


def test_a_check_refuses_what_reading_would_refuse(tmp_path):
    (tmp_path / "there.txt").write_text("here")
    (tmp_path / "link.txt").symlink_to(tmp_path / "there.txt")
    (tmp_path / "below").mkdir()
    Folder(tmp_path).check("there.txt")
    for name in ("link.txt", "below", "gone.txt", "../there.txt"):
        with pytest.raises(FileRefused):
            Folder(tmp_path).check(name)


# ---- at the end of a file, and whole folders -----------------------------------------------------


def test_what_is_appended_stands_at_the_end_and_what_is_cut_off_does_not(folder):
    folder.append("log", b"one\n")
    folder.append("log", b"two\n")
    assert folder.read_bytes("log") == b"one\ntwo\n"
    folder.cut("log", 4)
    assert folder.read_bytes("log") == b"one\n"
    folder.cut("log", 400)  # never longer than it was
    assert folder.read_bytes("log") == b"one\n"


def test_a_folder_is_written_whole_or_not_at_all(folder, monkeypatch):
    files = {"one.yaml": b"1", "deep/er/two.yaml": b"2"}
    folder.add_folder("kept/rules", files)
    assert {name: folder.read_bytes(f"kept/rules/{name}") for name in files} == files
    before = everything(folder)
    assert refusal(lambda folder, name: folder.add_folder(name, {"three": b"3"}), folder, "kept/rules") == "there"
    assert everything(folder) == before
    with pytest.raises(FileRefused):
        folder.add_folder("kept/other", {"one.yaml": b"1", "../two.yaml": b"2"})
    assert everything(folder) == before


def test_a_folder_is_not_written_where_a_file_or_a_link_stands(folder):
    (folder.root / "file").write_text("here")
    (folder.root / "link").symlink_to("elsewhere")
    for name in ("file", "link"):
        assert refusal(lambda folder, name: folder.add_folder(name, {"three": b"3"}), folder, name) == "there"
    assert (folder.root / "file").read_text() == "here"


def test_only_what_was_being_written_is_swept(folder, tmp_path):
    for name in (".writing-a", "a/.writing-b", "a/b/.writing-c/deep/file", "a/.hidden", "a/b/writing-d"):
        path = folder.root / name
        path.parent.mkdir(parents=True, exist_ok=True)
        path.write_text("half")
    (folder.root / "a/.writing-link").symlink_to(tmp_path / "elsewhere")
    for under in ("a", "gone", "a/b/part.yaml"):
        folder.sweep(under)
    assert not list((folder.root / "a").glob(".writing-*")) and (tmp_path / "elsewhere/part.yaml").exists()
    assert (folder.root / "a/.hidden").exists() and (folder.root / ".writing-a").exists()
    assert (folder.root / "a/b/.writing-c/deep/file").exists()
    folder.sweep("a/b")
    assert not (folder.root / "a/b/.writing-c").exists() and (folder.root / "a/b/writing-d").exists()


def test_a_folder_of_just_these_files_is_read_like_any_other_and_never_written(tmp_path):
    files = {"object.yaml": b"one", "parts/a.yaml": b"two", "parts/b.csv": b"three"}
    seen, real = Only(tmp_path / "gone", files), Folder(tmp_path)
    for name, data in files.items():
        real.put(name, data)
        with seen.opened(name) as file:
            assert file.read() == seen.read_bytes(name) == data
        assert seen.digest(name) == real.digest(name) and seen.has(name)
        seen.check(name)
    for under, suffix in (("", ""), ("", ".yaml"), ("parts", ".yaml"), ("par", ""), ("gone", "")):
        assert seen.names(under, suffix) == real.names(under, suffix)
    assert not seen.has("gone.yaml")
    for way in (read, digest, write, append, cut):
        assert refusal(way, seen, "gone.yaml") in ("missing", "unreadable")
        assert refusal(way, seen, "../object.yaml") == "outside"
    assert refusal(lambda folder, name: folder.read_bytes(name, 2), seen, "object.yaml") == "too-large"


def test_one_at_a_time_has_its_turn(tmp_path):
    code = (
        "import sys; from pathlib import Path; from conserve.files import in_turn\n"
        "with in_turn(Path(sys.argv[1])): print('in')"
    )
    with in_turn(tmp_path):
        waiting = subprocess.Popen([sys.executable, "-c", code, tmp_path], cwd=TOP, stdout=subprocess.PIPE, text=True)
        with pytest.raises(subprocess.TimeoutExpired):
            waiting.wait(0.5)
    assert waiting.communicate(timeout=60)[0] == "in\n"
