"""What the rules leave unsettled, what their examples would not notice, and whether an overlay only tightens."""

from __future__ import annotations

import argparse
from typing import TYPE_CHECKING

from conserve.cli.reading import read_rules
from conserve.cli.showing import as_json, counted, in_colour, with_progress, wrapped

if TYPE_CHECKING:
    from collections.abc import Iterable, Iterator, Sequence

    from conserve.rule import Rule
    from conserve.rulebook import Rulebook
    from conserve.search.case import Witness
    from conserve.search.gap import Gap
    from conserve.search.overlay import Loosened
    from conserve.terms import Vocabulary

DONE = 0


def with_rule(rules: Sequence[Rule]) -> Iterator[Rule]:
    """Go through rules, telling on a terminal how far it has come."""
    return with_progress(rules, "rule")


def case_json(witness: Witness | None, words: Vocabulary) -> dict[str, object]:
    """A case in words, and as `conserve rules try` takes it."""
    from conserve.readback import case_in_words
    from conserve.search.writing import as_on_command_line

    if witness is None:
        return {"case": None, "facts": None}
    return {"case": case_in_words(witness, words), "facts": as_on_command_line(witness, words)}


# ---- gaps -------------------------------------------------------------------------------------------

_GAPS = {
    "contradiction": "{0} asks for something only where {1} forbids it",
    "pulls apart": "{0} {does}, and {1} lets {term} be {values}; neither says under 'overrides' or 'beside' why",
    "never applies": "{0} can never apply",
    "only open": "{0} can never be certain, only in doubt",
    "set aside": "{0} never counts: wherever it applies or may, a rule that overrides it does ({rest})",
    "tells nothing more": "{0} tells nothing that {1} does not tell there already",
    "no answer": "{0} asks for {term}, which nobody gives",
    "no such value": "{term} can be {values} by its list, and nothing gives it that value",
    "waits in vain": "{0} waits for {term} to be {values}, and no rule gives it that value",
    "nobody asks": "{all} would settle {term}, and nothing asks for it",
    "reaches nothing": "{0} overrides {1}, which is about a kind of thing that it does not reach",
}
_TWO_VALUES = "{0} and {1} give {term} two values, {values}"
_DOES = {"forbid": "forbids", "refer": "refers to someone", "against": "objects"}


def tell_gaps(given: argparse.Namespace) -> int:
    from conserve.search.gaps import find_gaps

    rulebook = read_rules(given.rules, json=given.json, overlays=given.overlay)
    gaps = find_gaps(rulebook, wide=given.wide, through=with_rule)
    if given.json:
        print(as_json({"rulebook": rulebook.digest, "gaps": [_gap_json(gap, rulebook) for gap in gaps]}))
    else:
        print("\n".join(_gaps_told(gaps, rulebook)))
    return DONE


def _gaps_told(gaps: Sequence[Gap], rulebook: Rulebook) -> Iterator[str]:
    from conserve.explanation.words import capital
    from conserve.readback import case_in_words

    kind = ""
    for gap in gaps:
        if gap.kind != kind:
            yield in_colour(capital(gap.kind), "strong")
            kind = gap.kind
        case = "" if gap.witness is None else f": {case_in_words(gap.witness, rulebook.vocabulary)}"
        yield wrapped(f"{_gap_said(gap, rulebook)}{case}.", "    ", "  ")
    yield f"{counted(len(gaps), 'thing')} unsettled." if gaps else "Nothing is unsettled."


def _gap_said(gap: Gap, rulebook: Rulebook) -> str:
    from conserve.explanation.words import listed
    from conserve.readback import named

    sentence = _TWO_VALUES if gap.kind == "contradiction" and gap.term else _GAPS[gap.kind]
    first = rulebook.rule(gap.rules[0]) if gap.rules else None
    return sentence.format(
        *gap.rules,
        does=_DOES.get(first.then.kind, "") if first else "",
        term=named(rulebook.vocabulary.terms[gap.term]) if gap.term in rulebook.vocabulary.terms else gap.term,
        values=listed(gap.values, "and" if gap.kind == "contradiction" else "or"),
        rest=listed(gap.rules[1:]),
        all=listed(gap.rules),
    )


def _gap_json(gap: Gap, rulebook: Rulebook) -> dict[str, object]:
    return {
        "kind": str(gap.kind),
        "rules": list(gap.rules),
        "term": gap.term,
        "values": list(gap.values),
        "says": f"{_gap_said(gap, rulebook)}.",
        **case_json(gap.witness, rulebook.vocabulary),
    }


# ---- overlay ----------------------------------------------------------------------------------------


def tell_overlay(given: argparse.Namespace) -> int:
    from conserve.search.overlay import loosened

    laid = read_rules(given.rules, json=given.json, overlays=[given.overlay])
    base = read_rules(given.rules, json=given.json)
    found = loosened(base, laid, through=with_rule)
    if given.json:
        told = [_loosened_json(one, laid) for one in found]
        answer = {"rulebook": laid.digest, "overlay": given.overlay, "tightens": not found, "loosens": told}
        print(as_json(answer))
    else:
        print("\n".join(_overlay_told(given.overlay, found, laid)))
    return DONE


def _overlay_told(name: str, found: Sequence[Loosened], laid: Rulebook) -> Iterator[str]:
    from conserve.readback import case_in_words

    if not found:
        yield wrapped(f"The overlay '{name}' only tightens: in no case does a rule ask less than without it.")
        return
    yield in_colour(f"The overlay '{name}' loosens {counted(len(found), 'thing')}.", "strong")
    for one in found:
        yield wrapped(f"{_loosened_said(one, laid)}: {case_in_words(one.witness, laid.vocabulary)}.", "    ", "  ")
    yield from _withdrawn(name, laid)


def _withdrawn(name: str, laid: Rulebook) -> Iterable[str]:
    edges = (edge for overlay in laid.overlays if overlay.name == name for edge in overlay.withdraws)
    return (wrapped(f"It withdraws {edge.rule}: {edge.why}", "    ", "  ") for edge in edges)


def _loosened_said(one: Loosened, laid: Rulebook) -> str:
    from conserve.readback import named

    if one.word:
        surely = "lets" if one.certain else "may let"
        return f"It {surely} {named(laid.vocabulary.terms[one.word])} be {one.value}, which nothing lets without it"
    lost = "nothing as strict does" if one.falls else "what is as strict there asks for something else"
    if one.certain:
        return f"{one.rule} holds without it; with it, it no longer holds for certain, and {lost}"
    return f"{one.rule} holds or is in doubt without it; with it, it falls away, and {lost}"


def _loosened_json(one: Loosened, laid: Rulebook) -> dict[str, object]:
    return {
        "rule": one.rule,
        "term": one.word,
        "value": one.value,
        "certain": one.certain,
        "falls": one.falls,
        "says": f"{_loosened_said(one, laid)}.",
        **case_json(one.witness, laid.vocabulary),
    }
