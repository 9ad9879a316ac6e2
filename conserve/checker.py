"""Draw every conclusion of a proof again, from what the proof gives, and say wherever the two differ.

`python3 -I checker.py records/*.json` needs Python 3.11 and nothing else, and this file may be copied anywhere. It
exits with 0 where every proof holds, 1 where one differs, 2 where one cannot be read.

It takes as given: the facts and their values, also those that calculations and roll-ups worked out; what each option
leaves, which facts its acts touch and what it loses; the rules and the words as the proof tells them; which reports
stand, dates and digests; that a part told as like another is like it. So it shows that the verdict follows from what
stands in the proof. It does not show that the casebook says so: replaying does that. It certifies nothing, and says
nothing about any machine.

Not drawn again, because nothing concluded rests on them: sentences (titles, what rules and people say), sources, the
ladder of measures under `account.held` and `object`, and where a fact was written.

yes, unknown and no are 2, 1 and 0: *all of these* is the least, *one of these* the greatest.
"""

from __future__ import annotations

import json
import re
import sys
from collections.abc import Iterable, Iterator, Mapping
from decimal import Decimal
from graphlib import CycleError, TopologicalSorter
from pathlib import Path
from statistics import NormalDist
from typing import Any, NamedTuple

NO, UNKNOWN, YES = 0, 1, 2
TRUTHS = ("no", "unknown", "yes")
VERDICTS = (
    "not justified",
    "refer to a competent person",
    "not yet shown",
    "justified with requirements",
    "justified",
)
WAITING, STANDS = VERDICTS[1:3], VERDICTS[3:]
STAGES = ("decision", "before-work", "during-work", "after-work", "before-use")


def differences(proof: dict[str, Any]) -> list[str]:
    """Where a proof says other than what follows from what it gives, a sentence each. `Unreadable` where it is none."""
    fault = misfit(proof, PROOF, "the proof")
    if fault:
        raise Unreadable(fault)
    try:
        return list(unlike(concluded(proof), conclusions(proof), ""))
    except CycleError:
        raise Unreadable("rules override or wait for one another in a circle") from None
    except RecursionError:
        raise Unreadable("it is nested too deeply") from None
    except KeyError as missing:
        raise Unreadable(f"{missing} is named and is not there") from None


def concluded(proof: Mapping[str, Any]) -> dict[str, Any]:
    """What a proof says it came to."""
    full = {name: part["concluded"] for name, part in proof["parts"].items() if "like" not in part}
    return {"parts": full, **{name: proof[name] for name in ("verdicts", "verdict", "conclusion")}}


def conclusions(proof: Mapping[str, Any]) -> dict[str, Any]:
    """The same, as it follows from what the proof gives. A part that is told as like another comes to the same."""
    full = {name: Part(proof, part["given"]) for name, part in proof["parts"].items() if "like" not in part}
    parts = {name: full[part.get("like", name)] for name, part in proof["parts"].items()}
    if not parts:
        raise Unreadable("it is about no part")
    # The verdict on an option is its worst over the parts; that of the proposal is that of the option put forward.
    verdicts = {
        option: min((part.verdicts[option]["verdict"] for part in parts.values()), key=VERDICTS.index)
        for option in next(iter(parts.values())).options
    }
    # Decided where on every part an option stands that gives no need up.
    found = [part.conclusion() for part in parts.values()]
    return {
        "parts": {name: part.concluded() for name, part in full.items()},
        "verdicts": verdicts,
        "verdict": verdicts[proof["chosen"]],
        "conclusion": min(found, key=("nothing put forward will do", "cannot be decided yet", "decided").index),
    }


# ---- a. A number against a limit: yes or no only with a probability of 0.95, normal, k = 2 (JCGM 106) ------------


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


def passes(how: str, value: Number, limit: Number) -> int:
    chance = chance_below(value, limit, reached=how in ("at_most", "above"))
    if chance is None:
        return UNKNOWN
    below = YES if chance >= 0.95 else NO if round(1 - chance, 12) >= 0.95 else UNKNOWN
    return below if how in ("at_most", "below") else YES - below


def within(value: Number, low: Number, high: Number) -> int:
    """Yes at 0.95 between the limits; no only at 0.95 beyond one of them, for a poor reading is to be repeated."""
    up, down = chance_below(value, high, reached=True), chance_below(value, low, reached=False)
    if up is not None and down is not None and round(up - down, 12) >= 0.95:
        return YES
    return NO if YES in (passes("below", value, low), passes("above", value, high)) else UNKNOWN


def readings_pass(how: str, readings: list[Number], limits: list[Number], worst: str) -> int:
    """All readings must pass; where the highest (or lowest) counts, it is beyond a limit if any of them is."""
    if not readings:
        return UNKNOWN
    if how != "between":
        other_side = worst and (worst == "highest") != (how in ("at_most", "below"))
        return (max if other_side else min)(passes(how, one, limits[0]) for one in readings)
    if not worst:
        return min(within(one, *limits) for one in readings)
    counts = (max if worst == "highest" else min)(readings, key=lambda one: one.amount)
    edge = ("at_most", limits[1]) if worst == "highest" else ("at_least", limits[0])
    return min(within(counts, *limits), *(passes(edge[0], one, edge[1]) for one in readings))


# ---- one part --------------------------------------------------------------------------------------------------


class Known(NamedTuple):
    """A fact as something sees it. Values: none where nobody knows. `one_of`: it is one of them, nobody knows which."""

    key: str
    values: list[str] | None
    absent: bool = False  # what it would be about is not there
    one_of: bool = False
    missing: tuple[str, ...] = ()  # what it lacks to be worked out


class Part:
    """What follows for one part of the object, step by step."""

    def __init__(self, proof: Mapping[str, Any], given: Mapping[str, Any]) -> None:
        self.rules, self.terms, self.otherwise = proof["rules"], proof["terms"], proof["words"]
        self.policy, self.given = proof["policy"], given
        self.subjects, self.facts, self.needs = given["subjects"], given["facts"], given["needs"]
        self.options: Mapping[str, Any] = given["options"]
        self.whole = next((name for name, one in self.subjects.items() if one["kind"] == "component"), "the component")
        self.words: dict[str, list[str]] = {}
        self.states: dict[str, dict[str, Any]] = {name: {} for name in self.rules}
        self.unknown: dict[tuple[str, str], list[str]] = {}  # of an open finding: what to ask
        self.truths: dict[tuple[str, str], int] = {}
        for name in sorted(self.subjects, key=lambda name: len(self.subjects[name]["owners"])):
            self.fire(name)
        self.standings = self.stand()
        leave = next((name for name in sorted(self.options) if not self.options[name]["acts"]), None)
        self.left = {need: self.need(need, leave) for need in self.needs} if leave else {}
        self.own = {name: Outcome(self, name) for name in self.options}
        accounts = {name: option["account"] for name, option in self.options.items()}
        self.compared = {(a, b): gentler(accounts[a], accounts[b]) for a in accounts for b in accounts if a != b}
        self.verdicts = {name: self.against_gentler(one) for name, one in self.own.items()}

    def first(self, key: str) -> str:
        """The first value of a given fact; "" where it has none."""
        return str((self.facts.get(key, {}).get("values") or [""])[0])

    # -- a. A premise is judged on the fact that its subject sees. About a thing that is not there it is no.

    def look(self, subject: str, term: str) -> Known:
        owner = term.partition(".")[0]
        own_word = term in self.otherwise and owner == self.subjects[subject]["kind"]
        seen = subject if own_word else self.subjects[subject]["sees"].get(owner, "")
        key = f"{seen} {term}"
        if not seen:
            return Known(key, None, absent=True)
        if seen == "?":  # something that may be there for all that is written
            return Known(key, None)
        if key in self.words:
            return Known(key, self.words[key], one_of=True)
        return self.told(key, self.facts.get(key, {}))

    def told(self, key: str, fact: Mapping[str, Any]) -> Known:
        return Known(key, fact.get("values"), missing=tuple(fact.get("missing", ())))

    def judge(self, test: Mapping[str, Any], known: Known, subject: str) -> tuple[int, list[str]]:
        """Whether a test passes on a fact; and what to ask where nobody can tell."""
        ((how, said),) = test.items()
        term = known.key.partition(" ")[2]
        limits = [] if how == "any_of" else [*said.values()] if how == "between" else [said]
        named = {one["term"]: self.look(subject, one["term"]) for one in limits if isinstance(one, dict)}
        if known.absent or any(one.absent for one in named.values()):
            return NO, []
        if known.values is None:
            truth = UNKNOWN
        elif how == "any_of":
            passing = [value in said for value in known.values]
            truth = YES if all(passing) and passing else UNKNOWN if any(passing) else NO
            truth = YES if truth == UNKNOWN and not known.one_of else truth
        else:
            found = [strictest(how, named[one["term"]]) if isinstance(one, dict) else number(one) for one in limits]
            at = [one for one in found if one is not None]
            readings, worst = [number(value) for value in known.values], self.terms.get(term, {}).get("worst", "")
            truth = readings_pass(how, readings, at, worst) if len(at) == len(found) else UNKNOWN
        unknown = [one for one in (known, *named.values()) if one.values is None]
        asked = [name for one in unknown for name in one.missing or (one.key,)] or [known.key]
        return truth, asked if truth == UNKNOWN else []

    # -- b. A word has the values of the rules that give it, for certain or perhaps, and its value `otherwise` unless
    #       one gives it for certain. c. A rule applies where all its premises are yes; it is open where none is no.

    def fire(self, subject: str) -> None:
        kind = self.subjects[subject]["kind"]
        about = {name: rule for name, rule in self.rules.items() if rule["about"] == kind}
        words = [word for word in self.otherwise if word.partition(".")[0] == kind]
        givers = {word: [name for name, rule in about.items() if word in rule.get("establishes", {})] for word in words}
        before = {
            word: {term for name in givers[word] for term in about[name]["when"] if term in givers} for word in words
        }
        for word in TopologicalSorter(before).static_order():
            gives: dict[str, int] = {}
            for name in givers[word]:
                value = about[name]["establishes"][word]
                gives[value] = max(gives.get(value, NO), self.state(name, subject))
            perhaps = {value for value, truth in gives.items() if truth}
            self.words[f"{subject} {word}"] = sorted(
                perhaps if YES in gives.values() else perhaps | {self.otherwise[word]}
            )
        for name in about:
            self.truths[name, subject] = self.state(name, subject)

    def state(self, rule: str, subject: str) -> int:
        judged = {
            term: self.judge(test, self.look(subject, term), subject) for term, test in self.rules[rule]["when"].items()
        }
        truth = min((one for one, _ in judged.values()), default=YES)
        told = sorted(term for term, (one, _) in judged.items() if one == truth)
        self.states[rule][subject] = (
            "applies"
            if truth == YES
            else f"open: {', '.join(told)}"
            if truth == UNKNOWN
            else frozenset(f"silent: {term}" for term in told)  # naming one of them is enough
        )
        self.unknown[rule, subject] = [key for _, asked in judged.values() for key in asked]
        return truth

    # -- d. A finding is out where one that is in overrides it, open where one that is open does or where it is not
    #       certain, else in. An override reaches the same subject and what it owns.

    def stand(self) -> dict[str, dict[str, str]]:
        above: dict[str, list[str]] = {name: [] for name in self.rules}
        for name, rule in self.rules.items():
            for other in rule.get("overrides", ()):
                above.setdefault(other, []).append(name)
        standing: dict[str, dict[str, str]] = {}
        for name in TopologicalSorter(above).static_order():
            for subject in self.subjects if name in self.rules and self.rules[name]["effect"] != "establish" else ():
                truth = self.truths.get((name, subject), NO)
                if truth == NO:
                    continue
                reach = (subject, *self.subjects[subject]["owners"])
                over = {o: {standing.get(o, {}).get(at, "").partition(":")[0] for at in reach} for o in above[name]}
                into = sorted(other for other, how in over.items() if "in" in how)
                maybe = sorted(other for other, how in over.items() if "open" in how)
                told = f"out: {', '.join(into)}" if into else f"open: {', '.join(maybe)}" if maybe else ""
                standing.setdefault(name, {})[subject] = told or ("in" if truth == YES else "open")
        return standing

    # -- e. A need is given up where it is asked only at duties that the option does not keep.

    def unasked(self, need: str, option: str) -> str:
        at, duty = self.needs[need]["at"], self.first(f"option:{option} option.duty")
        wanted = self.first(f"{self.whole} component.duty_wanted")
        if not at or not duty or duty in at:
            return ""
        return "given up" if not wanted or wanted in at else "not asked"

    #       Else it is failed where a check is no, met where all are yes or an act may promise what it surely changes,
    #       open otherwise. A safety need is met by a competent person's conclusion, in hand or asked for; it is in
    #       doubt where something bears on it and no act deals with that.

    def need(self, name: str, option: str) -> dict[str, Any]:
        need, acts = self.needs[name], self.options[option]["acts"]
        checks = [self.check(one, option) for one in need["checks"]]
        truth, safety = min((one["truth"] for one in checks), default=YES), need["kind"] == "safety"
        served = [n for n, act in enumerate(acts, 1) if name in act["for"]]
        promised = any(self.words.get(f"act:{option}/{n} act.promises") == [need["kind"]] for n in served)
        promised = promised and (safety or all(one["surely"] or one["truth"] == YES for one in checks))
        told = {"shown": "", "asked_of": "", "bears": [], "checks": [TRUTHS[one["truth"]] for one in checks]}
        told["asks"] = [key for one in checks for key in one["asks"]]
        if truth == NO:
            return {**told, "state": "failed"}
        if truth == YES and safety and self.concluded_by_report(name, checks):
            return {**told, "state": "met", "shown": "a competent person's conclusion"}
        if truth == YES or promised:
            role = next((one["role"] for one in checks if one["role"]), "competent-person") if safety else ""
            hows = [one["how"] for one in checks]
            shown = next((how for how in ("claimed", "computed") if how in hows), "as it is today")
            return {**told, "state": "met", "shown": shown if truth == YES else "promised", "asked_of": role}
        bears = self.bearing(checks, acts) if safety and not served else []
        return {**told, "state": "in doubt" if bears else "open", "bears": bears}

    def check(self, check: Mapping[str, Any], option: str) -> dict[str, Any]:
        key = check["fact"]
        after = self.options[option]["after"][key]
        fact = after if after["touched"] else self.facts.get(key, {})
        truth, asks = self.judge(check["test"], self.told(key, fact), self.whole)
        return {
            "truth": truth,
            "asks": asks,
            "term": key.partition(" ")[2],
            "touched": after["touched"],
            "surely": after["touched"] and after["surely"],
            "how": fact.get("how", "silent"),
            "reports": fact.get("reports", ()),
            "told": fact.get("values") is not None or fact.get("disputed", False),
            "role": self.terms.get(key.partition(" ")[2], {}).get("stated_by", ""),
        }

    def concluded_by_report(self, name: str, checks: list[dict[str, Any]]) -> bool:
        """A report is about the part as it is: it concludes nothing about what an act would make of it."""
        competent = {name: one for name, one in self.given["reports"].items() if one["competent"] and one["states"]}
        if any(one["touched"] for one in checks):
            return False
        answered = any(f"needs/{name}" in one["answers"] for one in competent.values())
        return answered or (bool(checks) and all(competent.keys() & {*one["reports"]} for one in checks))

    def bearing(self, checks: list[dict[str, Any]], acts: list[dict[str, Any]]) -> list[str]:
        straddling = [one["term"] for one in checks if one["truth"] == UNKNOWN and one["told"]]
        treated = {f"defect:{act['treats']}" for act in acts}
        defects = [name for name, one in self.subjects.items() if one["kind"] == "defect" and name not in treated]
        bad = [d for d in defects if self.facts.get(f"{d} defect.affects_safety", {}).get("values") == ["yes"]]
        return sorted(straddling + [name.partition(":")[2] for name in bad])

    # -- h. An option is not justified where a gentler one stands and meets all that it keeps. Where one that may be
    #       gentler, or that loses other things, may yet meet it, a person says why it is not taken instead.

    def against_gentler(self, one: Outcome) -> dict[str, str]:
        own = one.on_its_own
        if own["verdict"] == VERDICTS[0]:
            return own
        kept = [need for need, told in one.needs.items() if told["state"] not in ("given up", "not asked")]
        rivals = [self.own[name] for name in sorted(self.own) if name != one.name]
        for other in rivals:
            how, stands = self.compared[other.name, one.name], other.on_its_own["verdict"] in STANDS
            if how == "gentler" and stands and all(other.needs[need]["state"] == "met" for need in kept):
                return told_verdict(0, "a gentler option stands", other.name)
        for other in rivals if own["verdict"] in STANDS else ():
            how, back = self.compared[other.name, one.name], self.compared[one.name, other.name]
            waits = other.on_its_own["verdict"] in WAITING or other.on_its_own["step"] == "need in doubt"
            able = waits or (other.on_its_own["verdict"] in STANDS and how != "gentler")
            may_meet = all(other.needs[need]["state"] in ("met", "open", "in doubt") for need in kept)
            step = {
                "gentler": "a gentler option may yet do",
                "cannot tell": "" if back == "gentler" else "a gentler option may yet do",
                "not gentler": "loses other things" if back in ("not gentler", "cannot tell") else "",
            }.get(how, "")
            if step and able and may_meet and other.name not in self.options[one.name]["rather_than"]:
                return told_verdict(2, step, other.name)
        return own

    # -- i. A part is out of use where leaving it alone fails a safety need of today's duty, or leaves it in doubt.

    def out_of_use(self) -> list[str]:
        duty = self.first(f"{self.whole} component.duty_now")
        return sorted(
            name
            for name, left in self.left.items()
            if self.needs[name]["kind"] == "safety" and left["state"] in ("failed", "in doubt")
            if not self.needs[name]["at"] or not duty or duty in self.needs[name]["at"]
        )

    def conclusion(self) -> str:
        verdicts = {name: told["verdict"] for name, told in self.verdicts.items()}
        if any(verdicts[name] in STANDS and not one.gives_up for name, one in self.own.items()):
            return "decided"
        return "cannot be decided yet" if {*WAITING} & {*verdicts.values()} else "nothing put forward will do"

    def concluded(self) -> dict[str, Any]:
        gentle = {name: sorted(o for o in self.own if self.compared.get((o, name)) == "gentler") for name in self.own}
        return {
            "words": self.words,
            "rules": {name: states for name, states in self.states.items() if states},
            "standings": self.standings,
            "out_of_use": self.out_of_use(),
            "options": {
                name: {**one.concluded(), "against_gentler": self.verdicts[name], "gentler": gentle[name]}
                for name, one in self.own.items()
            },
        }


def strictest(how: str, limit: Known) -> Number | None:
    readings = [number(value) for value in limit.values or ()]
    return (min if how in ("at_most", "below") else max)(readings, key=lambda one: one.amount, default=None)


def told_verdict(verdict: int, step: str, names: str) -> dict[str, str]:
    return {"verdict": VERDICTS[verdict], "step": step, "names": names}


# ---- one option on its own -------------------------------------------------------------------------------------


class Outcome:
    """What follows for one option of one part, before it is held against the others."""

    def __init__(self, part: Part, name: str) -> None:
        self.part, self.name, self.option = part, name, part.options[name]
        self.needs = {
            need: {"state": state, "shown": "", "asked_of": "", "bears": [], "checks": [], "asks": []}
            if (state := part.unasked(need, name))
            else part.need(need, name)
            for need in part.needs
        }
        self.gives_up = any(told["state"] == "given up" for told in self.needs.values())
        self.calls = [self.call(number, act) for number, act in enumerate(self.option["acts"], 1)]
        self.findings = [
            (part.rules[rule], rule, subject, standing.partition(":")[0])
            for rule, found in part.standings.items()
            for subject, standing in found.items()
            if part.subjects[subject]["kind"] not in ("option", "act")
            or f"option:{name}" in (subject, *part.subjects[subject]["owners"])
        ]
        self.answered = sorted({rule for told, rule, _, _ in self.findings if self.answers(told, rule)})
        self.requirements = {**self.required(), **self.to_make_good()}
        self.on_its_own = self.verdict()

    # -- f. To take away, the need must be shown: an act is called for by a need that leaving alone fails; one that
    #       takes nothing by a safety need in doubt too, and an examination by the open question that it answers.
    #       Routine care and holding works are called for by the policy that lists them.

    def call(self, number: int, act: Mapping[str, Any]) -> dict[str, Any]:
        part, subject = self.part, f"act:{self.name}/{number}"
        kind = part.first("proposal proposal.kind")
        if kind != "intervention":
            listed = None if part.policy is None else act["technique"] in part.policy[kind]
            return {"call": "open" if listed is None else "called for" if listed else "not called for", "by": []}
        serves = [need for need in act["for"] if self.needs[need]["state"] not in ("given up", "not asked")]
        failing, doubtful, unknown = (
            sorted(need for need in serves if part.left[need]["state"] == state)
            for state in ("failed", "in doubt", "open")
        )
        takes_nothing = part.first(f"{subject} technique.takes") == "nothing" and part.first(
            f"{subject} technique.heats"
        ) in ("nothing", "warms")
        if failing or (takes_nothing and doubtful):
            return {"call": "called for", "by": failing or doubtful}
        finds = act["finds"] and part.facts.get(act["finds"], {}).get("values") is None
        if part.first(f"{subject} technique.examines") == "yes" and (unknown or doubtful or finds):
            return {"call": "called for", "by": unknown or doubtful}
        if all(part.left[need]["state"] == "met" for need in serves):
            return {"call": "not called for", "by": sorted(serves)}
        return {"call": "open", "by": unknown or doubtful}

    # -- g. An objection is answered by a person under this option; a referral by a standing report of that role that
    #       answers the rule and states its conclusion.

    def answers(self, told: Mapping[str, Any], rule: str) -> bool:
        if told["effect"] == "refer":
            reports = self.part.given["reports"].values()
            return any(r["role"] == told["to"] and rule in r["answers"] and r["states"] for r in reports)
        return told["effect"] == "against" and rule in self.option["answers"]

    #       A requirement is met by an answer, by registered evidence, or once its word is known; what the work has met
    #       since is met and still counts.

    def required(self) -> dict[str, dict[str, bool]]:
        found: dict[str, dict[str, bool]] = {}
        for told, rule, subject, standing in self.findings:
            if told["effect"] != "require" or standing == "out" or (told.get("known") and not self.asks(told, subject)):
                continue
            kind, evidence = told.get("evidence", ""), self.part.given["evidence"]
            shown = any(rule in one["answers"] and kind in ("", one["kind"]) for one in evidence.values())
            done = shown or (told.get("answer", False) and rule in self.option["answers"])
            certain = standing == "in" or found.get(rule, {}).get("certain", False)
            found[rule] = {"certain": certain, "met": done or self.met(rule, kind), "left": not done}
        return found

    def met(self, requirement: str, kind: str) -> bool:
        kinds = {name: one["kind"] for name, one in self.part.given["evidence"].items()}
        met = (one["evidence"] for one in self.part.given["met"] if one["requirement"] == requirement)
        return any(not kind or kind in [kinds.get(name) for name in names] for names in met)

    def asks(self, told: Mapping[str, Any], subject: str) -> list[str]:
        """What to ask for the word that a rule wants known."""
        known = self.part.look(subject, told["known"])
        return [] if known.absent or known.values is not None else list(known.missing or (known.key,))

    def to_make_good(self) -> dict[str, dict[str, bool]]:
        """A claim or a promise is to be shown before use; a safety need waits for a competent person."""
        return {
            f"needs/{need}": {
                "certain": True,
                "met": not told["asked_of"] and self.met(f"needs/{need}", ""),
                "left": True,
            }
            for need, told in self.needs.items()
            if told["state"] == "met" and (told["asked_of"] or told["shown"] in ("claimed", "promised"))
        }

    # -- h. The first step that applies gives the verdict; among several, the first by name.

    def verdict(self) -> dict[str, str]:
        def need(state: str) -> str:
            return min((need for need, told in self.needs.items() if told["state"] == state), default="")

        def act(call: str) -> str:
            return next((f"act {n}" for n, told in enumerate(self.calls, 1) if told["call"] == call), "")

        def owed(*stages: str) -> str:
            found = [(STAGES.index(by), name) for name, by in self.by_stage() if by in stages]
            return min(found, default=(0, ""))[1]

        steps = (
            (0, "forbidden", self.finding("forbid", "in")),
            (0, "need failed", need("failed")),
            (0, "need in doubt", need("in doubt")),
            (0, "not called for", act("not called for")),
            (1, "referred", self.finding("refer", "in")),
            (2, "something open", self.finding("forbid", "open")),
            (2, "something open", need("open")),
            (2, "something open", act("open")),
            (2, "something open", self.finding("refer", "open")),
            (2, "objection unanswered", self.finding("against", "in", "open")),
            (2, "owed by the decision", owed("decision")),
            (3, "owed later", owed(*STAGES[1:])),
        )
        return next((told_verdict(*step) for step in steps if step[2]), told_verdict(4, "nothing against", ""))

    def finding(self, effect: str, *standings: str) -> str:
        """The first rule of an effect that stands so and is not answered: those that are in before those open."""
        found = [
            (standing != "in", rule)
            for told, rule, _, standing in self.findings
            if told["effect"] == effect and standing in standings and rule not in self.answered
        ]
        return min(found, default=(True, ""))[1]

    def by_stage(self) -> Iterator[tuple[str, str]]:
        """The requirements that are left and not routine, each with by when it must be met."""
        for name, told in self.requirements.items():
            rule, need = self.part.rules.get(name, {}), self.needs.get(name.removeprefix("needs/"), {})
            routine = rule.get("routine", False) if rule else not need["asked_of"]
            if told["left"] and not routine:
                yield name, rule.get("by", "before-use")

    #       What stands in the way and is not known is asked, with what it blocks.

    def questions(self) -> dict[str, list[str]]:
        blocks: dict[str, set[str]] = {}
        for told, rule, subject, standing in self.findings:
            asked = self.asks(told, subject) if told.get("known") and standing != "out" else []
            settled = told["effect"] == "against" and rule in self.answered
            if standing == "open" and not (settled or told["effect"] == "note" or told.get("routine")):
                asked = asked + self.part.unknown[rule, subject]
            for key in asked:
                blocks.setdefault(key, set()).add(rule)
        awaited = {need for call in self.calls if call["call"] == "open" for need in call["by"]}
        for need, told in (*self.needs.items(), *((n, self.part.left[n]) for n in awaited)):
            for key in told["asks"] if told["state"] in ("open", "in doubt") else ():
                blocks.setdefault(key, set()).add(f"needs/{need}")
        return {key: sorted(names) for key, names in blocks.items()}

    def concluded(self) -> dict[str, Any]:
        return {
            "needs": {need: {k: v for k, v in told.items() if k != "asks"} for need, told in self.needs.items()},
            "acts": self.calls,
            "answered": self.answered,
            "requirements": self.requirements,
            "questions": self.questions(),
            "on_its_own": self.on_its_own,
        }


# ---- h. Which of two options is the gentler --------------------------------------------------------------------


class Loss(NamedTuple):
    """Of one named thing: whether an option may lose it and surely does; and whether another option does."""

    may: bool
    surely: bool
    other_may: bool
    other_surely: bool


def gentler(one: Mapping[str, Any], other: Mapping[str, Any]) -> str:
    """Whether an option loses nothing that another keeps, and somewhere less.

    Where a face's relief is not known, they are held against each other for every relief that it may have: a cut
    deeper than the relief takes it, and a shallower cut spares what a deeper one spares. Where that makes a difference
    it cannot be told.
    """
    faces = {*one["presumed"], *other["presumed"]}
    things = {*one["lost"], *other["lost"]}
    reached = {frozenset(loss_of(thing, one, other, False, False) for thing in things - faces)}
    for face in faces:
        ways = {loss_of(face, one, other, *spared) for spared in spared_by(face, one["presumed"], other["presumed"])}
        reached = {losses | {way} for losses in reached for way in ways}
    found = {gentler_of(losses, one, other) for losses in reached}
    return found.pop() if len(found) == 1 else "cannot tell"


def loss_of(thing: str, one: Mapping[str, Any], other: Mapping[str, Any], by_one: bool, by_other: bool) -> Loss:
    may, other_may = thing in one["lost"] and not by_one, thing in other["lost"] and not by_other
    return Loss(may, may and thing not in one["spared"], other_may, other_may and thing not in other["spared"])


def spared_by(face: str, one: Mapping[str, Any], other: Mapping[str, Any]) -> Iterator[tuple[bool, bool]]:
    yield False, False
    yield face in one, face in other
    if face in one and face in other and (one[face] is None or one[face] != other[face]):
        if not shallower(other[face], one[face]):
            yield True, False
        if not shallower(one[face], other[face]):
            yield False, True


def shallower(depth: str | None, other: str | None) -> bool:
    return depth is not None and other is not None and passes("below", number(depth), number(other)) == YES


def gentler_of(losses: Iterable[Loss], one: Mapping[str, Any], other: Mapping[str, Any]) -> str:
    """Things first, then metal: a difference inside the ± is a tie, an unknown loss is more than none."""
    metal = metal_of(one, other)
    if metal == "more" or (any(loss.surely and not loss.other_may for loss in losses) and not other["untold"]):
        return "not gentler"
    loses_nothing = not any(loss.may for loss in losses) and not one["untold"] and nothing(one["volume"])
    contained = not one["untold"] and not any(loss.may and not loss.other_surely for loss in losses)
    if not loses_nothing and (not contained or metal == "unknown"):
        return "cannot tell"
    if metal == "less" or (contained and any(loss.other_surely and not loss.may for loss in losses)):
        return "gentler"
    return "cannot tell" if other["untold"] else "alike"


def nothing(volume: str | None) -> bool:
    return volume is not None and not number(volume).amount and number(volume).spread == Decimal(0)


def metal_of(one: Mapping[str, Any], other: Mapping[str, Any]) -> str:
    if one["spared"] or other["spared"]:
        return "unknown"
    if one["volume"] is None or other["volume"] is None:
        return "less" if nothing(one["volume"]) else "more" if nothing(other["volume"]) else "unknown"
    a, b = number(one["volume"]), number(other["volume"])
    if a == b:
        return "tie"
    if a.spread is None or b.spread is None:
        return "unknown"
    return {YES: "less", NO: "more", UNKNOWN: "tie"}[passes("at_most", a, b)]


# ---- what the proof says, beside what follows ------------------------------------------------------------------


def unlike(said: Any, follows: Any, at: str) -> Iterator[str]:
    """Every place where what is said is other than what follows."""
    if isinstance(follows, dict) and isinstance(said, dict):
        for name in sorted({*follows, *said}):
            yield from unlike(said.get(name), follows.get(name), f"{at}, {name}" if at else name)
    elif isinstance(follows, list) and isinstance(said, list) and len(follows) == len(said):
        for place, (one, other) in enumerate(zip(said, follows, strict=True), 1):
            yield from unlike(one, other, f"{at}, {place}")
    elif not same(said, follows):
        yield f"{at}: the proof says {in_words(said)}; what it gives comes to {in_words(follows)}"


def same(said: Any, follows: Any) -> bool:
    if isinstance(follows, frozenset):
        return isinstance(said, str) and said in follows
    return type(said) is type(follows) and bool(said == follows)


def in_words(value: Any) -> str:
    told = "nothing" if value is None else json.dumps(value, ensure_ascii=False, sort_keys=True, default=sorted)
    return told if len(told) < 200 else f"{told[:200]}…"


# ---- what may stand in a proof: `?` may be left out, `*` is any name, a tuple is one of these, object is not read ----

TEXTS = [str]
ANSWERS = {"*": {"by": str, "says": str}}
TEST = (
    {"any_of": TEXTS},
    {"between": {"at_least": str, "at_most": str}},
    *({how: (str, {"term": str})} for how in ("at_most", "below", "at_least", "above")),
)
FACT = {
    "values": (None, TEXTS),
    "how": str,
    "where": object,
    "from?": object,
    "reports?": TEXTS,
    "missing?": TEXTS,
    "disputed?": bool,
}
RULE = {
    "title": str,
    "about": str,
    "sources": TEXTS,
    "when": {"*": TEST},
    "effect": ("forbid", "refer", "require", "against", "note", "establish"),
    "says?": str,
    "establishes?": {"*": str},
    "gate?": bool,
    "to?": str,
    "by?": STAGES,
    "routine?": bool,
    "known?": str,
    "answer?": bool,
    "evidence?": str,
    "overrides?": TEXTS,
}
ACCOUNT = {
    **dict.fromkeys(("kept", "added", "for_good", "held", "acts", "mass"), object),
    "lost": TEXTS,
    "spared": TEXTS,
    "untold": TEXTS,
    "presumed": {"*": (None, str)},
    "volume": (None, str),
}
OPTION = {
    "acts": [{"technique": str, "where": str, "for": TEXTS, "treats": (None, str), "finds": str}],
    "after": {"*": ({"touched": bool}, {"touched": bool, "surely": bool, **FACT})},
    "answers": ANSWERS,
    "rather_than": ANSWERS,
    "account": ACCOUNT,
}
GIVEN = {
    "subjects": {"*": {"kind": str, "owners": TEXTS, "sees": {"*": str}}},
    "facts": {"*": FACT},
    "needs": {"*": {"kind": str, "at": TEXTS, "checks": [{"fact": str, "test": TEST}]}},
    "options": {"*": OPTION},
    "evidence": {"*": {"kind": str, "answers": TEXTS}},
    "reports": {"*": {"role": str, "competent": bool, "states": TEXTS, "answers": TEXTS}},
    "met": [{"requirement": str, "evidence": TEXTS}],
}
PROOF = {
    "format": ("conserve-proof-2",),
    **dict.fromkeys(("casebook", "proposal", "title", "on", "rulebook", "chosen"), str),
    **dict.fromkeys(("verdict", "conclusion", "verdicts", "casebook_files", "object"), object),
    "decided": bool,
    "rules": {"*": RULE},
    "words": {"*": str},
    "terms": {"*": {"worst?": ("highest", "lowest"), "stated_by?": str}},
    "policy": (None, {"routine-care": TEXTS, "holding-work": TEXTS}),
    "parts": {"*": ({"like": str}, {"given": GIVEN, "concluded": object})},
}


class Unreadable(ValueError):
    """A file that is no proof. Says so in one sentence."""


def misfit(value: Any, shape: Any, at: str) -> str:
    """The first place where a value is not of its shape, in words; "" where it is."""
    if isinstance(shape, tuple):
        if any(value == one if one is None or isinstance(one, str) else not misfit(value, one, at) for one in shape):
            return ""
        return f"{at} is none of what it may be"
    if isinstance(shape, list):
        if not isinstance(value, list):
            return f"{at} is no list"
        return next((fault for one in value if (fault := misfit(one, shape[0], f"{at}, an entry"))), "")
    if not isinstance(shape, dict):
        return "" if isinstance(value, shape) else f"{at} is no {'text' if shape is str else 'yes or no'}"
    if not isinstance(value, dict):
        return f"{at} has no entries"
    shapes = {name.rstrip("?"): one for name, one in shape.items()}
    lacks = [name for name in shape if name[-1] not in "?*" and name not in value]
    if lacks:
        return f"{at} lacks '{lacks[0]}'"
    return next((fault for name, one in value.items() if (fault := entry_misfit(name, one, shapes, at))), "")


def entry_misfit(name: str, value: Any, shapes: Mapping[str, Any], at: str) -> str:
    if name not in shapes and "*" not in shapes:
        return f"{at} has '{name}', which nothing reads"
    return misfit(value, shapes.get(name, shapes.get("*")), f"{at}, {name}")


def read(text: str) -> dict[str, Any]:
    """Read a proof's text, or `Unreadable`: strict JSON, no name twice, no floating number."""

    def refuse(text: str) -> None:
        raise Unreadable(f"it holds {text[:40]}, and a proof holds no such number")

    def once(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
        found = dict(pairs)
        if len(found) < len(pairs):
            names = [name for name, _ in pairs]
            raise Unreadable(f"'{next(n for n in names if names.count(n) > 1)}' stands twice in one place")
        return found

    try:
        proof = json.loads(text, object_pairs_hook=once, parse_constant=refuse, parse_float=refuse)
    except Unreadable:
        raise
    except (ValueError, RecursionError):
        raise Unreadable("it is not JSON") from None
    if not isinstance(proof, dict):
        raise Unreadable("it is no proof")
    return proof


def verdict_on(path: str) -> tuple[int, str]:
    """What is said of one file, and the exit that it calls for."""
    try:
        proof = read(Path(path).read_text(encoding="utf-8"))
        found = differences(proof)
    except (OSError, UnicodeDecodeError):
        return 2, f"{path}: cannot be read. There is no text there in UTF-8."
    except Unreadable as why:
        return 2, f"{path}: cannot be read: {why}."
    name = proof["proposal"]
    if found:
        count = f"{len(found)} difference{'s' if len(found) > 1 else ''}"
        return 1, "\n".join((f"{name}: does not hold, {count}.", *(f"  {one}." for one in found)))
    return 0, f"{name}: holds. {proof['chosen']}: {proof['verdict']}; {proof['conclusion']}."


def main(argv: list[str]) -> int:
    """Check each file that is named."""
    if not argv:
        print("usage: checker.py PROOF.json ...", file=sys.stderr)
        return 2
    exits = []
    for path in argv:
        code, text = verdict_on(path)
        plain = "".join(c if c.isprintable() or c == "\n" else f"\\x{ord(c):02x}" for c in text)
        encoding = sys.stdout.encoding or "utf-8"
        print(plain.encode(encoding, "backslashreplace").decode(encoding))
        exits.append(code)
    return max(exits)


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
