"""The command line, as people and programs meet it: what it says, where, and with which exit code."""

import json
import os
import re
import resource
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from conserve.cli import main
from conserve.cli.parser import COMMANDS, groups_of, whole_parser
from conserve.files import shipped

HOUSE = Path(__file__).parent.parent
DEMO = shipped("casebook") / "marrow-fen"
RULE = "machining/functional-face-only"


@pytest.fixture
def casebook(tmp_path, monkeypatch) -> Path:
    """A copy of the demonstration, with the current folder above it."""
    shutil.copytree(DEMO, tmp_path / "casebook/marrow-fen", ignore=shutil.ignore_patterns("records"))
    monkeypatch.chdir(tmp_path)
    return tmp_path / "casebook/marrow-fen"


@pytest.fixture
def rules(tmp_path) -> Path:
    """A copy of the rules."""
    return Path(shutil.copytree(shipped("rules"), tmp_path / "own-rules"))


def run(*words: str, cwd: Path = HOUSE, **more: str) -> subprocess.CompletedProcess[str]:
    """Run the command cold, as a shell would."""
    env = {**os.environ, "PYTHONPATH": str(HOUSE), "PYTHONIOENCODING": "utf-8", **more}
    return subprocess.run(
        [sys.executable, "-m", "conserve", *words], cwd=cwd, capture_output=True, encoding="utf-8", env=env
    )


def edit(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def every_parser():
    top = whole_parser()
    yield "conserve", top
    for name, parser in groups_of(top).items():
        yield name, parser
        for below, sub in groups_of(parser).items():
            yield f"{name} {below}", sub


PARSERS = list(every_parser())


# ---- help -------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("name", "parser"), PARSERS, ids=[name for name, _ in PARSERS])
def test_every_command_has_an_example_in_its_help(name, parser):
    told = parser.format_help()
    assert re.search(r"^examples?:\n  conserve ", told, re.MULTILINE)
    assert parser.description


@pytest.mark.parametrize(("name", "parser"), PARSERS, ids=[name for name, _ in PARSERS])
def test_every_option_says_what_it_does(name, parser):
    for action in parser._actions:
        if action.option_strings:
            assert action.help, action.option_strings


def test_help_lists_every_command_but_the_hidden_one(capsys):
    assert main(["--help"]) == 0
    told = capsys.readouterr().out
    for command in COMMANDS:
        assert bool(re.search(f"^    {command.name} ", told, re.MULTILINE)) is command.shown


def test_help_comes_at_once():
    # Time of the processor, not of the clock, for the machine may be busy with something else.
    def seconds(*words: str) -> float:
        before = resource.getrusage(resource.RUSAGE_CHILDREN)
        subprocess.run([sys.executable, *words], cwd=HOUSE, capture_output=True, check=True)
        after = resource.getrusage(resource.RUSAGE_CHILDREN)
        return after.ru_utime + after.ru_stime - before.ru_utime - before.ru_stime

    nothing = min(seconds("-c", "pass") for _ in range(5))
    assert min(seconds("-m", "conserve", "--help") for _ in range(5)) - nothing < 0.13


def test_the_version_is_said(capsys):
    assert main(["--version"]) == 0
    assert capsys.readouterr().out.startswith("conserve ")


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["wiegh"], "did you mean 'weigh'?"),
        ([], "COMMAND"),
        (["rules"], "WHAT"),
        (["weigh", "--on", "2026-02-30"], "'2026-02-30' is no date"),
        (["weigh", "--on", "2.3.2026"], "2026-03-02"),
        (["weigh", "--jso"], "--jso"),
        (["why", "x", "--length", "book"], "book"),
    ],
)
def test_a_command_that_makes_no_sense_is_told_so_and_ends_with_2(capsys, words, says):
    assert main(words) == 2
    told = capsys.readouterr()
    assert says in told.err
    assert "hint:" in told.err
    assert told.out == ""


# ---- check ------------------------------------------------------------------------------------------


def test_check_says_how_much_it_read(capsys, casebook):
    assert main(["check"]) == 0
    told = capsys.readouterr().out
    for what in ("components", "proposals", "pieces of evidence", "rules"):
        assert re.search(rf"\b[1-9][0-9]* {what}\b", told)


def test_check_shows_each_problem_with_its_line(capsys, casebook):
    path = casebook / "components/crosshead-slipper-top.yaml"
    edit(path, "0.70 ± 0.04 mm", "0.70 ± 0.04")
    assert main(["check"]) == 2
    told = capsys.readouterr().out
    line = next(n for n, text in enumerate(path.read_text(encoding="utf-8").split("\n"), 1) if "0.70 ± 0.04" in text)
    assert f"casebook/marrow-fen/components/crosshead-slipper-top.yaml:{line}:" in told
    assert "C014" in told
    assert "running_clearance: 0.70 ± 0.04" in told
    assert told.rstrip().endswith("1 problem in 1 file. Nothing was weighed.")


def test_problems_in_rules_and_in_the_casebook_are_shown_together(capsys, casebook, rules):
    edit(rules / f"{RULE}.yaml", "because:", "becuase:")
    edit(casebook / "object.yaml", "rarity: few", "rarity: some")
    assert main(["check", "--rules", "own-rules"]) == 2
    told = capsys.readouterr().out
    assert f"own-rules/{RULE}.yaml:" in told
    assert "casebook/marrow-fen/object.yaml:" in told
    assert "becuase:" in told
    assert "rarity: some" in told


def test_an_overlay_that_the_rules_do_not_offer_is_a_problem(capsys, casebook):
    edit(casebook / "object.yaml", "overlays: none", "overlays: [gbb]")
    assert main(["check", "--json"]) == 2
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    assert (problem["code"], problem["hint"]) == ("C082", "did you mean 'gb'?")
    assert problem["file"].endswith("object.yaml")


def test_the_rules_of_an_overlay_are_weighed_by(capsys, casebook):
    assert main(["weigh", "crankshaft-journal"]) == 0
    assert "with requirements" not in capsys.readouterr().out
    edit(casebook / "object.yaml", "overlays: none", "overlays: [gb]")
    assert main(["weigh", "crankshaft-journal"]) == 0
    assert "with requirements" in capsys.readouterr().out


def test_an_answer_to_a_rule_that_is_not_there_is_a_problem(capsys, casebook):
    path = casebook / "proposals/crosshead-slipper.yaml"
    edit(path, "record/covers-evidence:", "record/covers-evidense:")
    assert main(["check", "--json"]) == 2
    (problem,) = json.loads(capsys.readouterr().out)["problems"]
    lines = path.read_text(encoding="utf-8").split("\n")
    assert problem["code"] == "C074"
    assert lines[problem["line"] - 1][problem["column"] - 1 :].startswith("record/covers-evidense")
    assert "record/covers-evidence" in problem["hint"]


def test_a_requirement_met_that_nobody_asked_for_is_a_problem(capsys, casebook):
    edit(
        casebook / "proposals/crosshead-slipper.yaml", "requirement: record/hidden-first", "requirement: needs/nothing"
    )
    assert main(["check", "--json"]) == 2
    assert [p["code"] for p in json.loads(capsys.readouterr().out)["problems"]] == ["C074"]


def test_a_report_that_answers_no_rule_is_a_problem(capsys, casebook):
    path = casebook / "evidence/register.yaml"
    text = path.read_text(encoding="utf-8")
    path.write_text(re.sub(r"answers: \[[^\]]*\]", "answers: [safety/no-such-rule]", text, count=1), encoding="utf-8")
    assert main(["check", "--json"]) == 2
    assert {p["code"] for p in json.loads(capsys.readouterr().out)["problems"]} == {"C074"}


def test_a_claim_that_disagrees_with_the_acts_is_a_problem(capsys, casebook):
    edit(casebook / "proposals/crosshead-slipper.yaml", "0.20 ± 0.04 mm", "0.35 ± 0.01 mm")
    assert main(["check", "--json"]) == 2
    assert {p["code"] for p in json.loads(capsys.readouterr().out)["problems"]} == {"C073"}


@pytest.mark.parametrize(
    "content",
    [
        b"",
        b"\xff\xfe\x00",
        b"name: [",
        b"a: &b c\nd: *b\n",
        b"name: \x00",
        b"- a\n- b\n",
        b"name: " + b"[" * 5000,
        b"\t\n",
    ],
    ids=range(8),
)
@pytest.mark.parametrize(
    "names", [["object.yaml"], ["components/bed-frame.yaml", "evidence/register.yaml", "measurements.csv"]], ids=len
)
def test_no_broken_file_gives_a_traceback(capsys, casebook, names, content):
    for name in names:
        (casebook / name).write_bytes(content)
    assert main(["check"]) == 2
    told = capsys.readouterr()
    assert "Traceback" not in told.out + told.err


def test_a_pipe_or_a_link_in_place_of_a_file_is_refused_and_not_waited_for(capsys, casebook):
    (casebook / "object.yaml").unlink()
    (casebook / "object.yaml").symlink_to(DEMO / "object.yaml")
    assert main(["check", str(casebook)]) == 2
    (casebook / "components/bed-frame.yaml").unlink()
    os.mkfifo(casebook / "components/bed-frame.yaml")
    assert main(["check", str(casebook)]) == 2
    assert "link" in capsys.readouterr().out


# ---- finding the casebook ---------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("inside", "what"),
    [
        (".", None),
        ("casebook", "marrow-fen"),
        ("casebook/marrow-fen", None),
        ("casebook/marrow-fen/components", None),
        (".", "casebook/marrow-fen"),
        (".", "casebook/marrow-fen/"),
        (".", "casebook"),
    ],
)
def test_a_casebook_is_found_from_where_one_stands(capsys, casebook, monkeypatch, inside, what):
    monkeypatch.chdir(casebook.parent.parent / inside)
    assert main(["check", *([what] if what else [])]) == 0
    assert "Marrow Fen" in capsys.readouterr().out


@pytest.mark.parametrize(
    "what",
    [
        ["bed-rust"],
        ["casebook/marrow-fen/proposals/bed-rust.yaml"],
        ["bed-rust", "--in", "casebook/marrow-fen"],
    ],
)
def test_a_proposal_is_found_by_its_id_or_its_file(capsys, casebook, what):
    assert main(["weigh", "--json", *what]) == 0
    assert [w["proposal"] for w in json.loads(capsys.readouterr().out)["weighings"]] == ["bed-rust"]


@pytest.mark.parametrize(
    ("words", "says"),
    [
        (["weigh", "bed-rsut"], "did you mean 'bed-rust'?"),
        (["weigh", "nowhere/at-all"], "nowhere/at-all"),
        (["weigh", "casebook/marrow-fen/object.yaml"], "object.yaml"),
        (["check", "--rules", "nowhere"], "nowhere"),
        (["why", "bed-rust", "nothing"], "nothing"),
        (["why", "bed-rust", "no/rule"], "no/rule"),
        (["why", "bed-rust", "--component", "studs"], "studs"),
        (["rules", "show", "machining/functional-face"], RULE),
        (["rules", "list", "--principle", "machinery"], "machining"),
        (["rules", "list", "--overlay", "gbb"], "gb"),
        (["rules", "show", "gbb/safety/lagging-licensed"], "gb"),
        (["rules", "try", RULE, "surface.function"], "TERM=VALUE"),
        (["rules", "try", RULE, "surface.funktion=datum"], "surface.function"),
        (["rules", "try", RULE, "surface.function=datun"], "datum"),
        (["start", "component", "Wheel Shaft"], "wheel-shaft"),
    ],
)
def test_what_cannot_be_found_is_told_with_something_to_try(capsys, casebook, words, says):
    assert main(words) == 2
    told = capsys.readouterr()
    assert says in told.err
    assert told.out == ""


def test_where_there_is_no_casebook_it_says_how_to_begin_one(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["weigh"]) == 2
    assert "conserve start casebook" in capsys.readouterr().err


def test_the_nearest_casebook_is_taken(capsys, casebook, monkeypatch):
    below = casebook / "notes"
    shutil.copytree(DEMO, below / "casebook/other", ignore=shutil.ignore_patterns("records"))
    monkeypatch.chdir(below)
    assert main(["check", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["casebook"] == "other"


def test_where_there_are_several_casebooks_it_names_them(capsys, casebook):
    shutil.copytree(casebook, casebook.parent / "other")
    assert main(["weigh"]) == 2
    told = capsys.readouterr().err
    assert "casebook/marrow-fen" in told
    assert "casebook/other" in told


# ---- weigh and why ----------------------------------------------------------------------------------


def test_weighing_all_gives_a_line_for_each_and_ends_with_1_where_one_does_not_pass(capsys, casebook):
    assert main(["weigh"]) == 1
    told = capsys.readouterr().out
    for path in (casebook / "proposals").glob("*.yaml"):
        assert re.search(f"^{path.stem} ", told, re.MULTILINE)
    assert "\x1b" not in told


def test_weighing_one_that_passes_ends_with_0_and_tells_every_option(capsys, casebook):
    assert main(["weigh", "crosshead-slipper"]) == 0
    told = capsys.readouterr().out
    for option in (
        "leave: not justified",
        "shim (chosen): justified with requirements",
        "skim-working-face: not justified",
    ):
        assert option in told


def test_it_says_how_many_engines_agreed(capsys, casebook):
    from conserve.engine import engines

    main(["weigh", "bed-rust"])
    said = "Two engines agree." if len(engines()) == 2 else "One engine: durable-rules is not here."
    assert said in capsys.readouterr().out


@pytest.mark.parametrize("what", [[], ["crosshead-slipper"]], ids=["all", "one"])
def test_weighing_again_says_the_same_to_the_byte(capsys, casebook, what):
    main(["weigh", "--json", *what])
    first = capsys.readouterr().out
    main(["weigh", "--json", *what])
    assert capsys.readouterr().out == first
    content = json.loads(first)
    assert json.dumps(content, sort_keys=True, ensure_ascii=False, indent=2) == first.rstrip("\n")
    assert content["engines"]


def test_broken_input_is_told_in_json_too(capsys, casebook):
    edit(casebook / "object.yaml", "rarity: few", "rarity: some")
    for command in (["weigh"], ["why", "bed-rust"], ["due"], ["check"]):
        assert main([*command, "--json"]) == 2
        content = json.loads(capsys.readouterr().out)
        assert content["weighed"] is False
        assert [p["file"] for p in content["problems"]] == ["casebook/marrow-fen/object.yaml"]


def test_one_weighing_is_told_in_full_and_all_of_them_in_short(capsys, casebook):
    main(["weigh", "crosshead-slipper", "--json"])
    (one,) = json.loads(capsys.readouterr().out)["weighings"]
    main(["weigh", "--json"])
    everything = json.loads(capsys.readouterr().out)["weighings"]
    short = next(weighing for weighing in everything if weighing["proposal"] == "crosshead-slipper")
    assert "parts" in one
    assert "parts" not in short
    for key in ("verdict", "verdicts", "conclusion", "chosen", "on"):
        assert one[key] == short[key]


def test_why_tells_as_much_as_is_asked(capsys, casebook):
    told = {}
    for length in ("line", "paragraph", "tree"):
        assert main(["why", "crosshead-slipper", "--length", length]) == 0
        told[length] = " ".join(capsys.readouterr().out.split())
    assert len(told["line"]) < len(told["paragraph"]) < len(told["tree"])
    assert main(["why", "crosshead-slipper"]) == 0
    assert " ".join(capsys.readouterr().out.split()) == told["paragraph"]


def test_why_tells_of_one_option_or_one_rule(capsys, casebook):
    assert main(["why", "crosshead-slipper", "skim-working-face"]) == 0
    assert "shim" in capsys.readouterr().out
    assert main(["why", "crosshead-slipper", "record/hidden-first"]) == 0
    assert "record/hidden-first" in capsys.readouterr().out


def test_why_tells_of_one_component_of_several(capsys, casebook):
    assert main(["why", "cover-studs", "--component", "stud-05", "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert list(content["weighing"]["parts"]) == ["stud-05"]


# ---- record and due ---------------------------------------------------------------------------------


def test_record_writes_what_it_names(capsys, casebook):
    assert main(["record", "crosshead-slipper"]) == 0
    *names, _ = capsys.readouterr().out.splitlines()
    assert "casebook/marrow-fen/records/crosshead-slipper.md" in names
    assert "casebook/marrow-fen/records/crosshead-slipper.json" in names
    assert all(Path(name).is_file() for name in names)


def test_record_writes_nothing_where_the_input_is_broken(casebook):
    edit(casebook / "object.yaml", "rarity: few", "rarity: some")
    assert main(["record"]) == 2
    assert not (casebook / "records").exists()


def test_due_tells_what_is_owed(capsys, casebook):
    assert main(["due", "--on", "2027-06-01", "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["on"] == "2027-06-01"
    assert content["owed"]
    assert all(set(one) == {"on", "stage", "what", "where", "proposal"} for one in content["owed"])
    assert main(["due", "--on", "2027-06-01"]) == 0
    told = capsys.readouterr().out
    assert told.startswith("Overdue on 2027-06-01")
    assert "Put back the maker's plate" in " ".join(told.split())


# ---- rules ------------------------------------------------------------------------------------------


def test_rules_are_listed_with_their_source(capsys):
    assert main(["rules", "list", "--principle", "machining"]) == 0
    told = capsys.readouterr().out
    assert re.search(f"^{RULE} +act +forbid +common-practice$", told, re.MULTILINE)
    assert "record/" not in told


def test_rules_are_listed_by_source_and_by_effect(capsys):
    assert main(["rules", "list", "--source", "venice-charter", "--effect", "forbid", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["rules"]
    assert found
    assert all(rule["effect"] == "forbid" for rule in found)
    assert all(any(source.startswith("venice-charter ") for source in rule["sources"]) for rule in found)


@pytest.mark.parametrize(("flag", "word", "meant"), [("--effect", "forbit", "forbid"), ("--source", "venice-chart", "venice-charter")])
def test_a_source_or_an_effect_that_is_not_there_is_told_with_its_like(capsys, flag, word, meant):
    assert main(["rules", "list", flag, word]) == 2
    assert f"did you mean '{meant}'?" in capsys.readouterr().err


def test_overlays_are_named_and_laid_over_the_rules(capsys):
    assert main(["rules", "list", "--principle", "safety"]) == 0
    told = capsys.readouterr().out
    assert re.search("with --overlay: .*gb, .*us\\.", " ".join(told.split()))
    assert "gb/safety/" not in told
    assert main(["rules", "list", "--overlay", "gb", "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["overlays"] == ["gb"]
    assert any(rule["id"].startswith("gb/safety/") for rule in content["rules"])


def test_a_rule_of_an_overlay_is_shown_and_tried_by_its_name(capsys):
    name = "gb/safety/lagging-licensed"
    assert main(["rules", "show", name]) == 0
    assert "read in part" in " ".join(capsys.readouterr().out.split())
    facts = ["technique.takes=coating", "component.role=lagging", "component.hazards=asbestos"]
    assert main(["rules", "try", name, *facts, "option.done_by=volunteer", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["outcome"] == "forbid"


def test_every_rule_can_be_shown(capsys, rules):
    assert main(["rules", "list", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)["rules"]
    assert len(found) > 50
    for rule in found[::25]:
        assert main(["rules", "show", rule["id"]]) == 0
        told = capsys.readouterr().out
        assert rule["title"] in told
        assert "Examples" in told
        assert "{" not in told.partition("Examples")[0]


@pytest.mark.parametrize("name", ["removed/plain-part-melted", "removed/going-traced"])
def test_a_rule_that_is_shown_names_those_that_stand_beside_it(capsys, name):
    assert main(["rules", "show", name]) == 0
    assert "Stands beside removed/" in capsys.readouterr().out


def test_a_rule_that_is_shown_says_whether_its_source_was_read(capsys):
    assert main(["rules", "show", "record/hidden-first", "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert all(cited["read"] in ("yes", "in part", "no") for cited in content["sources"])
    assert "before work starts" in content["logic"]


@pytest.mark.parametrize(
    ("facts", "outcome", "deciding"),
    [
        (["act.technique=milling", "surface.function=non-functional"], "forbid", []),
        (["act.technique=milling", "surface.function=sliding"], "silent", ["surface.function"]),
        (["act.technique=milling"], "open", ["surface.function"]),
        (["act.technique=milling", "surface.function=unknown"], "open", ["surface.function"]),
        ([], "open", ["technique.takes", "surface.function"]),
    ],
)
def test_a_rule_can_be_tried_on_made_up_facts(capsys, facts, outcome, deciding):
    assert main(["rules", "try", RULE, *facts, "--json"]) == 0
    content = json.loads(capsys.readouterr().out)
    assert content["outcome"] == outcome
    assert [premise["term"] for premise in content["premises"] if premise["decides"]] == deciding
    assert main(["rules", "try", RULE, *facts]) == 0
    assert ("decides it" in capsys.readouterr().out) is bool(deciding)


# ---- start, schema, completion ----------------------------------------------------------------------


def test_what_is_begun_checks_clean_and_is_never_overwritten(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["start", "casebook", "casebook/north-mill"]) == 0
    assert main(["start", "component", "wheel-shaft"]) == 0
    assert main(["check"]) == 0
    assert main(["weigh"]) == 0
    part = tmp_path / "casebook/north-mill/components/wheel-shaft.yaml"
    part.write_text("name: Mine\n", encoding="utf-8")
    assert main(["start", "component", "wheel-shaft"]) == 2
    assert main(["start", "casebook", "casebook/north-mill"]) == 2
    assert part.read_text(encoding="utf-8") == "name: Mine\n"
    assert "left as it is" in capsys.readouterr().err


def test_schemas_are_printed_or_written(capsys, tmp_path):
    assert main(["schema", "component"]) == 0
    printed = json.loads(capsys.readouterr().out)
    assert main(["schema", "--write", str(tmp_path / "schemas")]) == 0
    written = sorted((tmp_path / "schemas").iterdir())
    assert [path.name for path in written] == [
        f"{n}.schema.json" for n in ("component", "object", "profile", "proposal", "register")
    ]
    assert json.loads(written[0].read_text(encoding="utf-8")) == printed


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish"])
def test_a_completion_knows_every_command_and_option(capsys, shell):
    assert main(["completion", shell]) == 0
    script = capsys.readouterr().out
    for _, parser in PARSERS:
        for action in parser._actions:
            for name in action.option_strings:
                assert name in script or f"-l {name[2:]}" in script
    for command in COMMANDS:
        if command.shown:
            assert command.name in script


@pytest.mark.parametrize(
    ("line", "found"),
    [
        ("conserve we", ["weigh"]),
        ("conserve rules sh", ["show"]),
        ("conserve why --length p", ["paragraph"]),
        ("conserve weigh bed-", ["bed-rust"]),
        ("conserve rules show machining/func", [RULE]),
        ("conserve rules show gb/safety/lagging", ["gb/safety/lagging-licensed"]),
        ("conserve rules list --overlay g", ["gb"]),
        ("conserve weigh --j", ["--json"]),
    ],
)
def test_the_completion_completes_in_bash(tmp_path, line, found):
    if not shutil.which("bash"):
        pytest.skip("no bash here")
    script = tmp_path / "conserve.bash"
    script.write_text(run("completion", "bash").stdout, encoding="utf-8")
    asking = (
        f'conserve() {{ "{sys.executable}" -m conserve "$@"; }}\nsource "{script}"\n'
        f"COMP_WORDS=({line}); COMP_CWORD=$(( ${{#COMP_WORDS[@]}} - 1 ))\n_conserve\n"
        'printf "%s\\n" "${COMPREPLY[@]}"\n'
    )
    env = {**os.environ, "PYTHONPATH": str(HOUSE)}
    told = subprocess.run(["bash", "-c", asking], cwd=DEMO, capture_output=True, text=True, env=env)
    assert told.stdout.split() == found, told.stderr


def test_completion_stays_quiet_where_there_is_no_casebook(capsys, tmp_path, monkeypatch):
    monkeypatch.chdir(tmp_path)
    assert main(["complete", "proposals"]) == 0
    assert capsys.readouterr() == ("", "")


# ---- cold, in a shell -------------------------------------------------------------------------------


def test_the_exits_are_what_help_says():
    assert run("weigh", "crosshead-slipper", cwd=DEMO).returncode == 0
    assert run("weigh", cwd=DEMO).returncode == 1
    assert run("weigh", "--on", "never", cwd=DEMO).returncode == 2


def test_broken_input_is_no_traceback_in_a_shell(casebook):
    (casebook / "object.yaml").write_bytes(b"name: {\x00")
    told = run("weigh", str(casebook))
    assert told.returncode == 2
    assert told.stdout == ""
    assert "Nothing was weighed." in told.stderr
    assert "Traceback" not in told.stderr


def test_a_reader_that_goes_away_is_no_fault():
    script = f'"{sys.executable}" -m conserve rules list --json | head -n 1; echo "${{PIPESTATUS[0]}}"'
    env = {**os.environ, "PYTHONPATH": str(HOUSE)}
    told = subprocess.run(["bash", "-c", script], cwd=HOUSE, capture_output=True, text=True, env=env)
    assert told.stderr == ""
    assert told.stdout.splitlines()[0] == "{"


@pytest.mark.parametrize("closing", [">&-", "2>&-", ">&- 2>&-"])
def test_a_closed_stream_is_no_fault(closing):
    env = {**os.environ, "PYTHONPATH": str(HOUSE)}
    script = f'"{sys.executable}" -m conserve rules list {closing}'
    told = subprocess.run(["bash", "-c", script], cwd=HOUSE, capture_output=True, text=True, env=env)
    assert told.returncode == 0
    assert told.stderr == ""


def test_a_terminal_that_cannot_write_a_sign_still_gets_an_answer():
    told = run("weigh", "crosshead-slipper", cwd=DEMO, PYTHONIOENCODING="ascii")
    assert told.returncode == 0
    assert "\\xb1" in told.stdout


@pytest.mark.parametrize(("more", "coloured"), [({}, True), ({"NO_COLOR": "1"}, False), ({"TERM": "dumb"}, False)])
def test_colour_is_for_terminals_and_can_be_refused(more, coloured):
    pty = pytest.importorskip("pty")
    env = {k: v for k, v in os.environ.items() if k not in ("NO_COLOR", "TERM")}
    env |= {"PYTHONPATH": str(HOUSE), "TERM": "xterm", **more}
    reading, writing = pty.openpty()
    with subprocess.Popen(
        [sys.executable, "-m", "conserve", "weigh", "bed-rust"],
        cwd=DEMO, stdin=writing, stdout=writing, stderr=subprocess.DEVNULL, env=env,
    ) as process:  # fmt: skip
        os.close(writing)
        told = b""
        try:
            while block := os.read(reading, 65536):
                told += block
        except OSError:  # how Linux says that the other end is closed
            pass
    os.close(reading)
    assert process.returncode == 0
    assert b"not justified" in told
    assert (b"\x1b[" in told) is coloured


# ---- when the engines disagree ----------------------------------------------------------------------


def test_engines_that_disagree_end_with_3_and_nothing_is_written(capsys, casebook, monkeypatch):
    from dataclasses import replace

    import conserve.engine as engine
    from conserve.truth import Truth

    def contrary(program, bodies):
        outcome = plain.fire(program, bodies)
        return replace(outcome, clauses=tuple(Truth(2 - truth) for truth in outcome.clauses))

    from conserve.engine import plain

    two = (engine.Engine("plain", plain.fire), engine.Engine("contrary", contrary))
    monkeypatch.setattr(engine, "_engines", lambda: two)
    engine.fire.cache_clear()
    try:
        assert main(["record"]) == 3
    finally:
        engine.fire.cache_clear()
    told = capsys.readouterr()
    assert re.search("rule [a-z-]+/[a-z-]+", told.err)
    assert "nothing was written" in told.err
    assert not (casebook / "records").exists()


def test_an_interruption_is_quiet(capsys, casebook, monkeypatch):
    def interrupted(*_: object, **__: object) -> None:
        raise KeyboardInterrupt

    monkeypatch.setattr("conserve.cli.weighing.read_all", interrupted)
    assert main(["weigh"]) == 130
    assert capsys.readouterr() == ("", "")
