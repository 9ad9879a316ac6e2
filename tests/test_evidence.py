"""The evidence register: what is taken in, what is refused, and what is found when it is held against its files."""

from __future__ import annotations

import hashlib
import io
import json
import os
import shutil
import struct
import subprocess
import sys
import zlib
from datetime import date
from pathlib import Path

import pytest
from helpers import DEMO, HOUSE, OBJECT, folder_of, problems_of, read, rule, rules_folder, shipped_rules
from hypothesis import given
from hypothesis import strategies as st
from PIL import Image, ImageChops

from conserve.casebook import read_register
from conserve.cli import main
from conserve.evidence import (
    CannotHide,
    NotAdded,
    Remark,
    addition,
    checked,
    file_facts,
    held_against,
    take_in,
    without_location,
)
from conserve.evidence.entry import appended
from conserve.evidence.pictures import kind_of, spans_of
from conserve.files import FileRefused, Folder
from conserve.yamlfile import Entries, Text, parse

BAR = "name: Bar\nsurfaces:\n  face: {function: sliding}\n"
SAID = {"kind": "photograph", "date": "2026-03-02", "by": "A. Name", "about": ("bar",), "shows": "The bar."}
WORDS = ["--kind", "photograph", "--date", "2026-03-02", "--by", "A. Name", "--about", "bar", "--shows", "The bar."]
NEWTON = {1: "N", 2: (52.0, 30.0, 0.0), 3: "E", 4: (0.0, 30.0, 0.0)}


@pytest.fixture
def casebook(tmp_path) -> Path:
    folder_of(tmp_path / "trial", {"object.yaml": OBJECT, "components/bar.yaml": BAR})
    rules_folder(tmp_path / "rules", {"r/asked": rule("component", "{}", "{require: Show it., by: before-use}")})
    return tmp_path / "trial"


@pytest.fixture
def file(tmp_path) -> Path:
    path = tmp_path / "notes.bin"
    path.write_bytes(b"\0\xff\r\n" * 300_000)  # more than a block
    return path


def picture(path: Path, place: bool = True, way: int = 1, **more: object) -> Path:
    """A photograph with all that a camera may write into one."""
    exif = Image.Exif()
    exif[0x0112] = way
    exif.get_ifd(0x8769)[0x9003] = "2026:03:13 23:59:59"
    if place:
        exif.get_ifd(0x8825).update(NEWTON)
    noise = Image.frombytes("RGB", (64, 48), hashlib.shake_128(b"noise").digest(64 * 48 * 3))
    noise.save(path, exif=exif, **more)
    return path


def add(casebook: Path, path: Path, *words: str) -> int:
    return main(adding(casebook, path, *words))


def adding(casebook: Path, path: Path, *words: str) -> list[str]:
    rules = ["--rules", str(casebook.parent / "rules")]  # few rules, for they are read each time
    return ["evidence", "add", str(path), "--in", str(casebook), *rules, *words]


def check(casebook: Path, *words: str) -> int:
    return main(["evidence", "check", str(casebook), "--rules", str(casebook.parent / "rules"), *words])


def register(casebook: Path) -> str:
    return (casebook / "evidence/register.yaml").read_bytes().decode()


def all_files(folder: Path) -> dict[str, bytes]:
    return {path.relative_to(folder).as_posix(): path.read_bytes() for path in folder.rglob("*") if path.is_file()}


def found_in(casebook: Path) -> list[tuple[str, int]]:
    """Code and line of each problem; a remark has no code."""
    folder = Folder(casebook)
    told = checked(read(folder), folder)
    return sorted(("", one.where.line) if isinstance(one, Remark) else (one.code, one.where.line) for one in told)


# ---- taking a file in -------------------------------------------------------------------------------------


def test_a_file_is_copied_byte_for_byte_and_entered_with_its_digest_and_size(casebook, file):
    assert add(casebook, file, *WORDS) == 0
    assert (casebook / "evidence/notes.bin").read_bytes() == file.read_bytes()
    item = read(Folder(casebook)).evidence["notes"]
    assert (item.digest, item.size) == (hashlib.sha256(file.read_bytes()).hexdigest(), 1_200_000)
    assert (item.kind, item.on, item.by, item.about, item.shows) == (
        "photograph", date(2026, 3, 2), "A. Name", ("bar",), "The bar."
    )  # fmt: skip


def test_what_is_entered_is_told_as_json(casebook, file, capsys):
    assert add(casebook, file, *WORDS, "--json") == 0
    told = json.loads(capsys.readouterr().out)
    assert told["entry"] == "notes" and told["size"] == 1_200_000 and told["said"]["by"] == "A. Name"


def test_every_thing_that_may_be_said_is_entered(casebook, file):
    more = ["--method", "By eye", "--instrument", "depth-gauge", "--serial", "DG 2", "--calibrated", "none",
            "--rights", "Ours: all", "--show", "reviewers", "--about", "object", "--id", "the-notes"]  # fmt: skip
    assert add(casebook, file, *WORDS, *more) == 0
    item = read(Folder(casebook)).evidence["the-notes"]
    assert (item.method, item.instrument, item.serial, item.calibrated) == ("By eye", "depth-gauge", "DG 2", date.min)
    assert (item.rights, str(item.show), item.about) == ("Ours: all", "reviewers", ("bar", "object"))


def test_all_that_nobody_has_said_is_told_at_once_and_nothing_is_written(casebook, file, capsys):
    before = all_files(casebook)
    assert add(casebook, file) == 2
    assert "--kind, --date, --by, --about, --shows" in capsys.readouterr().err
    assert all_files(casebook) == before


def test_the_ending_of_a_name_gives_the_kind_and_it_is_said_so(casebook, tmp_path, capsys):
    shutil.copy(__file__, tmp_path / "plan.PDF")
    assert add(casebook, tmp_path / "plan.PDF", *WORDS[2:]) == 0
    assert "taken to be document, from its ending .PDF" in capsys.readouterr().out
    assert read(Folder(casebook)).evidence["plan"].kind == "document"


def test_the_day_on_which_a_camera_took_it_is_its_date_and_it_is_said_so(casebook, tmp_path, capsys):
    words = [word for word in WORDS if word not in ("--date", "2026-03-02")]
    assert add(casebook, picture(tmp_path / "bar.jpg"), *words) == 0
    told = capsys.readouterr().out
    assert "Its date is 2026-03-13" in told and "(Exif)" in told and "--hide-location" in told
    assert read(Folder(casebook)).evidence["bar"].on == date(2026, 3, 13)


def test_a_date_that_is_given_stands_and_the_cameras_is_told(casebook, tmp_path, capsys):
    assert add(casebook, picture(tmp_path / "bar.jpg", place=False), *WORDS) == 0
    told = " ".join(capsys.readouterr().out.split())  # lines break where the path is long
    assert "taken on 2026-03-13 (Exif); the date given stands" in told and "--hide-location" not in told
    assert read(Folder(casebook)).evidence["bar"].on == date(2026, 3, 2)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["--kind", "hearsay"], ["--kind: C005"]),
        (["--about", "bart"], ["--about: C061", "did you mean 'bar'?"]),
        (["--instrument", "thumb", "--show", "everyone", "--date", "2026-02-30"],
         ["--instrument: C005", "--show: C005", "--date: C006"]),
        (["--by", "two\nlines"], ["--by: C010"]),
        (["--id", "Not An Id"], ["--id: C007"]),
        (["--answers", "no/such-rule"], ["--answers: C0"]),
    ],
)  # fmt: skip
def test_what_does_not_fit_the_casebook_is_told_of_the_option_that_says_it(casebook, file, capsys, words, said):
    before = all_files(casebook)
    assert add(casebook, file, *WORDS, *words) == 2
    told = capsys.readouterr().err
    assert all(one in told for one in said)
    assert all_files(casebook) == before


def test_a_casebook_that_is_broken_takes_nothing_in(casebook, file, capsys):
    (casebook / "components/bar.yaml").write_text("nmae: Bar\n")
    before = all_files(casebook)
    assert add(casebook, file, *WORDS) == 2
    assert "C001" in capsys.readouterr().err and all_files(casebook) == before


def test_the_same_file_is_registered_once_whatever_its_name(casebook, file, tmp_path, capsys):
    assert add(casebook, file, *WORDS) == 0
    before = all_files(casebook)
    shutil.copy(file, tmp_path / "copy.bin")
    assert add(casebook, tmp_path / "copy.bin", *WORDS) == 2
    assert "registered already, as 'notes'" in capsys.readouterr().err
    assert add(casebook, file, *WORDS) == 2
    assert add(casebook, casebook / "evidence/notes.bin", *WORDS) == 2
    assert all_files(casebook) == before


def test_the_same_file_is_found_even_where_no_digest_was_written(casebook, file, tmp_path, capsys):
    entry = "old: {kind: photograph, file: old.bin, date: 2026-01-01, by: X, about: object, shows: It.}\n"
    folder_of(casebook, {"evidence/register.yaml": entry})
    shutil.copy(file, casebook / "evidence/old.bin")
    assert add(casebook, file, *WORDS) == 2
    assert "as 'old' (old.bin)" in capsys.readouterr().err


def test_a_file_of_the_same_name_is_left_as_it_is(casebook, file, capsys):
    folder_of(casebook, {"evidence/notes.bin": "another", "evidence/Other.BIN": "third"})
    assert add(casebook, file, *WORDS) == 2
    assert "is there already, and is left as it is" in capsys.readouterr().err
    shutil.copy(file, file.with_name("other.bin"))
    assert add(casebook, file.with_name("other.bin"), *WORDS) == 2
    assert "one file on some systems" in capsys.readouterr().err
    assert all_files(casebook / "evidence") == {"notes.bin": b"another", "Other.BIN": b"third"}


def test_an_id_that_is_taken_is_refused(casebook, file, capsys):
    folder_of(casebook, {"evidence/register.yaml": appended(None, "notes", {**SAID, "about": ("object",)}).decode() + "  held: Office\n"})
    assert add(casebook, file, *WORDS) == 2
    assert "an entry 'notes' already" in capsys.readouterr().err
    assert add(casebook, file, *WORDS, "--id", "other-notes") == 0


def test_a_file_that_stands_in_evidence_already_is_registered_where_it_is(casebook, file, capsys):
    (casebook / "evidence/2026").mkdir(parents=True)
    inside = casebook / "evidence/2026/notes.bin"
    shutil.move(file, inside)
    was = inside.stat()
    assert add(casebook, inside, *WORDS) == 0
    assert "registered where it is" in capsys.readouterr().out
    assert read(Folder(casebook)).evidence["notes"].file == "2026/notes.bin"
    assert (inside.stat().st_ino, inside.stat().st_mtime_ns) == (was.st_ino, was.st_mtime_ns)


@pytest.mark.parametrize("name", [".hidden.jpg", "register.yaml", "back\\slash.jpg", "line\nend.jpg"])
def test_a_name_that_evidence_cannot_have_is_refused(casebook, tmp_path, name):
    (tmp_path / name).write_bytes(b"x")
    assert add(casebook, tmp_path / name, *WORDS) == 2
    assert not (casebook / "evidence").exists()


def test_a_link_a_folder_and_what_is_not_there_are_refused(casebook, file, tmp_path):
    (tmp_path / "link.bin").symlink_to(file)
    os.mkfifo(tmp_path / "pipe.bin")
    for name in ("link.bin", "pipe.bin", "none.bin", "trial"):
        assert add(casebook, tmp_path / name, *WORDS) == 2
    assert not (casebook / "evidence").exists()


def test_an_evidence_folder_that_is_a_link_is_not_written_into(casebook, file, tmp_path):
    (tmp_path / "elsewhere").mkdir()
    (casebook / "evidence").symlink_to(tmp_path / "elsewhere")
    assert add(casebook, file, *WORDS) == 2
    assert list((tmp_path / "elsewhere").iterdir()) == []


# ---- the register as text ---------------------------------------------------------------------------------

ENTRY = "old:\n  kind: document\n  date: 2026-01-01\n  by: X\n  about: object\n  held: Office\n  shows: It."


@pytest.mark.parametrize(
    "before",
    [
        "", "# Nothing yet.", f"# First.\n{ENTRY}\n# Last.\n", ENTRY, ENTRY.replace("\n", "\r\n") + "\r\n",
        ENTRY.replace("shows: It.", "shows: >\n    It."), ENTRY.replace("shows: It.", "shows: |+\n    It.\n\n"),
        f"\ufeff{ENTRY}\n",
    ],
    ids=["empty", "comment", "comments", "no-last-line-end", "crlf", "folded", "kept", "bom"],
)  # fmt: skip
def test_every_byte_of_the_register_stays_as_it_was(casebook, file, before):
    (casebook / "evidence").mkdir()
    (casebook / "evidence/register.yaml").write_bytes(before.encode())
    status = add(casebook, file, *WORDS)
    if ENTRY.split()[0] not in before:  # a casebook with an empty register is not read, as any empty file is not
        assert status == 2 and register(casebook) == before
        return
    assert status == 0 and register(casebook).startswith(before)
    assert set(read(Folder(casebook)).evidence) == {"old", "notes"}
    if "\r\n" in before:
        assert register(casebook).count("\n") == register(casebook).count("\r\n")


@pytest.mark.parametrize("before", ["{}\n", f"{ENTRY}\n...\n", "{old: {kind: document, date: 2026-01-01, by: X, about: object, held: Office, shows: It.}}\n"])
def test_a_register_that_cannot_be_written_on_is_left_as_it_is(casebook, file, before):
    folder_of(casebook, {"evidence/register.yaml": before})
    assert add(casebook, file, *WORDS) == 2
    assert all_files(casebook / "evidence") == {"register.yaml": before.encode()}


NASTY = [
    "it's \"quoted\"", "a: b", "a # b", "- item", "[x]", "{x: y}", "*alias", "&anchor", "!tag", "| block", "> fold",
    "%dir", "@at", "`tick", "no", "Yes", "null", "~", "010", "1e3", "3:30", "ends:", "two  spaces", "\\n", "\\",
    "naïve µ × ″ 漢字 😀", "first\nsecond\n\nthird", "x\n...\n---\nold: {}", "tab\there", "'", '"', "a: " * 80, "#" * 120 + " b",
    "word " * 60 + "# no comment: here", "\u2028line", "a\u0085b", "?", "? key", "<<", "=", "x" * 300, "\xa0spaced\xa0",
]  # fmt: skip


@pytest.mark.parametrize("said", NASTY)
def test_what_a_person_says_stays_a_value_whatever_it_looks_like(said):
    held = read_back(said)
    assert held.keys() >= {"old", "new"} and len(held) == 2
    assert held["new"]["shows"].strip() == said.strip() and held["new"]["by"] == "X"


@given(st.text(st.characters(exclude_categories=("Cs",)), min_size=1, max_size=300))
def test_any_text_at_all_stays_a_value(said):
    held = read_back(said)
    assert held["new"]["shows"].strip() == said.strip() and list(held["new"]) == ["by", "about", "shows", "rights"]


def read_back(said: str) -> dict[str, dict[str, str]]:
    after = appended(ENTRY.encode(), "new", {"by": "X", "about": ("object",), "shows": said, "rights": "Ours"})
    node, problems = parse(after.decode(), "register.yaml", "C")
    assert problems == () and isinstance(node, Entries)
    return {
        key.value: {name.value: value.value for name, value in entry.items if isinstance(value, Text)}
        for key, entry in node.items
        if isinstance(entry, Entries)
    }


@pytest.mark.parametrize("said", [one for one in NASTY if one.isprintable()])
def test_what_is_said_on_the_command_line_is_read_as_it_was_said(casebook, file, said):
    root, given_ = casebook, {**SAID, "shows": said, "rights": said}
    take_in(root, addition(file, root, {}, given_))
    item = read(Folder(root)).evidence["notes"]
    assert (item.shows, item.rights) == (said.strip(), said.strip())


def test_words_that_are_no_text_are_refused(casebook, file):
    with pytest.raises(NotAdded, match="no UTF-8 text"):
        addition(file, casebook, {}, {**SAID, "by": "\udcff"})


def test_a_hidden_control_character_is_refused(casebook, file, capsys):
    assert add(casebook, file, *WORDS, "--rights", "a\u202eb") == 2
    assert "--rights: C010" in capsys.readouterr().err
    assert not (casebook / "evidence").exists()


# ---- stopped half-way, and two at once ---------------------------------------------------------------------


def test_a_stop_between_copy_and_register_leaves_a_file_without_an_entry_and_nothing_else(casebook, file, tmp_path):
    before = all_files(casebook)
    script = (
        "import os, sys\nfrom conserve.files import Folder\nfrom conserve.cli import main\n"
        "def stop(*_): os._exit(9)\n"
        "Folder.add = Folder.put = stop\n"  # what writes the register
        "main(sys.argv[1:])\n"
    )
    words = adding(casebook, file, *WORDS)
    assert subprocess.run([sys.executable, "-c", script, *words], cwd=HOUSE).returncode == 9
    assert all_files(casebook) == {**before, "evidence/notes.bin": file.read_bytes()}
    assert found_in(casebook) == [("C091", 1)]
    assert add(casebook, casebook / "evidence/notes.bin", *WORDS) == 0
    assert found_in(casebook) == [("", 1)]  # nothing uses it yet


def test_a_register_changed_meanwhile_is_kept_and_nothing_is_added(casebook, file):
    folder_of(casebook, {"evidence/register.yaml": ENTRY + "\n"})
    told = addition(file, casebook, {}, SAID)
    folder_of(casebook, {"evidence/register.yaml": f"# Mine.\n{ENTRY}\n"})
    with pytest.raises(NotAdded, match="changed meanwhile"):
        take_in(casebook, told)
    assert all_files(casebook / "evidence") == {"register.yaml": f"# Mine.\n{ENTRY}\n".encode()}


def test_a_file_changed_while_it_is_copied_is_not_added(casebook, file):
    told = addition(file, casebook, {}, SAID)
    file.write_bytes(b"other")
    with pytest.raises(NotAdded, match="changed while it was copied"):
        take_in(casebook, told)
    assert all_files(casebook / "evidence") == {} if (casebook / "evidence").exists() else True


def test_a_full_disk_leaves_nothing_behind(casebook, file):
    told = addition(file, casebook, {}, SAID)

    def full(blocks, size, doing):
        yield next(iter(blocks))
        raise OSError(28, "No space left on device")

    with pytest.raises(OSError, match="No space"):
        take_in(casebook, told, full)
    assert all_files(casebook) == {k: v for k, v in all_files(casebook).items() if "evidence" not in k}


def test_a_stop_right_after_the_register_was_written_leaves_the_file_that_it_names(casebook, file, monkeypatch):
    told = addition(file, casebook, {}, SAID)
    written = Folder.add

    def stopped(self, name, data):
        written(self, name, data)
        raise KeyboardInterrupt

    monkeypatch.setattr(Folder, "add", stopped)
    with pytest.raises(KeyboardInterrupt):
        take_in(casebook, told)
    assert (casebook / "evidence/notes.bin").read_bytes() == file.read_bytes()
    assert list(read(Folder(casebook)).evidence) == ["notes"]


def test_two_who_add_at_once_take_turns_and_both_are_entered(casebook, tmp_path):
    started = []
    for number in range(3):
        path = tmp_path / f"sheet-{number}.bin"
        path.write_bytes(bytes([number]) * 3_000_000)
        words = adding(casebook, path, *WORDS)
        started.append(subprocess.Popen([sys.executable, "-m", "conserve", *words], cwd=HOUSE, stdout=subprocess.DEVNULL))
    assert [process.wait() for process in started] == [0, 0, 0]
    assert set(read(Folder(casebook)).evidence) == {"sheet-0", "sheet-1", "sheet-2"}
    assert not any(code for code, _ in found_in(casebook))


def test_two_who_add_the_same_file_at_once_add_it_once(casebook, file):
    words = adding(casebook, file, *WORDS)
    command = [sys.executable, "-m", "conserve", *words]
    started = [
        subprocess.Popen(command, cwd=HOUSE, stdout=subprocess.DEVNULL, stderr=subprocess.DEVNULL) for _ in range(2)
    ]
    assert sorted(process.wait() for process in started) == [0, 2]
    assert list(read(Folder(casebook)).evidence) == ["notes"]


# ---- pictures ----------------------------------------------------------------------------------------------


def shown_copy(path: Path) -> bytes:
    return b"".join(without_location(Folder(path.parent), path.name))


def chunk(name: bytes, data: bytes) -> bytes:
    return struct.pack(">I", len(data)) + name + data + struct.pack(">I", zlib.crc32(name + data))


def with_more(data: bytes) -> bytes:
    """A JPEG with every other place in which a camera or a program may write where it was taken."""
    xmp = b"http://ns.adobe.com/xap/1.0/\0<x exif:GPSLatitude='52,30N'/>"
    parts = [(0xE1, xmp), (0xED, b"Photoshop 3.0\0secret town"), (0xFE, b"secret comment"), (0xE2, b"MPF\0secret"),
             (0xE5, b"secret maker"), (0xE2, b"ICC_PROFILE\0\x01\x01colours"), (0xEE, b"Adobe\0\x64\0\0\0\0\x01")]  # fmt: skip
    more = b"".join(b"\xff" + bytes([marker]) + struct.pack(">H", len(said) + 2) + said for marker, said in parts)
    return data[:2] + more + data[2:] + b"secret film behind the end"


@pytest.mark.parametrize("way", range(1, 9))
@pytest.mark.parametrize("form", [{}, {"progressive": True}, {"subsampling": 0, "quality": 100}], ids=str)
def test_a_jpeg_is_shown_without_its_metadata_with_the_same_pixels_the_same_way_up(tmp_path, way, form):
    path = picture(tmp_path / "bar.jpg", way=way, **form)
    before = Image.open(io.BytesIO(path.read_bytes()))
    path.write_bytes(with_more(path.read_bytes()))
    data = shown_copy(path)
    assert b"secret" not in data and b"GPS" not in data and b"2026:03" not in data and b"colours" in data
    after = Image.open(io.BytesIO(data))
    assert dict(after.getexif()) == ({} if way == 1 else {0x0112: way})
    assert ImageChops.difference(before, after).getbbox() is None and after.size == (64, 48)
    path.write_bytes(data)
    assert file_facts(path).has_location is False


@pytest.mark.parametrize("way", [1, 6])
def test_a_png_is_shown_without_its_metadata_with_the_same_pixels_the_same_way_up(tmp_path, way):
    path = picture(tmp_path / "bar.png", way=way, dpi=(300, 300))
    before = Image.open(path).convert("RGB")
    data, end = path.read_bytes(), chunk(b"IEND", b"")
    more = [(b"tEXt", b"Comment\0secret"), (b"iTXt", b"XML:com.adobe.xmp\0\0\0\0\0secret GPSLatitude"),
            (b"tIME", b"\x07\xea\3\2\0\0\0"), (b"zTXt", b"Place\0\0" + zlib.compress(b"secret")), (b"seCr", b"secret")]  # fmt: skip
    path.write_bytes(data.removesuffix(end) + b"".join(chunk(*one) for one in more) + end + b"secret behind")
    assert file_facts(path).has_location is True
    data = shown_copy(path)
    assert b"secret" not in data and b"GPS" not in data and b"tIME" not in data
    after = Image.open(io.BytesIO(data))
    assert after.getexif().get(0x0112, 1) == way and dict(after.getexif().get_ifd(0x8825)) == {}
    assert tuple(round(d) for d in after.info["dpi"]) == (300, 300)
    assert ImageChops.difference(before, after.convert("RGB")).getbbox() is None


def test_the_file_itself_is_kept_as_it_is_and_the_copy_is_entered(casebook, tmp_path, capsys):
    path = picture(tmp_path / "bar.jpg")
    assert add(casebook, path, *WORDS, "--hide-location", "--show", "anyone") == 0
    item = read(Folder(casebook)).evidence["bar"]
    assert (casebook / "evidence/bar.jpg").read_bytes() == path.read_bytes()
    assert item.shown_as == "shown/bar.jpg"
    assert item.shown_digest == hashlib.sha256((casebook / "evidence/shown/bar.jpg").read_bytes()).hexdigest()
    assert file_facts(casebook / "evidence/shown/bar.jpg").has_location is False
    assert found_in(casebook) == [("", 1)]
    assert "evidence/shown/bar.jpg is what is shown of it" in capsys.readouterr().out


def test_a_shown_copy_is_made_of_jpeg_and_png_alone(casebook, file, capsys):
    assert add(casebook, file, *WORDS, "--hide-location") == 2
    assert "only of a JPEG or a PNG" in capsys.readouterr().err
    assert not (casebook / "evidence").exists()


@pytest.mark.parametrize("name", ["bar.jpg", "bar.png"])
def test_a_picture_that_is_cut_off_anywhere_is_refused_and_never_half_shown(tmp_path, name):
    data = picture(tmp_path / name).read_bytes()
    for end in (*range(16, 900, 7), *range(900, len(data) - 1, 401), len(data) - 1):
        (tmp_path / name).write_bytes(data[:end])
        with pytest.raises(CannotHide):
            shown_copy(tmp_path / name)


@given(st.binary(max_size=200), st.sampled_from((b"\xff\xd8\xff", b"\x89PNG\r\n\x1a\n", b"\xff\xd8\xff\xe1\0\x10Exif\0\0")))
def test_whatever_is_in_a_file_that_begins_like_a_picture_is_read_or_refused(tmp_path_factory, data, head):
    path = tmp_path_factory.getbasetemp() / "any.bin"
    path.write_bytes(head + data)
    assert file_facts(path).size == len(head + data)
    try:
        shown = shown_copy(path)
    except CannotHide:
        return
    assert len(shown) <= len(head + data) + 38  # no more than was there, and which way up


def test_a_picture_of_more_parts_than_any_has_is_not_taken_apart(tmp_path, monkeypatch):
    monkeypatch.setattr("conserve.evidence.pictures._MOST_PARTS", 2_000)  # a hundredth, to be quick
    path = tmp_path / "many.jpg"
    for parts, said in ((1_997, ""), (2_001, "it is no whole JPEG file: it has more than 2,000 parts")):
        path.write_bytes(b"\xff\xd8" + b"\xff\xe1\0\2" * parts + b"\xff\xd9")
        assert file_facts(path).unread == said
    with pytest.raises(CannotHide, match="parts"):
        shown_copy(path)


@pytest.mark.parametrize(
    ("name", "data"),
    [
        (b"iTXt", b"XML:com.adobe.xmp\0\1\0\0\0" + zlib.compress(b"exif:GPSLatitude='52,1N'")),
        (b"zTXt", b"Raw profile type exif\0\0" + zlib.compress(b"exif 4 45786966")),
    ],
)
def test_a_place_that_is_packed_away_leaves_the_location_unknown_and_is_hidden(tmp_path, name, data):
    path = picture(tmp_path / "bar.png", place=False)
    plain = path.read_bytes()
    assert file_facts(path).has_location is False
    path.write_bytes(plain[:-12] + chunk(name, data) + plain[-12:])
    assert file_facts(path).has_location is None
    assert name not in shown_copy(path)


def test_spans_cover_a_picture_without_a_gap(tmp_path):
    for name in ("bar.jpg", "bar.png"):
        path = picture(tmp_path / name)
        with path.open("rb") as opened:
            spans = spans_of(opened, kind_of(opened))
        assert [span.start for span in spans[1:]] == [span.end for span in spans[:-1]]
        assert (spans[0].start, spans[-1].end) == (0, path.stat().st_size)


def test_exif_that_cannot_be_read_leaves_the_location_unknown_and_hides_nothing(tmp_path):
    path = tmp_path / "bar.jpg"
    data = picture(path, place=False).read_bytes()
    bad = b"Exif\0\0XX"
    path.write_bytes(data[:2] + b"\xff\xe1" + struct.pack(">H", len(bad) + 2) + bad + data[2:])
    facts = file_facts(path)
    assert facts.has_location is None and facts.taken_on is None and facts.unread
    with pytest.raises(CannotHide):
        shown_copy(path)


def test_without_pillow_a_file_is_taken_in_and_it_is_said_what_cannot_be_told(casebook, tmp_path):
    path = picture(tmp_path / "bar.jpg")
    script = "import sys\nsys.modules['PIL'] = None\nfrom conserve.cli import main\nsys.exit(main(sys.argv[1:]))\n"

    def run(*words: str) -> subprocess.CompletedProcess[str]:
        command = [sys.executable, "-c", script, *adding(casebook, path, *WORDS, *words)]
        return subprocess.run(command, cwd=HOUSE, capture_output=True, text=True)

    refused = run("--hide-location")
    assert refused.returncode == 2 and "pip install -e '.[photographs]'" in refused.stderr
    assert not (casebook / "evidence").exists()
    added = run()
    assert added.returncode == 0 and "pip install -e '.[photographs]'" in " ".join(added.stdout.split())


def test_what_is_neither_jpeg_nor_png_says_nothing_of_a_place(file):
    assert (file_facts(file).has_location, file_facts(file).taken_on) == (None, None)


def test_a_link_has_no_facts(file, tmp_path):
    (tmp_path / "link.bin").symlink_to(file)
    with pytest.raises(FileRefused):
        file_facts(tmp_path / "link.bin")


# ---- the register held against its files ---------------------------------------------------------------------


@pytest.fixture
def held(casebook, file) -> Path:
    """A casebook with one file that a component names."""
    assert add(casebook, file, *WORDS) == 0
    with (casebook / "components/bar.yaml").open("a") as part:
        part.write("material: {value: grey-cast-iron, evidence: [notes]}\n")
    assert found_in(casebook) == []
    return casebook


def change(casebook: Path, old: str, new: str) -> None:
    path = casebook / "evidence/register.yaml"
    assert old in path.read_text()
    path.write_text(path.read_text().replace(old, new))


def test_a_changed_file_is_told_at_its_digest(held):
    with (held / "evidence/notes.bin").open("ab") as opened:
        opened.write(b"!")
    assert found_in(held) == [("C090", 8)]


def test_a_size_that_is_another_is_told_at_the_size(held):
    change(held, "size: 1200000", "size: 12")
    assert found_in(held) == [("C090", 9)]


def test_a_file_without_a_digest_is_told_with_the_one_it_has(held):
    digest = hashlib.sha256((held / "evidence/notes.bin").read_bytes()).hexdigest()
    change(held, f"  digest: {digest}\n", "")
    folder = Folder(held)
    (problem,) = checked(read(folder), folder)
    assert not isinstance(problem, Remark)
    assert (problem.code, problem.where.line) == ("C090", 2) and f"digest: {digest}" in problem.hint


def test_files_and_links_without_an_entry_are_told(held, file):
    folder_of(held, {"evidence/stray.txt": "x", "evidence/deep/stray.txt": "y"})
    (held / "evidence/link.txt").symlink_to(file)
    assert [code for code, _ in found_in(held)] == ["C091", "C091", "C091"]


def test_a_copy_that_was_cut_off_is_worth_a_remark(held):
    (held / "evidence/.writing-0123").write_bytes(b"x")
    assert found_in(held) == [("", 1)]


def test_one_file_or_one_digest_in_two_entries_is_told_at_the_later(held):
    first = register(held)
    (held / "evidence/register.yaml").write_text(first + first.replace("notes:", "again:"))
    assert ("C091", 11) in found_in(held)
    shutil.copy(held / "evidence/notes.bin", held / "evidence/other.bin")
    twin = first.replace("notes:", "again:").replace("notes.bin", "other.bin")
    (held / "evidence/register.yaml").write_text(first + twin)
    assert ("C091", 17) in found_in(held)


def test_a_file_that_nothing_uses_is_worth_a_remark_and_no_problem(casebook, file, capsys):
    assert add(casebook, file, *WORDS) == 0
    assert found_in(casebook) == [("", 1)]
    assert check(casebook) == 0
    assert "nothing in the casebook names it" in capsys.readouterr().out


@pytest.mark.parametrize(
    ("calibrated", "found"),
    [
        ("", [("C092", 9)]),
        ("2026-03-02", []),
        ("2026-03-03", [("C092", 10)]),
        ("none", [("", 10)]),
        ("2025-03-01", []),
        ("2025-02-28", [("", 10)]),
    ],
)
def test_a_calibration_comes_before_the_reading_and_is_never_left_out(casebook, file, calibrated, found):
    words = ["--instrument", "depth-gauge", *(("--calibrated", calibrated) if calibrated else ())]
    assert add(casebook, file, *WORDS, *words, "--answers", "r/asked") == 0
    assert found_in(casebook) == found


def test_a_picture_that_anyone_may_be_shown_does_not_say_where_it_was_taken(casebook, tmp_path):
    words = [*WORDS, "--answers", "r/asked", "--show"]
    assert add(casebook, picture(tmp_path / "bar.jpg"), *words, "anyone") == 0
    assert found_in(casebook) == [("C093", 2)]
    change(casebook, "show: anyone", "show: reviewers")
    assert found_in(casebook) == []


def test_a_shown_copy_that_says_where_is_told_as_well(casebook, tmp_path):
    words = [*WORDS, "--answers", "r/asked", "--show", "anyone", "--hide-location"]
    path = picture(tmp_path / "bar.jpg")
    assert add(casebook, path, *words) == 0
    shutil.copy(path, casebook / "evidence/shown/bar.jpg")
    assert [code for code, _ in found_in(casebook)] == ["C090", "C093"]


def test_evidence_with_neither_file_nor_place_is_no_evidence(tmp_path):
    entry = "notes: {kind: report, date: 2026-01-01, by: X, about: object, shows: It.}\n"
    found = problems_of(tmp_path, {"evidence/register.yaml": entry})
    assert [(p.code, p.where.line, p.where.column) for p in found] == [("C089", 1, 1)]


def test_a_place_that_is_written_wrongly_is_told_once(tmp_path):
    entry = "notes: {kind: report, file: ../x, date: 2026-01-01, by: X, about: object, shows: It.}\n"
    assert [p.code for p in problems_of(tmp_path, {"evidence/register.yaml": entry})] == ["C030"]


def test_everything_is_told_at_once_even_where_the_rest_cannot_be_read(held, file, capsys):
    (held / "components/bar.yaml").write_text("nmae: Bar\n")
    (held / "evidence/notes.bin").write_bytes(b"!")
    (held / "evidence/link.bin").symlink_to(file)
    more = "gone: {kind: report, file: gone.pdf, date: 2026-01-01, by: X, about: object, shows: It.}\n"
    more += "air: {kind: report, date: 2026-01-01, by: X, about: object, shows: It.}\n"
    more += "out: {kind: report, file: link.bin, date: 2026-01-01, by: X, about: object, shows: It.}\n"
    (held / "evidence/register.yaml").write_text(register(held) + more)
    assert check(held) == 2
    told = capsys.readouterr().out
    assert {code for code in ("C001", "C002", "C070", "C089", "C090") if f": {code} " in told} == {
        "C001", "C002", "C070", "C089", "C090"
    }  # fmt: skip
    assert told.count(": C070 ") == 2 and told.count(": C089 ") == 1
    assert check(held, "--json") == 2
    as_json = json.loads(capsys.readouterr().out)
    assert as_json["entries"] == 4 and len(as_json["problems"]) == told.count("\n      | ")


def test_a_register_alone_is_held_against_its_files(held):
    evidence, problems = read_register(Folder(held), shipped_rules().vocabulary, "trial")
    assert problems == () and list(held_against(evidence, Folder(held), "trial")) == []


@pytest.mark.parametrize("name", ["marrow-fen", "sallow-wharf"])
def test_the_demonstrations_fit_their_files(name, capsys):
    assert main(["evidence", "check", str(DEMO.parent / name)]) == 0
    assert "fit together" in capsys.readouterr().out


def test_what_check_says_is_the_same_every_time(held, capsys):
    folder_of(held, {"evidence/b.txt": "x", "evidence/a.txt": "y"})
    told = []
    for _ in range(2):
        assert check(held, "--json") == 2
        told.append(capsys.readouterr().out)
    assert told[0] == told[1]
