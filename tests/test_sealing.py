"""Sealing by the command line: record --seal, what it says and refuses, and where a seal is told afterwards."""

from __future__ import annotations

import atexit
import json
import os
import re
import shutil
import subprocess
import sys
from datetime import datetime
from functools import lru_cache
from pathlib import Path
from tempfile import mkdtemp
from textwrap import dedent

import pytest
from sealing import AT, DECIDED, PROPOSAL, Sealing, small_in, small_rules, state

from conserve.cli import main
from conserve.seal import kept, read_chain, read_witness, where_witnessed, witness

HERE = Path(__file__).parent
LATER = "2026-07-02T10:00:00+01:00"
PUBLISHED = bytes.fromhex("9d61b19deffd5a60ba844af492ec2cc44449c5697b326919703bac031cae7f60")  # RFC 8032 section 7.1 test 1
CODE = re.compile(r"Witness code: (\S+)")


@pytest.fixture
def small(tmp_path: Path) -> Sealing:
    return small_in(tmp_path / "trial")


@lru_cache(maxsize=1)
def sealed_once() -> Path:
    """The small casebook with its decisions sealed; only to be copied."""
    root = Path(mkdtemp())
    atexit.register(shutil.rmtree, root, ignore_errors=True)
    assert record(small_in(root / "trial")) == 0
    return root / "trial"


@pytest.fixture
def sealed(tmp_path: Path, capsys) -> Sealing:
    """The small casebook with the decisions `again` and `slack` sealed, in this order."""
    shutil.copytree(sealed_once(), tmp_path / "trial")
    capsys.readouterr()
    return Sealing(tmp_path / "trial", *small_rules())


def record(small: Sealing, *words: str, what: str = "", by: str = "Ann Ash", at: str = AT) -> int:
    """Run `conserve record --seal` on the small casebook, or on one proposal of it."""
    asked = (what, "--in", str(small.root)) if what else (str(small.root),)
    return main(["record", *asked, "--rules", str(small.rules.root), "--seal", "--by", by, "--at", at, *words])


def names(small: Sealing) -> list[str]:
    """The proposals that were sealed, entry by entry; the chain must be sound."""
    chain = read_chain(small.folder, "here")
    assert chain.problems == ()
    return [entry.decision.proposal for entry in chain.entries if entry.decision]


def written(small: Sealing, name: str) -> str:
    return (small.root / "records" / name).read_text(encoding="utf-8")


# ---- sealing -----------------------------------------------------------------------------------------------------


def test_everything_decided_is_sealed_and_what_is_not_is_only_recorded_and_told(small, capsys):
    assert record(small) == 0
    told = capsys.readouterr().out
    chain = read_chain(small.folder, "here")
    assert names(small) == ["again", "slack"]
    for number, entry in enumerate(chain.entries, 1):
        assert f"Entry {number}: {entry.decision.proposal}, shim, justified. " in told
        assert (entry.at, entry.by, entry.signature) == (AT, "Ann Ash", None)
    assert "1 proposal is not decided, and not sealed." in told
    assert (small.root / "records/open.md").exists()
    (code,) = CODE.findall(told)
    assert code == witness(chain) and where_witnessed(code, chain) == chain.entries[-1]
    assert "Write it down where nobody here can change it" in told


def test_what_is_sealed_is_the_record_and_the_proof_that_are_written(sealed):
    for entry in read_chain(sealed.folder, "here").entries:
        what = entry.decision
        assert kept(sealed.folder, what.record).decode() == written(sealed, f"{what.proposal}.md")
        assert kept(sealed.folder, what.proof).decode() == written(sealed, f"{what.proposal}.json")


def test_no_record_holds_the_witness_code(sealed):
    code = witness(read_chain(sealed.folder, "here"))
    assert record(sealed) == 0
    assert not [path for path in (sealed.root / "records").iterdir() if code in path.read_text(encoding="utf-8")]


def test_records_are_the_same_sealed_or_not(small):
    words = ["record", str(small.root), "--rules", str(small.rules.root)]
    assert main(words) == 0
    before = state(small.root / "records")
    assert record(small) == 0 and state(small.root / "records") == before


def test_what_was_sealed_before_is_left_so_unless_it_is_named(sealed, capsys):
    before = state(sealed.root)
    assert record(sealed, at=LATER) == 0
    told = capsys.readouterr().out
    assert state(sealed.root) == before
    assert "2 decisions were sealed before and left so" in told and "Entry" not in told
    assert CODE.findall(told) == [witness(read_chain(sealed.folder, "here"))]
    assert record(sealed, what="slack", at=LATER) == 0
    assert state(sealed.root) == before
    assert "slack: sealed as it stands already." in capsys.readouterr().out


def test_one_decision_alone_is_sealed(small, capsys):
    assert record(small, what="slack") == 0
    assert names(small) == ["slack"]
    assert "not decided" not in capsys.readouterr().out


def test_when_work_goes_on_the_decision_is_sealed_again_if_it_is_named(sealed):
    sealed.write("proposals/slack.yaml", f"{dedent(PROPOSAL)}{DECIDED}work: {{began: 2026-03-15}}\n")
    assert record(sealed, at=LATER) == 0
    assert names(sealed) == ["again", "slack"]
    assert record(sealed, what="slack", at=LATER) == 0
    assert names(sealed) == ["again", "slack", "slack"]


def test_without_a_moment_it_is_now_with_the_zone_of_this_machine(small):
    before = datetime.now().astimezone().replace(microsecond=0)
    asked = ["record", str(small.root), "--rules", str(small.rules.root), "--seal", "--by", "me"]
    assert main(asked) == 0
    (at,) = {entry.at for entry in read_chain(small.folder, "here").entries}
    assert before <= datetime.fromisoformat(at) <= datetime.now().astimezone()


def test_a_seal_can_be_signed(small, tmp_path, capsys):
    serialization = pytest.importorskip("cryptography.hazmat.primitives.serialization")
    ed25519 = pytest.importorskip("cryptography.hazmat.primitives.asymmetric.ed25519")
    secret = ed25519.Ed25519PrivateKey.from_private_bytes(PUBLISHED)
    kinds = (serialization.Encoding.PEM, serialization.PrivateFormat.PKCS8, serialization.NoEncryption())
    key = tmp_path / "key.pem"
    key.write_bytes(secret.private_bytes(*kinds))
    assert record(small, "--sign", str(key)) == 0
    chain = read_chain(small.folder, "here", signatures=True)
    assert chain.problems == () and all(entry.signature for entry in chain.entries)
    assert {entry.signature.key for entry in chain.entries if entry.signature} == {
        "d75a980182b10ab7d54bfed3c964073a0ee172f3daa62325af021a68f707511a"  # the public key of that test
    }
    capsys.readouterr()


# ---- taking the place of another ---------------------------------------------------------------------------------


def supersede(small: Sealing) -> None:
    """A new decision takes the place of 'slack'."""
    small.write("proposals/better.yaml", f"{dedent(PROPOSAL)}supersedes: slack\n{DECIDED.replace('03-09', '04-09')}")


def test_what_takes_the_place_of_another_is_linked_to_it_and_both_records_say_so(sealed, capsys):
    assert "taken its place" not in written(sealed, "slack.md")
    supersede(sealed)
    assert record(sealed, what="better", at=LATER) == 0
    told = capsys.readouterr().out
    entry = read_chain(sealed.folder, "here").entries[-1]
    over = entry.decision.supersedes
    assert (over.proposal, over.sequence) == ("slack", 2)
    assert "Entry 3: better, in place of 'slack', shim" in told
    assert "'better' has taken its place" in written(sealed, "slack.md")
    assert "superseded_by: " in written(sealed, "slack.md")
    assert "supersedes: " in written(sealed, "better.md")


def test_what_was_superseded_and_never_sealed_is_told_as_that(small, capsys):
    supersede(small)
    assert record(small, what="better") == 0
    capsys.readouterr()
    assert record(small) == 0
    told = capsys.readouterr().out
    assert names(small) == ["better", "again"]
    assert "1 decision was sealed before" in told
    assert "1 decision was superseded without a seal, and is not sealed." in told


def test_what_was_superseded_stays_sealed_as_it_was(sealed, capsys):
    supersede(sealed)
    assert record(sealed, at=LATER) == 0
    assert names(sealed) == ["again", "slack", "better"]
    capsys.readouterr()
    assert record(sealed, what="slack", at=LATER) == 2
    assert "was superseded by 'better'" in capsys.readouterr().err


# ---- refusals ----------------------------------------------------------------------------------------------------


def refused(small: Sealing, capsys, *words: str, what: str = "", at: str = AT) -> str:
    """What is said against sealing; then nothing may have been written, not a record either."""
    before = state(small.root)
    capsys.readouterr()
    assert record(small, *words, what=what, at=at) == 2
    told = capsys.readouterr()
    assert state(small.root) == before and told.out == ""
    return told.err


def test_everything_that_is_against_it_is_told_at_once_and_nothing_is_written(small, capsys):
    for name, day in (("slack", "08-09"), ("again", "09-09")):
        small.write(f"proposals/{name}.yaml", dedent(PROPOSAL) + DECIDED.replace("03-09", day))
    told = refused(small, capsys)
    assert "'slack' is decided on 2026-08-09" in told and "'again' is decided on 2026-09-09" in told


@pytest.mark.parametrize(
    ("what", "at", "said"),
    [
        ("open", AT, "'open' is not decided"),
        ("", "2026-07-01", "zone"),
        ("", "2026-07-01T10:00:00", "zone"),
        ("", "yesterday", "yesterday"),
        ("", "2026-02-01T10:00:00+00:00", "after the day of the seal"),
        ("nothing", AT, "nothing"),
    ],
)
def test_what_cannot_be_sealed_is_told(small, capsys, what, at, said):
    assert said in refused(small, capsys, what=what, at=at)


def test_who_seals_must_be_said_and_what_is_of_a_seal_needs_one(small, capsys):
    words = ["record", str(small.root), "--rules", str(small.rules.root)]
    before = state(small.root)
    assert [main([*words, *more]) for more in (["--seal"], ["--by", "me"], ["--at", AT], ["--sign", "k"])] == [2] * 4
    assert state(small.root) == before
    told = capsys.readouterr().err
    assert "nobody says who seals" in told and "are of a seal" in told


def test_a_sealed_decision_that_was_edited_is_not_sealed(sealed, capsys):
    sealed.write("proposals/slack.yaml", dedent(PROPOSAL) + DECIDED.replace("gentlest", "cheapest"))
    told = refused(sealed, capsys, at=LATER)
    assert "its reason" in told and "superseded, never edited" in told


def test_nothing_is_sealed_in_a_chain_that_is_not_whole(sealed, capsys):
    chain = sealed.root / "chain.jsonl"
    chain.write_bytes(chain.read_bytes().split(b"\n", 1)[1])
    assert "the chain is not whole" in refused(sealed, capsys, at=LATER)


def test_a_key_that_cannot_sign_is_told_before_anything_is_written(small, capsys):
    assert "no-such-key" in refused(small, capsys, "--sign", "no-such-key")


def test_evidence_that_is_gone_keeps_a_decision_from_being_sealed_and_nothing_says_that_it_was(small, capsys):
    (small.root / "evidence/about.jpg").unlink()
    assert record(small) == 2
    assert "about.jpg" in capsys.readouterr().err
    assert not (small.root / "chain.jsonl").exists()


def test_rules_that_were_kept_and_altered_keep_it_from_being_sealed_and_it_is_not_said_that_nothing_was_written(
    small, capsys
):
    assert record(small, what="slack") == 0
    (words,) = (small.root / "rulebooks").glob("*/terms.yaml")
    words.write_text(words.read_text(encoding="utf-8") + "# \n", encoding="utf-8")
    before = (small.root / "chain.jsonl").read_bytes()
    capsys.readouterr()
    assert record(small, what="again") == 2
    told = capsys.readouterr().err
    assert "Nothing was sealed" in told or "nothing is sealed" in told
    assert (small.root / "chain.jsonl").read_bytes() == before


# ---- many at once, and stopped in between ------------------------------------------------------------------------


def test_two_who_seal_at_once_take_turns(small, tmp_path):
    words = ("record", str(small.root), "--rules", str(small.rules.root), "--seal", "--by", "me", "--at", AT)
    env = {**os.environ, "PYTHONPATH": str(HERE.parent)}
    both = [
        subprocess.Popen([sys.executable, "-m", "conserve", *words], cwd=tmp_path, stdout=subprocess.PIPE, env=env)
        for _ in range(2)
    ]
    assert [one.communicate() and one.returncode for one in both] == [0, 0]
    assert names(small) == ["again", "slack"]


def test_a_line_that_a_machine_left_torn_is_a_problem_until_the_next_seal_sets_it_aside(sealed, capsys):
    chain = sealed.root / "chain.jsonl"
    chain.write_bytes(chain.read_bytes()[:-20])
    asked = ["check", str(sealed.root), "--rules", str(sealed.rules.root)]
    assert main(asked) == 2
    assert "C105" in capsys.readouterr().out
    assert record(sealed, at=LATER) == 0
    assert names(sealed) == ["again", "slack"]
    assert list((sealed.root / "sealed").glob("torn-*"))
    assert main(asked) == 0


# ---- where it is told --------------------------------------------------------------------------------------------


def test_check_tells_how_far_the_chain_went(small, capsys):
    asked = ["check", str(small.root), "--rules", str(small.rules.root)]
    assert main([*asked, "--json"]) == 0
    nothing = json.loads(capsys.readouterr().out)
    assert (nothing["read"]["entries"], nothing["read"]["notes"], nothing["witness"]) == (0, 0, "")
    assert record(small) == 0
    capsys.readouterr()
    assert main([*asked, "--json"]) == 0
    told = json.loads(capsys.readouterr().out)
    assert (told["read"]["entries"], read_witness(told["witness"])[0]) == (2, 2)
    assert main(asked) == 0
    assert told["witness"] in capsys.readouterr().out


@pytest.mark.parametrize("how", ["chain", "note"])
def test_check_tells_what_is_wrong_with_the_chain_and_the_notes_with_its_line(sealed, capsys, how):
    path = sealed.root / "chain.jsonl"
    if how == "chain":
        path.write_bytes(path.read_bytes().replace(b"Ann Ash", b"Ann Elm", 1))
    else:
        sealed.write("notes/odd.yaml", "about: nothing\nstand: agree\nby: me\ndate: 2026-03-12\nsays: So.\n")
    assert main(["check", str(sealed.root), "--rules", str(sealed.rules.root)]) == 2
    told = capsys.readouterr().out
    assert ("chain.jsonl:1:1: C103" if how == "chain" else "notes/odd.yaml:1:8: C110") in told


def test_a_chain_in_a_copy_reads_as_in_the_original(sealed, tmp_path):
    shutil.copytree(sealed.root, tmp_path / "copy" / "trial")
    copy = Sealing(tmp_path / "copy" / "trial", sealed.rulebook, sealed.rules)
    assert witness(read_chain(copy.folder, "here")) == witness(read_chain(sealed.folder, "here"))
    assert record(copy, at=LATER) == 0 and names(copy) == ["again", "slack"]


def test_a_moment_that_has_not_come_is_refused_so_that_a_mistyped_year_locks_no_chain(small, capsys):
    assert main(["record", str(small.root), "--rules", str(small.rules.root), "--seal", "--by", "Ann", "--at", "9998-07-01T10:00:00+01:00"]) == 2
    assert "has not come yet" in capsys.readouterr().err
    assert not (small.root / "chain.jsonl").exists()
