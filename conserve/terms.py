"""The words that rules and casebooks may use: terms, techniques, instruments, materials, duties, roles."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Mapping
from dataclasses import dataclass, field
from enum import StrEnum

from conserve.calculation import MODULES, READ_OFF, Answer, Calculation, Input, calculation_named
from conserve.files import Folder
from conserve.problem import Location, Problem
from conserve.quantity import Quantity, QuantityProblem, dimension_of, parse_quantity, unit_named
from conserve.shape import (
    Amount,
    Choice,
    Count,
    Either,
    Field,
    Flag,
    Identifier,
    Line,
    ListOf,
    MapOf,
    Problems,
    Record,
    Shape,
    Value,
    Words,
)
from conserve.yamlfile import Entries, Node, read_yaml

OWNERS = ("object", "component", "surface", "mark", "repair", "defect", "proposal", "option", "act", "technique")
# What a subject sees: itself, its owners, and what an act names. A surface's calculations also see the face it
# runs on, as `mate`.
SEES: Mapping[str, tuple[str, ...]] = {
    "object": ("object",),
    "component": ("component", "object"),
    "surface": ("surface", "component", "object"),
    "mark": ("mark", "surface", "component", "object"),
    "repair": ("repair", "component", "object"),
    "defect": ("defect", "component", "object"),
    "proposal": ("proposal", "component", "object"),
    "option": ("option", "proposal", "component", "object"),
    "act": ("act", "technique", "surface", "mark", "defect", "option", "proposal", "component", "object"),
}
PLACES = {"surfaces": "surface", "marks": "mark", "repairs": "repair", "defects": "defect"}


class Giver(StrEnum):
    """Who gives a term its value. Each term has one giver."""

    PERSON = "person"
    TECHNIQUE = "technique"
    CALCULATION = "calculation"
    ROLL_UP = "roll-up"
    RULE = "rule"


class Kind(StrEnum):
    """What sort of value a term has."""

    CHOICE = "choice"
    FLAG = "flag"
    QUANTITY = "quantity"
    COUNT = "count"


@dataclass(frozen=True, slots=True)
class Term:
    """A word that rules may ask about."""

    name: str
    giver: Giver
    kind: Kind
    means: str
    ask: str
    where: Location
    values: tuple[str, ...] = ()  # of a choice or a flag: the closed list
    many: bool = False
    unit: str = ""  # of a quantity
    exact: bool = False
    worst: str = ""  # which of several readings counts: highest | lowest
    lasts: bool = False  # whether it stays as it is whatever is done to the part: a limit, a nominal size
    chosen: bool = False  # whether who puts the proposal forward chooses it; else it has to be found out
    cost: str = ""  # of what has to be found out: the id of its cost
    stated_by: str = ""  # the one role whose report may state it
    otherwise: str = ""  # of a rule's word
    calculation: str = ""
    inputs: Mapping[str, str] = field(default_factory=dict)  # of a calculation: its input -> the term it comes from
    answer: str = ""  # of a calculation: which of its answers
    of: str = ""  # of a roll-up: the kind below, or a term of it
    holds_for: tuple[str, ...] = ()  # of a roll-up: the values that count
    owner: str = field(init=False, repr=False, compare=False)  # asked at every look, and so not worked out there
    short: str = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        owner, _, short = self.name.partition(".")
        object.__setattr__(self, "owner", owner)
        object.__setattr__(self, "short", short)


@dataclass(frozen=True, slots=True)
class Cost:
    """What it takes to find one thing out. `weight` is a count, for setting in order and adding up."""

    id: str
    means: str
    weight: int


@dataclass(frozen=True, slots=True)
class Technique:
    """Something that can be done to a part, and what it takes, adds, heats and covers."""

    id: str
    does: str
    rung: int
    serves: tuple[str, ...]  # the ends it may be done for
    facts: Mapping[str, str]  # technique.* term -> value
    numbers: tuple[str, ...]  # act.* terms that an act must give
    clearance: str  # "" | opens-by-depth | closes-by-thickness | opens-by-diameter
    gives: Mapping[str, str]  # component.* term -> its value afterwards
    diameter: str  # act.* term that the face's diameter is afterwards; "": it leaves the diameter as it is
    source: str
    where: Location

    @property
    def takes(self) -> str:
        return self.facts["technique.takes"]

    @property
    def examines(self) -> bool:
        return self.facts["technique.examines"] == "yes"

    @property
    def touches(self) -> bool:
        """Whether it changes the part at all."""
        unchanged = {
            "technique.takes": "nothing",
            "technique.adds": "nothing",
            "technique.heats": "nothing",
            "technique.covers": "no",
            "technique.restores_fit": "no",
        }
        return bool(self.gives) or any(self.facts[term] != value for term, value in unchanged.items())


@dataclass(frozen=True, slots=True)
class Vocabulary:
    """Every word that may be used, and nothing else."""

    terms: Mapping[str, Term]
    techniques: Mapping[str, Technique]
    instruments: Mapping[str, Quantity]
    shared: Mapping[str, Quantity]  # instrument -> the part of its ± that all its readings have alike
    materials: Mapping[str, Quantity | None]  # density, where it is known
    duties: tuple[str, ...]  # from the least demanding to the most
    roles: Mapping[str, bool]  # role -> whether it is a competent person's
    costs: Mapping[str, Cost]  # from the least to the most, as the file has them
    lists: Mapping[str, str]  # a list of a component or a face -> the id of what it costs to write it
    _of: Mapping[tuple[str, Giver | None], tuple[Term, ...]] = field(init=False, repr=False, compare=False)
    _computed: Mapping[str, tuple[Term, ...]] = field(init=False, repr=False, compare=False)

    def __post_init__(self) -> None:
        found: dict[tuple[str, Giver | None], tuple[Term, ...]] = {}
        for term in self.terms.values():
            for key in ((term.owner, term.giver), (term.owner, None)):
                found[key] = (*found.get(key, ()), term)
        object.__setattr__(self, "_of", found)
        computed: dict[str, tuple[Term, ...]] = {}
        for term in _inputs_first(self.terms):
            computed[term.owner] = (*computed.get(term.owner, ()), term)
        object.__setattr__(self, "_computed", computed)

    def of(self, owner: str, giver: Giver | None = None) -> tuple[Term, ...]:
        """The terms of one owner, of one giver or of any."""
        return self._of.get((owner, giver), ())

    def computed(self, owner: str) -> tuple[Term, ...]:
        """The terms of one owner that are worked out from other terms, what others need first."""
        return self._computed.get(owner, ())

    def as_demanding(self, duty: str, as_duty: str) -> bool:
        """Whether a duty asks at least as much of a part as another does."""
        return self.duties.index(duty) >= self.duties.index(as_duty)


def _inputs_first(terms: Mapping[str, Term]) -> Iterator[Term]:
    """The terms that are worked out from others, each after those it needs."""
    told: set[str] = set()

    def with_inputs(term: Term) -> Iterator[Term]:
        if term.inputs and term.name not in told:
            told.add(term.name)
            for name in term.inputs.values():
                if name in terms:
                    yield from with_inputs(terms[name])
            yield term

    for term in terms.values():
        yield from with_inputs(term)


def value_shape(term: Term) -> Shape:
    """The shape in which a person writes a term's value."""
    if term.kind is Kind.QUANTITY:
        return Amount(term.unit, term.exact)
    if term.kind is Kind.COUNT:
        return Count()
    one = Flag() if term.kind is Kind.FLAG else Choice(term.values, term.short.replace("_", " "))
    return ListOf(one, none=True, lone=True) if term.many else one


# ---- reading terms.yaml -------------------------------------------------------------------------

_LISTS = ("duties", "materials", "roles", "techniques")

_TERM = Record(
    (
        Field("giver", Choice(tuple(Giver), "giver"), required=True),
        Field("type", Choice(tuple(Kind), "type"), required=True),
        Field("means", Words(), required=True),
        Field("ask", Words()),
        Field("values", Either(text=Choice(_LISTS, "list"), items=ListOf(Identifier()))),
        Field("many", Flag()),
        Field("unit", Line()),
        Field("exact", Flag()),
        Field("worst", Choice(("highest", "lowest"), "reading")),
        Field("lasts", Flag()),
        Field("chosen", Flag()),
        Field("cost", Identifier()),
        Field("stated_by", Identifier()),
        Field("otherwise", Identifier()),
        Field("calculation", Line()),
        Field("from", MapOf(Line(), Line())),
        Field("answer", Line()),
        Field("of", Line()),
        Field("is", ListOf(Identifier())),
    )
)

_COST = Record((Field("weight", Count(), required=True), Field("means", Line(), required=True)))
_COST_OF_LISTS = Record(tuple(Field(name, Identifier(), required=True) for name in (*PLACES, "history")))

_TERMS_FILE = Record(
    (
        Field("duties", ListOf(Identifier()), required=True),
        Field(
            "roles",
            MapOf(Identifier(), Record((Field("competent", Flag()), Field("means", Line(), required=True)))),
            required=True,
        ),
        Field(
            "instruments",
            MapOf(Identifier(), Record((Field("uncertainty", Line(), required=True), Field("shared", Line())))),
            required=True,
        ),
        Field(
            "materials", MapOf(Identifier(), Record((Field("density", Amount("kg/m3", exact=False)),))), required=True
        ),
        Field("costs", MapOf(Identifier(), _COST), required=True),
        Field("lists", _COST_OF_LISTS, required=True),
        Field("ends", MapOf(Identifier(), Record((Field("means", Line(), required=True),)))),
        Field("terms", MapOf(Line(), _TERM), required=True),
    )
)


def read_vocabulary(folder: Folder) -> tuple[Vocabulary | None, tuple[Problem, ...]]:
    """Read terms.yaml and techniques.yaml of a rules folder, or say all that is wrong with them."""
    into = Problems("R")
    terms_node, techniques_node = (_node(folder, name, into) for name in ("terms.yaml", "techniques.yaml"))
    terms_file = None if terms_node is None else _TERMS_FILE.read(terms_node, into)
    if terms_file is None or not isinstance(techniques_node, Entries) or into.all:
        return None, into.all
    parts = terms_file.content
    lists = {name: tuple(parts[name].content) for name in ("materials", "roles")}
    lists["duties"] = tuple(item.content for item in parts["duties"].content)
    lists["techniques"] = tuple(key.value for key, _ in techniques_node.items)
    terms = {name: _term(name, value, lists) for name, value in parts["terms"].content.items()}
    for term in terms.values():
        _check_term(term, terms, lists["roles"], into)
        _check_cost(term, tuple(parts["costs"].content), into)
    _check_list_costs(parts["lists"].content, tuple(parts["costs"].content), into)
    ends = tuple(parts["ends"].content) if "ends" in parts else ()
    techniques_file = None if into.all else _techniques_shape(terms, ends).read(techniques_node, into)
    if techniques_file is None or into.all:
        return None, into.all
    return Vocabulary(
        terms=terms,
        techniques={name: _technique(name, value, terms) for name, value in techniques_file.content.items()},
        instruments=_instruments(parts["instruments"], "uncertainty", into),
        shared=_instruments(parts["instruments"], "shared", into),
        materials={name: _density(value) for name, value in parts["materials"].content.items()},
        duties=lists["duties"],
        roles={name: _flag(value.content, "competent") for name, value in parts["roles"].content.items()},
        costs={name: _cost(name, value.content) for name, value in parts["costs"].content.items()},
        lists={name: value.content for name, value in parts["lists"].content.items()},
    ), into.all


def _node(folder: Folder, name: str, into: Problems) -> Node | None:
    node, problems = read_yaml(folder, name, "R", shown=f"rules/{name}")
    into.extend(problems)
    return node


def _flag(entries: Mapping[str, Value], name: str) -> bool:
    return name in entries and entries[name].content == "yes"


def _text(entries: Mapping[str, Value], name: str) -> str:
    return str(entries[name].content) if name in entries else ""


def _cost(name: str, entries: Mapping[str, Value]) -> Cost:
    return Cost(name, _text(entries, "means"), entries["weight"].content)


def _density(value: Value) -> Quantity | None:
    return value.content["density"].content if "density" in value.content else None


def _instruments(value: Value, key: str, into: Problems) -> dict[str, Quantity]:
    found = {}
    for name, entry in value.content.items():
        if key not in entry.content:
            continue
        text = entry.content[key]
        try:
            unit = text.content.partition(" ")[2]
            found[name] = parse_quantity(text.content, unit, exact=True)
        except QuantityProblem as problem:
            into.note(text.where, 12, problem.message, problem.hint)
        except ValueError:  # no unit, or none that is known
            into.note(text.where, 12, f"'{text.content}' is not a quantity", "write it like 0.05 mm")
    return found


def _term(name: str, value: Value, lists: Mapping[str, tuple[str, ...]]) -> Term:
    entries = value.content
    kind = Kind(entries["type"].content)
    values: tuple[str, ...] = ("yes", "no") if kind is Kind.FLAG else ()
    if "values" in entries:
        given = entries["values"].content
        values = lists[given] if isinstance(given, str) else tuple(item.content for item in given)
    return Term(
        name=name,
        giver=Giver(entries["giver"].content),
        kind=kind,
        where=value.key or value.where,
        values=values,
        means=_text(entries, "means"),
        ask=_text(entries, "ask"),
        many=_flag(entries, "many"),
        unit=_text(entries, "unit"),
        exact=_flag(entries, "exact"),
        worst=_text(entries, "worst"),
        lasts=_flag(entries, "lasts"),
        chosen=_flag(entries, "chosen"),
        cost=_text(entries, "cost"),
        stated_by=_text(entries, "stated_by"),
        otherwise=_text(entries, "otherwise"),
        calculation=_text(entries, "calculation"),
        inputs={key: v.content for key, v in entries["from"].content.items()} if "from" in entries else {},
        answer=_text(entries, "answer"),
        of=_text(entries, "of"),
        holds_for=tuple(item.content for item in entries["is"].content) if "is" in entries else (),
    )


def _check_term(term: Term, terms: Mapping[str, Term], roles: Iterable[str], into: Problems) -> None:
    """Say what does not fit together in one term."""

    def wrong(message: str, hint: str = "") -> None:
        into.note(term.where, 40, f"term '{term.name}' {message}", hint)

    if term.owner not in OWNERS or not term.short:
        wrong("belongs to no subject", f"begin it with one of {', '.join(OWNERS)} and a full stop")
    if not term.ask and term.giver is not Giver.TECHNIQUE:
        wrong("has no question", "write 'ask:' with a question that a volunteer can answer")
    if (term.kind is Kind.CHOICE) != bool(term.values) and term.kind is not Kind.FLAG:
        wrong("needs 'values' if it is a choice, and only then")
    if (term.kind is Kind.QUANTITY) != bool(term.unit):
        wrong("needs a 'unit' if it is a quantity, and only then")
    if term.unit and not _is_unit(term.unit):
        wrong(f"is told in '{term.unit}', which is no unit known here")
    if (term.giver is Giver.CALCULATION) != bool(term.calculation):
        wrong("needs 'calculation' if a calculation gives it, and only then")
    for message, hint in _calculation_faults(term, terms):
        wrong(message, hint)
    if term.giver is Giver.RULE and term.otherwise not in term.values:
        wrong("is established by rules and must say its value 'otherwise'", f"one of {', '.join(term.values)}")
    if term.stated_by and term.stated_by not in roles:
        wrong(f"may be stated by '{term.stated_by}', which is no role here")
    if term.giver is Giver.ROLL_UP:
        below = terms.get(term.of)
        if below is None and term.of not in PLACES.values():
            wrong(f"rolls up '{term.of}', which is neither a kind of thing nor a term")
        if below is not None and (below.giver is not Giver.PERSON or not set(term.holds_for) <= set(below.values)):
            wrong(f"rolls up '{term.of}', which a person must give, for values that it has")


def _check_list_costs(lists: Mapping[str, Value], costs: tuple[str, ...], into: Problems) -> None:
    for value in lists.values():
        if value.content not in costs:
            into.note(value.where, 55, f"'{value.content}' is no cost here", f"one of {', '.join(costs)}")


def _check_cost(term: Term, costs: tuple[str, ...], into: Problems) -> None:
    """What has to be found out costs something; what is chosen or worked out costs nothing of its own."""
    found_out = term.giver is Giver.PERSON and not term.chosen
    hint = f"cost: one of {', '.join(costs)}"
    if found_out and not term.cost:
        into.note(term.where, 55, f"term '{term.name}' does not say what it costs to find out", hint)
    elif term.cost and not found_out:
        into.note(term.where, 55, f"term '{term.name}' has a cost, and nobody has to find it out", "take the cost out")
    elif term.cost and term.cost not in costs:
        into.note(term.where, 55, f"term '{term.name}' costs '{term.cost}', which is no cost here", hint)


def _calculation_faults(term: Term, terms: Mapping[str, Term]) -> Iterator[tuple[str, str]]:
    """What does not fit between a term and the calculation that gives it."""
    if not term.calculation or term.calculation in READ_OFF:
        if term.inputs or term.answer:
            yield "is worked out from nothing, and needs neither 'from' nor 'answer'", ""
        return
    calculation = calculation_named(term.calculation)
    if calculation is None:
        known = ", ".join(sorted((*MODULES, *READ_OFF)))
        yield f"names a calculation '{term.calculation}' that does not exist", f"one of {known}"
        return
    names = [one.name for one in calculation.inputs]
    if strange := [name for name in term.inputs if name not in names]:
        yield f"gives {term.calculation} a '{strange[0]}', which it does not take", f"it takes {', '.join(names)}"
    for one in calculation.inputs:
        if one.name in term.inputs:
            yield from _input_faults(one, term, terms)
        elif not one.optional:
            yield f"does not say under 'from' where {term.calculation} finds its '{one.name}'", one.means
    yield from _answer_faults(term, calculation)


def _input_faults(one: Input, term: Term, terms: Mapping[str, Term]) -> Iterator[tuple[str, str]]:
    name = term.inputs[one.name]
    mated = name.startswith("mate.")
    sees = (*SEES.get(term.owner, ()), *(("mate",) if term.owner == "surface" else ()))
    given = terms.get(name.replace("mate.", "surface.", 1))
    if given is None or name.partition(".")[0] not in sees:
        yield f"is worked out from '{name}', which a {term.owner} does not see", f"it sees {', '.join(sees)}"
    elif mated and given.giver is not Giver.PERSON:
        yield f"is worked out from '{name}', which is itself worked out", "name what a person measures there"
    elif one.unit and (given.kind is not Kind.QUANTITY or dimension_of(given.unit) != dimension_of(one.unit)):
        yield f"is worked out from '{name}', which is no {dimension_of(one.unit)}", ""
    elif not one.unit and given.kind is not (Kind.COUNT if one.count else given.kind):
        yield f"is worked out from '{name}', which is no whole number", ""
    elif one.values and not given.values:
        yield f"is worked out from '{name}', which is no word", f"it takes {', '.join(one.values)}"
    elif _comes_round(name, term, terms):
        yield f"is worked out from '{name}', and that from it", ""


def _comes_round(name: str, term: Term, terms: Mapping[str, Term]) -> bool:
    """Whether a term's input is worked out from the term itself, near or far."""
    seen, ahead = set[str](), [name.replace("mate.", "surface.", 1)]
    while ahead:
        here = ahead.pop()
        if here == term.name:
            return True
        if here in terms and here not in seen:
            seen.add(here)
            ahead += [one.replace("mate.", "surface.", 1) for one in terms[here].inputs.values()]
    return False


def _answer_faults(term: Term, calculation: Calculation) -> Iterator[tuple[str, str]]:
    answer = answer_of(term, calculation)
    if answer is None:
        known = ", ".join(one.name for one in calculation.gives)
        yield f"takes an answer '{term.answer}' that {calculation.name} does not give", f"it gives {known}"
    elif bool(answer.unit) != (term.kind is Kind.QUANTITY):
        yield f"is no {term.kind}: {calculation.name} gives '{answer.name}' as {answer.unit or 'a word'}", ""
    elif answer.unit and dimension_of(answer.unit) != dimension_of(term.unit):
        yield f"is told in '{term.unit}'; {calculation.name} gives '{answer.name}' in {answer.unit}", ""


def answer_of(term: Term, calculation: Calculation) -> Answer | None:
    """Which answer of its calculation a term is: the one it names, or the first."""
    return calculation.answer(term.answer) if term.answer else calculation.gives[0]


def _is_unit(name: str) -> bool:
    try:
        unit_named(name)
    except ValueError:
        return False
    return True


# ---- reading techniques.yaml --------------------------------------------------------------------

_CLEARANCE = ("opens-by-depth", "closes-by-thickness", "opens-by-diameter")


def _techniques_shape(terms: Mapping[str, Term], ends: tuple[str, ...]) -> Shape:
    own = [term for term in terms.values() if term.owner == "technique"]
    numbers = tuple(t.name for t in terms.values() if t.owner == "act" and t.kind in (Kind.QUANTITY, Kind.COUNT))
    given = tuple(t for t in terms.values() if t.owner == "component" and t.giver is Giver.PERSON and t.values)
    return MapOf(
        Identifier(),
        Record(
            (
                Field("does", Line(), required=True),
                Field("rung", Count(), required=True),
                Field("serves", ListOf(Choice(ends, "end"))),
                Field("source", Line(), required=True),
                Field("numbers", ListOf(Choice(numbers, "number"))),
                Field("diameter", Choice(numbers, "number")),
                Field("clearance", Choice(_CLEARANCE, "effect on the clearance")),
                Field("gives", Record(tuple(Field(t.name, value_shape(t)) for t in given))),
                *(Field(term.short, value_shape(term)) for term in own),
            )
        ),
    )


def _unsaid(term: Term) -> str:
    """What a technique means by leaving a word out: nothing, no, or the first value."""
    for value in ("nothing", "no"):
        if value in term.values:
            return value
    return term.values[0]


def _technique(name: str, value: Value, terms: Mapping[str, Term]) -> Technique:
    entries = value.content
    own = (term for term in terms.values() if term.owner == "technique")
    return Technique(
        id=name,
        does=_text(entries, "does"),
        rung=entries["rung"].content,
        serves=tuple(item.content for item in entries["serves"].content) if "serves" in entries else (),
        where=value.key or value.where,
        facts={term.name: _text(entries, term.short) or _unsaid(term) for term in own},
        numbers=tuple(item.content for item in entries["numbers"].content) if "numbers" in entries else (),
        clearance=_text(entries, "clearance"),
        source=_text(entries, "source"),
        diameter=_text(entries, "diameter"),
        gives={k: v.content for k, v in entries["gives"].content.items()} if "gives" in entries else {},
    )
