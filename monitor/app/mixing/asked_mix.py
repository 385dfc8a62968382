"""Reads what goes into a mix: `NAME=AMOUNT` with the yard's measures, and bands such as `25..35`."""

import difflib
import math
import re
from collections.abc import Iterable, Mapping
from dataclasses import dataclass
from pathlib import Path

from monitor.mix import Band, Feedstock, Offer, Part, known_feedstocks
from monitor.model.amounts import Amount, Dimension, parse_amount
from monitor.model.containers import Container
from monitor.model.errors import MisuseError
from monitor.recordings import Problems, read_feedstocks

_BAND = re.compile(r"\s*([0-9]+(?:\.[0-9]+)?)\s*(?:\.\.\s*([0-9]+(?:\.[0-9]+)?))?\s*")
_GROUND = re.compile(r"\s*([0-9.]+)\s*(ft|m|')?\s*[x×]\s*([0-9.]+)\s*(ft|m|')\s*", re.IGNORECASE)
_MM = {"ft": 304.8, "'": 304.8, "m": 1000.0}


@dataclass(frozen=True, slots=True)
class Asked:
    """The materials that a person has, those that go in whole and those that may, and every feedstock that is known."""

    whole: tuple[Part, ...]
    offers: tuple[Offer, ...]
    known: Mapping[str, Feedstock]


def feedstocks_known(table: Path | None) -> dict[str, Feedstock]:
    """Return the feedstocks by name: those of a person's own table first, which replace ours of the same name.

    Raises:
        MisuseError: The table cannot be understood; the message has every line that is wrong.
        UnavailableError: It cannot be read.
    """
    if table is None:
        return known_feedstocks()
    problems = Problems()
    own = read_feedstocks(table, problems)
    if len(problems):
        raise MisuseError("\n".join(problems.sentences()))
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
        parts.append(Part(material, _grams(material, amount, containers, us=us)))
    for text in some:
        material, amount = _named(text, known)
        offers.append(Offer(material, _grams(material, amount, containers, us=us) if amount else None))
    return Asked(tuple(parts), tuple(offers), known)


def band_of(text: str | None, option: str) -> Band | None:
    """Read `25..35`, or `30` for both ends.

    Raises:
        MisuseError: The text is neither, or ends before it begins.
    """
    if text is None:
        return None
    found = _BAND.fullmatch(text)
    if found is None:
        raise MisuseError(f'{option} is a number or two with dots between, such as 25..35, not "{text}".')
    try:
        return Band(float(found[1]), float(found[2] or found[1]))
    except ValueError as fault:
        raise MisuseError(f"{option}: {fault}.") from None


def ground_mm2(text: str | None) -> int | None:
    """Read the ground of a bay, `5 x 5 ft` or `1.5 x 2 m`, in square millimetres.

    Raises:
        MisuseError: The text is no such pair of lengths.
    """
    if text is None:
        return None
    found = _GROUND.fullmatch(text)
    try:
        if found is None:
            raise ValueError
        sides = [float(found[1]) * _MM[(found[2] or found[4]).lower()], float(found[3]) * _MM[found[4].lower()]]
    except ValueError:
        raise MisuseError(f'--bay is length by width, such as "5 x 5 ft" or "1.5 x 2 m", not "{text}".') from None
    if not all(100 <= side <= 100_000 for side in sides):
        raise MisuseError(f'a bay of "{text}" cannot be; write its length and width, such as "5 x 5 ft".')
    return round(math.prod(sides))


def _named(text: str, known: Mapping[str, Feedstock]) -> tuple[Feedstock, str]:
    name, _, amount = text.partition("=")
    plain = {one.casefold(): material for one, material in known.items()}
    word = " ".join(name.split()).casefold()
    found = plain.get(word)
    if found is not None:
        return found, amount.strip()
    near = difflib.get_close_matches(word, plain, 1, 0.6)
    meant = f'Did you mean "{plain[near[0]].name}"? ' if near else ""
    listed = "`heaptender recipe --list` shows what is known"
    raise MisuseError(f'nothing is known of "{name.strip()}". {meant}{listed}; --materials adds your own.')


def _grams(material: Feedstock, text: str, containers: Mapping[str, Container], *, us: bool) -> int:
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
