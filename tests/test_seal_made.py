"""Decisions sealed from a casebook: what is kept, what is refused, and that it can be made again from that alone."""

from __future__ import annotations

import json
import re
import shutil
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path

import pytest
from sealing import AT, DECIDED, DECISION, FILES, PROPOSAL, Sealing, clock_in, small_in, state, wrong

from conserve.casebook import read_casebook
from conserve.explanation.proof import canonical_json, proof
from conserve.files import Folder, in_turn
from conserve.rulebook import files_of, read_rulebook
from conserve.seal import (
    CHAIN,
    Made,
    NotKept,
    NotSealed,
    all_kept,
    append,
    as_sealed,
    kept,
    kept_list,
    latest_seals,
    read_chain,
    reasons_against,
    rulebook_folder,
    seal_decision,
    superseded,
)
from conserve.weighing import weigh

HERE = Path(__file__).parent
LATER = "2026-07-02T10:00:00+01:00"


@pytest.fixture
def small(tmp_path: Path) -> Sealing:
    return small_in(tmp_path / "trial")


def refused(small: Sealing, *names: str, at: str = AT) -> list[str]:
    """Why nothing is sealed; nothing may be written then."""
    before = state(small.root)
    with pytest.raises(NotSealed) as reasons:
        small.seal(*names, at=at)
    assert state(small.root) == before
    assert all(hint for _, hint in reasons.value.all)
    assert str(reasons.value) == reasons.value.all[0][0]
    return [said for said, _ in reasons.value.all]


# ---- what a seal holds -------------------------------------------------------------------------------------------


def test_a_seal_says_who_decided_what_from_what_and_keeps_it(small):
    (made,) = small.made("slack")
    entry = small.seal("slack")["slack"]
    casebook, sealed = small.casebook, entry.decision
    assert (entry.sequence, entry.at, entry.by, entry.signature) == (1, AT, "Ann Ash", None)
    assert (sealed.proposal, sealed.chosen, sealed.by, sealed.on) == ("slack", "shim", "me", "2026-03-09")
    assert (sealed.verdict, sealed.weighed_on) == (str(made.weighing.verdicts["shim"]), "2026-03-09")
    assert (sealed.engines, sealed.version, sealed.overlays, sealed.supersedes) == (("plain",), "1.0", (), None)
    files = kept_list(small.folder, sealed.files)
    assert files == casebook.digests and "evidence/register.yaml" in files
    assert kept(small.folder, sealed.proof).decode() == made.proof
    assert kept(small.folder, sealed.record) == b"A record.\n"
    assert json.loads(made.proof)["rulebook"] == sealed.rulebook
    for name, digest in files.items():
        assert kept(small.folder, digest) == (small.root / name).read_bytes()
    assert read_chain(small.folder, "c").entries == (entry,)


def test_the_evidence_about_its_parts_or_the_object_or_named_by_its_facts_is_sealed_by_its_digest(small):
    sealed = small.seal("slack")["slack"].decision
    evidence = kept_list(small.folder, sealed.evidence)
    assert set(evidence) == {f"evidence/{name}" for name in ("about.jpg", "named.csv.gz", "whole.pdf")}
    assert all(digest == small.folder.digest(name) for name, digest in evidence.items())
    assert set(evidence.values()).isdisjoint(all_kept(small.folder))
    assert b"about.jpg" not in (small.root / "chain.jsonl").read_bytes()  # which others may see


def test_what_is_sealed_changes_no_weighing_and_is_no_part_of_the_casebook(small):
    before = small.made()
    small.seal()
    small.write("notes/slack-1.yaml", "about: slack\n")
    assert small.casebook.digests == before[0].weighing.casebook.digests
    assert [one.proof for one in small.made()] == [one.proof for one in before]


def test_made_again_from_what_was_kept_alone_the_proof_is_the_same_to_the_byte(tmp_path: Path):
    sealing = clock_in(tmp_path / "trial")
    entries = sealing.seal()
    assert len(entries) == 2
    for name in ("components", "proposals", "evidence"):
        shutil.rmtree(sealing.root / name)
    for entry in entries.values():
        sealed = entry.decision
        assert sealed.overlays == ("evidence-policy", "turret-clock")
        rulebook, problems = read_rulebook(rulebook_folder(sealing.folder, sealed.rulebook), sealed.overlays)
        assert problems == () and rulebook.digest == sealed.rulebook
        casebook, problems = read_casebook(as_sealed(sealing.folder, sealed), rulebook.vocabulary, "trial")
        assert problems == () and casebook.digests == kept_list(sealing.folder, sealed.files)
        again = weigh(casebook.proposal(sealed.proposal), casebook, rulebook, date.fromisoformat(sealed.weighed_on))
        assert canonical_json(proof(again, rulebook)).encode() == kept(sealing.folder, sealed.proof)


def test_the_rules_are_kept_once_and_only_what_the_rulebook_is_read_from(tmp_path: Path):
    sealing = clock_in(tmp_path / "trial")
    sealing.seal()
    (folder,) = (sealing.root / "rulebooks").iterdir()
    assert folder.name == sealing.rulebook.digest
    names = tuple(sorted(str(path.relative_to(folder)) for path in folder.rglob("*") if path.is_file()))
    assert names == files_of(sealing.rules, ("evidence-policy", "turret-clock"))
    assert "terms.yaml" in names and "techniques.yaml" in names and "sequence.yaml" not in names
    before = state(folder)
    sealing.seal(record="Another.\n", at=LATER)
    assert state(folder) == before


# ---- once, again, nothing ----------------------------------------------------------------------------------------


def test_what_is_sealed_as_it_stands_is_not_sealed_twice(small):
    assert set(small.seal()) == {"slack", "again"}
    before = state(small.root)
    assert small.seal(at=LATER) == {}
    assert state(small.root) == before


def test_when_work_goes_on_the_same_decision_is_sealed_again(small):
    first = small.seal("slack")["slack"]
    small.write("proposals/slack.yaml", PROPOSAL + DECIDED + "    work: {began: 2026-03-14}\n")
    again = small.seal("slack", at=LATER)["slack"]
    assert again.sequence == 2 and again.decision.proof != first.decision.proof
    assert (again.decision.chosen, again.decision.on) == (first.decision.chosen, first.decision.on)
    files = kept_list(small.folder, first.decision.files)
    assert kept(small.folder, files["proposals/slack.yaml"]) != (
        small.root / "proposals/slack.yaml"
    ).read_bytes()
    assert latest_seals(read_chain(small.folder, "c")) == {"slack": again}


@pytest.mark.parametrize("what", ["evidence", "record", "rules"])
def test_other_evidence_another_record_or_other_rules_make_another_seal(small, what, tmp_path):
    small.seal("slack")
    if what == "evidence":
        (small.root / "evidence/about.jpg").write_text("another picture\n")
        assert set(small.seal("slack", at=LATER)) == {"slack"}
        (small.root / "evidence/apart.jpg").write_text("another picture of something else\n")
        assert set(small.seal("slack", at=LATER)) == set()
    elif what == "record":
        assert set(small.seal("slack", at=LATER, record="Another.\n")) == {"slack"}
    else:
        shutil.copytree(small.rules.root, tmp_path / "rules")
        with (tmp_path / "rules/sources.yaml").open("a") as sources:
            sources.write("# another edition\n")
        rulebook, _ = read_rulebook(Folder(tmp_path / "rules"))
        other = replace(small, rulebook=rulebook, rules=Folder(tmp_path / "rules"))
        assert set(other.seal("slack", at=LATER)) == {"slack"}
        assert len(list((small.root / "rulebooks").iterdir())) == 2


def test_decisions_sealed_together_come_by_their_day_and_id_whatever_order_they_are_given_in(tmp_path: Path):
    chains = []
    for turn in range(2):
        small = small_in(tmp_path / str(turn))
        small.write("proposals/first.yaml", PROPOSAL + DECIDED.replace("03-09", "03-08"))
        made = small.made()
        small.seal_these(made if turn else made[::-1])
        chains.append((small.root / CHAIN).read_bytes())
        assert [one.decision.proposal for one in read_chain(small.folder, "c").entries] == ["first", "again", "slack"]
    assert chains[0] == chains[1]


def test_one_by_one_is_the_same_as_together(tmp_path: Path):
    together, one_by_one = small_in(tmp_path / "a"), small_in(tmp_path / "b")
    together.seal()
    for made in sorted(one_by_one.made(), key=lambda made: made.weighing.proposal.id):
        with in_turn(one_by_one.root):
            seal_decision(
                one_by_one.folder, made.weighing, one_by_one.rulebook, one_by_one.rules, made.record, made.proof,
                ("plain",), "1.0", AT, "Ann Ash",
            )  # fmt: skip
    assert state(together.root) == state(one_by_one.root)


def test_sealing_nothing_writes_nothing(small):
    before = state(small.root)
    assert small.seal_these(()) == {}
    assert state(small.root) == before


# ---- what supersedes what ----------------------------------------------------------------------------------------


def superseding(small: Sealing, name: str = "better", of: str = "slack") -> None:
    small.write(f"proposals/{name}.yaml", PROPOSAL + DECIDED.replace("03-09", "04-09") + f"    supersedes: {of}\n")


def test_a_link_to_what_is_superseded_names_its_latest_entry(small):
    small.seal("slack")
    latest = small.seal("slack", record="Another.\n")["slack"]
    superseding(small)
    entry = small.seal("better", at=LATER)["better"]
    over = entry.decision.supersedes
    assert (over.proposal, over.sequence, over.entry) == ("slack", 2, latest.digest)
    assert superseded(read_chain(small.folder, "c"), small.casebook) == {"slack": entry}


def test_sealed_together_what_is_superseded_comes_first_whatever_its_day(small):
    small.write("proposals/slack.yaml", PROPOSAL + DECIDED.replace("03-09", "05-09"))
    superseding(small)
    found = small.seal()
    assert [one.decision.proposal for one in read_chain(small.folder, "c").entries] == ["again", "slack", "better"]
    assert found["better"].decision.supersedes.entry == found["slack"].digest


def test_what_supersedes_something_never_sealed_has_no_link(small):
    superseding(small)
    assert small.seal("better")["better"].decision.supersedes is None


@pytest.mark.parametrize("before", [True, False])
def test_what_was_superseded_is_not_sealed_any_more(small, before):
    if before:
        small.seal("slack")
    superseding(small)
    small.seal("better")
    assert refused(small, "slack", at=LATER) == ["'slack' was superseded by 'better', sealed as entry " + "12"[before]]


def test_proposals_that_supersede_one_another_in_a_circle_are_sealed_in_some_order(small):
    superseding(small, "one", "two")
    superseding(small, "two", "one")
    assert set(small.seal("one", "two")) == {"one", "two"}


# ---- what is refused ---------------------------------------------------------------------------------------------


def test_what_is_not_decided_is_not_sealed(small):
    assert refused(small, "open") == ["'open' is not decided"]


@pytest.mark.parametrize(
    ("at", "said"),
    [
        ("2026-03-08T23:59:59+00:00", "'slack' is decided on 2026-03-09"),
        ("2026-03-08T23:59:59-12:00", "'slack' is decided on 2026-03-09"),  # the day counts where it is sealed
    ],
)
def test_a_seal_is_not_older_than_the_decision(small, at, said):
    assert any(one.startswith(said) for one in refused(small, "slack", at=at))


def test_a_seal_on_the_day_of_the_decision_is_no_older(small):
    assert small.seal("slack", at="2026-03-09T00:00:00+14:00")


def test_a_seal_is_not_older_than_anything_in_the_casebook(small):
    late = FILES["components/wheel.yaml"].replace("history: none", "history: [{date: 2026-06-01, kind: damaged, says: It went.}]")
    small.write("components/wheel.yaml", late)
    said = "something in the casebook is dated 2026-06-01, after the day of the seal, 2026-05-31"
    assert said in refused(small, "slack", at="2026-05-31T10:00:00+01:00")
    assert small.seal("slack", at="2026-06-01T10:00:00+01:00")


def test_a_seal_is_not_older_than_the_day_as_on_which_it_is_weighed(small):
    made = small.made("slack", on=date(2026, 12, 24))
    with pytest.raises(NotSealed, match="weighed as on 2026-12-24"):
        small.seal_these(made)


def test_what_was_weighed_as_on_a_day_before_the_decision_is_not_sealed(small):
    made = small.made("slack", on=date(2026, 3, 1))
    with pytest.raises(NotSealed, match="weighed as on 2026-03-01, before it was decided, on 2026-03-09"):
        small.seal_these(made)


def test_a_seal_is_not_older_than_the_one_before(small):
    small.seal("slack")
    assert refused(small, "again", at="2026-07-01T09:59:59+01:00")[0].startswith("2026-07-01T09:59:59+01:00 is before")


@pytest.mark.parametrize(
    ("old", "new", "said"),
    [
        ("chosen: shim", "chosen: leave", "what was chosen"),
        ("by: me, date: 2026-03-09", "by: you, date: 2026-03-09", "who decided"),
        ("date: 2026-03-09", "date: 2026-03-08", "its date"),
        ("It is the gentlest that serves.", "It is the cheapest.", "its reason"),
    ],
)
def test_a_sealed_decision_is_superseded_and_never_edited(small, old, new, said):
    small.seal("slack")
    small.write("proposals/slack.yaml", (PROPOSAL + DECIDED).replace(old, new))
    (why,) = refused(small, "slack", at=LATER)
    assert why.startswith("'slack' was decided otherwise when it was sealed, as entry 1") and why.endswith(said)


def test_the_same_decision_written_otherwise_is_the_same(small):
    small.seal("slack")
    again = "    decision:\n      by: me\n      chosen: shim\n      reason: >\n        It is the gentlest that serves.\n"
    small.write("proposals/slack.yaml", PROPOSAL + again[4:] + "      date: 2026-03-09\n    # so\n")
    assert small.seal("slack", at=LATER)["slack"].sequence == 2


def test_where_nobody_can_tell_how_it_was_decided_nothing_is_sealed(small):
    sealed = small.seal("slack")["slack"].decision
    small.write("proposals/slack.yaml", PROPOSAL + DECIDED + "    # so\n")
    digest = kept_list(small.folder, sealed.files)["proposals/slack.yaml"]
    (small.root / "sealed" / f"{digest}.gz").unlink()
    (why,) = refused(small, "slack", at=LATER)
    assert why.startswith("nobody can tell how 'slack' was decided")


def test_a_file_that_was_changed_after_it_was_read_is_not_sealed(small):
    made = small.made("slack")
    small.write("components/wheel.yaml", FILES["components/wheel.yaml"] + "    note: so\n")
    before = state(small.root)
    with pytest.raises(NotSealed, match=r"'components/wheel.yaml' was changed after it was read"):
        small.seal_these(made)
    assert state(small.root) == before


def test_rules_that_were_changed_after_they_were_read_are_not_kept(tmp_path: Path):
    small = small_in(tmp_path / "trial")
    shutil.copytree(small.rules.root, tmp_path / "rules")
    with (tmp_path / "rules/sources.yaml").open("a") as sources:
        sources.write("# another edition\n")
    with pytest.raises(NotSealed, match="the rules were changed"):
        replace(small, rules=Folder(tmp_path / "rules")).seal("slack")
    assert wrong(small.folder) == [] and not (small.root / CHAIN).exists()


@pytest.mark.parametrize("how", ["changed", "gone", "more"])
def test_kept_rules_that_were_altered_are_found_before_anything_is_sealed(small, how):
    small.seal("slack")
    (kept_rules,) = (small.root / "rulebooks").iterdir()
    if how == "changed":
        (kept_rules / "terms.yaml").write_text((kept_rules / "terms.yaml").read_text() + "# so\n")
    elif how == "gone":
        (kept_rules / "techniques.yaml").unlink()
    else:
        (kept_rules / "more.yaml").write_text("id: more\n")
    with pytest.raises(NotSealed, match="were altered"):
        small.seal("again")
    assert len(read_chain(small.folder, "c").entries) == 1


def test_what_was_kept_and_altered_is_found_before_anything_is_sealed(small):
    sealed = small.seal("slack")["slack"].decision
    digest = kept_list(small.folder, sealed.files)["object.yaml"]
    (small.root / "sealed" / f"{digest}.gz").write_bytes(b"")
    with pytest.raises(NotSealed, match="was altered"):
        small.seal("again")
    assert len(read_chain(small.folder, "c").entries) == 1


def test_evidence_that_is_gone_is_not_sealed(small):
    made = small.made("slack")
    (small.root / "evidence/about.jpg").unlink()
    with pytest.raises(NotSealed, match=r"'evidence/about.jpg' does not exist"):
        small.seal_these(made)
    assert not (small.root / CHAIN).exists()


def test_everything_that_is_against_it_is_told_at_once_and_then_none_is_sealed(small):
    small.write("proposals/late.yaml", PROPOSAL + DECIDED.replace("2026-03-09", "2027-01-01"))
    found = refused(small, "slack", "open", "late")
    assert [re.match("'[a-z]+' is [a-z ]+", one) is not None for one in found].count(True) >= 2
    assert {"'open' is not decided", f"'late' is decided on 2027-01-01, after the day of the seal, {AT[:10]}"} < {*found}
    weighings = [made.weighing for made in small.made("slack", "open", "late")]
    assert [said for said, _ in reasons_against(small.folder, weighings, AT)] == found
    assert reasons_against(small.folder, [small.made("slack")[0].weighing], "now")[0][0].startswith("'now' cannot be")


def test_there_is_no_folder_of_rules_that_were_never_kept(small):
    for digest in ("a" * 64, "../rules", ""):
        with pytest.raises(NotKept):
            rulebook_folder(small.folder, digest)
    (small.root / "rulebooks").mkdir()
    (small.root / "rulebooks" / ("a" * 64)).symlink_to(small.rules.root)
    with pytest.raises(NotKept, match="link"):
        rulebook_folder(small.folder, "a" * 64)


# ---- when a machine stops ----------------------------------------------------------------------------------------


def test_what_a_machine_left_half_written_is_swept_before_the_next_seal(small):
    for name in ("sealed/.writing-1", "rulebooks/.writing-2/terms.yaml", "records/.writing-3", "notes/.writing-4"):
        small.write(name, "half")
    small.write("notes/slack-1.yaml", "a note\n")
    small.seal("slack")
    assert list(small.root.rglob(".writing-*")) == []
    assert (small.root / "notes/slack-1.yaml").read_text() == "a note\n"


def test_a_leftover_that_is_a_link_is_taken_away_and_not_what_it_leads_to(small, tmp_path: Path):
    (tmp_path / "elsewhere").mkdir()
    (tmp_path / "elsewhere/precious").write_text("so")
    (small.root / "sealed").mkdir()
    (small.root / "sealed/.writing-1").symlink_to(tmp_path / "elsewhere")
    small.seal("slack")
    assert (tmp_path / "elsewhere/precious").exists() and not (small.root / "sealed/.writing-1").exists()


def test_killed_at_any_moment_nothing_that_was_sealed_is_lost(tmp_path: Path):
    done = subprocess.run(
        [sys.executable, HERE / "sealing_apart.py", "killed", tmp_path, "12", "1"], capture_output=True, text=True
    )
    assert done.returncode == 0, done.stdout + done.stderr


def test_a_disk_that_is_full_leaves_no_part_of_a_line(small, monkeypatch):
    import os

    small.seal("slack")
    before = (small.root / CHAIN).read_bytes()
    write = os.write
    monkeypatch.setattr(os, "write", lambda file, data: write(file, bytes(data)[: len(data) // 2]))
    with pytest.raises(OSError, match="No space left"):
        append(small.folder, DECISION, LATER, "Ann")
    monkeypatch.undo()
    assert (small.root / CHAIN).read_bytes() == before


def test_a_made_decision_is_plain_data(small):
    (made,) = small.made("slack")
    assert made == Made(made.weighing, "A record.\n", made.proof)
