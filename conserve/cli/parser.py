"""Every command by name, and the parser of the one that is asked for."""

from __future__ import annotations

import argparse
from collections.abc import Sequence
from importlib import import_module
from typing import NamedTuple, NoReturn


class Command(NamedTuple):
    """A command: what it does in a line, and the module whose `add_<name>` says the rest."""

    name: str
    does: str
    module: str
    shown: bool = True

    def fill(self, parser: argparse.ArgumentParser) -> None:
        """Add the command's arguments, help and example to its parser."""
        add = getattr(import_module(f"conserve.cli.{self.module}"), f"add_{self.name}")
        add(parser)


COMMANDS = (
    Command("start", "begin a casebook or a component, with every question as a comment", "making"),
    Command("check", "read everything and say all that is wrong with it", "weighing"),
    Command("weigh", "weigh what is proposed and say what stands", "weighing"),
    Command("why", "say why a verdict is so, or why an option or a rule does not decide it", "explaining"),
    Command("reckon", "work out a number at the bench, with its working and cautions", "reckoning"),
    Command("survey", "say what to find out next, print it as a sheet, and read the sheet back", "surveying"),
    Command("evidence", "take files in as evidence, and hold the register against them", "registering"),
    Command("import", "bring a spreadsheet of components and their condition in", "importing"),
    Command("export", "give registers and survey sheets as spreadsheets", "exporting"),
    Command("record", "write the records, and seal what is decided", "recording"),
    Command("note", "say of a decision that you agree, ask or dissent, and seal that", "noting"),
    Command("statement", "write the conservation statement of the whole object", "stating"),
    Command("sheet", "print workshop sheets: cautions, what to have in hand, boxes to tick", "sheeting"),
    Command("ledger", "tell how much of each phase's fabric is left, through time", "keeping"),
    Command("due", "say what is owed, and by when", "recording"),
    Command("readiness", "say what a grant or a board asks for and is not there, and what the work costs", "readying"),
    Command("pack", "put statement, records, evidence and rules together as a bundle to send", "packing"),
    Command("audit", "look at every decision again: what was altered, and what does not fit", "auditing"),
    Command("rules", "list, show and try the rules", "rules"),
    Command("schema", "give the JSON Schema of a casebook's files", "making"),
    Command("completion", "print a script that completes commands in a shell", "completing"),
    Command("complete", "print ids, for completion", "completing", shown=False),
)
_EXAMPLE = """example:
  conserve check casebook/marrow-fen
  conserve weigh crosshead-slipper

'conserve COMMAND --help' says more, with an example.

exits:
  0  done
  1  weigh: a chosen or preferred option does not pass
     audit: something was altered, or comes out otherwise
  2  the input is broken
  3  the engines disagree"""


class _Help(argparse.RawDescriptionHelpFormatter):
    """Keeps the lines of examples, and leaves room for the longest command."""

    def __init__(self, prog: str) -> None:
        super().__init__(prog, max_help_position=30)
        self._action_max_length = 14


class Parser(argparse.ArgumentParser):
    """A parser that keeps its examples' lines, takes no shortened options, and says what it did not understand."""

    def __init__(self, **given: object) -> None:
        given.setdefault("formatter_class", _Help)
        given.setdefault("allow_abbrev", False)
        super().__init__(**given)  # type: ignore[arg-type]

    def error(self, message: str) -> NoReturn:
        self.exit(2, f"conserve: {message}\n    hint: {self.prog} --help\n")


def parser_for(argv: Sequence[str]) -> argparse.ArgumentParser:
    """The parser for one command line: only the command that is asked for is built in full."""
    asked = next((word for word in argv if not word.startswith("-")), None)
    known = [command.name for command in COMMANDS]
    parser = _top([command for command in COMMANDS if command.name == asked])
    if asked is not None and asked not in known:
        from conserve.problem import nearest

        like = nearest(asked, known)
        parser.error(f"there is no command '{asked}'" + (f"; did you mean '{like}'?" if like else ""))
    return parser


def whole_parser() -> argparse.ArgumentParser:
    """The parser with every command in full."""
    return _top(COMMANDS)


def groups_of(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The commands below a parser, by name."""
    for action in parser._actions:  # argparse has no public way to ask
        if isinstance(action, argparse._SubParsersAction):
            return dict(action.choices)
    return {}


def _top(full: Sequence[Command]) -> argparse.ArgumentParser:
    parser = Parser(
        prog="conserve",
        description="Weigh proposed work on historic machinery against conservation practice, and write down why.",
        epilog=_EXAMPLE,
    )
    parser.add_argument("--version", action=_Version, nargs=0, help="say the version and stop")
    below = parser.add_subparsers(title="commands", metavar="COMMAND", required=True, parser_class=Parser)
    for command in COMMANDS:
        describing = f"{command.does[0].upper()}{command.does[1:]}."
        if command.shown:
            one = below.add_parser(command.name, description=describing, help=command.does)
        else:
            one = below.add_parser(command.name, description=describing)
        if command in full:
            command.fill(one)
    return parser


class _Version(argparse.Action):
    """Look the version up only when it is asked for: that loads a good part of the library."""

    def __call__(self, parser: argparse.ArgumentParser, *_: object) -> NoReturn:
        print(f"conserve {own_version()}")
        parser.exit()


def own_version() -> str:
    from importlib.metadata import PackageNotFoundError, version

    try:
        return version("conserve-casebook")
    except PackageNotFoundError:
        return "(not installed: run from a folder)"


# ---- what several commands take -------------------------------------------------------------------


def takes_rules(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--rules", metavar="FOLDER", help="use the rules of this folder, not those that came along")


def takes_overlays(parser: argparse.ArgumentParser) -> None:
    said = "lay this overlay over the rules, such as a country's law; may be said more than once"
    parser.add_argument("--overlay", metavar="OVERLAY", action="append", default=[], help=said)


def takes_json(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--json", action="store_true", help="print JSON, for programs")


def takes_one_casebook(parser: argparse.ArgumentParser) -> None:
    said = "the casebook's folder; without it, the one here"
    parser.add_argument("casebook", nargs="?", metavar="CASEBOOK", help=said)


def takes_what(parser: argparse.ArgumentParser) -> None:
    said = "a proposal's id or file, or a casebook's folder; without it, all here"
    parser.add_argument("what", nargs="?", metavar="WHAT", help=said)


def takes_casebook(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("--in", dest="inside", metavar="CASEBOOK", help="the casebook's folder, if not found from here")


def takes_day(parser: argparse.ArgumentParser, told: str) -> None:
    parser.add_argument("--on", dest="day", metavar="DATE", type=a_day, help=told)


def takes_seal(parser: argparse.ArgumentParser, *, always: bool) -> None:
    """Who seals, when and with what; `always`: the command seals whatever else is asked."""
    parser.add_argument("--by", metavar="NAME", required=always, help="who it is" if always else "who seals")
    said = "when it is sealed, with its zone, such as 2026-03-01T14:05:00+01:00; otherwise now"
    parser.add_argument("--at", metavar="WHEN", help=said)
    parser.add_argument("--sign", metavar="KEYFILE", help="sign with this private Ed25519 key")


def with_example(parser: argparse.ArgumentParser, *lines: str) -> None:
    word = "example" if len(lines) == 1 else "examples"
    parser.epilog = "\n".join([f"{word}:", *(f"  {line}" for line in lines)])


def a_day(text: str) -> object:
    import re
    from datetime import date

    try:
        if re.fullmatch("[0-9]{4}-[0-9]{2}-[0-9]{2}", text):
            return date.fromisoformat(text)
    except ValueError:
        pass
    raise argparse.ArgumentTypeError(f"'{text}' is no date; write year-month-day: 2026-03-02")
