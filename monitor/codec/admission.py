"""Admits a decoded value as a reading of a probe, or says why not.

Rules: 1. The address, and the quantity and unit in the message, identify the probe; several probes may share an
address if those tell them apart. 2. A unit that is not one of the quantity's is refused, never guessed; a value without a
unit is in the probe's configured one, else in the quantity's own. 3. The unit `1` is a raw number: only a moisture probe of
basis `raw` sends it, and its values without a unit are raw numbers. 4. A time before 2000 is absurd. A time more than
`ahead_ms` after its arrival is *ahead*, judged only while the clock is confirmed. A value without a time takes its
arrival's.
"""

from typing import NamedTuple

from monitor.codec.decoded import excerpt
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard, Reading
from monitor.model.settings import Probe, Settings
from monitor.model.times import YEAR_2000_MS, show_time
from monitor.model.units import CANONICAL_UNIT, UNITS_OF, Quantity
from monitor.model.words import Basis

RAW_UNIT = "1"
"""Unit of a number that means nothing before its calibration."""


class Refused(NamedTuple):
    """A value that is not admitted.

    Attributes:
        reason: Why, for counting.
        detail: Why, for a person.
        probe: The probe's id, if it is known.
        time: The time it claims, UTC ms, if it claims one.
    """

    reason: SetAside
    detail: str
    probe: str | None
    time: int | None


def units_of(probe: Probe) -> tuple[str, ...]:
    """Return the unit codes that a probe may send."""
    if probe.quantity is Quantity.MOISTURE and probe.basis is not Basis.RAW:
        return tuple(unit for unit in UNITS_OF[probe.quantity] if unit != RAW_UNIT)
    return UNITS_OF[probe.quantity]


def default_unit(probe: Probe) -> str:
    """Return the unit code of a probe's values if a message names none."""
    if probe.unit is not None and probe.unit in units_of(probe):
        return probe.unit
    if probe.quantity is Quantity.MOISTURE and probe.basis is Basis.RAW:
        return RAW_UNIT
    return CANONICAL_UNIT[probe.quantity]


class Admission:
    """The map from nodes' addresses to probes, for one state of the settings. It keeps nothing between calls."""

    def __init__(self, settings: Settings) -> None:
        """Build the map; if nothing tells two probes apart, neither is heard (`clashes` names them)."""
        self._ahead_ms = settings.probe_thresholds.ahead_ms
        self._probes = settings.probes
        self._known: dict[str, list[str]] = {}
        self._door: dict[tuple[str, str | None, str | None], tuple[str, str] | None] = {}
        self.clashes: tuple[tuple[str, str], ...] = ()
        for name, probe in settings.probes.items():
            self._known.setdefault(probe.address, []).append(name)
            for quantity in (probe.quantity.value, None):
                self._open(probe.address, quantity, None, name, default_unit(probe))
                for unit in units_of(probe):
                    self._open(probe.address, quantity, unit, name, unit)

    def _open(self, address: str, quantity: str | None, said: str | None, probe: str, unit: str) -> None:
        key = (address, quantity, said)
        if key not in self._door:
            self._door[key] = (probe, unit)
            return
        self._door[key] = None
        if quantity is not None and said is None:
            first = next(other for other in self._known[address] if self._probes[other].quantity == quantity)
            self.clashes = (*self.clashes, (first, probe))

    def admit(self, heard: Heard, arrival_ms: int, *, judge_ahead: bool = True) -> Reading | Refused:
        """Turn a value into a reading.

        Args:
            heard: The value.
            arrival_ms: When it came, UTC ms.
            judge_ahead: Whether the clock is confirmed, so that a time ahead of it is truly ahead.

        Returns:
            The reading, or why the value is refused.
        """
        address, quantity, micro, unit, time = heard
        found = self._door.get((address, quantity, unit))
        if found is None:
            return self._refuse(heard)
        if time is None:
            return Reading(arrival_ms, found[0], micro, found[1])
        if time < YEAR_2000_MS:
            return Refused(SetAside.ABSURD_TIME, f"{found[0]}: its time is before the year 2000", found[0], time)
        if judge_ahead and time > arrival_ms + self._ahead_ms:
            return Refused(SetAside.AHEAD, f"{found[0]}: its time {shown_time(time)} has not come yet", found[0], time)
        return Reading(time, found[0], micro, found[1])

    def _refuse(self, heard: Heard) -> Refused:
        """Work out why a value fits no probe."""
        shown = excerpt(heard.address)
        names = self._known.get(heard.address)
        if names is None:
            return Refused(SetAside.UNKNOWN_PROBE, f"no probe has the address {shown}", None, heard.time)
        fitting = [name for name in names if heard.quantity in (None, self._probes[name].quantity.value)]
        if not fitting:
            probe = names[0] if len(names) == 1 else None
            measured = " and ".join(dict.fromkeys(self._probes[name].quantity.value for name in names))
            said = excerpt(heard.quantity or "")
            return Refused(SetAside.WRONG_QUANTITY, f"{shown} measures {measured}, not {said}", probe, heard.time)
        if len(fitting) > 1 and (heard.address, heard.quantity, heard.unit) in self._door:
            both = " and ".join(fitting)
            return Refused(SetAside.WRONG_QUANTITY, f"{shown} could be any of {both}", None, heard.time)
        allowed = " or ".join(dict.fromkeys(unit for name in fitting for unit in units_of(self._probes[name])))
        probe = fitting[0] if len(fitting) == 1 else None
        said = excerpt(heard.unit or "")
        return Refused(SetAside.WRONG_UNIT, f"{shown} sends {allowed}, not {said}", probe, heard.time)


def shown_time(time: int) -> str:
    """Return a time of whatever size for people."""
    try:
        return show_time(time)
    except ValueError:
        return f"{time} ms"
