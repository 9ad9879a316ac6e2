"""How much of a part and of the object is left, through its history and after an option."""

from __future__ import annotations

import math
from decimal import Decimal
from pathlib import Path
from tempfile import TemporaryDirectory
from textwrap import indent

import pytest
from helpers import casebook_of, demo, places, problems_of, shipped_rules, weighed
from hypothesis import given, settings
from hypothesis import strategies as st
from test_account import KEEPS

from conserve.account import UNITS, Account, Column, Compared, Held, account_of, compare, held_now, rolled_up
from conserve.account.why import Why
from conserve.casebook import Casebook
from conserve.explanation.proof import proof
from conserve.quantity import ONE, Quantity, below
from conserve.record.page import page_of
from conserve.truth import Truth

# A plain cover, 300 by 180 by 60 mm, with its weight reckoned from iron of 7200 kg/m3.
COVER = """\
name: Cover
material: grey-cast-iron
phase: as-built
significance: some
made_to_be_renewed: no
present: yes
mass: 23.328 ± 0 kg
surfaces:
  top: {area: 540 ± 0 cm2, marks: {stamp: {kind: stamp}}}
  bottom: {area: 540 ± 0 cm2, marks: {line: {kind: scribe-line}}}
  edges: {area: 576 ± 0 cm2, marks: none}
repairs: none
history: none
"""
NEED = "needs: {runs: {kind: function, says: It runs., test: {component.serviceable: yes}, set_by: me}}"


def casebook(root, parts: dict[str, str], acts: dict[str, str] | None = None, of: str = "cover") -> Casebook:
    files = {f"components/{name}.yaml": text for name, text in parts.items()}
    if acts:
        options = "".join(f"  {name}: {{acts: [{text}]}}\n" for name, text in acts.items())
        files["proposals/q.yaml"] = (
            f"title: T\ncomponent: {of}\n{NEED}\noptions:\n{options}preferred: {next(iter(acts))}\n"
        )
    return casebook_of(root, files)


def accounts(root, part: str = COVER, **acts: str) -> dict[str, Account]:
    book = casebook(root, {"cover": part}, acts)
    words = shipped_rules().vocabulary
    return {o.id: account_of(o, book.components["cover"], words) for o in book.proposals[0].options}


def today(root, part: str) -> Held:
    return held_now(casebook(root, {"cover": part}).components["cover"], shipped_rules().vocabulary)


def told(column: Column) -> dict[str, float | None]:
    """The amounts of a column in its own unit."""
    names = ("made", "before", "taken", "stored", "left", "share")
    units = {**dict.fromkeys(names, UNITS[column.name]), "share": "%"}
    amounts = {name: getattr(column, name) for name in names}
    return {n: None if q is None else float(q.in_unit(units[n]).amount) for n, q in amounts.items()}


def shares(held: Held) -> dict[str, float | None]:
    return {column.name: told(column)["share"] for column in held.columns}


def with_history(*events: str) -> str:
    return COVER.replace("history: none\n", "history:\n" + indent("".join(f"- {event}\n" for event in events), "  "))


# ---- after an option -----------------------------------------------------------------------------

SKIM = f"{{technique: milling, where: top, depth: 1.5 ± 0.1 mm, {KEEPS.replace('none', '[stamp]')}}}"


def test_one_skimmed_face_fares_differently_in_each_measure(tmp_path):
    # Derived: 1.5 of 60 mm leaves 97.50 ± 0.17 % of the metal, 111 600 of 165 600 mm2, one of two marks.
    held = accounts(tmp_path, skim=SKIM)["skim"].held
    assert shares(held) == {
        "parts": 100,
        "marks": 50,
        "surface": pytest.approx(100 * 1116 / 1656),
        "metal": pytest.approx(97.5),
    }
    metal = held.column("metal").share
    # dm/m: 0.1 mm of 60, and the density's ± on what is cut, 150/7200 of 2.5 %.
    assert float(metal.uncertainty) == pytest.approx(100 * math.hypot(0.1 / 60, 2.5 / 100 * 150 / 7200), rel=1e-3)
    assert held.worst is not None and held.worst.name == "marks"


def test_a_part_that_is_replaced_and_kept_is_in_store_and_no_longer_in_place(tmp_path):
    held = accounts(tmp_path, new="{technique: replacement, removed_parts: kept}")["new"].held
    assert told(held.column("metal")) == {
        "made": 23.328, "before": 0, "taken": 0, "stored": 23.328, "left": 0, "share": 0,
    }  # fmt: skip
    assert set(shares(held).values()) == {0}
    assert held.column("marks").stored == Quantity(Decimal(2), Decimal(0), ONE)


def test_a_part_that_is_cut_and_then_replaced_goes_to_store_with_what_the_cut_left(tmp_path):
    held = accounts(tmp_path, both=f"{SKIM}, {{technique: replacement, removed_parts: kept}}, {SKIM}")["both"].held
    metal = told(held.column("metal"))
    # The second skim is of the new part.
    assert (metal["taken"], metal["stored"]) == (pytest.approx(0.5832), pytest.approx(22.7448))
    assert told(held.column("surface"))["taken"] == 540


def test_a_part_that_is_discarded_is_taken(tmp_path):
    held = accounts(tmp_path, new="{technique: replacement, removed_parts: discarded}")["new"].held
    assert told(held.column("parts")) == {"made": 1, "before": 0, "taken": 1, "stored": 0, "left": 0, "share": 0}


def test_a_kept_part_that_goes_back_is_in_place_again(tmp_path):
    part = COVER + "stored: {place: shelf}\n"
    found = accounts(tmp_path, part, back="{technique: refitting}", leave="{technique: drying}")
    assert told(found["leave"].held.column("parts"))["stored"] == 1
    assert set(shares(found["back"].held).values()) == {100}


def test_a_part_made_to_be_renewed_goes_from_its_place_although_that_is_no_loss(tmp_path):
    part = COVER.replace("renewed: no", "renewed: yes").replace("{stamp: {kind: stamp}}", "none")
    account = accounts(
        tmp_path, part.replace("{line: {kind: scribe-line}}", "none"), new="{technique: replacement, removed_parts: kept}"
    )["new"]
    assert account.lost == frozenset()
    assert told(account.held.column("parts"))["stored"] == 1


# ---- before today ----------------------------------------------------------------------------------


def test_what_was_taken_before_counts_and_what_was_added_does_not(tmp_path):
    part = with_history(
        "{date: 1911, kind: altered, says: Ground., took: {mass: 1.0 ± 0.1 kg, surfaces: [top], marks: [old-stamp]}, added: none}",
        "{date: 1950, kind: repaired, says: Filled., took: none, added: {mass: 0.5 ± 0.1 kg}}",
        "{date: 2026-01-01, kind: examined, says: Looked at.}",
    )
    held = today(tmp_path, part)
    # 23.328 kg today, of which 0.5 kg is filler; 1 kg had gone.
    assert told(held.column("metal")) == pytest.approx(
        {"made": 23.828, "before": 1, "taken": 0, "stored": 0, "left": 22.828, "share": 100 * 22.828 / 23.828}
    )
    assert told(held.column("marks"))["share"] == pytest.approx(200 / 3)
    assert told(held.column("surface"))["share"] == pytest.approx(100 * 1116 / 1656)
    assert float(held.added.amount) == 0.5


def test_a_surface_that_went_before_does_not_go_again(tmp_path):
    part = with_history("{date: 1911, kind: altered, says: Ground., took: {mass: 1 ± 0.1 kg, surfaces: [top], marks: none}, added: none}")
    surface = told(accounts(tmp_path, part, skim=SKIM)["skim"].held.column("surface"))
    assert (surface["before"], surface["taken"], surface["left"]) == (540, 0, 1116)


def test_a_volume_that_was_taken_weighs_by_the_density_of_the_part(tmp_path):
    part = with_history("{date: 1911, kind: damaged, says: Chipped., took: {volume: 100 ± 5 cm3, surfaces: none, marks: none}}")
    assert told(today(tmp_path, part).column("metal"))["before"] == pytest.approx(0.72)


@pytest.mark.parametrize(
    ("part", "column", "why"),
    [
        (COVER.replace("history: none\n", ""), "metal", Why.HISTORY),
        (COVER.replace("mass: 23.328 ± 0 kg\n", ""), "metal", Why.MASS),
        (COVER.replace("top: {area: 540 ± 0 cm2, ", "top: {"), "surface", Why.AREA),
        (COVER.replace("edges: {area: 576 ± 0 cm2, marks: none}", "edges: {area: 576 ± 0 cm2}"), "marks", Why.MARKS),
        (COVER.replace("present: yes\n", ""), "parts", Why.PRESENCE),
        (COVER.replace("repairs: none", "repairs: {patch: {technique: patch}}"), "metal", Why.REPAIR),
        (with_history("{date: 1911, kind: altered, says: Filed., added: none}"), "metal", Why.TOOK),
        (with_history("{date: 1911, says: Something.}"), "marks", Why.TOOK),
        (with_history("{date: 1911, kind: altered, says: Filed., took: none}"), "metal", Why.ADDED),
        (with_history("{date: 1911, kind: altered, says: Filed., took: {mass: 1 ± 0.1 kg}, added: none}"), "surface", Why.TOOK),
        (COVER.replace("present: yes", "present: no").replace("mass: 23.328 ± 0 kg\n", ""), "metal", Why.MASS),
    ],
)
def test_a_measure_that_cannot_be_told_says_why(tmp_path, part, column, why):
    found = today(tmp_path, part).column(column)
    assert found.share is None
    assert found.why == (why,)


def test_a_cut_of_unknown_size_leaves_an_unknown_amount(tmp_path):
    part = COVER.replace("material: grey-cast-iron\n", "")
    column = accounts(tmp_path, part, skim=SKIM)["skim"].held.column("metal")
    assert (column.left, column.why) == (None, (Why.CUT,))


def test_where_nobody_says_which_marks_go_none_are_counted(tmp_path):
    column = accounts(tmp_path, skim=SKIM.replace("takes: [stamp], ", ""))["skim"].held.column("marks")
    assert (column.left, column.why) == (None, (Why.MARKS_GOING,))


def test_a_part_that_is_missing_went_before(tmp_path):
    held = today(tmp_path, COVER.replace("present: yes", "present: no"))
    assert told(held.column("parts")) == {"made": 1, "before": 1, "taken": 0, "stored": 0, "left": 0, "share": 0}
    assert set(shares(held).values()) == {0}


# ---- what is written -------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("took", "found"),
    [
        ("took: {surfaces: [lid]}", [("C062", 14, 33)]),
        ("took: {marks: [stamp]}", [("C079", 14, 30)]),
        ("took: {mass: 1 ± 0 kg, volume: 1 ± 0 cm3}", [("C080", 14, 47)]),
        ("took: {mass: -1 ± 0 kg}", [("C081", 14, 29)]),
        ("added: {surfaces: [top]}", [("C001", 14, 24)]),
        ("took: {mass: 1 ± 0 mm}", [("C013", 14, 29)]),
        ("took: some", [("C005", 14, 22)]),
    ],
)
def test_a_change_that_cannot_be_points_at_its_place(tmp_path, took, found):
    part = COVER.replace("history: none\n", f"history:\n- {{date: 1911, {took}, says: So.}}\n")
    assert places(problems_of(tmp_path, {"components/cover.yaml": part})) == found


# ---- the whole object --------------------------------------------------------------------------------


def test_parts_add_up_to_the_assembly_and_to_the_object(tmp_path):
    parts = {
        "cover": COVER,
        "lid": COVER + "part_of: cover\n",
        "frame": COVER.replace("mass: 23.328 ± 0 kg\n", ""),
        "tray": COVER.replace("present: yes", "present: no"),
    }
    book, words = casebook(tmp_path, parts, {"skim": SKIM}), shipped_rules().vocabulary
    after = account_of(book.proposals[0].option("skim"), book.components["cover"], words).held
    whole = rolled_up(book, words, {"cover": after})
    assert told(whole.held.column("parts"))["share"] == 75
    # Three parts in place with two marks each, of which one goes.
    assert told(whole.held.column("marks")) == {
        "made": 8, "before": 2, "taken": 1, "stored": 0, "left": 5, "share": 62.5,
    }  # fmt: skip
    assert whole.held.column("metal").share is None
    assert whole.why["metal"] == ("1 of 4 parts has no mass written",)
    assembly = rolled_up(book, words, {"cover": after}, of="cover")
    assert assembly.parts == 2
    assert told(assembly.held.column("metal"))["share"] == pytest.approx((97.5 + 100) / 2)


def test_parts_that_joined_in_preservation_never_raise_what_is_left(tmp_path):
    files = {
        "object.yaml": "name: T\nphases:\n  as-built: {period: as-made, dates: '1868'}\n  later: {period: preservation, dates: '1980'}\n",
        "components/cover.yaml": COVER.replace("present: yes", "present: no"),
        "components/copy.yaml": COVER.replace("as-built", "later"),
    }
    whole = rolled_up(casebook_of(tmp_path, files), shipped_rules().vocabulary)
    assert (whole.parts, whole.later, told(whole.held.column("parts"))["share"]) == (1, 1, 0)


def test_a_part_of_no_phase_may_be_new_and_so_nothing_can_be_told(tmp_path):
    book = casebook(tmp_path, {"cover": COVER, "lid": COVER.replace("phase: as-built\n", "")})
    whole = rolled_up(book, shipped_rules().vocabulary)
    assert whole.held.worst is None
    assert whole.why["parts"] == ("1 of 2 parts has no phase written, and may be new",)


# ---- told in the record ----------------------------------------------------------------------------


def test_the_record_names_the_measure_that_fares_worst_and_tells_the_whole_object():
    weighing = weighed(demo(), "guide-bar-back")
    page = page_of(weighing, shipped_rules())
    rows = {row[0]: row[1:] for row in page.left.rows}
    # 2500 cm2 as made, of which the slide face, 1180 cm2, was scraped away in 1912.
    assert rows["original surface"][1] == "1180 ± 15 cm²"
    assert rows["original surface"][-1].startswith("52.80")
    assert page.left_says[0].startswith("Worst off: original surface, of which 52.80")
    assert any(said.startswith("Left in place of the whole object, in ") for said in page.left_says)


def test_the_record_says_which_of_those_that_stand_loses_least_and_leaves_the_choice_to_a_person():
    page = page_of(weighed(demo(), "flywheel-hub"), shipped_rules())
    (said,) = (said for said in page.left_says if said.startswith("Among those that stand"))
    assert said.endswith("a person decides.")


def test_the_proof_holds_each_measure_and_no_score():
    data = proof(weighed(demo(), "guide-bar-back"), shipped_rules())
    held = next(iter(data["parts"].values()))["given"]["options"]["leave"]["account"]["held"]
    assert set(held) == {"columns", "worst", "added_before"}
    assert held["worst"] == "surface"
    assert held["columns"]["metal"]["taken_before"] == "0.18 ± 0.06 kg"
    assert set(data["object"]) == {"before", "after"}


# ---- laws --------------------------------------------------------------------------------------------

CUTS = st.builds(
    lambda technique, where, depth, marks: (
        f"{{technique: {technique}, where: {where}, depth: {depth} ± 0.05 mm, takes: {marks}, disturbs_repair: no}}"
    ),
    st.sampled_from(["milling", "grinding", "scraping"]),
    st.sampled_from(["top", "bottom", "edges"]),
    st.decimals("0.1", 5, places=1),
    st.sampled_from(["none", "[stamp]", "[line]"]),
)
ADDS = st.sampled_from(["{technique: drying}", "{technique: shimming, where: top, thickness: 1 mm}", "{technique: painting}"])
GOES = st.sampled_from([f"{{technique: replacement, removed_parts: {fate}}}" for fate in ("kept", "discarded", "melted")])
TOOK = st.builds(
    lambda mass, face, marks: f"{{mass: {mass} ± 0.1 kg, surfaces: {face}, marks: {marks}}}",
    st.decimals("0.1", 5, places=1),
    st.sampled_from(["none", "[top]", "[top, edges]"]),
    st.sampled_from(["none", "[gone]"]),
)
HISTORIES = st.lists(TOOK, max_size=2).map(
    lambda all_: with_history(*(f"{{date: 19{n}0, kind: damaged, says: So., took: {t}}}" for n, t in enumerate(all_)))
    if all_
    else COVER
)


@settings(deadline=None, max_examples=60)
@given(HISTORIES, st.lists(st.one_of(CUTS, ADDS, GOES), min_size=1, max_size=4), st.booleans())
def test_what_was_made_is_left_in_place_in_store_or_taken(part, acts, stored):
    part += "stored: {place: shelf}\n" if stored else ""
    with TemporaryDirectory() as root:
        held = accounts(Path(root), part, do=", ".join(acts))["do"].held
    now = {"parts": 1, "marks": 2, "surface": 1656, "metal": 23.328}
    for column in held.columns:
        amounts = told(column)
        assert amounts["made"] == pytest.approx(sum(amounts[n] for n in ("before", "taken", "stored", "left")))
        there = amounts["made"] - amounts["before"] * (column.name != "surface")
        assert there == pytest.approx(now[column.name])
        assert all(amounts[n] >= 0 for n in ("before", "taken", "stored", "left"))


@settings(deadline=None, max_examples=40)
@given(HISTORIES, st.lists(st.one_of(CUTS, GOES), max_size=3), CUTS, ADDS)
def test_a_cut_never_raises_a_share_and_adding_changes_none(part, acts, cut, adds):
    with TemporaryDirectory() as root:
        few = acts or ["{technique: drying}"]
        found = accounts(Path(root), part, few=", ".join(few), cut=", ".join([*few, cut]), added=", ".join([*few, adds]))
    less, more, same = (shares(found[name].held) for name in ("cut", "few", "added"))
    assert all(less[name] is None or less[name] <= more[name] for name in UNITS)
    assert same == more


@settings(deadline=None, max_examples=60)
@given(st.lists(CUTS, min_size=1, max_size=3), st.lists(CUTS, min_size=1, max_size=3))
def test_the_gentler_option_never_certainly_leaves_less(one, other):
    with TemporaryDirectory() as root:
        found = accounts(Path(root), COVER, one=", ".join(one), other=", ".join(other))
    if compare(found["one"], found["other"]) is not Compared.GENTLER:
        return
    for column in found["one"].held.columns:
        left, rival = column.left, found["other"].held.column(column.name).left
        assert left is None or rival is None or below(left, rival) is not Truth.YES


@settings(deadline=None, max_examples=20)
@given(st.permutations(["cover", "lid", "frame", "tray"]))
def test_the_order_of_parts_is_of_no_consequence(order):
    parts = {
        "cover": COVER,
        "lid": COVER.replace("mass: 23.328 ± 0 kg\n", ""),
        "frame": COVER.replace("history: none\n", ""),
        "tray": COVER.replace("present: yes", "present: no"),
    }
    words = shipped_rules().vocabulary
    with TemporaryDirectory() as root:
        book = casebook(Path(root), parts)
    turned = Casebook(**{
        **{name: getattr(book, name) for name in book.__dataclass_fields__},
        "components": {name: book.components[name] for name in order},
    })  # fmt: skip
    assert rolled_up(turned, words) == rolled_up(book, words)
