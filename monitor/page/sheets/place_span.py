"""Chooses the span of time over which a place is shown."""

from collections.abc import Mapping
from typing import NamedTuple
from zoneinfo import ZoneInfo

from monitor.model.times import DAY_MS, HOUR_MS
from monitor.page.places.page_times import from_text
from monitor.page.places.place_view import PlaceView
from monitor.page.ports import Look

SPANS = {"day": DAY_MS, "3days": 3 * DAY_MS, "2weeks": 14 * DAY_MS}
SHORTEST_MS = HOUR_MS
DEFAULT_MOST_MS = 92 * DAY_MS
"""The longest life of a heap shown by default; an older heap shows two weeks, so that no view reads a year unasked."""
LONGEST_MS = 3 * 366 * DAY_MS


class Span(NamedTuple):
    """A span of time (UTC ms), and the name by which it was chosen, or ""."""

    start: int
    end: int
    chosen: str


def span_of(given: Mapping[str, str], look: Look, view: PlaceView) -> Span:
    """Return the span that an address asks for; by default a heap's life, or a bin's last 3 days.

    Args:
        given: The address's query: `span`, or `from` and `to`.
        look: The look.
        view: The place.
    """
    zone = ZoneInfo(look.engine.state.settings.site.time_zone)
    start, end = from_text(given.get("from", ""), zone), from_text(given.get("to", ""), zone)
    if start is not None and end is not None and end < start:
        start, end = end, start  # the order does not matter: the time between them is meant
    if start is not None and end is not None and SHORTEST_MS <= end - start <= LONGEST_MS:
        return Span(start, min(end, look.now + DAY_MS), "")
    chosen = given.get("span", "")
    if chosen not in SPANS and not (chosen == "built" and view.built is not None):
        young = view.built is not None and look.now - view.built <= DEFAULT_MOST_MS
        chosen = "built" if young else "2weeks" if view.built is not None else "3days"
    if chosen == "built" and view.built is not None:
        return Span(min(view.built, look.now - SHORTEST_MS), look.now, chosen)
    return Span(look.now - SPANS[chosen], look.now, chosen)
