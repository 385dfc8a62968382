"""The word of the evening before: when the daemon looks ahead, and the event that it makes of it.

1. From the evening hour on it looks, and again each hour for three hours, until it has told something: a forecast may still
   be typed in. A daemon that starts later that evening looks at once.
2. Where the digest is written within two hours of that, later than 15:00, the word goes in it, as lines.
3. Nobody is told of a bin and a trouble again within three days, nor while its alarm is on, nor after somebody covered it.
"""

import logging
from datetime import timedelta
from functools import partial
from zoneinfo import ZoneInfo

from monitor.app.evening import PlaceAhead, TomorrowAhead, look_ahead, read_forecast_file
from monitor.app.loop.hub import Hub
from monitor.app.yard.yard_view import yard_view
from monitor.configuration import Configuration
from monitor.engine import Engine
from monitor.forecast import AGAIN_AFTER_DAYS, Trouble
from monitor.journal import Store
from monitor.model.event_shapes import wrong_shape
from monitor.model.events import EventKind
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.notices import instant, local

log = logging.getLogger("heaptender")

LOOKS_FOR_MS = 3 * HOUR_MS
"""For how long after the evening hour it still looks (ours)."""
JOINED_MINUTES, EARLIEST_MINUTE, BEFORE_MINUTES = 120, 15 * 60, 5
"""How near the digest must be to take the word in, from when on in the day, and how long before it the word is ready (ours)."""


class EveningWord:
    """Looks ahead in the evening; `due` may be asked often, and on the writer's thread."""

    def __init__(self, hub: Hub, configuration: Configuration) -> None:
        self._hub = hub
        self._configuration = configuration
        self._next: int | None = None
        self._read = 0

    def due(self) -> bool:
        """Return whether it should look now."""
        now = self._hub.clock.now_ms()
        if not self._configuration.evening.tell or (self._next is not None and now < self._next):
            return False
        start, _ = evening_start(self._configuration, now)
        if not start <= now < start + LOOKS_FOR_MS:
            self._next = start if now < start else min(start + 12 * HOUR_MS, now + HOUR_MS)
            return False
        return True

    def read_file(self) -> None:
        """Read the file of forecasts, if there is one and it has changed; not for the writer's thread."""
        path = self._configuration.forecast_file
        if path is None:
            return
        try:
            changed = path.stat().st_mtime_ns
        except OSError:
            return  # whatever writes it has not come yet
        if changed == self._read:
            return
        self._read = changed
        now = self._hub.clock.now_ms()
        settings = self._configuration.settings
        today = local(now, ZoneInfo(settings.site.time_zone)).date()
        found = read_forecast_file(path, settings, today, now)
        for fault in found.faults:
            log.warning("The forecast: %s.", fault)
        for entry in found.entries:
            self._hub.call(partial(self._hub.forecast, entry))

    def look(self) -> None:
        """Look at the record, and have an event fed if there is something to tell; not for the writer's thread."""
        now = self._hub.clock.now_ms()
        self._next = now + HOUR_MS
        with yard_view(self._configuration) as view:
            payload = evening_event(view.engine, view.store, self._configuration, now)
        if payload is not None:
            self._hub.call(partial(self._hub.event, EventKind.EVENING, payload))


def evening_start(configuration: Configuration, now: int) -> tuple[int, bool]:
    """Return when (UTC ms) the word of this local day's evening is due, and whether it goes in the digest.

    Args:
        configuration: The configuration in force.
        now: An instant of that day, UTC ms.
    """
    zone = ZoneInfo(configuration.settings.site.time_zone)
    today, minute = local(now, zone).date(), configuration.evening.minute
    digest = configuration.settings.notices.digest_minute
    if digest >= EARLIEST_MINUTE and abs(digest - minute) <= JOINED_MINUTES:
        return instant(today, digest - BEFORE_MINUTES, zone), now < instant(today, digest, zone)
    return instant(today, minute, zone), False


def evening_event(engine: Engine, store: Store, configuration: Configuration, now: int) -> dict[str, object] | None:
    """Return the payload of the event that tells what tomorrow is expected to bring; None if there is nothing to tell.

    Args:
        engine: An engine at the end of the record.
        store: The journal.
        configuration: The configuration in force.
        now: The instant of the look, UTC ms.
    """
    tomorrow = str(local(now, ZoneInfo(configuration.settings.site.time_zone)).date() + timedelta(days=1))
    if engine.state.evening >= tomorrow:
        return None
    lately = _told_lately(store, now)
    for one in look_ahead(engine, store, configuration.evening, now):
        if one.trouble is Trouble.FROST and not configuration.evening.frost:
            continue  # the diary has it; in the simulator it was not right often enough for a message
        told = lately.get(one.trouble.value, set())
        places = [place for place in one.places if place.worth_telling and place.place not in told]
        if places:
            return _payload(one, places, joins=evening_start(configuration, now)[1])
    return None


def _payload(one: TomorrowAhead, places: list[PlaceAhead], *, joins: bool) -> dict[str, object]:
    return {
        "day": str(one.air.day),
        "what": one.trouble.value,
        "milli_c": one.air.milli_c,
        "whence": one.air.whence.value,
        "by": one.air.by,
        "joins": joins,
        "places": [
            {
                "place": place.place,
                "limit_milli_c": place.limit,
                "days": place.expected.days,
                "last": str(place.expected.last),
            }
            for place in places
        ],
    }


def _told_lately(store: Store, now: int) -> dict[str, set[str]]:
    """Return the places of which people were told within the last days, by trouble."""
    found: dict[str, set[str]] = {}
    since = now - AGAIN_AFTER_DAYS * DAY_MS - DAY_MS // 2
    for event in store.events_of(EventKind.EVENING):
        if event.at > since and not wrong_shape(event.kind, event.payload):
            places = {str(one["place"]) for one in event.payload["places"]}
            found.setdefault(str(event.payload["what"]), set()).update(places)
    return found
