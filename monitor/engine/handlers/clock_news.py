"""News of wrong clocks, the computer's or a probe's: told once, and told when the clock is right again.

While the computer's clock is not known to be right, dangerous heat is told however old its readings seem. If that clock is
ahead, lateness is judged by the true time that the nodes tell.
"""

from collections.abc import Mapping
from typing import Any

from monitor.conditioning import calibrate
from monitor.engine.context.core import Core
from monitor.engine.context.signals import Signals
from monitor.engine.output.place_conditions import danger_signals
from monitor.model.alarm_kinds import Alarm
from monitor.model.alarm_values import AlarmValues, ClockOff
from monitor.model.settings import AMBIENT
from monitor.model.units import Quantity

_POWER_UP_MICRO = 85_000_000
"""The value that a common digital probe sends before it has measured; without neighbours conditioning cannot tell."""


def take_clock(core: Core, payload: Mapping[str, Any]) -> None:
    """Take a `clock` event."""
    state = payload["state"]
    if state == "waiting":
        for probe, micro, unit, time in payload.get("hot", ()):
            _hot(core, probe, micro, unit, time)
        return
    core.trust_clock(min(0, int(payload.get("off_ms", 0))), sure=state not in ("unconfirmed", "jumped"))
    if state in ("jumped", "off"):
        _tell(core, int(payload.get("by_ms", 0)), "nodes" if state == "off" else "")
    elif core.state.clock_off_ms < 0:
        _tell(core, -core.state.clock_off_ms, "record")
    elif state in ("confirmed", "caught up"):
        core.ends("", Alarm.CLOCK)


def _tell(core: Signals, by_ms: int, variant: str) -> None:
    """Tell that the computer's clock is wrong."""
    values = AlarmValues(clock=ClockOff(by_ms=by_ms), variant=variant)
    core.begins("", Alarm.CLOCK, since=core.at, last=core.at, values=values)


def _hot(core: Core, probe: str, micro: int, unit: str, time: int) -> None:
    """Check a reading of fire heat that waits for the clock as if it were measured now."""
    configured, place = core.settings.probes.get(probe), core.place_of(probe)
    if configured is None or configured.quantity is not Quantity.TEMPERATURE or place not in core.settings.piles:
        return
    milli = calibrate(micro, unit, configured, time)
    if milli is None or micro == _POWER_UP_MICRO or milli > core.settings.probe_thresholds.gross_high_milli_c:
        return
    danger = core.danger(place)
    danger_signals(core, place, danger, danger.untimed(probe, core.at, milli))


def take_ahead(core: Signals, probe: str, time: int) -> None:
    """Note a reading that was set aside because it claims to come from the future.

    Args:
        core: The port of signals.
        probe: The probe.
        time: The time that the reading claims, UTC ms.
    """
    watch = core.watch(probe)
    watch.arrive(core.at, late=False)
    if not watch.ahead:
        watch.ahead = True
        clock = ClockOff(by_ms=time - core.at, limit_ms=core.settings.probe_thresholds.ahead_ms)
        core.begins(
            core.place_of(probe) or AMBIENT, Alarm.CLOCK, since=core.at, last=core.at, probe=probe,
            values=AlarmValues(clock=clock),
        )  # fmt: skip


def in_time(core: Signals, probe: str) -> None:
    """Note that a probe's clock is right again, since a reading of it was taken in."""
    watch = core.watch(probe)
    if watch.ahead:
        watch.ahead = False
        core.ends(core.place_of(probe) or AMBIENT, Alarm.CLOCK, probe)
