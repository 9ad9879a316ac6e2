"""What the shape of an option says by itself: whether the part stays, and whether what gets worse is dealt with."""

from __future__ import annotations

import pytest
from helpers import casebook_of, shipped_rules

from conserve.facts import facts_about

VOCABULARY = shipped_rules().vocabulary
PART = """\
    name: Slide
    phase: as-built
    surfaces: none
    repairs: none
    defects: {slack: {kind: wear, active: yes}, rust: {kind: active-corrosion, active: yes}, dent: {kind: distortion, active: no}}
    history: none
    """
PROPOSAL = """\
    title: T
    component: slide
    asked: {{date: 2026-03-02, by: me}}
    needs: {{fit: {{kind: function, says: It runs., test: {{component.serviceable: yes}}, set_by: me}}}}
    options:
      leave: {{acts: []}}
      work: {{acts: [{acts}]}}
    preferred: leave
    """


def said(tmp_path, term: str, acts: str, part: str = PART) -> tuple[str, ...] | None:
    files = {"components/slide.yaml": part, "proposals/p.yaml": PROPOSAL.format(acts=acts)}
    casebook = casebook_of(tmp_path, files)
    facts = facts_about(casebook.proposals[0], casebook.components["slide"], casebook, VOCABULARY, casebook.as_at)
    return facts.today.facts["option:work", term].values


@pytest.mark.parametrize(
    ("acts", "stays"),
    [
        ("{technique: strapping}", "yes"),
        ("{technique: adjustment}", "yes"),
        ("{technique: replacement}", "no"),
        ("{technique: removal}", "no"),
        ("{technique: wiping}, {technique: replacement}", "no"),
    ],
)
def test_a_part_stays_unless_an_act_takes_it_off_whole(tmp_path, acts, stays):
    assert said(tmp_path, "option.part_stays", acts) == (stays,)


@pytest.mark.parametrize(
    ("acts", "treats"),
    [
        ("{technique: adjustment, treats: slack}, {technique: drying, treats: rust}", ("yes",)),  # the dent is still
        ("{technique: adjustment, treats: slack}", ("no",)),
        ("{technique: adjustment, treats: none}", ("no",)),
        (
            "{technique: examination, treats: slack}, {technique: drying, treats: rust}",
            ("no",),
        ),  # a look treats nothing
        ("{technique: adjustment}", None),
        ("{technique: replacement, treats: none}", ("yes",)),
    ],
)
def test_what_gets_worse_is_dealt_with_by_an_act_that_treats_it(tmp_path, acts, treats):
    assert said(tmp_path, "option.treats_worsening", acts) == treats


@pytest.mark.parametrize(
    "part", [PART.replace("kind: wear, active: yes", "kind: wear"), "\n".join(PART.split("\n")[:4])]
)
def test_where_nobody_says_what_gets_worse_it_cannot_be_told(tmp_path, part):
    assert (
        said(
            tmp_path,
            "option.treats_worsening",
            "{technique: drying, treats: none}",
            part.replace("rust: {kind: active-corrosion, active: yes}", "rust: {kind: active-corrosion, active: no}"),
        )
        is None
    )
