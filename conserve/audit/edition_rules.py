"""In what two editions of the rules differ: rule by rule, and word by word."""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import dataclass, fields, replace
from typing import Any

from conserve.audit.edition_model import Became, RuleChange, WordChange
from conserve.explanation import full, listed, plain
from conserve.explanation.pieces import told_rule, told_test
from conserve.explanation.sentences import STAGES
from conserve.explanation.words import role_in_words, term_in_words, test_in_words
from conserve.problem import Location
from conserve.rule import COMMON_PRACTICE, Citation, Effect, EffectKind, Premise, Rule, Status
from conserve.rulebook import Rulebook
from conserve.terms import Technique, Term, Vocabulary

_TEXT = ("title", "says", "sources")  # of a rule as it is told: no verdict rests on these
_NOWHERE = Location("")


@dataclass(frozen=True, slots=True)
class Pair:
    """A rule in two editions; None where it is not there or does not count."""

    was: Rule | None
    now: Rule | None

    @property
    def kinds(self) -> frozenset[str]:
        """The kinds of subject that it is about in either."""
        return frozenset(rule.about for rule in (self.was, self.now) if rule)


def pairs_of(old: Rulebook, new: Rulebook) -> dict[str, Pair]:
    """Each rule on whose change a verdict can rest, by its id."""
    return {name: pair for name, pair in _pairs(old, new) if _bearing(pair.was) != _bearing(pair.now)}


def _pairs(old: Rulebook, new: Rulebook) -> Iterator[tuple[str, Pair]]:
    was, now = _counting(old), _counting(new)
    for name in sorted(was.keys() | now.keys()):
        yield name, Pair(was.get(name), now.get(name))


def _counting(rulebook: Rulebook) -> dict[str, Rule]:
    return {rule.id: rule for rule in rulebook.rules if rule.status is Status.ADOPTED}


def _bearing(rule: Rule | None) -> dict[str, Any] | None:
    """A rule in what a verdict can rest on. No order, of its premises or of the values they accept, is part of it."""
    if rule is None:
        return None
    told = {name: value for name, value in told_rule(rule).items() if name not in _TEXT}
    told["when"] = {premise.term: _asked(premise) for premise in rule.when}
    return told


def _asked(premise: Premise | None) -> object:
    if premise is None:
        return None
    return told_test(premise.test) if premise.test.bounds else sorted(premise.test.accepts)


# ---- rules, told -------------------------------------------------------------------------------------------------


def rule_changes(old: Rulebook, new: Rulebook) -> tuple[RuleChange, ...]:
    """Every rule that is new, gone or changed, by its id. Examples, titles and places are no part of that."""
    found = (_rule_change(name, pair, old, new) for name, pair in _pairs(old, new))
    return tuple(one for one in found if one is not None)


def _rule_change(name: str, pair: Pair, old: Rulebook, new: Rulebook) -> RuleChange | None:
    rule, book = (pair.now, new) if pair.now else (pair.was, old)
    assert rule is not None
    if pair.was and pair.now:
        bears = _bearing(pair.was) != _bearing(pair.now)
        became, says = Became.CHANGED, tuple(_altered(pair.was, pair.now))
    else:
        bears, (became, says) = True, (_come(old.rule(name)) if pair.now else _gone(name, new))
    sources = tuple(source_says(cited, book) for cited in rule.sources)
    return RuleChange(name, rule.title, became, says, sources, bears) if says else None


def _come(before: Rule | None) -> tuple[Became, tuple[str, ...]]:
    return Became.NEW, (f"It counts now; before, it was {before.status}." if before else "It is new.",)


def _gone(name: str, new: Rulebook) -> tuple[Became, tuple[str, ...]]:
    after = new.rule(name)
    by = next((laid.name for laid in new.overlays if any(edge.rule == name for edge in laid.withdraws)), "")
    if after is None:
        return Became.GONE, ("It is not there any more.",)
    if after.status is Status.DRAFT:
        return Became.GONE, ("It is a draft, and does not count.",)
    return Became.GONE, (f"It is withdrawn by the overlay {by}." if by else "It is withdrawn.",)


def source_says(cited: Citation, rulebook: Rulebook) -> str:
    """A clause with the title and edition of its source."""
    source = rulebook.sources.get(cited.source)
    if cited.source == COMMON_PRACTICE or source is None:
        return plain(cited.source)
    return ", ".join(filter(None, (source.title, source.edition, cited.clause)))


def _altered(was: Rule, now: Rule) -> Iterator[str]:
    """What of a rule changed, a sentence each."""
    if was.about != now.about:
        yield f"It is about {_one(now.about)}; before, it was about {_one(was.about)}."
    before, after = ({premise.term: premise for premise in rule.when} for rule in (was, now))
    for term in dict.fromkeys((*before, *after)):
        if _asked(before.get(term)) != _asked(after.get(term)):
            yield _premise_altered(term, before.get(term), after.get(term))
    yield from _effect_altered(was.then, now.then)
    edges = ({edge.rule for edge in rule.overrides} for rule in (was, now))
    yield from _edges_altered(*edges)
    texts = (("reason", was.because, now.because), ("wording", _wording(was), _wording(now)))
    changed = [name for name, one, other in texts if one != other]
    if [str(cited) for cited in was.sources] != [str(cited) for cited in now.sources]:
        changed.append("sources")
    if changed:
        yield full(f"its {listed(changed)} changed")


def _one(kind: str) -> str:
    return f"{'an' if kind[:1] in 'aeiou' else 'a'} {kind}"


def _wording(rule: Rule) -> tuple[str, str]:
    return rule.then.says, rule.then.instead


def _premise_altered(term: str, was: Premise | None, now: Premise | None) -> str:
    owner = term.partition(".")[0]
    what = f"the {term_in_words(term)} of the {owner}"
    if was is None:
        assert now is not None
        return f"It asks as well that {what} be {test_in_words(now.test)}."
    if now is None:
        return f"It no longer asks that {what} be {test_in_words(was.test)}."
    return f"It asks that {what} be {test_in_words(now.test)}; before, it asked for {test_in_words(was.test)}."


def _effect_altered(was: Effect, now: Effect) -> Iterator[str]:
    before, after = effect_says(was), effect_says(now)
    if before != after:
        yield f"Where it applies, it {after}; before, it {before}."
    if was.gate != now.gate:
        yield f"It is {'now' if now.gate else 'no longer'} a gate of law or safety."
    if was.routine != now.routine:
        yield f"It is {'now' if now.routine else 'no longer'} owed by every such job."


def effect_says(effect: Effect) -> str:
    """What a rule does where it applies."""
    if effect.kind is EffectKind.REFER:
        return f"refers to {role_in_words(effect.to)}"
    if effect.kind is EffectKind.ESTABLISH:
        term, value = effect.establishes
        return f"gives the {term_in_words(term)} as {plain(value)}"
    if effect.kind is EffectKind.REQUIRE:
        assert effect.by is not None
        answer = "a person's answer" if effect.answer else ""
        known = f"that the {term_in_words(effect.known)} be known" if effect.known else ""
        evidence = f"{role_in_words(effect.evidence)} as evidence" if effect.evidence else ""
        return f"requires {answer or known or evidence or 'what it says'}, {STAGES[effect.by]}"
    return {EffectKind.FORBID: "forbids", EffectKind.AGAINST: "objects"}.get(effect.kind, "notes something")


def _edges_altered(was: set[str], now: set[str]) -> Iterator[str]:
    if now - was:
        yield f"It now sets aside {listed(sorted(now - was))}."
    if was - now:
        yield f"It no longer sets aside {listed(sorted(was - now))}."


# ---- words -------------------------------------------------------------------------------------------------------

_Said = Mapping[str, object]  # what of a word can bear on a verdict


def word_changes(old: Vocabulary, new: Vocabulary) -> tuple[WordChange, ...]:
    """Every word, technique and list on which a verdict can rest and that is not the same in both."""
    was, now = _words(old), _words(new)
    found = []
    for name in sorted(was.keys() | now.keys()):
        if name not in now or name not in was:
            found.append(WordChange(name, "It is new." if name in now else "It is not there any more."))
        elif was[name] != now[name]:
            parts = [part for part in was[name] if was[name][part] != now[name].get(part)]
            found.append(WordChange(name, full(f"{listed(map(_part, parts))} changed")))
    return tuple(found)


def _part(name: str) -> str:
    return f"its {plain(name)}"


def _words(vocabulary: Vocabulary) -> dict[str, _Said]:
    """Everything in the words on which a verdict can rest, by name."""
    terms = {name: _said(replace(term, means="", ask="", cost="", where=_NOWHERE)) for name, term in _terms(vocabulary)}
    techniques = {
        technique(name): _said(replace(one, does="", source="", where=_NOWHERE))
        for name, one in vocabulary.techniques.items()
    }
    many = {"instrument": vocabulary.instruments, "material": vocabulary.materials, "role": vocabulary.roles}
    listed_ = {f"{kind} {name}": {"value": repr(value)} for kind, some in many.items() for name, value in some.items()}
    shared = {f"instrument {name}, shared": {"value": repr(value)} for name, value in vocabulary.shared.items()}
    return {**terms, **techniques, **listed_, **shared, "duties": {"order": vocabulary.duties}}


def technique(name: str) -> str:
    """A technique, as words that differ are named."""
    return f"technique {name}"


def _terms(vocabulary: Vocabulary) -> Iterator[tuple[str, Term]]:
    return iter(vocabulary.terms.items())


def _said(word: Term | Technique) -> _Said:
    return {one.name: getattr(word, one.name) for one in fields(word) if one.init}
