"""What one turn takes in: arrivals admitted by the settings, or set aside with a reason."""

from dataclasses import dataclass, field
from typing import Protocol

from monitor.codec import Admission, Refused
from monitor.intake import Arrival, LinkChange, Token
from monitor.journal import Request
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading
from monitor.model.settings import Settings
from monitor.model.work import WorkKind


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
    links: list[LinkChange] = field(default_factory=list)
    tokens: dict[str, list[Token]] = field(default_factory=dict)


class AskedClock(Protocol):
    """What admission asks of the clock."""

    confirmed: bool

    def probe_says(self, time_ms: int) -> None:
        """Note a probe's own time."""


class Gatherer:
    """Admits what arrives. While the clock is unconfirmed nothing is judged ahead: such messages wait."""

    def __init__(self, settings: Settings, clock: AskedClock) -> None:
        self._clock = clock
        self._waiting: list[Arrival] = []
        self.use(settings)

    def use(self, settings: Settings) -> None:
        """Admit by these settings from now on."""
        self.settings = settings
        self._admission = Admission(settings)
        self._ahead_ms = settings.probe_thresholds.ahead_ms

    def take(self, arrival: Arrival, into: Gathered) -> None:
        """Admit one arrival's values."""
        confirmed = self._clock.confirmed
        received = arrival.received
        if not confirmed:
            for heard in arrival.heard:
                if heard.time is not None:
                    self._clock.probe_says(heard.time)
            latest = max((heard.time or 0 for heard in arrival.heard), default=0)
            if latest > received + self._ahead_ms:
                self._waiting.append(arrival)
                return
        into.messages += 1
        admit = self._admission.admit
        for heard in arrival.heard:
            found = admit(heard, received, judge_ahead=confirmed)
            if isinstance(found, Refused):
                self._refuse(arrival, found, into)
            else:
                into.readings.append(found)
        for reject in arrival.rejects:
            excerpt = reject.excerpt.encode()
            into.set_aside.append(Aside(arrival.source, reject.reason, reject.detail, excerpt, received))
        if arrival.token is not None:
            into.tokens.setdefault(arrival.source, []).append(arrival.token)

    def released(self) -> list[Arrival]:
        """Return what waited for the clock, to be offered again."""
        waiting, self._waiting = self._waiting, []
        return waiting

    def judge(self, request: Request) -> str:
        """Return why a request of another command cannot be taken in, or "" if it can."""
        payload = request.payload
        place = payload.get("place")
        if "kind" in payload and place is not None:
            known = {"", "ambient", *self.settings.piles, *self.settings.bins}
            if place not in known:
                return f"there is no pile or bin {place!r} here; there are {', '.join(sorted(known - {''}))}"
            if payload["kind"] not in set(WorkKind):
                return f"{payload['kind']!r} is no kind of work; those are {', '.join(WorkKind)}"
        return ""

    def _refuse(self, arrival: Arrival, refused: Refused, into: Gathered) -> None:
        excerpt = arrival.raw[:200]
        into.set_aside.append(Aside(arrival.source, refused.reason, refused.detail, excerpt, arrival.received))
        if refused.reason is SetAside.AHEAD and refused.probe is not None and refused.time is not None:
            into.ahead.append((refused.probe, refused.time))
