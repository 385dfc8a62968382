"""The book of alarms: one record an alarm, moved by its condition, by people's answers and by mutes.

Decides when a condition *rings* (is reported as new), when it is reported in the past tense, and when it only stands in the
record:

1. A condition rings once its last reading beyond the limit is under two hours old; until then it is latent.
2. A latent condition that ends was an excursion already over: it becomes unacknowledged and returned in one instant, and is
   reported in the past tense if its last reading beyond the limit is under two hours old (some kinds always).
3. Answers never change the condition; nothing here ends by silence.
"""

from dataclasses import dataclass, field
from enum import StrEnum
from typing import Annotated

from pydantic import PlainSerializer, PlainValidator

from monitor.alarms.states import Signal, after
from monitor.model.alarm_kinds import CATALOG, alarm_key
from monitor.model.alarm_values import AlarmValues
from monitor.model.times import HOUR_MS
from monitor.model.words import AlarmState, Priority

FRESH_MS = 2 * HOUR_MS
"""Greatest age of the last reading beyond the limit at which an excursion still rings; an alarm by a hand reading that was
entered in time rings for as long as that reading counts."""


class Telling(StrEnum):
    """The message that people should get about a move."""

    RING = "ring"
    AGAIN = "again"
    WORSE = "worse"
    OVER = "over"
    PAST = "past"
    PAST_OLD = "past, old"
    QUIET = "quiet"


_KeptValues = Annotated[AlarmValues, PlainSerializer(AlarmValues.plain), PlainValidator(AlarmValues.of)]
"""Values that a snapshot holds as plain JSON."""


@dataclass(slots=True)
class AlarmRecord:
    """The state of one alarm.

    Attributes:
        place, alarm, probe: Its place, its kind, and the probe that decided it.
        state: ISA-18.2 state.
        on: Whether its condition is on.
        latent: On, but its readings are too old to ring.
        since: When the condition began, by the readings' own time.
        passed: When the limit in its numbers was passed: later than `since` if the alarm has two limits.
        last: The last reading beyond the limit.
        until: When a put-off ends.
        muted_until: When a mute ends.
        covered_by: Alarms of the same place that are on and say everything; it is muted for as long.
        values: Its facts: value, limit and the like.
        by_hand: Whether a hand reading that was entered in time decided it; it then rings for as long as the reading counts.
        stage: 1 once it has passed the worse of its two limits, or changed so that people must hear anew; else 0.
        worse: It has passed to stage 1 since the last message, with readings too old to ring.
    """

    place: str
    alarm: str
    probe: str = ""
    state: AlarmState = AlarmState.NORMAL
    on: bool = False
    latent: bool = False
    since: int = 0
    last: int = 0
    until: int | None = None
    muted_until: int | None = None
    covered_by: list[str] = field(default_factory=list)
    values: _KeptValues = AlarmValues()
    by_hand: bool = False
    stage: int = 0
    worse: bool = False
    passed: int = 0

    @property
    def limit_since(self) -> int:
        """The instant at which the limit in its numbers was passed, UTC ms."""
        return max(self.since, self.passed) if self.on else self.since

    @property
    def waits(self) -> bool:
        """Whether it must ring once its readings are fresh."""
        return self.latent or self.worse

    @property
    def priority(self) -> Priority:
        """The urgency at its present stage."""
        kind = CATALOG[self.alarm]
        return kind.priority if self.stage or kind.at_first is None else kind.at_first


@dataclass(frozen=True, slots=True, kw_only=True)
class Move:
    """One change of an alarm's state, for the engine to record and report."""

    key: str
    record: AlarmRecord
    before: AlarmState
    after: AlarmState
    signal: Signal
    telling: Telling
    since: int


class AlarmBook:
    """The alarms by key (`PLACE/ALARM` or `PLACE/ALARM/PROBE`); `records` is the whole state.

    Attributes:
        off_ms: Distance of the true time before the instants handed in, 0 or less.
        unsure: Whether nobody knows if those instants are right: then the most urgent alarms are never too old to ring.
    """

    def __init__(self, records: dict[str, AlarmRecord]) -> None:
        self.records = records
        self.off_ms = 0
        self.unsure = False

    def record(self, place: str, alarm: str, probe: str = "") -> AlarmRecord:
        """Find the record of an alarm, or make it.

        Args:
            place: Id of the place.
            alarm: Id of the alarm.
            probe: The probe that decided; part of the key only for an alarm of one probe.

        Returns:
            The record itself, not a copy.
        """
        key = alarm_key(place, alarm, probe)
        found = self.records.get(key)
        if found is None:
            found = self.records[key] = AlarmRecord(place=place, alarm=alarm, probe=probe)
        return found

    def begins(
        self,
        place: str,
        alarm: str,
        *,
        since: int,
        last: int | None = None,
        probe: str = "",
        values: AlarmValues = AlarmValues(),
        by_hand: bool = False,
        stage: int = 0,
    ) -> str:
        """Note that a condition is on; a repeated call only refreshes its last reading and numbers, unless it got worse.

        It does not ring before `settle`, so that an excursion whose readings all came at once is reported as over.

        Args:
            place: Id of the place.
            alarm: Id of the alarm.
            since: When the condition began, by the readings' own time, UTC ms.
            last: The last reading beyond the limit, UTC ms; None: `since`.
            probe: The probe that decided, or "".
            values: Its facts: value, limit and the like.
            by_hand: Whether a hand reading that was entered in time decided it.
            stage: 1 beyond the worse of two limits, else 0.

        Returns:
            The alarm's key, to be settled when everything of the event has been taken in.
        """
        record = self.record(place, alarm, probe)
        if not record.on:
            record.on, record.latent, record.worse, record.since = True, True, False, since
        elif stage != record.stage:
            record.worse = stage > record.stage and not record.latent
            if stage > record.stage and CATALOG[alarm].at_first is None:
                record.since = since  # without a first limit, stage 1 is a new matter and begins now
        record.stage = stage
        record.passed = since
        record.last = since if last is None else last
        record.probe = probe
        record.values = values
        record.by_hand = by_hand
        return alarm_key(place, alarm, probe)

    def ends(self, at: int, place: str, alarm: str, probe: str = "") -> list[Move]:
        """Note that a condition is no longer on.

        Args:
            at: Now, UTC ms.
            place: Id of the place.
            alarm: Id of the alarm.
            probe: The probe, for an alarm of one probe.

        Returns:
            The moves of this alarm and of those it covered; nothing if the condition was not on.
        """
        record = self.records.get(alarm_key(place, alarm, probe))
        if record is None or not record.on:
            return []
        was_latent = record.latent
        record.on = record.latent = record.worse = False
        if was_latent:
            if record.state not in (AlarmState.NORMAL, AlarmState.RETURNED) or _muted(record, at):
                return []
            fresh = self._is_fresh(record, at) or CATALOG[alarm].always_told
            return [
                *self._move(record, Signal.ON, Telling.PAST if fresh else Telling.PAST_OLD),
                *self._move(record, Signal.OFF, Telling.QUIET),
            ]
        return [*self._move(record, Signal.OFF, Telling.OVER), *self._uncover(at, record)]

    def settle(self, at: int, key: str) -> list[Move]:
        """Ring an alarm whose condition is on and not reported yet, or has got worse, if its readings are fresh."""
        record = self.records[key]
        fresh = self._is_fresh(record, at)
        if record.worse and fresh:
            record.worse = False
            return self._move(record, Signal.WORSE, Telling.WORSE)
        if not record.latent or not fresh:
            return []
        record.latent = False
        if _muted(record, at):
            return self._move(record, Signal.MUTE, Telling.QUIET)
        return [*self._move(record, Signal.ON, Telling.RING), *self._cover(record)]

    def _is_fresh(self, record: AlarmRecord, at: int) -> bool:
        unsure = self.unsure and record.priority is Priority.HIGHEST
        return unsure or record.by_hand or at + self.off_ms - record.last < FRESH_MS

    def answer(self, at: int, key: str, signal: Signal, until: int | None = None) -> list[Move] | None:
        """Take a person's answer.

        Args:
            at: Now, UTC ms.
            key: The alarm's key.
            signal: SEEN, NOT_ME, PUT_OFF (with `until`; also to change it), TAKEN_UP, OUT or BACK.
            until: End of a put-off, UTC ms, later than `at`.

        Returns:
            The moves; None if the answer means nothing in the alarm's present state.
        """
        record = self.records.get(key)
        if record is None or after(record.state, signal, record.on) is None:
            return None
        if signal is Signal.PUT_OFF:
            if until is None or until <= at:
                return None
            record.until = until
        elif signal not in (Signal.SEEN, Signal.NOT_ME):
            record.until = None
        if signal is Signal.OUT and not record.on:
            # No condition is on, so the time out of service begins now.
            record.since = at
        rings = record.on and not record.latent
        # If work, a turning or a worse alarm still mutes the alarm, it rings when that ends.
        muted = rings and _muted(record, at)
        again = rings and signal in _RETURNS and not muted
        moves = self._move(record, signal, Telling.AGAIN if again else Telling.QUIET, muted=muted)
        if signal is Signal.OUT:
            # Nobody hears of this alarm any more, so it must no longer mute those that it covered.
            moves += self._uncover(at, record)
        elif signal is Signal.BACK and again:
            moves += self._cover(record)
        return moves

    def mute(
        self,
        at: int,
        place: str,
        until: int,
        alarms: tuple[str, ...] | None = None,
        probes: tuple[str, ...] = (),
    ) -> list[Move]:
        """Mute alarms of a place until an instant; a mute is only ever prolonged.

        Args:
            at: Now, UTC ms.
            place: Id of the place.
            until: End of the mute, UTC ms.
            alarms: Ids of the alarms; None: all that a turning mutes.
            probes: Probes of the place, whose own alarms are muted too.

        Returns:
            The moves of the alarms that were ringing.
        """
        moves: list[Move] = []
        for alarm, kind in CATALOG.items():
            if (alarms is None and not kind.muted_by_turning) or (alarms is not None and alarm not in alarms):
                continue
            for probe in probes if kind.of_probe else ("",):
                record = self.record(place, alarm, probe)
                record.muted_until = max(until, record.muted_until or until)
                if record.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED) and at < record.muted_until:
                    moves += self._move(record, Signal.MUTE, Telling.QUIET)
        return moves

    def due(self) -> list[tuple[int, str]]:
        """Return (instant in UTC ms, key) of the put-offs and mutes that will end by themselves, in no order."""
        found = []
        for key, record in self.records.items():
            if record.state is AlarmState.SHELVED and record.until is not None:
                found.append((record.until, key))
            elif record.muted_until is not None:
                found.append((record.muted_until, key))
        return found

    def drop(self, key: str) -> None:
        """Forget an alarm whose place or probe is gone for good."""
        self.records.pop(key, None)

    def serve(self, at: int, key: str) -> list[Move]:
        """End a put-off or a mute that is due."""
        record = self.records[key]
        moves: list[Move] = []
        if record.muted_until is not None and record.muted_until <= at:
            record.muted_until = None
            moves += self._unmute(at, record)
        if record.state is AlarmState.SHELVED and record.until is not None and record.until <= at:
            record.until = None
            muted, rings = _muted(record, at), record.on and not record.latent
            telling = Telling.AGAIN if rings and not muted else Telling.QUIET
            moves += self._move(record, Signal.TAKEN_UP, telling, muted=muted)
        return moves

    def _cover(self, record: AlarmRecord) -> list[Move]:
        moves: list[Move] = []
        if record.state is AlarmState.OUT_OF_SERVICE:
            return moves
        for alarm in CATALOG[record.alarm].covers:
            lower = self.record(record.place, alarm)
            if record.alarm not in lower.covered_by:
                lower.covered_by.append(record.alarm)
            if lower.state in (AlarmState.UNACKNOWLEDGED, AlarmState.ACKNOWLEDGED):
                moves += self._move(lower, Signal.MUTE, Telling.QUIET)
        return moves

    def _uncover(self, at: int, record: AlarmRecord) -> list[Move]:
        moves: list[Move] = []
        for alarm in CATALOG[record.alarm].covers:
            lower = self.record(record.place, alarm)
            if record.alarm in lower.covered_by:
                lower.covered_by.remove(record.alarm)
                moves += self._unmute(at, lower)
        return moves

    def _unmute(self, at: int, record: AlarmRecord) -> list[Move]:
        if record.state is not AlarmState.SUPPRESSED or _muted(record, at):
            return []
        if not record.on or record.latent:
            return self._move(record, Signal.UNMUTE, Telling.QUIET)
        return [*self._move(record, Signal.UNMUTE, Telling.RING), *self._cover(record)]

    def _move(self, record: AlarmRecord, signal: Signal, telling: Telling, *, muted: bool = False) -> list[Move]:
        # A condition that has not rung yet counts as off here: `settle` rings it when its readings are fresh.
        follows = after(record.state, signal, record.on and not record.latent, muted)
        if follows is None:
            return []
        before, record.state = record.state, follows
        key = alarm_key(record.place, record.alarm, record.probe)
        return [
            Move(
                key=key, record=record, before=before, after=follows, signal=signal, telling=telling, since=record.since
            )
        ]


_RETURNS = (Signal.TAKEN_UP, Signal.BACK)


def _muted(record: AlarmRecord, at: int) -> bool:
    return bool(record.covered_by) or (record.muted_until is not None and at < record.muted_until)
