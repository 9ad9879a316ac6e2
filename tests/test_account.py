"""The fabric account: what an option takes, and which of two options is the gentler."""

from __future__ import annotations

import math

import pytest
from helpers import casebook_of, shipped_rules

from conserve.account import (
    NOTHING,
    Account,
    Compared,
    account_of,
    compare,
    loses_least,
    mass_of,
    named,
    volume_of,
)
from conserve.quantity import Quantity

PART = """\
    name: Slide
    material: grey-cast-iron
    significance: some
    made_to_be_renewed: no
    mass: 7.2 ± 0.1 kg
    surfaces:
      face: {area: 400 ± 6 cm2, marks: none}
      back: {area: 400 ± 6 cm2, marks: {stamp: {kind: stamp}, line: {kind: scribe-line}}}
      bore: {diameter: 50.00 ± 0.02 mm, length: 100 ± 0.5 mm, marks: none}
    repairs: {patch: {technique: patch}}
    defects: none
    """
KEEPS = "takes: none, disturbs_repair: no"
SHALLOW = PART.replace("{area", "{relief: 0.03 ± 0.01 mm, area").replace("bore: {", "bore: {relief: 0.03 ± 0.01 mm, ")
CUT = "{technique: milling, depth: 1 ± 0.1 mm, "


def accounts(tmp_path, part: str = PART, **options: str) -> dict[str, Account]:
    """The account of each option, written as its acts in flow style."""
    acts = "".join(f"      {name}: {{acts: [{text}]}}\n" for name, text in options.items())
    proposal = f"""\
    title: T
    component: slide
    needs: {{runs: {{kind: function, says: It runs., test: {{component.serviceable: yes}}, set_by: me}}}}
    options:
{acts}    preferred: {next(iter(options))}
    """
    casebook = casebook_of(tmp_path, {"components/slide.yaml": part, "proposals/q.yaml": proposal})
    vocabulary = shipped_rules().vocabulary
    return {o.id: account_of(o, casebook.components["slide"], vocabulary) for o in casebook.proposals[0].options}


def one(tmp_path, act: str, part: str = PART) -> Account:
    return accounts(tmp_path, part, only=act)["only"]


def amount(quantity: Quantity, unit: str) -> tuple[float, float]:
    told = quantity.in_unit(unit)
    return float(told.amount), float(told.uncertainty)


# ---- amounts -------------------------------------------------------------------------------------


def test_a_skim_takes_area_times_depth_and_its_mass_by_density(tmp_path):
    (act,) = one(tmp_path, f"{{technique: milling, where: face, depth: 1.2 ± 0.1 mm, {KEEPS}}}").acts
    # 400 cm2 x 0.12 cm = 48 cm3; relative ± is the root of (6/400)² + (0.1/1.2)²
    assert amount(act.volume, "cm3") == pytest.approx((48.0, 48 * math.hypot(6 / 400, 0.1 / 1.2)))
    # at 7.2 ± 0.15 g/cm3
    assert amount(act.mass, "kg") == pytest.approx((0.3456, 0.3456 * math.hypot(6 / 400, 0.1 / 1.2, 150 / 7200)))
    assert amount(act.area, "cm2") == pytest.approx((400, 6))


def test_boring_takes_a_ring_from_the_smallest_diameter(tmp_path):
    account = one(tmp_path, f"{{technique: boring, where: bore, to_diameter: 52 ± 0 mm, {KEEPS}}}")
    # π/4 (5.2² - 5.0²) x 10 cm
    assert amount(account.volume, "cm3")[0] == pytest.approx(math.pi / 4 * (5.2**2 - 5.0**2) * 10)


def test_a_second_bore_takes_only_what_the_first_left(tmp_path):
    step = f"{{{{technique: boring, where: bore, to_diameter: {{}} ± 0 mm, {KEEPS}}}}}"
    found = accounts(tmp_path, PART, twice=f"{step.format(51)}, {step.format(52)}", once=step.format(52))
    assert amount(found["twice"].volume, "cm3")[0] == pytest.approx(amount(found["once"].volume, "cm3")[0])


def test_holes_take_plain_cylinders(tmp_path):
    act = f"{{technique: drilling, where: face, hole_diameter: 6 mm, hole_depth: 10 mm, holes: 4, {KEEPS}}}"
    assert amount(one(tmp_path, act).volume, "cm3")[0] == pytest.approx(4 * math.pi / 4 * 0.36 * 1.0)


def test_a_part_taken_whole_takes_its_mass_over_its_density(tmp_path):
    account = one(tmp_path, "{technique: replacement}")
    # 7.2 kg / 7200 kg/m3 = 1000 cm3
    assert amount(account.volume, "cm3")[0] == pytest.approx(1000)
    assert amount(account.mass, "kg") == pytest.approx((7.2, 0.1))
    assert account.lost >= {"part:slide", "surface:face", "mark:stamp", "repair:patch"}


def test_a_written_volume_counts_before_a_reckoned_one(tmp_path):
    part = PART.replace("mass: 7.2 ± 0.1 kg", "volume: 900 ± 10 cm3")
    casebook = casebook_of(tmp_path, {"components/slide.yaml": part})
    slide, words = casebook.components["slide"], shipped_rules().vocabulary
    assert amount(volume_of(slide, words), "cm3") == pytest.approx((900, 10))
    assert amount(mass_of(slide, words), "kg")[0] == pytest.approx(6.48)


@pytest.mark.parametrize("missing", ["area: 400 ± 6 cm2, marks: none", "material: grey-cast-iron"])
def test_what_nobody_has_measured_is_an_unknown_amount_and_not_none(tmp_path, missing):
    part = PART.replace(missing, "marks: none" if "area" in missing else "note: no metal named")
    (act,) = one(tmp_path, f"{{technique: milling, where: face, depth: 1.2 ± 0.1 mm, {KEEPS}}}", part).acts
    assert act.mass is None
    assert (act.volume is None) == ("area" in missing)


def test_a_hole_that_cannot_be_bored_smaller_has_no_amount(tmp_path):
    account = one(tmp_path, f"{{technique: boring, where: bore, to_diameter: 40 ± 0 mm, {KEEPS}}}")
    assert account.volume is None


def test_what_adds_or_covers_takes_nothing(tmp_path):
    account = one(tmp_path, "{technique: shimming, where: back, thickness: 0.5 mm}")
    assert (account.lost, account.volume, account.untold) == (frozenset(), NOTHING, ())
    assert account.added == ("shimming:packing",)


# ---- named things --------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("act", "lost"),
    [
        (f"{CUT}where: face, takes: none, disturbs_repair: no}}", {"surface:face"}),
        (f"{CUT}where: back, takes: [stamp], disturbs_repair: no}}", {"surface:back", "mark:stamp"}),
        (f"{CUT}where: face, takes: none, disturbs_repair: yes}}", {"surface:face", "repair:patch"}),
        ("{technique: re-metalling, where: bore, takes: none, disturbs_repair: no}", {"surface:bore"}),
        ("{technique: paint-stripping, where: back, takes: none, disturbs_repair: no}", {"finish:back"}),
        (
            "{technique: paint-stripping, takes: none, disturbs_repair: no}",
            {"finish:face", "finish:back", "finish:bore"},
        ),
        ("{technique: metal-spraying, where: face, takes: none, disturbs_repair: no}", set()),
        ("{technique: drying}", set()),
    ],
)  # fmt: skip
def test_an_act_loses_these_named_things(tmp_path, act, lost):
    account = one(tmp_path, act)
    assert account.lost == lost
    assert account.untold == ()


@pytest.mark.parametrize(
    ("change", "act"),
    [
        (("", ""), f"{CUT}where: back, disturbs_repair: no}}"),
        (("", ""), f"{CUT}where: face, takes: none}}"),
        ((", marks: none}\n      back", "}\n      back"), f"{CUT}where: face, disturbs_repair: no}}"),
        (("    repairs: {patch: {technique: patch}}\n", ""), f"{CUT}where: face, takes: none}}"),
    ],
)  # fmt: skip
def test_what_nobody_has_said_of_marks_and_repairs_is_a_question(tmp_path, change, act):
    assert len(one(tmp_path, act, PART.replace(*change)).untold) == 1


def test_a_plain_wearing_part_is_no_loss_when_it_is_renewed(tmp_path):
    part = PART.replace("renewed: no", "renewed: yes").replace(
        "{stamp: {kind: stamp}, line: {kind: scribe-line}}", "none"
    )
    account = one(tmp_path, "{technique: replacement, removed_parts: kept}", part)
    assert (account.lost, account.volume, account.untold) == (frozenset(), NOTHING, ())


@pytest.mark.parametrize("kept", ["made_to_be_renewed: yes", "significance: some"])
def test_renewal_is_spared_only_perhaps_where_nobody_has_said_enough(tmp_path, kept):
    part = PART.replace("{stamp: {kind: stamp}, line: {kind: scribe-line}}", "none")
    part = part.replace("    made_to_be_renewed: no\n", "").replace("    significance: some\n", f"    {kept}\n")
    account = one(tmp_path, "{technique: replacement}", part)
    assert account.spared == account.lost != frozenset()
    assert len(account.untold) == 1


def test_what_comes_off_and_is_kept_is_told(tmp_path):
    assert one(tmp_path, "{technique: replacement, removed_parts: kept-and-tagged}").kept == ("part:slide",)
    assert one(tmp_path, "{technique: replacement, removed_parts: discarded}").kept == ()


def test_a_lost_thing_has_words():
    assert named("surface:working-face", {}) == "the original surface of the working face"
    assert named("mark:stamp", {"stamp": "punched 4"}) == "the punched 4"


# ---- relief ----------------------------------------------------------------------------------------

RELIEF = PART.replace("face: {area", "face: {relief: 0.50 ± 0.05 mm, finish: scraped, area").replace(
    "bore: {diameter", "bore: {relief: 0.50 ± 0.05 mm, diameter"
)


@pytest.mark.parametrize(
    ("acts", "lost"),
    [
        ("{technique: milling, where: face, depth: 0.30 ± 0.05 mm, KEEPS}", set()),
        ("{technique: milling, where: face, depth: 0.48 ± 0.05 mm, KEEPS}", {"surface:face"}),  # not certainly less
        ("{technique: milling, where: face, depth: 0.30 mm, KEEPS}", {"surface:face"}),  # its ± is not stated
        ("{technique: milling, where: back, depth: 0.01 ± 0.01 mm, KEEPS}", {"surface:back"}),  # no relief is written
        # Cuts on one face add up.
        (
            "{technique: milling, where: face, depth: 0.30 ± 0.02 mm, KEEPS},"
            " {technique: scraping, where: face, depth: 0.30 ± 0.02 mm, KEEPS}",
            {"surface:face"},
        ),
        # From 50.00 to 50.60 mm is 0.30 mm deep; to 52 mm, 1 mm.
        ("{technique: boring, where: bore, to_diameter: 50.6 ± 0 mm, KEEPS}", set()),
        ("{technique: boring, where: bore, to_diameter: 52 ± 0 mm, KEEPS}", {"surface:bore"}),
        ("{technique: blasting, where: face, depth: 0.05 ± 0.02 mm, KEEPS}", {"finish:face"}),
        ("{technique: blasting, where: face, KEEPS}", {"finish:face", "surface:face"}),
        ("{technique: blasting, where: back, KEEPS}", {"finish:back", "surface:back"}),
        ("{technique: wire-brushing, where: face, KEEPS}", {"finish:face"}),
    ],
)
def test_a_surface_is_spared_only_where_the_cut_is_certainly_within_its_relief(tmp_path, acts, lost):
    assert one(tmp_path, acts.replace("KEEPS", KEEPS), RELIEF).lost == lost


def test_a_casting_that_is_blasted_keeps_its_form(tmp_path):
    part = PART.replace("face: {area", "face: {finish: as-cast, area")
    assert one(tmp_path, f"{{technique: blasting, where: face, {KEEPS}}}", part).lost == {"finish:face"}


def test_a_cut_that_spares_the_surface_still_takes_its_metal(tmp_path):
    account = one(tmp_path, f"{{technique: milling, where: face, depth: 0.30 ± 0.05 mm, {KEEPS}}}", RELIEF)
    assert amount(account.volume, "cm3")[0] == pytest.approx(12)


# ---- threads, weld preparations and pockets --------------------------------------------------------

WELD = "joint_thickness: 25 ± 0 mm, root_face: 2 mm, groove_angle: 60 °, groove_sides: 1, joint_length: 200 ± 0 mm"


def test_a_hole_tapped_anew_takes_the_ring_up_to_the_middle_of_its_thread(tmp_path):
    act = "{technique: re-tapping, where: bore, major_diameter: 52 mm, pitch: 2 mm, thread_angle: 60 °, thread_length: 20 mm, KEEPS}"
    account = one(tmp_path, act.replace("KEEPS", KEEPS))
    middle = 5.2 - 0.541266 * 0.2
    assert amount(account.volume, "cm3")[0] == pytest.approx(math.pi / 4 * (middle**2 - 25) * 2)
    assert account.lost == {"surface:bore"}


def test_a_weld_preparation_and_a_pocket_take_what_their_dimensions_say(tmp_path):
    weld = one(tmp_path, f"{{technique: weld-preparation, where: back, {WELD}, root_gap: 0 mm, {KEEPS}}}")
    assert amount(weld.volume, "cm3")[0] == pytest.approx(61.084, abs=5e-4)  # derived: 23² tan 30° x 200 mm3
    let = one(tmp_path, f"{{technique: letting-in, where: face, pocket_area: 12 cm2, depth: 6.0 ± 0.2 mm, {KEEPS}}}")
    assert amount(let.volume, "cm3") == pytest.approx((7.2, 0.24))
    assert let.added == ("letting-in:new-metal",)
    assert (weld.lost, let.lost) == ({"surface:back"}, {"surface:face"})


# ---- gentler -------------------------------------------------------------------------------------

SKIM = f"{{{{technique: milling, where: {{}}, depth: {{}} mm, {KEEPS}}}}}"


@pytest.mark.parametrize(
    ("first", "second", "found"),
    [
        ("{technique: drying}", SKIM.format("face", "1 ± 0.1"), (Compared.GENTLER, Compared.NOT_GENTLER)),
        (SKIM.format("face", "1 ± 0.1"), SKIM.format("face", "2 ± 0.1"), (Compared.GENTLER, Compared.NOT_GENTLER)),
        (SKIM.format("face", "1 ± 0.1"), SKIM.format("face", "1.02 ± 0.1"), (Compared.ALIKE, Compared.ALIKE)),
        (SKIM.format("face", "1 ± 0.1"), SKIM.format("back", "1 ± 0.1"), (Compared.NOT_GENTLER, Compared.NOT_GENTLER)),
        (SKIM.format("face", "1 ± 0.1"), "{technique: replacement}", (Compared.GENTLER, Compared.NOT_GENTLER)),
        # A difference inside the uncertainty is a tie in amount; the one that loses fewer things is the gentler.
        (
            SKIM.format("back", "1 ± 0.1"),
            SKIM.format("back", "1 ± 0.1").replace("takes: none", "takes: [stamp]"),
            (Compared.GENTLER, Compared.NOT_GENTLER),
        ),
        # Fewer things, but certainly more metal: not gentler either way.
        (
            SKIM.format("back", "5 ± 0.1"),
            SKIM.format("back", "1 ± 0.1").replace("takes: none", "takes: [stamp]"),
            (Compared.NOT_GENTLER, Compared.NOT_GENTLER),
        ),
        # Where nobody has said which marks would go, it cannot be told.
        (
            SKIM.format("back", "1 ± 0.1"),
            SKIM.format("back", "1 ± 0.1").replace("takes: none, ", ""),
            (Compared.CANNOT_TELL, Compared.CANNOT_TELL),
        ),
        ("{technique: drying}", "{technique: turning-over}", (Compared.ALIKE, Compared.ALIKE)),
    ],
)
def test_one_option_is_held_against_another(tmp_path, first, second, found):
    both = accounts(tmp_path, SHALLOW, first=first, second=second)
    assert (compare(both["first"], both["second"]), compare(both["second"], both["first"])) == found


@pytest.mark.parametrize(
    ("first", "second", "found"),
    [
        # Its relief may lie between two cuts that take as much metal as one another, as far as can be told.
        (SKIM.format("face", "1 ± 0.1"), SKIM.format("face", "1.02 ± 0.1"), (Compared.CANNOT_TELL, Compared.CANNOT_TELL)),
        (SKIM.format("face", "1 ± 0.1"), SKIM.format("face", "1 ± 0.1"), (Compared.ALIKE, Compared.ALIKE)),
        # Either face may prove to be spared.
        (SKIM.format("face", "1 ± 0.1"), SKIM.format("back", "1 ± 0.1"), (Compared.CANNOT_TELL, Compared.CANNOT_TELL)),
        # Whatever the relief, a cut that is certainly deeper takes no less.
        (SKIM.format("face", "1 ± 0.1"), SKIM.format("face", "2 ± 0.1"), (Compared.GENTLER, Compared.NOT_GENTLER)),
        ("{technique: drying}", SKIM.format("face", "1 ± 0.1"), (Compared.GENTLER, Compared.NOT_GENTLER)),
    ],
)
def test_where_the_relief_of_a_face_is_not_written_every_relief_counts(tmp_path, first, second, found):
    both = accounts(tmp_path, first=first, second=second)
    assert (compare(both["first"], both["second"]), compare(both["second"], both["first"])) == found


def test_a_loss_of_unknown_size_is_more_than_none_and_not_to_be_told_from_another(tmp_path):
    part = PART.replace("area: 400 ± 6 cm2, ", "")
    both = accounts(
        tmp_path,
        part,
        first=SKIM.format("face", "1 ± 0.1"),
        second=SKIM.format("face", "2 ± 0.1"),
        dry="{technique: drying}",
    )
    assert compare(both["dry"], both["first"]) is Compared.GENTLER
    assert compare(both["first"], both["dry"]) is Compared.NOT_GENTLER
    assert compare(both["first"], both["second"]) is Compared.CANNOT_TELL


def test_amounts_without_an_uncertainty_cannot_be_told_apart(tmp_path):
    part = PART.replace("400 ± 6 cm2", "400 cm2")
    both = accounts(tmp_path, part, first=SKIM.format("face", "1 ± 0.1"), second=SKIM.format("face", "2 ± 0.1"))
    assert compare(both["first"], both["second"]) is Compared.CANNOT_TELL


def test_nothing_is_said_of_renewing_a_part_that_may_be_made_for_it(tmp_path):
    part = PART.replace("    made_to_be_renewed: no\n", "").replace(
        "{stamp: {kind: stamp}, line: {kind: scribe-line}}", "none"
    )
    both = accounts(tmp_path, part, renew="{technique: replacement}", skim=SKIM.format("face", "1 ± 0.1"))
    assert compare(both["renew"], both["skim"]) is Compared.CANNOT_TELL
    assert compare(both["skim"], both["renew"]) is Compared.CANNOT_TELL


# ---- the one that loses least ----------------------------------------------------------------------


@pytest.mark.parametrize(
    ("options", "least"),
    [
        # Marks before metal: the deeper cut that spares the stamp.
        (
            {"deep": SKIM.format("back", "5 ± 0.1"), "stamp": SKIM.format("back", "1 ± 0.1").replace("none", "[stamp]")},
            ("deep",),
        ),
        # Surfaces before metal.
        (
            {"one-face": SKIM.format("face", "5 ± 0.1"), "two": f"{SKIM.format('face', '1 ± 0.1')}, {SKIM.format('back', '1 ± 0.1')}"},
            ("one-face",),
        ),
        # Metal where the difference is certain; inside the uncertainty it is a tie, and the acts decide.
        ({"less": SKIM.format("face", "1 ± 0.1"), "more": SKIM.format("face", "2 ± 0.1")}, ("less",)),
        (
            {
                "once": SKIM.format("face", "1 ± 0.1"),
                "twice": f"{SKIM.format('face', '0.5 ± 0.1')}, {SKIM.format('face', '0.49 ± 0.1')}",
            },
            ("once",),
        ),
        ({"dry": "{technique: drying}", "turn": "{technique: turning-over}"}, ("dry", "turn")),
        # Where it is not said which marks would go, nothing is said.
        ({"dry": "{technique: drying}", "cut": SKIM.format("back", "1 ± 0.1").replace("takes: none, ", "")}, ()),
        # Nor where one of those that are level takes an amount that nobody can tell.
        ({"a": SKIM.format("face", "1 ± 0.1"), "b": SKIM.format("face", "1")}, ()),
    ],
)
def test_the_option_that_loses_least_is_found_question_by_question(tmp_path, options, least):
    found = {name: a for name, a in accounts(tmp_path, PART, **options).items() if name in options}
    assert loses_least(found) == least
    assert loses_least(dict(reversed(found.items()))) == least


def test_of_no_options_none_loses_least():
    assert loses_least({}) == ()
