"""The meaning of a reading taken by hand, told as soon as it is logged; the daemon need not run for it."""

from collections.abc import Sequence
from typing import NamedTuple
from zoneinfo import ZoneInfo

from monitor.model.alarm_kinds import About, Alarm, WrongSide, read_alarms
from monitor.model.settings import Settings
from monitor.model.times import HOUR_MS, MINUTE_MS, show_duration
from monitor.model.units import show_temperature
from monitor.notices.facts import Phrases
from monitor.notices.instants import said
from monitor.notices.known import Facts
from monitor.notices.localtime import say_span
from monitor.notices.names import clean
from monitor.notices.texts import WORDS


class Meant(NamedTuple):
    """A limit that a reading is beyond: the alarm, the limit (thousandths of °C), how long it must stay so (ms)."""

    alarm: Alarm
    limit: int
    dwell_ms: int


def beyond(settings: Settings, place: str, milli: int) -> Meant | None:
    """Return the worst limit of a place that a temperature is beyond.

    Args:
        settings: Limits of the yard's places.
        place: A pile or a bin.
        milli: The temperature, thousandths of °C.

    Returns:
        The limit, or None where the temperature is within all of them or the settings do not know the place.
    """
    pile, bed = settings.piles.get(place), settings.bins.get(place)
    known = pile or bed
    if known is None:
        return None
    for alarm in read_alarms(About.HEAP if pile is not None else About.BED):
        for one in alarm.kind.limits:
            limit = int(getattr(known.thresholds, one.field))
            past = milli > limit if alarm.kind.side is WrongSide.ABOVE else milli < limit
            if past or (one.at and milli == limit):
                return Meant(alarm, limit, int(getattr(known.thresholds, one.dwell)) if one.dwell else 0)
    return None


def meaning(settings: Settings, place: str, read: Sequence[tuple[str, int]], time: int, now: int) -> str:
    """Return a sentence about the worst of some readings by hand, and what to do; "" where none is beyond a limit.

    Args:
        settings: Limits, names, unit and time zone.
        place: A pile or a bin.
        read: (series, thousandths of °C) of each spot.
        time: When they were read, UTC ms.
        now: When the sentence is shown, UTC ms.
    """
    found = [(series, milli, meant) for series, milli in read if (meant := beyond(settings, place, milli)) is not None]
    if not found:
        return ""
    # The reading furthest beyond the worst limit speaks for all.
    series, milli, meant = max(found, key=lambda one: _gravity(one[1], one[2]))
    say = Phrases(
        Facts(place=place, probe=series, value_milli=milli, limit_milli=meant.limit, since=time, now=now), settings
    )
    words = WORDS[meant.alarm]
    # A test sees to it that each alarm with limits has both.
    assert words.read is not None
    assert words.advice is not None
    stays = f" for {show_duration(meant.dwell_ms)} or longer" if meant.dwell_ms else ""
    bound = f"if it stays beyond {say.limit}{stays}" if stays else f"(limit {say.limit})"
    ago = show_duration((now - time) // HOUR_MS * HOUR_MS)
    old = f" That was {ago} ago: read it again." if now - time >= HOUR_MS else ""
    doubt = f" {_UNPROVEN}" if milli > settings.probe_thresholds.gross_high_milli_c else ""
    text = f"{say.exact(milli)} {words.read(say)} {bound}: {_lower(words.advice(say))}{old}{doubt}"
    return said(text, now, ZoneInfo(settings.site.time_zone))


def read_words(
    settings: Settings, place: str, extremes: tuple[int, int], spots: int, by: str, ago_ms: int, *, why_not: str = ""
) -> str:
    """Return the last round by hand in words: `145 °F by hand, Ann, 3 h ago, coldest of 4`; in a bin, the hottest.

    A round that no longer counts is shown all the same, with the reason: a number that vanishes looks as if it never was.

    Args:
        settings: Which places are bins, and the unit.
        place: A pile or a bin.
        extremes: The coldest and the hottest reading of the round, thousandths of °C.
        spots: How many spots were read.
        by: Who read it, "" if nobody said.
        ago_ms: How long ago, ms.
        why_not: Why the round no longer counts, "" where it does.
    """
    is_bin = place in settings.bins
    shown = show_temperature(extremes[1] if is_bin else extremes[0], settings.site.temperature_unit)
    which = f"{'hottest' if is_bin else 'coldest'} of {spots}" if spots > 1 else ""
    ago = "just now" if ago_ms < MINUTE_MS else f"{say_span(ago_ms)} ago"
    said = (f"{shown} by hand", clean(by) if by else "", ago, which)
    words = ", ".join(one for one in said if one)
    return f"{words}: {why_not}" if why_not else words


_UNPROVEN = "So hot a reading proves nothing. If the other unit was meant, take it back and write it anew."


def _gravity(milli: int, meant: Meant) -> tuple[tuple[int, bool, bool], int, int]:
    """Return a sort key: the greatest is that of the worst reading."""
    further = milli if meant.alarm.kind.side is WrongSide.ABOVE else -milli
    return meant.alarm.kind.urgency, -meant.dwell_ms, further


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
