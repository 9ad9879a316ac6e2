"""The house itself: that the repository is what it says it is."""

import ast
import re
import subprocess
import sys
from collections.abc import Iterator
from pathlib import Path

import pytest

HOUSE = Path(__file__).parent.parent
MODULES = sorted((HOUSE / "conserve").rglob("*.py"))

# Words about how the project came to be, which are no business of its readers. They are put together
# here, so that this file does not hold them itself.
SHELF = "|".join(("design", "engine", "practice", "style", "calculations", "ecosystem"))
BACKSTAGE = re.compile(
    "|".join(
        (
            r"\btrans" + r"cripts?\b",
            "seed" + " document",
            "/wo" + "rk/",
            "sha" + f"red/({SHELF})",
            r"\bthis" + r" session\b",
            r"\bdeveloper" + r" session\b",
            "iss" + r"ue [0-9]{1,2}\b",
        )
    ),
    re.IGNORECASE,
)

# What takes long to load, or is not there on every machine.
SLOW_OR_ABSENT = {"yaml", "jinja2", "markdown", "nh3", "durable", "durable_rules_engine"}


def texts() -> Iterator[tuple[str, str]]:
    """Give every text file that is in the repository or about to be: its name and what it says."""
    listed = subprocess.run(
        ["git", "ls-files", "-z", "--cached", "--others", "--exclude-standard"],
        cwd=HOUSE, capture_output=True, text=True,
    )
    if listed.returncode:
        pytest.skip("not in a git checkout")
    for name in sorted(set(filter(None, listed.stdout.split("\0")))):
        path = HOUSE / name
        if path.is_symlink() or not path.is_file():
            continue
        content = path.read_bytes()
        if b"\0" not in content:
            yield name, content.decode("utf-8", errors="replace")


def commands(text: str) -> list[str]:
    """List the lines of a text that install or test the project, without the prompt before them."""
    beginnings = ("python3 -m venv .venv", ".venv/bin/python -m pytest")
    lines = (line.strip().removeprefix("$ ") for line in text.splitlines())
    return [line for line in lines if line.startswith(beginnings)]


def named(path: Path) -> str:
    return path.relative_to(HOUSE).as_posix()


def test_no_file_speaks_of_how_the_project_came_to_be():
    found = [
        f"{name}:{number}: {line.strip()[:100]}"
        for name, text in texts()
        for number, line in enumerate(text.splitlines(), 1)
        if BACKSTAGE.search(line)
    ]
    assert found == []


@pytest.mark.parametrize(
    "words",
    [
        "the Trans" + "cript of it",
        "a seed" + " document",
        "in /wo" + "rk/place",
        "see sha" + "red/engine.md",
        "in this" + " session we",
        "Iss" + "ue 12 says",
    ],
)
def test_the_search_for_such_words_finds_them(words):
    assert BACKSTAGE.search(words)


@pytest.mark.parametrize("words", ["an issue of 12 bolts", "framework/parts", "obsession", "a trans" + "cription"])
def test_the_search_for_such_words_leaves_ordinary_ones_alone(words):
    assert not BACKSTAGE.search(words)


def test_the_readme_opens_with_one_paragraph():
    text = (HOUSE / "README.md").read_text(encoding="utf-8")
    opening, after, *_ = re.split(r"\n\s*\n", text)
    assert opening.startswith("`conserve` ")
    assert opening.endswith(".")
    assert after == "# conserve"


def test_the_readmes_two_commands_are_the_ones_that_are_checked():
    told = commands((HOUSE / "README.md").read_text(encoding="utf-8"))
    run = commands((HOUSE / ".ci/run").read_text(encoding="utf-8"))
    assert len(told) == 2
    assert told == run


@pytest.mark.parametrize("path", MODULES, ids=named)
def test_every_module_says_what_it_is_for(path):
    assert ast.get_docstring(ast.parse(path.read_text(encoding="utf-8")))


def test_modules_import_only_downwards_and_each_has_its_place():
    linter = Path(sys.executable).with_name("lint-imports")
    linted = subprocess.run([linter, "--no-cache"], cwd=HOUSE, capture_output=True, text=True)
    assert linted.returncode == 0, linted.stdout + linted.stderr


def test_only_one_module_loads_durable_rules_by_name():
    # import-linter sees import statements; this sees `import_module("durable…")` as well.
    loading = {
        named(path)
        for path in MODULES
        for node in ast.walk(ast.parse(path.read_text(encoding="utf-8")))
        if isinstance(node, ast.Call)
        for argument in node.args
        if isinstance(argument, ast.Constant)
        if re.match(r"durable(_rules_engine)?(\.|$)", str(argument.value))
    }
    assert loading <= {"conserve/engine/durable.py"}


def test_asking_for_help_loads_no_library():
    script = (
        "import runpy, sys\n"
        "sys.argv = ['conserve', '--help']\n"
        "try:\n"
        "    runpy.run_module('conserve', run_name='__main__', alter_sys=True)\n"
        "except SystemExit as end:\n"
        "    if end.code:\n"
        "        raise\n"
        "print(*sys.modules, file=sys.stderr)\n"
    )
    helped = subprocess.run([sys.executable, "-c", script], cwd=HOUSE, capture_output=True, text=True)
    assert helped.returncode == 0, helped.stderr
    assert helped.stdout
    assert SLOW_OR_ABSENT.isdisjoint(helped.stderr.split())
