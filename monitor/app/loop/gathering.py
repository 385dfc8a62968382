"""Gathers the input of one turn: arrivals that the settings admit, and arrivals set aside with a reason."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any

from monitor.app.loop.clock import Clock
from monitor.app.loop.forecasts_heard import FIELDS, heard_forecasts
from monitor.codec import Admission, Refused, shown_time
from monitor.conditioning import calibrate
from monitor.intake import Arrival, LinkChange, Token
from monitor.journal import Tally, Waiting
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading
from monitor.model.settings import Settings
from monitor.model.units import Quantity


@dataclass(frozen=True, slots=True)
class Aside:
    """A value set aside: its source, the reason, a detail, the start of the message, and its arrival (UTC ms)."""

    source: str
    reason: SetAside
    detail: str
    excerpt: bytes
    received: int


ASIDE_KEPT = 100
"""Most values of one source that a turn keeps for one reason; further ones are counted (our choice): a flood of values that
nobody understands must cost little, and the quarantine has room for so many only."""


@dataclass(slots=True)
class Gathered:
    """The input of one turn.

    Attributes:
        messages: How many messages it comes from.
        readings: Readings to take in.
        ahead: (probe, time in UTC ms) of readings set aside because their time has not come yet.
        set_aside: Values set aside, at most `ASIDE_KEPT` of a source for one reason.
        counted_aside: The number of all others, by source and reason.
        waiting: Readings that wait until the clock is known.
        hot: Readings of fire heat among those that wait or are set aside, as (probe, value in millionths, unit, time).
        forecasts: Entries for the log that forecasts of the air become, if they are news.
        links: Changes of links.
        tokens: Messages to acknowledge after the commit, by source.
    """

    messages: int = 0
    readings: list[Reading] = field(default_factory=list)
    ahead: list[tuple[str, int]] = field(default_factory=list)
    set_aside: list[Aside] = field(default_factory=list)
    counted_aside: dict[tuple[str, SetAside], Tally] = field(default_factory=dict)
    _kept: dict[tuple[str, SetAside], int] = field(default_factory=dict)
    waiting: list[Waiting] = field(default_factory=list)
    hot: list[list[Any]] = field(default_factory=list)
    forecasts: list[dict[str, Any]] = field(default_factory=list)
    links: list[LinkChange] = field(default_factory=list)
    tokens: dict[str, list[Token]] = field(default_factory=dict)

    def __bool__(self) -> bool:
        """Return whether there is anything to commit or to acknowledge."""
        aside = self.set_aside or self.counted_aside
        return bool(self.readings or self.ahead or aside or self.waiting or self.links or self.tokens)

    def put_aside(self, one: Aside) -> None:
        """Set a value aside; if many came before it for the same reason, only count it."""
        key = (one.source, one.reason)
        kept = self._kept.get(key, 0)
        if kept < ASIDE_KEPT:
            self._kept[key] = kept + 1
            self.set_aside.append(one)
        else:
            self.count_aside(Tally(one.source, one.reason, 1, one.received))

    def count_aside(self, more: Tally) -> None:
        """Count values that are set aside and not kept."""
        key = (more.source, more.reason)
        known = self.counted_aside.get(key)
        if known is not None:
            more = more._replace(total=known.total + more.total, latest=max(known.latest, more.latest))
        self.counted_aside[key] = more


class Gatherer:
    """Admits arrivals. While the clock is unconfirmed, no value is judged to be ahead; doubtful values wait in the journal.

    So their messages are acknowledged like any other, and neither a node that is ahead nor a clock that is behind can fill a
    broker's window.
    """

    def __init__(self, settings: Settings, clock: Clock) -> None:
        self._clock = clock
        self.use(settings)

    def use(self, settings: Settings) -> None:
        """Admit by these settings from now on."""
        self.settings = settings
        self._admission = Admission(settings)
        self._ahead_ms = settings.probe_thresholds.ahead_ms
        self._fire_milli = min((pile.thresholds.fire_milli_c for pile in settings.piles.values()), default=None)

    def take(self, arrival: Arrival, into: Gathered) -> None:
        """Admit one arrival's values."""
        if self._clock.asks:
            says = max((heard.time for heard in arrival.heard if heard.time is not None), default=None)
            if says is not None:
                self._clock.probe_says(says, f"{arrival.source} {arrival.origin}")
        into.messages += 1
        self._admit(arrival, into)

    def understood(self, arrival: Arrival, *, judge_ahead: bool = True) -> list[Reading]:
        """Return the readings of an arrival for a look; nothing is noted."""
        admit, received = self._admission.admit, arrival.received
        admitted = (admit(heard, received, judge_ahead=judge_ahead) for heard in arrival.heard)
        return [one for one in admitted if isinstance(one, Reading)]

    def judged(self, waited: Sequence[Waiting], now: int) -> Gathered:
        """Return the fate of readings that waited for the clock, now that it says `now` (UTC ms)."""
        into = Gathered()
        for one in waited:
            probe, time = one.reading.probe, one.reading.time
            if time <= now + self._ahead_ms:
                into.readings.append(one.reading)
                continue
            detail = f"{probe}: its time {shown_time(time)} has not come yet"
            excerpt = f"{time} {probe} {one.reading.micro} {one.reading.unit}".encode()
            into.put_aside(Aside(one.source, SetAside.AHEAD, detail, excerpt, one.received))
            into.ahead.append((probe, time))
        return into

    def _admit(self, arrival: Arrival, into: Gathered) -> None:
        received, admit, judge_ahead = arrival.received, self._admission.admit, self._clock.confirmed
        if any(heard.address in FIELDS for heard in arrival.heard):
            arrival = self._take_forecasts(arrival, into)
        for heard in arrival.heard:
            found = admit(heard, received, judge_ahead=judge_ahead)
            if isinstance(found, Refused):
                self._refuse(arrival, found, into)
            elif judge_ahead or heard.time is None or heard.time <= received + self._ahead_ms:
                into.readings.append(found)
            else:
                into.waiting.append(Waiting(arrival.source, received, found))
                self._look_for_fire(found, into)
        for reject in arrival.rejects:
            excerpt = reject.excerpt.encode("utf-8", "replace")
            into.put_aside(Aside(arrival.source, reject.reason, reject.detail, excerpt, received))
        if arrival.token is not None:
            into.tokens.setdefault(arrival.source, []).append(arrival.token)

    def _take_forecasts(self, arrival: Arrival, into: Gathered) -> Arrival:
        """Take the forecasts of the air out of an arrival, unless a probe has their address; return the rest."""
        taken = FIELDS.keys() - {probe.address for probe in self.settings.probes.values()}
        mine = [heard for heard in arrival.heard if heard.address in taken]
        found = heard_forecasts(arrival, mine, self.settings)
        into.forecasts += found.entries
        for reason, detail in found.refused:
            into.put_aside(Aside(arrival.source, reason, detail, arrival.raw[:200], arrival.received))
        return arrival._replace(heard=tuple(heard for heard in arrival.heard if heard.address not in taken))

    def _look_for_fire(self, reading: Reading, into: Gathered) -> None:
        """Note a reading of fire heat that waits or is set aside: a fire does not wait for a clock."""
        probe = self.settings.probes.get(reading.probe)
        if self._fire_milli is None or probe is None or probe.quantity is not Quantity.TEMPERATURE:
            return
        milli = calibrate(reading.micro, reading.unit, probe, reading.time)
        if milli is not None and milli >= self._fire_milli:
            into.hot.append([reading.probe, reading.micro, reading.unit, reading.time])

    def _refuse(self, arrival: Arrival, refused: Refused, into: Gathered) -> None:
        excerpt = arrival.raw[:200]
        into.put_aside(Aside(arrival.source, refused.reason, refused.detail, excerpt, arrival.received))
        if refused.reason is SetAside.AHEAD and refused.probe is not None and refused.time is not None:
            into.ahead.append((refused.probe, refused.time))
            for reading in self.understood(arrival, judge_ahead=False):
                if (reading.probe, reading.time) == (refused.probe, refused.time):
                    self._look_for_fire(reading, into)
