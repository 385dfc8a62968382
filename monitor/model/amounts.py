"""Amounts of material as people give them; inside, whole grams, millilitres, millimetres, square millimetres or seconds.

Rules:
1. `5lb`, `5 lb`, and a number with a separate measure are the same. Both parts are kept as they were typed (only a decimal
   comma becomes a point); the unit's id records how the yard understands the measure.
2. An unknown unit is refused with the list of known ones. So is a bare *ton*, which means different masses in different
   countries, except in a US yard.
3. Amounts counted in buckets, barrows or bags are *estimated*: nobody has said how much one holds.

Source of the factors: NIST Special Publication 811, appendix B.8 (all exact); the US ton of 2,000 lb.
"""

import difflib
import re
from dataclasses import dataclass
from enum import StrEnum
from fractions import Fraction
from functools import lru_cache

from monitor.model.units import divide_half_even


class Dimension(StrEnum):
    """The kind of an amount; inside, amounts are integers in the dimension's base unit."""

    MASS = "mass"
    VOLUME = "volume"
    LENGTH = "length"
    AREA = "area"
    DURATION = "duration"
    CONTAINERS = "containers"


@dataclass(frozen=True, slots=True)
class Unit:
    """A unit in which amounts can be given.

    Attributes:
        id: As the record keeps it (`lb`).
        dimension: Kind of amount.
        factor: Base units in one, exact; None for a container of unknown volume.
        names: Other words for it, in small letters.
    """

    id: str
    dimension: Dimension
    factor: Fraction | None
    names: tuple[str, ...] = ()


_LB, _FT3, _GAL = Fraction("453.59237"), Fraction("28316.846592"), Fraction("3785.411784")
_M, _V, _L, _A = Dimension.MASS, Dimension.VOLUME, Dimension.LENGTH, Dimension.AREA
_D, _C = Dimension.DURATION, Dimension.CONTAINERS

UNITS: dict[str, Unit] = {
    unit.id: unit
    for unit in (
        Unit("g", _M, Fraction(1), ("gram", "grams", "gramme", "grammes")),
        Unit("kg", _M, Fraction(1000), ("kgs", "kilo", "kilos", "kilogram", "kilograms")),
        Unit("t", _M, Fraction(10**6), ("tonne", "tonnes", "metric ton", "metric tons")),
        Unit("oz", _M, _LB / 16, ("ounce", "ounces")),
        Unit("lb", _M, _LB, ("lbs", "pound", "pounds", "#")),
        Unit("short ton", _M, 2000 * _LB, ("short tons", "us ton", "us tons")),
        Unit("mL", _V, Fraction(1), ("ml", "millilitre", "millilitres", "milliliter", "milliliters")),
        Unit("L", _V, Fraction(1000), ("l", "litre", "litres", "liter", "liters")),
        Unit("m3", _V, Fraction(10**6), ("m³", "cbm", "cubic metre", "cubic metres", "cubic meter", "cubic meters")),
        Unit("qt", _V, _GAL / 4, ("quart", "quarts")),
        Unit("gal", _V, _GAL, ("gals", "gallon", "gallons", "us gal")),
        Unit("imp gal", _V, Fraction("4546.09"), ("imperial gallon", "imperial gallons")),
        Unit("ft3", _V, _FT3, ("ft³", "cu ft", "cuft", "cubic foot", "cubic feet")),
        Unit("yd3", _V, 27 * _FT3, ("yd³", "cu yd", "cuyd", "yard", "yards", "cubic yard", "cubic yards")),
        Unit("mm", _L, Fraction(1), ("millimetre", "millimetres", "millimeter", "millimeters")),
        Unit("cm", _L, Fraction(10), ("centimetre", "centimetres", "centimeter", "centimeters")),
        Unit("m", _L, Fraction(1000), ("metre", "metres", "meter", "meters")),
        Unit("in", _L, Fraction("25.4"), ("inch", "inches", '"')),
        Unit("ft", _L, Fraction("304.8"), ("foot", "feet", "'")),
        Unit("m2", _A, Fraction(10**6), ("m²", "square metre", "square metres", "square meter", "square meters")),
        Unit("ft2", _A, Fraction("92903.04"), ("ft²", "sq ft", "sqft", "square foot", "square feet")),
        Unit("s", _D, Fraction(1), ("sec", "second", "seconds")),
        Unit("min", _D, Fraction(60), ("mins", "minute", "minutes")),
        Unit("h", _D, Fraction(3600), ("hr", "hrs", "hour", "hours")),
        Unit("bucket", _C, None, ("buckets", "pail", "pails")),
        Unit("barrow", _C, None, ("barrows", "wheelbarrow", "wheelbarrows")),
        Unit("bag", _C, None, ("bags", "sack", "sacks")),
    )
}

_WORDS = {word: unit for unit in UNITS.values() for word in (unit.id.lower(), *unit.names)}
_TONS = ("ton", "tons")
_TYPED = re.compile(r"([0-9]+ [0-9]+/[0-9]+|[0-9]+/[0-9]+|[0-9]+(?:\.[0-9]+)?)\s*(.*)", re.DOTALL)
_THOUSANDS = re.compile(r"[0-9]{1,3},[0-9]{3}(?![0-9])")
_LONGEST_NUMBER = 15

OFFERED_US: dict[Dimension, tuple[str, ...]] = {
    _M: ("lb", "oz", "short ton"), _V: ("gal", "ft3", "yd3"), _L: ("in", "ft"), _A: ("ft2",), _D: ("min", "h"),
    _C: ("bucket", "barrow", "bag"),
}  # fmt: skip
OFFERED_METRIC: dict[Dimension, tuple[str, ...]] = {
    _M: ("kg", "g", "t"), _V: ("L", "m3"), _L: ("cm", "mm"), _A: ("m2",), _D: ("min", "h"),
    _C: ("bucket", "barrow", "bag"),
}  # fmt: skip


@dataclass(frozen=True, slots=True, kw_only=True)
class Amount:
    """An amount as it was given.

    Attributes:
        number: As typed, with a decimal point (`5`, `1.5`, `1/2`).
        measure: Its unit as typed, or "".
        unit: The unit's id, or "" if none was given.
        dimension: Kind of amount, or None without a unit.
        base: Whole base units (g, mL, mm, mm², s), rounded half-even, or None if nobody can say.
    """

    number: str
    measure: str = ""
    unit: str = ""
    dimension: Dimension | None = None
    base: int | None = None

    @property
    def count(self) -> Fraction:
        """The number itself: how many of the unit."""
        return _fraction(self.number)


def parse_amount(text: str, measure: str = "", *, us: bool = False, zero: bool = False) -> Amount:
    """Read an amount that a person typed, in one piece or with its measure apart.

    Args:
        text: `5`, `5lb`, `1,5 kg`, `1/2 yd3`.
        measure: The unit, if it stands apart; a unit in `text` must be the same.
        us: Whether the yard is a US one, in which a ton is 2,000 lb.
        zero: Whether nothing is an amount too, as of a fraction of which nothing was left.

    Returns:
        The amount; without a unit it is a bare number.

    Raises:
        ValueError: The text is no amount, or its unit is unknown; the message says what would be right.
    """
    number, typed = _parts(text.strip(), zero=zero)
    apart = measure.strip()
    if typed and apart and unit_named(typed, us=us) is not unit_named(apart, us=us):
        raise ValueError(f'"{text.strip()}" and "{apart}" are two measures; write one, such as "{number} {apart}"')
    typed = typed or apart
    if not typed:
        return Amount(number=number)
    unit = unit_named(typed, us=us)
    base = None if unit.factor is None else _base(_fraction(number) * unit.factor)
    return Amount(number=number, measure=typed, unit=unit.id, dimension=unit.dimension, base=base)


def unit_named(word: str, *, us: bool = False) -> Unit:
    """Return the unit that a word means.

    Raises:
        ValueError: The word means none; the message lists the known units.
    """
    plain = " ".join(word.lower().replace(".", "").split())
    if plain in _TONS:
        if us:
            return UNITS["short ton"]
        raise ValueError(f'"{word}" can be two things; write "t" (1,000 kg) or "short ton" (2,000 lb)')
    found = _WORDS.get(plain)
    if found is None:
        close = difflib.get_close_matches(plain, _WORDS, 1, 0.75)
        meant = f'did you mean "{close[0]}"? ' if close else ""
        raise ValueError(f'"{word[:20]}" is no unit; {meant}known are {", ".join(UNITS)}')
    return found


def offered(dimensions: tuple[Dimension, ...], *, us: bool) -> tuple[str, ...]:
    """Return the ids of the units to offer in a yard for some kinds of amounts, the usual ones first."""
    table = OFFERED_US if us else OFFERED_METRIC
    return tuple(unit for dimension in dimensions for unit in table[dimension])


def unit_shown(unit: str) -> str:
    """Return a unit as people read it beside a number: `ft³`, `buckets`; `unit_named` understands that text too."""
    if unit in UNITS and UNITS[unit].dimension is Dimension.CONTAINERS:
        return f"{unit}s"
    return unit.replace("3", "³").replace("2", "²")


@lru_cache(4096)
def known_amount(number: str, measure: str, unit: str = "") -> Amount | None:
    """Read an amount from a record or a file, leniently.

    Args:
        number: As typed; empty: there is no amount.
        measure: Unit as typed, or "".
        unit: The unit's id as the yard understood it, or "".

    Returns:
        The amount, or None without a number; a measure that cannot be understood leaves it without a unit.
    """
    if not number.strip():
        return None
    try:
        return parse_amount(number, measure or unit, zero=True)
    except ValueError:
        pass
    try:
        # The typed word may have a meaning in its own yard only; the record keeps that meaning in `unit`.
        understood = parse_amount(number.strip(), unit, zero=True)
    except ValueError:
        return Amount(number=number.strip(), measure=measure.strip())
    return Amount(
        number=understood.number, measure=measure.strip() or unit, unit=understood.unit,
        dimension=understood.dimension, base=understood.base,
    )  # fmt: skip


def _parts(text: str, *, zero: bool) -> tuple[str, str]:
    if thousands := _THOUSANDS.match(text):
        plain = thousands[0].replace(",", "")
        raise ValueError(f'"{text[:20]}" can be two amounts; write {plain} or {thousands[0].replace(",", ".")}')
    found = _TYPED.fullmatch(re.sub(r"^([0-9]+),(?=[0-9])", r"\1.", text))
    if found is None or len(found[1]) > _LONGEST_NUMBER or (found[2] and found[2][0] in "./,0123456789"):
        raise ValueError(f'"{text[:20]}" is no amount; write a number and a unit, such as 20 L or 5 lb')
    if not zero and _fraction(found[1]) <= 0:
        raise ValueError(f'"{text[:20]}" is nothing; an amount is more than 0')
    return found[1], found[2].strip()


def _fraction(number: str) -> Fraction:
    if "/" not in number:
        return Fraction(number)
    whole, _, part = number.rpartition(" ")
    top, _, bottom = part.partition("/")
    if not int(bottom):
        raise ValueError(f'"{number}" is no amount; nothing can be divided by 0')
    return Fraction(whole or "0") + Fraction(int(top), int(bottom))


def _base(exact: Fraction) -> int:
    return divide_half_even(exact.numerator, exact.denominator)
