"""The numbers that rules consume: pure functions on quantities with uncertainty, a module a subject.

Each module lists its calculations under `CALCULATIONS`. A term in `terms.yaml` names one under `calculation:`
and says under `from:` which terms it is worked out from; `conserve.facts` runs it, and `conserve reckon` runs
any of them at the bench.
"""

from __future__ import annotations

from functools import cache
from importlib import import_module

from conserve.calculation.model import Answer, Calculation, Given, Input, Reckoned
from conserve.calculation.propagation import Reading, through

# What `terms.yaml` may name that is read off the shape of the casebook: `conserve.facts.today` does it.
READ_OFF = (
    "acts_on_part",
    "adjusting_listed",
    "competence_stated",
    "fitted_later",
    "form_evidence",
    "hot_work_later",
    "in_store",
    "leave_listed",
    "looked_at_bare",
    "marks_left",
    "metal_left",
    "option_duty",
    "part_stays",
    "period_of_phase",
    "proposal_kind",
    "review_set",
    "significance_stated",
    "surface_left",
    "treats_worsening",
)

# Calculation -> its module, so that only what is asked for is loaded.
MODULES = {
    "against-limits": "decision",
    "barlow": "wall",
    "blasting-loss": "coating",
    "carbon-equivalent": "weldability",
    "cast-iron-equivalent": "weldability",
    "coating-window": "coating",
    "contraction": "casting",
    "cuts-before-and-after": "overhauls",
    "cuts-left": "overhauls",
    "deepest-pit": "pits",
    "dew-point": "coating",
    "diameters": "journals",
    "draft": "raw_casting",
    "eccentric-wear": "journals",
    "film-over-profile": "coating",
    "galvanic-flag": "galvanic",
    "galvanic-pair": "galvanic",
    "heat-both": "heat",
    "heat-to-assemble": "heat",
    "iso-fit": "fits",
    "iso-limits": "fits",
    "mass-of": "metal",
    "may-heat-to": "heat",
    "metal-bored": "metal",
    "metal-drilled": "metal",
    "metal-skimmed": "metal",
    "metal-threaded": "metal",
    "metal-turned": "metal",
    "metric-in-whitworth": "threads",
    "nearest-fraction": "worn_size",
    "notch": "corners",
    "notch-sensitivity": "corners",
    "old-steel": "old_steel",
    "ovality": "journals",
    "pattern-size": "casting",
    "pocket": "metal",
    "press-enough": "pressing",
    "press-fit": "interference",
    "radius-gain": "corners",
    "raw-casting": "raw_casting",
    "rebush": "refitting",
    "regrind": "refitting",
    "remaining-wall": "wall",
    "running-clearance": "refitting",
    "seized-joint": "pressing",
    "storage-humidity": "storage",
    "survivor-as-pattern": "casting",
    "taper": "journals",
    "temperature-stop": "heat",
    "thinning": "wall",
    "thread-match": "threads",
    "wear-put-back": "worn_size",
    "weld-preparation": "metal",
    "whitworth": "threads",
}


@cache
def calculation_named(name: str) -> Calculation | None:
    """The calculation of a name, or None."""
    if name not in MODULES:
        return None
    module = import_module(f"conserve.calculation.{MODULES[name]}")
    found: tuple[Calculation, ...] = module.CALCULATIONS
    return next(one for one in found if one.name == name)


def all_calculations() -> tuple[Calculation, ...]:
    """Every calculation, by name."""
    found = (calculation_named(name) for name in sorted(MODULES))
    return tuple(one for one in found if one is not None)


__all__ = [
    "MODULES",
    "READ_OFF",
    "Answer",
    "Calculation",
    "Given",
    "Input",
    "Reading",
    "Reckoned",
    "all_calculations",
    "calculation_named",
    "through",
]
