"""The chain: what is sealed is read again, and whatever is changed in it is found, with its line."""

from __future__ import annotations

import gzip
import json
import subprocess
import sys
from contextlib import suppress
from dataclasses import replace
from datetime import UTC, datetime, timedelta, timezone
from itertools import pairwise
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from sealing import DECISION, NOTE, chain_of, sum_of, wrong

from conserve.files import FileRefused, Folder, Only, digest_of
from conserve.seal import (
    CHAIN,
    FIRST,
    CannotSign,
    Entry,
    NotKept,
    NotSealed,
    SealedDecision,
    SealedNote,
    Signature,
    Superseded,
    all_kept,
    append,
    as_sealed,
    keep,
    kept,
    kept_list,
    read_chain,
    signer,
    where_witnessed,
    witness,
    witness_of,
)
from conserve.seal.entry import as_said, digest_of_entry, line_of, read_line
from conserve.seal.keeping import list_of
from conserve.seal.values import NotAnEntry

HERE = Path(__file__).parent


def texts(root: Path) -> list[bytes]:
    return (root / CHAIN).read_bytes().splitlines(keepends=True)


def with_lines(*lines: bytes) -> Folder:
    return Only(Path("c"), {CHAIN: b"".join(lines)})


@pytest.fixture
def lines(tmp_path: Path) -> list[bytes]:
    """The lines of a sound chain of six entries."""
    chain_of(Folder(tmp_path), 6)
    return texts(tmp_path)


# ---- reading -----------------------------------------------------------------------------------------------------


def test_no_chain_and_an_empty_one_are_sound_and_hold_nothing():
    for folder in (Only(Path("c"), {}), with_lines()):
        chain = read_chain(folder, "c")
        assert (chain.entries, chain.problems, chain.torn, chain.head) == ((), (), b"", FIRST)


def test_what_was_sealed_is_read_again(tmp_path: Path):
    made = chain_of(Folder(tmp_path), 6)
    chain = read_chain(Folder(tmp_path), "c")
    assert chain.entries == made and chain.problems == ()
    assert [one.sequence for one in made] == [1, 2, 3, 4, 5, 6]
    assert made[0].previous == FIRST
    assert all(after.previous == before.digest for before, after in pairwise(made))
    assert chain.head == made[-1].digest
    assert [one.sequence for one in chain.decisions_on("slack-1")] == [2]


def test_a_digest_is_what_other_tools_make_of_the_line_without_it(lines):
    said = json.loads(lines[2])
    digest = said.pop("digest")
    plain = json.dumps(said, sort_keys=True, separators=(",", ":"), ensure_ascii=True)
    assert digest_of((plain.encode(),)) == digest


def test_every_changed_byte_of_a_chain_is_found(tmp_path: Path):
    chain_of(Folder(tmp_path), 3, lambda message: Signature(sum_of("1"), sum_of("2") * 2))
    whole = (tmp_path / CHAIN).read_bytes()
    for at, byte in enumerate(whole):
        for other in (byte ^ 1, byte ^ 0x20, 10 if byte != 10 else 32):
            changed = whole[:at] + bytes((other,)) + whole[at + 1 :]
            line = whole[:at].count(b"\n") + 1
            found = wrong(with_lines(changed))
            assert found, f"byte {at}"
            assert min(at_line for _, at_line in found) in (line, line + 1), f"byte {at}"


def test_a_chain_cut_anywhere_is_torn_and_nothing_sealed_before_is_lost(tmp_path: Path):
    made = chain_of(Folder(tmp_path), 2)
    whole = (tmp_path / CHAIN).read_bytes()
    first = whole.index(b"\n") + 1
    for size in range(len(whole)):
        chain = read_chain(with_lines(whole[:size]), "c")
        ended = size in (0, first)
        complete = size in (first - 1, len(whole) - 1)
        number = (size >= first - 1) + (size == len(whole) - 1)
        assert chain.entries == made[:number], size
        assert [one.code for one in chain.problems] == ([] if ended else ["C105"]), size
        assert chain.torn == (b"" if ended or complete else whole[first if size > first else 0 : size]), size


def test_a_tail_that_is_gone_is_not_seen_in_the_chain_alone_but_by_a_code_from_before(tmp_path: Path):
    made = chain_of(Folder(tmp_path), 4)
    code = witness(read_chain(Folder(tmp_path), "c"))
    cut = read_chain(with_lines(*texts(tmp_path)[:2]), "c")
    assert cut.problems == ()
    assert where_witnessed(code, cut) is None
    assert where_witnessed(witness_of(made[1]), cut) == made[1]


@pytest.mark.parametrize(
    ("order", "found"),
    [
        ((2, 3, 4, 5, 6), [("C103", 1)]),
        ((1, 2, 4, 5, 6), [("C103", 3)]),
        ((1, 5, 6), [("C103", 2)]),
        ((1, 3, 5, 6), [("C103", 2), ("C103", 3)]),
        ((1, 2, 2, 3, 4, 5, 6), [("C103", 3)]),
        ((1, 2, 4, 3, 5, 6), [("C103", 3), ("C103", 4)]),
        ((1, 2, 3, 4, 5, 6, 1), [("C103", 7)]),
        ((2, 1, 3, 4, 5, 6), [("C103", 1), ("C103", 2)]),
    ],
)
def test_lines_that_are_gone_moved_or_there_twice_are_each_told_once(lines, order, found):
    assert wrong(with_lines(*(lines[number - 1] for number in order))) == found


def test_an_altered_line_is_told_alone(lines):
    for number in range(6):
        altered = [*lines]
        altered[number] = altered[number].replace(b'"by":"Ann Ash"', b'"by":"Ann Oak"')
        assert wrong(with_lines(*altered)) == [("C103", number + 1)]
        kept_on = read_chain(with_lines(*altered), "c").entries
        assert [one.sequence for one in kept_on] == [n for n in range(1, 7) if n != number + 1]


def test_a_line_that_was_altered_with_its_digest_is_told_where_the_next_does_not_follow(lines):
    said = {**json.loads(lines[2]), "by": "Ann Oak"}
    forged = line_of(replace(read_line(lines[2][:-1])[0], by="Ann Oak", digest=digest_of_entry(said)))
    assert wrong(with_lines(*lines[:2], forged, *lines[3:])) == [("C103", 4)]
    assert wrong(with_lines(*lines[:2], forged)) == []  # the last one alone: only a code from before tells


def test_a_seal_before_the_one_before_is_told_whatever_the_zones(tmp_path: Path):
    def dated(*moments: str) -> list[tuple[str, int]]:
        entries: list[Entry] = []
        for number, at in enumerate(moments, 1):
            before = entries[-1].digest if entries else FIRST
            entry = Entry(number, before, at, "Ann", NOTE, None, FIRST)
            entries.append(replace(entry, digest=digest_of_entry(as_said(entry))))
        return wrong(with_lines(*(line_of(entry) for entry in entries)))

    assert dated("2026-07-01T10:00:00+02:00", "2026-07-01T08:00:00+00:00", "2026-07-01T09:00:00+01:00") == []
    assert dated("2026-07-01T10:00:00+00:00", "2026-07-01T10:30:00+01:00") == [("C104", 2)]
    assert dated("0001-01-01T00:00:00+14:00", "0001-01-01T00:00:00-14:00", "9999-12-31T23:59:59-14:00") == []
    assert dated("2026-07-02T10:00:00+00:00", "2026-07-01T10:00:00+00:00", "2026-07-01T11:00:00+00:00") == [("C104", 2)]


def altered(lines: list[bytes], **said: object) -> bytes:
    """The first line with other values under some keys, canonical and with its digest as it should be."""
    whole = {**json.loads(lines[0]), **said}
    whole = {key: value for key, value in whole.items() if value is not Ellipsis}
    whole["digest"] = digest_of_entry(whole) if "digest" not in said else said["digest"]
    return json.dumps(whole, sort_keys=True, separators=(",", ":")).encode() + b"\n"


def in_decision(lines: list[bytes], **said: object) -> bytes:
    decision = {**json.loads(lines[0])["decision"], **said}
    return altered(lines, decision={key: value for key, value in decision.items() if value is not Ellipsis})


@pytest.mark.parametrize(
    "said",
    [
        {"format": "conserve-seal-2"},
        {"more": 1},
        {"by": ...},
        {"by": ""},
        {"by": 7},
        {"by": "a\nb"},
        {"by": "\ud800"},
        {"by": "a\u2028b"},
        {"by": "a\u202eb"},
        {"sequence": "1"},
        {"sequence": True},
        {"sequence": 1.0},
        {"sequence": 0},
        {"sequence": -1},
        {"sequence": 10**12},
        {"previous": "0" * 63},
        {"previous": "A" * 64},
        {"digest": "g" * 64},
        {"at": "2026-07-01T10:00:00Z"},
        {"at": "2026-07-01T10:00:00"},
        {"at": "2026-07-01 10:00:00+01:00"},
        {"at": "2026-07-01T10:00+01:00"},
        {"at": "2026-07-01T10:00:00.5+01:00"},
        {"at": "2026-07-01T10:00:00-00:00"},
        {"at": "2026-13-01T10:00:00+01:00"},
        {"at": "2026-07-01"},
        {"at": None},
        {"signature": {"key": "a" * 64}},
        {"signature": {"key": "a" * 63, "value": "b" * 128}},
        {"signature": {"key": "a" * 64, "value": "B" * 128}},
        {"signature": "none"},
        {"decision": None},
        {"decision": []},
        {"note": {}},
        {"decision": ..., "note": {"note": "a", "file": "b" * 64, "proposal": "c", "about": 0}},
        {"decision": ..., "note": {"note": "a", "file": "b", "proposal": "c", "about": None}},
    ],
)
def test_a_line_with_another_shape_is_no_entry(lines, said):
    assert wrong(with_lines(altered(lines, **said))) == [("C102", 1)]


@pytest.mark.parametrize(
    "said",
    [
        {"on": "2026-3-9"},
        {"on": "20260309"},
        {"on": None},
        {"proof": "x"},
        {"files": []},
        {"files": {"a": "b"}},
        {"files": {"a\x07": "b" * 64}},
        {"evidence": None},
        {"overlays": "turret-clock"},
        {"engines": [1]},
        {"supersedes": {}},
        {"supersedes": {"proposal": "a", "sequence": 0, "entry": "b" * 64}},
        {"supersedes": ...},
        {"reason": "so"},
    ],
)
def test_a_decision_with_another_shape_is_no_entry(lines, said):
    assert wrong(with_lines(in_decision(lines, **said))) == [("C102", 1)]


@pytest.mark.parametrize(
    "line",
    [
        b"\n",
        b"{}\n",
        b"[]\n",
        b"null\n",
        b"NaN\n",
        b"1e999\n",
        b"9" * 5000 + b"\n",
        b"[" * 100_000 + b"\n",
        b'"\\ud800"\n',
        b"\xef\xbb\xbf{}\n",
        b"\xff\xfe\n",
        b"\0\0\0\n",
        b'{"by":"\0"}\n',
        "{“by”: “me”}\n".encode(),
    ],
)
def test_what_is_no_entry_is_told_and_never_raised(lines, line):
    assert wrong(with_lines(line)) == [("C102", 1)]
    assert wrong(with_lines(lines[0], line, lines[1])) == [("C102", 2)]


@pytest.mark.parametrize(
    "how",
    [
        lambda line: line.replace(b'":', b'": ', 1),
        lambda line: line.replace(b"Ann", b"\\u0041nn"),
        lambda line: line.replace(b'{"at"', b'{ "at"'),
        lambda line: line.replace(b'{"at"', b'{"at":"2026-07-01T10:00:00+01:00","at"'),
        lambda line: line.replace(b"\n", b"\r\n"),
        lambda line: b" " + line,
        lambda line: line.replace(b'"sequence":1', b'"sequence":1e0'),
        lambda line: json.dumps(json.loads(line)).encode() + b"\n",
        lambda line: line.replace(b"Ann", "Änn".encode()),
    ],
)
def test_one_entry_has_one_line(lines, how):
    assert how(lines[0]) != lines[0]
    assert wrong(with_lines(how(lines[0]), lines[1])) == [("C102", 1)]


def test_a_line_between_that_is_no_entry_hides_nothing_of_what_comes_after(lines):
    assert wrong(with_lines(lines[0], b"?\n", *lines[2:])) == [("C102", 2)]
    assert wrong(with_lines(lines[0], b"?\n", *lines[1:])) == [("C102", 2)]
    assert wrong(with_lines(lines[0], b"?\n", *lines[3:])) == [("C102", 2), ("C103", 3)]
    assert wrong(with_lines(b"?\n", *lines[1:3], *lines[4:])) == [("C102", 1), ("C103", 4)]


def test_a_chain_that_is_no_file_is_told(tmp_path: Path):
    (tmp_path / "other").write_bytes(b"")
    (tmp_path / CHAIN).symlink_to("other")
    assert wrong(Folder(tmp_path)) == [("C102", 1)]
    (tmp_path / CHAIN).unlink()
    (tmp_path / CHAIN).mkdir()
    assert wrong(Folder(tmp_path)) == [("C102", 1)]
    with pytest.raises(NotSealed):
        append(Folder(tmp_path), NOTE, "2026-07-01T10:00:00+01:00", "Ann")


def test_a_line_that_is_too_long_is_told(lines):
    found = read_chain(with_lines(*lines, b'"' + b"a" * 9_000_000), "c")
    assert [one.code for one in found.problems] == ["C102"]
    assert len(found.entries) == 6


def test_a_problem_tells_its_file_and_line_as_the_folder_is_told(lines):
    (problem,) = read_chain(with_lines(*lines[:2], *lines[3:]), "casebook/x").problems
    assert str(problem.where) == "casebook/x/chain.jsonl:3:1"
    assert "entry 3" in problem.message and problem.hint


# ---- laws --------------------------------------------------------------------------------------------------------

strange = "".join(map(chr, (*range(0x7F, 0xA0), 0x61C, 0x200E, 0x200F, *range(0x2028, 0x202F), *range(0x2066, 0x206A))))
words = st.text(st.characters(min_codepoint=32, exclude_characters=strange, exclude_categories=["Cs"]), min_size=1, max_size=12)
sums = st.integers(0, 2**256 - 1).map(lambda number: f"{number:064x}")
numbers = st.integers(1, 999_999_999)
days = st.dates().map(lambda day: day.isoformat())
zones = st.integers(-1439, 1439).map(lambda minutes: timezone(timedelta(minutes=minutes)))
moments = st.datetimes(timezones=zones).map(lambda when: when.replace(microsecond=0).isoformat())
decisions = st.builds(
    SealedDecision,
    proposal=words,
    chosen=words,
    by=words,
    on=days,
    verdict=words,
    weighed_on=days,
    proof=sums,
    record=sums,
    files=sums,
    evidence=sums,
    rulebook=sums,
    overlays=st.lists(words, max_size=2).map(tuple),
    engines=st.lists(words, max_size=2).map(tuple),
    version=words,
    supersedes=st.none() | st.builds(Superseded, words, numbers, sums),
)
notes = st.builds(SealedNote, words, sums, words, st.none() | numbers)
signatures = st.none() | st.builds(Signature, sums, st.tuples(sums, sums).map("".join))


@given(st.builds(Entry, numbers, sums, moments, words, decisions | notes, signatures, sums))
def test_an_entry_is_read_from_its_line_as_it_was(entry):
    line = line_of(entry)
    assert line.count(b"\n") == 1 and line.isascii()
    assert read_line(line[:-1]) == (entry, digest_of_entry(as_said(entry)) == entry.digest)
    whole = replace(entry, digest=digest_of_entry(as_said(entry)))
    assert read_line(line_of(whole)[:-1]) == (whole, True)


@given(st.binary(max_size=200))
def test_no_bytes_whatever_raise_anything(data):
    chain = read_chain(with_lines(data), "c")
    assert chain.entries == () and bool(chain.problems) == bool(data)
    with suppress(NotAnEntry):
        read_line(data)


@settings(max_examples=30)
@given(st.lists(st.tuples(decisions | notes, st.integers(0, 10_000)), min_size=1, max_size=5))
def test_what_is_appended_in_the_order_of_time_is_a_sound_chain(given_to):
    start = datetime(2026, 7, 1, tzinfo=UTC)
    with TemporaryDirectory() as name:
        folder, made = Folder(Path(name)), []
        for what, seconds in sorted(given_to, key=lambda pair: pair[1]):
            made.append(append(folder, what, (start + timedelta(seconds=seconds)).isoformat(), "Ann"))
        chain = read_chain(folder, "c")
        assert (chain.entries, chain.problems) == (tuple(made), ())


# ---- appending ---------------------------------------------------------------------------------------------------


def test_a_torn_last_line_is_set_aside_and_the_chain_goes_on(tmp_path: Path):
    folder = Folder(tmp_path)
    made = chain_of(folder, 2)
    whole = (tmp_path / CHAIN).read_bytes()
    first = whole.index(b"\n") + 1
    for size in (first + 1, first + 200, len(whole) - 2):
        (tmp_path / CHAIN).write_bytes(whole[:size])
        entry = append(folder, NOTE, "2026-07-02T10:00:00+01:00", "Ben")
        chain = read_chain(folder, "c")
        assert chain.problems == () and chain.entries == (made[0], entry)
        torn = whole[first:size]
        assert (tmp_path / "sealed" / f"torn-{digest_of((torn,))}").read_bytes() == torn


def test_a_torn_line_that_was_set_aside_already_is_cut_all_the_same(tmp_path: Path):
    folder = Folder(tmp_path)
    for _ in range(2):
        (tmp_path / CHAIN).write_bytes(b"half a li")
        append(folder, NOTE, "2026-07-02T10:00:00+01:00", "Ben")
        assert wrong(folder) == []
    assert len(list((tmp_path / "sealed").iterdir())) == 1


def test_a_whole_last_entry_without_its_line_end_is_kept(tmp_path: Path):
    folder = Folder(tmp_path)
    made = chain_of(folder, 2)
    (tmp_path / CHAIN).write_bytes((tmp_path / CHAIN).read_bytes()[:-1])
    entry = append(folder, NOTE, "2026-07-02T10:00:00+01:00", "Ben")
    chain = read_chain(folder, "c")
    assert chain.problems == () and chain.entries == (*made, entry)
    assert not (tmp_path / "sealed").exists()


def test_nothing_is_sealed_in_a_broken_chain_and_nothing_of_it_is_changed(tmp_path: Path, lines):
    broken = b"".join((*lines[:2], *lines[3:], b"half"))
    (tmp_path / CHAIN).write_bytes(broken)
    with pytest.raises(NotSealed, match=r"line 3: entry 3 is missing") as refused:
        append(Folder(tmp_path), NOTE, "2026-07-02T10:00:00+01:00", "Ben")
    assert refused.value.hint
    assert (tmp_path / CHAIN).read_bytes() == broken


@pytest.mark.parametrize(
    ("what", "at", "by"),
    [
        (NOTE, "2026-07-01T10:59:59+01:00", "Ben"),
        (NOTE, "2026-07-01T10:30:00+01:30", "Ben"),
        (NOTE, "2026-07-02T10:00:00Z", "Ben"),
        (NOTE, "yesterday", "Ben"),
        (NOTE, "", "Ben"),
        (NOTE, "2026-07-02T10:00:00+01:00", ""),
        (NOTE, "2026-07-02T10:00:00+01:00", "Ben\nOak"),
        (NOTE, "2026-07-02T10:00:00+01:00", "\udcff"),
        (replace(NOTE, note=""), "2026-07-02T10:00:00+01:00", "Ben"),
        (replace(NOTE, file="x"), "2026-07-02T10:00:00+01:00", "Ben"),
        (replace(DECISION, files="c"), "2026-07-02T10:00:00+01:00", "Ben"),
    ],
)
def test_what_could_not_be_read_again_or_is_dated_back_is_not_sealed(tmp_path: Path, what, at, by):
    chain_of(Folder(tmp_path), 2)
    before = (tmp_path / CHAIN).read_bytes()
    with pytest.raises(NotSealed):
        append(Folder(tmp_path), what, at, by)
    assert (tmp_path / CHAIN).read_bytes() == before


def test_a_chain_that_is_a_link_is_not_followed(tmp_path: Path):
    (tmp_path / "other").write_bytes(b"")
    (tmp_path / CHAIN).symlink_to("other")
    for write in (lambda: Folder(tmp_path).append(CHAIN, b"x"), lambda: Folder(tmp_path).cut(CHAIN, 0)):
        with pytest.raises(FileRefused):
            write()
    assert (tmp_path / "other").read_bytes() == b""


def test_many_who_seal_at_once_make_one_sound_chain(tmp_path: Path):
    done = subprocess.run(
        [sys.executable, HERE / "sealing_apart.py", "turns", tmp_path, "8", "5"], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stderr
    chain = read_chain(Folder(tmp_path), "c")
    assert chain.problems == () and len(chain.entries) == 40
    assert sorted((one.by, one.note.note) for one in chain.entries if one.note) == sorted(
        (f"Sealer {who}", f"note-{number}") for who in range(8) for number in range(5)
    )


# ---- keeping -----------------------------------------------------------------------------------------------------


def test_what_is_kept_is_had_again_and_is_read_by_other_tools(tmp_path: Path):
    folder = Folder(tmp_path)
    for data in (b"", b"a fact: yes\n", bytes(range(256)) * 1000):
        digest = keep(folder, data)
        assert kept(folder, digest) == data
        assert gzip.decompress((tmp_path / "sealed" / f"{digest}.gz").read_bytes()) == data
        assert keep(folder, data) == digest == digest_of((data,))
    assert len(all_kept(folder)) == 3


def test_the_same_content_is_kept_as_the_same_bytes(tmp_path: Path):
    for name in "ab":
        (tmp_path / name).mkdir()
        digest = keep(Folder(tmp_path / name), b"so")
    one, other = ((tmp_path / name / "sealed" / f"{digest}.gz").read_bytes() for name in "ab")
    assert one == other and one[4:8] == b"\0\0\0\0"  # no time in it: RFC 1952, 2.3.1


def test_what_was_altered_or_is_gone_is_not_had(tmp_path: Path):
    folder = Folder(tmp_path)
    digest = keep(folder, b"a fact: yes\n" * 50)
    file = tmp_path / "sealed" / f"{digest}.gz"
    whole = file.read_bytes()
    others = [whole[:size] for size in range(len(whole))] + [gzip.compress(b"a fact: no\n"), whole + whole, whole + b"\0"]
    for other in others:
        file.write_bytes(other)
        with pytest.raises(NotKept, match="was altered"):
            kept(folder, digest)
        with pytest.raises(NotSealed, match="was altered"):
            keep(folder, b"a fact: yes\n" * 50)
        assert file.read_bytes() == other
    file.unlink()
    with pytest.raises(NotKept, match="does not exist"):
        kept(folder, digest)
    file.symlink_to("elsewhere")
    with pytest.raises(NotKept, match="link"):
        kept(folder, digest)


@pytest.mark.parametrize("digest", ["", "../object", "a" * 63, "A" * 64, "a" * 64 + "\n", "torn-" + "a" * 64])
def test_nothing_is_had_under_what_is_no_digest(tmp_path: Path, digest):
    with pytest.raises(NotKept):
        kept(Folder(tmp_path), digest)


def test_a_small_file_that_unpacks_into_a_huge_one_is_not_unpacked(tmp_path: Path, monkeypatch):
    monkeypatch.setattr("conserve.seal.keeping.LARGEST", 1000)
    folder = Folder(tmp_path)
    data = b"\0" * 1001
    folder.put(f"sealed/{digest_of((data,))}.gz", gzip.compress(data))
    with pytest.raises(NotKept):
        kept(folder, digest_of((data,)))
    with pytest.raises(NotSealed):
        keep(folder, data)


def test_a_folder_as_sealed_holds_just_its_files_and_tells_all_that_is_gone(tmp_path: Path):
    folder = Folder(tmp_path)
    files = {"object.yaml": keep(folder, b"one\n"), "components/a.yaml": keep(folder, b"two\n")}
    seen = as_sealed(folder, replace(DECISION, files=keep(folder, list_of(files))))
    assert seen.names("", ".yaml") == ("components/a.yaml", "object.yaml")
    assert seen.read_bytes("object.yaml") == b"one\n"
    assert seen.digest("components/a.yaml") == files["components/a.yaml"]
    seen.check("evidence/picture.jpg")  # of evidence only digests are sealed
    for name in ("evidence/picture.jpg", "proposals/b.yaml"):
        with pytest.raises(FileRefused):
            seen.read_bytes(name)
    for name in ("proposals/b.yaml", "evidence/../object.yaml", "../x"):
        with pytest.raises(FileRefused):
            seen.check(name)
    with pytest.raises(FileRefused):
        seen.write("object.yaml", "other")
    more = keep(folder, list_of({**files, "b.yaml": sum_of("1"), "c.yaml": sum_of("2")}))
    with pytest.raises(NotKept, match=r"'b\.yaml'.*'c\.yaml'"):
        as_sealed(folder, replace(DECISION, files=more))
    with pytest.raises(NotKept):
        as_sealed(folder, DECISION)


@pytest.mark.parametrize("data", [b"no list", b"a  b\n", b"\xff\n", b"\n", sum_of("a").encode() + b" b\n"])
def test_what_is_kept_and_is_no_list_of_files_is_not_taken_for_one(tmp_path: Path, data: bytes):
    folder = Folder(tmp_path)
    with pytest.raises(NotKept):
        kept_list(folder, keep(folder, data))


@given(st.dictionaries(st.text(st.characters(exclude_categories=["C", "Z"], exclude_characters="\\"), min_size=1), sums))
def test_a_list_of_files_reads_as_it_was_written_and_as_any_tool_reads_it(files):
    with TemporaryDirectory() as root:
        folder = Folder(Path(root))
        assert kept_list(folder, keep(folder, list_of(files))) == files


@pytest.mark.parametrize("name", ["a\nb", "a\\b", "a\x1b"])
def test_a_name_that_cannot_stand_in_a_list_of_files_is_not_sealed(name: str):
    with pytest.raises(NotSealed):
        list_of({name: sum_of("a")})


def test_a_key_that_is_not_there_is_told(tmp_path: Path):
    with pytest.raises(CannotSign):
        signer(tmp_path / "none.pem")
