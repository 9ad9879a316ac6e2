"""The audit of one casebook: a sealed one that is as it was, and one alteration of each kind, found by its file."""

from __future__ import annotations

import gzip
import json
import shutil
from collections.abc import Callable
from dataclasses import replace
from datetime import date
from hashlib import sha256
from pathlib import Path

import pytest
from cryptography.hazmat.primitives.asymmetric.ed25519 import Ed25519PrivateKey
from helpers import MORE, OBJECT, demo, folder_of, rule, rules_folder
from hypothesis import given, settings
from hypothesis import strategies as st

from conserve.audit.inputs import Changes, changes
from conserve.audit.looking import audit_of
from conserve.audit.model import Asked, Audit, DecisionAudit, Kind
from conserve.audit.proofs import holding
from conserve.casebook import read_casebook
from conserve.engine import engines
from conserve.files import Folder
from conserve.record import records_of
from conserve.rulebook import Rulebook, digest_of_files, files_of, read_rulebook
from conserve.seal import SealedNote, Signature, append, keep, kept_list, read_chain, seal_decision, witness
from conserve.truth import Truth
from conserve.weighing import weigh

Sign = Callable[[bytes], Signature]
DAY = date(2026, 6, 1)
SHEET = "Wear 0.12 mm at the worst point.\n"
PEOPLE = "people:\n      lead: {name: A. Fenwick, role: lead}\n"
SLIDE = """\
    name: Slide
    significance: exceptional
    significance_reason: The only one left.
    material: grey-cast-iron
    phase: as-built
    running_clearance: 0.70 ± 0.04 mm
    present: yes
    serviceable: yes
    surfaces:
      face:
        function: sliding
        area: 400 ± 6 cm2
        sets_clearance: yes
        marks: none
        wear: {value: 0.12 ± 0.02 mm, by: lead, date: 2026-02-14, evidence: [sheet]}
      back: {function: mating, area: 400 ± 6 cm2, sets_clearance: yes, marks: none}
    repairs: none
    defects:
      slack: {kind: wear, seen: seen, active: no, affects_safety: no}
      odd: {kind: leak, seen: seen}
    history:
      - {date: 2026-02-14, kind: examined, says: Measured.}
    """
PIN = "name: Pin\nphase: as-built\nsignificance: some\nmaterial: grey-cast-iron\nserviceable: yes\nsurfaces: none\nrepairs: none\ndefects: none\nhistory: none\n"
SLACK = """\
title: Take up the slack
component: slide
asked: {date: 2026-03-02, by: lead}
needs:
  fit:
    kind: function
    says: It runs.
    test: {component.running_clearance: {between: [0.10 mm, 0.40 mm]}}
    set_by: A. Fenwick
options:
  leave: {acts: []}
  shim:
    says: Pack it up.
    acts: [{technique: shimming, where: back, thickness: 0.50 mm, treats: slack, takes: none, disturbs_repair: no}]
    after: {component.running_clearance: 0.20 ± 0.04 mm}
preferred: shim
decision: {chosen: shim, by: lead, date: 2026-03-09, reason: It takes nothing.}
"""
PACKING = """\
title: Pack the pin
component: pin
asked: {date: 2026-03-02, by: lead}
needs:
  fit:
    kind: function
    says: It holds.
    test: {component.serviceable: yes}
    set_by: A. Fenwick
options:
  leave: {acts: []}
decision: {chosen: leave, by: lead, date: 2026-03-09, reason: Nobody asks more.}
"""
WORK = """\
work:
  by: {name: A. Fenwick}
  began: 2026-03-14
  finished: 2026-03-20
  met:
    - {requirement: r/photograph, date: 2026-03-13, by: lead}
  measured: {component.running_clearance: 0.22 ± 0.04 mm}
"""
REGISTER = f"""\
sheet:
  kind: measurement-sheet
  file: sheet.txt
  date: 2026-02-14
  by: A. Fenwick
  about: [slide]
  shows: The wear of the face.
  digest: {sha256(SHEET.encode()).hexdigest()}
"""
RULES = {
    "r/photograph": rule("act", "{act.technique: shimming}", "{require: Photograph it., by: before-work}"),
    "r/ask": rule("component", "{component.material: bronze}", "{refer: Ask first., to: competent-engineer}"),
    "r/never": rule("act", "{act.technique: welding}", "{forbid: Never weld it., gate: yes}"),
}


def written(root: Path) -> Path:
    """The casebook and its rules as they stand before anything is sealed."""
    rules_folder(root / "rules", RULES)
    book = root / "trial"
    folder_of(
        book,
        {
            "object.yaml": OBJECT + PEOPLE,
            "components/slide.yaml": SLIDE,
            "components/pin.yaml": PIN,
            "proposals/slack.yaml": SLACK,
            "proposals/packing.yaml": PACKING,
            "evidence/register.yaml": REGISTER,
            "evidence/sheet.txt": SHEET,
        },
    )
    return book


READ: dict[str, Rulebook] = {}


def rulebook_of(book: Path) -> Rulebook:
    """The rules beside a casebook; each edition is read once."""
    rules = Folder(book.parent / "rules")
    digest = digest_of_files(rules, files_of(rules))
    if digest not in READ:
        rulebook, problems = read_rulebook(rules)
        assert rulebook is not None, problems
        READ[digest] = rulebook
    return READ[digest]


def seal(book: Path, at: str = "2026-03-10T12:00:00+01:00", only: str = "", sign: Sign | None = None) -> None:
    """Write the records of every decided proposal, and seal it."""
    folder, rules = Folder(book), Folder(book.parent / "rules")
    rulebook = rulebook_of(book)
    casebook, problems = read_casebook(folder, rulebook.vocabulary, book.name)
    assert casebook is not None, problems
    for proposal in casebook.proposals:
        if proposal.decision and only in ("", proposal.id):
            weighing = weigh(proposal, casebook, rulebook)
            texts = dict(records_of(folder, [weighing], rulebook))
            for name, text in texts.items():
                folder.write(name, text)
            record, proof = (texts[f"records/{proposal.id}.{ending}"] for ending in ("md", "json"))
            seal_decision(folder, weighing, rulebook, rules, record, proof, engines(), "1.0", at, "A. Fenwick", sign)


def audited(book: Path, day: date = DAY, records: bool = False, witnesses: tuple[str, ...] = ()) -> Audit:
    rules, rulebook = Folder(book.parent / "rules"), rulebook_of(book)
    casebook, problems = read_casebook(Folder(book), rulebook.vocabulary, book.name, f"books/{book.name}")
    assert casebook is not None, "\n".join(map(str, problems))
    return audit_of(
        Folder(book), casebook, rulebook, rules, day, f"books/{book.name}", "1.0", records=records, witnesses=witnesses
    )


@pytest.fixture(scope="module")
def original(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A casebook of two decisions, sealed before the work that one of them led to."""
    book = written(tmp_path_factory.mktemp("sealed"))
    seal(book)
    add(book / "proposals/slack.yaml", WORK)
    return book


@pytest.fixture
def book(original: Path, tmp_path: Path) -> Path:
    """A copy of it, to be altered."""
    shutil.copytree(original.parent, tmp_path / "copy")
    return tmp_path / "copy" / "trial"


def add(path: Path, text: str) -> None:
    path.write_text(path.read_text(encoding="utf-8") + text, encoding="utf-8")


def change(path: Path, old: str, new: str) -> None:
    text = path.read_text(encoding="utf-8")
    assert old in text
    path.write_text(text.replace(old, new, 1), encoding="utf-8")


def found(audit: Audit, kind: Kind) -> list[tuple[str, str]]:
    """The points of a kind: the proposal, and where."""
    return [(point.proposal, point.where) for point in audit.points if point.kind is kind]


def altering(audit: Audit) -> set[Kind]:
    return {point.kind for point in audit.points if point.kind.alters}


def decision(audit: Audit, name: str = "slack") -> DecisionAudit:
    return next(one for one in audit.decisions if one.proposal == name)


def answer(audit: Audit, asked: Asked, name: str = "slack") -> Truth | None:
    return next(one.truth for one in decision(audit, name).answers if one.asked is asked)


# ---- as it was sealed --------------------------------------------------------------------------------------------


def test_a_casebook_that_is_as_it_was_has_nothing_altered(original: Path):
    audit = audited(original, records=True)
    assert not altering(audit), audit.points
    assert [one.proposal for one in audit.decisions] == ["packing", "slack"]
    assert audit.entries == 2 and audit.witness
    assert audit.figures["re-made to the byte"] == 2
    assert answer(audit, Asked.INPUTS) is Truth.YES and answer(audit, Asked.CHECKER) is Truth.YES


def test_every_question_is_answered_of_every_decision_in_its_order(original: Path):
    for one in audited(original).decisions:
        assert [told.asked for told in one.answers] == list(Asked)
        assert all(told.says.endswith((".", "?", "!")) for told in one.answers)


def test_an_audit_writes_nothing_and_the_order_of_files_does_not_matter(original: Path, tmp_path: Path):
    before = contents(original.parent)
    first = audited(original, records=True)
    assert contents(original.parent) == before
    shuffled = tmp_path / "copy" / "trial"
    for name in sorted(before, reverse=True):
        (tmp_path / "copy" / name).parent.mkdir(parents=True, exist_ok=True)
        (tmp_path / "copy" / name).write_bytes(before[name])
    assert audited(shuffled, records=True) == first


def contents(root: Path) -> dict[str, bytes]:
    return {str(path.relative_to(root)): path.read_bytes() for path in root.rglob("*") if path.is_file()}


def test_work_that_goes_on_after_the_seal_and_later_readings_alter_nothing(book: Path):
    newer = "{value: 0.15 ± 0.02 mm, by: lead, date: 2026-05-02, evidence: [sheet]}"
    change(
        book / "components/slide.yaml", "{value: 0.12 ± 0.02 mm, by: lead, date: 2026-02-14, evidence: [sheet]}", newer
    )
    change(
        book / "components/slide.yaml",
        "says: Measured.}",
        "says: Measured.}\n  - {date: 2026-04-01, kind: examined, says: Still so.}",
    )
    audit = audited(book)
    assert not altering(audit), audit.points
    assert answer(audit, Asked.INPUTS) is Truth.YES
    assert "New since the seal: 2." in said(audit, Asked.INPUTS)


def said(audit: Audit, asked: Asked, name: str = "slack") -> str:
    return next(one.says for one in decision(audit, name).answers if one.asked is asked)


def test_a_later_reading_in_the_place_of_what_was_sealed_is_told_with_both(book: Path):
    change(book / "components/slide.yaml", "0.70 ± 0.04 mm", "{value: 0.60 ± 0.04 mm, by: lead, date: 2026-05-02}")
    audit = audited(book)
    assert not altering(audit)
    assert "was '0.70 ± 0.04 mm' and is '0.60 ± 0.04 mm" in said(audit, Asked.INPUTS)
    assert "still stands" not in said(audit, Asked.INPUTS)


def test_a_later_reading_hides_no_alteration_beside_it(book: Path):
    head = "date,by,instrument,component,where,plane,angle,quantity,reading,plus_minus,unit"
    line = "2026-05-02,lead,bore-gauge,slide,,,,running_clearance,0.60,0.04,mm"
    (book / "measurements.csv").write_text(f"{head}\n{line}\n", encoding="utf-8")
    assert not altering(audited(book))
    change(book / "components/slide.yaml", "0.70 ± 0.04 mm", "0.10 ± 0.04 mm")
    assert found(audited(book), Kind.FACT_ALTERED)


def test_what_is_written_in_for_the_first_time_is_told_and_no_alteration(book: Path):
    change(book / "components/slide.yaml", "present: yes\n", "present: yes\nmass: 11.6 ± 0.1 kg\n")
    audit = audited(book)
    assert not altering(audit), audit.points
    assert "Written in since" in said(audit, Asked.INPUTS) and "mass" in said(audit, Asked.INPUTS)


def test_a_change_where_a_decision_does_not_rest_on_it_is_said_and_no_point(book: Path):
    change(book / "components/pin.yaml", "significance: some", "significance: little")
    audit = audited(book)
    assert found(audit, Kind.FACT_ALTERED) == [("packing", "components/pin.yaml:3")]
    assert answer(audit, Asked.INPUTS) is Truth.YES and "components/pin.yaml" in said(audit, Asked.INPUTS)


def test_a_part_that_something_has_happened_to_may_be_written_otherwise(book: Path):
    change(book / "components/slide.yaml", "0.70 ± 0.04 mm", "0.22 ± 0.04 mm")
    change(
        book / "components/slide.yaml",
        "says: Measured.}",
        "says: Measured.}\n  - {date: 2026-03-20, kind: altered, says: Packed up., under: slack}",
    )
    audit = audited(book)
    assert not found(audit, Kind.FACT_ALTERED)
    assert answer(audit, Asked.INPUTS) is Truth.UNKNOWN and "0.70" in said(audit, Asked.INPUTS)


# ---- one alteration of each kind ---------------------------------------------------------------------------------


def in_slide(old: str, new: str) -> Callable[[Path], None]:
    return lambda book: change(book / "components/slide.yaml", old, new)


def in_slack(old: str, new: str) -> Callable[[Path], None]:
    return lambda book: change(book / "proposals/slack.yaml", old, new)


FACTS = {
    "a number": (in_slide("0.70 ± 0.04", "0.50 ± 0.04"), "components/slide.yaml:6"),
    "a doubt about a number": (in_slide("0.70 ± 0.04", "0.70 ± 0.01"), "components/slide.yaml:6"),
    "a word": (in_slide("serviceable: yes", "serviceable: no"), "components/slide.yaml:8"),
    "a dated reading": (in_slide("0.12 ± 0.02", "0.10 ± 0.02"), "components/slide.yaml:15"),
    "the date of a reading": (in_slide("date: 2026-02-14, ev", "date: 2026-02-13, ev"), "components/slide.yaml:15"),
    "a thing taken out": (in_slide("  odd: {kind: leak, seen: seen}\n", ""), "components/slide.yaml:20"),
    "a past event": (in_slide("says: Measured.", "says: Seen."), "components/slide.yaml:22"),
    "an act's number": (in_slack("thickness: 0.50 mm", "thickness: 0.48 mm"), "proposals/slack.yaml:14"),
    "what an option promises": (in_slack("0.20 ± 0.04", "0.20 ± 0.05"), "proposals/slack.yaml:15"),
    "what an option says": (in_slack("Pack it up.", "Pack it a little."), "proposals/slack.yaml:12"),
    "what is needed": (in_slack("[0.10 mm, 0.40 mm]", "[0.10 mm, 0.50 mm]"), "proposals/slack.yaml:8"),
    "an entry of the register": (
        lambda book: change(book / "evidence/register.yaml", "The wear of the face.", "The wear."),
        "evidence/register.yaml:7",
    ),
    "the object": (lambda book: change(book / "object.yaml", "rarity: few", "rarity: unique"), "object.yaml:6"),
}


APART = ("a doubt about a number", "the date of a reading", "a thing taken out")  # on the lines of others


@pytest.mark.parametrize("together", [tuple(sorted(FACTS.keys() - {*APART})), APART])
def test_each_fact_that_was_altered_is_named_with_its_line_and_nothing_else(book: Path, together: tuple[str, ...]):
    for what in together:
        FACTS[what][0](book)
    audit = audited(book)
    assert altering(audit) == {Kind.FACT_ALTERED}, audit.points
    assert {where for _, where in found(audit, Kind.FACT_ALTERED)} == {FACTS[what][1] for what in together}
    assert answer(audit, Asked.INPUTS) is Truth.NO


def test_a_fact_behind_several_decisions_is_told_once(book: Path):
    change(book / "object.yaml", "rarity: few", "rarity: unique")
    (point,) = (one for one in audited(book).points if one.kind is Kind.FACT_ALTERED)
    assert point.proposal == "" and "packing and slack" in point.says
    assert "'few'" in point.says and "'unique'" in point.says


DECISIONS = {
    "its reason": ("reason: It takes nothing.", "reason: It is cheap."),
    "who decided": ("by: lead, date: 2026-03-09", "by: nobody, date: 2026-03-09"),
    "its day": ("date: 2026-03-09, reason", "date: 2026-03-08, reason"),
    "what was chosen": ("chosen: shim", "chosen: leave"),
    "all of it": ("decision: {chosen: shim, by: lead, date: 2026-03-09, reason: It takes nothing.}\n", ""),
}


@pytest.mark.parametrize("what", DECISIONS)
def test_a_decision_that_was_altered_is_named(book: Path, what: str):
    change(book / "proposals/slack.yaml", *DECISIONS[what])
    audit = audited(book)
    assert Kind.DECISION_ALTERED in altering(audit)
    assert {place.partition(":")[0] for _, place in found(audit, Kind.DECISION_ALTERED)} == {"proposals/slack.yaml"}
    assert answer(audit, Asked.SEALED) is Truth.NO


def test_a_sealed_proposal_that_is_gone_is_named(book: Path):
    (book / "proposals/packing.yaml").unlink()
    audit = audited(book)
    assert ("packing", "proposals/packing.yaml") in found(audit, Kind.DECISION_ALTERED)
    assert decision(audit, "packing").title == "Pack the pin"


def test_a_rule_that_was_altered_where_it_is_kept_is_named(book: Path):
    (kept,) = (book / "rulebooks").iterdir()
    change(kept / "r/photograph.yaml", "by: before-work", "by: after-work")
    audit = audited(book)
    (point,) = (one for one in audit.points if one.kind is Kind.RULES_ALTERED)
    assert "r/photograph.yaml" in point.says and point.where == f"rulebooks/{kept.name}"


def test_rules_that_were_altered_after_another_edition_took_their_place_cannot_be_used(book: Path):
    (kept,) = (book / "rulebooks").iterdir()
    change(book.parent / "rules/r/photograph.yaml", "by: before-work", "by: after-work")
    change(kept / "r/never.yaml", "Never weld it.", "Weld it.")
    audit = audited(book)
    assert Kind.RULES_ALTERED in altering(audit)
    assert answer(audit, Asked.RULEBOOK) is Truth.NO
    assert answer(audit, Asked.REMADE) is Truth.UNKNOWN


def test_with_a_later_edition_of_the_rules_a_decision_is_made_again_by_those_that_were_kept(book: Path):
    change(book.parent / "rules/r/photograph.yaml", "by: before-work", "by: after-work")
    audit = audited(book, records=True)
    assert not altering(audit), audit.points
    assert answer(audit, Asked.RULEBOOK) is Truth.NO
    assert answer(audit, Asked.REMADE) is Truth.YES


def test_a_byte_of_evidence_that_was_altered_is_named(book: Path):
    (book / "evidence/sheet.txt").write_text(SHEET.replace("2", "3"), encoding="utf-8")
    audit = audited(book)
    assert found(audit, Kind.EVIDENCE_ALTERED) == [("slack", "evidence/sheet.txt")]
    assert altering(audit) == {Kind.EVIDENCE_ALTERED}


def test_evidence_that_was_altered_with_its_digest_in_the_register_is_named(book: Path):
    other = SHEET.replace("2", "3")
    (book / "evidence/sheet.txt").write_text(other, encoding="utf-8")
    digests = (sha256(text.encode()).hexdigest() for text in (SHEET, other))
    change(book / "evidence/register.yaml", *digests)
    audit = audited(book)
    assert altering(audit) == {Kind.EVIDENCE_ALTERED, Kind.FACT_ALTERED}


@pytest.mark.parametrize("ending", ["md", "json"])
def test_a_record_that_was_edited_is_named(book: Path, ending: str):
    file = book / f"records/slack.{ending}"
    change(file, "Take up the slack", "Take up all the slack")
    audit = audited(book)
    assert found(audit, Kind.RECORD_ALTERED) == [("slack", f"records/slack.{ending}")]
    assert altering(audit) == {Kind.RECORD_ALTERED}


def test_a_record_that_is_written_again_after_the_work_is_no_alteration(book: Path):
    folder, rulebook = Folder(book), rulebook_of(book)
    casebook, _ = read_casebook(folder, rulebook.vocabulary, book.name)
    assert casebook is not None
    asked = casebook.proposal("slack")
    assert asked is not None
    for name, text in records_of(folder, [weigh(asked, casebook, rulebook)], rulebook):
        folder.write(name, text)
    audit = audited(book)
    assert not altering(audit), audit.points
    assert "written today" in said(audit, Asked.RECORD)


def kept(book: Path, digest: str) -> Path:
    return book / "sealed" / f"{digest}.gz"


def of_slack(book: Path):
    return read_chain(Folder(book), "trial").decisions_on("slack")[-1].decision


def test_a_kept_file_that_was_altered_is_named(book: Path):
    file = kept(book, kept_list(Folder(book), of_slack(book).files)["components/slide.yaml"])
    file.write_bytes(gzip.compress(gzip.decompress(file.read_bytes()).replace(b"0.70", b"0.71"), mtime=0))
    audit = audited(book)
    assert ("", f"sealed/{file.name}") in found(audit, Kind.SEALED_ALTERED)
    assert answer(audit, Asked.REMADE) is Truth.UNKNOWN


def test_a_kept_proof_that_was_taken_away_is_named(book: Path):
    file = kept(book, of_slack(book).proof)
    file.unlink()
    audit = audited(book)
    assert found(audit, Kind.SEALED_ALTERED) == [("", f"sealed/{file.name}")]
    assert answer(audit, Asked.CHECKER) is Truth.UNKNOWN
    assert answer(audit, Asked.REMADE) is Truth.YES  # its digest stands in the chain


# ---- the chain ---------------------------------------------------------------------------------------------------


def lines(book: Path) -> list[bytes]:
    return (book / "chain.jsonl").read_bytes().splitlines(keepends=True)


def test_a_line_that_was_taken_out_is_named(book: Path):
    (book / "chain.jsonl").write_bytes(b"".join(lines(book)[1:]))
    audit = audited(book)
    assert ("", "chain.jsonl:1") in found(audit, Kind.CHAIN)
    assert audit.witness == ""


def test_lines_in_another_order_are_named(book: Path):
    (book / "chain.jsonl").write_bytes(b"".join(reversed(lines(book))))
    assert ("", "chain.jsonl:1") in found(audited(book), Kind.CHAIN)


def test_entries_that_were_cut_off_are_seen_by_what_was_kept_and_by_a_code_that_left_the_house(book: Path):
    code = witness(read_chain(Folder(book), "trial"))
    assert not found(audited(book, witnesses=(code,)), Kind.CHAIN)
    (book / "chain.jsonl").write_bytes(lines(book)[0])
    audit = audited(book, witnesses=(code,))
    assert len(found(audit, Kind.CHAIN)) == 2
    assert any(code in point.says for point in audit.points)


def test_a_code_in_a_note_of_a_bundle_that_was_sent_is_held_against_the_chain(book: Path):
    (book / "sent").mkdir()
    code = witness(read_chain(Folder(book), "trial"))
    (book / "sent/2026-04-01-repair-grant.json").write_text(json.dumps({"witness": code}), encoding="utf-8")
    (book / "sent/2026-04-02-repair-grant.json").write_text(json.dumps({"to": "nobody"}), encoding="utf-8")
    assert not found(audited(book), Kind.CHAIN)
    (book / "chain.jsonl").write_bytes(lines(book)[0])
    assert ("", "sent/2026-04-01-repair-grant.json") in found(audited(book), Kind.CHAIN)


def test_a_mistyped_code_is_told_as_such(book: Path):
    code = witness(read_chain(Folder(book), "trial"))
    wrong = code[:-1] + ("0" if code[-1] != "0" else "1")
    audit = audited(book, witnesses=(wrong,))
    assert found(audit, Kind.CANNOT_TELL) and not found(audit, Kind.CHAIN)


def rebuilt(book: Path, change: Callable[[dict[str, object]], None]) -> None:
    """The chain written anew from its first line, every digest right."""
    previous, out = "0" * 64, []
    for line in lines(book):
        said = json.loads(line)
        change(said)
        said["previous"] = previous
        said.pop("digest")
        said["digest"] = previous = sha256(_canonical(said)).hexdigest()
        out.append(_canonical(said) + b"\n")
    (book / "chain.jsonl").write_bytes(b"".join(out))


def _canonical(said: dict[str, object]) -> bytes:
    return json.dumps(said, sort_keys=True, ensure_ascii=True, separators=(",", ":")).encode()


def test_a_seal_that_is_dated_back_in_a_chain_written_anew_is_seen_by_what_it_seals(book: Path):
    rebuilt(book, lambda said: said.update(at="2026-03-01T12:00:00+01:00"))
    audit = audited(book)
    assert not found(audit, Kind.CHAIN)
    assert {("packing", "chain.jsonl:1"), ("slack", "chain.jsonl:2")} <= set(found(audit, Kind.BACK_DATED))


def test_a_seal_earlier_than_the_one_before_it_is_dated_back(book: Path):
    rebuilt(book, lambda said: said.update(at=f"2026-03-{20 - int(str(said['sequence']))}T12:00:00+01:00"))
    assert found(audited(book), Kind.BACK_DATED) == [("", "chain.jsonl:2")]


def test_a_seal_dated_after_the_day_of_the_audit_is_named(book: Path):
    assert len(found(audited(book, day=date(2026, 3, 9)), Kind.BACK_DATED)) == 2


def test_a_verdict_written_into_a_chain_made_anew_is_not_what_comes_out(book: Path):
    def worse(said: dict[str, object]) -> None:
        proof = json.loads(gzip.decompress(kept(book, said["decision"]["proof"]).read_bytes()))  # type: ignore[index]
        proof["verdict"] = "justified" if proof["verdict"] != "justified" else "not justified"
        data = (json.dumps(proof, sort_keys=True, ensure_ascii=False, indent=1) + "\n").encode()
        said["decision"]["proof"] = sha256(data).hexdigest()  # type: ignore[index]
        kept(book, sha256(data).hexdigest()).write_bytes(gzip.compress(data, mtime=0))

    rebuilt(book, worse)
    audit = audited(book)
    assert {Kind.NOT_REMADE, Kind.CHECKER_DIFFERS} <= altering(audit)
    assert answer(audit, Asked.CHECKER) is Truth.NO and answer(audit, Asked.REMADE) is Truth.NO


def test_a_decision_that_was_never_sealed_is_told(book: Path):
    text = (book / "proposals/packing.yaml").read_text(encoding="utf-8")
    (book / "proposals/later.yaml").write_text(text, encoding="utf-8")
    audit = audited(book)
    assert found(audit, Kind.NOT_SEALED) == [("later", "proposals/later.yaml:12")]
    assert not altering(audit)


# ---- sealed again ------------------------------------------------------------------------------------------------


def test_a_fact_that_was_altered_and_then_sealed_again_is_named_all_the_same(book: Path):
    change(book / "components/slide.yaml", "0.70 ± 0.04 mm", "0.60 ± 0.04 mm")
    seal(book, "2026-04-10T12:00:00+01:00", only="slack")
    audit = audited(book)
    assert found(audit, Kind.FACT_ALTERED) == [("slack", "components/slide.yaml:6")]
    assert decision(audit).sealed == (2, 3)


def test_a_decision_that_is_sealed_again_after_its_work_alters_nothing(book: Path):
    seal(book, "2026-04-10T12:00:00+01:00", only="slack")
    audit = audited(book, records=True)
    assert not altering(audit), audit.points
    assert answer(audit, Asked.BEFORE_WORK) is Truth.YES  # its first seal counts
    assert "Of its earlier entries (2) only the digests were held." in said(audit, Asked.REMADE)


def test_another_decision_under_one_name_is_named(book: Path):
    def other(entry: dict[str, object]) -> None:
        if entry["sequence"] == 3:
            entry["decision"]["by"] = "nobody"  # type: ignore[index]

    seal(book, "2026-04-10T12:00:00+01:00", only="slack")
    rebuilt(book, other)
    audit = audited(book)
    assert {Kind.DECISION_ALTERED, Kind.NOT_REMADE} <= altering(audit)
    assert ("slack", "chain.jsonl:3") in found(audit, Kind.DECISION_ALTERED)


def test_a_decision_that_takes_the_place_of_a_sealed_one_is_told_with_it(book: Path):
    text = SLACK.replace("title: Take up", "title: Take up again").replace("2026-03-09", "2026-04-09")
    (book / "proposals/again.yaml").write_text(f"{text}supersedes: slack\n", encoding="utf-8")
    seal(book, "2026-04-10T12:00:00+01:00", only="again")
    audit = audited(book)
    assert not altering(audit), audit.points
    assert "'again' has taken its place, sealed in entry 3." in said(audit, Asked.SEALED)


def test_an_entry_in_the_place_of_one_that_the_chain_does_not_have_is_named(book: Path):
    text = SLACK.replace("2026-03-09", "2026-04-09")
    (book / "proposals/again.yaml").write_text(f"{text}supersedes: slack\n", encoding="utf-8")
    seal(book, "2026-04-10T12:00:00+01:00", only="again")
    rebuilt(book, lambda entry: entry["sequence"] == 2 and entry.update(by="nobody"))
    assert ("slack", "chain.jsonl:3") in found(audited(book), Kind.CHAIN)


def test_a_casebook_whose_folder_has_another_name_is_re_made_all_the_same(book: Path):
    audit = audited(book.rename(book.with_name("other")), records=True)
    assert not altering(audit) - {Kind.RECORD_ALTERED}, audit.points
    assert answer(audit, Asked.REMADE) is Truth.YES


def made_again(book: Path, html: bool = False) -> None:
    """Write the records of every decided proposal, and seal nothing."""
    folder, rulebook = Folder(book), rulebook_of(book)
    casebook, problems = read_casebook(folder, rulebook.vocabulary, book.name)
    assert casebook is not None, problems
    weighings = [weigh(one, casebook, rulebook) for one in casebook.proposals if one.decision]
    for name, text in records_of(folder, weighings, rulebook, html):
        folder.write(name, text)


def test_records_that_are_written_again_and_a_folder_that_is_named_anew_alter_nothing(book: Path):
    made_again(book)
    assert not altering(audited(book))
    assert not altering(audited(book.rename(book.with_name("other"))))


def test_records_that_were_written_before_a_further_change_and_elsewhere_are_no_edits(book: Path):
    book = book.rename(book.with_name("other"))
    (book / "proposals/slack.yaml").write_text(SLACK, encoding="utf-8")  # the files are those of the seal again
    made_again(book)
    add(book / "components/pin.yaml", "note: Polished.\n")
    assert not altering(audited(book)), audited(book).points


def test_records_written_with_later_rules_before_a_further_change_are_no_edits(book: Path):
    (book / "proposals/slack.yaml").write_text(SLACK, encoding="utf-8")
    rules = next(path for path in (book.parent / "rules").rglob("*.yaml") if "Photograph it." in path.read_text())
    change(rules, "Photograph it.", "Photograph it first.")
    made_again(book)
    add(book / "components/pin.yaml", "note: Polished.\n")
    assert not altering(audited(book)), audited(book).points


def test_a_record_that_was_emptied_is_named(book: Path):
    (book / "records/slack.md").write_bytes(b"")
    assert found(audited(book), Kind.RECORD_ALTERED) == [("slack", "records/slack.md")]


def test_a_casebook_that_a_sealed_proof_never_had_the_name_of_is_an_edit(book: Path):
    made_again(book)
    change(book / "records/slack.json", '"casebook": "trial"', '"casebook": "another"')
    assert ("slack", "records/slack.json") in found(audited(book), Kind.RECORD_ALTERED)


def test_a_page_of_a_record_that_was_edited_is_told_and_one_that_was_written_is_not(book: Path):
    made_again(book, html=True)
    assert not found(audited(book), Kind.CANNOT_TELL)
    change(book / "records/slack.html", "Take up", "Leave")
    assert found(audited(book), Kind.CANNOT_TELL) == [("slack", "records/slack.html")]


def test_records_that_a_link_leads_to_are_told(book: Path):
    (book / "records").rename(book.parent / "elsewhere")
    (book / "records").symlink_to(book.parent / "elsewhere")
    (point,) = (one for one in audited(book).points if one.kind is Kind.CANNOT_TELL)
    assert point.where == "records" and "'records' is a symbolic link" in point.says


def test_evidence_that_was_exchanged_before_it_was_sealed_again_is_named(tmp_path: Path):
    book = written(tmp_path)
    text = (book / "evidence/register.yaml").read_text(encoding="utf-8")
    lines = [line for line in text.splitlines() if "digest:" not in line]  # nobody had written it down
    (book / "evidence/register.yaml").write_text("\n".join(lines) + "\n", encoding="utf-8")
    seal(book)
    (book / "evidence/sheet.txt").write_text("Wear 0.01 mm at the worst point.\n", encoding="utf-8")
    seal(book, "2026-04-10T12:00:00+01:00", only="slack")
    audit = audited(book)
    (point,) = (one for one in audit.points if one.kind is Kind.EVIDENCE_ALTERED)
    assert point.where == "evidence/sheet.txt" and "sealed in entry 2 than in entry 3" in point.says
    assert answer(audit, Asked.EVIDENCE) is Truth.NO


def test_rules_of_an_earlier_seal_that_are_gone_are_named_for_they_would_tell_what_was_altered_since(book: Path):
    (before,) = (book / "rulebooks").iterdir()
    change(book / "components/slide.yaml", "0.70 ± 0.04 mm", "0.60 ± 0.04 mm")
    rules = next(path for path in (book.parent / "rules").rglob("*.yaml") if "Photograph it." in path.read_text())
    change(rules, "Photograph it.", "Photograph it first.")
    seal(book, "2026-04-10T12:00:00+01:00")
    assert altering(audited(book)) == {Kind.FACT_ALTERED}
    shutil.rmtree(before)
    audit = audited(book)
    assert found(audit, Kind.RULES_ALTERED) == [("", f"rulebooks/{before.name}")]
    assert answer(audit, Asked.INPUTS) is Truth.UNKNOWN


def test_an_earlier_entry_that_says_another_verdict_than_its_proof_is_named(book: Path):
    seal(book, "2026-04-10T12:00:00+01:00", only="slack")
    rebuilt(book, lambda entry: entry["sequence"] == 2 and entry["decision"].update(verdict="not justified"))
    audit = audited(book)
    assert found(audit, Kind.NOT_REMADE) == [("slack", "chain.jsonl:2")]
    assert "Entry 2 says 'not justified' and its proof" in said(audit, Asked.REMADE)


def test_a_weighing_as_on_a_day_before_the_decision_is_named(book: Path):
    rebuilt(book, lambda entry: entry["sequence"] == 2 and entry["decision"].update(weighed_on="2026-03-01"))
    assert ("slack", "chain.jsonl:2") in found(audited(book), Kind.BACK_DATED)


def test_an_entry_in_the_place_of_another_proposal_than_it_names_is_named(book: Path):
    text = SLACK.replace("2026-03-09", "2026-04-09")
    (book / "proposals/again.yaml").write_text(f"{text}supersedes: slack\n", encoding="utf-8")
    seal(book, "2026-04-10T12:00:00+01:00", only="again")
    rebuilt(book, lambda e: e["sequence"] == 3 and e["decision"]["supersedes"].update(proposal="packing"))
    assert ("packing", "chain.jsonl:3") in found(audited(book), Kind.CHAIN)


def test_a_seal_of_the_same_hour_east_of_the_audit_is_not_dated_after_it(tmp_path: Path):
    book = written(tmp_path)
    seal(book, "2026-06-02T01:00:00+13:00")
    assert not found(audited(book, day=date(2026, 6, 1)), Kind.BACK_DATED)
    assert found(audited(book, day=date(2026, 5, 31)), Kind.BACK_DATED)


def test_that_an_act_treats_nothing_is_said_and_to_take_it_out_is_seen(tmp_path: Path):
    book = written(tmp_path)
    change(book / "proposals/slack.yaml", "treats: slack", "treats: none")
    seal(book)
    change(book / "proposals/slack.yaml", "treats: none, ", "")
    assert found(audited(book), Kind.FACT_ALTERED)


# ---- what people did ---------------------------------------------------------------------------------------------


def unsealed(root: Path, *changes: tuple[str, str, str]) -> Audit:
    """The audit of the casebook before anything was sealed, with some texts changed."""
    book = written(root)
    add(book / "proposals/slack.yaml", WORK)
    for file, old, new in changes:
        change(book / file, old, new)
    return audited(book)


def test_nothing_is_to_be_looked_at_but_that_nothing_was_sealed(tmp_path: Path):
    audit = unsealed(tmp_path)
    assert {point.kind for point in audit.points} == {Kind.NOT_SEALED}
    assert audit.witness == "" and audit.entries == 0
    assert answer(audit, Asked.REMADE) is None and answer(audit, Asked.EVIDENCE) is Truth.YES
    assert decision(audit).weighty == ("exceptional significance",)


def test_a_decision_against_the_verdict_is_told_with_who_and_why(tmp_path: Path):
    audit = unsealed(tmp_path, ("proposals/slack.yaml", "chosen: shim", "chosen: leave"))
    (point,) = (one for one in audit.points if one.kind is Kind.DECIDED_AGAINST)
    assert point.says.startswith("Against the verdict 'leave' was chosen on 2026-03-09 by A. Fenwick, lead.")
    assert "It takes nothing." in point.says and point.where == "proposals/slack.yaml:17"
    assert "decided against the verdict" in decision(audit).weighty
    assert answer(audit, Asked.WITH_VERDICT) is Truth.NO


def test_work_while_a_competent_person_is_still_to_be_asked_comes_first(tmp_path: Path):
    audit = unsealed(tmp_path, ("components/slide.yaml", "material: grey-cast-iron", "material: bronze"))
    assert audit.points[0].kind is Kind.AGAINST_REFERRAL
    assert "r/ask" in audit.points[0].says and "2026-03-14" in audit.points[0].says
    assert answer(audit, Asked.REFERRAL) is Truth.NO


REPORT = """\
report:
  kind: report
  date: {day}
  by: E. Pell
  role: competent-engineer
  competence: Chartered.
  about: [slide]
  shows: That it is sound.
  held: Office, file 2
  answers: [r/ask]
  states: {{component.serviceable: yes}}
  lapses: {lapses}
"""


@pytest.mark.parametrize(
    ("day", "lapses", "heeded"),
    [("2026-03-10", "none", True), ("2026-03-16", "none", False), ("2026-03-01", "2026-03-12", False),
     ("2026-03-10", "2026-04-01", True)],
)  # fmt: skip
def test_a_report_has_to_be_there_when_the_work_begins_whatever_comes_later(
    tmp_path: Path, day: str, lapses: str, heeded: bool
):
    audit = unsealed(
        tmp_path,
        ("components/slide.yaml", "material: grey-cast-iron", "material: bronze"),
        ("evidence/register.yaml", "sheet:\n", REPORT.format(day=day, lapses=lapses) + "sheet:\n"),
    )
    assert (answer(audit, Asked.REFERRAL) is not Truth.NO) is heeded


def test_a_referral_is_heeded_while_nothing_is_done(tmp_path: Path):
    book = written(tmp_path)
    change(book / "components/slide.yaml", "material: grey-cast-iron", "material: bronze")
    audit = audited(book)
    assert not found(audit, Kind.AGAINST_REFERRAL) and answer(audit, Asked.REFERRAL) is Truth.YES


def test_work_that_a_gate_forbids_is_named_with_its_rule(tmp_path: Path):
    gate = (
        "proposals/slack.yaml",
        "technique: shimming, where: back, thickness: 0.50 mm",
        "technique: welding, where: back",
    )
    audit = unsealed(
        tmp_path, gate, ("proposals/slack.yaml", "    after: {component.running_clearance: 0.20 ± 0.04 mm}\n", "")
    )
    (point,) = (one for one in audit.points if one.kind is Kind.AGAINST_REFERRAL)
    assert "A gate of law or safety forbids it" in point.says and "r/never" in point.says
    assert any(why.startswith("cannot be undone") for why in decision(audit).weighty)


@pytest.mark.parametrize("under", ["", ", under: slack"])
def test_what_was_done_against_advice_is_told_with_its_day_and_place(tmp_path: Path, under: str):
    event = f"says: Measured.}}\n  - {{date: 2026-03-15, kind: done-against-advice, says: Ground it.{under}}}"
    audit = unsealed(tmp_path, ("components/slide.yaml", "says: Measured.}", event))
    (point,) = (one for one in audit.points if one.kind is Kind.AGAINST_REFERRAL)
    assert point.says == "Done against advice, 2026-03-15, Slide: Ground it."
    assert (point.proposal, point.where) == ("slack" if under else "", "components/slide.yaml:23")


def test_work_before_its_decision_and_work_without_one_are_told(tmp_path: Path):
    late = unsealed(tmp_path / "a", ("proposals/slack.yaml", "date: 2026-03-09, reason", "date: 2026-03-15, reason"))
    assert found(late, Kind.DECIDED_LATE) == [("slack", "proposals/slack.yaml:1")]
    never = unsealed(tmp_path / "b", ("proposals/slack.yaml", DECISIONS["all of it"][0], ""))
    assert found(never, Kind.DECIDED_LATE) == [("slack", "proposals/slack.yaml:1")]
    assert answer(never, Asked.SEALED) is None and answer(never, Asked.BEFORE_WORK) is Truth.NO


def test_of_work_that_is_told_by_its_year_alone_nobody_can_tell_whether_it_was_decided_first(book: Path):
    before, slide = (book / "proposals/slack.yaml").read_text(encoding="utf-8"), book / "components/slide.yaml"
    (book / "proposals/slack.yaml").write_text(before.replace(WORK, ""), encoding="utf-8")
    assert answer(audited(book), Asked.BEFORE_WORK) is None
    change(slide, "says: Measured.}", "says: Measured.}\n  - {date: 2026, kind: repaired, says: Packed., under: slack}")
    audit = audited(book)
    assert answer(audit, Asked.BEFORE_WORK) is Truth.UNKNOWN
    assert found(audit, Kind.CANNOT_TELL) == [("slack", "components/slide.yaml:23")]


def test_a_decision_that_was_sealed_only_after_its_work_began_is_told(tmp_path: Path):
    book = written(tmp_path)
    add(book / "proposals/slack.yaml", WORK)
    seal(book, "2026-03-21T12:00:00+01:00")
    audit = audited(book)
    assert found(audit, Kind.SEALED_LATE) == [("slack", "proposals/slack.yaml:1")]
    assert not altering(audit)


def test_what_is_required_and_comes_late_or_never_is_told(tmp_path: Path):
    met = "    - {requirement: r/photograph, date: 2026-03-13, by: lead}\n"
    late = unsealed(tmp_path / "a", ("proposals/slack.yaml", "date: 2026-03-13, by", "date: 2026-03-16, by"))
    assert found(late, Kind.MET_LATE) == [("slack", "proposals/slack.yaml:1")]
    never = unsealed(tmp_path / "b", ("proposals/slack.yaml", f"  met:\n{met}", ""))
    assert found(never, Kind.OVERDUE) == [("slack", "proposals/slack.yaml:1")]
    assert "r/photograph" in said(never, Asked.REQUIREMENTS)


def test_what_was_left_otherwise_than_promised_is_told(tmp_path: Path):
    audit = unsealed(tmp_path, ("proposals/slack.yaml", "0.22 ± 0.04", "0.35 ± 0.04"))
    (point,) = (one for one in audit.points if one.kind is Kind.AS_LEFT)
    assert "promised 0.20 ± 0.04 mm, left 0.35 ± 0.04 mm" in point.says and point.where == "proposals/slack.yaml:24"
    assert not [one for one in audit.points if one.kind is Kind.OVERDUE]


def test_what_stood_and_would_not_stand_today_is_told_with_its_reason(book: Path):
    rule_file = book.parent / "rules/r/photograph.yaml"
    text = rule("act", "{act.technique: shimming}", "{forbid: Never pack it.}")
    rule_file.write_text(f"id: r/photograph\n{text}", encoding="utf-8")
    audit = audited(book)
    (point,) = (one for one in audit.points if one.kind is Kind.NO_LONGER_STANDS)
    assert "Never pack it." in point.says and point.proposal == "slack"
    assert answer(audit, Asked.WITH_VERDICT) is Truth.YES and answer(audit, Asked.TODAY) is Truth.NO


def test_care_under_the_policy_is_looked_at_and_needs_no_decision(tmp_path: Path):
    book = written(tmp_path)
    change(book / "object.yaml", "people:", "policy:\n  says: Keep it clean.\n  routine_care: [wiping]\npeople:")
    care = (
        "title: Wipe it\ncomponent: pin\nkind: routine-care\nacts: [{technique: wiping, treats: none, takes: none}]\n"
    )
    (book / "proposals/care.yaml").write_text(f"{care}work: {{began: 2026-03-14}}\n", encoding="utf-8")
    audit = audited(book)
    assert [one.proposal for one in audit.decisions] == ["care", "packing", "slack"]
    assert answer(audit, Asked.BEFORE_WORK, "care") is None and not found(audit, Kind.DECIDED_LATE)


def test_points_come_most_serious_first_and_are_counted(book: Path):
    (book / "evidence/sheet.txt").write_text("Other.\n", encoding="utf-8")
    change(book / "proposals/slack.yaml", "date: 2026-03-13, by", "date: 2026-03-16, by")
    audit = audited(book)
    assert [point.kind for point in audit.points] == [Kind.EVIDENCE_ALTERED, Kind.MET_LATE]
    assert audit.figures["points"] == 2 and audit.figures["points: met after its stage"] == 1


# ---- laws --------------------------------------------------------------------------------------------------------


def read(book: Path):
    return read_casebook(Folder(book), rulebook_of(book).vocabulary, book.name)[0]


@pytest.mark.parametrize(
    "file", ["components/slide.yaml", "proposals/slack.yaml", "evidence/register.yaml", "object.yaml"]
)
def test_no_line_that_a_decision_rests_on_is_taken_out_unseen(book: Path, file: str):
    before, text = read(book), (book / file).read_text(encoding="utf-8").splitlines(keepends=True)
    assert before is not None
    tried = 0
    for number, line in enumerate(text):
        (book / file).write_text("".join([*text[:number], *text[number + 1 :]]), encoding="utf-8")
        now = read(book)
        if now is None or line.startswith(("decision:", "name:", "  leave:")):
            continue  # it does not read; or is told elsewhere, names the object, or says what is so without it
        tried += 1
        assert changes(before, now, "slack", date(2026, 3, 10)).altered, line
        assert not changes(now, before, "slack", date(2026, 3, 10)).since, line
    assert tried


@settings(max_examples=10 * MORE)
@given(st.data())
def test_what_is_the_same_has_no_changes_whatever_the_order_of_its_keys(data: st.DataObject):
    before = demo()
    name = data.draw(st.sampled_from([one.id for one in before.proposals]))
    parts = dict(data.draw(st.permutations(list(before.components.items()))))
    evidence = dict(data.draw(st.permutations(list(before.evidence.items()))))
    now = replace(before, components=parts, evidence=evidence, proposals=tuple(reversed(before.proposals)))
    assert changes(before, now, name, date(2026, 9, 1)) == Changes((), (), (), 0)


# ---- proofs and signatures ---------------------------------------------------------------------------------------


def test_proofs_that_do_not_hold_are_told_apart_from_those_that_do(original: Path):
    proofs = {file.stem: file.read_bytes() for file in (original / "records").glob("*.json")}
    said = json.loads(proofs["slack"])
    said["verdict"] = "not justified"
    asked = {**proofs, "wrong": json.dumps(said).encode(), "none": b"no proof"}
    told = holding({name: lambda data=data: data for name, data in asked.items()})  # type: ignore[misc]
    assert {name: bool(wrong) for name, wrong in told.items()} == {
        "packing": False, "slack": False, "wrong": True, "none": True
    }  # fmt: skip
    assert "verdict" in told["wrong"] and holding({}) == {}


def test_a_signature_that_does_not_fit_its_entry_is_named(tmp_path: Path):
    private = Ed25519PrivateKey.from_private_bytes(bytes(range(32)))
    key = private.public_key().public_bytes_raw().hex()
    book = written(tmp_path)
    seal(book, sign=lambda message: Signature(key, private.sign(message).hex()))
    assert not altering(audited(book))

    def other(entry: dict[str, object]) -> None:
        entry["by"] = "nobody"

    rebuilt(book, other)
    assert found(audited(book), Kind.CHAIN) == [("", "chain.jsonl:1"), ("", "chain.jsonl:2")]


# ---- anything that was altered -----------------------------------------------------------------------------------

_HEAD = 10  # bytes at the head of a gzip file, which say when and where it was packed and nothing of what is inside


@settings(max_examples=8 * MORE)
@given(st.data())
def test_no_byte_of_what_was_sealed_is_altered_unseen(original: Path, data: st.DataObject):
    kept_there = [path for path in original.rglob("*") if path.is_file() and path.suffix != ".yaml"]
    kept_there += list((original / "rulebooks").rglob("*.yaml"))
    file = data.draw(st.sampled_from(sorted(kept_there)))
    was = file.read_bytes()
    at = data.draw(st.integers(_HEAD if file.suffix == ".gz" else 0, len(was) - 1))
    how = data.draw(st.sampled_from(["flip", "cut", "remove"]))
    now = bytearray(was)
    now[at] ^= data.draw(st.integers(1, 255))
    try:
        file.unlink()
        if how != "remove":
            file.write_bytes(bytes(now) if how == "flip" else was[:at])
        elif file.parent.name in ("records", "evidence"):
            return  # a record need not be there; without its evidence a casebook does not read
        assert altering(audited(original)), (file, how, at)
    finally:
        file.write_bytes(was)


@pytest.mark.parametrize(
    "same",
    [("0.70 ± 0.04 mm", "0.7 ± 0.04 mm"), ("  - {date: 2026-02-14, kind", "  # a remark\n  - {date: 2026-02-14, kind")],
)
def test_what_says_the_same_in_another_way_is_no_alteration(book: Path, same: tuple[str, str]):
    change(book / "components/slide.yaml", *same)
    audit = audited(book)
    assert not altering(audit) and "components/slide.yaml" in said(audit, Asked.INPUTS)


def test_of_long_texts_the_place_is_told_at_which_they_differ(book: Path):
    text = f"{'It was the only one left. ' * 30}The other went in 1950."
    change(book / "object.yaml", "It turned for eighty years.", text)
    seal(book, "2026-04-10T12:00:00+01:00", only="slack")
    change(book / "object.yaml", "1950", "1951")
    told = [point.says for point in audited(book).points if point.kind is Kind.FACT_ALTERED and "1951" in point.says]
    assert len(told) == 1 and "1950" in told[0] and len(told[0]) < 700


# ---- notes -------------------------------------------------------------------------------------------------------

NOTE = "about: slack\nstand: {stand}\nby: E. Pell\ncompetence: Chartered engineer.\ndate: {day}\nsays: Why not less?\n"


def noted(book: Path, name: str, stand: str, more: str = "", day: str = "2026-04-01", sealed: bool = True) -> None:
    """Write a note, and seal it."""
    data = f"{NOTE.format(stand=stand, day=day)}{more}".encode()
    folder = Folder(book)
    folder.add(f"notes/{name}.yaml", data)
    if sealed:
        append(folder, SealedNote(name, keep(folder, data), "slack", 2), "2026-04-02T12:00:00+01:00", "E. Pell")


@pytest.mark.parametrize("stand", ["query", "dissent"])
def test_what_a_reviewer_asks_or_will_not_agree_to_is_told_until_it_is_answered(book: Path, stand: str):
    noted(book, "slack-1", stand)
    noted(book, "slack-2", "agree")
    audit = audited(book)
    assert found(audit, Kind[stand.upper()]) == [("slack", "notes/slack-1.yaml:1")]
    assert "Why not less?" in audit.points[0].says and "Chartered engineer" in audit.points[0].says
    assert decision(audit).notes == ("slack-1", "slack-2") and not altering(audit)
    assert ("dissent that nobody has answered" in decision(audit).weighty) is (stand == "dissent")
    noted(book, "slack-3", "answer", "answers: slack-1\n")
    assert not audited(book).points


def test_an_answer_that_nobody_sealed_does_not_still_a_sealed_dissent(book: Path):
    noted(book, "slack-1", "dissent")
    noted(book, "slack-2", "answer", "answers: slack-1\n", sealed=False)
    assert found(audited(book), Kind.DISSENT) == [("slack", "notes/slack-1.yaml:1")]
    noted(book, "slack-3", "answer", "answers: slack-1\n")
    assert not found(audited(book), Kind.DISSENT)
    change(book / "notes/slack-3.yaml", "Why not less?", "Well done.")
    assert found(audited(book), Kind.DISSENT) == [("slack", "notes/slack-1.yaml:1")]


def test_a_note_that_was_altered_or_taken_away_is_named(book: Path):
    noted(book, "slack-1", "query")
    noted(book, "slack-2", "query")
    change(book / "notes/slack-1.yaml", "Why not less?", "Well done.")
    (book / "notes/slack-2.yaml").unlink()
    audit = audited(book)
    assert found(audit, Kind.NOTE_ALTERED) == [("slack", "notes/slack-1.yaml"), ("slack", "notes/slack-2.yaml")]


def test_a_note_that_was_never_sealed_and_one_that_is_dated_after_its_seal_are_told(book: Path):
    noted(book, "slack-1", "agree", sealed=False)
    noted(book, "slack-2", "agree", day="2026-04-20")
    audit = audited(book)
    assert found(audit, Kind.NOT_SEALED) == [("slack", "notes/slack-1.yaml:1")]
    assert found(audit, Kind.BACK_DATED) == [("slack", "chain.jsonl:3")]
