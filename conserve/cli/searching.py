"""The commands that search every case: gaps, mutate, overlay."""

from __future__ import annotations

import argparse

from conserve.cli.parser import Parser, takes_overlays, with_example


def add_searches(below: argparse._SubParsersAction[Parser]) -> tuple[Parser, Parser, Parser]:
    """The commands that search every case."""
    gaps = below.add_parser(
        "gaps",
        help="tell what the rules leave unsettled",
        description="Tell what the rules leave unsettled, each with the smallest case that shows it.",
    )
    wide = "tell also of rules that pull apart though they ask about no word in common"
    gaps.add_argument("--wide", action="store_true", help=wide)
    with_example(gaps, "conserve rules gaps")
    gaps.set_defaults(run=_gaps)
    mutate = below.add_parser(
        "mutate",
        help="tell which small changes to a rule no example would notice",
        description="Make small changes to rules; tell which no example would notice, and give one that would.",
    )
    mutate.add_argument("rule", nargs="*", metavar="RULE", help="a rule's id; without one, every rule")
    with_example(mutate, "conserve rules mutate machining/functional-face-only")
    mutate.set_defaults(run=_mutate)
    for one in (gaps, mutate):
        takes_overlays(one)
    overlay = below.add_parser(
        "overlay",
        help="prove that an overlay only tightens the rules",
        description="Prove that an overlay only tightens the rules, or tell the smallest cases in which it does not.",
    )
    overlay.add_argument("overlay", metavar="OVERLAY", help="the overlay's name: its folder under overlays/")
    with_example(overlay, "conserve rules overlay gb")
    overlay.set_defaults(run=_overlay)
    return gaps, mutate, overlay


def _gaps(given: argparse.Namespace) -> int:
    from conserve.cli.unsettled import tell_gaps

    return tell_gaps(given)


def _mutate(given: argparse.Namespace) -> int:
    from conserve.cli.changing import tell_changes

    return tell_changes(given)


def _overlay(given: argparse.Namespace) -> int:
    from conserve.cli.unsettled import tell_overlay

    return tell_overlay(given)
