"""Temperatures taken by hand, as people write them: one parser for the command line and the page.

1. A value is a number with or without its unit, with or without a blank: `131`, `131F`, `131 degF`, `55,5 °C`. A number
   without a unit is in the site's own.
2. A round is the values of a place's spots in their order; `-` stands for a spot that was not read, and spots behind the
   last value were not read either. A place without named spots has the spots 1, 2, 3, ….
"""

import re
from collections.abc import Collection, Mapping, Sequence
from typing import Any, NamedTuple

from monitor.model.errors import MisuseError
from monitor.model.readings import hand_series
from monitor.model.settings import Settings
from monitor.model.units import DEGREES, show_temperature, to_micro, to_milli, unit_code

_VALUE = re.compile(r"([-+]?\d+(?:\.\d+)?)\s*([^\d\s].*)?")
UNREAD = ("-", "–", "_", "x")
"""Marks of a spot that was not read."""
LEAST_MILLI_C, MOST_MILLI_C = -60_000, 300_000
"""Range of readings by hand (our choice): from a yard in the hardest frost to a heap that burns inside."""
MOST_SPOTS = 40
"""Most values of one round."""

ANOTHER_STANDS = (
    "Another reading of that moment is written down already, and it stays; this one stands beside it, and no rule counts the "
    "kinder of the two. Was the first a slip? Take it back, then write this one down again."
)
"""Answer to a reading whose minute already has another one."""


class Taken(NamedTuple):
    """One temperature as it was written.

    Attributes:
        micro, unit: The value, millionths of its unit, and its code.
        milli: Thousandths of a degree Celsius.
        words: `131 °F`; in the site's unit, `55 °C (131 °F as typed)`, if that is another.
    """

    micro: int
    unit: str
    milli: int
    words: str


class Round(NamedTuple):
    """Values of one place at one time: (spot, value) of those read, and the spots that were not."""

    read: list[tuple[str, Taken]]
    unread: list[str]


def hand_value(settings: Settings, text: str) -> Taken:
    """Return a temperature that a person wrote down.

    Raises:
        MisuseError: The text is no temperature, or none that a heap or a bin can have.
    """
    plain = text.strip().replace(",", ".").replace("−", "-")
    found = _VALUE.fullmatch(plain)
    own = "°F" if settings.site.temperature_unit == "degF" else "°C"
    if found is None:
        raise MisuseError(
            f'"{text[:20]}" is no temperature; write a number with or without its unit, such as 131 {own}.'
        )
    code = unit_code(found[2] or settings.site.temperature_unit)
    if code == "%":
        raise MisuseError(
            f"{found[1]} % is moisture, and by hand only temperatures are taken. Squeeze a handful instead and say how damp "
            "it is: of a bin with `heaptender log inspected BIN --squeeze 4`, of a heap in a note."
        )
    if code not in DEGREES:
        raise MisuseError(f'"{found[2][:20]}" is no unit of temperature here; °F and °C are.')
    try:
        micro = to_micro(float(found[1]))
    except ValueError as fault:
        raise MisuseError(f"{found[1][:20]} is no temperature of a heap or bin. Were other keys pressed?") from fault
    milli, typed = to_milli(micro, code), f"{found[1].lstrip('+')} {DEGREES[code]}"
    if not LEAST_MILLI_C <= milli <= MOST_MILLI_C:
        own_unit = "degF" if DEGREES[code] == "°F" else "degC"
        limits = [show_temperature(one, own_unit) for one in (LEAST_MILLI_C, MOST_MILLI_C)]
        raise MisuseError(
            f"{typed} is no temperature of a heap or bin ({limits[0]} to {limits[1]}). Is the unit right?"
        )
    same = DEGREES[code] == own
    words = typed if same else f"{show_temperature(milli, settings.site.temperature_unit)} ({typed} as typed)"
    return Taken(micro, code, milli, words)


def spot_meant(settings: Settings, place: str, text: str) -> str:
    """Find the spot of a place that a text names.

    Args:
        settings: Hold the place's spots.
        place: Id of a pile or bin.
        text: As typed; case and blanks do not matter.

    Returns:
        The spot as the settings spell it, or the text itself if the place has no named spots.

    Raises:
        MisuseError: The place has named spots, and this is none of them; or the text cannot be the name of a spot.
    """
    spots, plain = settings.spots_of(place), " ".join(text.split())
    if not spots:
        if not re.fullmatch(r"[\w .-]{1,24}", plain):
            raise MisuseError(f'"{text[:24]}" is no name of a spot; use up to 24 letters, digits, blanks and - . _')
        return plain
    found = [one for one in spots if one.casefold() == plain.casefold()]
    if not found:
        raise MisuseError(f'{settings.place_name(place)} has no spot "{text[:24]}"; its spots are {", ".join(spots)}.')
    return found[0]


def round_values(settings: Settings, place: str, texts: Sequence[str]) -> Round:
    """Read the values of a round.

    Args:
        settings: Hold the place's spots, and the site's unit.
        place: Id of a pile or bin.
        texts: As typed, in the order of the spots; `-` for a spot that was not read.

    Returns:
        The values with their spots, and the spots that were not read.

    Raises:
        MisuseError: A text is no temperature, or there are more texts than spots, or no value at all.
    """
    words = _with_units(texts)
    spots = settings.spots_of(place) or tuple(str(number) for number in range(1, min(len(words), MOST_SPOTS) + 1))
    if len(words) > len(spots):
        named = ", ".join(settings.spots_of(place)) or f"at most {MOST_SPOTS}"
        raise MisuseError(f"{len(words)} values, but {settings.place_name(place)} has the spots {named}.")
    read = [(spot, hand_value(settings, word)) for spot, word in zip(spots, words, strict=False) if word not in UNREAD]
    if not read:
        raise MisuseError(
            "A round is the values of the spots in their order, such as `heaptender log round p1 141 138 145`."
        )
    known = {spot for spot, _ in read}
    return Round(read, [spot for spot in spots if spot not in known])


def hand_payload(
    place: str, at: int, read: Sequence[tuple[str, Taken]], told: Mapping[str, Any], gone: Collection[int]
) -> dict[str, Any]:
    """Make the payload of the event of readings by hand.

    Series and time identify a reading for good: a reading that replaces a withdrawn one stands beside it, a
    thousandth of a second later.

    Args:
        place: A pile or a bin.
        at: When they were taken, UTC ms.
        read: (spot, value) of each.
        told: Details of all of them: `by`, `note`, `with`, `depth` (thousandths of a meter); empty ones are left out.
        gone: Instants (UTC ms) of withdrawn readings of these spots.

    Returns:
        The payload of a `readings` event, as in `model.events`.
    """
    while at in gone:
        at += 1
    return {"rows": hand_rows(place, at, read), "ahead": [], **{name: said for name, said in told.items() if said}}


def hand_rows(place: str, time: int, read: Sequence[tuple[str, Taken]]) -> list[list[object]]:
    """Make the rows of a `readings` event.

    Args:
        place: Id of a pile or bin.
        time: When the values were read, UTC ms.
        read: (spot, value) of each.

    Returns:
        [time, series, micro, unit] of each, ordered by series.
    """
    rows: list[list[object]] = [[time, hand_series(place, spot), one.micro, one.unit] for spot, one in read]
    return sorted(rows, key=lambda row: str(row[1]))


def round_words(read: Sequence[tuple[str, Taken]]) -> str:
    """Return the values of a round for people: `131 °F`, `131 °F at west`, or `141 °F at west, 138 °F at east`."""
    if len(read) == 1:
        spot, one = read[0]
        return f"{one.words} by hand at {spot}" if spot else f"{one.words} by hand"
    return f"{', '.join(f'{one.words} at {spot}' for spot, one in read)} by hand"


def _with_units(texts: Sequence[str]) -> list[str]:
    """Join a unit that stands alone to the values before it that have none."""
    found: list[str] = []
    bare: list[int] = []
    for text in texts:
        if text in UNREAD:
            found.append(text)
        elif re.match(r"[-+−\d]", text):
            found.append(text)
            if re.fullmatch(r"[-+−\d.,]+", text):
                bare.append(len(found) - 1)
        elif bare:
            for index in bare:
                found[index] += text
            bare = []
        else:
            found.append(text)
    return found
