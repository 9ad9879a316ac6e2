"""Where seals and notes are told: in the statement, on the sheet and in the bundle; and what each leaves out."""

from __future__ import annotations

import atexit
import json
import shutil
from functools import lru_cache
from pathlib import Path
from tempfile import mkdtemp
from textwrap import dedent

import pytest
from packing import asked_of, casebook_at, packed, rules_at
from sealing import Sealing, small_in, small_rules

from conserve.cli import main
from conserve.files import Folder
from conserve.pack import NotPacked
from conserve.seal import read_seals, seal_note
from conserve.statement import Document, document_of, html, markdown, read_sent
from conserve.statement.model import told
from conserve.weighing import weigh_all

LATER = "2026-07-02T10:00:00+01:00"
NOTE = """\
    about: slack
    stand: {}
    by: A. Reeve
    competence: Examines slow engines.
    date: 2026-03-12
    says: The bar was never measured.
    """
ANSWER = """\
    about: slack
    stand: answer
    answers: slack-1
    by: N. Garrow
    date: 2026-03-14
    says: It was, on 2 March.
    """


@lru_cache(maxsize=1)
def sealed_once() -> Path:
    """The small casebook with a decision sealed; only to be copied."""
    root = Path(mkdtemp())
    atexit.register(shutil.rmtree, root, ignore_errors=True)
    small_in(root / "trial").seal("slack")
    return root / "trial"


@pytest.fixture
def small(tmp_path: Path) -> Sealing:
    """The small casebook: `slack` is sealed, `again` is decided and not sealed."""
    shutil.copytree(sealed_once(), tmp_path / "trial")
    return Sealing(tmp_path / "trial", *small_rules())


def statement(small: Sealing) -> Document:
    casebook = small.casebook
    weighings = weigh_all(casebook, small.rulebook)
    return document_of(weighings, casebook, small.rulebook, casebook.as_at, read_seals(small.folder, casebook, "here"))


def said(small: Sealing) -> dict[str, str]:
    return {one.where: one.says for one in told(statement(small))}


def code(small: Sealing) -> str:
    return read_seals(small.folder, small.casebook, "here").witness


# ---- the statement -----------------------------------------------------------------------------------------------


def test_a_statement_tells_the_witness_code_each_seal_and_what_was_never_sealed(small):
    texts = said(small)
    assert texts["seals/witness"] == f"The chain has 1 entry. Its witness code is {code(small)}."
    assert all(words in texts["seals/sealed/slack"] for words in ("Take up the slack", "2026-03-09", "Ann Ash", "entry 1"))
    assert "not sealed" in texts["seals/unsealed/again"]
    assert "seals/none" not in texts and "seals/unsealed/slack" not in texts
    assert code(small) in markdown(statement(small)) and code(small) in html(statement(small), {})


def test_a_later_seal_of_the_same_decision_is_told_beside_the_first(small):
    small.seal("slack", at=LATER, record="Another record.\n")
    row = said(small)["seals/sealed/slack"]
    assert "2026-07-01, entry 1" in row and "2026-07-02 by Ann Ash, entry 2" in row


def test_what_took_the_place_of_another_is_told_with_both_entries(small):
    text = (small.root / "proposals/slack.yaml").read_text(encoding="utf-8")
    small.write("proposals/better.yaml", f"supersedes: slack\n{text}")
    small.seal("better", at=LATER)
    assert said(small)["seals/places-taken/2"] == "Entry 2, 'better', takes the place of entry 1, 'slack'."


def test_without_a_chain_one_sentence_says_that_nothing_is_sealed(small):
    (small.root / "chain.jsonl").unlink()
    texts = {where: text for where, text in said(small).items() if where.startswith("seals/")}
    assert texts == {"seals/none": "No decision has been sealed."}


def test_of_a_broken_chain_it_says_what_is_wrong_and_no_code(small):
    path = small.root / "chain.jsonl"
    path.write_bytes(path.read_bytes().replace(b"Ann Ash", b"Ann Elm"))
    texts = said(small)
    assert "not whole, and no code is given: line 1:" in texts["seals/witness"]
    assert "witness code is" not in markdown(statement(small))


@pytest.mark.parametrize(("stand", "word"), [("dissent", "Dissent"), ("query", "Quer")])
def test_what_is_not_answered_stands_in_the_opening_with_its_decision_and_in_full(small, stand, word):
    small.write("notes/slack-1.yaml", NOTE.format(stand))
    texts = said(small)
    assert texts[next(where for where in texts if where.startswith("summary/") and where.endswith(f"{stand}-open"))].startswith(word)
    full = next(text for where, text in texts.items() if where == "seals/unanswered/slack-1")
    assert all(words in full for words in ("A. Reeve", "Examines slow engines", "2026-03-12", "never measured", "not sealed"))
    assert [where for where in texts if where.endswith("note-slack-1")]


def test_what_is_answered_is_told_in_one_line_and_no_longer_in_the_opening(small):
    small.write("notes/slack-1.yaml", NOTE.format("dissent"))
    small.write("notes/slack-2.yaml", ANSWER)
    small.write("notes/slack-3.yaml", NOTE.format("agree"))
    texts = said(small)
    assert not [where for where in texts if where.endswith(("-open", "note-slack-1", "unanswered/slack-1"))]
    assert "Answered by N. Garrow on 2026-03-14" in texts["seals/notes/slack-1"]
    assert "A. Reeve (Examines slow engines) agrees" in texts["seals/notes/slack-3"]


def test_what_was_sealed_is_answered_only_by_what_is_sealed(small):
    seal_note(small.folder, "slack-1", "slack", dedent(NOTE.format("dissent")).encode(), LATER, "A. Reeve")
    small.write("notes/slack-2.yaml", ANSWER)
    texts = said(small)
    assert "never measured" in texts["seals/unanswered/slack-1"] and "decision-slack/note-slack-1" in texts
    assert "This note is not sealed." in texts["seals/notes/slack-1"]
    seal_note(small.folder, "slack-2", "slack", dedent(ANSWER).encode(), LATER, "N. Garrow")
    assert "seals/unanswered/slack-1" not in said(small)


def test_what_is_told_of_seals_and_notes_was_made_from_the_chain_and_the_notes(small):
    small.write("notes/slack-1.yaml", NOTE.format("dissent"))
    document = statement(small)
    files = {"chain.jsonl", "notes/slack-1.yaml"}
    assert {name: document.sources[name] for name in files} == {name: small.folder.digest(name) for name in files}
    names = {one.where: set(one.made_from) for one in told(document)}
    assert "chain.jsonl" in names["seals/witness"] and "chain.jsonl" in names["seals/sealed/slack"]
    assert files <= names["seals/unanswered/slack-1"]


def test_a_word_of_a_note_cannot_become_markup(small):
    small.write("notes/slack-1.yaml", NOTE.format("dissent").replace("never", "<b>never</b> *so*"))
    assert "<b>never" not in html(statement(small), {}) and "<b>" not in markdown(statement(small))


def test_another_seal_and_another_note_overtake_what_was_written_and_check_names_them(small, capsys):
    words = [str(small.root), "--rules", str(small.rules.root)]
    assert main(["statement", *words]) == 0
    capsys.readouterr()
    assert main(["check", *words, "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["statements"][0]["overtaken"] == []
    small.seal("again", at=LATER)
    small.write("notes/slack-1.yaml", NOTE.format("dissent"))
    assert main(["check", *words, "--json"]) == 0
    (one,) = json.loads(capsys.readouterr().out)["statements"]
    assert set(one["because"]) == {"chain.jsonl", "notes/slack-1.yaml"}
    assert {"seals/witness", "seals/unanswered/slack-1"} <= {each["where"] for each in one["overtaken"]}


# ---- the sheet ---------------------------------------------------------------------------------------------------


@pytest.mark.parametrize("ending", ["md", "html", "txt"])
def test_a_sheet_ends_with_the_witness_code(small, tmp_path, ending):
    words = ["sheet", "slack", "--in", str(small.root), "--rules", str(small.rules.root)]
    assert main([*words, "--out", str(tmp_path / f"with.{ending}")]) == 0
    text = " ".join((tmp_path / f"with.{ending}").read_text(encoding="utf-8").split())
    assert f"Witness code of the chain of seals: {code(small)}" in text.replace("\\", "")
    (small.root / "chain.jsonl").unlink()
    assert main([*words, "--out", str(tmp_path / f"without.{ending}")]) == 0
    assert "Witness" not in (tmp_path / f"without.{ending}").read_text(encoding="utf-8")


# ---- the bundle --------------------------------------------------------------------------------------------------


def sealed_engine(tmp_path: Path, note: str = NOTE.format("dissent")) -> Sealing:
    """The small casebook of bundles, with its decision sealed and a note about it."""
    rules = rules_at(tmp_path / "rules")
    folder = casebook_at(tmp_path / "engine", **{"notes/slack-1.yaml": note})
    (tmp_path / "out").mkdir()
    found = Sealing(folder.root, asked_of(folder, rules, tmp_path / "out").rulebook, rules)
    found.seal("slack")
    return found


def test_a_bundle_holds_the_chain_and_the_notes_and_nothing_of_what_was_kept(tmp_path):
    engine = sealed_engine(tmp_path)
    bundle = packed(asked_of(engine.folder, engine.rules, tmp_path / "out"))
    home = bundle.folder / "data/casebook/engine"
    for name in ("chain.jsonl", "notes/slack-1.yaml"):
        assert (home / name).read_bytes() == (engine.root / name).read_bytes()
    assert not (home / "sealed").exists() and not (home / "rulebooks").exists()
    seals = read_seals(Folder(home), engine.casebook, "here")
    assert (seals.problems, len(seals.notes)) == ((), 1)
    guide = " ".join((bundle.folder / "data/GUIDE.txt").read_text(encoding="utf-8").split())
    assert f"Its witness code is {seals.witness}." in guide
    assert "What was kept at each seal stays with the owner" in guide
    assert seals.witness in (home / "statement/statement.md").read_text(encoding="utf-8")


def test_a_bundle_without_a_chain_says_nothing_of_seals(tmp_path):
    rules = rules_at(tmp_path / "rules")
    (tmp_path / "out").mkdir()
    bundle = packed(asked_of(casebook_at(tmp_path / "engine"), rules, tmp_path / "out"))
    assert not (bundle.folder / "data/casebook/engine/chain.jsonl").exists()
    assert "witness" not in (bundle.folder / "data/GUIDE.txt").read_text(encoding="utf-8")


def test_a_note_that_names_what_is_withheld_is_refused_with_its_line(tmp_path):
    engine = sealed_engine(tmp_path, NOTE.format("dissent").replace("The bar", "In 'the safe.jpg' the bar"))
    with pytest.raises(NotPacked, match=r"notes/slack-1\.yaml:6 names the file of 'safe'"):
        packed(asked_of(engine.folder, engine.rules, tmp_path / "out"))


def test_what_is_kept_of_a_bundle_that_was_sent_has_the_code_and_older_ones_without_are_read(
    tmp_path, monkeypatch, capsys
):
    engine = sealed_engine(tmp_path)
    monkeypatch.chdir(tmp_path)
    words = ["pack", "engine", "--for", "county", "--rules", "rules", "--to", "out"]
    assert main([*words, "--sent", "2026-07-11", "--recipient", "The fund"]) == 0
    path = engine.root / "sent/2026-07-11-county.json"
    sent = json.loads(path.read_text(encoding="utf-8"))
    assert sent["witness"] == code(engine)
    del sent["witness"]
    path.write_text(json.dumps(sent), encoding="utf-8")
    (one,), problems = read_sent(engine.folder, "here")
    assert problems == () and one.to == "The fund"
    capsys.readouterr()
