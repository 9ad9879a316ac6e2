"""The checker: it draws every conclusion of a proof again by itself, and finds whatever was altered."""

from __future__ import annotations

import ast
import json
import random
import shutil
import subprocess
import sys
from collections.abc import Callable, Iterator
from copy import deepcopy
from datetime import date
from functools import cache
from pathlib import Path
from tempfile import TemporaryDirectory
from typing import Any

import pytest
from helpers import HOUSE, MORE, clock, clock_rules, demo, folder_of, read, rule, rulebook_of, shipped_rules
from hypothesis import given, settings
from hypothesis import strategies as st
from test_cases import CASES, case_of
from test_laws import _ESTABLISHED, _SEEN, _SHIM, _VALUES, SLY, Desk, Tree, Trees, _sly, casebooks, no_rules, often

from conserve import checker
from conserve.checker import Unreadable, differences
from conserve.engine import circles
from conserve.explanation.proof import canonical_json, proof
from conserve.problem import Location
from conserve.quantity import parse_quantity
from conserve.rule import Bound, Effect, EffectKind, Override, Premise, Rule, Stage, Status
from conserve.rule import Test as Asked
from conserve.rulebook import Rulebook
from conserve.rulebook.programs import program_of
from conserve.terms import SEES
from conserve.weighing import Weighing, weigh, weigh_all

Json = dict[str, Any]
Way = tuple[str | int, ...]
BOOKS = {"marrow-fen": (demo, shipped_rules), "sallow-wharf": (clock, clock_rules)}
DEMONSTRATION = [(name, p.id) for name, (book, _) in BOOKS.items() for p in book().proposals]
each_proof = pytest.mark.parametrize(("name", "proposal"), DEMONSTRATION, ids=[f"{name}/{proposal}" for name, proposal in DEMONSTRATION])


@cache
def text_of(name: str, proposal: str) -> str:
    """The proof of a proposal of the demonstration, as it is written."""
    book, rules = BOOKS[name]
    asked = book().proposal(proposal)
    assert asked is not None
    return canonical_json(proof(weigh(asked, book(), rules()), rules()))


def proof_of(name: str, proposal: str) -> Json:
    return checker.read(text_of(name, proposal))


def slipper() -> Json:
    return proof_of("marrow-fen", "crosshead-slipper")


# ---- it comes to the same -------------------------------------------------------------------------------


@each_proof
def test_every_proof_of_the_demonstration_holds(name, proposal):
    assert differences(proof_of(name, proposal)) == []


@pytest.mark.parametrize("path", CASES, ids=lambda path: path.stem)
def test_the_proof_of_every_decided_case_holds(path, tmp_path):
    rulebook = shipped_rules(*case_of(path).get("overlays", ()))
    casebook = read(folder_of(tmp_path, case_of(path)["files"]), rulebook)
    found = {w.proposal.id: differences_of(w, rulebook) for w in weigh_all(casebook, rulebook)}
    assert not any(found.values()), found


def differences_of(weighing: Weighing, rulebook: Rulebook) -> list[str]:
    return differences(checker.read(canonical_json(proof(weighing, rulebook))))


def test_it_reads_conclusions_only_to_compare_them():
    told = slipper()
    found = checker.conclusions(told)
    for part in told["parts"].values():
        del part["concluded"]
    bare = {key: value for key, value in told.items() if key not in ("verdict", "verdicts", "conclusion")}
    assert checker.conclusions(bare) == found


# ---- random rulebooks and casebooks -------------------------------------------------------------------------

HERE = Location("rules/r.yaml")
_BY_FACE = ("surface.wear", "surface.relief", "surface.thickness")
_LENGTHS = {
    "component": ("component.running_clearance",),
    "surface": _BY_FACE,
    "act": (*_BY_FACE, "act.depth", "act.thickness", "component.running_clearance"),
}
_LIMITS = ("0.10", "0.20", "0.30", "0.42", "0.55", "0.70")


def made_rulebook(draw: random.Random) -> Rulebook:
    """A rulebook of a few words and numbers, with chains, overrides and every effect, in the words that travel along."""
    while True:
        rules: tuple[Rule, ...] = ()
        names = draw.sample(_answerable(), 14)
        for number in range(draw.randint(4, 14)):
            rules += (_made_rule(names[number], draw, rules),)
        programs = {kind: program_of(rules, kind, shipped_rules().vocabulary) for kind in SEES}
        if not any(circles(one.program) for one in programs.values()):
            return Rulebook(shipped_rules().vocabulary, {}, rules, (), programs, "")


@cache
def _answerable() -> tuple[str, ...]:
    """Names of rules that the random casebooks answer, or their report."""
    kinds = (EffectKind.AGAINST, EffectKind.REQUIRE, EffectKind.REFER)
    return tuple(rule.id for rule in shipped_rules().rules if rule.then.kind in kinds)


def _made_rule(name: str, draw: random.Random, earlier: tuple[Rule, ...]) -> Rule:
    about = draw.choice(("act", "act", "act", "act", "option", "component", "defect", "surface", "mark", "object"))
    sees = _SEEN.get(about, SEES[about])
    words = [t for t in _VALUES if t.partition(".")[0] in sees]
    when = {t: Asked(tuple(sorted({draw.choice(_VALUES[t]) for _ in range(2)}))) for t in draw.sample(words, draw.randint(0, 2))}
    for term in draw.sample(_LENGTHS.get(about, ()), draw.choice((0, 1)) if about in _LENGTHS else 0):
        when[term] = _length(term, about, draw)
    then = _made_effect(about, when, draw)
    telling = [r.id for r in earlier if r.then.kind is not EffectKind.ESTABLISH]
    over = draw.sample(telling, min(len(telling), draw.choice((0, 0, 1, 2)))) if then.kind is not EffectKind.ESTABLISH else []
    return Rule(
        name, name, Status.ADOPTED, date(2026, 1, 1), about, (), "So.",
        tuple(Premise(term, test, HERE) for term, test in when.items()), then,
        tuple(Override(rule, "so", HERE) for rule in over), (), (), HERE,
    )  # fmt: skip


def _length(term: str, about: str, draw: random.Random) -> Asked:
    others = [other for other in _LENGTHS[about] if other != term]
    how = draw.choice(("above", "below", "at_least", "at_most", "between"))
    if how == "between":
        low, high = sorted(draw.sample(_LIMITS, 2))
        return Asked(bounds=(Bound("at_least", _mm(low)), Bound("at_most", _mm(high))))
    return Asked(bounds=(Bound(how, draw.choice(others) if others and draw.random() < 0.5 else _mm(draw.choice(_LIMITS))),))


def _mm(text: str) -> Any:
    return parse_quantity(f"{text} mm", "mm", exact=True)


def _made_effect(about: str, when: dict[str, Asked], draw: random.Random) -> Effect:
    words = [word for word in _ESTABLISHED if word.startswith(f"{about}.") and word not in when]
    if words and draw.random() < 0.4:
        word = draw.choice(words)
        return Effect(EffectKind.ESTABLISH, establishes=(word, draw.choice(_VALUES[word])))
    by = draw.choice(tuple(Stage))
    return draw.choice(
        (
            Effect(EffectKind.FORBID, says="Do not."),
            Effect(EffectKind.REFER, says="Ask.", to="competent-engineer"),
            Effect(EffectKind.REQUIRE, says="Do it.", by=by, routine=draw.random() < 0.5),
            Effect(EffectKind.REQUIRE, says="Say why.", by=by, answer=True),
            Effect(EffectKind.REQUIRE, says="Show it.", by=by, evidence=draw.choice(("report", "photograph"))),
            Effect(EffectKind.REQUIRE, says="Know it.", by=by, known=draw.choice(("component.material", "component.role"))),
            Effect(EffectKind.AGAINST, says="It is a pity."),
            Effect(EffectKind.NOTE, says="Look."),
        )
    )


@st.composite
def cases(draw: st.DrawFn) -> tuple[Trees, str, int]:
    """A casebook as the laws make them, with lists that nobody has written, sizes of faces, and rows of readings."""
    trees = draw(casebooks(shipped_rules()))
    part, some = trees["components/part.yaml"], random.Random(draw(st.integers(0, 10**9)))
    for face in part["surfaces"].values():
        for term in ("wear", "relief", "thickness"):
            if some.random() < 0.6:
                face[term] = f"{some.choice(_LIMITS)} {some.choice(('', '± 0 ', '± 0.01 ', '± 0.05 ', '± 0.2 '))}mm"
    _forget(part, some)
    option = some.choice([o for o in trees["proposals/question.yaml"]["options"].values() if o["acts"]])
    option["rather_than"] = {"leave": {"by": "me", "says": "so"}} if "leave" in trees["proposals/question.yaml"]["options"] and some.random() < 0.3 else {}
    readings = "date,by,instrument,component,where,plane,angle,quantity,reading,plus_minus,unit\n" + "".join(
        f"2026-02-11,me,,part,{face},{plane},,{term},{some.choice(_LIMITS)},{some.choice(('', '0.01', '0.05', '0.2'))},mm\n"
        for face in part["surfaces"] if part["surfaces"] != "none"
        for term in ("wear", "relief") if term not in part["surfaces"][face] and some.random() < 0.7
        for plane in some.choice(("A", "AB", "ABC"))
    )  # fmt: skip
    return trees, readings, some.randint(0, 10**9)


def _forget(part: Tree, some: random.Random) -> None:
    """Leave some lists unwritten, where nothing names what they hold."""
    for face in part["surfaces"].values():
        if face["marks"] == "none" and some.random() < 0.3:
            del face["marks"]
    if part["repairs"] == "none" and some.random() < 0.3:
        del part["repairs"]


RULEBOOKS_A_CASEBOOK = 15 * MORE


@settings(often, max_examples=often.max_examples * 3 // 5)
@given(cases())
def test_the_proof_of_whatever_rules_make_of_a_casebook_holds(case):
    trees, readings, seed = case
    draw = random.Random(seed)
    with TemporaryDirectory() as root:
        casebook = Desk(Path(root), trees, shipped_rules(), readings).read()
    assert casebook is not None
    for rulebook in (shipped_rules(), *(made_rulebook(draw) for _ in range(RULEBOOKS_A_CASEBOOK))):
        found = differences_of(weigh(casebook.proposals[0], casebook, rulebook), rulebook)
        if found:  # failing cases take long to make smaller
            pytest.fail("\n".join(found))


# ---- where the weighing and the written method part ---------------------------------------------------------


def part_ways(root: Path, trees: Trees, rulebook: Rulebook) -> list[str]:
    casebook = Desk(root / "book", trees, rulebook).read()
    assert casebook is not None
    return differences_of(weigh(casebook.proposals[0], casebook, rulebook), rulebook)


def test_a_rule_that_surely_applies_at_one_face_counts_though_another_face_leaves_it_open(tmp_path):
    trees = deepcopy(SLY["faces-that-nobody-has-named"])
    trees["components/slide.yaml"]["surfaces"]["face"].pop("wear")  # told first, and open
    trees["components/slide.yaml"]["surfaces"]["back"]["wear"] = "0.10 ± 0.02 mm"
    when = "{component.running_clearance: {above: {term: surface.wear}}}"
    rulebook = rulebook_of(tmp_path, deep=rule("act", when, "{forbid: Do not.}"))
    assert part_ways(tmp_path, trees, rulebook) == []


def test_an_override_that_is_in_for_the_whole_act_reaches_each_face_though_it_is_open_there(tmp_path):
    trees = deepcopy(SLY["faces-that-nobody-has-named"])
    for face in trees["components/slide.yaml"]["surfaces"].values():
        face.pop("shows_use")
    rulebook = rulebook_of(
        tmp_path,
        give=rule("act", "{surface.shows_use: yes}", "{establish: {act.hides_or_takes: yes}}"),
        over=rule("act", "{act.hides_or_takes: no}", "{note: So.}", overrides="r/low"),
        low=rule("act", "{surface.finish: layered-paint}", "{forbid: Do not.}"),
    )
    assert part_ways(tmp_path, trees, rulebook) == []


# ---- one step at a time: what each comes to is worked out by hand, from the method at the head of the checker ---


def drawn(root: Path, trees: Trees, rulebook: Rulebook | None = None, readings: str = "") -> Json:
    """What the checker draws about the only part of a small casebook; its proof must hold."""
    rules = rulebook or no_rules()
    told = checker.read(canonical_json(proof(Desk(root / "book", trees, rules, readings).whole, rules)))
    assert differences(told) == []
    (part,) = checker.conclusions(told)["parts"].values()
    return part


def needs_of(part: Json) -> dict[str, str]:
    """How each option leaves the need `turn`."""
    return {name: one["needs"]["turn"] for name, one in part["options"].items()}


def verdicts_of(part: Json) -> dict[str, tuple[str, str]]:
    """The step that gives each option its verdict among the others, and what it names."""
    return {name: (one["against_gentler"]["step"], one["against_gentler"]["names"]) for name, one in part["options"].items()}


@pytest.mark.parametrize(
    ("readings", "limits", "highest", "lowest", "neither"),
    [
        ("0.10 0.50", "at_least 0.30", 2, 0, 0),  # 0.50 is above it, 0.10 is not
        ("0.50 0.10", "above 0.30", 2, 0, 0),
        ("0.10 0.50", "at_most 0.30", 0, 2, 0),
        ("0.50 0.10", "below 0.30", 0, 2, 0),
        ("0.10 0.30", "at_least 0.30", 1, 0, 0),  # 0.30 may lie on either side
        ("0.10 0.30", "at_most 0.30", 1, 2, 1),
        ("0.10 0.50", "at_least 0.30 at_most 0.60", 2, 0, 0),
        ("0.10 0.50", "at_least 0.05 at_most 0.30", 0, 2, 0),
    ],
)
def test_of_several_readings_the_worst_is_held_against_a_limit(readings, limits, highest, lowest, neither):
    values = [checker.number(f"{one} ± 0.01 mm") for one in readings.split()]
    hows, amounts = limits.split()[::2], limits.split()[1::2]
    held = {how: checker.number(f"{one} ± 0 mm") for how, one in zip(hows, amounts, strict=True)}
    assert [checker.all_pass(values, held, worst) for worst in ("highest", "lowest", "")] == [highest, lowest, neither]


def test_a_poorer_reading_that_may_be_the_highest_keeps_the_highest_from_passing():
    limits = {"at_least": checker.number("0.1 ± 0 mm"), "at_most": checker.number("0.45 ± 0 mm")}
    for poorer, comes_to in (("0.38 ± 0.01 mm", 2), ("0.38 ± 0.3 mm", 1)):
        assert checker.all_pass([checker.number(poorer), checker.number("0.40 ± 0.01 mm")], limits, "highest") == comes_to


def test_wear_is_past_a_limit_where_its_highest_reading_is(tmp_path):
    trees = deepcopy(SLY["faces-that-nobody-has-named"])
    trees["components/slide.yaml"]["surfaces"]["face"].pop("wear")
    sheet = "date,by,instrument,component,where,plane,angle,quantity,reading,plus_minus,unit\n" + "".join(
        f"2026-02-11,me,,slide,face,{plane},,wear,{reading},0.01,mm\n" for plane, reading in (("A", "0.10"), ("B", "0.50"))
    )
    rulebook = rulebook_of(tmp_path, worn=rule("surface", "{surface.wear: {at_least: 0.30 mm}}", "{note: Look.}"))
    assert drawn(tmp_path, trees, rulebook, sheet)["rules"]["r/worn"]["surface:face"] == "applies"


def test_nobody_says_why_an_option_that_loses_more_is_not_taken(tmp_path):
    """The shallower cut stands, and is not held up by the deeper one."""
    found = verdicts_of(drawn(tmp_path, SLY["two-depths-of-one-cut"]))
    assert (found["less"], found["more"]) == (("nothing against", ""), ("a gentler option stands", "less"))


def _of_known_relief() -> Trees:
    """One option cuts the face and the other the back, both deeper than what shows there."""
    trees = deepcopy(SLY["two-sides-of-one-part"])
    for face in trees["components/slide.yaml"]["surfaces"].values():
        face["relief"] = "0.01 ± 0.001 mm"
    return trees


def test_of_two_options_that_lose_different_things_a_person_says_why_the_other_is_not_taken(tmp_path):
    found = verdicts_of(drawn(tmp_path, _of_known_relief()))
    assert (found["one"], found["two"]) == (("loses other things", "two"), ("loses other things", "one"))


def test_a_trade_that_a_person_has_answered_stands(tmp_path):
    trees = _of_known_relief()
    trees["proposals/q.yaml"]["options"]["one"]["rather_than"] = {"two": {"by": "me", "says": "So."}}
    found = verdicts_of(drawn(tmp_path, trees))
    assert (found["one"], found["two"]) == (("nothing against", ""), ("loses other things", "one"))


def test_of_two_options_that_nobody_can_rank_either_may_be_the_gentler(tmp_path):
    trees = deepcopy(SLY["two-depths-of-one-cut"])
    trees["components/slide.yaml"]["surfaces"]["face"]["area"] = "400 cm2"  # nobody states its ±
    found = verdicts_of(drawn(tmp_path, trees))
    assert (found["less"], found["more"]) == (("a gentler option may yet do", "more"), ("a gentler option may yet do", "less"))


def test_an_option_that_loses_fewer_things_and_unknown_metal_is_asked_about_the_one_that_loses_more_things(tmp_path):
    trees = _of_known_relief()
    trees["components/slide.yaml"]["surfaces"]["face"]["area"] = "400 cm2"  # nobody states its ±
    options = trees["proposals/q.yaml"]["options"]
    cut_the_back, pack = options["two"]["acts"]
    options["two"]["acts"] = [deepcopy(options["one"]["acts"][0]), cut_the_back, {**pack, "thickness": "0.70 mm"}]
    assert verdicts_of(drawn(tmp_path, trees))["one"] == ("loses other things", "two")


_SAFE = "turn: {kind: safety, says: It turns., test: {component.running_clearance: {at_most: LIMIT mm}}, set_by: me}"
_LATER = "report: {kind: report, date: 2026-02-15, by: X, about: [slide], held: Office, role: competent-engineer, shows: It., lapses: none, answers: [ANSWERS], states: {STATES}}"
_TO_CONCLUDE = "met, to be concluded by competent-person"


def turning(limit: str, answers: str = "", states: str = "component.cracked: no") -> Trees:
    """A slide with 0.70 ± 0.04 mm to run in, to be left or packed out, and a report later than its last use."""
    report = _LATER.replace("ANSWERS", answers).replace("STATES", states)
    return _sly(_SAFE.replace("LIMIT", limit), register=report, shim=f"acts: [{_SHIM.format('0.50 mm')}]")


def test_a_report_that_answers_a_need_by_its_name_concludes_it_whatever_it_states(tmp_path):
    assert needs_of(drawn(tmp_path, turning("0.80", "needs/turn")))["leave"] == "met"


def test_a_report_that_answers_no_need_and_states_another_fact_concludes_nothing(tmp_path):
    assert needs_of(drawn(tmp_path, turning("0.80")))["leave"] == _TO_CONCLUDE


@pytest.mark.parametrize("answers", ["needs/turn", ""])
def test_a_report_concludes_nothing_about_what_an_act_would_make_of_a_fact(answers, tmp_path):
    """It answers the need, or states the very fact that is tested: of the part as it is, not of one packed out."""
    trees = turning("0.80", answers, "component.running_clearance: 0.70 ± 0.04 mm")
    trees["components/slide.yaml"].pop("running_clearance")
    assert needs_of(drawn(tmp_path, trees)) == {"leave": "met", "shim": _TO_CONCLUDE}


def test_a_number_that_straddles_its_limit_puts_a_safety_need_in_doubt(tmp_path):
    part = drawn(tmp_path, turning("0.70", "needs/turn"))
    assert needs_of(part) == {"leave": "in doubt", "shim": _TO_CONCLUDE}
    assert verdicts_of(part)["leave"] == ("need in doubt", "turn")


def test_a_number_that_nobody_has_taken_leaves_a_safety_need_open(tmp_path):
    trees = turning("0.70", "needs/turn")
    trees["components/slide.yaml"].pop("running_clearance")
    assert needs_of(drawn(tmp_path, trees))["leave"] == "open"


# ---- whatever is altered is found -----------------------------------------------------------------------

CONCLUSIONS = ("verdict", "verdicts", "conclusion")


def leaves(tree: Any, way: Way = ()) -> Iterator[Way]:
    """The way to every value, and to every list or mapping that holds none."""
    below = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    if not below or not tree:
        yield way
    for key, value in below:
        yield from leaves(value, (*way, key))


def concluded_ways(told: Json) -> list[Way]:
    inside = [("parts", name, "concluded", *way) for name, part in told["parts"].items() if "like" not in part for way in leaves(part["concluded"])]
    return [*inside, *((key, *way) for key in CONCLUSIONS for way in leaves(told[key]))]


def alter(tree: Any, way: Way) -> None:
    """Say something else there."""
    *up, last = way
    for key in up:
        tree = tree[key]
    value = tree[last]
    tree[last] = (
        not value if isinstance(value, bool)
        else f"{value}?" if isinstance(value, str)
        else {"x": "x"} if isinstance(value, dict)
        else ["x"]
    )  # fmt: skip


@each_proof
def test_every_conclusion_that_is_altered_is_named(name, proposal):
    """All of them at once; each must be told at its own place."""
    told = proof_of(name, proposal)
    ways = concluded_ways(told)
    for way in ways:
        alter(told, way)
    named = {one.partition(": the proof says")[0] for one in differences(told)}
    expected = {", ".join(str(key + 1) if isinstance(key, int) else key for key in way if key != "concluded") for way in ways}
    assert {one.removesuffix(", x") for one in named} == expected
    assert len(ways) > 200


@each_proof
def test_one_conclusion_altered_among_all_is_found(name, proposal):
    draw = random.Random(proposal)
    ways = concluded_ways(proof_of(name, proposal))
    (way,) = draw.sample(ways, 1)
    told = proof_of(name, proposal)
    alter(told, way)
    assert len(differences(told)) == 1, way


@each_proof
def test_a_conclusion_left_out_is_found(name, proposal):
    told = proof_of(name, proposal)
    part = next(part["concluded"] for part in told["parts"].values() if "like" not in part)
    for key in list(part):
        kept = part.pop(key)
        assert differences(told), key
        part[key] = kept


def test_a_conclusion_of_nothing_that_is_put_in_is_found():
    told = slipper()
    next(said for _, said in parts_of(told))["standings"]["r/none"] = None
    assert len(differences(told)) == 1


Change = Callable[[Json], None]


def given_of(told: Json) -> Json:
    return next(part["given"] for part in told["parts"].values() if "like" not in part)


def _running_clearance(told: Json) -> None:
    given_of(told)["facts"]["component:crosshead-slipper-top component.running_clearance"]["values"] = ["0.2 ± 0.04 mm"]


def _wider_doubt(told: Json) -> None:
    given_of(told)["facts"]["component:crosshead-slipper-top component.running_clearance"]["values"] = ["0.7 ± unknown mm"]


def _left_too_wide(told: Json) -> None:
    given_of(told)["options"]["shim"]["after"]["component:crosshead-slipper-top component.running_clearance"]["values"] = ["0.6 ± 0.04 mm"]


def _answers(told: Json) -> None:
    given_of(told)["options"]["shim"]["answers"] = {}


def _loses_nothing(told: Json) -> None:
    account = given_of(told)["options"]["skim-working-face"]["account"]
    account |= {"lost": [], "presumed": {}, "volume": "0 ± 0 mm3"}


def _limit(told: Json) -> None:
    need = next(iter(given_of(told)["needs"].values()))
    need["checks"][0]["test"]["at_most"] = "0.8 ± 0 mm"


def _duty(told: Json) -> None:
    for need in given_of(told)["needs"].values():
        need["at"] = ["stored"]


def _act_for_nothing(told: Json) -> None:
    given_of(told)["options"]["shim"]["acts"][0]["for"] = []


def _chosen(told: Json) -> None:
    told["chosen"] = "leave"


@pytest.mark.parametrize(
    "change",
    [_running_clearance, _wider_doubt, _left_too_wide, _answers, _loses_nothing, _limit, _duty, _act_for_nothing, _chosen],
)
def test_what_is_given_and_altered_no_longer_bears_the_verdict(change: Change):
    told = slipper()
    change(told)
    assert differences(told)


def each_told() -> Iterator[Json]:
    for name, proposal in DEMONSTRATION:
        yield proof_of(name, proposal)


def parts_of(told: Json) -> Iterator[tuple[Json, Json]]:
    return ((part["given"], part["concluded"]) for part in told["parts"].values() if "like" not in part)


def test_a_forbidding_rule_that_only_notes_is_found():
    tried = 0
    for told in each_told():
        own = [one["on_its_own"] for _, said in parts_of(told) for one in said["options"].values()]
        for name in {one["names"] for one in own if one["step"] == "forbidden"}:
            changed = deepcopy(told)
            changed["rules"][name]["effect"] = "note"
            assert differences(changed), name
            tried += 1
    assert tried >= 5


def test_an_override_taken_away_is_found():
    tried = 0
    for told in each_told():
        standings = [(name, how) for _, said in parts_of(told) for name, found in said["standings"].items() for how in found.values()]
        for name in sorted({name for name, how in standings if how == "out"}):
            changed = deepcopy(told)
            for other in changed["rules"].values():
                other["overrides"] = [one for one in other["overrides"] if one != name]
            assert differences(changed), name
            tried += 1
    assert tried >= 3


def test_a_report_of_another_role_answers_no_referral(tmp_path):
    path = next(path for path in CASES if path.stem == "06-cracked-pump-column")
    casebook = read(folder_of(tmp_path, case_of(path)["files"]))
    told = [checker.read(canonical_json(proof(w, shipped_rules()))) for w in weigh_all(casebook, shipped_rules())]
    for report in (report for one in told for given_, _ in parts_of(one) for report in given_["reports"].values()):
        report["role"] = "lead"
    assert any(map(differences, told))


def test_a_report_of_nobody_competent_concludes_nothing():
    told = proof_of("marrow-fen", "crankshaft-journal")
    for report in given_of(told)["reports"].values():
        report["competent"] = False
    assert any("to be concluded by" in one for one in differences(told))


def test_a_policy_that_lists_nothing_calls_for_no_care():
    told = proof_of("marrow-fen", "summer-care")
    told["policy"] = {"routine-care": [], "holding-work": []}
    assert any("not called for" in one for one in differences(told))


# ---- by the written method -----------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("value", "passes"),
    [("0.3 ± 0.1215 mm", 2), ("0.3 ± 0.1217 mm", 1), ("0.5 ± 0.1215 mm", 0), ("0.5 ± 0.1217 mm", 1), ("0.3 ± unknown mm", 1)],
)
def test_a_number_is_at_most_a_limit_when_it_lies_1_645_standard_uncertainties_off(value, passes):
    """0.1 mm off, k = 2: 0.2 / 1.6449 = 0.12159. The 0.95 quantile of the normal distribution is in any table."""
    assert checker.passes(checker.number(value), {"at_most": checker.number("0.4 ± 0 mm")}) == passes


def test_a_poor_reading_between_two_limits_is_to_be_repeated_and_not_believed():
    limits = {"at_least": checker.number("0.1 ± 0 mm"), "at_most": checker.number("0.4 ± 0 mm")}
    assert [checker.passes(checker.number(f"{text} mm"), limits) for text in ("0.25 ± 0.1", "0.25 ± 9", "0.7 ± 0.04")] == [2, 1, 0]


# ---- whatever the file holds, it says so in a sentence ---------------------------------------------------------


@pytest.mark.parametrize(
    "text",
    [
        "", "[]", "null", "1", '"text"', "{}", "{", '{"format": "conserve-proof-1"}', "NaN", '{"a": NaN}', '{"a": Infinity}',
        '{"a": 1e999}', '{"a": 0.5}', '{"a": 1, "a": 1}', "[" * 100_000, '{"a":' * 100_000, f'{{"a": {"9" * 5000}}}', '{"\\ud800": 1}',
    ],
    ids=range(18),
)  # fmt: skip
def test_a_text_that_is_no_proof_is_refused(text):
    with pytest.raises(Unreadable):
        differences(checker.read(text))


def test_a_proof_that_is_cut_short_is_refused():
    text = text_of("marrow-fen", "crosshead-slipper").rstrip()
    for end in range(0, len(text), len(text) // 50):
        with pytest.raises(Unreadable):
            checker.read(text[:end])


def kinds_of_way(told: Any) -> list[Way]:
    """One way to every key that the checker's text names, whatever thing it is of."""
    source = ast.parse((HOUSE / "conserve" / "checker.py").read_text(encoding="utf-8"))
    known = {node.value for node in ast.walk(source) if isinstance(node, ast.Constant)}
    found: dict[Way, Way] = {}
    for way in every_way(told):
        found.setdefault(tuple(key if key in known else "*" for key in way), way)
    return list(found.values())


def every_way(tree: Any, way: Way = ()) -> Iterator[Way]:
    below = tree.items() if isinstance(tree, dict) else enumerate(tree) if isinstance(tree, list) else ()
    for key, value in below:
        yield (*way, key)
        yield from every_way(value, (*way, key))


def is_refused(told: Json) -> bool:
    try:
        differences(told)
    except Unreadable:
        return True
    return False


def _first_rule(told: Json) -> Json:
    return next(rule for rule in told["rules"].values() if rule["effect"] == "forbid")


def _first_requirement(told: Json) -> Json:
    return next(rule for rule in told["rules"].values() if rule["effect"] == "require")


def _first_of(name: str) -> Callable[[Json], Json]:
    return lambda told: next(iter(given_of(told)[name].values()))


def _first_after(told: Json) -> Json:
    return next(one for option in given_of(told)["options"].values() for one in option["after"].values() if one)


def _first_account(told: Json) -> Json:
    return next(iter(given_of(told)["options"].values()))["account"]


@pytest.mark.parametrize(
    ("place", "key", "value"),
    [
        (_first_rule, "effect", "forbids"), (_first_rule, "about", "acts"), (_first_rule, "overrides", "none"), (_first_rule, "when", []),
        (_first_requirement, "by", ""), (_first_requirement, "by", "before-works"), (_first_requirement, "routine", "no"),
        (_first_requirement, "answer", 0), (_first_of("facts"), "how", "claim"), (_first_of("facts"), "values", "yes"),
        (_first_of("subjects"), "kind", "defects"), (_first_of("subjects"), "owners", "object"), (_first_of("needs"), "kind", "safe"),
        (_first_of("needs"), "at", "service"), (_first_of("needs"), "at", ["servise"]), (_first_after, "surely", "yes"),
        (_first_after, "how", "Claimed"), (_first_account, "lost", "surface:face"),
        (_first_account, "untold", ""), (given_of, "needs", []),
    ],
)  # fmt: skip
def test_a_word_that_is_misspelt_or_of_another_kind_is_refused_and_not_passed_over(place: Callable[[Json], Json], key: str, value: Any):
    told = slipper()
    place(told)[key] = value
    with pytest.raises(Unreadable):
        differences(told)


@pytest.mark.parametrize("place", [_first_rule, _first_requirement, _first_of("facts"), _first_of("needs"), _first_account])
def test_a_key_that_is_misspelt_is_a_key_that_is_missing(place: Callable[[Json], Json]):
    read_at_all = {"about", "when", "effect", "by", "routine", "known", "answer", "evidence", "overrides", "establishes", "to",
                   "values", "how", "kind", "at", "checks", "lost", "spared", "untold", "presumed", "volume"}  # fmt: skip
    for key in read_at_all & place(slipper()).keys():
        told = slipper()
        thing = place(told)
        thing[f"{key}?"] = thing.pop(key)
        with pytest.raises(Unreadable):
            differences(told)


def test_a_test_that_is_none_is_refused():
    for test in ({}, {"any": ["yes"]}, {"any_of": "yes"}, {"at_most": "1 ± 0 mm", "below": "1 ± 0 mm"}, {"above": None}, []):
        told = slipper()
        given_of(told)["needs"]["running-clearance"]["checks"][0]["test"] = test
        with pytest.raises(Unreadable):
            differences(told)


def test_a_part_told_as_like_another_has_nothing_of_its_own():
    told = slipper()
    name = next(iter(told["parts"]))
    told["parts"][name]["like"] = name
    with pytest.raises(Unreadable):
        differences(told)


OTHERS: tuple[Any, ...] = (None, [], {}, "", 1, True, [[]], "no such thing", {"x": {}}, "9 ± 1e9 mm")


def test_a_key_left_out_or_of_another_kind_is_never_a_fault_of_the_checker():
    told = slipper()
    refused = 0
    for way in kinds_of_way(told):
        *up, last = way
        holder: Any = told
        for key in up:
            holder = holder[key]
        kept = holder[last]
        for other in (...,) if isinstance(last, int) else (..., *random.Random(str(way)).sample(OTHERS, 4)):
            if other is ...:
                del holder[last]
            else:
                holder[last] = other
            refused += is_refused(told)
            if other is ... and isinstance(last, int):
                holder.insert(last, kept)
            else:
                holder[last] = kept
    assert refused > 150
    assert differences(told) == []


@pytest.mark.parametrize("value", ["1e9999999 ± 0 mm", "9" * 400 + " ± 0 mm", "0.2 ± 0.1 in", "nan ± 0 mm", "0.2", "\N{ARABIC-INDIC DIGIT ZERO} ± 0 mm"])
def test_a_number_that_cannot_be_is_refused(value):
    told = slipper()
    given_of(told)["facts"]["component:crosshead-slipper-top component.running_clearance"]["values"] = [value]
    with pytest.raises(Unreadable):
        differences(told)


def test_rules_that_override_one_another_in_a_circle_are_refused():
    told = slipper()
    one, other, *_ = told["rules"]
    told["rules"][one]["overrides"], told["rules"][other]["overrides"] = [other], [one]
    with pytest.raises(Unreadable):
        differences(told)


def test_many_faces_of_unknown_relief_take_no_longer_than_a_few():
    told = slipper()
    for option in given_of(told)["options"].values():
        faces = [f"surface:{number}" for number in range(500)]
        option["account"] |= {"lost": faces, "presumed": dict.fromkeys(faces)}
    assert differences(told)


# ---- alone -----------------------------------------------------------------------------------------------------


def test_the_checker_imports_the_standard_library_and_nothing_else():
    tree = ast.parse((HOUSE / "conserve" / "checker.py").read_text(encoding="utf-8"))
    loaded = {
        name.partition(".")[0]
        for node in ast.walk(tree)
        for name in ([one.name for one in node.names] if isinstance(node, ast.Import) else [node.module or "."] if isinstance(node, ast.ImportFrom) else [])
    }
    assert loaded <= sys.stdlib_module_names


def run_alone(root: Path, *names: str) -> subprocess.CompletedProcess[str]:
    shutil.copy(HOUSE / "conserve" / "checker.py", root / "checker.py")
    return subprocess.run([sys.executable, "-I", "checker.py", *names], cwd=root, capture_output=True, text=True)


def test_a_copy_of_the_checker_runs_anywhere_and_says_in_its_exit_what_it_found(tmp_path):
    text = text_of("marrow-fen", "crosshead-slipper")
    (tmp_path / "good.json").write_text(text, encoding="utf-8")
    (tmp_path / "bad.json").write_text(text.replace('"verdict": "justified with requirements"', '"verdict": "justified"'), encoding="utf-8")
    (tmp_path / "none.json").write_bytes(b"\xff\xfe")
    sly_words = {**json.loads(text), "conclusion": "\ud800\x1b[2J"}
    (tmp_path / "sly.json").write_text(json.dumps(sly_words), encoding="utf-8")
    good, bad, none, sly = (run_alone(tmp_path, f"{name}.json") for name in ("good", "bad", "none", "sly"))
    assert (good.returncode, good.stdout) == (0, "crosshead-slipper: holds. shim: justified with requirements; decided.\n")
    assert bad.returncode == sly.returncode == 1 and "the proof says" in bad.stdout
    assert none.returncode == 2
    assert run_alone(tmp_path, "good.json", "bad.json", "none.json").returncode == 2
    assert run_alone(tmp_path, "no-such-file.json").returncode == run_alone(tmp_path).returncode == 2
    assert not any(one.stderr for one in (good, bad, none, sly))
    assert "\x1b" not in sly.stdout
