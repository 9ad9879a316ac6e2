"""Several casebooks audited at once: the same whoever does the work, and one that is broken keeps no other from it."""

from __future__ import annotations

import json
import os
import shutil
import subprocess
import sys
from dataclasses import replace
from datetime import date
from pathlib import Path
from random import Random

import pytest
from cluster_apart import cluster
from hypothesis import given
from hypothesis import strategies as st
from sealing import small_in, small_rules

from conserve.audit.many import Told, compact, together
from conserve.audit.model import GRAVITY, Answer, Asked, Audit, DecisionAudit, Kind, Point
from conserve.cli import main
from conserve.cli.auditing_many import casebooks_under
from conserve.truth import Truth

HERE = Path(__file__).parent
DAY = "2026-09-01"
RULES = str(small_rules()[1].root)


@pytest.fixture(scope="module")
def sealed(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Two sealed casebooks at different depths, and one that cannot be read."""
    root = tmp_path_factory.mktemp("several")
    for name in ("engine", "yard/pump", "broken"):
        small_in(root / name).seal()
    (root / "broken/components/slide.yaml").write_text("name: [\n", encoding="utf-8")
    with (root / "broken/chain.jsonl").open("a", encoding="utf-8") as chain:
        chain.write("torn")
    return root


@pytest.fixture
def several(sealed: Path, tmp_path: Path) -> Path:
    return shutil.copytree(sealed, tmp_path / "several")


def audited(root: Path, capsys: pytest.CaptureFixture[str], *more: str) -> tuple[int, dict]:
    code = main(["audit", str(root), "--on", DAY, "--rules", RULES, "--json", *more])
    return code, json.loads(capsys.readouterr().out)


# ---- the command ------------------------------------------------------------------------------------------------


def test_a_broken_casebook_is_named_and_the_others_are_audited(several, capsys):
    code, told = audited(several, capsys, "--jobs", "1")
    assert code == 2
    assert [one["casebook"] for one in told["casebooks"]] == ["engine", "yard/pump"]
    (broken,) = told["broken"]
    assert broken["casebook"] == "broken"
    assert {"broken/chain.jsonl", "broken/components/slide.yaml"} <= {one.partition(":")[0] for one in broken["problems"]}
    assert told["figures"]["sealed"] == 4 and told["figures"]["re-made to the byte"] == 4


def test_one_process_and_two_say_the_same_to_the_byte(several, capsys):
    said = []
    for jobs in ("1", "2"):
        assert main(["audit", str(several), "--on", DAY, "--rules", RULES, "--json", "--jobs", jobs]) == 2
        said.append(capsys.readouterr().out)
    assert said[0] == said[1]


def test_what_was_altered_in_one_of_them_is_told_with_its_name(several, capsys):
    shutil.rmtree(several / "broken")
    assert audited(several, capsys, "--jobs", "1")[0] == 0
    proposal = several / "yard/pump/proposals/slack.yaml"
    proposal.write_text(proposal.read_text(encoding="utf-8").replace("gentlest", "cheapest"), encoding="utf-8")
    code, told = audited(several, capsys, "--jobs", "1")
    assert code == 1
    altered = [point for point in told["points"] if point["alters"]]
    assert {point["casebook"] for point in altered} == {"yard/pump"}
    assert "slack" in {point["proposal"] for point in altered}


def test_a_decision_that_does_not_fit_one_in_another_casebook_is_told(several, capsys):
    shutil.rmtree(several / "broken")
    for name in ("slack", "again"):
        proposal = several / f"yard/pump/proposals/{name}.yaml"
        proposal.write_text(proposal.read_text(encoding="utf-8").replace("chosen: shim", "chosen: leave"), encoding="utf-8")
    _, told = audited(several, capsys, "--jobs", "1", "--sample", "3")
    clashes = [(one["casebook"], one["proposal"]) for one in told["points"] if one["kind"] == Kind.CLASH]
    (line,) = told["out_of_line"]
    assert len(clashes) == 2 and line["pairs"] == len(line["clashes"]) == 4
    pairs = {(one["passed_over"]["casebook"], one["chosen"]["casebook"]) for one in line["clashes"]}
    assert pairs == {("yard/pump", "engine")}
    assert told["figures"][f"points: {Kind.CLASH}"] == 2
    assert len(told["sample"]["decisions"]) == 3


def test_the_report_is_written_beside_and_tells_what_is_broken(several, tmp_path, capsys):
    for ending in ("md", "html", "json"):
        report = tmp_path / f"report.{ending}"
        assert main(["audit", str(several), "--on", DAY, "--rules", RULES, "--jobs", "1", "--out", str(report)]) == 2
        text = report.read_text(encoding="utf-8")
        assert "yard/pump" in text and "broken/components/slide.yaml" in text
    assert "broken could not be audited" in capsys.readouterr().out


def test_a_broken_rulebook_is_told_once_and_nothing_is_audited(several, tmp_path, capsys):
    rules = shutil.copytree(RULES, tmp_path / "rules")
    (rules / "terms.yaml").write_text("a: [\n", encoding="utf-8")
    assert main(["audit", str(several), "--on", DAY, "--rules", str(rules)]) == 2
    said = capsys.readouterr()
    assert said.err.count("terms.yaml:1") == 1 and "engine" not in said.out


# ---- on a cluster -----------------------------------------------------------------------------------------------


def run(*words: str, **more: str) -> subprocess.CompletedProcess[str]:
    command = [sys.executable, "-m", "conserve", "audit", *words, "--on", DAY, "--rules", RULES, "--json"]
    return subprocess.run(command, cwd=HERE.parent, capture_output=True, text=True, env={**os.environ, **more})


def test_a_cluster_of_worker_processes_says_the_same_to_the_byte(several, tmp_path):
    pytest.importorskip("distributed")
    alone = run(str(several), "--jobs", "1")
    with cluster(tmp_path) as address:
        spread = run(str(several), "--on", address)
    assert (spread.stdout, spread.returncode) == (alone.stdout, 2), spread.stderr
    assert json.loads(alone.stdout)["figures"]["re-made to the byte"] == 4


def test_a_cluster_that_does_not_answer_is_told_in_a_sentence(several, monkeypatch, capsys):
    pytest.importorskip("distributed")
    monkeypatch.setattr("conserve.cli.spreading.PATIENCE", 0.2)
    words = ["audit", str(several), "--on", DAY, "--rules", RULES, "--on", "tcp://127.0.0.1:9"]
    assert main(words) == 2
    assert "no cluster answers at 'tcp://127.0.0.1:9'" in capsys.readouterr().err


# ---- finding them ---------------------------------------------------------------------------------------------------


def test_casebooks_are_found_at_any_depth_but_not_where_copies_are_kept(tmp_path):
    for name in ("b", "a/deep/down", "b/evidence/copy", "rulebooks/x", "a/sealed/x", ".hidden/x"):
        (tmp_path / name).mkdir(parents=True)
        (tmp_path / name / "object.yaml").touch()
    assert casebooks_under(tmp_path) == (tmp_path / "a/deep/down", tmp_path / "b")
    assert casebooks_under(tmp_path / "b") == (tmp_path / "b",)


def test_a_link_to_a_casebook_counts_once_and_a_circle_ends(tmp_path):
    elsewhere = tmp_path / "elsewhere/engine"
    elsewhere.mkdir(parents=True)
    (elsewhere / "object.yaml").touch()
    below = tmp_path / "below"
    below.mkdir()
    for name, to in (("first", elsewhere), ("second", elsewhere), ("round", below), ("nowhere", tmp_path / "none")):
        (below / name).symlink_to(to)
    assert casebooks_under(below) == (below / "first",)
    assert casebooks_under(tmp_path) == (elsewhere,)


def test_a_folder_that_cannot_be_looked_into_is_given_so_that_it_is_told(tmp_path):
    assert casebooks_under(tmp_path / "gone") == (tmp_path / "gone",)


# ---- put together ---------------------------------------------------------------------------------------------------


def audit(name: str, points: tuple[Point, ...], figures: dict[str, int], rules: str = "r") -> Audit:
    answers = (Answer(Asked.SEALED, Truth.YES, "A long sentence."),)
    one = DecisionAudit("slack", "Slack", ("slide",), "shim", "justified", "me", None, "", (1,), answers, points)
    return Audit(name, name, date(2026, 9, 1), rules, 1, "", ("plain",), "1", (one,), points, figures)


POINTS = st.lists(
    st.builds(Point, st.sampled_from(Kind), st.sampled_from(("A.", "B.")), st.sampled_from(("x", "y"))), max_size=5
)
FOUND = st.dictionaries(st.sampled_from("abcdef"), st.one_of(st.none(), POINTS), min_size=1)


@given(FOUND, st.integers())
def test_the_order_in_which_casebooks_come_back_makes_no_difference(found, seed):
    told = [
        Told(name, None, broken=("Broken.",)) if points is None else Told(name, compact(audit("x", (*points,), {"decided": 2, "points": 9}, name), name))
        for name, points in found.items()
    ]
    whole = together(told)
    Random(seed).shuffle(told)
    assert together(told) == whole
    assert [GRAVITY[one.kind] for one in whole.points] == sorted(GRAVITY[one.kind] for one in whole.points)
    assert [one.casebook for one in (*whole.audited, *whole.broken)] == [
        *sorted(name for name, points in found.items() if points is not None),
        *sorted(name for name, points in found.items() if points is None),
    ]
    assert whole.figures.get("decided", 0) == 2 * len(whole.audited)
    assert whole.figures["points"] == len(whole.points) == sum(len(points or ()) for points in found.values())


def test_what_comes_back_from_a_worker_has_its_points_and_no_long_sentences():
    point = Point(Kind.OVERDUE, "Overdue.", "slack")
    found = compact(audit("engine", (point,), {}), "yard/engine")
    assert found.points == found.decisions[0].points == (replace(point, casebook="yard/engine"),)
    assert found.decisions[0].answers == (Answer(Asked.SEALED, Truth.YES, ""),)
