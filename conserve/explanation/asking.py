"""What nobody has said, what an answer would be, what a change is: each in words."""

from __future__ import annotations

from collections.abc import Iterable

from conserve.casebook.model import Values
from conserve.explanation.sentences import question_says, referral_says
from conserve.explanation.words import (
    capital,
    full,
    listed,
    path_in_words,
    plain,
    role_in_words,
    subject_name,
    term_in_words,
    the,
)
from conserve.facts import Fact, How
from conserve.quantity import Quantity, show
from conserve.rulebook import Rulebook
from conserve.weighing.model import PartWeighing, Question
from conserve.whatif.model import Case, Change, Lack, Unknown, What
from conserve.whatif.suppose import UNWRITTEN

_THINGS = {"surfaces": "faces", "marks": "marks", "repairs": "earlier repairs", "defects": "defects"}


# ---- questions --------------------------------------------------------------------------------------------


def question_of(unknown: Unknown, part: PartWeighing, rulebook: Rulebook) -> str:
    """What to ask, as a volunteer would understand it."""
    facts, name = part.findings.facts, the(part.component.name)
    if unknown.lack is Lack.LIST:
        return _list_question(unknown, part)
    if unknown.lack is Lack.REPORT:
        return full(_referred(unknown, part, rulebook))
    if unknown.lack is Lack.CLAIM:
        return full(f"What will the {path_in_words(unknown.term, facts)} be after '{_option(unknown)}'?")
    if unknown.lack is Lack.PHASE:
        return f"In which phase did {name} join the object?"
    if unknown.lack is Lack.POLICY:
        return "What has the owner agreed may be done as routine care and as holding works?"
    return question_says(_doubt(unknown, part) or Question(_fact(unknown, part), ()), facts, rulebook.vocabulary)


def _doubt(unknown: Unknown, part: PartWeighing) -> Question | None:
    """The question about a number that is known, but not closely enough."""
    asked = (question for option in part.options for question in option.questions if question.settle is not None)
    return next((q for q in asked if (q.fact.subject, q.fact.term) == (unknown.subject, unknown.term)), None)


def _list_question(unknown: Unknown, part: PartWeighing) -> str:
    facts, kind = part.findings.facts, unknown.subject.partition(":")[0]
    where = subject_name(facts, unknown.subject)
    if kind == "act":
        return {
            "treats": f"Which defect does {where} treat, if any?",
            "takes": f"Which marks does {where} take, if any?",
        }[unknown.term]
    return f"Which {_THINGS[unknown.term]} are there on {where}? If there are none, say none."


def _referred(unknown: Unknown, part: PartWeighing, rulebook: Rulebook) -> str:
    """What a rule refers, in its own words about this part."""
    found = next((f for f in part.findings.telling if f.rule.id == unknown.term), None)
    return referral_says(found, part.findings.facts) if found else _title(unknown, rulebook)


def _title(unknown: Unknown, rulebook: Rulebook) -> str:
    rule = rulebook.rule(unknown.term)
    return full(rule.title) if rule else full(plain(unknown.term))


def _role_of(unknown: Unknown, rulebook: Rulebook) -> str:
    rule = rulebook.rule(unknown.term)
    return role_in_words(rule.then.to if rule and rule.then.to else "competent-person")


def _option(unknown: Unknown) -> str:
    return unknown.subject.partition(":")[2].partition("/")[0]


def _fact(unknown: Unknown, part: PartWeighing) -> Fact:
    key = (unknown.subject, unknown.term)
    return part.findings.facts.today.facts.get(key) or Fact(unknown.term, unknown.subject, None, How.SILENT)


def place_of(unknown: Unknown, part: PartWeighing) -> str:
    """Which file of the casebook an answer is written in."""
    kind, _, name = unknown.subject.partition(":")
    if unknown.lack is Lack.REPORT:
        return "evidence/register.yaml"
    if unknown.lack is Lack.POLICY or kind == "object":
        return "object.yaml"
    if kind in ("proposal", "option", "act"):
        return f"proposals/{part.findings.facts.proposal.id}.yaml"
    return f"components/{name.partition('/')[0] if kind == 'mate' else part.component.id}.yaml"


# ---- answers ----------------------------------------------------------------------------------------------


def answer_in_words(unknown: Unknown, values: Values, part: PartWeighing, rulebook: Rulebook) -> str:
    """An answer as it would be told: "back face, shows use: yes"."""
    facts = part.findings.facts
    if unknown.lack is Lack.REPORT:
        rule = rulebook.rule(unknown.term)
        return f"{_role_of(unknown, rulebook)} has answered '{rule.title if rule else unknown.term}'"
    if unknown.lack is Lack.PHASE:
        return f"{the(part.component.name)} joined in a period that is {plain(str(values[0]))}"
    if unknown.lack is Lack.POLICY:
        return "the policy lists it" if values else "the policy does not list it"
    if unknown.lack is Lack.LIST:
        return _list_answer(unknown, values, part)
    if unknown.lack is Lack.CLAIM:
        return f"{path_in_words(unknown.term, facts)} after '{_option(unknown)}' is {_numbers(values)}"
    return f"{_name(unknown.subject, part)}, {term_in_words(unknown.term)}: {_numbers(values)}"


def _list_answer(unknown: Unknown, values: Values, part: PartWeighing) -> str:
    where = _name(unknown.subject, part)
    if unknown.subject.startswith("act:"):
        named = listed(plain(str(value)) for value in values) or "none"
        return f"{where} {unknown.term} {named}"
    things = _THINGS[unknown.term]
    return f"{where} has {things}" if values else f"{where} has no {things}"


def _name(subject: str, part: PartWeighing) -> str:
    kind, _, name = subject.partition(":")
    if name == UNWRITTEN:
        return f"a {kind} that nobody has written down"
    return subject_name(part.findings.facts, subject).removeprefix("the ")


def _numbers(values: Values) -> str:
    """What is supposed; an exact number stands for one measured closely."""
    said = [show(v) if isinstance(v, Quantity) else plain(str(v)) for v in values]
    return listed(dict.fromkeys(said)) or "none"


def case_in_words(case: Case, rulebook: Rulebook) -> str:
    """The answers of a case, in a row; nothing where none is needed."""
    told = []
    for unknown, values in sorted(case.supposed.items()):
        if unknown in case.whatever:
            told.append(f"{_name(unknown.subject, case.part)}, {term_in_words(unknown.term)} is known, whatever it is")
        else:
            told.append(answer_in_words(unknown, values, case.part, rulebook))
    return "; ".join(told)


# ---- changes ----------------------------------------------------------------------------------------------


def change_in_words(change: Change, part: PartWeighing, rulebook: Rulebook) -> str:
    """A change, as somebody would be told to make it."""
    facts = part.findings.facts
    if change.what is What.LEAVE_OUT:
        return f"leave out {_act(change.subject, part)}"
    if change.what is What.USE:
        return f"leave the part in a lower use: {_choice(change)}{_given_up(change, part)}"
    if change.what is What.ANSWER:
        return f"answer '{_rule_title(change.term, rulebook)}' ({change.term})"
    if change.what is What.SHOW:
        return (
            f"register a {plain(str(change.to[0]))} that answers '{_rule_title(change.term, rulebook)}' ({change.term})"
        )
    if change.what is What.REASON:
        return f"say under 'rather_than' why '{change.term}' is not taken"
    if change.what is What.REVIEW:
        return "set a date on which it is looked at again"
    if change.what is What.COMPETENCE:
        return "say who is to do it and what they have done before"
    where = _act(change.subject, part) if change.subject.startswith("act:") else subject_name(facts, change.subject)
    return f"{where}: {term_in_words(change.term)} {_choice(change)}"


def _given_up(change: Change, part: PartWeighing) -> str:
    """The needs that a lower use no longer asks."""
    lower = {str(values[0]) for values in (change.to, *change.also)}
    needs = part.findings.facts.proposal.needs
    gone = [f"'{need.says.rstrip('.')}'" for need in needs if need.at and not lower & set(need.at)]
    return f", which gives up {listed(gone)}" if gone else ""


def _choice(change: Change) -> str:
    if change.low and change.high:
        return f"between {_rounded(change.low[0])} and {_rounded(change.high[0])}"
    return listed((_numbers(values) for values in (change.to, *change.also)), "or")


def _rounded(value: object) -> str:
    """A number found by halving, to four figures."""
    if not isinstance(value, Quantity):
        return str(value)
    return f"{float(value.amount):.4g} {value.unit}"


def _act(subject: str, part: PartWeighing) -> str:
    option, _, number = subject.partition(":")[2].partition("/")
    found = part.findings.facts.proposal.option(option)
    act = next((a for a in found.acts if str(a.number) == number), None) if found else None
    return f"act {number}{f', {plain(act.technique)}' if act else ''}"


def _rule_title(name: str, rulebook: Rulebook) -> str:
    rule = rulebook.rule(name)
    return rule.title if rule else name


def changes_in_words(made: Iterable[Change], part: PartWeighing, rulebook: Rulebook) -> str:
    """A set of changes in a row."""
    return capital(listed(change_in_words(change, part, rulebook) for change in made))
