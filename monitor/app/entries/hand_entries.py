"""Readings and rounds taken by hand: from what was typed to the event that is asked for, and what they mean."""

from collections.abc import Mapping, Sequence
from typing import Any

from monitor.app.console.refusals import ended, near
from monitor.app.entries.entries import Entry, allow
from monitor.configuration import Configuration
from monitor.configuration.config_problems import UnfitError
from monitor.configuration.quantities import length_milli_m
from monitor.journal import open_reader
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.events import EventKind
from monitor.model.flags import FlagReason
from monitor.model.hand_words import Taken, hand_payload, hand_value, round_values, round_words, spot_meant
from monitor.model.readings import hand_series
from monitor.model.settings import Settings
from monitor.model.units import to_milli
from monitor.notices import meaning

_OPTIONS = ("at", "by", "note", "with", "depth", "again")


def reading_entry(
    configuration: Configuration, place: str, rest: tuple[str, ...], given: Mapping[str, Any], at: int
) -> Entry:
    """Return a temperature taken by hand at `at` (UTC ms); without a unit, the site's own is meant.

    Raises:
        MisuseError: It cannot be meant.
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
    """Return the values of a place's spots, read in one round that ended at `at` (UTC ms).

    Raises:
        MisuseError: It cannot be meant.
    """
    allow("round", given, _OPTIONS)
    settings = configuration.settings
    _place(settings, place)
    taken = round_values(settings, place, rest)
    remark = f"Not read: {', '.join(taken.unread)}." if taken.unread else ""
    return _entry(configuration, place, taken.read, given, at, remark)


def hand_meaning(settings: Settings, payload: Mapping[str, Any], now: int) -> str:
    """Return what readings by hand mean at `now` (UTC ms), in one sentence or two; "" where nothing is beyond a limit."""
    rows = payload.get("rows", ())
    where = settings.place_of_hand(rows[0][1]) if rows else None
    if where is None:
        return ""
    read = [(series, to_milli(micro, unit)) for _, series, micro, unit in rows]
    return meaning(settings, where[0], read, rows[0][0], now)


def said_beside(configuration: Configuration, payload: Mapping[str, Any]) -> list[str]:
    """Return what the yard knows beside readings by hand that were just written down, as sentences."""
    from monitor.app.yard.yard_view import yard_view  # noqa: PLC0415 (only a place with probes or a bed needs to look)
    from monitor.engine.hand_beside import beside_words  # noqa: PLC0415

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
    # Who read it, with what, how deep and what was remarked stand in the event beside its rows.
    told: dict[str, Any] = {name: given.get(name) for name in ("by", "note", "with")}
    if given.get("depth"):
        try:
            told["depth"] = length_milli_m(given["depth"])
        except UnfitError as fault:
            raise MisuseError(ended(f"--depth: {fault.wrong}; {fault.right}")) from fault
    payload = hand_payload(place, at, read, told, _taken_back(configuration, place, [spot for spot, _ in read], at))
    words = f"{configuration.settings.place_name(place)} {round_words(read)}"
    return Entry(EventKind.READINGS, payload, at, words, remark)


def _taken_back(configuration: Configuration, place: str, spots: Sequence[str], since: int) -> set[int]:
    """Return the instants (UTC ms) from `since` on at which a reading of these spots was taken back."""
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
