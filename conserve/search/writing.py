"""The facts of a case as people write them: in a file, and on the command line."""

from __future__ import annotations

from conserve.quantity import ONE, Quantity, show
from conserve.search.case import TECHNIQUE, Values, Witness
from conserve.terms import Term, Vocabulary


def as_in_file(values: Values, term: Term) -> str:
    """The values of a term as a file has them."""
    said = _said(values, term)
    return said[0] if len(said) == 1 else f"[{', '.join(said)}]" if said else "none"


def as_on_command_line(witness: Witness, vocabulary: Vocabulary) -> dict[str, str]:
    """A case as `conserve rules try` takes it, term by term. What its technique brings is left out."""
    terms = vocabulary.terms
    shown = {name: values for name, values in witness.items() if not _brought(name, witness)}
    return {name: ",".join(_said(values, terms[name])) or "none" for name, values in shown.items()}


def _brought(name: str, witness: Witness) -> bool:
    return TECHNIQUE in witness and name.startswith("technique.")


def told(values: Values) -> str:
    """The values of a term in a name."""
    return " or ".join(show(value) if isinstance(value, Quantity) else value for value in values) or "none"


def _said(values: Values, term: Term) -> list[str]:
    return [_number(value, term) if isinstance(value, Quantity) else value for value in values]


def _number(value: Quantity, term: Term) -> str:
    """A number with its ±, which is none, where its term is measured."""
    unit = "" if value.unit == ONE else f" {value.unit}"
    return f"{value.amount:f}{unit}" if term.exact else f"{value.amount:f} ± 0{unit}"
