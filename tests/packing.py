"""A small casebook with evidence of every kind that a bundle has to tell apart, and its bundle."""

from __future__ import annotations

import hashlib
from datetime import date
from pathlib import Path

from helpers import folder_of, rule, rules_folder

from conserve.casebook import Casebook, read_casebook
from conserve.files import Folder
from conserve.pack import Asked, Packed, pack
from conserve.readiness import read_profile
from conserve.rulebook import Rulebook, read_rulebook
from conserve.weighing import weigh_all

DAY = date(2026, 5, 4)
SECRET = b"what only the owner may see: \x00\xffthe key is under the third flag"
FOR_REVIEWERS = b"<svg xmlns='http://www.w3.org/2000/svg'><title>a weld</title></svg>"
FOR_ALL = b"<svg xmlns='http://www.w3.org/2000/svg'><title>a face</title></svg>"
ORIGINAL = b"\xff\xd8 taken at the station, with its place \xff\xd9"
COPY = b"\xff\xd8 the same, without its place \xff\xd9"
UNSAID = b"a page of the daybook of 1911"

EVIDENCE = {
    "face 100% – Würfel's.svg": FOR_ALL,
    "weld.svg": FOR_REVIEWERS,
    "the safe.jpg": SECRET,
    "dsc_0042.jpg": ORIGINAL,
    "shown/davit.jpg": COPY,
    "daybook-1911.csv": UNSAID,
}


def digest(data: bytes) -> str:
    return hashlib.sha256(data).hexdigest()


REGISTER = {
    "face-before": f"""\
        kind: photograph
        file: "face 100% – Würfel's.svg"
        date: 2026-03-13
        by: L. Fearn
        about: [slide]
        shows: >
          The face before the work: 'a quote', a "double" one,
          and a colon: here.
        digest: {digest(FOR_ALL)}
        size: {len(FOR_ALL)}
        rights: L. Fearn; may be printed with the name.
        show: anyone
    """,
    "weld-report": f"""\
        kind: report
        file: weld.svg
        date: 2026-03-14
        by: J. Hexter
        role: competent-engineer
        competence: Examines slow engines.
        about: [slide]
        answers: [needs/fit]
        states: {{component.running_clearance: 0.71 ± 0.04 mm}}
        lapses: none
        shows: The weld at the foot.
        digest: {digest(FOR_REVIEWERS)}
        show: reviewers
    """,
    "safe": f"""\
        kind: photograph
        file: the safe.jpg  # never to be sent
        date: 2026-03-15
        by: M. Tranter
        about: object
        shows: Where the spare keys hang in the pump house.
        digest: {digest(SECRET)}
        show: nobody
    """,
    "davit": f"""\
        kind: photograph
        file: dsc_0042.jpg
        date: 2026-03-16
        by: L. Fearn
        about: [slide]
        shows: The davit.
        digest: {digest(ORIGINAL)}
        size: {len(ORIGINAL)}
        show: anyone
        shown_as: shown/davit.jpg
        shown_digest: {digest(COPY)}
    """,
    "daybook": """\
        kind: document
        file: daybook-1911.csv
        date: 2026-03-17
        by: M. Tranter
        about: object
        shows: What the fitters wrote in the wet summer.
    """,
    "old-print": """\
        kind: photograph
        date: 2026-03-18
        by: M. Tranter
        about: object
        held: Trust office, box 2
        shows: The engine house from the road.
        show: anyone
    """,
}

SLIDE = """\
    name: Slide
    significance: some
    significance_reason: It ran for eighty years.
    material: grey-cast-iron
    phase: as-built
    running_clearance: 0.70 ± 0.04 mm
    present: yes
    serviceable: yes
    surfaces:
      face: {function: sliding, area: 400 ± 6 cm2, relief: 0.03 ± 0.01 mm, sets_clearance: yes, marks: none}
      back: {function: mating, area: 400 ± 6 cm2, relief: 0.03 ± 0.01 mm, sets_clearance: yes, marks: none}
    repairs: none
    defects:
      slack: {kind: wear, seen: seen, active: no, affects_safety: no}
    history: none
    """

PROPOSAL = """\
    title: Take up the slack
    component: slide
    asked: {date: 2026-03-02, by: lead}
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
          - {technique: shimming, where: back, thickness: 0.50 mm, treats: slack, takes: none, disturbs_repair: no}
        after: {component.running_clearance: 0.20 ± 0.04 mm}
    preferred: shim
    decision: {chosen: shim, by: lead, date: 2026-03-20, reason: It comes out again.}
    work:
      began: 2026-03-21
      finished: 2026-03-22
      by: {name: S. Varley, competence: Time-served fitter.}
    """

OBJECT = """\
    name: Trial engine
    kind: stationary-engine
    duty_now: static
    duty_wanted: demonstration
    working_is_significant: yes
    rarity: few
    consent: not-needed
    upkeep_provided: yes
    significance: It turned for eighty years.
    owner: Fen Trust
    people:
      lead: {name: M. Tranter, role: lead, competence: Leads the work.}
      fitter: {name: S. Varley, role: volunteer, competence: Time-served fitter.}
    phases:
      as-built: {period: as-made, dates: "1868"}
    """


def profile(audience: str) -> str:
    return f"""\
        title: The county fund
        says: What the county fund asks for.
        audience: {audience}
        requires:
          significance:
            says: Why the object matters.
            why: The fund pays for what matters.
            source: common-practice
            needed: must
            answered_by:
              - {{field: object.significance}}
          upkeep:
            says: Who looks after it.
            why: What is mended is to last.
            source: common-practice
            needed: should
            answered_by:
              - {{policy: review}}
    """


def register(order: list[str] | None = None, **instead: str) -> str:
    """The register's text, its entries in any order."""
    texts = {**REGISTER, **{name.replace("_", "-"): text for name, text in instead.items()}}
    return "# the owner's own remark about the safe\n" + "".join(
        f"{name}:\n{texts[name].rstrip(' ')}" for name in order or texts
    )


def casebook_at(root: Path, entries: str | None = None, **more: str) -> Folder:
    """Write the small casebook under a folder."""
    files = {
        "object.yaml": OBJECT,
        "components/slide.yaml": SLIDE,
        "proposals/slack.yaml": PROPOSAL,
        "profiles/county.yaml": profile("reviewers"),
        "profiles/leaflet.yaml": profile("anyone"),
        "jottings/private.yaml": "nothing: of the casebook\n",
        **more,
    }
    folder = folder_of(root, files)
    (root / "evidence/shown").mkdir(parents=True)
    for name, data in EVIDENCE.items():
        (root / "evidence" / name).write_bytes(data)
    (root / "evidence/register.yaml").write_text(entries or register(), encoding="utf-8")
    return folder


def rules_at(root: Path) -> Folder:
    """A few rules, in a folder of their own."""
    told = rule("proposal", "{proposal.kind: intervention}", "{note: Say what was done.}")
    return rules_folder(root, {"r/told": told})


def read_both(folder: Folder, rules: Folder) -> tuple[Casebook, Rulebook]:
    rulebook, wrong = read_rulebook(rules)
    assert rulebook is not None, wrong
    casebook, wrong = read_casebook(folder, rulebook.vocabulary, folder.root.name)
    assert casebook is not None, wrong
    return casebook, rulebook


def asked_of(folder: Folder, rules: Folder, to: Path, purpose: str = "county") -> Asked:
    casebook, rulebook = read_both(folder, rules)
    return Asked(
        folder=folder,
        casebook=casebook,
        rules=rules,
        rulebook=rulebook,
        weighings=weigh_all(casebook, rulebook, DAY),
        profile=read_profile(folder, purpose, rulebook, rules),
        day=DAY,
        to=to,
        version="1.2.3",
    )


def packed(asked: Asked) -> Packed:
    return pack(asked, lambda casebook, rulebook: weigh_all(casebook, rulebook, DAY))
