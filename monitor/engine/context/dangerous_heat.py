"""Heat that is dangerous in a pile: `hot`, `too-hot`, `fire`, and the probe to look at.

The hottest of the newest readings of the pile's probes decides. Quality checks must neither hide a fire nor cry fire at a
broken wire: a reading flagged suspect or fail counts only if two in a row say so and the probe's last accepted reading,
or another probe of the place, is at 65 °C or more; else somebody is asked to look at the probe.
"""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace

from monitor.model.alarm_kinds import Alarm
from monitor.model.alarm_signals import AlarmSignal
from monitor.model.alarm_values import AlarmValues
from monitor.model.bounds import LOWEST, NEVER, Limit, Quiet, Side, Span, rising
from monitor.model.excursions import Excursion, Turn
from monitor.model.thresholds import PileThresholds

CARRIED = (Alarm.FIRE, Alarm.TOO_HOT)
"""What a heap takes along where it goes; `hot` asks for the turning that a move is."""


@dataclass(slots=True)
class Brought:
    """A value that a heap brought along: when it came, from which place, and when it was measured (UTC ms)."""

    time: int
    place: str
    measured: int


@dataclass(slots=True)
class DangerState:
    """The memory of a pile's heat.

    Attributes:
        newest: By probe, the newest value that counts (accepted, or flagged and confirmed), thousandths of °C.
        accepted: By probe, the newest accepted value.
        flagged: By probe, how many flagged readings in a row were at fire heat.
        silent: Probes whose newest value is held no longer: it begins nothing, but ends nothing either.
        look: Probes that somebody was asked to look at.
        before: By alarm, `hot` and `too-hot` as they were when the pile was emptied, should that be taken back.
        brought: By series, whose value was measured elsewhere and came with the heap (`moved_danger`).
    """

    newest: dict[str, int] = field(default_factory=dict)
    accepted: dict[str, int] = field(default_factory=dict)
    flagged: dict[str, int] = field(default_factory=dict)
    silent: list[str] = field(default_factory=list)
    look: list[str] = field(default_factory=list)
    before: dict[str, Excursion] = field(default_factory=dict)
    brought: dict[str, Brought] = field(default_factory=dict)
    hot: Excursion = field(default_factory=Excursion)
    too_hot: Excursion = field(default_factory=Excursion)
    fire: Excursion = field(default_factory=Excursion)
    open: bool = False
    """Whether any of the three may have begun; while none has, most readings need only a comparison."""


class Danger:
    """Works on one pile's state."""

    def __init__(self, state: DangerState, limits: PileThresholds) -> None:
        self.state = state
        self.limits = limits
        self._watched = (
            self._limit(Alarm.FIRE, state.fire, limits.fire_milli_c),
            self._limit(Alarm.TOO_HOT, state.too_hot, limits.too_hot_milli_c),
            self._limit(Alarm.HOT, state.hot, limits.hot_milli_c, limits.hot_dwell_ms),
        )
        self._calm = min(one.bound.held.least for one in self._watched)

    def _limit(self, alarm: str, excursion: Excursion, milli: int, delay_ms: int = 0) -> Limit:
        return Limit(alarm, excursion, rising(milli, milli - self.limits.deadband_milli_k, delay_ms), milli)

    def accepted(self, probe: str, time: int, milli: int, late: bool, *, only_fire: bool = False) -> list[AlarmSignal]:
        """Take an accepted reading.

        Args:
            probe: The series.
            time: When it was measured, UTC ms.
            milli: The temperature, thousandths of °C.
            late: Whether it arrived late, so that it starts no delay.
            only_fire: Whether only `fire` is watched, because the pile is empty or the probe lies outside.

        Returns:
            The alarms that are on, or end.
        """
        state = self.state
        state.accepted[probe] = state.newest[probe] = milli
        if milli < self._calm and not (state.open or state.flagged or state.look or state.silent):
            return []
        state.flagged.pop(probe, None)
        self._speaks(probe)
        signals = self._looked_at(probe, time, milli)
        return signals + self._judge(time, late, only_fire=only_fire)

    def outside(self, probe: str, time: int, milli: int, late: bool) -> list[AlarmSignal]:
        """Take a reading of a probe that lies outside its heap: fire heat counts, any other value begins and ends nothing.

        Args:
            probe: The probe.
            time: When it was measured, UTC ms.
            milli: The temperature, thousandths of °C.
            late: Whether it arrived late.

        Returns:
            The alarms that are on, or end.
        """
        if milli >= self.limits.fire_milli_c:
            return self.accepted(probe, time, milli, late, only_fire=True)
        self.silent(probe)
        return []

    def holding(self) -> dict[str, dict[str, Excursion]]:
        """Return, by series, which of `fire` and `too-hot` are on and held open by its value."""
        on = [one for one in self._watched if one.name in CARRIED and one.excursion.confirmed]
        found = {
            series: {one.name: one.excursion for one in on if one.bound.held.covers(milli)}
            for series, milli in self.state.newest.items()
        }
        return {series: alarms for series, alarms in found.items() if alarms}

    def bring(
        self, series: str, milli: int, came: Brought | None, alarms: Mapping[str, Excursion]
    ) -> list[AlarmSignal]:
        """Take over a value that came with a heap, and the alarms that it held open where it was measured.

        Nobody measured it here, so it begins no other alarm, and holds those open until the place is read again.

        Args:
            series: The series of the value.
            milli: The temperature, thousandths of °C.
            came: From where it came and when; None: it is back where it was measured.
            alarms: By alarm, the excursions that it held open.

        Returns:
            The alarms that are on here now.
        """
        state = self.state
        signals: list[AlarmSignal] = []
        state.newest[series] = milli
        if came is not None:
            state.brought[series] = came
        if series not in state.silent:
            state.silent.append(series)
        for one in self._watched:
            if one.name in alarms and not one.excursion.confirmed:
                one.excursion.resume(alarms[one.name])
                one.excursion.confirmed, one.excursion.due = True, None
                signals.append(self._signal(one, on=True))
        state.open = True
        return signals

    def drop_brought(self, series: str) -> None:
        """Drop a value that came with a heap, because the place was read again and that reading decides."""
        self.state.newest.pop(series, None)
        self._speaks(series)

    def flagged(self, probe: str, time: int, milli: int, late: bool) -> list[AlarmSignal]:
        """Take a reading flagged suspect or fail that is not a known error code.

        Args:
            probe: The probe.
            time: When it was measured, UTC ms.
            milli: The temperature, thousandths of °C.
            late: Whether it arrived late.

        Returns:
            The alarms that are on, or end.
        """
        state, limits = self.state, self.limits
        if milli < limits.fire_milli_c:
            state.flagged.pop(probe, None)
            return []
        count = state.flagged[probe] = state.flagged.get(probe, 0) + 1
        near = max(state.accepted.values(), default=None)
        if count >= 2 and near is not None and near >= limits.fire_confirm_milli_c:
            state.newest[probe] = milli
            self._speaks(probe)
            return self._judge(time, late, only_fire=True)
        if probe in state.look:
            return []
        state.look.append(probe)
        return [self._look(probe, time, milli, on=True)]

    def untimed(self, probe: str, now: int, milli: int) -> list[AlarmSignal]:
        """Take a reading whose time is unknown and which no check has seen: two in a row at fire heat are a fire.

        Args:
            probe: The probe.
            now: Engine time, UTC ms.
            milli: The temperature, thousandths of °C.

        Returns:
            The alarms that are on, or end.
        """
        if milli >= self.limits.fire_milli_c and self.state.flagged.get(probe, 0) >= 1:
            self.state.flagged[probe] += 1
            self.state.newest[probe] = milli
            self._speaks(probe)
            return self._judge(now, False, only_fire=True)
        return self.flagged(probe, now, milli, False)

    @property
    def watched(self) -> tuple[Limit, ...]:
        """The alarms watched, the worst first; on an empty pile, core probes are watched for the first alone."""
        return self._watched

    def calm(self) -> Quiet | None:
        """Return which readings change nothing but the newest values, whichever probe sends them; None: no reading is."""
        return None if self.state.open else Quiet([Span(Side.HIGH, LOWEST, self._calm - 1)], NEVER, False)

    def standing(self) -> list[AlarmSignal]:
        """Return the signals of the alarms that are on, which even a reading that changes nothing repeats."""
        return [self._signal(one, on=True) for one in self._watched if one.excursion.confirmed]

    def note_open(self) -> None:
        """Note whether anything has begun."""
        self.state.open = any(one.excursion.since is not None for one in self._watched)

    def silent(self, probe: str) -> None:
        """Let a probe count as silent: a delay that only it holds open stands still."""
        state = self.state
        if probe in state.newest and probe not in state.silent:
            state.silent.append(probe)
            if self._hottest() < self.limits.hot_milli_c:
                state.hot.pause()

    def pause(self) -> None:
        """Let a running delay stand still, because the probes were taken out."""
        self.state.hot.pause()

    def empty(self) -> list[AlarmSignal]:
        """End all but `fire`, because no batch lies on the pile any more."""
        gone = (Alarm.HOT, Alarm.TOO_HOT)
        self.state.before = {
            one.name: replace(one.excursion) for one in self._watched if one.name in gone and one.excursion.since
        }
        return self._close(gone)

    def refill(self, before: Mapping[str, Excursion]) -> list[AlarmSignal]:
        """Resume the excursions of `before`, which were on when the batch was logged as gone, as far as they still hold."""
        state = self.state
        state.before = {}
        held = max(state.newest.values(), default=None)
        signals: list[AlarmSignal] = []
        for one in self._watched:
            known = before.get(one.name)
            if known is None or one.excursion.since is not None or held is None:
                continue
            if one.bound.held.covers(held) if known.confirmed else one.bound.beyond.covers(self._hottest()):
                one.excursion.resume(known)
                signals += [self._signal(one, on=True)] if known.confirmed else []
        self.note_open()
        return signals

    def forget(self, probe: str) -> list[AlarmSignal]:
        """Drop a probe that no longer belongs to the pile; an alarm that only it held open ends."""
        state, limits = self.state, self.limits
        signals = []
        if probe in state.look:
            state.look.remove(probe)
            signals.append(self._look(probe, 0, limits.fire_milli_c, on=False))
        for known in (state.newest, state.accepted, state.flagged):
            known.pop(probe, None)
        self._speaks(probe)
        held = max(state.newest.values(), default=None)
        over = [one.name for one in self._watched if held is None or not one.bound.held.covers(held)]
        return signals + self._close(tuple(over))

    def due(self) -> int | None:
        """Return when a delay will be filled, UTC ms."""
        return self.state.hot.due

    def serve(self, now: int) -> list[AlarmSignal]:
        """Fill the delay that is due."""
        return [self._signal(one, on=True) for one in self._watched if one.excursion.serve(now) is Turn.BEGAN]

    def _judge(self, time: int, late: bool, *, only_fire: bool) -> list[AlarmSignal]:
        hottest, held = self._hottest(), max(self.state.newest.values())
        signals = []
        for one in self._watched[:1] if only_fire else self._watched:
            excursion, bound = one.excursion, one.bound
            if not bound.held.covers(held) and excursion.since is None:
                continue
            turn = excursion.step(time, bound.beyond.covers(hottest), bound.held.covers(held), bound.delay_ms, late)
            if turn is Turn.BEGAN or (turn is None and excursion.confirmed):
                signals.append(self._signal(one, on=True))
            elif turn is Turn.ENDED:
                signals.append(self._off(one.name))
                excursion.forget()
        self.note_open()
        return signals

    def _close(self, alarms: tuple[str, ...]) -> list[AlarmSignal]:
        signals = []
        for one in self._watched:
            if one.name in alarms and one.excursion.since is not None:
                if one.excursion.confirmed:
                    signals.append(self._off(one.name))
                one.excursion.forget()
        return signals

    def _hottest(self) -> int:
        """Return the hottest of the probes that are not silent; colder than everything where all are."""
        state = self.state
        known = state.newest.values()
        if state.silent:
            known = {p: milli for p, milli in state.newest.items() if p not in state.silent}.values()
        return max(known, default=LOWEST)

    def _speaks(self, probe: str) -> None:
        self.state.brought.pop(probe, None)
        if probe in self.state.silent:
            self.state.silent.remove(probe)

    @staticmethod
    def _off(alarm: str) -> AlarmSignal:
        return AlarmSignal(alarm=alarm, on=False, since=0, last=0, probe="")

    def _signal(self, one: Limit, *, on: bool) -> AlarmSignal:
        newest, excursion = self.state.newest, one.excursion
        speaking = {name: milli for name, milli in newest.items() if name not in self.state.silent}
        if not one.bound.held.covers(max(speaking.values(), default=0)):
            speaking = newest  # only the last value of a silent probe holds it open
        probe, milli = max(speaking.items(), key=lambda item: (item[1], item[0]))
        since = excursion.since or 0
        brought = self.state.brought.get(probe)
        values = AlarmValues(
            value_milli=milli, limit_milli=one.milli, moved_from=brought.place if brought is not None else ""
        )
        last = excursion.last or since
        return AlarmSignal(alarm=one.name, on=on, since=since, last=last, probe=probe, values=values)

    def _looked_at(self, probe: str, time: int, milli: int) -> list[AlarmSignal]:
        if probe not in self.state.look:
            return []
        self.state.look.remove(probe)
        return [self._look(probe, time, milli, on=False)]

    def _look(self, probe: str, time: int, milli: int, *, on: bool) -> AlarmSignal:
        values = AlarmValues(value_milli=milli, limit_milli=self.limits.fire_milli_c)
        return AlarmSignal(alarm=Alarm.LOOK_AT_PROBE, on=on, since=time, last=time, probe=probe, values=values)
