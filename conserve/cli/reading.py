"""Find the casebook and the rules that a command means, and read them, or say everything that is wrong."""

from __future__ import annotations

import os
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import islice
from pathlib import Path
from typing import TYPE_CHECKING

from conserve.cli.showing import as_json
from conserve.files import FileRefused, Folder, shipped
from conserve.problem import Problem, nearest, show_all

if TYPE_CHECKING:
    from conserve.casebook import Casebook, Proposal
    from conserve.rulebook import Rulebook
    from conserve.seal import Seals
    from conserve.terms import Vocabulary

_LINE_ENDS = re.compile("\r\n|[\n\r\x85\u2028\u2029]")  # what YAML counts as the end of a line
_OBJECT = "object.yaml"


class Refused(Exception):
    """What is asked for cannot be done; one sentence and one thing to try."""

    def __init__(self, sentence: str, hint: str = "") -> None:
        super().__init__(sentence)
        self.hint = hint


def how_to_install(extra: str) -> str:
    """What to type for a part of the program that is installed only on request."""
    return f"pip install -e '.[{extra}]' in the checkout"


class Broken(Exception):
    """The input has problems, and every one of them is here."""

    def __init__(self, problems: Iterable[Problem], folders: dict[str, Folder], as_json: bool, answer: bool) -> None:
        super().__init__()
        self.problems = tuple(sorted(set(problems)))
        self._folders = folders
        self._as_json = as_json
        self.is_the_answer = answer or as_json  # then it belongs on standard output

    def moved(self, file: str, to: str) -> Broken:
        """The same, with the problems of one file told of another that it was copied from."""
        problems = (
            replace(one, where=one.where._replace(file=to)) if one.where.file == file else one for one in self.problems
        )
        folder = str(Path(to).parent)
        folders = {**self._folders, folder: self._folders.get(folder, Folder(Path(folder)))}
        return Broken(problems, folders, self._as_json, self.is_the_answer)

    def with_these(self, problems: Iterable[Problem]) -> Broken:
        """The same with other problems of the same files."""
        return Broken(problems, self._folders, self._as_json, self.is_the_answer)

    def shown(self) -> str:
        if self._as_json:
            return as_json({"problems": [problem_as_json(problem) for problem in self.problems], "weighed": False})
        texts: dict[str, list[str]] = {}

        def line_of(file: str, line: int) -> str | None:
            if file not in texts:
                texts[file] = _lines(file, self._folders)
            return texts[file][line - 1] if 0 < line <= len(texts[file]) else None

        return show_all(self.problems, line_of)


def problem_as_json(problem: Problem) -> dict[str, object]:
    where = problem.where
    return {**where._asdict(), "code": problem.code, "message": problem.message, "hint": problem.hint}


def _lines(file: str, folders: dict[str, Folder]) -> list[str]:
    for shown in sorted(folders, key=len, reverse=True):
        if file.startswith(f"{shown}/"):
            try:
                text = folders[shown].read_bytes(file.removeprefix(f"{shown}/")).decode("utf-8", errors="replace")
            except FileRefused:
                return []
            return _LINE_ENDS.split(text.removeprefix("\ufeff"))
    return []


# ---- finding ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Place:
    """Where a casebook stands, and the proposal in it that is meant ("" for all)."""

    root: Path
    proposal: str = ""

    @property
    def shown(self) -> str:
        return shown_path(self.root)

    @property
    def name(self) -> str:
        return self.root.resolve().name


def shown_path(path: Path) -> str:
    """A path as a person here would write it."""
    near = os.path.relpath(path)
    return str(path.absolute()) if near.startswith("..") else near


def new_file(name: str) -> Path:
    """The path of a file that is to be made; refused where there is one already, or no folder for it."""
    path = Path(name)
    if not path.parent.is_dir():
        raise Refused(f"there is no folder '{path.parent}'", "make it first")
    if path.exists() or path.is_symlink():
        raise Refused(f"'{shown_path(path)}' is there already, and is left as it is", "name another file")
    return path


def find(what: str | None, inside: str | None = None) -> Place:
    """Find what is meant by a path, an id of a proposal, or nothing."""
    if not what:
        return Place(_casebook_at(Path(inside)) if inside else _casebook_here())
    path = Path(what)
    if path.suffix == ".yaml" or "/" in what.removesuffix("/"):
        if path.is_dir():
            return Place(_casebook_at(path))
        if path.suffix == ".yaml" and path.parent.name == "proposals" and (path.parent.parent / _OBJECT).is_file():
            return Place(path.parent.parent, path.stem)
        raise Refused(
            f"'{what}' is neither a casebook's folder nor a proposal in one",
            "name a folder with an object.yaml, a file under its proposals/, or a proposal's id",
        )
    if path.is_dir() and (_casebooks_under(path) or (inside is None and not _is_proposal_here(what))):
        return Place(_casebook_at(path))
    return Place(_casebook_at(Path(inside)) if inside else _casebook_here(what), what)


def _is_proposal_here(name: str) -> bool:
    try:
        return (_casebook_here(name) / "proposals" / f"{name}.yaml").is_file()
    except Refused:
        return False


def _casebook_at(path: Path) -> Path:
    """The one casebook in a folder: the folder itself, or the only one in it."""
    if not path.is_dir():
        raise Refused(f"there is no folder '{path}'", "conserve start casebook FOLDER makes one")
    return _only(_casebooks_under(path), f"'{path}' is no casebook, and holds none: it has no {_OBJECT}")


def _casebook_here(proposal: str = "") -> Path:
    """The nearest: this folder, the only one under its casebook/, or the folder above that is one.

    Of several under casebook/, the one that has the proposal that is meant.
    """
    here = Path.cwd()
    below = [] if (here / _OBJECT).is_file() else _casebooks_under(here / "casebook")
    below = [book for book in below if (book / "proposals" / f"{proposal}.yaml").is_file()] or below
    above = (folder for folder in (here, *here.parents) if (folder / _OBJECT).is_file())
    none = f"there is no casebook here: no {_OBJECT} in this folder or above it"
    return _only(below or list(islice(above, 1)), none)


def _casebooks_under(path: Path) -> list[Path]:
    if (path / _OBJECT).is_file():
        return [path]
    try:
        return sorted(below for below in path.iterdir() if (below / _OBJECT).is_file())
    except OSError:
        return []


def _only(found: list[Path], otherwise: str) -> Path:
    if not found:
        raise Refused(otherwise, "name its folder, or make one: conserve start casebook FOLDER")
    if len(found) > 1:
        raise Refused("there are several casebooks here", f"name one: {', '.join(shown_path(path) for path in found)}")
    return found[0]


def rules_folder(asked: str | None) -> Path:
    """The folder of the rules that are asked for, or of those that came along."""
    if asked is None:
        return shipped("rules")
    if not Path(asked).is_dir():
        raise Refused(f"there is no folder '{asked}'", "name a folder that holds terms.yaml and rules")
    return Path(asked)


# ---- reading ----------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Read:
    """A casebook and the rules it is weighed by, read together and without a problem."""

    place: Place
    folder: Folder
    casebook: Casebook
    rulebook: Rulebook

    def proposals(self) -> tuple[Proposal, ...]:
        """The proposals that are meant."""
        return (self.proposal(self.place.proposal),) if self.place.proposal else self.casebook.proposals

    def proposal(self, name: str) -> Proposal:
        found = self.casebook.proposal(name)
        if found is None:
            raise _no("proposal", name, (proposal.id for proposal in self.casebook.proposals))
        return found


def _no(what: str, name: str, known: Iterable[str]) -> Refused:
    names = tuple(known)
    like = nearest(name, names)
    few = f"there is {', '.join(names)}" if 0 < len(names) <= 8 else ""
    return Refused(f"there is no {what} '{name}'", f"did you mean '{like}'?" if like else few)


def chosen_from(what: str, name: str, known: Iterable[str]) -> str:
    """A name if it is known; otherwise say which is meant, perhaps."""
    names = tuple(known)
    if name not in names:
        raise _no(what, name, names)
    return name


def read_rules(asked: str | None, *, json: bool = False, overlays: Sequence[str] = ()) -> Rulebook:
    """Read the rules with these overlays laid over them, or raise all that is wrong with them."""
    from conserve.rulebook import overlays_of, read_rulebook

    root = rules_folder(asked)
    for name in overlays:
        chosen_from("overlay", name, overlays_of(Folder(root)))
    rulebook, problems = read_rulebook(Folder(root), tuple(overlays))
    if rulebook is None or problems:
        raise Broken(at_their_place(problems, root), {shown_path(root): Folder(root)}, json, answer=False)
    return rulebook


def read_words(asked: str | None) -> Vocabulary:
    """Read the words alone, which takes less time than all the rules."""
    from conserve.terms import read_vocabulary

    root = rules_folder(asked)
    vocabulary, problems = read_vocabulary(Folder(root))
    if vocabulary is None or problems:
        raise Broken(at_their_place(problems, root), {shown_path(root): Folder(root)}, False, answer=False)
    return vocabulary


@dataclass(frozen=True, slots=True)
class Rules:
    """A folder of rules, read anew whenever it is asked; who reads many casebooks asks another, which remembers."""

    root: Path

    def words(self) -> tuple[Vocabulary | None, tuple[Problem, ...]]:
        from conserve.terms import read_vocabulary

        return read_vocabulary(Folder(self.root))

    def laid(
        self, overlays: tuple[str, ...], words: tuple[Vocabulary | None, tuple[Problem, ...]]
    ) -> tuple[Rulebook | None, tuple[Problem, ...]]:
        """The rules with these overlays laid over them."""
        from conserve.rulebook import read_rulebook

        return read_rulebook(Folder(self.root), overlays, words)


def read_all(
    place: Place, rules: str | Rules | None, *, json: bool = False, answer: bool = False, folder: Folder | None = None
) -> Read:
    """Read a casebook and the rules, or raise every problem in both. With `answer`, problems are what was asked for.

    `folder` is the casebook's, where it is to be read as other than it stands.
    """
    from conserve.casebook import read_casebook

    by = rules if isinstance(rules, Rules) else Rules(rules_folder(rules))
    root, folder = by.root, folder or Folder(place.root)
    words = by.words()
    casebook: Casebook | None = None
    problems: tuple[Problem, ...] = ()
    if words[0] is not None:
        casebook, problems = read_casebook(folder, words[0], place.name, place.shown)
    if casebook is not None:
        problems += _strange_overlays(casebook, root)
    laid = casebook.object.overlays if casebook is not None and not problems else ()
    rulebook, of_rules = by.laid(laid, words)
    problems = at_their_place(of_rules, root) + problems
    if casebook is not None and rulebook is not None and not problems:
        problems += _between(casebook, rulebook)
        if not problems:
            return Read(place, folder, casebook, rulebook)
    raise Broken(problems, {shown_path(root): Folder(root), place.shown: folder}, json, answer)


def read_again(read: Read, folder: Folder, *, json: bool = False) -> Read:
    """Read a casebook as it would stand in another folder, by the same rules; its object must be the same."""
    from conserve.casebook import read_casebook

    place, rulebook = read.place, read.rulebook
    casebook, problems = read_casebook(folder, rulebook.vocabulary, place.name, place.shown)
    if casebook is not None and not problems:
        problems = _between(casebook, rulebook)
        if not problems:
            return Read(place, folder, casebook, rulebook)
    raise Broken(problems, {place.shown: folder}, json, answer=True)


def seals_of(read: Read) -> Seals:
    """The chain and the notes of a casebook, with everything that is wrong with them."""
    from conserve.seal import read_seals

    return read_seals(read.folder, read.casebook, read.place.shown)


def _between(casebook: Casebook, rulebook: Rulebook) -> tuple[Problem, ...]:
    """What does not fit between a casebook and the rules, each of which is sound by itself."""
    from conserve.crosscheck import names_that_lead_nowhere
    from conserve.facts import claims_that_disagree

    return claims_that_disagree(casebook, rulebook.vocabulary) + names_that_lead_nowhere(casebook, rulebook)


def _strange_overlays(casebook: Casebook, root: Path) -> tuple[Problem, ...]:
    """Overlays that a casebook asks for and the rules do not offer."""
    from conserve.rulebook import overlays_of
    from conserve.shape import Problems

    into = Problems("C")
    asked = casebook.object.overlays
    offered = overlays_of(Folder(root)) if asked else ()
    for name in asked:
        if name not in offered:
            like = nearest(name, offered)
            hint = f"did you mean '{like}'?" if like else f"there is {', '.join(offered) or 'none'}"
            into.note(casebook.object.places["overlays"], 82, f"there is no overlay '{name}'", hint)
    return into.all


def at_their_place(problems: Iterable[Problem], root: Path) -> tuple[Problem, ...]:
    """Problems of rules at the place where these rules really stand."""
    shown = shown_path(root)
    return tuple(
        replace(p, where=p.where._replace(file=f"{shown}/{p.where.file.removeprefix('rules/')}")) for p in problems
    )
