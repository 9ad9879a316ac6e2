"""The journal of a part's fabric: what was made or added is at every date in place, in store and lost together.

The figures are worked by hand beside each test, from plain geometry and counting. The rule that additions never
count as what was there before, and that no one figure stands for all, is practice's own; no published tables of
such balances are known to us.
"""

from __future__ import annotations

import math
from collections import defaultdict
from dataclasses import replace
from datetime import date
from decimal import Decimal
from functools import lru_cache
from pathlib import Path
from tempfile import TemporaryDirectory

import pytest
from helpers import casebook_of, demo, shipped_rules
from hypothesis import given, settings
from hypothesis import strategies as st
from hypothesis.stateful import RuleBasedStateMachine, precondition, rule
from test_account import KEEPS
from test_held import COVER, NEED

from conserve.account.balance import Balance, Fabric
from conserve.account.held import UNITS
from conserve.account.journal import Book, Journal, journal_of
from conserve.account.phases import Years, phase_on, years_of
from conserve.account.still_there import left_of
from conserve.casebook import Casebook, Component
from conserve.casebook.model import Change, Decision, Event, Phase, Stated
from conserve.problem import Location
from conserve.quantity import EXACT, Quantity

AS_BUILT = Fabric("as-built")
OBJECT = """\
name: Trial engine
phases:
  as-built: {period: as-made, dates: "1868"}
  service: {period: working-life, dates: 1869-1950}
  trust: {period: preservation, dates: from 1978}
"""
DECIDED = "decision: {chosen: do, by: lead, date: 2026-01-10, reason: So.}\n"
DONE = "work: {began: 2026-02-01, finished: 2026-02-03}\n"
SKIM = f"{{technique: milling, where: top, depth: 1.5 ± 0.1 mm, {KEEPS.replace('none', '[stamp]')}}}"


def book(root: Path, part: str = COVER, acts: str = "", decided: str = DECIDED + DONE, **more: str) -> Casebook:
    files = {"object.yaml": OBJECT, "components/cover.yaml": part}
    files |= {f"components/{name}.yaml": text for name, text in more.items()}
    if acts:
        options = f"  leave: {{acts: []}}\n  do: {{acts: [{acts}]}}\n"
        files["proposals/q.yaml"] = (
            f"title: T\ncomponent: cover\n{NEED}\noptions:\n{options}preferred: do\n{decided}"
        )
    return casebook_of(root, files)


def left(casebook: Casebook) -> Decision:
    """A decision to leave the part alone."""
    decision = casebook.proposals[0].decision
    assert decision is not None
    return replace(decision, chosen="leave")


def kept(casebook: Casebook, part: str = "cover", but: str = "") -> Journal:
    return journal_of(casebook.components[part], casebook, shipped_rules().vocabulary, but)


def with_history(*events: str, part: str = COVER) -> str:
    lines = "".join(f"  - {event}\n" for event in events)
    return part.replace("history: none\n", f"history:\n{lines}")


def now(journal: Journal, name: str, fabric: Fabric = AS_BUILT) -> Balance:
    return journal.now[fabric][tuple(UNITS).index(name)]


def amounts(balance: Balance) -> tuple[float | None, ...]:
    """Made, in place, in store, lost, in the measure's own unit."""
    unit = UNITS[balance.column.name]
    found = (balance.made, balance.in_place, balance.in_store, balance.lost)
    return tuple(None if one is None else float(one.in_unit(unit).amount) for one in found)


def share(journal: Journal, name: str, fabric: Fabric = AS_BUILT) -> float | None:
    found = now(journal, name, fabric).share
    return None if found is None else float(found.amount)


# ---- when a phase was ------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("dates", "years"),
    [
        ("1868", (1868, 1868)),
        ("1903-1946", (1903, 1946)),
        ("from 2025", (2025, None)),
        ("1978-", (1978, None)),
        ("until 1900", (None, 1900)),
        ("1860s", (1860, 1869)),
        ("about 1868, perhaps 1870", (1868, 1870)),
        ("in the old days", None),
        ("", None),
    ],
)
def test_the_years_of_a_phase_are_read_from_its_dates(dates, years):
    assert years_of(Phase("p", "as-made", dates, "")) == (None if years is None else Years(*years))


def test_a_day_belongs_to_the_phase_that_holds_it_and_began_last():
    phases = {
        name: Phase(name, "working-life", dates, "")
        for name, dates in (("a", "1868"), ("b", "1868-1950"), ("c", "1930-1950"), ("d", "from 2025"))
    }
    found = [phase_on(date(year, 5, 1), phases) for year in (1900, 1940, 1960, 2030, 1868)]
    assert found == ["b", "c", "", "d", ""]  # in 1868 two began, and neither alone holds the day


# ---- what is counted -------------------------------------------------------------------------------


def test_one_face_skimmed_by_finished_work_fares_differently_in_each_measure(tmp_path):
    # A cover of 300 by 180 by 60 mm. 1.5 of 60 mm gone: 97.50 % of the metal. Of two faces of 540 cm2 and 576 cm2 of
    # edges one face is gone: 1116 of 1656 cm2. Of two marks one is gone. ± of the depth, 0.1 of 60 mm, and of the
    # density, 150 of 7200 kg/m3, on the 2.5 % that was cut.
    journal = kept(book(tmp_path, acts=SKIM))
    assert share(journal, "parts") == 100
    assert share(journal, "marks") == 50
    assert share(journal, "surface") == pytest.approx(100 * 1116 / 1656)
    metal = now(journal, "metal").share
    assert float(metal.amount) == pytest.approx(97.5)
    assert float(metal.uncertainty) == pytest.approx(100 * math.hypot(0.1 / 60, 2.5 / 100 * 150 / 7200), rel=1e-3)
    assert [str(one.sure) for one in journal.entries] == ["written", "reckoned"]


def test_what_was_taken_by_an_event_is_lost_from_its_date_on(tmp_path):
    part = with_history(
        "{date: 1911, kind: altered, says: Ground., took: {mass: 1 ± 0 kg, surfaces: [top], marks: [old]}, added: none}"
    )
    journal = kept(book(tmp_path, part))
    # 23.328 kg today and 1 kg gone; 540 of 1656 cm2; one of three marks.
    before, after = journal.at(date(1910, 12, 31))[AS_BUILT], journal.at(date(1911, 1, 1))[AS_BUILT]
    assert [amounts(one) for one in before] == [(1, 1, 0, 0), (3, 3, 0, 0), (1656, 1656, 0, 0), (24.328, 24.328, 0, 0)]
    assert [amounts(one) for one in after] == [(1, 1, 0, 0), (3, 2, 0, 1), (1656, 1116, 0, 540), (24.328, 23.328, 0, 1)]
    assert journal.remarks == ()


def test_what_a_repair_added_stands_by_itself_and_raises_no_share(tmp_path):
    part = with_history("{date: 1911, kind: repaired, says: Filled., took: none, added: {mass: 0.5 ± 0 kg}}")
    journal = kept(book(tmp_path, part))
    assert amounts(now(journal, "metal")) == pytest.approx((22.828, 22.828, 0, 0))
    assert share(journal, "metal") == 100
    assert amounts(now(journal, "metal", Fabric("service", added=True))) == (0.5, 0.5, 0, 0)


def test_what_is_added_in_the_years_of_the_parts_own_phase_stands_by_itself_too(tmp_path):
    part = with_history(
        "{date: 1868, kind: altered, says: Filed., took: {mass: 1 ± 0 kg, surfaces: none, marks: none}, added: {mass: 2 ± 0 kg}}"
    )
    journal = kept(book(tmp_path, part))
    assert share(journal, "metal") == pytest.approx(100 * 21.328 / 22.328)
    assert amounts(now(journal, "metal", Fabric("as-built", added=True))) == (2, 2, 0, 0)


def test_a_part_goes_to_store_and_back_with_all_that_is_on_it(tmp_path):
    part = with_history(
        "{date: 1911, kind: repaired, says: Filled., took: none, added: {mass: 0.5 ± 0 kg}}",
        "{date: 2026-02-01, kind: taken-off, says: Off.}",
        "{date: 2026-03-01, kind: put-back, says: On.}",
    )
    journal = kept(book(tmp_path, part))
    off = journal.at(date(2026, 2, 10))
    assert [amounts(one)[1:3] for one in off[AS_BUILT]] == [(0, 1), (0, 2), (0, 1656), (0, pytest.approx(22.828))]
    assert amounts(off[Fabric("service", added=True)][3]) == (0.5, 0, 0.5, 0)
    assert share(journal, "parts") == 100
    assert journal.remarks == ()


def test_a_part_that_was_made_joins_when_its_history_says(tmp_path):
    part = with_history("{date: 1902, kind: made, says: New.}").replace("as-built", "service")
    journal = kept(book(tmp_path, part))
    assert (journal.standings[0].on, journal.standings[0].year_only) == (date(1902, 1, 1), True)
    assert journal.at(date(1901, 12, 31)) == {}


def test_a_part_whose_phase_has_no_year_joined_before_anything_else(tmp_path):
    files = {"object.yaml": "name: T\nphases: {as-built: {period: as-made, dates: long ago}}\n"}
    journal = kept(casebook_of(tmp_path, {**files, "components/cover.yaml": COVER}))
    assert (journal.standings[0].on, journal.standings[0].dated) == (date.min, False)
    assert [one.says for one in journal.remarks] == ["Its phase, as-built, has no year in its dates."]


# ---- what this project decided ----------------------------------------------------------------------


def test_what_is_decided_and_not_done_is_planned_and_in_no_balance(tmp_path):
    journal = kept(book(tmp_path, acts=SKIM, decided=DECIDED))
    assert share(journal, "metal") == 100
    assert journal.then[AS_BUILT][3].share.amount == pytest.approx(Decimal("97.5"))
    assert [str(one.sure) for one in journal.entries] == ["written", "planned"]


@pytest.mark.parametrize("decided", ["", DECIDED.replace("chosen: do", "chosen: leave")])
def test_what_nobody_decided_moves_nothing(tmp_path, decided):
    journal = kept(book(tmp_path, acts=SKIM, decided=decided))
    assert len(journal.entries) == 1
    assert journal.then == journal.now


def test_what_was_superseded_moves_nothing(tmp_path):
    root = book(tmp_path, acts=SKIM)
    later = replace(root.proposals[0], id="r", supersedes="q", decision=left(root))
    assert len(kept(replace(root, proposals=(*root.proposals, later))).entries) == 1


def test_an_event_under_a_proposal_stands_for_its_reckoning_and_nothing_counts_twice(tmp_path):
    event = "{date: 2026-02-03, kind: altered, under: q, says: Skimmed., took: {mass: 0.6 ± 0 kg, surfaces: [top], marks: none}, added: none}"
    journal = kept(book(tmp_path, with_history(event), acts=SKIM))
    assert amounts(now(journal, "metal")) == pytest.approx((23.928, 23.328, 0, 0.6))
    assert [str(one.sure) for one in journal.entries] == ["written", "written"]


def test_what_an_event_under_a_proposal_does_not_tell_stays_reckoned(tmp_path):
    event = "{date: 2026-02-03, kind: used, under: q, says: Tried after the skim.}"
    journal = kept(book(tmp_path, with_history(event), acts=SKIM))
    assert share(journal, "metal") == pytest.approx(97.5)


def test_the_same_event_without_an_amount_leaves_the_balance_untold(tmp_path):
    event = "{date: 2026-02-03, kind: altered, under: q, says: Skimmed.}"
    journal = kept(book(tmp_path, with_history(event), acts=SKIM))
    assert now(journal, "metal").share is None
    assert any(one.says.startswith("It does not say what it took") for one in journal.remarks)


def test_a_part_that_is_replaced_and_kept_is_in_store_and_the_new_one_in_its_place(tmp_path):
    journal = kept(book(tmp_path, acts="{technique: replacement, removed_parts: kept}"))
    assert amounts(now(journal, "parts")) == (1, 0, 1, 0)
    new = Fabric("trust", added=True)
    assert amounts(now(journal, "parts", new)) == (1, 1, 0, 0)
    assert amounts(now(journal, "metal", new)) == (None, None, 0, 0)  # nobody has weighed it


def test_a_part_that_is_taken_off_and_put_in_its_place_by_an_event_is_weighed_there(tmp_path):
    event = "{date: 2026-02-03, kind: taken-off, under: q, says: Off., added: {mass: 20 ± 0 kg}}"
    part = with_history(event) + "stored: {place: shelf, since: 2026-02-03}\n"
    journal = kept(book(tmp_path, part, acts="{technique: replacement, removed_parts: kept}"))
    assert amounts(now(journal, "metal")) == (23.328, 0, 23.328, 0)
    assert amounts(now(journal, "metal", Fabric("trust", added=True))) == (20, 20, 0, 0)
    assert journal.remarks == ()


def test_a_part_that_is_discarded_is_lost(tmp_path):
    journal = kept(book(tmp_path, acts="{technique: replacement, removed_parts: discarded}"))
    assert amounts(now(journal, "metal")) == (23.328, 0, 0, 23.328)


def test_a_proposal_does_not_read_its_own_reckoning(tmp_path):
    root = book(tmp_path, acts=SKIM)
    left = left_of(root.components["cover"], root, shipped_rules().vocabulary, but="q")
    assert float(left["metal"].amount) == 100
    assert float(left_of(root.components["cover"], root, shipped_rules().vocabulary)["metal"].amount) == 97.5


# ---- what does not balance ----------------------------------------------------------------------------

TOOK = "took: {mass: 1 ± 0 kg, surfaces: [top], marks: [old]}, added: none"


@pytest.mark.parametrize(
    ("part", "says"),
    [
        (with_history("{date: 2026-02-01, kind: put-back, says: On.}"), "nothing says that it had been taken off"),
        (with_history("{date: 2026-02-01, kind: taken-off, says: Off.}"), "nor that it was put back"),
        (
            with_history("{date: 2026-01-01, kind: taken-off, says: A.}", "{date: 2026-02-01, kind: taken-off, says: B.}"),
            "it had not been put back since",
        ),
        (with_history("{date: 1850, kind: altered, says: Early., took: none, added: none}"), "joined in 1868"),
        (with_history(f"{{date: 1900, kind: altered, says: A., {TOOK}}}", f"{{date: 1910, kind: altered, says: B., {TOOK}}}"), "had gone in 1900 already"),
        (with_history("{date: 1911, kind: altered, says: Filed., added: none}"), "what it took of: metal, surfaces, marks"),
        (with_history("{date: 1911, kind: altered, says: Filed., took: {mass: 1 ± 0 kg, surfaces: none}, added: none}"), "what it took of: marks"),
        (with_history("{date: 1911, kind: repaired, says: Filled., took: none}"), "how much it added"),
        (with_history("{date: 1960, kind: repaired, says: Filled., took: none, added: {mass: 1 ± 0 kg}}"), "no phase alone holds its date"),
        (COVER.replace("present: yes", "present: no"), "nobody has written by when"),
        (with_history("{date: 1950, kind: lost, says: Gone.}"), "the file says that it is there"),
        (COVER + "stored: {place: shelf}\n", "nobody has written since when"),
        (COVER.replace("present: yes\n", ""), "whether it is there"),
        (COVER.replace("phase: as-built\n", ""), "No phase is written"),
        (COVER.replace("history: none\n", ""), "No history is written"),
        (COVER.replace("repairs: none", "repairs: {patch: {technique: patch}}"), "an earlier repair"),
        (COVER + "lost_before: yes\n", "no event says how much"),
        (with_history(f"{{date: 1900, kind: altered, says: A., {TOOK}}}") + "lost_before: no\n", "no metal went before"),
        (with_history("{date: 1902, kind: made, says: New.}"), "lies outside its phase"),
    ],
)  # fmt: skip
def test_what_does_not_balance_is_told_with_its_place(tmp_path, part, says):
    remarks = kept(book(tmp_path, part)).remarks
    assert [one for one in remarks if says in one.says and one.where.line > 0]


def test_a_part_lost_at_an_unknown_date_is_lost_today_and_nobody_knows_where_before(tmp_path):
    part = with_history("{date: 2026-02-01, kind: examined, says: Looked for.}").replace("present: yes", "present: no")
    journal = kept(book(tmp_path, part))
    assert amounts(journal.at(date(1950, 1, 1))[AS_BUILT][0]) == (None, None, None, None)
    assert amounts(now(journal, "parts")) == (1, 0, 0, 1)


def test_a_part_known_to_be_gone_by_a_year_is_lost_from_then_on(tmp_path):
    part = with_history("{date: 1950, kind: lost, says: Gone by then.}").replace("present: yes", "present: no")
    journal = kept(book(tmp_path, part))
    assert amounts(journal.at(date(1949, 12, 31))[AS_BUILT][3]) == (23.328, 23.328, 0, 0)
    assert amounts(now(journal, "metal")) == (23.328, 0, 0, 23.328)
    assert journal.remarks == ()


def test_more_added_than_the_part_weighs_cannot_be_told(tmp_path):
    part = with_history(
        f"{{date: 1900, kind: altered, says: A., {TOOK}}}",
        "{date: 1911, kind: repaired, says: B., took: none, added: {mass: 50 ± 0 kg}}",
    )
    journal = kept(book(tmp_path, part))
    assert (now(journal, "metal").made, now(journal, "metal").share) == (None, None)
    assert [one.says for one in journal.remarks if "more was added" in one.says]


def test_a_cut_of_more_than_there_is_cannot_be_told(tmp_path):
    acts = SKIM.replace("1.5 ± 0.1", "90 ± 0.1")
    journal = kept(book(tmp_path, acts=acts))
    assert now(journal, "metal").share is None
    assert [one.says for one in journal.remarks if "more is reckoned to be cut" in one.says]


def test_metal_said_to_have_gone_without_an_amount_leaves_the_metal_untold(tmp_path):
    journal = kept(book(tmp_path, COVER + "lost_before: yes\n"))
    assert share(journal, "metal") is None
    assert share(journal, "surface") == 100


# ---- laws over any history ------------------------------------------------------------------------------


@lru_cache(maxsize=1)
def trial() -> Casebook:
    with TemporaryDirectory() as root:
        return book(Path(root), COVER)


MADE, FACES, MARKS = Decimal(100), {"top": 540, "bottom": 540, "edges": 576}, ("a", "b", "c", "d")
COLUMNS = tuple(UNITS)


class History(RuleBasedStateMachine):
    """A part as it is worked on, kept beside a plain tally of what went where; its file tells how it is today."""

    def __init__(self) -> None:
        super().__init__()
        self.events: list[Event] = []
        self.day = date(1900, 1, 1).toordinal()
        self.mass, self.added = MADE, Decimal(0)
        self.lost = {"marks": set(), "surface": set(), "metal": Decimal(0)}
        self.unknown: dict[str, date] = {}  # measure -> since when
        self.unknown_added = False
        self.where = "in place"
        self.tally: list[tuple[date, str, dict]] = []

    def happens(self, kind: str, took: Change | None = None, added: Change | None = None) -> None:
        self.day += 1
        where = Location("components/cover.yaml", len(self.events) + 1)
        self.events.append(Event(date.fromordinal(self.day), False, f"{kind} {self.day}", kind, where, took, added))
        lost = {name: (set(v) if isinstance(v, set) else v) for name, v in self.lost.items()}
        self.tally.append((date.fromordinal(self.day), self.where, lost))

    @precondition(lambda self: self.where != "lost")
    @rule(
        mass=st.one_of(st.none(), st.integers(0, 8)),
        faces=st.one_of(st.none(), st.sets(st.sampled_from(sorted(FACES)))),
        marks=st.one_of(st.none(), st.sets(st.sampled_from(MARKS), max_size=2)),
        unknown=st.sampled_from([False, False, False, True]),
    )
    def worked(self, mass, faces, marks, unknown) -> None:
        mass, faces, marks = (mass, faces, marks) if unknown else (mass or 0, faces or set(), marks or set())
        since = date.fromordinal(self.day + 1)
        for name, said in (("metal", mass), ("surface", faces), ("marks", marks)):
            if said is None:
                self.unknown.setdefault(name, since)
        self.mass -= mass or 0
        self.lost["metal"] += mass or 0
        self.lost["surface"] |= faces or set()
        gone = set(marks or ()) - self.lost["marks"]
        self.lost["marks"] |= gone
        weight = None if mass is None else Quantity(Decimal(mass), EXACT, "kg")
        named = None if marks is None else tuple(sorted(gone))
        took = Change(weight, None, None if faces is None else tuple(sorted(faces)), named, Location("f"))
        self.happens("altered", took, Change(Quantity(EXACT, EXACT, "kg"), None, (), (), Location("f")))

    @precondition(lambda self: self.where != "lost")
    @rule(mass=st.one_of(st.none(), st.integers(1, 5)))
    def added_to(self, mass) -> None:
        self.unknown_added = self.unknown_added or mass is None
        self.mass += mass or 0
        self.added += mass or 0
        weight = None if mass is None else Quantity(Decimal(mass), EXACT, "kg")
        nothing = Change(Quantity(EXACT, EXACT, "kg"), None, (), (), Location("f"))
        self.happens("repaired", nothing, Change(weight, None, None, None, Location("f")))

    @precondition(lambda self: self.where == "in place")
    @rule()
    def taken_off(self) -> None:
        self.where = "in store"
        self.happens("taken-off")

    @precondition(lambda self: self.where == "in store")
    @rule()
    def put_back(self) -> None:
        self.where = "in place"
        self.happens("put-back")

    @rule()
    def looked_at(self) -> None:
        self.happens("examined")

    @precondition(lambda self: self.where != "lost" and len(self.events) > 6)
    @rule()
    def goes(self) -> None:
        self.where = "lost"
        self.happens("lost")

    def part(self, events: list[Event]) -> Component:
        """The part's file, as somebody would have written it today."""
        base = trial().components["cover"]
        top = base.surfaces[0]
        mark = replace(top.marks[0], id="x")
        left = [name for name in MARKS if name not in self.lost["marks"]]
        marks = tuple(replace(mark, id=name) for name in left)
        surfaces = (replace(top, marks=marks), *(replace(one, marks=()) for one in base.surfaces[1:]))
        mass = (Stated((Quantity(self.mass, EXACT, "kg"),), Location("f")),)
        present = (Stated(("no" if self.where == "lost" else "yes",), Location("f")),)
        facts = {**base.facts, "component.mass": mass, "component.present": present}
        return replace(base, facts=facts, surfaces=surfaces, history=tuple(events))

    def journal(self, events: list[Event]) -> Journal:
        return journal_of(self.part(events), trial(), shipped_rules().vocabulary)

    def teardown(self) -> None:
        """At the end of each history, every date of it is looked at."""
        journal = self.journal(self.events)
        assert journal == replace(self.journal(self.events[::-1]), part=journal.part)  # order in the file is nothing
        for day, where, lost in [(date(1899, 1, 1), "in place", {"marks": set(), "surface": set(), "metal": Decimal(0)}), *self.tally]:
            self.at(journal, day, where, lost)
        self.entries_add_up(journal)
        said = ("does not say", "nor that", "had gone in")  # what the history leaves out, or tells twice
        assert [one for one in journal.remarks if not any(words in one.says for words in said)] == []

    def at(self, journal: Journal, day: date, where: str, lost: dict) -> None:
        """What the tally says, on one day; nothing is told of what nobody knows."""
        gone = {
            "parts": Decimal(0),
            "marks": Decimal(len(lost["marks"])),
            "surface": Decimal(sum(FACES[name] for name in lost["surface"])),
            "metal": lost["metal"],
        }
        made = {"parts": 1, "marks": len(MARKS), "surface": sum(FACES.values()), "metal": MADE}
        for name, balance in zip(COLUMNS, journal.at(day)[AS_BUILT], strict=True):
            since = self.unknown.get(name)
            untold = since is not None or (name == "metal" and self.unknown_added)
            if since is not None and since <= day:
                assert balance.share is None and balance.made is None and (balance.lost is None or where == "lost")
            if untold:
                assert balance.made is None  # and never what is known of it alone
                continue
            left = made[name] - gone[name]
            expected = {"in place": (left, 0, gone[name]), "in store": (0, left, gone[name]), "lost": (0, 0, made[name])}
            assert amounts(balance) == tuple(map(float, (made[name], *expected[where])))
            assert balance.share is None or 0 <= balance.share.amount <= 100

    def entries_add_up(self, journal: Journal) -> None:
        """The entries come to the balances: nothing stands in an account that no entry brought there."""
        books: dict[tuple[Fabric, str, Book], Decimal | None] = defaultdict(Decimal)
        for entry in journal.entries:
            for name, amount in entry.amounts.items():
                for one, sign in ((entry.source, -1), (entry.to, 1)):
                    before = books[entry.fabric, name, one]
                    in_unit = None if amount is None else amount.in_unit(UNITS[name]).amount
                    books[entry.fabric, name, one] = None if None in (before, in_unit) else before + sign * in_unit
        for fabric, balances in journal.now.items():
            for balance in balances:
                if balance.told:
                    name = balance.column.name
                    found = [books[fabric, name, one] for one in (Book.PLACE, Book.STORE, Book.LOST)]
                    assert [float(one) for one in found] == pytest.approx(amounts(balance)[1:])
                    assert sum(found) == pytest.approx(-books[fabric, name, Book.SOURCE])


TestHistory = History.TestCase
TestHistory.settings = settings(max_examples=40, stateful_step_count=14, deadline=None)


TAKES = st.lists(st.tuples(st.integers(1869, 1949), st.integers(0, 4)), max_size=5)


def of_events(taken: list[tuple[int, int]], added: list[tuple[int, int]], extra: int = 0) -> Journal:
    """A part of 100 kg that was worked on; what was added is in its weight today."""
    nothing = Change(Quantity(EXACT, EXACT, "kg"), None, (), (), Location("f"))
    kg = lambda many: Change(Quantity(Decimal(many), EXACT, "kg"), None, (), (), Location("f"))  # noqa: E731
    events = [Event(date(y, 1, 1), True, "cut", "altered", Location("f", n), kg(m), nothing) for n, (y, m) in enumerate(taken)]
    events += [Event(date(y, 1, 1), True, "fill", "repaired", Location("f", 50 + n), nothing, kg(m)) for n, (y, m) in enumerate(added)]
    mass = MADE - sum(m for _, m in taken) + sum(m for _, m in added) + extra
    base = trial().components["cover"]
    facts = {**base.facts, "component.mass": (Stated((Quantity(mass, EXACT, "kg"),), Location("f")),)}
    return journal_of(replace(base, facts=facts, history=tuple(events)), trial(), shipped_rules().vocabulary)


@settings(max_examples=25, deadline=None)
@given(TAKES, TAKES, st.integers(1869, 2026))
def test_what_is_added_never_raises_the_share_of_what_was_there(taken, added, year):
    with_it, without = of_events(taken, added), of_events(taken, [])
    day = date(year, 6, 1)
    assert with_it.at(day)[AS_BUILT][3].share == without.at(day)[AS_BUILT][3].share


@settings(max_examples=25, deadline=None)
@given(TAKES.filter(len), st.data())
def test_an_event_that_is_told_as_two_leaves_the_balance_as_it_is(taken, data):
    (year, mass), *rest = taken
    first = data.draw(st.integers(0, mass))
    split = of_events([(year, first), (year, mass - first), *rest], [])
    whole = of_events(taken, [])
    assert [amounts(one) for one in split.now[AS_BUILT]] == [amounts(one) for one in whole.now[AS_BUILT]]


def test_what_is_left_of_a_part_of_which_nothing_went_is_what_its_books_say():
    casebook, words = demo(), shipped_rules().vocabulary
    for part in casebook.components.values():
        own = journal_of(part, casebook, words).now[Fabric(part.phase)]
        whole = {one.column.name: replace(one, untouched=one.lossless).share for one in own if one.lossless}
        found = left_of(part, casebook, words)
        assert {name: found[name] for name in whole} == whole, part.id


# ---- a year alone, a stand-in, and work that is not over ---------------------------------------------


@pytest.mark.parametrize("order", [(0, 1), (1, 0)])
def test_a_return_of_which_only_the_year_is_known_follows_what_it_can_only_follow(tmp_path, order):
    said = ("{date: 1911-03-01, kind: taken-off, says: Off.}", "{date: 1911, kind: put-back, says: On.}")
    journal = kept(book(tmp_path, with_history(*(said[at] for at in order))))
    assert journal.remarks == ()
    assert share(journal, "parts") == 100
    assert [(one.to, one.year_only) for one in journal.entries[1:]] == [(Book.STORE, False), (Book.PLACE, True)]


def test_a_part_that_was_off_already_is_put_back_before_it_is_taken_off_again_in_that_year(tmp_path):
    part = with_history(
        "{date: 1910, kind: taken-off, says: Off.}",
        "{date: 1911, kind: put-back, says: On.}",
        "{date: 1911-03-01, kind: taken-off, says: Off.}",
        "{date: 1911-04-01, kind: put-back, says: On.}",
    )
    assert kept(book(tmp_path, part)).remarks == ()


def test_a_loss_of_which_only_the_year_is_known_comes_after_what_else_happened_in_it(tmp_path):
    part = with_history(
        "{date: 1911, kind: lost, says: Gone.}",
        "{date: 1911-06-01, kind: altered, says: Filed., took: {mass: 1 ± 0 kg, surfaces: none, marks: none}, added: none}",
    ).replace("present: yes", "present: no")
    journal = kept(book(tmp_path, part))
    assert journal.remarks == ()
    assert [(one.on, float(one.amounts["metal"].amount)) for one in journal.entries[1:]] == [
        (date(1911, 6, 1), 1), (date(1911, 6, 1), 23.328),
    ]  # fmt: skip


STAND_IN = "{date: 1911, kind: taken-off, says: Off., added: {mass: 20 ± 0 kg}}"


@pytest.mark.parametrize(
    "then",
    [
        "{date: 1920, kind: put-back, says: On.}",
        "{date: 1920, kind: taken-off, says: The new one off., added: {mass: 21 ± 0 kg}}",
    ],
)
def test_what_stood_in_a_parts_place_is_not_there_beside_what_took_its_place(tmp_path, then):
    journal = kept(book(tmp_path, with_history(STAND_IN, then)))
    added = Fabric("service", added=True)
    assert amounts(journal.at(date(1912, 1, 1))[added][0]) == (1, 1, 0, 0)
    assert amounts(now(journal, "parts", added)) == (None, None, None, None)  # nobody has written where it went
    assert share(journal, "parts", added) is None
    assert [one for one in journal.remarks if "made room" in one.says]


@pytest.mark.parametrize(
    "event",
    [
        "{date: 2026-01-20, kind: examined, under: q, says: Looked at.}",
        "{date: 2026-01-20, kind: taken-off, under: q, says: Off.}",
        "{date: 2026-01-20, kind: used, under: q, says: Washed., took: none, added: none}",
    ],
)
def test_work_that_is_not_finished_stays_planned_whatever_was_done_under_it(tmp_path, event):
    journal = kept(book(tmp_path, with_history(event), acts=SKIM, decided=DECIDED))
    assert amounts(now(journal, "metal"))[3] == 0
    assert amounts(journal.then[AS_BUILT][3])[3] == pytest.approx(0.5832)  # 2.5 % of 23.328 kg
    assert [str(one.sure) for one in journal.entries if one.under == "q" and one.to is Book.LOST] == ["planned"]


def test_a_part_of_the_work_that_was_told_leaves_the_rest_unreckoned_and_says_so(tmp_path):
    event = "{date: 2026-01-20, kind: altered, under: q, says: Half., took: {mass: 0.3 ± 0 kg, surfaces: none, marks: none}, added: none}"
    journal = kept(book(tmp_path, with_history(event), acts=SKIM, decided=DECIDED))
    assert journal.then == journal.now
    assert [one for one in journal.remarks if "'q' is not finished" in one.says]


def test_finished_work_of_a_superseded_proposal_is_told_as_wanting(tmp_path):
    root = book(tmp_path, acts=SKIM)
    later = replace(root.proposals[0], id="r", supersedes="q", decision=left(root))
    remarks = kept(replace(root, proposals=(*root.proposals, later))).remarks
    assert [one.says for one in remarks] == ["'q' was superseded, and its work is finished: what it took is told by no event."]


def test_a_second_cut_is_entered_with_its_own_spread(tmp_path):
    # Each cut is 540 cm2 by 1.5 ± 0.1 mm of 7200 ± 150 kg/m3; JCGM 100:2008, 5.1.2, for a product.
    root = book(tmp_path, acts=SKIM)
    under = SKIM.replace("top", "bottom").replace("[stamp]", "none")
    other = book(tmp_path / "other", acts=under).proposals[0]
    found = kept(replace(root, proposals=(*root.proposals, replace(other, id="r"))))
    cuts = [one.amounts["metal"] for one in found.entries if one.to is Book.LOST]
    assert len(cuts) == 2
    for cut in cuts:
        assert float(cut.amount) == pytest.approx(0.5832)
        assert float(cut.uncertainty) == pytest.approx(0.5832 * math.hypot(0.1 / 1.5, 150 / 7200), rel=1e-3)


def test_a_day_on_which_a_part_went_to_store_is_a_day_of_the_casebook(tmp_path):
    root = book(tmp_path, COVER + "stored: {place: shelf, since: 2020-01-01}\n")
    assert root.as_at == date(2020, 1, 1)
    assert amounts(kept(root).at(root.as_at)[AS_BUILT][0]) == (1, 0, 1, 0)
