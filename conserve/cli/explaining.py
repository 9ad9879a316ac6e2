"""The command that says why: in a line, a paragraph, the whole tree, or as a ladder."""

from __future__ import annotations

import argparse
from dataclasses import replace
from typing import TYPE_CHECKING

from conserve.cli.parser import takes_casebook, takes_day, takes_json, takes_rules, with_example
from conserve.cli.reading import Read, chosen_from, find, read_all
from conserve.cli.showing import as_json, screen_width, wrapped_lines
from conserve.cli.weighing import weigh_these

if TYPE_CHECKING:
    from conserve.weighing import Weighing

DONE = 0
WIDEST_DRAWN = 88  # columns of a drawing


def add_why(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("proposal", metavar="PROPOSAL", help="a proposal's id or file")
    parser.add_argument("about", nargs="?", metavar="OPTION|RULE", help="an option of it, or a rule's id")
    parser.add_argument("--length", choices=("line", "paragraph", "tree", "ladder"), help="how much to tell")
    parser.add_argument("--component", metavar="COMPONENT", help="tell of this one of several components alike")
    takes_day(parser, "weigh as on this day; otherwise as on the latest day in the casebook")
    takes_casebook(parser)
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve why crosshead-slipper",
        "conserve why crosshead-slipper skim-working-face --length tree",
        "conserve why crosshead-slipper --length ladder",
        "conserve why crosshead-slipper record/hidden-first",
    )
    parser.set_defaults(run=why)


def why(given: argparse.Namespace) -> int:
    place = find(given.proposal, given.inside)
    read = read_all(place, given.rules, json=given.json)
    proposal = read.proposal(place.proposal or given.proposal)
    if given.component:
        chosen_from(f"component in '{proposal.id}' called", given.component, proposal.components)
        proposal = replace(proposal, components=(given.component,))
    (weighing,) = weigh_these((proposal,), read, given.day)
    told = _why_told(weighing, given.about, given.length, read, WIDEST_DRAWN if given.json else screen_width())
    if given.json:
        from conserve import explanation

        about = {"about": given.about, "says": told, "weighing": explanation.as_json(weighing)}
        print(as_json(about))
    else:
        print(wrapped_lines(told.strip("\n")))
    return DONE


def _why_told(weighing: Weighing, about: str | None, length: str | None, read: Read, width: int) -> str:
    from conserve import explanation

    if not about:
        if length == "ladder":
            return _drawn(weighing, "", width)
        if length == "tree":
            return f"{explanation.tree(weighing, read.rulebook)}\n\n{_looked_into(weighing, weighing.chosen, read)}"
        return explanation.line(weighing) if length == "line" else explanation.paragraph(weighing)
    options = [option.id for option in weighing.proposal.options]
    if "/" in about:
        chosen_from("rule", about, (rule.id for rule in read.rulebook.rules))
        return explanation.why_rule(weighing, about)
    chosen_from("option", about, options)
    if length == "ladder":
        return _drawn(weighing, about, width)
    if length in (None, "tree"):
        return f"{explanation.tree(weighing, read.rulebook, about)}\n\n{_looked_into(weighing, about, read)}"
    return explanation.option_line(weighing.worst, weighing.worst.option(about))


def _looked_into(weighing: Weighing, option: str, read: Read) -> str:
    """Why not less, what would change the answer, what it may come to, and how far the numbers may move."""
    from conserve.explanation.arguing import argument, how_far, may_come_to, what_would_change
    from conserve.whatif.inquiry import look_into

    part = weighing.worst
    inquiry = look_into(part, option, read.rulebook)
    sections = (
        ("Why not less", argument(inquiry.least, part)),
        ("What would change this", what_would_change(inquiry, part, read.rulebook)),
        ("What it may come to", may_come_to(inquiry, part, read.rulebook)),
        ("How far the numbers may move", how_far(inquiry, part)),
    )
    return "\n\n".join("\n".join((title, *(f"  {said}" for said in told))) for title, told in sections if told)


def _drawn(weighing: Weighing, option: str, width: int) -> str:
    """The options as a ladder, and what each of them, or the one asked about, leaves of the part."""
    from conserve.record import bars, ladder

    width = min(width, WIDEST_DRAWN)
    return f"{ladder.text(ladder.ladder_of(weighing), width)}\n\n{bars.text(bars.bars_of(weighing, option), width)}"
