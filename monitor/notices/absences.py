"""Absences of contacts, and the times at which they leave nobody on duty.

Rules: whoever is away is off duty. The times told here are those for which somebody would be on duty if nobody were away;
a yard that plans nobody for its nights is not told so each time somebody leaves.
"""

from collections.abc import Iterable, Sequence
from datetime import timedelta

from monitor.model.settings import Contact
from monitor.model.times import DAY_MS, MINUTE_MS
from monitor.notices.localtime import DAY_MINUTES, instant, local, say_time
from monitor.notices.names import clean, join_names
from monitor.notices.roster import Roster

Span = tuple[int, int]
"""From (inclusive) and to (exclusive), UTC ms."""

SHOWN = 3
"""Times told one by one; the rest are counted."""


def left_alone(roster: Roster, start: int, end: int) -> dict[str, list[Span]]:
    """Return the times at which nobody is on duty for a place because people are away.

    Args:
        roster: Contacts and their absences.
        start: The first instant to look at, UTC ms.
        end: The instant after the last, UTC ms.

    Returns:
        By place, or by "" in a yard without places, the times in order; places that are never left alone are missing.
    """
    if end <= start or not roster.absences:
        return {}
    duty = {one: _on_duty(roster, contact, start, end) for one, contact in roster.contacts.items()}
    away = {one: _merged(_clipped(_absent(roster, one), start, end)) for one in roster.contacts}
    there = {one: _without(duty[one], away[one]) for one in roster.contacts}
    found = {}
    for place in [*roster.settings.piles, *roster.settings.bins] or [""]:
        own = roster.caretakers(place)
        planned = _merged(span for one in own for span in duty[one])
        present = [span for one in own for span in there[one]]
        # While all who look after a place are away, everybody else does.
        all_away = [(start, end)]
        for one in own:
            all_away = _common(all_away, away[one])
        others = _merged(span for one in roster.contacts if one not in own for span in there[one])
        gaps = _without(planned, _merged([*present, *_common(others, all_away)]))
        if gaps := [gap for gap in gaps if gap[1] - gap[0] >= MINUTE_MS]:
            found[place] = gaps
    return found


def alone_sentences(roster: Roster, start: int, end: int, now: int) -> list[str]:
    """Return a sentence for each group of places that absences leave without anybody on duty.

    Args:
        roster: Contacts and their absences.
        start: The first instant to look at, UTC ms.
        end: The instant after the last, UTC ms.
        now: When the words are read, UTC ms.
    """
    groups: dict[tuple[Span, ...], list[str]] = {}
    for place, gaps in left_alone(roster, start, end).items():
        groups.setdefault(tuple(gaps), []).append(place)
    every = len(roster.settings.piles) + len(roster.settings.bins)
    said = []
    for spans, places in groups.items():
        gaps = list(spans)
        names = join_names([clean(roster.settings.place_name(one)) for one in places])
        whose = "" if len(places) >= every else f" for {names}"
        told = join_names([clean(roster.contacts[one].name) for one in roster.first(places[0], gaps[0][0])])
        said.append(f"Nobody is on duty{whose} {_times(gaps, now, roster)}; {told} would be told all the same.")
    return said


def away_words(roster: Roster, start: int, end: int, now: int) -> str:
    """Return who is away when, as a sentence; "" if nobody is.

    Args:
        roster: Contacts and their absences.
        start: The first instant to look at, UTC ms.
        end: The instant after the last, UTC ms.
        now: When the words are read, UTC ms.
    """
    said = []
    for one, contact in roster.contacts.items():
        for begins, ends in _merged(_absent(roster, one)):
            if begins < end and ends > start:
                since = f"from {_time(begins, now, roster)} " if begins > now else ""
                said.append(f"{clean(contact.name)} {since}until {_time(ends, now, roster)}")
    return f"Away: {'; '.join(said)}." if said else ""


def _times(gaps: Sequence[Span], now: int, roster: Roster) -> str:
    said = [f"from {_time(start, now, roster)} to {_time(end, now, roster)}" for start, end in gaps[:SHOWN]]
    more = len(gaps) - SHOWN
    return ", ".join(said) + (f", and {more} more times" if more > 1 else ", and one more time" if more == 1 else "")


def _time(at: int, now: int, roster: Roster) -> str:
    return say_time(at, now, roster.zone)


def _absent(roster: Roster, contact: str) -> list[Span]:
    return [(one.start, one.end) for one in roster.absences if one.contact == contact]


def _on_duty(roster: Roster, contact: Contact, start: int, end: int) -> list[Span]:
    if not contact.duty:
        return [(start, end)]
    spans = []
    day = local(start - DAY_MS, roster.zone).date()
    last = local(end, roster.zone).date()
    while day <= last:
        for window in contact.duty:
            if day.isoweekday() in window.days:
                over = window.end_minute <= window.start_minute
                ends = window.end_minute + (DAY_MINUTES if over else 0)
                spans.append((instant(day, window.start_minute, roster.zone), instant(day, ends, roster.zone)))
        day += timedelta(days=1)
    return _merged(_clipped(spans, start, end))


def _clipped(spans: Iterable[Span], start: int, end: int) -> list[Span]:
    return [(max(one, start), min(two, end)) for one, two in spans if one < end and two > start]


def _merged(spans: Iterable[Span]) -> list[Span]:
    """Return spans in order, those that touch or overlap as one."""
    found: list[Span] = []
    for start, end in sorted(spans):
        if found and start <= found[-1][1]:
            found[-1] = (found[-1][0], max(found[-1][1], end))
        else:
            found.append((start, end))
    return found


def _common(some: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    """Return the times that are in both; each is in order and without overlaps."""
    found, at, beside = [], 0, 0
    while at < len(some) and beside < len(others):
        start, end = max(some[at][0], others[beside][0]), min(some[at][1], others[beside][1])
        if start < end:
            found.append((start, end))
        if some[at][1] < others[beside][1]:
            at += 1
        else:
            beside += 1
    return found


def _without(some: Sequence[Span], others: Sequence[Span]) -> list[Span]:
    """Return the times that are in the first alone; each is in order and without overlaps."""
    if not some:
        return []
    first, last = some[0][0], some[-1][1]
    edges = [first, *(edge for span in _clipped(others, first, last) for edge in span), last]
    outside = [(start, end) for start, end in zip(edges[::2], edges[1::2], strict=True) if start < end]
    return _common(some, outside)
