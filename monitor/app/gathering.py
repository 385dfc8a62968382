"""What one turn takes in: arrivals admitted by the settings, or set aside with a reason."""

from dataclasses import dataclass, field
from typing import Protocol

from monitor.app.refusals import refusal
from monitor.codec import Admission, Refused
from monitor.intake import Arrival, LinkChange, Token
from monitor.journal import Request
from monitor.model.quarantine import SetAside
from monitor.model.readings import Reading
from monitor.model.settings import Settings


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

    def __bool__(self) -> bool:
        """Tell whether there is anything to commit or to acknowledge."""
        return bool(self.readings or self.ahead or self.set_aside or self.links or self.tokens)

    @property
    def anything(self) -> bool:
        """Whether there is anything to take in or to acknowledge."""
        return bool(self.messages or self.links or self.set_aside)


class AskedClock(Protocol):
    """What admission asks of the clock."""

    confirmed: bool

    def probe_says(self, time_ms: int) -> None:
        """Note a probe's own time."""


WAITING_MAX = 20_000
"""How many messages may wait for the clock; beyond that the oldest is judged by the clock as it is."""


class Gatherer:
    """Admits what arrives. While the clock is unconfirmed nothing is judged ahead: such values wait.

    What waits is not acknowledged: a message's other values are taken in at once, and come twice after a crash, which the
    journal knows by their key.
    """

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
        if not self._clock.confirmed:
            arrival = self._without_future(arrival)
        into.messages += 1
        self._admit(arrival, into, judge_ahead=self._clock.confirmed)
        while len(self._waiting) > WAITING_MAX:
            self._admit(self._waiting.pop(0), into, judge_ahead=True)

    def understood(self, arrival: Arrival) -> list[Reading]:
        """Return the readings that an arrival holds, to be looked at only; nothing is noted."""
        admitted = (self._admission.admit(heard, arrival.received) for heard in arrival.heard)
        return [one for one in admitted if isinstance(one, Reading)]

    def released(self, now: int) -> list[Arrival]:
        """Return what waited for the clock, to be offered again as if it came at `now` (UTC ms): when it came, nobody knew."""
        waiting, self._waiting = self._waiting, []
        return [arrival._replace(received=now) for arrival in waiting]

    def forget_unacknowledged(self) -> None:
        """Drop what waits and will come again by itself, because its source is replaced."""
        self._waiting = [arrival for arrival in self._waiting if arrival.token is None]

    def _without_future(self, arrival: Arrival) -> Arrival:
        """Tell the clock what the probes say; keep back the values that are ahead of it, and return the rest."""
        future = []
        for heard in arrival.heard:
            if heard.time is not None:
                self._clock.probe_says(heard.time)
                if heard.time > arrival.received + self._ahead_ms:
                    future.append(heard)
        if not future:
            return arrival
        self._waiting.append(arrival._replace(heard=tuple(future), rejects=()))
        rest = tuple(
            heard for heard in arrival.heard if heard.time is None or heard.time <= arrival.received + self._ahead_ms
        )
        return arrival._replace(heard=rest, token=None)

    def _admit(self, arrival: Arrival, into: Gathered, *, judge_ahead: bool) -> None:
        received, admit = arrival.received, self._admission.admit
        for heard in arrival.heard:
            found = admit(heard, received, judge_ahead=judge_ahead)
            if isinstance(found, Refused):
                self._refuse(arrival, found, into)
            else:
                into.readings.append(found)
        for reject in arrival.rejects:
            excerpt = reject.excerpt.encode("utf-8", "replace")
            into.set_aside.append(Aside(arrival.source, reject.reason, reject.detail, excerpt, received))
        if arrival.token is not None:
            into.tokens.setdefault(arrival.source, []).append(arrival.token)

    def judge(self, request: Request) -> str:
        """Return why a request of another command cannot be taken in, or "" if it can."""
        return refusal(request.kind, request.payload, self.settings)

    def _refuse(self, arrival: Arrival, refused: Refused, into: Gathered) -> None:
        excerpt = arrival.raw[:200]
        into.set_aside.append(Aside(arrival.source, refused.reason, refused.detail, excerpt, arrival.received))
        if refused.reason is SetAside.AHEAD and refused.probe is not None and refused.time is not None:
            into.ahead.append((refused.probe, refused.time))
