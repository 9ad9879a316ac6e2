"""Draw every conclusion of a proof again, from what the proof gives, and say wherever the two differ.

`python3 -I checker.py records/*.json` needs Python 3.11 and nothing else, and this file may be copied anywhere. It
exits with 0 where every proof holds, 1 where one differs, 2 where one cannot be read.

The method, in the order of this file: each premise is judged on a fact; rules apply, and give words that other rules
ask for; a rule that applies is in, out or open; each option leaves each need met, failed, in doubt or open; each act is
called for or not; what is required is there or left. The first step that applies gives an option its verdict, which is
then held against the options that lose less. The worst part gives the proposal's.

It takes as given: the facts and their values, also those that calculations and roll-ups worked out; what each option
leaves, which facts its acts touch and what it loses; the rules and the words as the proof tells them; which reports
stand, dates and digests; that a part told as like another is like it. So it shows that the verdict follows from what
stands in the proof. It does not show that the casebook says so: replaying does that. It certifies nothing, and says
nothing about any machine.

Not drawn again, because no verdict rests on them: sentences, titles and sources, where a fact was written, and the
ladder of measures under `account.held` and `object`. A key that nothing here reads is passed over.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterator, Mapping
from decimal import Decimal
from graphlib import TopologicalSorter
from pathlib import Path
from statistics import NormalDist
from typing import Any, NamedTuple

Json = Mapping[str, Any]

NO, UNKNOWN, YES = 0, 1, 2  # *all of these* is the least, *one of these* the greatest
NOT_JUSTIFIED = "not justified"
WAITS = REFER, NOT_YET_SHOWN = "refer to a competent person", "not yet shown"
STANDS = WITH_REQUIREMENTS, JUSTIFIED = "justified with requirements", "justified"
VERDICTS = (NOT_JUSTIFIED, *WAITS, *STANDS)  # the worst first
CONCLUSIONS = ("nothing put forward will do", "cannot be decided yet", "decided")
UNASKED = ("given up", "not asked")
STAGES = ("decision", "before-work", "during-work", "after-work", "before-use")
UNHEARD = {"values": None, "how": "silent"}  # a fact that is not listed
CEILINGS = ("at_most", "below")
TESTS = [{"any_of"}, {"at_most"}, {"below"}, {"at_least"}, {"above"}, {"at_least", "at_most"}]


# ---- numbers: yes or no only with a probability of 0.95 (JCGM 106; normal, k = 2) ------------------------------


class Number(NamedTuple):
    """A number with its ± (k = 2): none where nobody stated it, zero where it is exact."""

    amount: Decimal
    spread: Decimal | None
    unit: str


def number(text: str) -> Number:
    """Read `0.70 ± 0.04 mm`."""
    digits = r"[0-9]{1,99}(?:\.[0-9]{1,99})?"
    found = re.fullmatch(rf"(-?{digits}) ± ({digits}|unknown) (\S+)", text, re.ASCII)
    if not found:
        raise Unreadable(f"'{text}' is no number with its ± and its unit")
    return Number(Decimal(found[1]), None if found[2] == "unknown" else Decimal(found[2]), found[3])


def chance_below(value: Number, limit: Number, reached: bool) -> float | None:
    """How likely a value is below a limit, or at it if `reached`; none where a ± is not stated."""
    if value.unit != limit.unit:
        raise Unreadable(f"a number in {value.unit} is held against one in {limit.unit}")
    if value.spread is None or limit.spread is None:
        return None
    gap, apart = limit.amount - value.amount, [s for s in (value.spread, limit.spread) if s]
    if not apart:
        return float(gap > 0 or (reached and gap == 0))
    spread = apart[0] if len(apart) == 1 else (apart[0] ** 2 + apart[1] ** 2).sqrt()
    return round(NormalDist().cdf(float(2 * gap / spread)), 12)


def passes(value: Number, limits: Mapping[str, Number]) -> int:
    """Yes at 0.95 within the limits, no at 0.95 beyond one of them: a poor reading is to be repeated, not believed."""
    chances = {how: chance_below(value, limit, how in ("at_most", "above")) for how, limit in limits.items()}
    up, down = chances.get("at_most", chances.get("below", 1.0)), chances.get("at_least", chances.get("above", 0.0))
    if up is not None and down is not None and round(up - down, 12) >= 0.95:
        return YES
    beyond = (up is not None and round(1 - up, 12) >= 0.95) or (down is not None and down >= 0.95)
    return NO if beyond else UNKNOWN


def all_pass(values: list[Number], limits: Mapping[str, Number], worst: str) -> int:
    """All readings must pass; where the highest (or lowest) counts, it is beyond a limit if any of them is."""
    found = [passes(value, limits) for value in values]
    if not worst or not values:
        return min(found, default=UNKNOWN)
    edge = {how: limit for how, limit in limits.items() if (how in CEILINGS) == (worst == "highest")}
    if not edge:
        return max(found)
    counts = (max if worst == "highest" else min)(values, key=lambda one: one.amount)
    return min(passes(counts, limits), *(passes(value, edge) for value in values))


class Check(NamedTuple):
    """A test of a need, on what an option leaves; `after` is none where no act touches the fact."""

    term: str
    truth: int
    fact: Json
    after: Json | None


class Part:
    """One part of the object: what is given about it, and then what follows, step by step."""

    def __init__(self, proof: Json, given: Json) -> None:
        self.rules, self.otherwise, self.terms = proof["rules"], proof["words"], proof["terms"]
        self.policy, self.duties = proof["policy"], ("", *proof["duties"])
        self.facts: Mapping[str, Json] = given["facts"]  # "subject term" -> fact
        self.subjects, self.needs = given["subjects"], given["needs"]
        self.options, self.evidence, self.reports = given["options"], given["evidence"], given["reports"]
        self.whole = next(name for name, one in self.subjects.items() if one["kind"] == "component")
        self.words: dict[str, list[str]] = {}  # "subject word" -> the values that it may have
        self.states: dict[str, dict[str, int]] = {name: {} for name in self.rules}  # rule -> subject -> truth
        self.standings: dict[str, dict[str, str]] = {name: {} for name in self.rules}  # rule -> subject -> standing
        for subject, one in self.subjects.items():
            for term in self.otherwise:
                if term.partition(".")[0] == one["kind"]:
                    self.word(subject, term)
            for name, rule in self.rules.items():
                if rule["about"] == one["kind"]:
                    self.state(name, subject)
        for name in (name for name, rule in self.rules.items() if rule["effect"] != "establish"):
            for subject in (subject for subject, truth in self.states[name].items() if truth != NO):
                self.standing(name, subject)
        leave = next((name for name in sorted(self.options) if not self.options[name]["acts"]), None)
        self.left = {need: self.left_by(leave, need) for need in self.needs} if leave else {}

    def fact(self, key: str) -> Json:
        return self.facts.get(key, UNHEARD)

    def first(self, subject: str, term: str) -> str:
        """The first value of a given fact; "" where nobody knows it."""
        return next(iter(self.fact(f"{subject} {term}")["values"] or ()), "")

    # -- premises: each on the fact that its subject sees. About a thing that is not there it is no; else, where nobody
    #    knows, unknown.

    def look(self, subject: str, term: str) -> Json:
        owner, one = term.partition(".")[0], self.subjects[subject]
        seen = subject if term in self.otherwise and owner == one["kind"] else one["sees"].get(owner)
        if not seen:
            return {"values": None, "how": "absent"}
        if term in self.otherwise and seen != "?":  # "?" is something that may be there, for all that is written
            return {"values": self.word(seen, term), "how": "established"}
        return self.fact(f"{seen} {term}")

    def judge(self, test: Json, term: str, fact: Json, subject: str) -> int:
        """Of several words one that passes will do; of an established one, nobody knows which of them it is."""
        if {*test} not in TESTS or not isinstance(test.get("any_of", []), list):
            raise wrong("a test")
        named = {how: self.look(subject, said["term"]) for how, said in test.items() if isinstance(said, dict)}
        if "absent" in (fact["how"], *(limit["how"] for limit in named.values())):
            return NO
        if fact["values"] is None:
            return UNKNOWN
        if "any_of" in test:
            passing = {value in test["any_of"] for value in fact["values"]}
            return UNKNOWN if len(passing) == 2 and fact["how"] == "established" else YES if True in passing else NO
        texts = {how: named[how]["values"] or () if how in named else [said] for how, said in test.items()}
        if not all(texts.values()):
            return UNKNOWN
        strictest = {how: min if how in CEILINGS else max for how in test}
        limits = {how: strictest[how](map(number, texts[how]), key=lambda one: one.amount) for how in test}
        return all_pass([*map(number, fact["values"])], limits, self.terms.get(term, {"worst": ""})["worst"])

    # -- words and rules: a rule applies where all its premises are yes, and is open where none is no. A word has the
    #    values of the rules that give it, surely or perhaps; and its value `otherwise` unless one surely does.

    def state(self, name: str, subject: str) -> int:
        if subject not in self.states[name]:
            when = self.rules[name]["when"].items()
            truths = [self.judge(test, term, self.look(subject, term), subject) for term, test in when]
            self.states[name][subject] = min(truths, default=YES)
        return self.states[name][subject]

    def word(self, subject: str, term: str) -> list[str]:
        key, kind = f"{subject} {term}", self.subjects[subject]["kind"]
        if key not in self.words:
            about = {name: rule["establishes"] for name, rule in self.rules.items() if rule["about"] == kind}
            gives = [(gives[term], self.state(name, subject)) for name, gives in about.items() if term in gives]
            otherwise = () if YES in [truth for _, truth in gives] else (self.otherwise[term],)
            self.words[key] = sorted({*otherwise, *(value for value, truth in gives if truth != NO)})
        return self.words[key]

    # -- standings: out where a rule that is in overrides it; open where one that is open does, or where it is open
    #    itself; else in. An override reaches the same subject and what it owns.

    def standing(self, name: str, subject: str) -> str:
        if subject not in self.standings[name]:
            reach = (subject, *self.subjects[subject]["owners"])
            above = [o for o, rule in self.rules.items() if name in rule["overrides"] and rule["effect"] != "establish"]
            over = {self.standing(other, at) for other in above for at in reach if self.states[other].get(at, NO) != NO}
            doubtful = "open" in over or self.states[name][subject] == UNKNOWN
            self.standings[name][subject] = "out" if "in" in over else "open" if doubtful else "in"
        return self.standings[name][subject]

    # -- needs: given up where asked only at duties that the option does not keep.

    def asked_at(self, need: str, duty: str) -> bool:
        at = self.needs[need]["at"]
        if not {duty, *at} <= {*self.duties}:
            raise Unreadable(f"need '{need}' is held against a duty that is none")
        return not at or not duty or duty in at

    def need(self, option: str, need: str) -> str:
        if self.asked_at(need, self.first(f"option:{option}", "option.duty")):
            return self.left_by(option, need)
        return "given up" if self.asked_at(need, self.first(self.whole, "component.duty_wanted")) else "not asked"

    def left_by(self, option: str, need: str) -> str:
        """Failed where a check is no; met where all are yes, or an act may promise what it surely changes; else open.

        A safety need is met by a competent person's conclusion, in hand or asked for before use. It is in doubt where
        something bears on it and no act is for it.
        """
        kind, acts = self.needs[need]["kind"], self.options[option]["acts"]
        checks = [self.check(one, option) for one in self.needs[need]["checks"]]
        truth = min(one.truth for one in checks)
        serving = [f"act:{option}/{place}" for place, act in enumerate(acts, 1) if need in act["for"]]
        promised = any(self.words.get(f"{act} act.promises") == [kind] for act in serving)
        if truth == NO:
            return "failed"
        if kind == "safety":
            if truth == YES and self.reported(need, checks):
                return "met"
            roles = [self.terms[one.term]["stated_by"] for one in checks if one.term in self.terms]
            if truth == YES or promised:
                return f"met, to be concluded by {next(filter(None, roles), 'competent-person')}"
            return "in doubt" if not serving and self.bears(checks, acts) else "open"
        if truth == YES:
            return "met, to be shown" if "claimed" in [one.fact["how"] for one in checks] else "met"
        surely = all((one.after and one.after["surely"]) or one.truth == YES for one in checks)
        return "met, to be shown" if promised and surely else "open"

    def check(self, check: Json, option: str) -> Check:
        term, after = check["fact"].partition(" ")[2], self.options[option]["after"][check["fact"]]
        fact = self.fact(check["fact"]) if after is None else after
        return Check(term, self.judge(check["test"], term, fact, self.whole), fact, after)

    def reported(self, need: str, checks: list[Check]) -> bool:
        """A report is about the part as it is: it concludes nothing about what an act would make of it."""
        competent = {name: one for name, one in self.reports.items() if one["competent"] and one["states"]}
        answered = any(f"needs/{need}" in one["answers"] for one in competent.values())
        named = [one.fact["reports"] if one.fact["how"] == "reported" else [] for one in checks]
        stated = all(competent.keys() & {*reports} for reports in named)
        return (answered or stated) and all(one.after is None for one in checks)

    def bears(self, checks: list[Check], acts: list[Json]) -> bool:
        """A fact that is told and does not settle it bears on a need; so does a defect that no act treats."""
        treated = [f"defect:{act['treats']}" for act in acts]
        defects = [name for name, one in self.subjects.items() if one["kind"] == "defect" and name not in treated]
        told = [one.truth for one in checks if one.fact["values"] is not None or one.fact["how"] == "disputed"]
        return UNKNOWN in told or any(self.first(defect, "defect.affects_safety") == "yes" for defect in defects)

    # -- calls: to take away, the need must be shown. An act is called for by a need that leaving alone fails; one that
    #    takes nothing by a safety need in doubt too, an examination by the open question that it answers. Routine care
    #    and holding works are called for by the policy that lists them.

    def call(self, option: str, place: int, needs: Mapping[str, str]) -> str:
        act, subject = self.options[option]["acts"][place - 1], f"act:{option}/{place}"
        kind = self.first("proposal", "proposal.kind")
        if kind != "intervention":
            listed = self.policy is not None and act["technique"] in self.policy[kind]
            return "open" if self.policy is None else "called for" if listed else "not called for"
        states = {self.left[need].partition(",")[0] for need in act["for"] if needs[need] not in UNASKED}
        mild = self.first(subject, "technique.heats") in ("nothing", "warms")
        takes_nothing = mild and self.first(subject, "technique.takes") == "nothing"
        finds = act["finds"] and self.fact(act["finds"])["values"] is None
        examines = self.first(subject, "technique.examines") == "yes" and (finds or states & {"open", "in doubt"})
        if "failed" in states or (takes_nothing and "in doubt" in states) or examines:
            return "called for"
        return "not called for" if states <= {"met"} else "open"

    # -- requirements: a rule's is done by a person's answer, by registered evidence, or once its word is known; else it
    #    is left, by a stage, or as routine. What a need is met by is still to be shown, or to be concluded before use.

    def findings(self, option: str) -> list[tuple[str, str, str]]:
        """Rule, subject and standing: about the option and its acts, and about what is there whatever is done."""
        others = [one for one, told in self.subjects.items() if told["kind"] in ("option", "act")]
        own = {one for one in others if f"option:{option}" in (one, *self.subjects[one]["owners"])}
        told = [(name, at, how) for name, found in self.standings.items() for at, how in found.items()]
        return [one for one in told if one[1] in own or one[1] not in others]

    def answered(self, option: str, name: str) -> bool:
        """An objection by a person, a referral by a standing report of that role that states its conclusion."""
        effect, to = self.rules[name]["effect"], self.rules[name]["to"]
        if effect == "refer":
            return any(name in one["answers"] and one["role"] == to and one["states"] for one in self.reports.values())
        return effect == "against" and name in self.options[option]["answers"]

    def required(self, option: str, needs: Mapping[str, str]) -> dict[str, str]:
        required = {}
        for name, subject, how in self.findings(option):
            rule = self.rules[name]
            wanted = self.look(subject, rule["known"]) if rule["known"] else UNHEARD
            if rule["effect"] == "require" and how != "out" and wanted["values"] is None and wanted["how"] != "absent":
                answered = rule["answer"] and name in self.options[option]["answers"]
                answers = [one for one in self.evidence.values() if name in one["answers"]]
                shown = any(rule["evidence"] in ("", one["kind"]) for one in answers)
                required[name] = "done" if answered or shown else "routine" if rule["routine"] else rule["by"]
        for need in (need for need, state in needs.items() if state.startswith("met, ")):
            required[f"needs/{need}"] = "routine" if needs[need] == "met, to be shown" else "before-use"
        return required

    # -- verdict: the first step that applies gives it, and names what does; among several, the first by name.

    def outcome(self, option: str) -> dict[str, Any]:
        needs = {need: self.need(option, need) for need in self.needs}
        calls = [self.call(option, place, needs) for place, _ in enumerate(self.options[option]["acts"], 1)]
        told = sorted({(self.rules[name]["effect"], how, name) for name, _, how in self.findings(option)})
        answered = sorted({name for _, _, name in told if self.answered(option, name)})
        required = self.required(option, needs)
        left = [one for one in told if one[2] not in answered]
        left += [("need", state, need) for need, state in sorted(needs.items())]
        left += [("act", call, f"act {place}") for place, call in enumerate(calls, 1)]
        left += [("owed", by, name) for name, by in sorted(required.items())]
        own = verdict(left)
        return {"needs": needs, "acts": calls, "answered": answered, "requirements": required, "on_its_own": own}


def verdict(found: list[tuple[str, str, str]]) -> dict[str, str]:
    def first(kind: str, *hows: str) -> str:
        of_kind = [one for one in found if one[0] == kind and one[1] in hows]
        return min(of_kind, key=lambda one: hows.index(one[1]), default=("", "", ""))[2]

    steps = (
        (NOT_JUSTIFIED, "forbidden", first("forbid", "in")),
        (NOT_JUSTIFIED, "need failed", first("need", "failed")),
        (NOT_JUSTIFIED, "need in doubt", first("need", "in doubt")),
        (NOT_JUSTIFIED, "not called for", first("act", "not called for")),
        (REFER, "referred", first("refer", "in")),
        (NOT_YET_SHOWN, "something open", first("forbid", "open")),
        (NOT_YET_SHOWN, "something open", first("need", "open")),
        (NOT_YET_SHOWN, "something open", first("act", "open")),
        (NOT_YET_SHOWN, "something open", first("refer", "open")),
        (NOT_YET_SHOWN, "objection unanswered", first("against", "in", "open")),
        (NOT_YET_SHOWN, "owed by the decision", first("owed", "decision")),
        (WITH_REQUIREMENTS, "owed later", first("owed", *STAGES[1:])),
    )
    return next((reason(*step) for step in steps if step[2]), reason(JUSTIFIED, "nothing against", ""))


def reason(verdict: str, step: str, names: str) -> dict[str, str]:
    return {"verdict": verdict, "step": step, "names": names}


# ---- gentler: an option that loses nothing that another keeps, and somewhere less ------------------------------


def compare(one: Json, other: Json) -> str:
    """Whether the one loses less, for every relief that a face may have; where those differ it cannot be told."""
    reached: set[frozenset[str]] = {frozenset()}
    for thing in {*one["lost"], *other["lost"], *one["presumed"], *other["presumed"]}:
        ways = {losing(thing, one, other, *spared) for spared in spared_by(thing, one, other)}
        reached = {so_far | way for so_far in reached for way in ways}
    found = {compared(losses, one, other) for losses in reached}
    return found.pop() if len(found) == 1 else "cannot tell"


def spared_by(face: str, one: Json, other: Json) -> Iterator[tuple[bool, bool]]:
    """By which option a face of unknown relief may be spared: a shallower cut spares what a deeper one spares."""
    yield False, False
    at, there = face in one["presumed"], face in other["presumed"]
    if at or there:
        yield at, there
    if at and there:
        a, b = one["presumed"][face], other["presumed"][face]
        for cut, than, by_which in ((b, a, (True, False)), (a, b, (False, True))):
            if cut is None or than is None or (cut != than and passes(number(cut), {"below": number(than)}) != YES):
                yield by_which


def losing(thing: str, one: Json, other: Json, spared: bool, other_spared: bool) -> frozenset[str]:
    may, other_may = thing in one["lost"] and not spared, thing in other["lost"] and not other_spared
    surely, other_surely = may and thing not in one["spared"], other_may and thing not in other["spared"]
    more, less = surely and not other_may, other_surely and not may
    counts = {"something": may, "surely more": more, "perhaps more": may and not other_surely, "surely less": less}
    return frozenset(name for name, does in counts.items() if does)


def compared(losses: frozenset[str], one: Json, other: Json) -> str:
    """Where a list is not written (`untold`), an option may lose more than is told."""
    metal = compare_metal(one, other)
    if metal == "more" or ("surely more" in losses and not other["untold"]):
        return "not gentler"
    contained = "perhaps more" not in losses and not one["untold"]
    loses_nothing = "something" not in losses and not one["untold"] and is_nothing(one["volume"])
    if not loses_nothing and (not contained or metal == "unknown"):
        return "cannot tell"
    if metal == "less" or (contained and "surely less" in losses):
        return "gentler"
    return "cannot tell" if other["untold"] else "alike"


def compare_metal(one: Json, other: Json) -> str:
    """A difference inside the ± is a tie; a loss of unknown size is more than none."""
    volume, other_volume = one["volume"], other["volume"]
    if one["spared"] or other["spared"]:
        return "unknown"
    if volume is None or other_volume is None:
        return "less" if is_nothing(volume) else "more" if is_nothing(other_volume) else "unknown"
    a, b = number(volume), number(other_volume)
    if a != b and None in (a.spread, b.spread):
        return "unknown"
    return "tie" if a == b else ("more", "tie", "less")[passes(a, {"at_most": b})]


def is_nothing(volume: str | None) -> bool:
    return volume is not None and number(volume)[:2] == (Decimal(0), Decimal(0))


def against_gentler(name: str, own: Json, held: Mapping[tuple[str, str], str], rather_than: Json) -> dict[str, str]:
    """Not justified where a gentler option stands and meets all that this one keeps.

    Where one that may be gentler, or that loses other things, may yet do so, a person says why it is not taken instead.
    """
    first: dict[str, str] = own[name]["on_its_own"]
    kept = [need for need, state in own[name]["needs"].items() if state not in UNASKED]
    asked = []
    for other in (other for other in sorted(own) if other != name and first["verdict"] != NOT_JUSTIFIED):
        rival, states = own[other]["on_its_own"], {own[other]["needs"][need].partition(",")[0] for need in kept}
        stands, waits = rival["verdict"] in STANDS, rival["verdict"] in WAITS or rival["step"] == "need in doubt"
        how = held[other, name]
        if how == "gentler" and stands and states <= {"met"}:
            return reason(NOT_JUSTIFIED, "a gentler option stands", other)
        trade = how == "not gentler" and held[name, other] != "gentler"
        maybe = how == "cannot tell" or (how == "gentler" and waits)
        able = (stands or waits) and states <= {"met", "open", "in doubt"}
        if able and (trade or maybe) and other not in rather_than:
            asked.append(("loses other things" if trade else "a gentler option may yet do", other))
    return reason(NOT_YET_SHOWN, *asked[0]) if asked and first["verdict"] in STANDS else first


# ---- proposal: the worst of its parts; decided where on each an option stands that gives no need up --------------


def concluded(part: Part) -> dict[str, Any]:
    """All that follows for a part. It is out of use where leaving it fails or doubts a safety need of today's duty."""
    own = {name: part.outcome(name) for name in part.options}
    accounts = {name: option["account"] for name, option in part.options.items()}
    held = {(one, other): compare(accounts[one], accounts[other]) for one in own for other in own if one != other}
    for name, one in own.items():
        one["against_gentler"] = against_gentler(name, own, held, part.options[name]["rather_than"])
        one["gentler"] = [other for other in sorted(own) if held.get((other, name)) == "gentler"]
    now = part.first(part.whole, "component.duty_now")
    unsafe = [need for need, state in part.left.items() if state in ("failed", "in doubt") and part.asked_at(need, now)]
    truths = ("silent", "open", "applies")
    return {
        "words": part.words,
        "rules": {name: {at: truths[one] for at, one in found.items()} for name, found in part.states.items() if found},
        "standings": {name: found for name, found in part.standings.items() if found},
        "options": own,
        "out_of_use": sorted(need for need in unsafe if part.needs[need]["kind"] == "safety"),
    }


def conclusion(options: Mapping[str, Any]) -> str:
    verdicts = [one["against_gentler"]["verdict"] for one in options.values()]
    whole = [one["against_gentler"]["verdict"] for one in options.values() if "given up" not in one["needs"].values()]
    return CONCLUSIONS[2 if {*whole} & {*STANDS} else 1 if {*verdicts} & {*WAITS} else 0]


def conclusions(proof: Json) -> dict[str, Any]:
    well_formed(proof)
    full = {name: concluded(Part(proof, part["given"])) for name, part in proof["parts"].items() if "like" not in part}
    parts = [full[part.get("like", name)]["options"] for name, part in proof["parts"].items()]
    found = {name: [part[name]["against_gentler"]["verdict"] for part in parts] for name in parts[0]}
    verdicts = {name: min(of_parts, key=VERDICTS.index) for name, of_parts in found.items()}
    return {
        "parts": full,
        "verdicts": verdicts,
        "verdict": verdicts[proof["chosen"]],
        "conclusion": min(map(conclusion, parts), key=CONCLUSIONS.index),
    }


# ---- compare: what the proof says, beside what follows -----------------------------------------------------------


def differences(proof: Json) -> list[str]:
    """Where a proof says other than what follows from what it gives, a sentence each. `Unreadable` where it is none."""
    try:
        follows = conclusions(proof)
        said = {name: part["concluded"] for name, part in proof["parts"].items() if "like" not in part}
        return list(unlike({**{name: proof[name] for name in follows}, "parts": said}, follows, ""))
    except KeyError as missing:
        raise wrong(missing.args[0]) from None
    except RecursionError:
        raise Unreadable("something in it goes round in a circle, or is nested too deeply") from None
    except (TypeError, AttributeError, ValueError, IndexError, ArithmeticError, StopIteration):
        raise wrong("something in it") from None


def unlike(said: Any, follows: Any, at: str) -> Iterator[str]:
    if isinstance(follows, dict) and isinstance(said, dict):
        for name in sorted({*follows, *said}):
            yield from unlike(said.get(name, ...), follows.get(name, ...), f"{at}, {name}" if at else name)
    elif isinstance(follows, list) and isinstance(said, list) and len(follows) == len(said):
        for place, (one, other) in enumerate(zip(said, follows, strict=True), 1):
            yield from unlike(one, other, f"{at}, {place}")
    elif said != follows:
        yield f"{at}: the proof says {in_words(said)}; what it gives comes to {in_words(follows)}"


def in_words(value: Any) -> str:
    told = "nothing" if value is ... else json.dumps(value, ensure_ascii=False, sort_keys=True)
    return told if len(told) < 200 else f"{told[:200]}…"


# ---- read and print ------------------------------------------------------------------------------------------------


class Unreadable(Exception):
    """A file that is no proof. Says so in one sentence."""


def wrong(name: object) -> Unreadable:
    return Unreadable(f"'{name}' is missing or is not what it should be")


THINGS = ("object", "component", "surface", "mark", "repair", "defect", "proposal", "option", "act")
KNOWN_BY = ("written", "reported", "read off", "technique", "roll-up", "computed", "claimed")
FACT = {"how": (*KNOWN_BY, "silent", "disputed", "absent"), "values": (None, list)}
EFFECTS = ("forbid", "refer", "require", "against", "note", "establish")
THEN = {"establishes": dict, "to": str, "known": str, "evidence": str, "routine": bool, "answer": bool}
NEEDS = ("function", "safety", "stability", "completeness", "legibility")
# What would be passed over in silence if it were misspelt or of another kind: `*` is each of several.
SHAPES: Mapping[str, Json] = {
    "": {"format": ("conserve-proof-2",), "proposal": str, "chosen": str, "duties": list, "policy": (None, dict)},
    "policy": {"routine-care": list, "holding-work": list},
    "terms *": {"worst": ("", "highest", "lowest"), "stated_by": str},
    "rules *": {"about": THINGS, "effect": EFFECTS, "by": ("", *STAGES), "overrides": list, "when": dict, **THEN},
    "parts * given subjects *": {"kind": THINGS, "owners": list, "sees": dict},
    "parts * given facts *": FACT,
    "parts * given needs *": {"kind": NEEDS, "at": list},
    "parts * given options *": {"answers": dict, "rather_than": dict},
    "parts * given options * acts *": {"technique": str, "for": list, "finds": str},
    "parts * given options * after *": {"surely": bool, **FACT},
    "parts * given options * account": {"lost": list, "spared": list, "untold": list, "presumed": dict},
    "parts * given evidence *": {"kind": str, "answers": list},
    "parts * given reports *": {"role": str, "competent": bool, "states": list, "answers": list},
}


def well_formed(proof: Json) -> None:
    for path, shape in SHAPES.items():
        for thing in things_at(proof, path.split()):
            for name, kinds in shape.items():
                value, kinds = thing[name], kinds if isinstance(kinds, tuple) else (kinds,)
                fits = any(type(value) is kind if isinstance(kind, type) else value == kind for kind in kinds)
                if not fits or (type(value) is list and not all(isinstance(one, str) for one in value)):
                    raise wrong(name)
    if any(rule["effect"] == "require" and not rule["by"] for rule in proof["rules"].values()):
        raise wrong("by")
    if any("like" in part and len(part) > 1 for part in proof["parts"].values()):
        raise wrong("like")
    TopologicalSorter({name: rule["overrides"] for name, rule in proof["rules"].items()}).prepare()  # no circle


def things_at(tree: Any, path: list[str]) -> Iterator[Json]:
    """What stands at a path. What is not there is passed over: whoever reads it finds that out."""
    if path and tree is not None:
        below = [tree.get(path[0])] if path[0] != "*" else tree.values() if isinstance(tree, dict) else tree
        for one in below:
            yield from things_at(one, path[1:])
    elif tree is not None:
        yield tree


def read(text: str) -> dict[str, Any]:
    """Read a proof's text, or `Unreadable`: strict JSON, no name twice, no floating number."""

    def refuse(number: str) -> None:
        raise Unreadable(f"it holds {number[:40]}, and a proof holds no such number")

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            raise Unreadable("a name stands twice in one place")
        return found

    try:
        proof = json.loads(text, object_pairs_hook=once, parse_constant=refuse, parse_float=refuse)
    except (ValueError, RecursionError):
        raise Unreadable("it is not JSON") from None
    if not isinstance(proof, dict):
        raise Unreadable("it is no proof")
    return proof


def verdict_on(path: str) -> tuple[int, str]:
    """The exit that a file calls for, and what is said of it."""
    try:
        proof = read(Path(path).read_text(encoding="utf-8"))
        found = differences(proof)
    except (OSError, UnicodeDecodeError):
        return 2, f"{path}: cannot be read. There is no text there in UTF-8."
    except Unreadable as why:
        return 2, f"{path}: cannot be read: {why}."
    name = proof["proposal"]
    if found:
        return 1, "\n".join((f"{name}: does not hold. Differences: {len(found)}.", *(f"  {one}." for one in found)))
    return 0, f"{name}: holds. {proof['chosen']}: {proof['verdict']}; {proof['conclusion']}."


def main(argv: list[str]) -> int:
    """Check each file that is named."""
    if not argv:
        print("usage: checker.py PROOF.json ...", file=sys.stderr)
        return 2
    found = [verdict_on(path) for path in argv]
    encoding = sys.stdout.encoding or "utf-8"
    for _, text in found:
        plain = "".join(c if c.isprintable() or c == "\n" else f"\\x{ord(c):02x}" for c in text)
        print(plain.encode(encoding, "backslashreplace").decode(encoding))
    return max(code for code, _ in found)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
