"""Doubts about the spot that an entry names: it may be mistyped, and a value under a wrong name is of a series of its own.

1. Where the settings name the spots of a place, people are asked about every other name.
2. Elsewhere they are asked about a name that is new there and nearly another one (*wset* for *west*). Names that differ in
   their numbers are different spots.
"""

import difflib
import re
from collections.abc import Iterable

from monitor.model.settings import Settings
from monitor.notices import clean

ALIKE = 0.7
"""Names at least this alike (the ratio of difflib, from 0 to 1) may be a slip (our choice)."""


def spot_doubt(settings: Settings, place: str, spot: str, known: Iterable[str]) -> str:
    """Return the question about a spot; "" if there is none.

    Args:
        settings: The settings in force.
        place: Id of the place.
        spot: The spot, "" for none.
        known: The spots under which something was logged there.
    """
    if not spot:
        return ""
    name, plain = clean(settings.place_name(place), 40), _plain(spot)
    named = settings.spots_of(place)
    if named:
        if plain in map(_plain, named):
            return ""
        return f'{name} has no spot "{clean(spot, 24)}"; its spots are {", ".join(named)}. Is the spot right?'
    others = {_plain(one): one for one in known if one}
    if plain in others:
        return ""
    near = next((one for one in difflib.get_close_matches(plain, others, 3, ALIKE) if _same_numbers(one, plain)), None)
    if near is None:
        return ""
    meant = clean(others[near], 24)
    return f'{name}: nothing was logged at "{clean(spot, 24)}" before, but at "{meant}". Is the spot right?'


def _plain(spot: str) -> str:
    return " ".join(spot.casefold().split())


def _same_numbers(one: str, other: str) -> bool:
    return re.findall(r"\d+", one) == re.findall(r"\d+", other)
