"""The command that looks at every decision again: audit."""

from __future__ import annotations

import argparse
import re
from collections.abc import Callable, Mapping
from datetime import date
from pathlib import Path
from typing import TYPE_CHECKING, Any

from conserve.cli.audit_more import More, add_line, add_rule_change, add_sample, compared
from conserve.cli.audit_screen import in_words
from conserve.cli.parser import a_day, own_version, takes_casebook, takes_json, takes_rules, with_example
from conserve.cli.reading import Broken, Place, Read, Refused, find, new_file, read_all, rules_folder
from conserve.cli.showing import as_json, blocks_with_progress
from conserve.cli.weighing import weigh_these
from conserve.files import Folder

if TYPE_CHECKING:
    from conserve.audit.factors import Factors
    from conserve.audit.model import Audit
    from conserve.audit.out_of_line import OutOfLine
    from conserve.weighing import Weighing

DONE, ALTERED = 0, 1
_ADDRESS = re.compile(r"(?:tcp|tls)://\S+")
_ENDINGS = (".md", ".html", ".json")


def add_audit(parser: argparse.ArgumentParser) -> None:
    said = "a proposal's id or file, a casebook's folder, or a folder of casebooks; without it, all here"
    parser.add_argument("what", nargs="?", metavar="WHAT", help=said)
    said = "as on this day, otherwise today; or do the work on the Dask cluster at this address (tcp://HOST:PORT)"
    parser.add_argument("--on", metavar="DATE|ADDRESS", action=_On, dest="day", help=said)
    said = "lay these rules beside those in use, and say which decisions would come out otherwise"
    parser.add_argument("--with-rules", metavar="FOLDER", help=said)
    said = "a code that left the house, as on a printed statement; may be said more than once"
    parser.add_argument("--witness", metavar="CODE", action="append", default=[], type=_a_code, help=said)
    parser.add_argument("--records", action="store_true", help="make every record again too, which takes longer")
    parser.add_argument(
        "--sample", metavar="N", type=_a_number, help="draw so many decisions for a person to go through"
    )
    parser.add_argument("--seed", metavar="N", type=int, default=1, help="draw another sample; otherwise 1")
    parser.add_argument("--out", metavar="FILE", type=_a_report, help="write the report, as .md, .html or .json")
    parser.add_argument(
        "--jobs", metavar="N", type=_a_number, help="how many processes, where there are many casebooks"
    )
    takes_casebook(parser)
    takes_rules(parser)
    takes_json(parser)
    with_example(
        parser,
        "conserve audit casebook/marrow-fen --out audit.html",
        "conserve audit crosshead-slipper",
        "conserve audit casebook/marrow-fen --with-rules ../new-rules",
        "conserve audit /srv/casebooks --on 2026-09-01 --on tcp://10.0.0.5:8786",
    )
    parser.set_defaults(run=audit, cluster=None)


class _On(argparse.Action):
    """Take a day or the address of a cluster, told apart by how they are written."""

    def __call__(self, parser: argparse.ArgumentParser, given: argparse.Namespace, said: Any, *_: object) -> None:
        if _ADDRESS.fullmatch(said):
            given.cluster = said
            return
        try:
            given.day = a_day(said)
        except argparse.ArgumentTypeError as error:
            raise argparse.ArgumentError(self, f"{error}; or the address of a cluster: tcp://10.0.0.5:8786") from None


def _a_number(text: str) -> int:
    if not re.fullmatch("[1-9][0-9]{0,5}", text):
        raise argparse.ArgumentTypeError(f"'{text}' is no number from 1")
    return int(text)


def _a_code(text: str) -> str:
    from conserve.seal import read_witness

    try:
        read_witness(text)
    except ValueError as error:
        raise argparse.ArgumentTypeError(f"'{text}' cannot be held against the chain: {error}") from None
    return text


def _a_report(text: str) -> str:
    if not text.endswith(_ENDINGS):
        raise argparse.ArgumentTypeError(f"'{text}' does not end in .md, .html or .json")
    return text


# ---- which casebooks ---------------------------------------------------------------------------------------------


def audit(given: argparse.Namespace) -> int:
    roots = _roots(given)
    if len(roots) > 1 or (roots and given.cluster):
        from conserve.cli.auditing_many import audit_many

        for asked, option in ((given.with_rules, "--with-rules"), (given.witness, "--witness")):
            if asked:
                raise Refused(f"{option} is about one casebook, and here are {len(roots)}", "name one of them")
        return audit_many(given, roots)
    return _audit_one(given, Place(roots[0]) if roots else find(given.what, given.inside))


def _roots(given: argparse.Namespace) -> tuple[Path, ...]:
    """The casebooks in a folder that is named, or here; none where something else is meant."""
    from conserve.cli.auditing_many import casebooks_under

    here = Path(given.what or given.inside or ".")
    if given.what and (given.inside or not here.is_dir()):
        if given.cluster:
            raise Refused("a cluster audits whole casebooks", "name a folder of them, or leave the address out")
        return ()
    if not given.what and not given.inside and not (here / "object.yaml").is_file():
        here = here / "casebook"
    return casebooks_under(here) if here.is_dir() else ()


# ---- one casebook ------------------------------------------------------------------------------------------------


def _audit_one(given: argparse.Namespace, place: Place) -> int:
    from conserve.audit.data import with_points

    if place.proposal and given.sample is not None:
        raise Refused("a sample is drawn from a casebook, and here is one proposal", "leave --sample out")
    target = new_file(given.out) if given.out is not None else None
    rules_folder(given.with_rules)  # refused before the work begins
    read, day = _read(place, given), given.day or date.today()
    name = read.proposal(place.proposal).id if place.proposal else ""
    decided = tuple(one for one in read.casebook.proposals if one.decision)
    weighed = {one.proposal.id: one for one in weigh_these(decided, read, day)}
    found, line = _found(read, day, weighed, given), compared(weighed, read)
    found = with_points(found, line[0].points)
    if name:
        found = _narrowed(found, name)
    more = _more(found, line, read, weighed, given)
    forms: Mapping[str, Callable[[], str]] = {
        ".json": lambda: f"{_data(found, more)}\n",
        ".md": lambda: _document(found, more, page=False),
        ".html": lambda: _document(found, more, page=True),
    }
    if target is not None:
        Folder(target.parent).add(target.name, forms[target.suffix]().encode())
    print(_data(found, more) if given.json else "\n".join(in_words(found, more.lines, target)))
    return ALTERED if any(point.kind.alters for point in found.points) else DONE


def _read(place: Place, given: argparse.Namespace) -> Read:
    """Read the casebook; where it has problems, those of its chain are told with them."""
    try:
        return read_all(place, given.rules, json=given.json)
    except Broken as broken:
        from conserve.seal import read_chain

        problems = read_chain(Folder(place.root), place.shown).problems
        raise broken.with_these((*broken.problems, *problems)) from None


def _found(read: Read, day: date, weighed: Mapping[str, Weighing], given: argparse.Namespace) -> Audit:
    from conserve.audit.looking import audit_of

    return audit_of(
        read.folder,
        read.casebook,
        read.rulebook,
        Folder(rules_folder(given.rules)),
        day,
        read.place.shown,
        own_version(),
        records=given.records or bool(read.place.proposal),
        witnesses=given.witness,
        watch=blocks_with_progress,
        weighed=weighed,
    )


def _narrowed(found: Audit, name: str) -> Audit:
    from conserve.audit.data import about_one

    one = about_one(found, name)
    if one is None:
        raise Refused(f"'{name}' is not decided, not begun and was never sealed", "there is nothing to audit about it")
    return one


def _more(
    found: Audit,
    line: tuple[OutOfLine, Factors],
    read: Read,
    weighed: Mapping[str, Weighing],
    given: argparse.Namespace,
) -> More:
    """What was asked besides. What is out of line is told of a whole casebook; of one proposal, as points."""
    more = More()
    if not read.place.proposal:
        add_line(more, *line)
    if given.sample is not None:
        add_sample(more, found, given.sample, given.seed)
    if given.with_rules is not None:
        add_rule_change(more, read, found.on, weighed, given)
    return more


def _data(found: Audit, more: More) -> str:
    from conserve.audit.data import as_data

    return as_json(as_data(found, more.data))


def _document(found: Audit, more: More, *, page: bool) -> str:
    from conserve.audit.report import report
    from conserve.statement import html, markdown

    document = report(found, more.sections)
    return html(document, {}) if page else markdown(document)
