"""How each computed number was reckoned: from what, where that is written, by which formula, and how far it holds."""

from __future__ import annotations

from collections.abc import Iterator

from conserve.explanation import capital, full, listed, value_in_words
from conserve.explanation.sentences import told_in
from conserve.explanation.words import place, plain, subject_name, term_in_words
from conserve.facts import Fact, Facts, How
from conserve.record.model import Workings
from conserve.rule import EffectKind
from conserve.weighing.model import OptionWeighing, PartWeighing


def workings(chosen: OptionWeighing, part: PartWeighing) -> tuple[Workings, ...]:
    """Every computed number that the verdict rests on: each formula once, and under it each number it gave.

    These are the numbers on which a need was judged under any option, and those on which a rule that bears on the
    chosen option was judged, or that it tells.
    """
    facts = part.findings.facts
    found: dict[tuple[str, str, str, str], dict[str, None]] = {}
    for fact, option in (*_of_needs(part), *((fact, "") for fact in _of_rules(chosen, facts))):
        for one in _with_inputs(fact):
            working = one.working
            assert working is not None
            head = (working.title, working.formula, working.valid, working.source)
            found.setdefault(head, {})[_said(one, option, facts)] = None
    return tuple(
        Workings(full(title), f"{formula.rstrip('.')}.", full(valid), full(source), tuple(lines))
        for (title, formula, valid, source), lines in found.items()
    )


def cautions(part: PartWeighing, of: tuple[str, ...] = ()) -> tuple[str, ...]:
    """What the calculations under any option, or under those that are named, say that can hurt someone."""
    judged = [fact for fact, _ in _of_needs(part, of)]
    judged += [f for o in part.options if not of or o.option.id in of for f in _of_rules(o, part.findings.facts)]
    found = (one for fact in judged for below in _with_inputs(fact) for one in _cautions(below))
    return tuple(dict.fromkeys(found))


def _cautions(fact: Fact) -> tuple[str, ...]:
    return fact.working.cautions if fact.working else ()


def _of_needs(part: PartWeighing, of: tuple[str, ...] = ()) -> Iterator[tuple[Fact, str]]:
    """The facts that needs were judged on, and the option that made them so; none where it is as today."""
    for option in (o for o in part.options if not of or o.option.id in of):
        for need in option.needs:
            for check in need.checks:
                yield check.judgement.fact, option.option.id if check.after.touched else ""


def _of_rules(option: OptionWeighing, facts: Facts) -> Iterator[Fact]:
    """The facts that rules about an option were judged on or tell; a note that is open says nothing yet."""
    for settled in option.settled:
        finding = settled.finding
        if finding.certain or finding.rule.then.kind is not EffectKind.NOTE:
            for judgement in finding.grounds:
                yield from (judgement.fact, *judgement.limits)
            yield from told_in(finding, facts)


def _with_inputs(fact: Fact) -> Iterator[Fact]:
    """What a fact was worked out from, far inputs first, and then itself; nothing of one that was not worked out."""
    if fact.working is not None:
        for _, one in fact.working.given:
            yield from _with_inputs(one)
        yield fact


def _said(fact: Fact, option: str, facts: Facts) -> str:
    working = fact.working
    assert working is not None
    after = f" after '{option}'" if option else ""
    what = f"{capital(term_in_words(fact.term))} of {subject_name(facts, fact.subject)}{after}"
    if working.refused:
        return f"{what}: not reckoned. {full(working.refused)}"
    if not fact.known:
        missing = listed(dict.fromkeys(_named(one, facts) for one in working.missing))
        return f"{what}: not reckoned, for want of {missing}." if missing else f"{what}: cannot be told."
    inputs = "; ".join(_input(name, one) for name, one in working.given)
    return f"{what}: {value_in_words(fact.values)}. From {inputs}."


def _named(fact: Fact, facts: Facts) -> str:
    if fact.how is How.ABSENT:  # an act on the part as a whole has no face
        return f"the {term_in_words(fact.term)} of a {plain(fact.term.partition('.')[0])} that is named"
    return f"the {term_in_words(fact.term)} of {subject_name(facts, fact.subject)}"


def _input(name: str, fact: Fact) -> str:
    """An input with its value, who set it, and where it is written."""
    written = list(dict.fromkeys(place(stated.where) for stated in fact.statements))
    where = _places(written) if written else "see its own working" if fact.working else fact.how.value
    by = listed(dict.fromkeys(stated.by for stated in fact.statements if stated.by))
    values = listed(value_in_words((value,)) for value in fact.values or ()) or value_in_words(fact.values)
    return f"{name}, {values} ({f'{by}, ' if by else ''}{where})"


def _places(written: list[str]) -> str:
    """Places, those in one file told together."""
    files: dict[str, list[str]] = {}
    for one in written:
        file, _, line = one.rpartition(":")
        files.setdefault(file, []).append(line)
    return "; ".join(
        f"{file}:{lines[0]}" if len(lines) == 1 else f"{file}, lines {listed(lines)}" for file, lines in files.items()
    )
