"""What reviewers say of decisions: what a note may say, who is still to be answered, and the command that seals one."""

from __future__ import annotations

import json
from datetime import date
from pathlib import Path
from textwrap import dedent

import pytest
from helpers import folder_of, weighed
from hypothesis import given
from hypothesis import strategies as st
from sealing import AT, PROPOSAL, Sealing, small_in, state

from conserve.cli import main
from conserve.files import Only
from conserve.notes import Note, Stand, answers_to, read_notes, text_of, unanswered
from conserve.problem import Location
from conserve.seal import kept, read_chain, read_seals, witness
from conserve.yamlfile import Entries, Text, read_yaml

QUERY = """\
    about: slack
    stand: query
    by: A. Reeve
    competence: Examines slow engines.
    date: 2026-03-12
    says: Was the bar looked at too?
    """
ANSWER = """\
    about: slack
    stand: answer
    by: N. Garrow
    date: 2026-03-13
    says: It was, on 2 March.
    answers: slack-1
    """


@pytest.fixture
def small(tmp_path: Path) -> Sealing:
    return small_in(tmp_path / "trial")


def notes_of(small: Sealing, **files: str) -> tuple[tuple[Note, ...], list[tuple[str, str, int]]]:
    """Write notes, and read them: what they say, and of everything that is wrong the code, the file and the line."""
    folder_of(small.root, {f"notes/{name.replace('_', '-')}.yaml": text for name, text in files.items()})
    notes, problems = read_notes(small.folder, small.casebook, "here")
    assert all(one.hint for one in problems if one.code in ("C111", "C112"))
    return notes, [(one.code, one.where.file, one.where.line) for one in problems]


# ---- reading -----------------------------------------------------------------------------------------------------


def test_a_casebook_without_notes_has_none(small):
    assert notes_of(small) == ((), [])


def test_a_note_says_who_stands_how_to_which_decision_and_why(small):
    (note, answer), problems = notes_of(small, slack_1=QUERY, slack_2=ANSWER)
    assert problems == []
    assert (note.id, note.about, note.stand, note.by) == ("slack-1", "slack", Stand.QUERY, "A. Reeve")
    assert (note.competence, note.on, note.says) == (
        "Examines slow engines.",
        date(2026, 3, 12),
        "Was the bar looked at too?",
    )
    assert (note.file, note.answers, answer.answers) == ("notes/slack-1.yaml", "", "slack-1")
    assert note.digest == small.folder.digest(note.file)


def test_a_note_changes_no_weighing_and_is_no_part_of_the_casebook(small):
    before = small.casebook
    notes_of(small, slack_1=QUERY.replace("query", "dissent"))
    assert small.casebook == before
    assert weighed(small.casebook, "slack", small.rulebook).verdicts == weighed(before, "slack", small.rulebook).verdicts


@pytest.mark.parametrize(
    ("old", "new", "found"),
    [
        ("slack\n", "slakc\n", ("C110", 1)),
        ("slack\n", "open\n", ("C110", 1)),
        ("by: A. Reeve", "by: A. Reeve\n    answers: slack-2", ("C111", 4)),
        ("query", "answer", ("C111", 2)),
        ("query", "doubt", ("C005", 2)),
        ("12\n", "32\n", ("C006", 5)),
        ("    by: A. Reeve\n", "", ("C002", 1)),
        ("competence", "competance", ("C001", 4)),
    ],
)
def test_what_does_not_fit_in_a_note_is_told_at_its_place(small, old, new, found):
    assert old in QUERY
    code, line = found
    wrong = notes_of(small, slack_1=QUERY.replace(old, new), slack_2=ANSWER.replace("slack-1", "slack-3"))[1]
    assert (code, "here/notes/slack-1.yaml", line) in wrong
    assert ("C112", "here/notes/slack-2.yaml", 6) in wrong


@pytest.mark.parametrize(
    "first",
    [
        QUERY.replace("query", "agree"),
        ANSWER.replace("slack-1", "slack-3"),
        QUERY.replace("slack\n", "again\n"),
    ],
    ids=["agrees", "answers itself", "is about something else"],
)
def test_an_answer_answers_a_query_or_dissent_about_the_same_decision(small, first):
    third = QUERY.replace("query", "dissent")
    assert notes_of(small, slack_1=first, slack_2=ANSWER, slack_3=third)[1] == [("C112", "here/notes/slack-2.yaml", 6)]


def test_a_note_may_be_about_work_that_nobody_decided(small):
    small.write("proposals/open.yaml", f"{dedent(PROPOSAL)}work: {{began: 2026-03-10}}\n")
    assert notes_of(small, slack_1=QUERY.replace("slack\n", "open\n"))[1] == []


@pytest.mark.parametrize("name", ["Slack", "slack 1", "a/b"])
def test_a_note_whose_name_is_no_id_could_not_be_answered_and_is_told(small, name):
    folder_of(small.root, {f"notes/{name}.yaml": QUERY})
    notes, problems = read_notes(small.folder, small.casebook, "here")
    assert notes == ()
    assert [(one.code, one.where.file) for one in problems] == [("C007", f"here/notes/{name}.yaml")]


def test_a_file_that_is_no_note_is_told_and_never_raised(small):
    (small.root / "notes").mkdir()
    (small.root / "notes/bad.yaml").write_bytes(b"\xff\x00")
    (small.root / "notes/list.yaml").write_text("- a\n", encoding="utf-8")
    (small.root / "notes/none.yaml").write_text("", encoding="utf-8")
    (small.root / "notes/away.yaml").symlink_to(small.root / "object.yaml")
    notes, problems = read_notes(small.folder, small.casebook, "here")
    assert notes == ()
    assert {one.where.file for one in problems} == {
        f"here/notes/{name}.yaml" for name in ("away", "bad", "list", "none")
    }


# ---- who is still to be answered ---------------------------------------------------------------------------------

STANDS = st.sampled_from(Stand)


@st.composite
def some_notes(draw: st.DrawFn) -> list[Note]:
    """Some notes about one decision, of which answers answer any other."""
    names = [f"slack-{n}" for n in range(draw(st.integers(0, 6)))]
    return [
        Note(name, "slack", stand, "me", "", date(2026, 3, draw(st.integers(1, 28))), "So.",
             draw(st.sampled_from(names)) if stand is Stand.ANSWER else "", Location("f"), "")
        for name in names
        for stand in (draw(STANDS),)
    ]  # fmt: skip


@given(some_notes(), st.randoms(use_true_random=False))
def test_what_is_asked_stays_open_until_somebody_answers_and_the_order_does_not_matter(notes, chance):
    left = unanswered(notes)
    answered = {one.answers for one in notes if one.stand is Stand.ANSWER}
    assert {one.id for one in left} == {one.id for one in notes if one.stand.asks} - answered
    assert [one.stand for one in left] == sorted((one.stand for one in left), key=lambda one: one is Stand.QUERY)
    chance.shuffle(notes)
    assert unanswered(notes) == left
    assert all([one.on for one in some] == sorted(one.on for one in some) for some in answers_to(notes).values())


@given(st.text(st.characters(codec="utf-8", exclude_categories=["Cs"]), min_size=1))
def test_what_was_said_is_read_from_a_note_as_it_was_said(said):
    data = text_of({"about": "slack", "says": said, "competence": ""}).encode()
    node, problems = read_yaml(Only(Path(), {"n.yaml": data}), "n.yaml", "C")
    assert isinstance(node, Entries) and problems == ()
    read = {key.value: value.value for key, value in node.items if isinstance(value, Text)}
    assert {key: value.strip() for key, value in read.items()} == {"about": "slack", "says": said.strip()}


# ---- the command -------------------------------------------------------------------------------------------------


def note(small: Sealing, *words: str, stand: str = "query", at: str = AT, says: str = "Was it weighed?") -> int:
    """Run `conserve note` about the small casebook's decision."""
    rules = ("--rules", str(small.rules.root), "--in", str(small.root))
    return main(["note", "slack", "--stand", stand, "--by", "A. Reeve", "--says", says, "--at", at, *rules, *words])


def test_a_note_is_written_and_sealed_in_one_turn(small, capsys):
    small.seal()
    assert note(small, "--competence", "Examines slow engines.") == 0
    told = capsys.readouterr().out
    (written,) = read_seals(small.folder, small.casebook, "here").notes
    chain = read_chain(small.folder, "here")
    sealed = chain.entries[-1].note
    assert chain.problems == () and sealed is not None
    assert (sealed.note, sealed.proposal, sealed.file) == ("slack-1", "slack", written.digest)
    assert sealed.about == chain.decisions_on("slack")[-1].sequence
    assert kept(small.folder, sealed.file) == (small.root / "notes/slack-1.yaml").read_bytes()
    assert (written.by, written.competence, written.on) == ("A. Reeve", "Examines slow engines.", date(2026, 7, 1))
    assert "notes/slack-1.yaml is written, and sealed as entry 3." in told
    assert f"Witness code: {witness(chain)}" in told


def test_a_note_may_be_sealed_before_its_decision_is(small):
    assert note(small) == 0
    (entry,) = read_chain(small.folder, "here").entries
    assert entry.note is not None and entry.note.about is None


def test_notes_are_numbered_and_answered_and_then_nothing_is_open(small, capsys):
    assert [note(small, stand=stand) for stand in ("query", "dissent", "agree")] == [0, 0, 0]
    assert note(small, "--answers", "slack-1", stand="answer") == 0
    assert note(small, "--answers", "slack-2", "--id", "own-name", stand="answer", says="See the 'book': # 3\n  again") == 0
    seals = read_seals(small.folder, small.casebook, "here")
    assert seals.problems == ()
    assert [one.id for one in seals.notes] == ["own-name", "slack-1", "slack-2", "slack-3", "slack-4"]
    assert seals.notes[0].says == "See the 'book': # 3\n  again"
    assert unanswered(seals.notes) == ()
    assert seals.sealed_notes == {one.id for one in seals.notes}
    capsys.readouterr()
    assert note(small, "--json", stand="agree") == 0
    told, code = json.loads(capsys.readouterr().out), witness(read_chain(small.folder, "here"))
    assert told == {"at": AT, "entry": 6, "note": "slack-5", "witness": code}


@pytest.mark.parametrize(
    ("stand", "more", "said"),
    [
        ("answer", (), "does not say what it answers"),
        ("answer", ("--answers", "slack-9"), "there is no note 'slack-9'"),
        ("agree", ("--answers", "slack-1"), "only an answer answers"),
        ("query", ("--id", "slack-1"), "'slack-1'"),
        ("query", ("--id", "../slack"), "not an id"),
        ("query", ("--id", ".slack"), "not an id"),
        ("query", ("--id", "a/b"), "not an id"),
        ("query", ("--says", " "), "says"),
        ("query", ("--by", "A.\nReeve"), "line break"),
        ("query", ("--at", "tomorrow"), "tomorrow"),
        ("query", ("--at", "2026-07-03"), "zone"),
        ("query", ("--at", "2026-06-01T00:00:00+00:00"), "before the last seal"),
        ("query", ("--sign", "no-such-key"), "no-such-key"),
    ],
)
def test_a_note_that_does_not_fit_is_not_written(small, capsys, stand, more, said):
    assert note(small) == 0
    before = state(small.root)
    capsys.readouterr()
    assert note(small, *more, stand=stand) == 2
    told = capsys.readouterr()
    assert said in told.err and told.out == ""
    assert state(small.root) == before


def test_no_note_is_written_where_the_chain_is_not_whole(small, capsys):
    assert note(small) == 0 and note(small) == 0
    chain = small.root / "chain.jsonl"
    chain.write_bytes(chain.read_bytes().split(b"\n", 1)[1])
    before = state(small.root)
    assert note(small) == 2
    assert "the chain is not whole" in capsys.readouterr().err
    assert state(small.root) == before


def test_no_note_is_about_what_nobody_decided_or_proposed(small, capsys):
    words = ["--stand", "agree", "--by", "me", "--says", "So.", "--rules", str(small.rules.root), "--in", str(small.root)]
    assert [main(["note", name, *words]) for name in ("open", "nothing")] == [2, 2]
    assert not (small.root / "notes").exists() and not (small.root / "chain.jsonl").exists()
    assert "neither decided nor begun" in capsys.readouterr().err


def test_a_note_that_a_machine_left_unsealed_is_sealed_when_it_is_said_again(small):
    assert note(small, "--id", "left") == 0
    (small.root / "chain.jsonl").unlink()
    assert note(small, "--id", "left") == 0
    assert read_seals(small.folder, small.casebook, "here").sealed_notes == {"left"}


def test_an_altered_note_no_longer_counts_as_sealed(small):
    assert note(small) == 0
    path = small.root / "notes/slack-1.yaml"
    path.write_text(path.read_text(encoding="utf-8").replace("weighed", "measured"), encoding="utf-8")
    seals = read_seals(small.folder, small.casebook, "here")
    assert (seals.sealed_notes, seals.problems) == (frozenset(), ())
