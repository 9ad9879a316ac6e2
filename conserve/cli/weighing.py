"""The commands that read and weigh: check, weigh."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from typing import TYPE_CHECKING

from conserve.cli.overtaking import as_data, held_against, in_words
from conserve.cli.parser import (
    takes_casebook,
    takes_day,
    takes_json,
    takes_one_casebook,
    takes_rules,
    takes_what,
    with_example,
)
from conserve.cli.reading import Broken, Read, find, read_all, seals_of
from conserve.cli.showing import as_json, colour_of, counted, in_colour, table, with_progress, wrapped

if TYPE_CHECKING:
    from datetime import date

    from conserve.casebook import Proposal
    from conserve.weighing import Weighing

DONE, DOES_NOT_PASS = 0, 1
MOST_ASKED = 3  # questions told of one option; `why` tells them all


# ---- check ------------------------------------------------------------------------------------------


def add_check(parser: argparse.ArgumentParser) -> None:
    takes_one_casebook(parser)
    takes_rules(parser)
    takes_json(parser)
    with_example(parser, "conserve check casebook/marrow-fen")
    parser.set_defaults(run=check)


def check(given: argparse.Namespace) -> int:
    read = read_all(find(given.casebook), given.rules, json=given.json, answer=True)
    casebook, rulebook = read.casebook, read.rulebook
    seals = seals_of(read)
    if seals.problems:  # they must be sound where a casebook is said to be
        raise Broken(seals.problems, {read.place.shown: read.folder}, given.json, answer=True)
    held = held_against(read, seals, given.json)
    amounts = {
        "components": len(casebook.components),
        "proposals": len(casebook.proposals),
        "evidence": len(casebook.evidence),
        "rules": len(rulebook.rules),
        "entries": len(seals.chain.entries),
        "notes": len(seals.notes),
    }
    if given.json:
        told: dict[str, object] = {
            "casebook": casebook.id,
            "problems": [],
            "read": amounts,
            "rulebook": rulebook.digest,
            "witness": seals.witness,
        }
        print(as_json({**told, "statements": as_data(held)}))
        return DONE
    read_in = ", ".join(
        (
            counted(amounts["components"], "component"),
            counted(amounts["proposals"], "proposal"),
            counted(amounts["evidence"], "piece of evidence", "pieces of evidence"),
            counted(amounts["rules"], "rule"),
        )
    )
    print(f"{casebook.object.name}: {read_in}. No problems.")
    if seals.witness:
        entries = counted(amounts["entries"], "entry", "entries")
        print(f"Its chain of seals has {entries}; witness code {seals.witness}.")
    print("".join(f"{line}\n" for line in in_words(held)), end="")
    return DONE


# ---- weigh ------------------------------------------------------------------------------------------


def add_weigh(parser: argparse.ArgumentParser) -> None:
    takes_what(parser)
    takes_day(parser, "weigh as on this day; otherwise as on the latest day in the casebook")
    takes_casebook(parser)
    takes_rules(parser)
    takes_json(parser)
    with_example(parser, "conserve weigh casebook/marrow-fen", "conserve weigh crosshead-slipper --on 2026-06-01")
    parser.set_defaults(run=weigh)


def weigh(given: argparse.Namespace) -> int:
    read = read_all(find(given.what, given.inside), given.rules, json=given.json)
    weighings = weigh_these(read.proposals(), read, given.day)
    if given.json:
        print(as_json(_weighings_as_json(weighings, read)))
    elif read.place.proposal:
        print(_one_told(weighings[0], read))
    else:
        print(all_told(weighings))
    return DONE if all(weighing.verdict.stands for weighing in weighings) else DOES_NOT_PASS


def weigh_these(proposals: Sequence[Proposal], read: Read, day: date | None) -> tuple[Weighing, ...]:
    """Weigh some proposals of a casebook, showing how far it has come."""
    from conserve.weighing import weigh

    return tuple(weigh(one, read.casebook, read.rulebook, day) for one in with_progress(proposals, "weighing"))


def engines_told() -> str:
    from conserve.engine import engines

    return "Two engines agree." if len(engines()) > 1 else "One engine: durable-rules is not here."


def _weighings_as_json(weighings: Sequence[Weighing], read: Read) -> dict[str, object]:
    from conserve import explanation
    from conserve.engine import engines

    return {
        "casebook": read.casebook.id,
        "engines": list(engines()),
        "rulebook": read.rulebook.digest,
        "weighings": [explanation.as_json(one) if read.place.proposal else _short_json(one) for one in weighings],
    }


def _short_json(weighing: Weighing) -> dict[str, object]:
    """What a line of the table says; the whole of it, for a casebook, would be tens of megabytes."""
    return {
        "proposal": weighing.proposal.id,
        "title": weighing.proposal.title,
        "on": weighing.on.isoformat(),
        "verdict": str(weighing.verdict),
        "conclusion": str(weighing.conclusion),
        "chosen": weighing.chosen,
        "decided": weighing.proposal.decision is not None,
        "verdicts": {option: str(verdict) for option, verdict in weighing.verdicts.items()},
        "out_of_use": sorted(part.component.id for part in weighing.parts if part.out_of_use),
        "not_alike": sorted(part.component.id for part in weighing.exceptions),
    }


def all_told(weighings: Sequence[Weighing]) -> str:
    if not weighings:
        return "No proposal has been written yet."
    rows = [(w.proposal.id, str(w.verdict), _option_told(w), str(w.conclusion)) for w in weighings]
    passing = sum(weighing.verdict.stands for weighing in weighings)
    blocks = [
        *(line for weighing in weighings for line in _out_of_use(weighing)),
        table(("proposal", "verdict", "option", "conclusion"), rows, coloured=1),
        f"{passing} of {counted(len(weighings), 'proposal')} stand as chosen or preferred. " + _as_at(weighings[0]),
    ]
    return "\n".join(blocks)


def _as_at(weighing: Weighing) -> str:
    from conserve import explanation

    return f"As at {explanation.day_in_words(weighing.on)}. {engines_told()}"


def _option_told(weighing: Weighing) -> str:
    if weighing.proposal.decision:
        return f"{weighing.chosen} (chosen)"
    return f"{weighing.chosen} (preferred)" if weighing.proposal.preferred else weighing.chosen


def _out_of_use(weighing: Weighing) -> list[str]:
    """Hazards come first: what a part must not be used for until a safety need is settled."""
    from conserve import explanation

    parts = [part for part in weighing.parts if part.out_of_use]
    return [in_colour(wrapped(explanation.out_of_use(part), "  ", "! "), "bad") for part in parts]


def _one_told(weighing: Weighing, read: Read) -> str:
    from conserve import explanation

    part = weighing.worst
    title, comes_to = in_colour(weighing.proposal.title, "strong"), wrapped(explanation.conclusion(weighing))
    lines = [title, *_out_of_use(weighing), comes_to, ""]
    for option in part.options:
        name, verdict = option.option.id, str(option.verdict)
        mark = ""
        if name == weighing.chosen:
            mark = " (chosen)" if weighing.proposal.decision else " (preferred)" if weighing.proposal.preferred else ""
        lines.append(f"{in_colour(name, 'strong')}{mark}: {in_colour(verdict, colour_of(verdict))}")
        lines.append(wrapped(explanation.option_line(part, option), "    "))
        asked = explanation.questions(part, option, read.rulebook)
        lines += [wrapped(question, "        ", "    ask ") for question in asked[:MOST_ASKED]]
    lines.append("")
    if len(weighing.parts) > 1:
        lines.append(wrapped(explanation.like_parts(weighing)))
    lines.append(f"{_as_at(weighing)} More: conserve why {weighing.proposal.id}")
    return "\n".join(lines)
