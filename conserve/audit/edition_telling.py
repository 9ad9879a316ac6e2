"""What another edition of the rules would make of decisions: as a section, and in lines for the screen."""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Iterator

from conserve.audit.edition_model import Asks, Cause, EditionChange, Makes, RuleChange, VerdictChange
from conserve.explanation import full, listed
from conserve.explanation.words import place
from conserve.problem import Problem
from conserve.statement.model import Block, Grid, Items, Prose, Row, Section

_HEAD = ("decision", "chosen", "by the rules in use", "by the other edition", "what makes the difference")
_SHORT = 12  # signs of a digest that are told
_NAMED = 6  # decisions that are named in one sentence; of more, the number is told


def edition_section(change: EditionChange) -> Section:
    """What another edition would make of decisions, as a section of a report."""
    return Section("rule-change", "If the rules change", tuple(_blocks(change)))


def edition_lines(change: EditionChange) -> tuple[str, ...]:
    """The same in a few lines for the screen."""
    if change.unread:
        return _unread(change), *(_problem(one) for one in change.problems)
    moved = (f"{one.proposal}: {_moved(one)} ({_cause(one.cause)})" for one in change.verdicts)
    asked = (f"{one.proposal}: {_asks(one)}" for one in change.asks)
    return _counted(change), *moved, *asked


# ---- the section -------------------------------------------------------------------------------------------------


def _blocks(change: EditionChange) -> Iterator[Block]:
    if change.unread:
        yield Prose("unread", _unread(change), ())
        yield Items("problems", tuple(_problems(change.problems)))
        return
    yield Prose("what", _what(change), ())
    yield Prose("counted", _counted(change), ())
    if change.verdicts:
        yield Grid("verdicts", "Decisions that would come out otherwise", _HEAD, tuple(map(_row, change.verdicts)))
    for cause, decisions in change.groups:
        yield from _group(cause, decisions, change)
    if change.asks:
        items = (
            Prose(one.proposal, f"{one.title} ({one.proposal}): {_asks(one)}", _from([one.proposal]))
            for one in change.asks
        )
        yield Prose("asks", "Their verdict stays, and something else is required of these:", ())
        yield Items("requirements", tuple(items))
    yield from _differences(change)
    if change.loose:
        yield Prose("loose", "The casebook names these, and the other edition does not have them:", ())
        yield Items("names", tuple(_problems(change.loose)))


def _what(change: EditionChange) -> str:
    return (
        f"Each decision was weighed twice with the facts of {change.on}: by the rules in use "
        f"({change.old[:_SHORT]}) and by another edition of them ({change.new[:_SHORT]}). It is a look ahead. "
        "It changes no decision, and says nothing of what was right when it was made."
    )


def _counted(change: EditionChange) -> str:
    whole = _number(change.decided, "decision")
    if not change.decided:
        return "No decision has been made that could come out otherwise."
    if not change.verdicts:
        said = f"By the other edition of the rules, the verdict of {_all(whole, change.decided)} stays as it is."
    else:
        moves = (("would no longer stand", True, False), ("would stand", False, True))
        counts = ((_stand(change, stood, stands), how) for how, stood, stands in moves)
        more = listed(f"{count} {how}" for count, how in counts if count)
        said = f"By the other edition of the rules, {len(change.verdicts)} of {whole} would come out otherwise"
        said += f": {more}." if more else ", and those that stand are the same."
    if change.asks:
        said += f" Of {len(change.asks)} more, something else would be required."
    return said


def _all(whole: str, number: int) -> str:
    return "the one decision" if number == 1 else f"all {whole}"


def _stand(change: EditionChange, stood: bool, stands: bool) -> int:
    return sum((one.stood, one.stands) == (stood, stands) for one in change.verdicts)


def _unread(change: EditionChange) -> str:
    if change.unread == "rules":
        return "Nothing could be weighed by the other edition of the rules: it does not read."
    return "Nothing could be weighed by the other edition of the rules: the casebook does not read by its words."


def _problems(problems: Iterable[Problem]) -> Iterator[Prose]:
    seen: Counter[str] = Counter()
    for one in problems:
        name = f"{place(one.where)}-{one.code}".replace("/", "-")
        seen[name] += 1
        yield Prose(name if seen[name] == 1 else f"{name}-{seen[name]}", _problem(one), ())


def _problem(problem: Problem) -> str:
    hint = f" {full(problem.hint)}" if problem.hint else ""
    return f"{place(problem.where)}: {full(problem.message)}{hint}"


def _row(one: VerdictChange) -> Row:
    cells = (f"{one.title} ({one.proposal})", one.chosen, one.before, one.now, _cause(one.cause))
    return Row(one.proposal, cells, _from([one.proposal], one.cause.rules))


def _moved(one: VerdictChange) -> str:
    return f"{one.before} would be {one.now}"


def _cause(cause: Cause) -> str:
    rules, words = listed(cause.rules, _AND[cause.makes]), listed(cause.words)
    if cause.makes is not Makes.WORDS:
        return f"{rules}{' together' if cause.makes is Makes.TOGETHER else ''}"
    return f"the words changed: {words}{f', and with them {rules}' if rules else ''}"


_AND = {Makes.ALONE: "or", Makes.TOGETHER: "and", Makes.WORDS: "and"}


# ---- what makes the difference -----------------------------------------------------------------------------------


def _group(cause: Cause, decisions: tuple[VerdictChange, ...], change: EditionChange) -> Iterator[Block]:
    """What makes the difference to some decisions: what changed, where it stands, and then each decision."""
    ids = [one.proposal for one in decisions]
    name, made_from = f"because-{ids[0]}", _from(ids if len(ids) <= _NAMED else (), cause.rules)
    rules = " ".join(_rule(rule) for one in cause.rules if (rule := change.rule(one)) is not None)
    words = " ".join(f"{one.word}: {one.says}" for one in change.words if one.word in cause.words)
    yield Prose(name, " ".join(filter(None, (_makes(cause, ids), rules, words))), made_from)
    yield Items(f"{name}-each", tuple(_each(one) for one in decisions))


def _makes(cause: Cause, ids: list[str]) -> str:
    to, rules = f"to {listed(ids) if len(ids) <= _NAMED else _number(len(ids), 'decision')}", listed(cause.rules)
    match cause.makes, len(cause.rules):
        case Makes.ALONE, 1:
            return f"One rule makes the difference {to}: {rules}. With it as it was, the verdict stays."
        case Makes.ALONE, _:
            return f"Each of these rules makes the difference {to}: {rules}. With any one as it was, the verdict stays."
        case Makes.TOGETHER, _:
            said = (
                f"These rules make the difference {to}: {rules}. Only with all of them as they were, the verdict stays."
            )
            return f"{said} {_enough(cause)}".strip()
    more = f" Along with them, these rules changed: {rules}." if rules else ""
    return f"No rule by itself makes the difference {to}: the words changed.{more}"


def _enough(cause: Cause) -> str:
    if not cause.enough:
        return ""
    if len(cause.enough) == len(cause.rules):
        return "For the other verdict, any one of them is enough."
    one = "is enough by itself" if len(cause.enough) == 1 else "are each enough"
    return f"For the other verdict, {listed(cause.enough)} {one}."


def _rule(rule: RuleChange) -> str:
    stands = listed(dict.fromkeys(rule.sources))
    return f"{rule.rule} ({rule.title.rstrip('.')}): {' '.join(rule.says)} It stands on {stands.rstrip('.')}."


def _each(one: VerdictChange) -> Prose:
    """One decision: what it would be and why, and the premises that make the difference."""
    why = " ".join(dict.fromkeys(ground.says for ground in one.grounds))
    decided = f"'{one.chosen}' was decided on {one.on} by {one.by.rstrip('.')}."
    verdicts = f"In use: {one.before}. {one.reason_before} By the other edition: {one.now}. {one.reason_now}"
    says = f"{one.title} ({one.proposal}): {decided} {verdicts} {f'What differs: {why}' if why else ''}"
    return Prose(one.proposal, says.strip(), _from([one.proposal], one.cause.rules))


# ---- what else changed -------------------------------------------------------------------------------------------


def _asks(one: Asks) -> str:
    """What is required otherwise, in one line."""
    said = (
        ("also asks", one.more),
        ("no longer asks", one.fewer),
        ("asks otherwise", one.otherwise),
    )
    return "; ".join(f"{verb} {len(some)}: {'; '.join(some)}" for verb, some in said if some) + "."


def _differences(change: EditionChange) -> Iterator[Block]:
    bearing = [one for one in change.rules if one.bears]
    text = len(change.rules) - len(bearing)
    if not change.rules and not change.words:
        yield Prose("same", "The two editions are the same in every rule and word.", ())
        return
    counts = Counter(one.became.value for one in bearing)
    told = listed(f"{_number(counts[name], 'rule')} {name}" for name in ("new", "gone", "changed") if counts[name])
    also = f" Of {_number(text, 'rule')} only the reason, the wording or the sources differ." if text else ""
    words = f" {_number(len(change.words), 'word')} changed." if change.words else ""
    yield Prose(
        "editions", f"Between the editions: {told or 'no rule differs in what it asks or does'}.{also}{words}", ()
    )
    if bearing:
        yield Items("rules", tuple(Prose(_id(one.rule), _difference(one), (f"rules/{one.rule}",)) for one in bearing))
    if change.words:
        yield Items("words", tuple(Prose(_id(one.word), f"{one.word}: {one.says}", ()) for one in change.words))


def _difference(one: RuleChange) -> str:
    return f"{one.rule} ({one.title.rstrip('.')}): {' '.join(one.says)}"


def _id(name: str) -> str:
    return name.replace("/", "-").replace(" ", "-").replace(",", "")


def _from(proposals: Iterable[str], rules: Iterable[str] = ()) -> tuple[str, ...]:
    return (*(f"proposals/{name}.yaml" for name in proposals), *(f"rules/{name}" for name in rules))


def _number(count: int, noun: str) -> str:
    return f"{count} {noun}" if count == 1 else f"{count} {noun}s"
