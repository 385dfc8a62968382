"""Turns typed readings and rounds into events, and says in words what the values mean."""

from collections.abc import Mapping, Sequence
from typing import Any

from monitor.app.console.refusals import ended, near
from monitor.app.entries.entries import Entry, allow
from monitor.configuration import Configuration, UnfitError, length_milli_m
from monitor.journal import open_reader
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.events import EventKind
from monitor.model.flags import FlagReason
from monitor.model.hand_words import UNREAD, Taken, hand_payload, hand_value, round_values, round_words, spot_meant
from monitor.model.readings import hand_series
from monitor.model.settings import Settings
from monitor.model.units import to_milli
from monitor.notices import meaning

_OPTIONS = ("at", "by", "note", "with", "depth", "again")


def reading_entry(
    configuration: Configuration, place: str, rest: tuple[str, ...], given: Mapping[str, Any], at: int
) -> Entry:
    """Return the entry of a temperature taken by hand.

    Args:
        configuration: The yard's configuration.
        place: Id of the pile or bin.
        rest: Value and unit as typed; without a unit, the site's unit is meant.
        given: The command's options by name; `spot` says where in the heap.
        at: When it was read, UTC ms.

    Raises:
        MisuseError: The place or the spot is unknown, or the value is no temperature.
    """
    allow("reading", given, (*_OPTIONS, "spot"))
    settings = configuration.settings
    _place(settings, place)
    if len(rest) not in (1, 2):
        raise MisuseError("A hand reading is a number and a unit, such as `heaptender log reading p1 131 degF`.")
    one = hand_value(settings, " ".join(rest))
    spot = spot_meant(settings, place, given["spot"]) if given.get("spot") else ""
    return _entry(configuration, place, [(spot, one)], given, at)


def round_entry(
    configuration: Configuration, place: str, rest: tuple[str, ...], given: Mapping[str, Any], at: int
) -> Entry:
    """Return the entry of a round: the values of a place's spots.

    Args:
        configuration: The yard's configuration.
        place: Id of the pile or bin.
        rest: The values as typed, in the order of the place's spots; a unit may follow a value.
        given: The command's options by name.
        at: When the round ended, UTC ms.

    Raises:
        MisuseError: The place is unknown, a value is no temperature, or there are more values than spots.
    """
    allow("round", given, _OPTIONS)
    settings = configuration.settings
    _place(settings, place)
    taken = round_values(settings, place, rest)
    remark = f"Not read: {', '.join(taken.unread)}." if taken.unread else ""
    if taken.unread and not set(UNREAD) & set(rest):
        remark += " The values were taken in the order of the spots; if another was not read, take this back and put - for it."
    return _entry(configuration, place, taken.read, given, at, remark)


def hand_meaning(settings: Settings, payload: Mapping[str, Any], now: int) -> str:
    """Return in a sentence or two what readings by hand mean; "" if all lie within the limits.

    Args:
        settings: The settings in force, with the limits.
        payload: The payload of the readings event.
        now: Now, UTC ms.
    """
    rows = payload.get("rows", ())
    where = settings.place_of_hand(rows[0][1]) if rows else None
    if where is None:
        return ""
    read = [(series, to_milli(micro, unit)) for _, series, micro, unit in rows]
    return meaning(settings, where[0], read, rows[0][0], now)


def said_beside(configuration: Configuration, payload: Mapping[str, Any]) -> list[str]:
    """Return sentences on what the yard already knows that bears on readings by hand just written down."""
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415 (needed only for a place with probes or a bed)
    from monitor.engine import beside_words  # noqa: PLC0415

    settings = configuration.settings
    where = settings.place_of_hand(payload["rows"][0][1])
    if where is None or not (settings.probes or where[0] in settings.bins):
        return []
    with yard_view(configuration) as view:
        return beside_words(view.engine.core, payload)


def _place(settings: Settings, place: str) -> None:
    if place not in {**settings.piles, **settings.bins}:
        right = near(place, [*settings.piles, *settings.bins])
        raise MisuseError(ended(f'there is no pile or bin "{place}"; {right}'))


def _entry(
    configuration: Configuration,
    place: str,
    read: Sequence[tuple[str, Taken]],
    given: Mapping[str, Any],
    at: int,
    remark: str = "",
) -> Entry:
    # A row holds only time, series, value and unit; reader, thermometer, depth and note belong to the event.
    told: dict[str, Any] = {name: given.get(name) for name in ("by", "note", "with")}
    if given.get("depth"):
        try:
            told["depth"] = length_milli_m(given["depth"])
        except UnfitError as fault:
            raise MisuseError(ended(f"--depth: {fault.wrong}; {fault.right}")) from fault
    payload = hand_payload(place, at, read, told, taken_back(configuration, place, [spot for spot, _ in read], at))
    words = f"{configuration.settings.place_name(place)} {round_words(read)}"
    return Entry(EventKind.READINGS, payload, at, words, remark)


def taken_back(configuration: Configuration, place: str, spots: Sequence[str], since: int) -> set[int]:
    """Return the instants at which readings of some spots were taken back.

    Args:
        configuration: The yard's configuration.
        place: Id of the pile or bin.
        spots: The spots, "" for none.
        since: The first instant, UTC ms.

    Returns:
        UTC ms.
    """
    try:
        with open_reader(configuration.data) as store:
            return {
                kept.time
                for spot in spots
                for kept in store.flags(hand_series(place, spot), since)
                if kept.reason is FlagReason.WITHDRAWN
            }
    except UnavailableError:
        return set()
