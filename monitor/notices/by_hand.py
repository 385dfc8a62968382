"""What a reading taken by hand means, said in the same breath as that it was written down; nobody needs the daemon for it."""

from collections.abc import Sequence
from typing import NamedTuple
from zoneinfo import ZoneInfo

from monitor.model.settings import Settings
from monitor.model.times import HOUR_MS, MINUTE_MS, show_duration
from monitor.model.units import show_temperature
from monitor.notices.advice import ADVICE
from monitor.notices.facts import Facts, Phrases
from monitor.notices.instants import said
from monitor.notices.localtime import say_span
from monitor.notices.names import clean


class Meant(NamedTuple):
    """A limit that a reading is beyond: the alarm, the limit (thousandths of °C), how long it must stay so (ms)."""

    alarm: str
    limit: int
    dwell_ms: int


def beyond(settings: Settings, place: str, milli: int) -> Meant | None:
    """Return the worst limit of a place that a temperature (thousandths of °C) is beyond, or None."""
    pile, bed = settings.piles.get(place), settings.bins.get(place)
    if pile is not None:
        heat = pile.thresholds
        for alarm, limit, dwell in (
            ("fire", heat.fire_milli_c, 0),
            ("too-hot", heat.too_hot_milli_c, 0),
            ("hot", heat.hot_milli_c, heat.hot_dwell_ms),
        ):
            if milli >= limit:
                return Meant(alarm, limit, dwell)
    elif bed is not None:
        warm = bed.thresholds
        if milli > warm.danger_any_milli_c:
            return Meant("worms-in-danger", warm.danger_any_milli_c, 0)
        if milli > warm.danger_all_milli_c:
            return Meant("worms-in-danger", warm.danger_all_milli_c, warm.danger_all_dwell_ms)
        if milli >= warm.overheating_milli_c:
            return Meant("overheating", warm.overheating_milli_c, warm.overheating_dwell_ms)
        for limit in (warm.freezing_milli_c, warm.near_freezing_milli_c):
            if milli <= limit:
                return Meant("freezing", limit, 0)
    return None


def meaning(settings: Settings, place: str, read: Sequence[tuple[str, int]], time: int, now: int) -> str:
    """Return what readings by hand of one place at one time mean, or "" where they are beyond no limit.

    Args:
        settings: Limits, names, unit.
        place: A pile or a bin.
        read: (series, thousandths of °C) of each spot.
        time: When it was read, UTC ms.
        now: When it is said, UTC ms.
    """
    worst: tuple[int, str, int, Meant] | None = None
    for series, milli in read:
        found = beyond(settings, place, milli)
        if found is not None:
            rank = _RANKS.index(found.alarm)
            # The one furthest beyond the worst limit speaks for all.
            rest = milli if found.alarm == "freezing" else -milli
            if worst is None or (rank, found.dwell_ms, rest) < (worst[0], worst[3].dwell_ms, _rest(worst)):
                worst = (rank, series, milli, found)
    if worst is None:
        return ""
    _, series, milli, meant = worst
    say = Phrases(
        Facts(place=place, probe=series, value_milli=milli, limit_milli=meant.limit, since=time, now=now), settings
    )
    name = "is below freezing" if meant.alarm == "freezing" and milli < 0 else _IS[meant.alarm]
    advice = ADVICE[meant.alarm](say)
    stays = f" for {show_duration(meant.dwell_ms)} or longer" if meant.dwell_ms else ""
    bound = f"if it stays beyond {say.limit}{stays}" if stays else f"(limit {say.limit})"
    ago = show_duration((now - time) // HOUR_MS * HOUR_MS)
    old = f" That was {ago} ago: read it again." if now - time >= HOUR_MS else ""
    doubt = f" {_UNPROVEN}" if milli > settings.probe_thresholds.gross_high_milli_c else ""
    text = f"{say.value} {name} {bound}: {_lower(advice)}{old}{doubt}"
    return said(text, now, ZoneInfo(settings.site.time_zone))


def read_words(
    settings: Settings, place: str, extremes: tuple[int, int], spots: int, by: str, ago_ms: int, *, why_not: str = ""
) -> str:
    """Return what was read last: `145 °F by hand, Ann, 3 h ago, coldest of 4`; in a bin, hottest.

    What counts no longer is said all the same, with its age and that: a number that vanishes looks like one that never was.

    Args:
        settings: Which places are bins, and the unit.
        place: A pile or a bin.
        extremes: The coldest and the hottest of the round, thousandths of °C.
        spots: How many spots were read.
        by: Who read it, "" if nobody said.
        ago_ms: How long ago, ms.
        why_not: Why it counts no longer, "" where it does.
    """
    is_bin = place in settings.bins
    shown = show_temperature(extremes[1] if is_bin else extremes[0], settings.site.temperature_unit)
    which = f"{'hottest' if is_bin else 'coldest'} of {spots}" if spots > 1 else ""
    ago = "just now" if ago_ms < MINUTE_MS else f"{say_span(ago_ms)} ago"
    said = (f"{shown} by hand", clean(by) if by else "", ago, which)
    words = ", ".join(one for one in said if one)
    return f"{words}: {why_not}" if why_not else words


_IS = {
    "fire": "is fire danger",
    "too-hot": "is too hot",
    "hot": "is hot",
    "worms-in-danger": "puts the worms in danger",
    "overheating": "is too warm",
    "freezing": "is close to freezing",
}
_UNPROVEN = "So hot a reading proves nothing. If the other unit was meant, take it back and write it anew."
_RANKS = ("fire", "worms-in-danger", "too-hot", "freezing", "overheating", "hot")
"""Alarms that a hand reading can mean, the worst first."""


def _rest(worst: tuple[int, str, int, Meant]) -> int:
    return worst[2] if worst[3].alarm == "freezing" else -worst[2]


def _lower(sentence: str) -> str:
    return sentence[:1].lower() + sentence[1:]
