"""The command that looks at every decision again, as it is typed."""

from __future__ import annotations

import json
import shutil
from pathlib import Path

import pytest
from helpers import folder_of
from sealing import AT, small_in, small_rules

from conserve.cli import main
from conserve.cli.parser import parser_for

DAY = "2026-09-01"
CODE = "2-0BK4-0TQF-3H1V-V002-YWRP"  # copied rightly, and of no chain here
RULES = str(small_rules()[1].root)


@pytest.fixture(scope="module")
def sealed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook with two decisions, both sealed with their records, and a question that is open."""
    root = tmp_path_factory.mktemp("one") / "engine"
    small_in(root)
    assert main(["record", str(root), "--seal", "--by", "Ann Ash", "--at", AT, "--rules", RULES]) == 0
    return root


@pytest.fixture
def engine(sealed: Path, tmp_path: Path) -> Path:
    return shutil.copytree(sealed, tmp_path / "engine")


def audit(what: Path | str, *more: str, rules: str = RULES) -> int:
    return main(["audit", str(what), "--on", DAY, "--rules", rules, *more])


def told(capsys: pytest.CaptureFixture[str], what: Path | str, *more: str) -> tuple[int, dict]:
    code = audit(what, "--json", *more)
    return code, json.loads(capsys.readouterr().out)


def alter(root: Path, name: str, was: str, is_: str) -> None:
    text = (root / name).read_text(encoding="utf-8")
    assert was in text
    (root / name).write_text(text.replace(was, is_), encoding="utf-8")


# ---- one casebook ------------------------------------------------------------------------------------------------


def test_what_is_as_it_was_sealed_comes_to_nought(engine, capsys):
    code, data = told(capsys, engine)
    assert code == 0 and data["schema"] == "conserve-audit-1" and data["alters"] is False
    assert data["figures"]["re-made to the byte"] == data["figures"]["sealed"] == 2
    assert data["witness"].startswith("2-") and data["on"] == DAY


def test_what_was_altered_is_told_with_its_place_and_comes_to_one(engine, capsys):
    alter(engine, "proposals/slack.yaml", "gentlest that serves", "cheapest")
    assert audit(engine) == 1
    said = capsys.readouterr().out
    assert "1 thing was changed" in said
    assert "A decision was altered after the seal (1)" in said and "proposals/slack.yaml:" in said
    assert said.splitlines()[-1].startswith("For all of it: --out FILE")


def test_of_one_proposal_only_that_is_told_and_its_record_made_again(engine, capsys):
    alter(engine, "proposals/slack.yaml", "gentlest that serves", "cheapest")
    assert audit(engine / "proposals/again.yaml") == 0
    said = capsys.readouterr().out
    assert "again: Take up the slack" in said and "Was it sealed? yes" in said
    assert "A decision was altered" not in said
    assert main(["audit", "slack", "--in", str(engine), "--on", DAY, "--rules", RULES]) == 1
    assert "A decision was altered" in capsys.readouterr().out


def test_the_record_of_one_proposal_is_held_to_the_byte(engine, tmp_path, capsys):
    code, data = told(capsys, engine / "proposals/slack.yaml")
    remade = data["decisions"][0]["answers"]["remade"]
    assert (code, remade["answer"]) == (0, "yes") and "record" in remade["says"]
    small_in(tmp_path / "other").seal(record="No weighing writes this.\n")
    code, data = told(capsys, tmp_path / "other/proposals/slack.yaml")
    remade = data["decisions"][0]["answers"]["remade"]
    assert (code, remade["answer"]) == (1, "no") and "record" in remade["says"]


def test_a_proposal_about_which_there_is_nothing_to_audit_is_refused(engine, capsys):
    assert audit(engine / "proposals/open.yaml") == 2
    assert "'open' is not decided, not begun and was never sealed" in capsys.readouterr().err
    assert main(["audit", "opn", "--in", str(engine), "--rules", RULES]) == 2
    assert "did you mean 'open'?" in capsys.readouterr().err


def test_a_code_that_left_the_house_is_held_against_the_chain(engine, capsys):
    code, data = told(capsys, engine)
    witness = data["witness"]
    assert told(capsys, engine)[1]["witnessed"] == []
    code, data = told(capsys, engine, "--witness", witness)
    assert code == 0 and data["witnessed"] == [data["entries"]]
    assert audit(engine, "--witness", witness) == 0
    assert f"codes from outside are those of entry {data['entries']}" in capsys.readouterr().out.replace("\n", " ")
    lines = (engine / "chain.jsonl").read_bytes().splitlines(keepends=True)
    (engine / "chain.jsonl").write_bytes(lines[0])
    code, data = told(capsys, engine, "--witness", witness)
    assert code == 1
    assert any(witness in point["says"] and point["kind"] == "the chain is not whole" for point in data["points"])


def test_a_code_that_was_copied_wrongly_is_refused_before_the_work_begins(engine, capsys):
    _, data = told(capsys, engine)
    wrong = data["witness"].translate(str.maketrans("0123456789", "1234567890"))
    assert audit(engine, "--witness", wrong) == 2
    assert "cannot be held against the chain" in capsys.readouterr().err


def test_a_record_that_is_older_than_a_file_of_another_decision_is_not_told_as_edited(engine, capsys):
    (engine / "chain.jsonl").unlink()
    shutil.rmtree(engine / "sealed")
    alter(engine, "proposals/again.yaml", "gentlest that serves", "cheapest")
    code, data = told(capsys, engine)
    assert (code, {point["kind"] for point in data["points"]}) == (0, {"cannot be checked here", "never sealed"})
    assert main(["record", str(engine), "--rules", RULES]) == 0
    alter(engine, "records/slack.md", "Take up", "Do not take up")
    capsys.readouterr()
    assert told(capsys, engine)[0] == 1


def test_a_record_from_before_the_rules_were_changed_is_not_told_as_edited(engine, tmp_path, capsys):
    (engine / "chain.jsonl").unlink()
    shutil.rmtree(engine / "sealed")
    other = shutil.copytree(RULES, tmp_path / "other")
    folder_of(other, {"r/no-shims.yaml": NO_SHIMS})
    assert audit(engine, "--json", rules=str(other)) == 0
    points = [one for one in json.loads(capsys.readouterr().out)["points"] if one["where"].startswith("records/")]
    assert {one["kind"] for one in points} == {"cannot be checked here"}


def test_of_a_record_without_a_seal_and_a_proof_nobody_can_tell_why_it_is_another(engine, capsys):
    (engine / "chain.jsonl").unlink()
    shutil.rmtree(engine / "sealed")
    (engine / "records/slack.json").unlink()
    alter(engine, "records/slack.md", "Take up", "Do not take up")
    code, data = told(capsys, engine)
    assert code == 0 and "Without a seal or a proof nobody can tell why." in str(data["points"])


# ---- broken ------------------------------------------------------------------------------------------------------


def test_a_casebook_that_does_not_read_is_told_with_what_is_wrong_with_its_chain(engine, capsys):
    (engine / "components/slide.yaml").write_text("name: [\n", encoding="utf-8")
    with (engine / "chain.jsonl").open("ab") as chain:
        chain.write(b'{"torn')
    assert audit(engine) == 2
    said = capsys.readouterr().err
    assert "components/slide.yaml:" in said and "chain.jsonl:3:1: C105" in said
    assert audit(engine, "--json") == 2
    codes = [one["code"] for one in json.loads(capsys.readouterr().out)["problems"]]
    assert "C105" in codes


# ---- the report --------------------------------------------------------------------------------------------------


def test_a_report_is_written_as_its_name_says_and_never_over_another(engine, tmp_path, capsys):
    for ending, starts in ((".md", "# Audit: Trial engine"), (".html", "<!DOCTYPE html>"), (".json", "{")):
        report = tmp_path / f"report{ending}"
        assert audit(engine, "--out", str(report)) == 0
        assert report.read_text(encoding="utf-8").lstrip().startswith(starts)
        assert f"The report is written: {report}" in capsys.readouterr().out
    before = report.read_bytes()
    assert audit(engine, "--out", str(report)) == 2
    assert report.read_bytes() == before and "is there already" in capsys.readouterr().err


def test_the_data_on_the_screen_and_in_the_report_are_the_same(engine, tmp_path, capsys):
    assert audit(engine, "--json", "--out", str(tmp_path / "it.json")) == 0
    assert capsys.readouterr().out == (tmp_path / "it.json").read_text(encoding="utf-8")


def test_nothing_is_written_into_the_casebook(engine, capsys):
    def all_of_it() -> dict[str, bytes]:
        return {str(path): path.read_bytes() for path in engine.rglob("*") if path.is_file()}

    before = all_of_it()
    assert audit(engine, "--records") in (0, 1)
    assert all_of_it() == before


# ---- how it is asked ---------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--on", "yesterday"), "'yesterday' is no date"),
        (("--out", "report.pdf"), "does not end in .md, .html or .json"),
        (("--sample", "0"), "is no number from 1"),
        (("--jobs", "-1"), "is no number from 1"),
    ],
)
def test_what_makes_no_sense_is_said_so(words, said, capsys):
    assert main(["audit", *words]) == 2
    assert said in capsys.readouterr().err


def test_a_day_and_a_cluster_are_told_apart_in_any_order():
    for words in (("--on", DAY, "--on", "tcp://10.0.0.5:8786"), ("--on", "tcp://10.0.0.5:8786", "--on", DAY)):
        given = parser_for(["audit"]).parse_args(["audit", *words])
        assert (given.day.isoformat(), given.cluster) == (DAY, "tcp://10.0.0.5:8786")
    given = parser_for(["audit"]).parse_args(["audit"])
    assert (given.day, given.cluster) == (None, None)


def test_a_cluster_is_for_casebooks_not_for_one_proposal(engine, capsys):
    assert main(["audit", "slack", "--in", str(engine), "--rules", RULES, "--on", "tcp://127.0.0.1:9"]) == 2
    assert "a cluster audits whole casebooks" in capsys.readouterr().err


def test_of_several_casebooks_nothing_is_asked_that_is_about_one(engine, tmp_path, capsys):
    shutil.copytree(engine, tmp_path / "other")
    for option in (("--witness", CODE), ("--with-rules", RULES)):
        assert audit(tmp_path, *option) == 2
        assert f"{option[0]} is about one casebook, and here are 2" in capsys.readouterr().err


def test_the_only_casebook_below_a_folder_is_told_in_full(engine, tmp_path, capsys):
    shutil.move(engine, tmp_path / "a/deep/engine")
    code, data = told(capsys, tmp_path)
    assert (code, data["schema"]) == (0, "conserve-audit-1")


def test_without_a_name_it_is_the_casebook_here_or_all_under_casebook(engine, tmp_path, capsys, monkeypatch):
    monkeypatch.chdir(engine)
    words = ["audit", "--on", DAY, "--rules", RULES, "--json", "--jobs", "1"]
    assert main(words) == 0 and json.loads(capsys.readouterr().out)["schema"] == "conserve-audit-1"
    for name in ("one", "two"):
        shutil.copytree(engine, tmp_path / "house/casebook" / name)
    monkeypatch.chdir(tmp_path / "house")
    assert main(words) == 0 and json.loads(capsys.readouterr().out)["schema"] == "conserve-audit-many-1"


# ---- out of line, and a sample ------------------------------------------------------------------------------------


@pytest.fixture
def unlike(tmp_path: Path) -> Path:
    """A casebook in which the same is chosen of one part and passed over of the same part."""
    root = small_in(tmp_path / "unlike").root
    alter(root, "proposals/again.yaml", "chosen: shim", "chosen: leave")
    return root


def test_what_was_passed_over_and_fares_no_worse_than_what_was_chosen_is_out_of_line(unlike, tmp_path, capsys):
    code, data = told(capsys, unlike)
    (pair,) = data["out_of_line"]["clashes"]
    assert code == 0  # what does not fit was not altered
    assert (pair["passed_over"]["proposal"], pair["chosen"]["proposal"]) == ("again", "slack")
    assert pair["passed_over"]["option"] == pair["chosen"]["option"] == "shim"
    points = [point for point in data["points"] if point["kind"] == "out of line with its like"]
    assert len(points) == 1 == data["figures"]["points: out of line with its like"]
    (about,) = [one for one in data["decisions"] if one["proposal"] == points[0]["proposal"]]
    assert points[0] in about["points"]
    report = tmp_path / "report.md"
    assert audit(unlike, "--out", str(report)) == 0
    assert "Out of line: 1 pair does not fit together." in capsys.readouterr().out
    text = report.read_text(encoding="utf-8")
    assert "## Out of line with its like" in text and "'shim' for slide was passed over in again" in text


def test_where_nothing_is_out_of_line_it_says_what_was_compared(engine, capsys):
    _, data = told(capsys, engine)
    assert data["out_of_line"]["clashes"] == [] and data["out_of_line"]["chosen"] == 2
    assert audit(engine) == 0
    assert "Out of line: there is nothing to compare" in capsys.readouterr().out


def test_of_one_proposal_what_is_out_of_line_is_told_as_a_point(unlike, capsys):
    code, data = told(capsys, unlike)
    (name,) = [point["proposal"] for point in data["points"] if point["kind"] == "out of line with its like"]
    code, data = told(capsys, unlike / f"proposals/{name}.yaml")
    assert "out of line with its like" in {point["kind"] for point in data["points"]}
    assert code == 0 and "out_of_line" not in data


def test_a_sample_is_told_with_its_seed_and_can_be_drawn_again(engine, tmp_path, capsys):
    _, data = told(capsys, engine, "--sample", "1", "--seed", "7")
    assert data["sample"]["seed"] == 7 and data["sample"]["among"] == 2
    (drawn,) = data["sample"]["decisions"]
    assert audit(engine, "--sample", "1", "--seed", "7", "--out", str(tmp_path / "report.html")) == 0
    said = capsys.readouterr().out
    assert "1 of 2 decisions (--sample 1 --seed 7)" in said and f"{drawn['proposal']}: {drawn['why']}" in " ".join(said.split())
    assert "For a person to go through" in (tmp_path / "report.html").read_text(encoding="utf-8")


def test_a_sample_is_not_drawn_from_one_proposal(engine, capsys):
    assert audit(engine / "proposals/slack.yaml", "--sample", "1") == 2
    assert "a sample is drawn from a casebook" in capsys.readouterr().err


# ---- a change of rules -------------------------------------------------------------------------------------------

NO_SHIMS = """\
    id: r/no-shims
    title: Put in no shims
    status: adopted
    since: 2026-03-01
    about: act
    sources: [common-practice]
    because: So.
    when: {act.technique: shimming}
    then: {forbid: "Do not put a shim on {surface}."}
    examples:
      - {name: a shim, given: {act.technique: shimming}, expect: forbid}
      - {name: none, given: {act.technique: replacement}, expect: silent}
      - {name: nothing is known, given: {}, expect: open}
    """


def test_other_rules_are_laid_beside_and_what_would_come_out_otherwise_is_told(engine, tmp_path, capsys):
    other = shutil.copytree(RULES, tmp_path / "other")
    folder_of(other, {"r/no-shims.yaml": NO_SHIMS})
    code, data = told(capsys, engine, "--with-rules", str(other))
    assert code == 0  # what would come out otherwise was not altered
    changed = {one["proposal"]: (one["before"], one["now"]) for one in data["rule_change"]["verdicts"]}
    assert changed["slack"][1] == "not justified" and set(changed) == {"again", "slack"}
    report = tmp_path / "report.html"
    assert audit(engine, "--with-rules", str(other), "--out", str(report)) == 0
    assert "r/no-shims" in capsys.readouterr().out
    assert "If the rules change" in report.read_text(encoding="utf-8")


def test_of_one_proposal_only_what_other_rules_make_of_it_is_told(engine, tmp_path, capsys):
    other = shutil.copytree(RULES, tmp_path / "other")
    folder_of(other, {"r/no-shims.yaml": NO_SHIMS})
    _, data = told(capsys, engine / "proposals/slack.yaml", "--with-rules", str(other))
    assert [one["proposal"] for one in data["rule_change"]["verdicts"]] == ["slack"]
    assert data["rule_change"]["decided"] == 1


def test_rules_that_are_not_there_are_refused_before_the_work_begins(engine, capsys):
    assert audit(engine, "--with-rules", "nowhere") == 2
    assert "there is no folder 'nowhere'" in capsys.readouterr().err
