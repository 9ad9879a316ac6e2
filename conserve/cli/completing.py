"""Completion in shells: a script made from the parser, and ids that it asks for."""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from conserve.cli.parser import COMMANDS, groups_of, whole_parser, with_example
from conserve.cli.reading import Refused, find, rules_folder
from conserve.files import FileRefused, Folder, is_a_rule

DONE = 0
SHELLS = ("bash", "zsh", "fish")
# What stands at a place of the command line, by the word that help uses for it.
_IDS = {
    "PROPOSAL": "proposals",
    "WHAT": "proposals",
    "OPTION|RULE": "rules",
    "RULE": "rules",
    "COMPONENT": "components",
    "PRINCIPLE": "principles",
    "OVERLAY": "overlays",
    "PROFILE": "profiles",
    "NOTE": "notes",
}


# ---- complete: the hidden command -------------------------------------------------------------------


def add_complete(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("kind", choices=sorted(set(_IDS.values())))
    with_example(parser, "conserve complete proposals")
    parser.set_defaults(run=complete)


def complete(given: argparse.Namespace) -> int:
    """Print ids a line, from the names of files alone; nothing where there is no casebook."""
    try:
        for name in sorted(set(_ids(given.kind))):
            print(name)
    except (FileRefused, Refused, OSError):
        pass
    return DONE


def _ids(kind: str) -> Iterator[str]:
    if kind == "overlays":
        for name in Folder(rules_folder(None)).names(kind, "/overlay.yaml"):
            yield Path(name).parent.name
    elif kind in ("rules", "principles"):
        for name in Folder(rules_folder(None)).names("", ".yaml"):
            if is_a_rule(name):
                rule = Path(name.removeprefix("overlays/")).with_suffix("")
                yield rule.parent.name if kind == "principles" else rule.as_posix()
    else:
        roots = [find(None).root] if kind != "profiles" else _with_profiles()
        for name in (name for root in roots for name in Folder(root).names(kind, ".yaml")):
            yield Path(name).stem


def _with_profiles() -> list[Path]:
    """Where profiles stand: those that came along, and a casebook's own where there is one."""
    try:
        return [rules_folder(None), find(None).root]
    except Refused:
        return [rules_folder(None)]


# ---- completion: the script -------------------------------------------------------------------------


def add_completion(parser: argparse.ArgumentParser) -> None:
    parser.add_argument("shell", choices=SHELLS, help="the shell to print it for")
    with_example(
        parser,
        "conserve completion bash > ~/.local/share/bash-completion/completions/conserve",
        "conserve completion fish > ~/.config/fish/completions/conserve.fish",
    )
    parser.set_defaults(run=completion)


def completion(given: argparse.Namespace) -> int:
    print({"bash": _bash, "zsh": _zsh, "fish": _fish}[given.shell](tuple(_places())))
    return DONE


@dataclass(frozen=True, slots=True)
class _Option:
    names: tuple[str, ...]
    does: str
    takes: str  # "" where it takes nothing: the word that help uses
    choices: tuple[str, ...]


@dataclass(frozen=True, slots=True)
class _Place:
    """One command, and what may follow it."""

    command: str  # "weigh", "rules show"; "" for the top
    below: tuple[tuple[str, str], ...]  # commands below it, and what each does
    options: tuple[_Option, ...]
    ids: tuple[str, ...]  # kinds of ids
    words: tuple[str, ...]  # choices of what stands alone

    @property
    def all_words(self) -> tuple[str, ...]:
        return (*(name for name, _ in self.below), *self.words, *(n for option in self.options for n in option.names))


def _places() -> Iterator[_Place]:
    shown = {command.name: command.does for command in COMMANDS if command.shown}
    top = whole_parser()
    yield _place("", top, tuple(shown.items()))
    for name in shown:
        parser = groups_of(top)[name]
        below = groups_of(parser)
        yield _place(name, parser, tuple((one, sub.description or "") for one, sub in below.items()))
        for one, sub in below.items():
            yield _place(f"{name} {one}", sub, ())


def _place(command: str, parser: argparse.ArgumentParser, below: tuple[tuple[str, str], ...]) -> _Place:
    plain = [a for a in parser._actions if not a.option_strings and not isinstance(a, argparse._SubParsersAction)]
    return _Place(
        command,
        below,
        tuple(
            _Option(
                tuple(action.option_strings),
                action.help or "",
                "" if action.nargs == 0 else str(action.metavar or action.dest).upper(),
                tuple(map(str, action.choices or ())),
            )
            for action in parser._actions
            if action.option_strings
        ),
        tuple(dict.fromkeys(_IDS[str(action.metavar)] for action in plain if action.metavar in _IDS)),
        tuple(str(choice) for action in plain for choice in action.choices or ()),
    )


def _cases(places: tuple[_Place, ...]) -> Iterator[tuple[str, str, str]]:
    """For each state of the line, as `command:option before`: the words and the kinds of ids that fit."""
    for place in places:
        for option in place.options:
            if option.takes:
                kinds = _IDS.get(option.takes, "")
                for name in option.names:
                    yield f"{place.command}:{name}", " ".join(option.choices), kinds
    for place in places:
        yield f"{place.command}:*", " ".join(place.all_words), " ".join(place.ids)


def _bash(places: tuple[_Place, ...]) -> str:
    groups = "|".join(place.command for place in places if place.command and place.below)
    cases = "\n".join(f'        "{state[:-1]}"*) words="{words}"; kinds="{kinds}" ;;' if state.endswith("*")
                      else f'        "{state}") words="{words}"; kinds="{kinds}" ;;'
                      for state, words, kinds in _cases(places))  # fmt: skip
    return f"""# Completion of conserve in bash. Made from its parser: conserve completion bash
_conserve() {{
    local now="${{COMP_WORDS[COMP_CWORD]}}" before="${{COMP_WORDS[COMP_CWORD-1]}}" command="" words="" kinds="" kind
    if (( COMP_CWORD > 1 )); then
        command="${{COMP_WORDS[1]}}"
        case "$command" in
            {groups}) if (( COMP_CWORD > 2 )); then command="$command ${{COMP_WORDS[2]}}"; fi ;;
        esac
    fi
    case "$command:$before" in
{cases}
    esac
    for kind in $kinds; do words="$words $(conserve complete "$kind" 2>/dev/null)"; done
    COMPREPLY=( $(compgen -W "$words" -- "$now") )
}}
complete -o default -F _conserve conserve"""


def _zsh(places: tuple[_Place, ...]) -> str:
    groups = "|".join(place.command for place in places if place.command and place.below)
    cases = "\n".join(f'        "{state[:-1]}"*) found=({words}); kinds=({kinds}) ;;' if state.endswith("*")
                      else f'        "{state}") found=({words}); kinds=({kinds}) ;;'
                      for state, words, kinds in _cases(places))  # fmt: skip
    return f"""#compdef conserve
# Completion of conserve in zsh. Made from its parser: conserve completion zsh
_conserve() {{
    local before="$words[CURRENT-1]" command="" kind
    local -a found kinds
    if (( CURRENT > 2 )); then
        command="$words[2]"
        case "$command" in
            {groups}) if (( CURRENT > 3 )); then command="$command $words[3]"; fi ;;
        esac
    fi
    case "$command:$before" in
{cases}
    esac
    for kind in $kinds; do found+=(${{(f)"$(conserve complete $kind 2>/dev/null)"}}); done
    compadd -a found
    _files
}}
if [[ "$funcstack[1]" == _conserve ]]; then _conserve "$@"; else compdef _conserve conserve; fi"""


def _fish(places: tuple[_Place, ...]) -> str:
    lines = ["# Completion of conserve in fish. Made from its parser: conserve completion fish"]
    for place in places:
        when = _fish_when(place)
        for name, does in place.below:
            lines.append(f"complete -c conserve -n {when} -f -a {name} -d {_quoted(does)}")
        for option in place.options:
            names = " ".join(f"-l {n[2:]}" if n.startswith("--") else f"-s {n[1:]}" for n in option.names)
            kinds = _IDS.get(option.takes)
            words = _quoted(f"(conserve complete {kinds})") if kinds else _quoted(" ".join(option.choices))
            takes = "" if not option.takes else f" -x -a {words}" if kinds or option.choices else " -r"
            lines.append(f"complete -c conserve -n {when} {names}{takes} -d {_quoted(option.does)}")
        lines += [f"complete -c conserve -n {when} -a {_quoted(f'(conserve complete {kind})')}" for kind in place.ids]
        if place.words:
            lines.append(f"complete -c conserve -n {when} -f -a {_quoted(' '.join(place.words))}")
    return "\n".join(lines)


def _fish_when(place: _Place) -> str:
    if not place.command:
        return "__fish_use_subcommand"
    first, *more = place.command.split()
    seen = [f"__fish_seen_subcommand_from {word}" for word in (first, *more)]
    if place.below:
        seen.append(f"not __fish_seen_subcommand_from {' '.join(name for name, _ in place.below)}")
    return _quoted("; and ".join(seen))


def _quoted(text: str) -> str:
    return "'" + text.replace("\\", "\\\\").replace("'", "\\'") + "'"
