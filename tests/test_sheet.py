"""The workshop sheet: what stands on it, in which order, what is ticked, and what is not to be started."""

from __future__ import annotations

import json
import re
import shutil
from base64 import b64encode
from functools import lru_cache
from hashlib import sha256
from html.parser import HTMLParser
from pathlib import Path

import pytest
from helpers import (
    CLOCK,
    DEMO,
    HOUSE,
    casebook_of,
    clock_rules,
    demo,
    every_weighing,
    places,
    read,
    shipped_rules,
    weighed,
)
from hypothesis import given
from hypothesis import strategies as st

from conserve.casebook import Casebook
from conserve.cli import main
from conserve.files import Folder
from conserve.problem import Location
from conserve.rule import Stage
from conserve.sheet import ACTS, Before, Kind, Line, Sheet, read_sequence, sheet_of
from conserve.sheet.edges import PHASES, WORK, edges_of, place_of
from conserve.sheet.lines import lines_of
from conserve.sheet.order import Circle, Edge, in_order
from conserve.sheet.sequence import ITS_ACT
from conserve.sheet.telling import CERTIFIES_NOTHING, html_sheets, lines_told, markdown_sheets, told
from conserve.sheet.together import merged
from conserve.weighing import Weighing

EVERY = sorted(path.stem for folder in (DEMO, CLOCK) for path in (folder / "proposals").glob("*.yaml"))
GOLDEN = ("pipe-lagging", "stud-17")


@lru_cache(maxsize=1)
def sequence() -> tuple[Before, ...]:
    found, problems = read_sequence(Folder(HOUSE / "rules"), shipped_rules())
    assert problems == ()
    return found


def rules_of(weighing: Weighing):
    return clock_rules() if weighing.casebook.object.overlays else shipped_rules()


@lru_cache(maxsize=64)
def sheet(name: str) -> Sheet:
    weighing = every_weighing()[name]
    return sheet_of(weighing, rules_of(weighing), sequence())


def every_line(weighing: Weighing) -> tuple[Line, ...]:
    vocabulary = shipped_rules().vocabulary
    return merged((part.component.id, tuple(lines_of(weighing, part, vocabulary))) for part in weighing.parts)


def edges_between(weighing: Weighing, lines: tuple[Line, ...], befores: tuple[Before, ...] = ()) -> tuple[Edge, ...]:
    option = weighing.worst.option(weighing.chosen).option
    return tuple(edges_of(lines, befores or sequence(), option, shipped_rules().vocabulary))


def in_their_order(weighing: Weighing) -> list[str]:
    """The ids of every line that an option has, in order, whether the sheet prints them or not."""
    lines = every_line(weighing)
    order = in_order({line.key: place_of(line) for line in lines}, edges_between(weighing, lines))
    assert not isinstance(order, Circle)
    by_key = {line.key: line.id for line in lines}
    return [by_key[key] for key in order]


def line(of: Sheet, name: str) -> Line:
    return next(one for one in of.lines if one.id == name)


def altered(root: Path, proposal: str, old: str, new: str) -> Casebook:
    """The demonstration with one passage of a proposal written otherwise."""
    shutil.copytree(DEMO, root, ignore=shutil.ignore_patterns("records"))
    path = root / "proposals" / f"{proposal}.yaml"
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new), encoding="utf-8")
    return read(Folder(root))


def altered_sheet(root: Path, proposal: str, old: str, new: str) -> Sheet:
    return sheet_of(weighed(altered(root, proposal, old, new), proposal), shipped_rules(), sequence())


# ---- order: the laws ------------------------------------------------------------------------------------

NAMES = [f"step-{number}" for number in range(9)]


@st.composite
def steps(draw):
    """Steps with places, and edges between any of them."""
    names = draw(st.lists(st.sampled_from(NAMES), unique=True, min_size=1))
    some = {name: (draw(st.integers(0, 4)), draw(st.integers(0, 3))) for name in names}
    pairs = st.tuples(st.sampled_from(names), st.sampled_from(names))
    edges = [Edge(first, then, "so it is") for first, then in draw(st.lists(pairs, max_size=14))]
    return some, edges


def forward(places_, edges):
    """Edges that cannot go in a circle, since all run one way along the names."""
    return [Edge(min(e.first, e.then), max(e.first, e.then), e.because) for e in edges if e.first != e.then]


@given(steps())
def test_every_step_stands_once_and_no_edge_is_broken(given_steps):
    some, edges = given_steps
    kept = forward(some, edges)
    order = in_order(some, kept)
    assert not isinstance(order, Circle)
    assert sorted(order) == sorted(some)
    assert all(order.index(edge.first) < order.index(edge.then) for edge in kept)


@given(steps(), st.randoms(use_true_random=False))
def test_the_order_in_which_steps_and_edges_are_given_does_not_matter(given_steps, chance):
    some, edges = given_steps
    shuffled, items = list(edges), list(some.items())
    chance.shuffle(shuffled)
    chance.shuffle(items)
    assert in_order(dict(items), shuffled) == in_order(some, edges)


@given(steps())
def test_a_circle_that_is_told_is_one_and_is_told_only_where_there_is_one(given_steps):
    some, edges = given_steps
    order = in_order(some, edges)
    if isinstance(order, Circle):
        assert all(edge in edges for edge in order.edges)
        assert all(a.then == b.first for a, b in zip(order.edges, (*order.edges[1:], order.edges[0]), strict=True))
    else:
        assert all(order.index(edge.first) < order.index(edge.then) for edge in edges)


@given(steps())
def test_without_edges_steps_stand_by_their_places(given_steps):
    some, _ = given_steps
    assert in_order(some, []) == tuple(sorted(some, key=lambda name: (some[name], name)))


def test_a_step_takes_the_place_of_what_waits_for_it():
    # "late" would stand last by itself; something early waits for it, and so nothing else goes first.
    order = in_order({"late": (9,), "early": (1,), "middle": (5,)}, [Edge("late", "early", "")])
    assert order == ("late", "early", "middle")


# ---- order: sheets ----------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EVERY)
def test_every_edge_is_kept_on_every_sheet(name):
    lines = sheet(name).lines
    at = {one.key: number for number, one in enumerate(lines)}
    for edge in edges_between(every_weighing()[name], lines):
        assert at[edge.first] < at[edge.then], edge


@pytest.mark.parametrize("name", EVERY)
def test_no_stage_stands_after_the_one_that_follows_it(name):
    acts = [number for number, one in enumerate(sheet(name).lines) if one.kind is Kind.ACT]
    for number, one in enumerate(sheet(name).lines):
        if acts and PHASES[one.stage] < WORK:
            assert number < acts[0], one.id
        if acts and one.stage is Stage.BEFORE_USE:
            assert number > acts[-1], one.id
    assert [one.act for one in sheet(name).lines if one.kind is Kind.ACT] == list(range(1, len(acts) + 1))


@pytest.mark.parametrize("name", ["rocking-lever-eye", "winder", "summer-care"])
def test_the_order_of_lines_and_of_what_the_shop_knows_does_not_matter(name):
    weighing = every_weighing()[name]
    lines = every_line(weighing)
    where = {one.key: place_of(one) for one in lines}
    edges = edges_between(weighing, lines)
    backwards = dict(reversed(where.items()))
    other = edges_between(weighing, tuple(reversed(lines)), tuple(reversed(sequence())))
    assert in_order(backwards, other) == in_order(where, edges)


PART = """\
    name: Chain sheave
    role: [lifting]
    material: wrought-iron
    examined: yes
    present: yes
    hazards: none
    surfaces:
      rim: {function: bearing, finish: later-paint, marks: none}
    repairs: none
    defects: none
    """
PROPOSAL = """\
    title: Strip and paint the sheave
    component: sheave
    needs:
      sound:
        kind: stability
        says: It rusts no further.
        test: {component.serviceable: yes}
        set_by: the lead
    options:
      leave: {acts: []}
      strip:
        acts:
          - {technique: FIRST, where: rim, takes: none, treats: none}
          - {technique: painting, where: rim, takes: none, treats: none}
    preferred: strip
    """


def order_with(root: Path, first: str) -> list[str]:
    files = {"components/sheave.yaml": PART, "proposals/strip.yaml": PROPOSAL.replace("FIRST", first)}
    return in_their_order(weighed(casebook_of(root, files)))


def test_a_part_is_tested_for_cracks_while_it_is_bare_and_before_it_is_painted(tmp_path):
    order = order_with(tmp_path, "paint-stripping")
    assert order.index("act/1") < order.index("order/cracks-while-bare") < order.index("act/2")


def test_weather_and_witness_come_before_the_coat_that_they_are_about(tmp_path):
    order = order_with(tmp_path, "paint-stripping")
    assert order.index("act/1") < order.index("surface/weather-read") < order.index("act/2")


def test_a_cut_face_is_measured_before_it_is_painted_over(tmp_path):
    order = order_with(tmp_path, "milling, depth: 0.2 mm")
    assert order.index("act/1") < order.index("machining/as-left-measured") < order.index("act/2")


def test_a_bore_that_the_same_act_bushes_is_measured_before_the_bush_goes_in():
    placed = {one.line.id: one for part in sheet("rocking-lever-eye").sections for one in part.lines}
    assert placed["machining/as-left-measured"].because[0].startswith("Within act 2, before the new goes in")
    placed = {one.line.id: one for part in sheet("slide-valve-face").sections for one in part.lines}
    assert placed["machining/as-left-measured"].because == ()  # scraping hides nothing


def test_what_will_be_hidden_is_photographed_before_the_first_act(tmp_path):
    order = order_with(tmp_path, "paint-stripping")
    assert order.index("record/hidden-first") < order.index("act/1")


def test_the_reason_is_told_where_a_line_stands_between_two_acts(tmp_path):
    files = {"components/sheave.yaml": PART, "proposals/strip.yaml": PROPOSAL.replace("FIRST", "paint-stripping")}
    weighing = weighed(casebook_of(tmp_path, files))
    reasons = {edge.because for edge in edges_between(weighing, every_line(weighing))}
    assert "a coat hides a crack" in reasons


def test_danger_is_dealt_with_before_anyone_photographs():
    ids = [one.id for one in sheet("strike-hook").lines]
    assert ids.index("safety/stored-energy") < ids.index("record/hidden-first")
    assert ids.index("turret-clock/safety/stopped-and-tied") < ids.index("joining/crack-recorded")


def test_the_copy_of_the_record_comes_last_of_what_is_due_after_the_work():
    after = [one.id for one in sheet("stud-17").lines if one.stage is Stage.AFTER_WORK]
    assert after[-1] == "record/two-copies"


def test_an_order_that_goes_in_a_circle_stops_the_work_and_prints_no_line():
    where = Location("rules/sequence.yaml", 1, 1)
    a, b = "use/running-logged", "use/stop-at-a-limit"
    circle = (Before(a, b, "one", "common-practice", where), Before(b, a, "other", "common-practice", where))
    found = sheet_of(every_weighing()["crosshead-slipper"], shipped_rules(), circle)
    assert found.stop[0].startswith("Not to be started: the order of these cannot be kept.")
    assert "one" in found.stop[0] and "other" in found.stop[0]
    assert found.sections == ()
    assert found.left_out


# ---- what comes before what, as a file ----------------------------------------------------------------------


def problems_in(root: Path, text: str):
    (root / "sequence.yaml").write_text(text, encoding="utf-8")
    found, problems = read_sequence(Folder(root), shipped_rules())
    assert found == ()
    return places(problems)


def test_a_name_that_is_nothing_is_pointed_at(tmp_path):
    text = "before:\n  - {first: [record/hiden-first], then: [coating], because: so, source: common-practice}\n"
    assert problems_in(tmp_path, text) == [("R059", 2, 14)]


def test_a_source_that_is_not_there_is_pointed_at(tmp_path):
    text = "before:\n  - {first: [record/hidden-first], then: [coating], because: so, source: hearsay}\n"
    assert problems_in(tmp_path, text) == [("R059", 2, 74)]


def test_two_acts_are_not_put_in_order_for_the_option_does_that(tmp_path):
    text = "before:\n  - {first: [heating], then: [coating], because: so, source: common-practice}\n"
    assert problems_in(tmp_path, text) == [("R060", 2, 31)]


def test_a_circle_in_the_file_is_told(tmp_path):
    text = """\
before:
  - {first: [record/hidden-first], then: [surface/try-first], because: so, source: common-practice}
  - {first: [surface/try-first], then: [record/hidden-first], because: so, source: common-practice}
"""
    assert [code for code, _, _ in problems_in(tmp_path, text)] == ["R060"]


def test_a_folder_of_rules_without_the_file_knows_no_order(tmp_path):
    assert read_sequence(Folder(tmp_path), shipped_rules()) == ((), ())


def test_no_verdict_rests_on_the_file(tmp_path):
    from conserve.rulebook import read_rulebook

    shutil.copytree(HOUSE / "rules", tmp_path / "rules")
    (tmp_path / "rules" / "sequence.yaml").write_text("before: []\n", encoding="utf-8")
    without, problems = read_rulebook(Folder(tmp_path / "rules"))
    assert problems == ()
    assert without is not None and without.digest == shipped_rules().digest


def test_every_word_for_an_act_and_every_rule_in_the_file_is_used_somewhere():
    used = {name for one in sequence() for name in (one.first, one.then)}
    assert ITS_ACT in used
    assert used & set(ACTS)
    assert all(one.because for one in sequence())


# ---- ticks ------------------------------------------------------------------------------------------------


def test_what_the_work_has_met_is_ticked_with_its_day_and_its_evidence():
    done = line(sheet("crosshead-slipper"), "record/hidden-first").done
    assert done is not None
    assert (str(done.on), done.evidence) == ("2026-03-13", ("back-face-before",))


def test_evidence_that_answers_a_rule_ticks_it_without_anyone_ticking_it():
    done = line(sheet("strike-hook"), "safety/stored-energy").done
    assert done is not None
    assert done.evidence == ("strike-weight-statement",)


def test_what_is_measured_as_left_ticks_the_measuring_and_is_told():
    one = line(sheet("crosshead-slipper"), "needs/running-clearance")
    assert one.kind is Kind.MEASURED
    assert one.done is not None and one.done.by == "S. Varley"
    assert "0.22 ± 0.04 mm" in one.note


def test_a_measurement_that_differs_from_the_promise_asks_for_a_new_weighing(tmp_path):
    old, new = "running_clearance: 0.22 ± 0.04 mm}", "running_clearance: 0.42 ± 0.04 mm}"
    one = line(altered_sheet(tmp_path / "book", "crosshead-slipper", old, new), "needs/running-clearance")
    assert "weigh it anew" in one.note


def test_nothing_is_ticked_where_nobody_has_measured(tmp_path):
    old = "  measured: {component.running_clearance: 0.22 ± 0.04 mm}\n"
    one = line(altered_sheet(tmp_path / "book", "crosshead-slipper", old, ""), "needs/running-clearance")
    assert one.done is None
    assert one.write == "work: measured: component.running_clearance"


TICK = "- {requirement: record/hidden-first, date: 2026-03-13, evidence: [back-face-before]}"


def test_a_tick_without_the_evidence_asked_for_does_not_count_and_says_so(tmp_path):
    bare = "- {requirement: record/hidden-first, date: 2026-03-13, by: S. Varley}"
    one = line(altered_sheet(tmp_path / "book", "crosshead-slipper", TICK, bare), "record/hidden-first")
    assert one.done is None
    assert "does not count: it wants a registered photograph" in one.note


def test_a_tick_with_a_name_counts_where_no_evidence_is_asked_for(tmp_path):
    more = f"{TICK}\n    - {{requirement: record/materials-named, date: 2026-03-20, by: S. Varley}}"
    one = line(altered_sheet(tmp_path / "book", "crosshead-slipper", TICK, more), "record/materials-named")
    assert one.done is not None
    assert (str(one.done.on), one.done.by) == ("2026-03-20", "S. Varley")


def test_a_tick_that_belongs_to_no_line_is_told(tmp_path):
    more = f"{TICK}\n    - {{requirement: removed/tagged, date: 2026-03-20, by: S. Varley}}"
    found = altered_sheet(tmp_path / "book", "crosshead-slipper", TICK, more)
    assert [one.partition(" ")[0] for one in found.strays] == ["removed/tagged"]


@pytest.mark.parametrize("name", EVERY)
def test_every_open_line_says_what_to_write_so_that_it_counts(name):
    for one in sheet(name).lines:
        if one.done is None:
            assert one.write, one.id
            assert one.kind is Kind.ACT or one.id in one.write or one.kind is Kind.MEASURED, one.id


# ---- what is due, and nothing else --------------------------------------------------------------------------


def test_where_an_option_stands_every_requirement_of_every_part_has_its_line():
    standing = [one for one in every_weighing().values() if one.verdict.stands]
    assert len(standing) > 10
    for weighing in standing:
        asked = {
            one.id
            for part in weighing.parts
            for one in part.option(weighing.chosen).requirements
            if not (one.by is Stage.DECISION and one.met)
        }
        found = {one.id for one in sheet(weighing.proposal.id).lines}
        acts = weighing.worst.option(weighing.chosen).option.acts
        assert asked | {f"act/{act.number}" for act in acts} <= found, weighing.proposal.id


def test_no_act_is_printed_where_the_option_does_not_stand():
    others = [one.proposal.id for one in every_weighing().values() if not one.verdict.stands]
    assert len(others) > 5
    for name in others:
        assert all(one.kind is not Kind.ACT for one in sheet(name).lines)
        assert sheet(name).left_out


def test_a_line_is_done_only_when_it_is_done_for_every_part_that_owes_it():
    one = Line("r/x", Kind.ASKED, "Do it.")
    from datetime import date

    from conserve.sheet.model import Done

    ticked = Line("r/x", Kind.ASKED, "Do it.", done=Done(date(2026, 1, 5), "A. Name", ()))
    (both,) = merged([("a", [ticked]), ("b", [one])])
    assert both.done is None
    assert "still owed for b" in both.note
    (all_done,) = merged([("a", [ticked]), ("b", [ticked])])
    assert all_done.done is not None
    (some,) = merged([("a", [one]), ("b", [])])
    assert some.parts == ("a",)


# ---- not to be started ------------------------------------------------------------------------------------


def test_what_nobody_has_decided_is_not_to_be_started():
    assert sheet("rocking-lever-eye").stop == (
        "Not to be started: nobody has decided. 'bush-warmed' is only preferred.",
    )


def test_what_is_decided_and_stands_may_be_started():
    for name in ("crosshead-slipper", "stud-17", "tray-bracket", "bell-blow"):
        assert sheet(name).stop == ()


def test_what_is_done_under_a_policy_needs_no_decision():
    for name in ("pump-drying", "summer-care", "monthly-care", "weight-landed"):
        assert not any("decided" in said or "justified" in said for said in sheet(name).stop)


def test_work_that_went_past_an_unsigned_hold_is_told_at_the_top():
    assert [said.partition(":")[0] for said in sheet("pump-drying").stop] == [
        "Held for and not signed, though the work began on 2026-02-02"
    ]
    assert "'Nobody climbs in without a permit'" in sheet("pump-drying").stop[0]
    assert sheet("summer-care").stop == ()  # begun, and nothing is held for before it
    assert sheet("crosshead-slipper").stop == ()  # begun, and its hold is ticked


def test_finished_work_whose_hold_nobody_signed_is_told_too(tmp_path):
    found = altered_sheet(tmp_path / "book", "crosshead-slipper", TICK, "[]").stop
    assert len(found) == 1 and found[0].startswith("Held for and not signed, though the work began on 2026-03-14:")


def test_a_standing_referral_stops_the_work_and_names_who_is_to_be_asked():
    found = sheet("pipe-lagging")
    assert found.stop[0].startswith("Not to be started: a competent person is to be asked first.")
    holds = [one for one in found.lines if one.kind is Kind.REFERRED]
    assert holds and all(one.hold and one.signs == "K. Dunning, asbestos surveyor" for one in holds)


def test_what_is_decided_against_the_verdict_says_so_at_the_top(tmp_path):
    decision = "decision: {chosen: bind-over, by: lead, date: 2026-03-01, reason: The visitors come.}"
    found = altered_sheet(tmp_path / "book", "pipe-lagging", "preferred: bind-over", f"preferred: bind-over\n{decision}")
    assert found.stop[0].startswith("Not to be started")
    assert "decided all the same, on 2026-03-01 by M. Tranter, lead: The visitors come." in found.stop[1]


def test_work_that_has_begun_and_does_not_stand_is_to_stop(tmp_path):
    more = "preferred: bind-over\nwork: {began: 2026-03-02}"
    found = altered_sheet(tmp_path / "book", "pipe-lagging", "preferred: bind-over", more)
    assert found.stop[0].startswith("Stop the work, and leave it safe:")


def test_what_stays_out_of_use_and_what_an_option_gives_up_are_told_before_the_work():
    assert any("stays out of that use" in said for said in sheet("pipe-lagging").not_to_do)
    assert any("gives up" in said for said in sheet("pump-davit").not_to_do)


# ---- hold points --------------------------------------------------------------------------------------------


@pytest.mark.parametrize("name", EVERY)
def test_every_hold_says_who_signs_and_only_holds_do(name):
    for one in sheet(name).lines:
        assert bool(one.signs) is one.hold, one.id


def test_what_keeps_people_safe_before_the_work_is_held_for_whatever_shows_it():
    one = line(sheet("bell-blow"), "turret-clock/safety/stopped-and-tied")
    assert (one.hold, one.signs) == (True, "N. Garrow, lead")


@pytest.mark.parametrize("name", EVERY)
def test_what_someone_competent_must_write_is_not_left_to_the_lead(name):
    for one in sheet(name).lines:
        if one.hold and "by someone competent under local law" in one.says:
            assert one.signs == "someone competent under local law, to be named"


def test_a_conclusion_before_use_and_evidence_before_work_are_held_for():
    assert line(sheet("rocking-lever-eye"), "safety/set-going-judged").signs == "J. Hexter, competent engineer"
    assert line(sheet("rocking-lever-eye"), "record/hidden-first").signs == "M. Tranter, lead"
    assert line(sheet("rocking-lever-eye"), "safety/hot-work-permit").signs.startswith("whoever may give the permit")
    assert not line(sheet("rocking-lever-eye"), "use/running-logged").hold


# ---- the page -------------------------------------------------------------------------------------------------


class Reader(HTMLParser):
    """What a page holds: its words in order, its tags, and its attributes."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.tags: list[tuple[str, dict[str, str | None]]] = []

    def handle_starttag(self, tag, attrs):
        self.tags.append((tag, dict(attrs)))

    def handle_data(self, data):
        self.words.append(data)


def page(*names: str) -> tuple[str, Reader]:
    said = html_sheets([sheet(name) for name in names], "Workshop sheets")
    reader = Reader()
    reader.feed(said)
    return said, reader


def test_cautions_stand_before_every_line_in_every_form():
    warned = [name for name in EVERY if sheet(name).cautions and sheet(name).lines]
    assert len(warned) > 10
    for name in warned:
        found, title = sheet(name), sheet(name).sections[0].title
        text = "\n".join(said for _, _, said, _ in lines_told(told(found)))
        for said, heading in ((text, f"\n{title}\n"), (markdown_sheets([found]), f"\n## {title}\n")):
            above = said[: said.index(heading)]
            assert all(caution in above for caution in found.cautions)
        _, reader = page(name)
        assert reader.words.index("Cautions") < reader.words.index(title)


def test_the_page_fetches_nothing_and_runs_nothing():
    said, reader = page(*EVERY)
    assert not {"script", "img", "iframe"} & {tag for tag, _ in reader.tags}
    assert [dict(attrs)["href"] for tag, attrs in reader.tags if tag == "link"] == ["data:,"]
    style = re.search(r"<style>(.*?)</style>", said, re.DOTALL)
    assert style is not None
    digest = b64encode(sha256(style[1].encode()).digest()).decode()
    assert f"style-src 'sha256-{digest}'" in said
    assert "://" not in said


def test_the_page_has_each_id_once_and_one_first_heading():
    _, reader = page(*EVERY)
    ids = [attrs["id"] for _, attrs in reader.tags if "id" in attrs]
    assert len(ids) == len(set(ids))
    assert [tag for tag, _ in reader.tags].count("h1") == 1
    for _, attrs in reader.tags:
        if "aria-labelledby" in attrs:
            assert attrs["aria-labelledby"] in ids


def test_done_and_held_are_told_in_words_and_not_by_a_mark_alone():
    _, reader = page("stud-17")
    words = " ".join(reader.words)
    assert "HOLD" in words
    assert words.count("✓") == len(re.findall(r"Done 20", words)) > 0


def test_what_a_casebook_says_cannot_become_markup(tmp_path):
    found = altered_sheet(tmp_path / "book", "stud-17", "title: Renew the wasted cover stud", "title: <b>Renew</b> *it*")
    assert "<b>Renew" not in html_sheets([found], "x")
    assert "<b>" not in markdown_sheets([found])
    assert r"\*it\*" in markdown_sheets([found])


@pytest.mark.parametrize("name", EVERY)
def test_every_sheet_says_that_it_certifies_nothing(name):
    one = told(sheet(name))
    assert one.foot.startswith(CERTIFIES_NOTHING)
    assert any(CERTIFIES_NOTHING in said for _, _, said, _ in lines_told(one))
    assert CERTIFIES_NOTHING in markdown_sheets([sheet(name)])


@pytest.mark.parametrize("name", GOLDEN)
def test_the_golden_sheets_are_what_is_written_today(name):
    golden = HOUSE / "tests" / "sheets" / f"{name}.md"
    assert golden.read_text(encoding="utf-8") == markdown_sheets([sheet(name)])


# ---- the command ------------------------------------------------------------------------------------------------


def test_the_command_prints_a_sheet(capsys, monkeypatch):
    monkeypatch.chdir(HOUSE)
    assert main(["sheet", "crosshead-slipper"]) == 0
    said = capsys.readouterr().out
    assert "[x] HOLD: Photograph, with a scale" in said
    assert "record/materials-named" in said


def test_the_command_writes_a_page_and_never_over_a_file(capsys, monkeypatch, tmp_path):
    monkeypatch.chdir(HOUSE)
    target = tmp_path / "slipper.html"
    assert main(["sheet", "crosshead-slipper", "--out", str(target)]) == 0
    assert target.read_text(encoding="utf-8").startswith("<!DOCTYPE html>")
    before = target.read_bytes()
    assert main(["sheet", "crosshead-slipper", "--out", str(target)]) == 2
    assert target.read_bytes() == before
    assert main(["sheet", "crosshead-slipper", "--out", str(tmp_path / "slipper.md")]) == 0
    assert (tmp_path / "slipper.md").read_text(encoding="utf-8").startswith("# Take up the slack")
    capsys.readouterr()


@pytest.mark.parametrize("more", [["--out", "wall.pdf"], ["--out", "wall.docx"], ["--out", "wall.html", "--json"]])
def test_a_file_is_not_called_what_it_is_not(capsys, monkeypatch, tmp_path, more):
    monkeypatch.chdir(tmp_path)
    assert main(["sheet", "crosshead-slipper", "--in", str(DEMO), *more]) == 2
    assert "ends in" in capsys.readouterr().err
    assert list(tmp_path.iterdir()) == []


def test_the_command_takes_a_component(capsys):
    assert main(["sheet", str(DEMO), "--of", "crankshaft", "--json"]) == 0
    found = json.loads(capsys.readouterr().out)
    about = [one.id for one in demo().proposals if "crankshaft" in one.components]
    assert [one["proposal"] for one in found] == about
    assert main(["sheet", str(DEMO), "--of", "crankshift"]) == 2
    assert "did you mean 'crankshaft'?" in capsys.readouterr().err


def test_a_sequence_that_is_broken_is_told_and_nothing_is_printed(capsys, monkeypatch, tmp_path):
    monkeypatch.chdir(HOUSE)
    shutil.copytree(HOUSE / "rules", tmp_path / "rules")
    (tmp_path / "rules" / "sequence.yaml").write_text("before: [{first: [x]}]\n", encoding="utf-8")
    assert main(["sheet", "stud-17", "--rules", str(tmp_path / "rules")]) == 2
    told_ = capsys.readouterr()
    assert told_.out == ""
    assert "R002" in told_.err
