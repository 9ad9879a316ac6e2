"""Readiness: every requirement of every profile both ways, silence as absence, staleness, and broken profiles."""

from __future__ import annotations

import hashlib
import json
import os
import random
import shutil
from collections.abc import Iterator, Mapping
from contextlib import contextmanager
from dataclasses import replace
from datetime import date
from functools import lru_cache
from pathlib import Path

import pytest
import yaml
from helpers import DEMO, HOUSE, demo, folder_of, read, rulebook_of, rules_folder, shipped_rules
from hypothesis import given, settings
from hypothesis import strategies as st

from conserve.casebook import read_casebook
from conserve.cli import main
from conserve.files import Folder, is_a_rule
from conserve.problem import InvalidInput
from conserve.readiness import Profile, Readiness, State, profiles_of, read_profile, readiness
from conserve.readiness.looking import says_something
from conserve.readiness.model import SECTIONS
from conserve.readiness.shapes import KINDS, WORDS
from conserve.readiness.telling import as_data, markdown, told
from conserve.record import write_records
from conserve.rulebook import Rulebook
from conserve.statement import document_of, index
from conserve.weighing import Weighing, weigh_all

RULES = Folder(HOUSE / "rules")
SHIPPED = ("activity-grant", "repair-grant", "trustee-approval")
DAY = date(2026, 6, 1)
PICTURE = "<svg xmlns='http://www.w3.org/2000/svg'/>"

OBJECT = """\
name: Trial engine
kind: stationary-engine
duty_now: static
duty_wanted: demonstration
working_is_significant: yes
rarity: few
consent: not-needed
upkeep_provided: yes
reason_to_run: written
significance: It turned for eighty years.
location: Shed
owner: A trust
maker: A maker
people:
  lead: {name: A. One, role: lead, competence: Leads.}
  conservator: {name: B. Two, role: conservator, competence: Trained.}
  engineer: {name: C. Three, role: engineer, competence: Trained.}
  fitter: {name: D. Four, role: volunteer, competence: Time-served.}
  trustee: {name: E. Five, role: owner, competence: Speaks for the trustees.}
phases:
  as-built: {period: as-made, dates: "1868"}
policy:
  says: Keep it dry.
  routine_care: [lubrication]
  holding_works: [drying]
  review: 2027-01-01
budget:
  currency: EUR
  contingency: 15 %
  stages: [repair]
"""
PART = """\
name: Slide
significance: some
significance_reason: It carries the crosshead.
examined: yes
material: grey-cast-iron
phase: as-built
running_clearance: 0.70 ± 0.04 mm
surfaces:
  face: {function: sliding, area: 400 ± 6 cm2, sets_clearance: yes, marks: none}
  back: {function: mating, area: 400 ± 6 cm2, sets_clearance: yes, marks: none}
repairs: none
defects:
  slack: {kind: wear, seen: seen, active: no, affects_safety: no}
history: none
"""
PROPOSAL = """\
title: Take up the slack
component: slide
least_work: none-between
asked: {date: 2026-02-01, by: lead}
needs:
  fit:
    kind: function
    says: It runs.
    test: {component.running_clearance: {between: [0.10 mm, 0.40 mm]}}
    set_by: me
options:
  leave: {acts: []}
  shim:
    acts:
      - {technique: shimming, where: back, thickness: 0.50 mm, treats: slack, takes: none}
    resources:
      - {what: packing, money: 40, given: no, stage: repair, basis: quotation, evidence: offer}
      - {what: fitting, hours: 8 ± 2 h, skill: fitter, given: yes, stage: repair, basis: estimate}
preferred: shim
decision: {chosen: shim, by: lead, date: 2026-03-01, reason: So.}
review: 2027-03-01
work:
  began: 2026-03-02
  finished: 2026-03-03
  by: {name: D. Four, competence: Time-served.}
  measured: {component.running_clearance: 0.22 ± 0.04 mm}
"""
WHEEL = """\
name: Wheel
significance: some
significance_reason: It drives the rest.
examined: yes
material: grey-cast-iron
phase: as-built
surfaces: none
repairs: none
defects: none
history: none
"""
TURNING = """\
title: May the wheel turn?
component: wheel
least_work: none-between
asked: {date: 2026-02-01, by: lead}
needs:
  safe:
    kind: safety
    says: It may turn.
    test: {component.fit_to_run: yes}
    set_by: me
options:
  leave: {acts: []}
preferred: leave
decision: {chosen: leave, by: lead, date: 2026-03-01, reason: So it was found.}
review: 2027-03-01
"""
REGISTER = f"""\
picture:
  kind: photograph
  file: picture.svg
  digest: {hashlib.sha256(PICTURE.encode()).hexdigest()}
  date: 2026-02-02
  by: A. One
  about: [slide, wheel]
  shows: The slide and the wheel.
  rights: The trust's.
  show: anyone
report:
  kind: report
  held: Office
  date: 2026-02-03
  by: F. Six
  role: competent-engineer
  about: [wheel]
  answers: [needs/safe, profiles/activity-grant/running-examined]
  states: {{component.fit_to_run: yes}}
  lapses: 2027-02-03
  shows: It may turn.
  rights: The engineer's.
  show: reviewers
offer:
  kind: document
  held: Office
  date: 2026-02-04
  by: A. One
  about: [slide]
  lapses: 2027-02-04
  shows: Packing for 40.
  rights: The firm's.
  show: reviewers
benefit:
  kind: document
  held: Office
  date: 2026-02-05
  by: A. One
  about: object
  answers: [profiles/repair-grant/public-benefit, profiles/activity-grant/benefit]
  shows: Who comes.
  rights: The trust's.
  show: anyone
plan:
  kind: document
  held: Office
  date: 2026-02-05
  by: A. One
  about: object
  answers: [profiles/repair-grant/risks, profiles/activity-grant/evaluation]
  shows: What may go wrong, and how one will know.
  rights: The trust's.
  show: anyone
"""
FULL = {
    "object.yaml": OBJECT,
    "components/slide.yaml": PART,
    "proposals/p.yaml": PROPOSAL,
    "components/wheel.yaml": WHEEL,
    "proposals/turning.yaml": TURNING,
    "evidence/register.yaml": REGISTER,
    "evidence/picture.svg": PICTURE,
}


@pytest.fixture(scope="module")
def rulebook(tmp_path_factory) -> Rulebook:
    """A rulebook with the words and sources that travel along, and no rule: what is weighed is only the needs."""
    return rulebook_of(tmp_path_factory.mktemp("rules"))


_PROFILES: dict[tuple[str, str], Profile] = {}


def profile(name: str, rulebook: Rulebook) -> Profile:
    """A profile that came along, read once."""
    if (name, rulebook.digest) not in _PROFILES:
        _PROFILES[name, rulebook.digest] = read_profile(Folder(HOUSE / "nowhere"), name, rulebook, RULES)
    return _PROFILES[name, rulebook.digest]


def looked_into(folder: Folder, name: str, rulebook: Rulebook, day: date = DAY, only: str = "") -> Readiness:
    """How ready a casebook is; `only` one requirement is looked into where it is named."""
    casebook = read(folder, rulebook)
    weighings = weigh_all(casebook, rulebook, day)
    whole = profile(name, rulebook)
    asked = replace(whole, wanted=tuple(one for one in whole.wanted if only in ("", one.id)))
    return readiness(asked, weighings, casebook, rulebook, folder, day)


@contextmanager
def written(folder: Folder, files: Mapping[str, str]) -> Iterator[None]:
    """Some files of a casebook written otherwise, and then put back."""
    before = {file: (folder.root / file).read_bytes() for file in files}
    try:
        for file, text in files.items():
            if before[file] != text.encode():
                (folder.root / file).write_text(text, encoding="utf-8")
        yield
    finally:
        for file, content in before.items():
            (folder.root / file).write_bytes(content)


@pytest.fixture
def kept(tmp_path, whole) -> Folder:
    """A casebook with everything, its records and its statement written: to be changed as one likes."""
    return Folder(Path(shutil.copytree(whole, tmp_path / "book")))


@pytest.fixture(scope="module")
def whole(tmp_path_factory, rulebook) -> Path:
    """The same, written once: to be left as it was."""
    root = tmp_path_factory.mktemp("whole")
    folder = folder_of(root, FULL)
    casebook = read(folder, rulebook)
    weighings = weigh_all(casebook, rulebook, DAY)
    write_records(folder, weighings, rulebook, html=False)
    folder.write("statement/statement.json", index(document_of(weighings, casebook, rulebook, DAY)))
    return root


def states(found: Readiness) -> dict[str, str]:
    return {outcome.wanted.id: str(outcome.state) for outcome in found.outcomes}


# ---- every requirement, both ways ---------------------------------------------------------------------


@pytest.mark.parametrize("name", SHIPPED)
def test_a_casebook_that_has_everything_is_ready(name, rulebook, kept):
    found = looked_into(kept, name, rulebook)
    assert {key: state for key, state in states(found).items() if state != "present"} == {}
    assert found.ready
    assert not any(outcome.mends for outcome in found.outcomes)


@pytest.mark.parametrize("name", SHIPPED)
def test_of_a_casebook_that_only_has_a_name_everything_is_absent(name, rulebook, tmp_path):
    found = looked_into(folder_of(tmp_path, {"object.yaml": "name: Trial engine\n"}), name, rulebook)
    assert set(states(found).values()) == {"absent"}
    assert all(outcome.mends for outcome in found.outcomes)


OF, C, P, R = "object.yaml", "components/slide.yaml", "proposals/p.yaml", "evidence/register.yaml"
DECISION = "decision: {chosen: shim, by: lead, date: 2026-03-01, reason: So.}\n"
COSTS = PROPOSAL[PROPOSAL.index("    resources:") : PROPOSAL.index("preferred: shim")]
SHORT = "thickness: 0.50 mm"  # of packing: enough
BROKEN = [  # profile, requirement, state, and what is changed: file, old, new
    ("repair-grant", "identity", "absent", [(OF, "maker: A maker\n", "")]),
    ("repair-grant", "identity", "absent", [(OF, "location: Shed\n", "")]),
    ("repair-grant", "significance", "absent", [(C, "significance: some\n", "")]),
    ("repair-grant", "significance-reasons", "absent", [(C, "significance_reason: It carries the crosshead.\n", "")]),
    ("repair-grant", "condition", "absent", [(C, "examined: yes", "examined: no")]),
    ("repair-grant", "as-found", "absent", [(R, "kind: photograph", "kind: drawing")]),
    ("repair-grant", "as-found", "absent", [(R, "date: 2026-02-02", "date: 2026-03-03")]),
    ("repair-grant", "as-found", "absent", [(R, "about: [slide, wheel]", "about: [slide]")]),
    ("repair-grant", "need", "absent", [(C, "0.70 ± 0.04", "0.30 ± 0.04")]),
    ("repair-grant", "public-benefit", "absent", [(R, "profiles/repair-grant/public-benefit, ", "")]),
    ("repair-grant", "options", "absent", [(P, "least_work: none-between\n", "")]),
    ("repair-grant", "choice", "absent", [(P, SHORT, "thickness: 0.10 mm"), (P, DECISION, "")]),
    ("repair-grant", "records", "stale", [(C, "0.70 ± 0.04", "0.71 ± 0.04")]),
    ("repair-grant", "statement", "stale", [(OF, "eighty years", "ninety years")]),
    ("repair-grant", "people", "absent", [(OF, "role: engineer, competence: Trained.", "role: engineer")]),
    ("repair-grant", "safety", "stale", [(R, "lapses: 2027-02-03", "lapses: 2026-05-31")]),
    ("repair-grant", "safety", "absent", [(R, "answers: [needs/safe, ", "answers: ["), (R, "component.fit_to_run: yes", "component.fit_to_run: no")]),
    ("repair-grant", "safety", "absent", [("proposals/turning.yaml", "kind: safety", "kind: function")]),
    ("repair-grant", "consent", "absent", [(OF, "consent: not-needed", "consent: needed")]),
    ("repair-grant", "costs", "absent", [(P, "given: no, ", "")]),
    ("repair-grant", "costs", "absent", [(P, "basis: quotation, ", "")]),
    ("repair-grant", "costs", "absent", [(P, "8 ± 2 h", "8 h")]),
    ("repair-grant", "costs", "stale", [(R, "lapses: 2027-02-04", "lapses: 2026-05-31")]),
    ("repair-grant", "contingency", "absent", [(OF, "  contingency: 15 %\n", "")]),
    ("repair-grant", "contingency", "absent", [(OF, "contingency: 15 %", "contingency: 0 %")]),
    ("repair-grant", "stages", "absent", [(P, "given: yes, stage: repair", "given: yes")]),
    ("repair-grant", "skills", "absent", [(P, "skill: fitter, ", "")]),
    ("repair-grant", "risks", "absent", [(R, "profiles/repair-grant/risks, ", "")]),
    ("repair-grant", "upkeep", "absent", [(OF, "upkeep_provided: yes", "upkeep_provided: no")]),
    ("repair-grant", "upkeep", "stale", [(OF, "review: 2027-01-01", "review: 2026-05-31")]),
    ("repair-grant", "looked-at-again", "absent", [(P, "review: 2027-03-01\n", "")]),
    ("repair-grant", "looked-at-again", "stale", [(P, "review: 2027-03-01", "review: 2026-05-31")]),
    ("repair-grant", "rights", "absent", [(R, "  show: anyone\nreport", "report")]),
    ("activity-grant", "significance", "absent", [(OF, "working_is_significant: yes\n", "")]),
    ("activity-grant", "use", "absent", [(OF, "duty_now: static\n", "")]),
    ("activity-grant", "reason-to-run", "absent", [(OF, "reason_to_run: written", "reason_to_run: income-alone")]),
    ("activity-grant", "limits", "absent", [(OF, "  routine_care: [lubrication]\n", "")]),
    ("activity-grant", "benefit", "absent", [(R, ", profiles/activity-grant/benefit", "")]),
    ("activity-grant", "evaluation", "absent", [(R, ", profiles/activity-grant/evaluation", "")]),
    ("activity-grant", "safety", "stale", [(R, "lapses: 2027-02-03", "lapses: 2026-05-31")]),
    ("activity-grant", "running-examined", "stale", [(R, "lapses: 2027-02-03", "lapses: 2026-05-31")]),
    ("activity-grant", "running-examined", "absent", [(R, "date: 2026-02-03", "date: 2026-06-02")]),
    ("activity-grant", "running-examined", "absent", [(R, ", profiles/activity-grant/running-examined", "")]),
    ("activity-grant", "people", "absent", [(OF, "role: volunteer", "role: tradesperson")]),
    ("activity-grant", "hours", "absent", [(P, COSTS, "")]),
    ("activity-grant", "as-left", "absent", [(P, "  measured: {component.running_clearance: 0.22 ± 0.04 mm}\n", "")]),
    ("activity-grant", "as-left", "absent", [(P, "0.22 ± 0.04", "0.60 ± 0.04")]),
    ("activity-grant", "pictures", "absent", [(R, "kind: photograph", "kind: sample")]),
    ("activity-grant", "hazards-told", "stale", [(OF, "D. Four, role: volunteer", "G. Seven, role: volunteer")]),
    ("activity-grant", "upkeep", "absent", [(OF, "upkeep_provided: yes\n", "")]),
    ("trustee-approval", "who-decides", "absent", [(OF, "role: owner", "role: volunteer")]),
    ("trustee-approval", "not-one-judge", "absent", [(OF, "role: conservator", "role: volunteer")]),
    ("trustee-approval", "policy", "absent", [(OF, "  holding_works: [drying]\n", "")]),
    ("trustee-approval", "significance", "absent", [(OF, "significance: It turned for eighty years.\n", "")]),
    ("trustee-approval", "need", "absent", [(C, "running_clearance: 0.70 ± 0.04 mm\n", "")]),
    ("trustee-approval", "options", "absent", [(P, "least_work: none-between", "least_work: not-looked-for")]),
    ("trustee-approval", "choice", "absent", [(C, "running_clearance: 0.70 ± 0.04 mm\n", "")]),
    ("trustee-approval", "reasons-first", "absent", [(P, "date: 2026-03-01", "date: 2026-03-05")]),
    ("trustee-approval", "reasons-first", "absent", [(P, "  began: 2026-03-02\n", "")]),
    ("trustee-approval", "decisions", "absent", [(P, DECISION, "")]),
    ("trustee-approval", "records", "stale", [(P, "It runs.", "It runs well.")]),
    ("trustee-approval", "statement", "stale", [(P, DECISION, "")]),
    ("trustee-approval", "unknowns", "stale", [(C, "running_clearance: 0.70 ± 0.04 mm\n", ""), (P, DECISION, "")]),
    ("trustee-approval", "safety", "stale", [(R, "lapses: 2027-02-03", "lapses: 2026-05-31")]),
    ("trustee-approval", "consent", "absent", [(OF, "consent: not-needed\n", "")]),
    ("trustee-approval", "costs", "absent", [(OF, "  contingency: 15 %\n", "")]),
    ("trustee-approval", "looked-at-again", "absent", [(P, "review: 2027-03-01\n", "")]),
    ("trustee-approval", "originals", "absent", [(R, f"  digest: {hashlib.sha256(PICTURE.encode()).hexdigest()}\n", "")]),
]  # fmt: skip


def changed(*edits: tuple[str, str, str]) -> dict[str, str]:
    files = dict(FULL)
    for file, old, new in edits:
        assert files[file].count(old) == 1, (file, old)
        files[file] = files[file].replace(old, new)
    return files


@pytest.mark.parametrize(
    ("name", "wanted", "state", "edits"), BROKEN, ids=[f"{n} {w} {s} {e[0][1][:20].strip()}" for n, w, s, e in BROKEN]
)
def test_every_requirement_can_fail(name, wanted, state, edits, rulebook, whole):
    with written(Folder(whole), changed(*edits)):
        found = looked_into(Folder(whole), name, rulebook, only=wanted)
    (outcome,) = found.outcomes
    assert (outcome.wanted.id, str(outcome.state)) == (wanted, state)
    assert outcome.mends
    assert found.ready is False or not outcome.wanted.must


@pytest.mark.parametrize("hollow", ["", "unknown", "tbc", "-", "?", "n/a", "…", "Not yet known.", "To be confirmed", "T.B.A."])
def test_a_word_that_stands_for_silence_says_nothing(hollow):
    assert not says_something(hollow)


@pytest.mark.parametrize(
    ("name", "wanted", "file", "line"),
    [
        ("repair-grant", "identity", OF, "owner: A trust"),
        ("repair-grant", "significance", OF, "significance: It turned for eighty years."),
        ("repair-grant", "significance-reasons", C, "significance_reason: It carries the crosshead."),
        ("trustee-approval", "policy", OF, "says: Keep it dry."),
    ],
)
def test_a_word_that_stands_for_silence_is_absence(name, wanted, file, line, rulebook, whole):
    key = line.partition(":")[0]
    with written(Folder(whole), changed((file, line, f"{key}: To be confirmed."))):
        assert states(looked_into(Folder(whole), name, rulebook, only=wanted)) == {wanted: "absent"}


@pytest.mark.parametrize(
    ("name", "wanted", "file", "old", "new"),
    [
        ("repair-grant", "people", OF, "role: engineer, competence: Trained.", "role: engineer, competence: '-'"),
        ("repair-grant", "people", OF, "name: C. Three, role", "name: Nobody, role"),
        ("repair-grant", "rights", R, "rights: The engineer's.", "rights: tbc"),
        ("activity-grant", "running-examined", R, "kind: report\n  held: Office", "kind: report\n  held: tbc"),
        ("trustee-approval", "decisions", P, "reason: So.", "reason: tbc"),
    ],
)
def test_a_name_a_competence_a_right_and_a_reason_must_say_something(name, wanted, file, old, new, rulebook, whole):
    with written(Folder(whole), changed((file, old, new))):
        assert states(looked_into(Folder(whole), name, rulebook, only=wanted)) == {wanted: "absent"}


@pytest.mark.parametrize("text", ["7", "A", "X. Unknown & Sons", "None of it is ours", "Примечание", "水"])
def test_a_short_or_a_foreign_text_says_something(text):
    assert says_something(text)


def test_no_requirement_is_left_out_of_these_trials(rulebook):
    tried = {(name, wanted) for name, wanted, _, _ in BROKEN}
    assert tried == {(name, wanted.id) for name in SHIPPED for wanted in profile(name, rulebook).wanted}


def test_every_kind_of_ask_is_used_by_a_profile_that_came_along(rulebook):
    asks = [ask for name in SHIPPED for wanted in profile(name, rulebook).wanted for ask in wanted.asks]
    assert {ask.kind for ask in asks} == set(KINDS)
    used = {(ask.kind, ask.word) for ask in asks}
    assert {(kind, word) for kind, words in WORDS.items() for word in words} <= used


# ---- what is told -------------------------------------------------------------------------------------


def test_what_is_missing_is_told_with_the_place_to_mend_it(rulebook, tmp_path):
    folder = folder_of(tmp_path, changed((P, "least_work: none-between\n", ""), (OF, "  contingency: 15 %\n", "")))
    found = {one.wanted.id: one for one in looked_into(folder, "repair-grant", rulebook).outcomes}
    (contingency,) = found["contingency"].mends
    line = OBJECT.splitlines().index("  currency: EUR") + 1
    assert contingency.where == f"object.yaml:{line}"
    assert "contingency:" in contingency.what
    assert [(m.where, m.about) for m in found["options"].mends] == [("proposals/p.yaml:1", ("p",))]


def test_a_decision_departs_from_what_is_known_and_stands_in_for_nothing_that_is_not(rulebook, tmp_path):
    known = changed((P, SHORT, "thickness: 0.10 mm"))
    assert states(looked_into(folder_of(tmp_path / "a", known), "repair-grant", rulebook))["choice"] == "present"
    unknown = changed((C, "running_clearance: 0.70 ± 0.04 mm\n", ""))
    assert states(looked_into(folder_of(tmp_path / "b", unknown), "repair-grant", rulebook))["choice"] == "absent"


def test_no_decision_overrides_law_or_safety(tmp_path):
    from helpers import rule

    gate = rule("act", "{act.technique: shimming}", "{forbid: Do not., instead: Leave it., gate: yes}")
    book = rulebook_of(tmp_path, gate=gate)
    found = looked_into(folder_of(tmp_path / "book", FULL), "repair-grant", book)
    (choice,) = [one for one in found.outcomes if one.wanted.id == "choice"]
    assert choice.state is State.ABSENT
    assert "r/gate" in choice.mends[0].what


def test_what_stays_out_of_use_is_told_before_everything_else():
    found = of_the_demo()["activity-grant"]
    assert told(found).cautions[0].startswith("The steam pipe lagging stays out of that use")
    page = markdown(found)
    assert page.index("stays out of that use") < page.index("Money is asked for")


def test_it_never_says_that_anything_is_safe(rulebook, kept):
    found = looked_into(kept, "activity-grant", rulebook)
    assert any("certifies nothing" in one for one in told(found).cautions)
    assert "certifies nothing" in markdown(found)


def test_evidence_that_answers_nothing_here_is_told(rulebook, tmp_path):
    folder = folder_of(tmp_path, changed((R, "profiles/repair-grant/risks", "profiles/repair-grant/riks")))
    (stray,) = looked_into(folder, "repair-grant", rulebook).strays
    assert (stray.about, "riks" in stray.what) == (("plan",), True)
    assert looked_into(folder, "activity-grant", rulebook).strays == ()


def test_a_text_of_the_casebook_starts_no_markup(rulebook, tmp_path):
    folder = folder_of(tmp_path, changed((OF, "owner: A trust", "owner: '<b>[x](y) | **A**</b>'")))
    page = markdown(looked_into(folder, "repair-grant", rulebook))
    assert "<b>" not in page
    assert "[x](y)" not in page
    assert "**A**" not in page


def test_the_data_are_json_and_the_same_every_time(rulebook, kept):
    one, other = (as_data(looked_into(kept, "repair-grant", rulebook)) for _ in range(2))
    assert json.dumps(one, sort_keys=True) == json.dumps(other, sort_keys=True)
    assert json.loads(json.dumps(one)) == one


# ---- staleness ----------------------------------------------------------------------------------------


def test_a_record_written_on_an_earlier_day_stays_good_while_it_would_say_the_same(rulebook, kept):
    later = looked_into(kept, "repair-grant", rulebook, date(2026, 9, 1))
    assert states(later)["records"] == "present"
    lapsed = looked_into(kept, "repair-grant", rulebook, date(2027, 2, 10))
    assert states(lapsed)["records"] == "stale"


def test_a_record_by_other_rules_is_stale_and_one_without_its_proof_is_absent(rulebook, kept):
    proof = kept.root / "records/p.json"
    said = json.loads(proof.read_text(encoding="utf-8"))
    proof.write_text(json.dumps({**said, "rulebook": "0" * 64}), encoding="utf-8")
    assert states(looked_into(kept, "repair-grant", rulebook))["records"] == "stale"
    for text in ("not JSON", "[]", '{"on": 7}'):
        proof.write_text(text, encoding="utf-8")
        assert states(looked_into(kept, "repair-grant", rulebook))["records"] != "present"
    proof.unlink()
    assert states(looked_into(kept, "repair-grant", rulebook))["records"] == "absent"


def test_a_statement_whose_index_was_changed_by_hand_is_absent(rulebook, kept):
    path = kept.root / "statement/statement.json"
    path.write_text(path.read_text(encoding="utf-8").replace('"title"', '"titel"', 1), encoding="utf-8")
    assert states(looked_into(kept, "repair-grant", rulebook))["statement"] == "absent"


# ---- laws ---------------------------------------------------------------------------------------------

# What was done is what is asked about, and not a fact about it: without `work:` no work is told of at all.
_THE_QUESTION = ("options", "acts", "technique", "where", "for", "component", "components", "work", "preferred", "needs")


def ways(tree: object, at: tuple[str | int, ...] = ()) -> list[tuple[str | int, ...]]:
    """The way to every key that could have been left unsaid."""
    found: list[tuple[str | int, ...]] = []
    below = enumerate(tree) if isinstance(tree, list) else tree.items() if isinstance(tree, dict) else ()
    for key, value in below:
        if key not in _THE_QUESTION or key in ("options", "work"):
            if not isinstance(key, int) and key not in _THE_QUESTION and (not at or at[-1] != "options"):
                found.append((*at, key))
            found += ways(value, (*at, key))
    return found


def without(tree: object, way: tuple[str | int, ...]) -> object:
    if isinstance(tree, list):
        return [without(one, way[1:]) if n == way[0] else one for n, one in enumerate(tree)]
    assert isinstance(tree, dict)
    if len(way) == 1:
        return {key: value for key, value in tree.items() if key != way[0]}
    return {key: without(value, way[1:]) if key == way[0] else value for key, value in tree.items()}


def tree_of(text: str) -> object:
    return yaml.load(text, Loader=yaml.CBaseLoader)


def dumped(tree: object) -> str:
    return yaml.dump(tree, Dumper=yaml.CSafeDumper, allow_unicode=True, sort_keys=False, width=10**6)


@lru_cache(maxsize=4)
def facts_of(root: Path) -> tuple[tuple[str, tuple[str | int, ...]], ...]:
    """Every fact of a casebook: its file, and the way to it."""
    files = sorted(path for path in root.rglob("*.yaml") if "profiles" not in path.parts)
    return tuple((f.relative_to(root).as_posix(), way) for f in files for way in ways(tree_of(f.read_text(encoding="utf-8"))))


# What is asked of every entry of the register is not asked of an entry that is no longer there: it was the subject.
_OF_EACH_ENTRY = ("rights", "originals")


def breaches(before: Readiness, after: Readiness, an_entry: bool = False) -> list[str]:
    """The requirements that were not present and are, with less known; `an_entry`: one of the register is gone."""
    was = states(before)
    gained = [key for key, now in states(after).items() if now == "present" != was[key]]
    return [f"{key}: {was[key]}, then present" for key in gained if not (an_entry and key in _OF_EACH_ENTRY)]


# Each with one thing wanting or stale, so that taking something more out could hide it.
SPOILT: list[Mapping[str, str]] = [FULL, *(changed(*edits) for _, _, _, edits in BROKEN)]


EACH = int(os.environ.get("CONSERVE_SOAK", "10"))  # facts taken out of each; 1000 is all of them


@pytest.mark.parametrize("number", range(0, len(SPOILT), 1 if EACH > 10 else 12))
def test_no_deleted_fact_makes_anything_present(number, rulebook, tmp_path):
    files = SPOILT[number]
    folder = folder_of(tmp_path, files)
    profiles = [profile(name, rulebook) for name in SHIPPED]
    before = _looked(folder, profiles, rulebook)
    assert before
    loaded, found = 0, []
    facts = facts_of(tmp_path)
    for name, way in random.Random(number).sample(facts, min(EACH, len(facts))):
        (tmp_path / name).write_text(dumped(without(tree_of(files[name]), way)), encoding="utf-8")
        after = _looked(folder, profiles, rulebook)
        loaded += bool(after)
        an_entry = name == R and len(way) == 1
        both = zip(before, after, strict=True) if after else ()
        found += [f"{name} {way}: {gained}" for x, y in both for gained in breaches(x, y, an_entry)]
        (tmp_path / name).write_text(files[name], encoding="utf-8")
    assert found == []
    assert loaded > EACH / 4 or loaded > 40  # that enough of them load, or the test tests nothing


def _looked(folder: Folder, profiles: list[Profile], rulebook: Rulebook) -> list[Readiness]:
    """How ready a casebook is for each purpose; nothing where it cannot be read any more."""
    casebook, _ = read_casebook(folder, rulebook.vocabulary, "trial")
    if casebook is None:
        return []
    weighings = weigh_all(casebook, rulebook, DAY)
    return [readiness(one, weighings, casebook, rulebook, folder, DAY) for one in profiles]


@given(data=st.data())
@settings(max_examples=2 * int(os.environ.get("CONSERVE_LAWS", "1")))
def test_no_deleted_fact_of_the_demonstration_makes_anything_present(tmp_path_factory, data):
    root = tmp_path_factory.mktemp("demo")
    shutil.copytree(DEMO, root, dirs_exist_ok=True, ignore=shutil.ignore_patterns("records", "statement", "sent"))
    name, way = data.draw(st.sampled_from(facts_of(DEMO)).filter(lambda fact: fact[0] != "components/studs.yaml"))
    path = root / name
    path.write_text(dumped(without(tree_of(path.read_text(encoding="utf-8")), way)), encoding="utf-8")
    casebook, _ = read_casebook(Folder(root), shipped_rules().vocabulary, "trial")
    if casebook is None:
        return
    weighings = weigh_all(casebook, shipped_rules(), demo().as_at)
    for purpose, before in of_the_demo().items():
        one = profile(purpose, shipped_rules())
        after = readiness(one, weighings, casebook, shipped_rules(), Folder(root), demo().as_at)
        assert breaches(before, after, name == R and len(way) == 1) == [], (name, way)


@lru_cache(maxsize=1)
def weighed_demo() -> tuple[Weighing, ...]:
    return weigh_all(demo(), shipped_rules())


@lru_cache(maxsize=1)
def of_the_demo() -> dict[str, Readiness]:
    weighings = weighed_demo()
    nowhere = Folder(HOUSE / "tests" / "cases")  # without records or a statement
    return {
        name: readiness(profile(name, shipped_rules()), weighings, demo(), shipped_rules(), nowhere, demo().as_at)
        for name in SHIPPED
    }


def test_the_order_of_weighings_does_not_matter(rulebook):
    weighings = list(weighed_demo())
    random.Random(4).shuffle(weighings)
    nowhere = Folder(HOUSE / "tests" / "cases")
    for name, before in of_the_demo().items():
        one = profile(name, shipped_rules())
        assert as_data(readiness(one, weighings, demo(), shipped_rules(), nowhere, demo().as_at)) == as_data(before)


def test_the_demonstration_is_nearly_ready_and_its_gaps_are_true():
    found = states(of_the_demo()["repair-grant"])
    assert found["public-benefit"] == "present"
    assert found["contingency"] == "present"
    assert {key for key in ("costs", "choice", "condition") if found[key] == "absent"} == {"costs", "choice", "condition"}


# ---- profiles -----------------------------------------------------------------------------------------

OWN = """\
title: A town's grant
says: For the paint.
audience: anyone
sources:
  town-hall:
    title: How to apply
    clauses:
      page 2: {gist: The colour is asked for., read: no}
requires:
  colour:
    says: The maker is told.
    why: The town asks.
    source: town-hall page 2
    needed: must
    answered_by:
      - {field: object.maker}
"""


def wrong(root: Path, text: str, rulebook: Rulebook) -> list[tuple[str, int]]:
    folder = folder_of(root, {"profiles/town.yaml": text})
    with pytest.raises(InvalidInput) as caught:
        read_profile(folder, "town", rulebook, RULES)
    return [(problem.code, problem.where.line) for problem in caught.value.problems]


def test_a_casebook_brings_its_own_profile_and_needs_no_code_for_it(rulebook, tmp_path):
    folder = folder_of(tmp_path, {**FULL, "profiles/town.yaml": OWN})
    own = read_profile(folder, "town", rulebook, RULES)
    assert (own.title, own.wanted[0].source.clause) == ("A town's grant", "page 2")
    casebook = read(folder, rulebook)
    found = readiness(own, weigh_all(casebook, rulebook, DAY), casebook, rulebook, folder, DAY)
    assert states(found) == {"colour": "present"}
    assert profiles_of(folder, RULES) == {**dict.fromkeys(SHIPPED, False), "town": True}


@pytest.mark.parametrize(
    ("old", "new", "code"),
    [
        ("needed: must", "needed: maybe", "R005"),
        ("audience: anyone", "audience: nobody", "R005"),
        ("town-hall page 2", "town-hall page 3", "R048"),
        ("town-hall page 2", "toen-hall page 2", "R048"),
        ("{field: object.maker}", "{field: object.makr}", "R056"),
        ("{field: object.maker}", "{field: component.fit_to_run, of: all}", "R056"),
        ("{field: object.maker}", "{field: object.consent, any_of: [perhaps]}", "R056"),
        ("{field: object.maker}", "{field: component.significance}", "R058"),
        ("{field: object.maker}", "{field: object.maker, of: all}", "R058"),
        ("{field: object.maker}", "{person: lead, policy: review}", "R058"),
        ("{field: object.maker}", "{}", "R058"),
        ("{field: object.maker}", "{person: lead, of: all}", "R058"),
        ("{field: object.maker}", "{evidence: {}}", "R058"),
        ("{field: object.maker}", "{statement: sumary}", "R056"),
        ("{field: object.maker}", "{evidence: {kind: photograph, dated: before-work}}", "R058"),
        ("{field: object.maker}", "{record: fine}", "R005"),
        ("{field: object.maker}", "{recrd: standing}", "R001"),
        ("    answered_by:\n      - {field: object.maker}\n", "    answered_by: []\n", "R058"),
    ],
)  # fmt: skip
def test_what_is_wrong_with_a_profile_is_told_with_its_line(old, new, code, rulebook, tmp_path):
    assert OWN.count(old) == 1
    text = OWN.replace(old, new)
    (found,) = wrong(tmp_path, text, rulebook)
    assert found[0] == code
    assert new.splitlines()[0].strip(" {}-") in text.splitlines()[found[1] - 1] or new == "{}"


def test_everything_wrong_with_a_profile_is_told_at_once(rulebook, tmp_path):
    text = OWN.replace("page 2\n", "page 9\n").replace("{field: object.maker}", "{field: object.makr}")
    assert [code for code, _ in wrong(tmp_path, text, rulebook)] == ["R048", "R056"]


def test_an_own_profile_takes_no_name_that_came_along(rulebook, tmp_path):
    folder = folder_of(tmp_path, {"profiles/repair-grant.yaml": OWN})
    with pytest.raises(InvalidInput) as caught:
        read_profile(folder, "repair-grant", rulebook, RULES)
    assert [problem.code for problem in caught.value.problems] == ["R057"]


def test_a_profile_changes_no_weighing(rulebook, tmp_path):
    assert not is_a_rule("profiles/repair-grant.yaml")
    assert is_a_rule("overlays/gb/people/licences.yaml")
    plain, with_one = folder_of(tmp_path / "a", FULL), folder_of(tmp_path / "b", {**FULL, "profiles/town.yaml": OWN})
    assert read(plain, rulebook).digests == read(with_one, rulebook).digests
    rules = tmp_path / "rules"
    shutil.copytree(HOUSE / "rules", rules)
    shutil.rmtree(rules / "profiles")
    from conserve.rulebook import read_rulebook

    bare, _ = read_rulebook(Folder(rules))
    assert bare is not None
    assert bare.digest == shipped_rules().digest


def test_the_sections_that_may_be_asked_for_are_those_of_the_statement(whole, rulebook):
    casebook = read(Folder(whole), rulebook)
    document = document_of(weigh_all(casebook, rulebook, DAY), casebook, rulebook, DAY)
    assert tuple(one.id for one in document.sections if not one.id.startswith("decision-")) == SECTIONS


@pytest.mark.parametrize("name", SHIPPED)
def test_every_source_of_a_profile_says_how_it_was_read(name):
    for wanted in profile(name, shipped_rules()).wanted:
        source = shipped_rules().sources[wanted.source.source]
        assert wanted.source.clause in source.gists or wanted.source.source == "common-practice"


# ---- the command --------------------------------------------------------------------------------------


@pytest.fixture
def book(tmp_path, monkeypatch) -> Path:
    folder_of(tmp_path / "book", FULL)
    shutil.copytree(HOUSE / "rules" / "profiles", rules_folder(tmp_path / "rules", {}).root / "profiles")
    monkeypatch.chdir(tmp_path)
    return tmp_path / "book"


def told_by(*given: str) -> int:
    """Run the command by a rulebook without a rule, which is soon read."""
    return main(["readiness", *given, "--rules", "rules"])


def test_the_command_tells_it_as_text_as_markdown_and_as_json(book, capsys):
    assert told_by("book", "--for", "repair-grant") == 0
    text = capsys.readouterr().out
    assert "What to mend first" in text
    assert "[ ] absent" in text
    assert told_by("book", "--for", "repair-grant", "--markdown") == 0
    assert capsys.readouterr().out.startswith("# A grant for repair: Trial engine\n")
    assert told_by("book", "--for", "repair-grant", "--json", "--on", "2026-07-01") == 0
    said = json.loads(capsys.readouterr().out)
    assert (said["profile"], said["on"], said["ready"]) == ("repair-grant", "2026-07-01", False)


def test_the_command_lists_the_profiles(book, capsys):
    (book / "profiles").mkdir()
    (book / "profiles/town.yaml").write_text(OWN, encoding="utf-8")
    assert told_by("book", "--list") == 0
    told_of = capsys.readouterr().out
    assert all(name in told_of for name in (*SHIPPED, "town"))
    assert told_by("book", "--list", "--json") == 0
    assert [one["profile"] for one in json.loads(capsys.readouterr().out)["profiles"]] == sorted((*SHIPPED, "town"))


def test_a_purpose_that_is_not_there_or_not_named_is_refused(book, capsys):
    assert main(["readiness", "book"]) == 2
    assert "repair-grant" in capsys.readouterr().err
    assert main(["readiness", "book", "--for", "repair-grnt"]) == 2
    assert "did you mean 'repair-grant'?" in capsys.readouterr().err


def test_a_broken_profile_is_told_with_its_line_and_nothing_else(book, capsys):
    (book / "profiles").mkdir()
    (book / "profiles/town.yaml").write_text(OWN.replace("object.maker", "object.makr"), encoding="utf-8")
    assert told_by("book", "--for", "town") == 2
    told_of = capsys.readouterr()
    assert "book/profiles/town.yaml:16:" in told_of.err
    assert "R056" in told_of.err
    assert told_of.out == ""
