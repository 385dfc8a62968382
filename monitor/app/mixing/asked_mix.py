"""Reads what goes into a mix: `NAME=AMOUNT` with the yard's measures, and bands such as `25..35`."""

import difflib
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from monitor.app.console.measures import KG_M3_PER_LB_YD3
from monitor.mix import Band, Feedstock, Offer, Part, known_feedstocks
from monitor.model.amounts import Amount, Dimension, parse_amount
from monitor.model.containers import Container
from monitor.model.errors import MisuseError
from monitor.recordings import Problems, read_feedstocks

WRONG_SHOWN = 10
"""How many wrong lines of a table are named: a file that is no table has hundreds."""
_NUMBER = r"([0-9]+(?:\.[0-9]+)?)"
_BAND = re.compile(rf"\s*{_NUMBER}\s*(?:(?:\.\.|-|–|to)\s*{_NUMBER})?\s*%?\s*")
_GROUND = re.compile(rf"\s*{_NUMBER}\s*(ft|in|cm|m|')?\s*(?:[x×*]|by)\s*{_NUMBER}\s*(ft|in|cm|m|')\s*", re.IGNORECASE)
_DENSITY = re.compile(rf"\s*{_NUMBER}\s*(kg/m3|kg/m³|lb/yd3|lb/yd³)?\s*")
_MM = {"ft": 304.8, "'": 304.8, "in": 25.4, "cm": 10.0, "m": 1000.0}
SENSIBLE = {"--cn": (5, 300), "--moisture": (20, 85)}
"""Between which ends a mix can be asked for: beyond them it is no heap, or the number a slip."""


@dataclass(frozen=True, slots=True)
class Asked:
    """The materials that a person has, those that go in whole and those that may, and every feedstock that is known."""

    whole: tuple[Part, ...]
    offers: tuple[Offer, ...]
    known: Mapping[str, Feedstock]


def feedstocks_known(table: Path | None, remarks: list[str] | None = None) -> dict[str, Feedstock]:
    """Return the feedstocks by name: those of a person's own table first, which replace ours of the same name.

    Args:
        table: The person's table; None: there is none.
        remarks: Receives sentences about rows that were taken and yet contradict themselves.

    Raises:
        MisuseError: The table cannot be understood; the message has the first lines that are wrong.
        UnavailableError: It cannot be read.
    """
    if table is None:
        return known_feedstocks()
    problems = Problems()
    own = read_feedstocks(table, problems, remarks)
    if len(problems):
        said = problems.sentences()
        more = [f"And {len(said) - WRONG_SHOWN} more lines are wrong."] if len(said) > WRONG_SHOWN else []
        raise MisuseError("\n".join([*said[:WRONG_SHOWN], *more]))
    return own | {name: one for name, one in known_feedstocks().items() if name not in own}


def asked_mix(
    whole: Iterable[str],
    some: Iterable[str],
    known: Mapping[str, Feedstock],
    containers: Mapping[str, Container],
    *,
    us: bool,
) -> Asked:
    """Read the amounts of a mix.

    Args:
        whole: `NAME=AMOUNT` of what goes in whole.
        some: `NAME` or `NAME=AMOUNT` of what goes in as far as it is needed.
        known: The feedstocks by name.
        containers: The yard's containers.
        us: Whether the yard is a US one, in which a ton is 2,000 lb.

    Returns:
        The materials with their amounts in grams.

    Raises:
        MisuseError: A material is unknown or has no density for a volume, or an amount cannot be understood.
    """
    parts, offers = [], []
    for text in whole:
        material, amount = _named(text, known)
        if not amount:
            raise MisuseError(f'how much "{material.name}" is there? Write --all "{material.name}=200 kg".')
        parts.append(Part(material, grams_of(material, amount, containers, us=us)))
    for text in some:
        material, amount = _named(text, known)
        offers.append(Offer(material, grams_of(material, amount, containers, us=us) if amount else None))
    return Asked(tuple(parts), tuple(offers), known)


def band_of(text: str | None, option: str, shown: str = "") -> Band | None:
    """Read `25..35`, or `30` for both ends.

    Args:
        text: The text; None or nothing: nobody asked for a band.
        option: `--cn` or `--moisture`.
        shown: The name of it in what is said; "": the option.

    Returns:
        The band, or None.

    Raises:
        MisuseError: The text is neither, or ends before it begins.
    """
    if not text:
        return None
    least, most = SENSIBLE[option]
    option = shown or option
    found = _BAND.fullmatch(text)
    if found is None:
        raise MisuseError(f'{option} is a number or two with dots between, such as 25..35, not "{text}".')
    low, high = float(found[1]), float(found[2] or found[1])
    if not (least <= low and high <= most):
        raise MisuseError(f"{option} lies between {least} and {most}; {found[0].strip()} makes no heap.")
    try:
        return Band(low, high)
    except ValueError as fault:
        raise MisuseError(f"{option}: {fault}.") from None


def density_of(text: str | None) -> float | None:
    """Read a density: `600` or `600 kg/m3` in kg/m³, or `1000 lb/yd3`.

    Raises:
        MisuseError: The text is none, or no mix has it.
    """
    if text is None:
        return None
    found = _DENSITY.fullmatch(text)
    kg_m3 = 0.0 if found is None else float(found[1]) * (KG_M3_PER_LB_YD3 if (found[2] or "").startswith("lb") else 1)
    if not 50 <= kg_m3 <= 1200:
        raise MisuseError(f'--density-max is a density such as 600 (kg/m³) or "1000 lb/yd3", not "{text}".')
    return kg_m3


def ground_mm2(text: str | None, shown: str = "--bay") -> int | None:
    """Read the ground of a bay, `5 x 5 ft` or `1.5 x 2 m`.

    Args:
        text: The text; None or nothing: nobody said.
        shown: The name of it in what is said.

    Returns:
        The ground in square millimetres, or None.

    Raises:
        MisuseError: The text is no such pair of lengths.
    """
    if not text:
        return None
    found = _GROUND.fullmatch(text)
    try:
        if found is None:
            raise ValueError
        sides = [float(found[1]) * _MM[(found[2] or found[4]).lower()], float(found[3]) * _MM[found[4].lower()]]
    except ValueError:
        raise MisuseError(f'{shown} is length by width, such as "5 x 5 ft" or "1.5 x 2 m", not "{text}".') from None
    if not all(100 <= side <= 100_000 for side in sides):
        raise MisuseError(f'a bay of "{text}" cannot be; write its length and width, such as "5 x 5 ft".')
    return round(math.prod(sides))


def feedstock_named(name: str, known: Mapping[str, Feedstock], listed: str) -> Feedstock:
    """Return the feedstock of a name as a person typed it.

    Args:
        name: Its name; capitals and spaces do not matter.
        known: The feedstocks by name.
        listed: A sentence that says where the known ones are listed, for the refusal.

    Returns:
        The feedstock.

    Raises:
        MisuseError: It is unknown; the message names the one that may be meant.
    """
    plain = {one.casefold(): material for one, material in known.items()}
    word = " ".join(name.split()).casefold()
    found = plain.get(word)
    if found is not None:
        return found
    near = difflib.get_close_matches(word, plain, 1, 0.6)
    meant = f'Did you mean "{plain[near[0]].name}"? ' if near else ""
    raise MisuseError(f'nothing is known of "{name.strip()}". {meant}{listed}')


def _named(text: str, known: Mapping[str, Feedstock]) -> tuple[Feedstock, str]:
    name, _, amount = text.partition("=")
    listed = "`heaptender recipe --list` shows what is known; --materials adds your own."
    return feedstock_named(name, known, listed), amount.strip()


def grams_of(material: Feedstock, text: str, containers: Mapping[str, Container], *, us: bool) -> int:
    """Return the mass of an amount as a person typed it, in grams.

    Args:
        material: The feedstock, by whose density a volume is weighed.
        text: The amount with its unit.
        containers: The yard's containers.
        us: Whether the yard is a US one, in which a ton is 2,000 lb.

    Returns:
        The mass.

    Raises:
        MisuseError: It cannot be understood, or nobody can say what it weighs.
    """
    try:
        amount = parse_amount(text, us=us)
    except ValueError as fault:
        raise MisuseError(f"{material.name}: {fault}.") from None
    if amount.dimension is Dimension.MASS and amount.base is not None:
        return amount.base
    if amount.dimension is Dimension.VOLUME and amount.base is not None:
        return _weighed(material, amount, text)
    if amount.dimension is Dimension.CONTAINERS:
        container = containers.get(amount.unit, Container())
        density = None if material.density is None else material.density.typical
        held = container.content(material.name, float(amount.count), density)
        if held is not None:
            return round(held.mass_g)
        example = "90 L" if not us else "3 ft3"
        raise MisuseError(
            f"{material.name}: nobody has said how much a {amount.unit} holds; write {example} or its weight, "
            f"or the volume of a {amount.unit} into the configuration ([containers.{amount.unit}])."
        )
    raise MisuseError(
        f'{material.name}: "{text}" is no amount of material; write its weight or volume, such as 200 kg.'
    )


def _weighed(material: Feedstock, amount: Amount, text: str) -> int:
    if material.density is None:
        raise MisuseError(f'{material.name}: its density is unknown, so "{text}" says nothing; write its weight.')
    assert amount.base is not None
    return round(amount.base * material.density.typical / 1000)
