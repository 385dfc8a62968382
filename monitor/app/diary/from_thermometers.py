"""Checks of thermometers: those of the configuration, those that readings by hand name, and probes with a dated calibration."""

from collections.abc import Iterator

from monitor.app.diary.sources import Asked
from monitor.app.entries.hand_log import hand_log
from monitor.diary import Checked, Due, calibrate_due
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.notices import clean

USED_LATELY_MS = 30 * DAY_MS
"""For how long a thermometer is looked for that a reading named."""


def thermometers(asked: Asked) -> Iterator[Due]:
    """Yield the next check of each thermometer and probe."""
    known = asked.configuration.thermometers
    for name, one in known.items():
        checked = one.checked
        if checked is not None and checked % DAY_MS == 0:
            checked += 12 * HOUR_MS  # a plain day begins in UTC, and at noon it is the same day nearly everywhere
        if checked is not None:
            yield calibrate_due(Checked(id=name, name=clean(one.name or name), checked=checked), asked.now, asked.zone)
    used = _used(asked)
    for name, first in used.items():
        if name not in known or known[name].checked is None:
            called = known[name].name if name in known else ""
            never = Checked(id=name, name=clean(called or name), checked=None, used=first)
            yield calibrate_due(never, asked.now, asked.zone)
    for name, probe in asked.settings.probes.items():
        dated = [one.start for one in probe.calibrations if one.start is not None and one.start <= asked.now]
        if dated:
            where = asked.engine.place_of(name) or probe.place
            checked_probe = Checked(
                id=name, name=clean(probe.name or name), checked=max(dated), probe=True, place=where
            )
            yield calibrate_due(checked_probe, asked.now, asked.zone)


def _used(asked: Asked) -> dict[str, int]:
    """Return the thermometers that readings by hand named lately, each with its first such reading (UTC ms)."""
    found: dict[str, int] = {}
    for place in (*asked.settings.piles, *asked.settings.bins):
        for read in hand_log(asked.store, place, asked.now - USED_LATELY_MS):
            if read.thermometer:
                found[read.thermometer] = min(read.time, found.get(read.thermometer, read.time))
    return found
