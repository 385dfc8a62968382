"""The moisture of a sample as people give it: a percentage of its wet mass, or the weights of drying it.

By drying: what it weighs wet and what it weighs once it is dry, both in a container that was weighed, or without one. Source: a
university's composting pages, for 24 h at 105 to 110 °C (seen-2nd).
"""

import re

from monitor.model.amounts import UNITS, Dimension, parse_amount

_PERCENT = re.compile(r"([0-9]{1,3}(?:[.,][0-9]{1,3})?)\s*%?", re.ASCII)
_WET, _DRY, _CONTAINER = "wet", "dry", "container"
_NAMED = re.compile(r"(wet|dry|container)\s+(\S.*)|(\S.*?)\s+(wet|dry|container)", re.IGNORECASE | re.DOTALL)
HOW = 'percent of the wet mass, 0 to 100, such as 74, or the weights of drying it, such as "wet 14 g, dry 6.3 g, container 4 g"'


def moisture_understood(text: str) -> str:
    """Return a moisture as the record keeps it: percent of wet mass as a plain number; "" stays "".

    Args:
        text: `74`, `74.5 %`, or `wet 14 g, dry 6.3 g, container 4 g`, in which wet and dry count with the container.

    Raises:
        ValueError: It is neither, or the weights cannot be.
    """
    plain = text.strip()
    if not plain:
        return ""
    found = _PERCENT.fullmatch(plain)
    if found is not None and float(found[1].replace(",", ".")) <= 100:
        return found[1].replace(",", ".")
    parts = [_NAMED.fullmatch(one.strip()) for one in re.split(r",(?![0-9])|;", plain)]
    weights = {(one[1] or one[4]).casefold(): one[2] or one[3] for one in parts if one is not None}
    if None in parts or len(weights) < len(parts) or not {_WET, _DRY} <= weights.keys():
        raise ValueError(f'"{plain[:20]}" is no moisture; it is {HOW}')
    moisture = by_drying(**{name: _grams(weight, name) for name, weight in weights.items()})
    return f"{moisture:.1f}".removesuffix(".0")


def by_drying(wet: float, dry: float, container: float = 0.0) -> float:
    """Return the moisture of a sample that was dried, percent of its wet mass.

    Args:
        wet: It and its container before, in grams.
        dry: The same once it was dry.
        container: The container alone; 0 without one.

    Raises:
        ValueError: It cannot weigh more dry than wet, nor less than its container.
    """
    if not container <= dry <= wet or wet <= container:
        raise ValueError("wet weighs more than dry, and dry more than the container: both are weighed with it")
    return (wet - dry) * 100 / (wet - container)


def _grams(text: str, name: str) -> float:
    amount = parse_amount(text)
    if amount.dimension is not Dimension.MASS or amount.base is None:
        raise ValueError(f'"{text[:20]}" is no weight; write {name} {amount.number} g')
    return float(amount.count * (UNITS[amount.unit].factor or 0))
