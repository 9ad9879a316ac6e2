"""The bag and the zip file: held to RFC 8493 by common tools and by another's library, in processes of their own."""

from __future__ import annotations

import hashlib
import os
import stat
import subprocess
import sys
import zipfile
from datetime import date
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from conserve.files import FileRefused
from conserve.pack.archive import write_zip
from conserve.pack.bag import Bag, encoded

DAY = date(2026, 5, 4)
ODD = ("plain.txt", "with space.txt", "Würfel/naïve é.txt", "a'b\"c.txt", "-dash.txt", "#hash?.txt", "日本.txt", "a\tb.txt")
BROKEN = ("100%.txt", "50%25.txt", "two\nlines.txt", "return\rback.txt")  # what a manifest has to write otherwise

# bagit-python is known to leave a process in another folder and to print to its log; so it runs in one of its own.
VALIDATE = """
import bagit, sys
bag = bagit.Bag(sys.argv[1])
bag.validate()
print(bag.info["Payload-Oxum"], sorted(bag.payload_entries())[:1], bag.version)
"""


def bag_of(root: Path, files: dict[str, bytes]) -> Bag:
    root.mkdir(parents=True)
    bag = Bag(root)
    for name, data in files.items():
        bag.put(name, data)
    bag.close([("Source-Organization", "Fen\nTrust"), ("Bagging-Date", DAY.isoformat())])
    return bag


def validated(root: Path) -> subprocess.CompletedProcess[str]:
    return subprocess.run([sys.executable, "-I", "-c", VALIDATE, root], cwd="/", capture_output=True, text=True)


def summed(root: Path, *manifests: str) -> list[int]:
    """The exits of the common tools over manifests."""
    return [
        subprocess.run(
            [f"{name.split('-')[1].removesuffix('.txt')}sum", "--strict", "--quiet", "-c", name],
            cwd=root, capture_output=True,
        ).returncode
        for name in manifests
    ]  # fmt: skip


MANIFESTS = ("tagmanifest-sha256.txt", "tagmanifest-sha512.txt", "manifest-sha256.txt", "manifest-sha512.txt")


def test_a_bag_with_odd_names_is_valid_to_common_tools_and_to_another_library(tmp_path: Path):
    bag_of(tmp_path / "bag", {name: name.encode() for name in ODD})
    assert summed(tmp_path / "bag", *MANIFESTS) == [0, 0, 0, 0]
    found = validated(tmp_path / "bag")
    assert found.returncode == 0, found.stderr
    size = sum(len(name.encode()) for name in ODD)
    assert found.stdout.startswith(f"{size}.{len(ODD)} ")


def test_names_that_would_break_a_manifests_lines_are_written_as_the_standard_says(tmp_path: Path):
    """RFC 8493, section 2.1.3: CR, LF and % are percent-encoded, and nothing else is."""
    bag_of(tmp_path / "bag", dict.fromkeys(BROKEN, b"x"))
    lines = (tmp_path / "bag/manifest-sha256.txt").read_text(encoding="utf-8").splitlines()
    assert sorted(line.split("  ", 1)[1] for line in lines) == [
        "data/100%25.txt", "data/50%2525.txt", "data/return%0Dback.txt", "data/two%0Alines.txt",
    ]  # fmt: skip
    assert summed(tmp_path / "bag", "tagmanifest-sha256.txt") == [0]


def test_the_declaration_is_the_fixed_text_and_the_oxum_counts_the_payload(tmp_path: Path):
    """RFC 8493, sections 2.1.1 and 2.2.2."""
    bag_of(tmp_path / "bag", {"a.txt": b"four", "b/c.txt": b""})
    assert (tmp_path / "bag/bagit.txt").read_bytes() == b"BagIt-Version: 1.0\nTag-File-Character-Encoding: UTF-8\n"
    told = (tmp_path / "bag/bag-info.txt").read_text(encoding="utf-8")
    assert told == "Source-Organization: Fen Trust\nBagging-Date: 2026-05-04\nPayload-Oxum: 4.2\n"


def test_who_may_read_what_is_in_a_bag_does_not_hang_on_who_filled_it(tmp_path: Path):
    before = os.umask(0o077)
    try:
        bag = Bag(tmp_path / "bag")
        bag.root.mkdir()
        bag.put("a/b/c.txt", "c")
        bag.close([])
    finally:
        os.umask(before)
    found = sorted({(path.is_dir(), stat.S_IMODE(path.stat().st_mode)) for path in bag.root.rglob("*")})
    assert found == [(False, 0o644), (True, 0o755)]
    assert stat.S_IMODE(bag.root.stat().st_mode) == 0o700


def test_digests_are_those_of_the_tools(tmp_path: Path):
    """The published digests of 'abc': FIPS 180-2, appendices B.1 and C.1."""
    sums = bag_of(tmp_path / "bag", {"a": b"abc"}).payload["a"]
    assert sums.sha256 == "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
    assert sums.sha512.startswith("ddaf35a193617abacc417349ae204131") and sums.sha512.endswith("2a9ac94fa54ca49f")


@pytest.mark.parametrize("name", ["../out", "/etc/x", "a//b", "a/./b", "", "a\0b", "\ud800"])
def test_a_name_that_leads_out_of_the_bag_is_refused(tmp_path: Path, name: str):
    (tmp_path / "bag").mkdir()
    with pytest.raises(FileRefused) as refused:
        Bag(tmp_path / "bag").put(name, b"x")
    assert refused.value.kind == "outside"
    assert list(tmp_path.rglob("*")) == [tmp_path / "bag"]


@pytest.mark.parametrize(("one", "other"), [("A.txt", "a.txt"), ("é.txt", "e\u0301.txt"), ("x", "x")])
def test_names_that_are_one_on_some_systems_are_refused(tmp_path: Path, one: str, other: str):
    (tmp_path / "bag").mkdir()
    bag = Bag(tmp_path / "bag")
    bag.put(one, b"x")
    with pytest.raises(FileRefused, match="one file on some systems"):
        bag.put(other, b"y")


@given(st.text(max_size=12))
def test_an_encoded_name_is_one_line_and_reads_back(name: str):
    said = encoded(name)
    assert not {"\n", "\r"}.intersection(said)
    assert said.replace("%0A", "\n").replace("%0D", "\r").replace("%25", "%") == name


@settings(max_examples=25)
@given(st.data())
def test_the_order_in_which_a_bag_is_filled_leaves_no_trace(tmp_path_factory: pytest.TempPathFactory, data: st.DataObject):
    names = data.draw(st.permutations(ODD[:4]))
    root = tmp_path_factory.mktemp("bags")
    one = bag_of(root / "one", {name: name.encode() for name in ODD[:4]})
    other = bag_of(root / "other", {name: name.encode() for name in names})
    for name in one.tags:
        assert (root / "one" / name).read_bytes() == (root / "other" / name).read_bytes()
    assert one.tags == other.tags


# ---- the zip file ---------------------------------------------------------------------------------------


def zipped(root: Path, to: Path) -> bytes:
    names = sorted(path.relative_to(root).as_posix() for path in root.rglob("*") if path.is_file())
    write_zip(root, names, to, "bundle", DAY)
    return to.read_bytes()


def test_a_zip_file_holds_what_the_folder_holds_whatever_the_folders_own_dates(tmp_path: Path):
    bag_of(tmp_path / "bag", {name: name.encode() * 999 for name in (*ODD, *BROKEN)})
    first = zipped(tmp_path / "bag", tmp_path / "one.zip")
    for path in (tmp_path / "bag").rglob("*"):
        os.utime(path, (1, 1))
        path.chmod(0o755)
    assert zipped(tmp_path / "bag", tmp_path / "two.zip") == first
    with zipfile.ZipFile(tmp_path / "one.zip") as archive:
        assert archive.testzip() is None
        for entry in archive.infolist():
            assert entry.filename.startswith("bundle/") and ".." not in entry.filename
            assert entry.date_time == (2026, 5, 4, 0, 0, 0)
            assert entry.external_attr >> 16 == 0o100644
            stands = tmp_path / "bag" / entry.filename.removeprefix("bundle/")
            assert archive.read(entry) == stands.read_bytes()


def test_a_zip_file_says_that_its_names_are_utf_8(tmp_path: Path):
    """APPNOTE.TXT, section 4.4.4: bit 11 of the flags."""
    bag_of(tmp_path / "bag", {"Würfel.txt": b"x"})
    zipped(tmp_path / "bag", tmp_path / "one.zip")
    with zipfile.ZipFile(tmp_path / "one.zip") as archive:
        flags = {e.filename: e.flag_bits for e in archive.infolist()}
    assert flags["bundle/data/Würfel.txt"] & 0x800


# ---- damage ---------------------------------------------------------------------------------------------


def test_one_byte_changed_anywhere_in_any_file_is_found(tmp_path: Path):
    root = tmp_path / "bag"
    bag_of(root, {"a.txt": b"some words\n" * 9, "b/c.bin": bytes(range(256)), "d.svg": b"<svg/>"})
    files = sorted(path for path in root.rglob("*") if path.is_file())
    assert len(files) == 9
    for path in files:
        whole = path.read_bytes()
        for at in {0, len(whole) // 3, len(whole) // 2, len(whole) - 1}:
            path.write_bytes(whole[:at] + bytes((whole[at] ^ 1,)) + whole[at + 1 :])
            assert any(summed(root, name) != [0] for name in MANIFESTS), (path.name, at)
        path.write_bytes(whole)
    assert not any(summed(root, *MANIFESTS))


def test_a_file_that_is_gone_is_found_and_so_is_one_too_many(tmp_path: Path):
    root = tmp_path / "bag"
    bag_of(root, {"a.txt": b"x", "b.txt": b"y"})
    (root / "data/c.txt").write_bytes(b"z")
    assert validated(root).returncode != 0
    (root / "data/c.txt").unlink()
    assert validated(root).returncode == 0
    (root / "data/b.txt").unlink()
    assert summed(root, "manifest-sha256.txt") == [1]
    assert validated(root).returncode != 0


def test_a_file_of_several_blocks_is_poured_and_summed_whole(tmp_path: Path):
    blocks = [bytes([n]) * (1 << 20) for n in range(3)]
    (tmp_path / "bag").mkdir()
    sums = Bag(tmp_path / "bag").pour("big.bin", iter(blocks))
    assert sums.size == 3 << 20
    assert sums.sha512 == hashlib.sha512(b"".join(blocks)).hexdigest()
