"""The fabric ledger: parts together, through time, told, drawn and on the command line."""

from __future__ import annotations

import json
import re
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from xml.etree import ElementTree

import pytest
from helpers import DEMO, clock, clock_rules, demo, shipped_rules
from test_held import COVER
from test_journal import DECIDED, DONE, SKIM, amounts, book

from conserve.account import held_today, rolled_up
from conserve.account.balance import Fabric
from conserve.account.held import UNITS
from conserve.cli import main
from conserve.ledger import Ledger, drawing, ledger_of, telling
from conserve.quantity import Quantity

AS_BUILT = Fabric("as-built")


@lru_cache(maxsize=1)
def demo_ledger() -> Ledger:
    return ledger_of(demo(), shipped_rules().vocabulary)


def group(root, acts: str = SKIM) -> Ledger:
    """A cover that is skimmed, a lid on it, a frame that is in store and a tray that is lost."""
    parts = {
        "lid": COVER + "part_of: cover\n",
        "frame": COVER + "stored: {place: shelf, since: 2026-01-05}\n",
        "tray": COVER.replace("present: yes", "present: no").replace("history: none\n", "history: [{date: 1950, kind: lost, says: Gone.}]\n"),
    }  # fmt: skip
    return ledger_of(book(root, acts=acts, decided=DECIDED + DONE, **parts), shipped_rules().vocabulary)


def line(ledger: Ledger, name: str, fabric: Fabric = AS_BUILT):
    return next(one for one in ledger.measure(name).now if one.fabric == fabric)


# ---- parts together ----------------------------------------------------------------------------------


def test_four_parts_come_to_the_sum_of_what_each_comes_to(tmp_path):
    # Four covers alike, 23.328 kg, 1656 cm2 and two marks each. One is skimmed: 0.5832 kg, 540 cm2 and one mark gone.
    # One is in store and one is lost. Of the whole: parts 2 of 4; marks 3 of 8; metal 93.312 kg.
    ledger = group(tmp_path)
    assert amounts(line(ledger, "parts").balance) == (4, 2, 1, 1)
    assert amounts(line(ledger, "marks").balance) == (8, 3, 2, 3)
    assert amounts(line(ledger, "surface").balance) == (6624, 2772, 1656, 2196)
    assert amounts(line(ledger, "metal").balance) == pytest.approx((93.312, 46.0728, 23.328, 23.9112))
    shares = [float(line(ledger, name).balance.share.amount) for name in UNITS]
    assert shares == pytest.approx([50, 37.5, 100 * 2772 / 6624, 100 * 46.0728 / 93.312])


def test_an_assembly_is_the_sum_of_its_parts_and_no_more(tmp_path):
    casebook = book(tmp_path, COVER, lid=COVER + "part_of: cover\n", tray=COVER)
    words = shipped_rules().vocabulary
    assembly, whole = ledger_of(casebook, words, of="cover"), ledger_of(casebook, words)
    assert (assembly.parts, whole.parts) == (2, 3)
    for name in UNITS:
        of_two, of_three = (amounts(line(one, name).balance) for one in (assembly, whole))
        assert [3 * amount for amount in of_two] == pytest.approx([2 * amount for amount in of_three])


def test_a_part_that_cannot_be_told_is_counted_apart_and_said_why(tmp_path):
    casebook = book(tmp_path, COVER, lid=COVER.replace("mass: 23.328 ± 0 kg\n", ""))
    measure = ledger_of(casebook, shipped_rules().vocabulary).measure("metal")
    assert (measure.told, measure.parts) == (1, 2)
    assert measure.why == ("1 of 2 parts has no mass written",)
    assert amounts(measure.now[0].balance) == (23.328, 23.328, 0, 0)


def test_what_was_added_is_told_as_a_whole_or_not_at_all(tmp_path):
    ledger = ledger_of(
        book(tmp_path, COVER, "{technique: replacement, removed_parts: kept}", lid=COVER), shipped_rules().vocabulary
    )
    new = line(ledger, "metal", Fabric("trust", added=True))
    assert (new.parts, new.told, new.balance) == (1, 0, None)


def test_the_ledger_of_today_is_what_the_records_tell_of_the_whole_object():
    # Two ways to the same count, where nothing was decided here and no part is off its place by its history alone.
    casebook, words = clock(), clock_rules().vocabulary
    ledger, whole = ledger_of(casebook, words), rolled_up(casebook, words, held_today(casebook, words))
    for name in ("parts", "marks", "surface"):
        lines = [one for one in ledger.measure(name).now if not one.fabric.added]
        made = sum(amounts(one.balance)[0] for one in lines)
        left = sum(amounts(one.balance)[1] for one in lines)
        column = whole.held.column(name)
        assert (made, left) == pytest.approx((float(column.made.in_unit(UNITS[name]).amount), float(column.left.in_unit(UNITS[name]).amount)))


def test_the_ledger_stands_as_it_did_on_an_earlier_day():
    words = shipped_rules().vocabulary
    early = ledger_of(demo(), words, on=date(1930, 1, 1))
    assert {one.fabric.phase for one in early.measure("parts").now} == {"as-built", "pump-change", "last-service"}
    assert (early.planned, early.measure("parts").then) == ((), ())
    assert all(entry.on <= early.on for entry in early.entries)


def test_the_order_of_the_parts_does_not_matter():
    turned = replace(demo(), components=dict(reversed(demo().components.items())), proposals=demo().proposals[::-1])
    assert ledger_of(turned, shipped_rules().vocabulary) == demo_ledger()


# ---- told ----------------------------------------------------------------------------------------------


def test_the_demonstration_tells_what_is_in_store_what_is_lost_and_what_does_not_balance():
    ledger = demo_ledger()
    # Three of the makers' parts are off the engine: the makers' plate, a stud and the slide valve; two are gone.
    assert amounts(line(ledger, "parts").balance) == (63, 58, 3, 2)
    assert any(said.startswith("slide-valve: Taken off;") for said in telling.remarks_say(ledger))
    assert [one.part for one in ledger.planned] == ["tray-bracket-left"]


@pytest.mark.parametrize(
    ("share", "spread", "told"),
    [
        ("100", "0", "100 %"),
        ("92.063", "0", "92.1 %"),
        ("99.996", "0.002", "more than 99.99 %"),
        ("0.004", "0.001", "less than 0.01 %"),
        ("96.585", "0.084", "96.58 ± 0.09 %"),
    ],
)
def test_a_share_is_told_no_closer_than_it_is_known(share, spread, told):
    assert telling.per_cent(Quantity(Decimal(share), Decimal(spread), "%")) == told


def test_no_share_stands_for_the_others():
    said = " ".join(drawing(demo_ledger()).caption.split())
    assert "Each measure stands by itself." in said
    assert not re.search(r"(?i)score|overall|average", said + telling.NEVER_ONE)


# ---- drawn ---------------------------------------------------------------------------------------------


def test_the_drawing_says_in_words_what_it_shows_and_needs_no_colour():
    svg = drawing(demo_ledger()).svg
    root = ElementTree.fromstring(svg)
    assert root.attrib["role"] == "img"
    said = root.find("{http://www.w3.org/2000/svg}desc").text
    assert "As built, 1868: 92.1 % of it in place" in said
    assert "Cannot be told of" in said
    colours = set(re.findall(r'(?:fill|stroke)="([^"]*)"', svg))
    assert colours <= {"none", "currentColor"}
    assert not re.search(r"(?i)<script|<style|href|url\(", svg)


def test_bands_stand_upon_one_another_and_come_to_the_full_height(tmp_path):
    from conserve.ledger.drawing import _panel

    ledger = group(tmp_path)
    for name in UNITS:
        panel = _panel(ledger.measure(name), ledger)
        tops = [sum(band.heights[at] for band in panel.bands) for at in range(len(panel.years))]
        assert [float(top) for top in tops] == pytest.approx(sorted(map(float, tops)))  # it never falls
        assert float(tops[-1]) == pytest.approx(1)
        assert sum(panel.widths) == 696


def test_a_measure_of_which_nothing_can_be_told_is_words_alone(tmp_path):
    casebook = book(tmp_path, COVER.replace("mass: 23.328 ± 0 kg\n", ""))
    svg = drawing(ledger_of(casebook, shipped_rules().vocabulary).only("metal")).svg
    assert "it has no mass written" in svg
    assert 'class="key"' not in svg


# ---- on the command line -------------------------------------------------------------------------------


def test_the_command_tells_the_balances_and_where_they_do_not_balance(capsys):
    assert main(["ledger", str(DEMO)]) == 0
    told = capsys.readouterr().out
    assert "Fabric ledger of Marrow Fen drainage engine, as at 2026-05-04" in told
    assert "What does not balance" in told
    assert "Traceback" not in told


def test_the_command_tells_one_part_by_one_measure_with_its_entries(capsys):
    assert main(["ledger", str(DEMO), "--of", "guide-bar-top", "--by", "surface", "--entries"]) == 0
    told = capsys.readouterr().out
    assert "52.80 %" in re.sub(r" ± [0-9.]+", "", told)
    assert "1912" in told and "Metal, weighed" not in told


def test_the_command_gives_json_for_programs(capsys):
    assert main(["ledger", str(DEMO), "--json", "--by", "parts"]) == 0
    data = json.loads(capsys.readouterr().out)
    last = data["measures"]["parts"]["steps"][-1]["fabrics"][0]
    assert (last["phase"], last["in_place"], last["lost"]) == ("as-built", "58 ± 0 1", "2 ± 0 1")


def test_the_command_draws_into_a_new_file_and_overwrites_none(capsys, tmp_path):
    target = tmp_path / "ledger.svg"
    assert main(["ledger", str(DEMO), "--svg", str(target)]) == 0
    assert target.read_text(encoding="utf-8").startswith("<svg")
    assert main(["ledger", str(DEMO), "--svg", str(target)]) == 2
    assert "is there already" in capsys.readouterr().err


@pytest.mark.parametrize(
    "asked", [["--of", "nothing"], ["--svg", "no-such-folder/x.svg"]], ids=["no such part", "no such folder"]
)
def test_what_cannot_be_done_is_refused_in_a_sentence(capsys, asked):
    assert main(["ledger", str(DEMO), *asked]) == 2
    said = capsys.readouterr()
    assert said.err.startswith("conserve: there is no") and said.out == ""
