"""What one turn takes in: arrivals admitted by the settings, or set aside with a reason."""

from collections.abc import Sequence
from dataclasses import dataclass, field
from typing import Any, Protocol

from monitor.codec import Admission, Refused, shown_time
from monitor.conditioning import calibrate
from monitor.intake import Arrival, LinkChange, Token
from monitor.journal import Waiting
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading
from monitor.model.settings import Settings
from monitor.model.units import Quantity


@dataclass(frozen=True, slots=True)
class Aside:
    """Something set aside."""

    source: str
    reason: SetAside
    detail: str
    excerpt: bytes
    received: int


@dataclass(slots=True)
class Gathered:
    """All that one turn takes in."""

    messages: int = 0
    readings: list[Reading] = field(default_factory=list)
    ahead: list[tuple[str, int]] = field(default_factory=list)
    set_aside: list[Aside] = field(default_factory=list)
    waiting: list[Waiting] = field(default_factory=list)
    hot: list[list[Any]] = field(default_factory=list)
    links: list[LinkChange] = field(default_factory=list)
    tokens: dict[str, list[Token]] = field(default_factory=dict)

    def __bool__(self) -> bool:
        """Tell whether there is anything to commit or to acknowledge."""
        return bool(self.readings or self.ahead or self.set_aside or self.waiting or self.links or self.tokens)

    @property
    def anything(self) -> bool:
        """Whether there is anything to take in or to acknowledge."""
        return bool(self.messages or self.links or self.set_aside)


class AskedClock(Protocol):
    """What admission asks of the clock."""

    confirmed: bool

    @property
    def asks(self) -> bool:
        """Whether it wants to hear what nodes say of the time."""

    def probe_says(self, time_ms: int, who: str = "") -> None:
        """Note a probe's own time, and where it came from."""


class Gatherer:
    """Admits what arrives. While the clock is unconfirmed nothing is judged ahead: such values wait, in the journal.

    So their messages are acknowledged like all others: a node that is ahead, or a clock that is behind, never fills a
    broker's window.
    """

    def __init__(self, settings: Settings, clock: AskedClock) -> None:
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
        """Return the readings that an arrival holds, to be looked at only; nothing is noted."""
        admit, received = self._admission.admit, arrival.received
        admitted = (admit(heard, received, judge_ahead=judge_ahead) for heard in arrival.heard)
        return [one for one in admitted if isinstance(one, Reading)]

    def judged(self, waited: Sequence[Waiting], now: int) -> Gathered:
        """Return what becomes of readings that waited for the clock, by the clock as it is at `now` (UTC ms)."""
        into = Gathered()
        for one in waited:
            probe, time = one.reading.probe, one.reading.time
            if time <= now + self._ahead_ms:
                into.readings.append(one.reading)
                continue
            detail = f"{probe}: its time {shown_time(time)} has not come yet"
            excerpt = f"{time} {probe} {one.reading.micro} {one.reading.unit}".encode()
            into.set_aside.append(Aside(one.source, SetAside.AHEAD, detail, excerpt, one.received))
            into.ahead.append((probe, time))
        return into

    def _admit(self, arrival: Arrival, into: Gathered) -> None:
        received, admit, judge_ahead = arrival.received, self._admission.admit, self._clock.confirmed
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
            into.set_aside.append(Aside(arrival.source, reject.reason, reject.detail, excerpt, received))
        if arrival.token is not None:
            into.tokens.setdefault(arrival.source, []).append(arrival.token)

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
        into.set_aside.append(Aside(arrival.source, refused.reason, refused.detail, excerpt, arrival.received))
        if refused.reason is SetAside.AHEAD and refused.probe is not None and refused.time is not None:
            into.ahead.append((refused.probe, refused.time))
            for reading in self.understood(arrival, judge_ahead=False):
                if (reading.probe, reading.time) == (refused.probe, refused.time):
                    self._look_for_fire(reading, into)
