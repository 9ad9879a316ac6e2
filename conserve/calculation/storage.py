"""How damp the air of a store may be, by material: what conservators print, with each value's source."""

from __future__ import annotations

from decimal import Decimal
from typing import NamedTuple

from conserve.calculation.model import Answer, Calculation, Input
from conserve.quantity import EXACT, Quantity

_WAM = "Western Australian Museum, Conservation and Care of Collections (2017)"
_METALS = f"{_WAM}, Metals: most metals below 45 %"
_IRON = f"{_WAM}, Metals: most iron below 35 %"
_SALTY_IRON = f"{_WAM}, Metals, citing Watkinson and Lewis 2004: iron with chlorides 15 %, with akaganeite 12 %"
_SALTY_BRONZE = "Scott, JAIC 29 (1990) 193-206: bronze with chlorides 42 to 46 %, problem objects less"
_WOOD = f"{_WAM}, Wood: 40 to 60 %; with metal in one object, favour the wood"
_LEATHER = f"{_WAM}, Leather: 45 to 65 %; dyed leather to 55 %"
_TEXTILE = f"{_WAM}, Appendix 2: textiles 45 to 55 %"

# All read as excerpts of the pages named. %, upper limit and its source.
_CLEAN = {
    **dict.fromkeys(("grey-cast-iron", "malleable-iron", "wrought-iron", "mild-steel", "alloy-steel"), ("35", _IRON)),
    **dict.fromkeys(("gunmetal", "bronze", "brass", "copper", "white-metal", "aluminium", "lead"), ("45", _METALS)),
}
_SALTY = {
    **{name: ("15", _SALTY_IRON) for name, (limit, _) in _CLEAN.items() if limit == "35"},
    **dict.fromkeys(("gunmetal", "bronze", "brass", "copper"), ("42", _SALTY_BRONZE)),
}
# %, lower limit, upper limit, source.
_ORGANIC = {"timber": ("40", "60", _WOOD), "leather": ("45", "65", _LEATHER), "textile": ("45", "55", _TEXTILE)}


class StorageHumidity(NamedTuple):
    """The band of relative humidity for a material, and who prints it."""

    limit: Quantity | None  # %, at most; None where nobody has said whether there are salts
    not_below: Quantity | None  # %; None for metals, which nothing is too dry for
    source: str


def storage_humidity(material: str, salts: str | None = None) -> StorageHumidity:
    """Look up the highest relative humidity for storing a material, with its source.

    A material of the casebook's words, and yes or no for chlorides in it; % out, exact. Where nobody has said
    whether a metal holds salts the limit cannot be told. Valid for the material by itself: what is made of
    several takes a compromise, and a change does more harm than a wrong level. Above 75 % is damp and wrong
    for everything. `ValueError` for a material, or a metal with salts, of which no published limit is held.
    Source: beside each value; 75 %: Michalski, Canadian Conservation Institute.
    """
    if material in _ORGANIC:
        low, high, source = _ORGANIC[material]
        return StorageHumidity(_percent(high), _percent(low), source)
    if material not in _CLEAN:
        raise ValueError(f"No published limit of humidity is held here for {material}.")
    if salts == "yes":
        if material not in _SALTY:
            raise ValueError(f"No published limit of humidity is held here for {material} with salts in it.")
        limit, source = _SALTY[material]
        return StorageHumidity(_percent(limit), None, source)
    limit, source = _CLEAN[material]
    if salts == "no":
        return StorageHumidity(_percent(limit), None, source)
    with_salts = f"; with salts: {_SALTY[material][1]}" if material in _SALTY else "; with salts no limit is held"
    return StorageHumidity(None, None, f"find out about salts; without: {source}{with_salts}")


def _percent(text: str) -> Quantity:
    return Quantity(Decimal(text), EXACT, "%")


CALCULATIONS = (
    Calculation(
        name="storage-humidity",
        does="How damp the air of a store may be.",
        formula="a table of published limits",
        inputs=(
            Input("material", "what is stored", values=(*_CLEAN, *_ORGANIC)),
            Input("salts", "whether a metal holds chlorides", values=("yes", "no"), optional=True),
        ),
        gives=(
            Answer("limit", "highest relative humidity", "%"),
            Answer("not_below", "lowest relative humidity", "%"),
            Answer("source", "who prints it"),
        ),
        valid="One material by itself. Where limits of two materials clash, as iron and timber do, a conservator "
        "decides. Above 75 % is damp, and wrong for everything. Sudden change harms wood and leather most.",
        source="beside each value; 75 %: Michalski, Canadian Conservation Institute",
        example={"material": "wrought-iron", "salts": "yes"},
        run=storage_humidity,
    ),
)
