"""The values that tell how a place is now, each with its age and its origin: every plan, question and summary takes them here.

1. A probe's newest accepted reading tells of now until the probe counts as silent, or would have counted as such had the
   program run meanwhile, and while the probe is in its place and not out for a turning.
2. A reading by hand tells of now for as long as it is held (`hand_gap`).
3. So a reading by hand stands alone where all probes are silent, and an alarm that only older words of such probes hold open
   says nothing about now: it is *outlived*.
"""

from typing import NamedTuple

from monitor.alarms import AlarmRecord
from monitor.engine.context.places import Places
from monitor.engine.context.read_spots import spots_at
from monitor.model.alarm_kinds import CATALOG, Alarm, WrongSide, alarm_key
from monitor.model.readings import is_hand
from monitor.model.settings import AMBIENT, Probe
from monitor.model.units import Quantity
from monitor.model.words import Dampness, RuleState, Thermal

_WATCHED = (Quantity.TEMPERATURE, Quantity.MOISTURE, Quantity.OXYGEN)


class CurrentValue(NamedTuple):
    """A value that tells of now.

    Attributes:
        time: When it was measured, UTC ms.
        series: The probe, or the spot by hand.
        milli: Thousandths of the quantity's unit.
        by: Who read it by hand, "" if nobody said or a probe measured it.
    """

    time: int
    series: str
    milli: int
    by: str = ""

    @property
    def by_hand(self) -> bool:
        """Whether a person read it."""
        return is_hand(self.series)


def minimum(core: Places, place: str) -> int:
    """Return how long a probe of a place must be unheard before it can count as silent, ms."""
    limits = core.settings.probe_thresholds
    if place in core.settings.bins:
        return limits.silent_min_ms
    run = core.run_at(place) if place != AMBIENT else None
    running = run is not None and run.rule is RuleState.RUNNING
    return limits.silent_min_ms if running else limits.silent_min_calm_ms


def watched(probe: Probe) -> bool:
    """Return whether the silence of a probe matters."""
    return probe.quantity in _WATCHED


def speaks(core: Places, probe: str) -> bool:
    """Return whether a probe's newest accepted reading tells of now (`core.at`), wherever the probe lies."""
    watch = core.state.watches.get(probe)
    if watch is None or watch.accepted_time is None or watch.silent or watch.broken or watch.lost:
        return False
    return not is_old(core, probe)


def is_old(core: Places, series: str) -> bool:
    """Return whether a series' newest reading is older at `core.at` than it can stand for.

    A probe's is so after the longest wait for the next. Silence is waited for anew after a start; a number that was old then
    is old all the same.
    """
    read = core.state.hands.get(series)
    if read is not None:
        return read.held_until <= core.at
    watch, configured = core.state.watches.get(series), core.settings.probes.get(series)
    if watch is None or watch.accepted_time is None or configured is None or not watched(configured):
        return False
    return watch.old_from(core.settings.probe_thresholds, minimum(core, core.place_of(series))) <= core.true_now


def speaks_for_place(core: Places, probe: str) -> bool:
    """Return whether a probe's last value is its place's: not while it lies out for a turning or has just come back."""
    outing, watch = core.state.outings.get(probe), core.state.watches.get(probe)
    if watch is None or watch.accepted_time is None:
        return True
    if watch.outside is not None and watch.accepted_time <= watch.outside:
        return False
    return outing is None or (outing.accepted_from is not None and watch.accepted_time >= outing.accepted_from)


def current_values(core: Places, place: str, quantity: Quantity) -> list[CurrentValue]:
    """Return the values that tell of a place now (`core.at`), the newest last; none where nobody knows.

    Args:
        core: The engine's state and settings.
        place: Pile or bin.
        quantity: What was measured.
    """
    found = []
    for probe, configured in core.probes_of(place):
        watch = core.state.watches.get(probe)
        if configured.quantity is not quantity or watch is None or not core.in_service(probe):
            continue
        if speaks(core, probe) and speaks_for_place(core, probe):
            assert watch.accepted_time is not None
            assert watch.accepted_milli is not None
            found.append(CurrentValue(watch.accepted_time, probe, watch.accepted_milli))
    if quantity is Quantity.TEMPERATURE:
        held = spots_at(core.state.hands, place, held=True).items()
        found += [CurrentValue(one.time, name, one.milli, one.by) for name, one in held if one.held_until > core.at]
    return sorted(found)


def outlived_by(core: Places, record: AlarmRecord) -> CurrentValue | None:
    """Return the reading by hand that speaks against an alarm of a bin that is on; None where none does.

    That is: no probe of its quantity speaks, the last reading beyond the limit is older than the newest by hand, and none of
    these is beyond it.

    Args:
        core: The engine's state and settings.
        record: The alarm.
    """
    limit = record.values.limit_milli
    if not record.on or record.place not in core.settings.bins or limit is None:
        return None
    known = current_values(core, record.place, CATALOG[record.alarm].quantity)
    if not known or not all(one.by_hand for one in known):
        return None
    # The record's own last instant may be that of a reading by hand that was taken back.
    words = core.bed(record.place).axes[CATALOG[record.alarm].quantity].newest
    silent = [one.time for name, one in words.items() if name not in {value.series for value in known}]
    against = known[-1].time > max(silent, default=0) and not any(
        beyond(record.alarm, limit, one.milli) for one in known
    )
    return known[-1] if against else None


def conditions(core: Places, bin_: str) -> tuple[Thermal, Dampness]:
    """Return both conditions of a bin at `core.at`; a value that no longer tells of now counts as a silent probe's.

    Args:
        core: The engine's state and settings.
        bin_: The bin.
    """
    if bin_ not in core.state.bins:
        return Thermal.UNKNOWN, Dampness.UNKNOWN
    bed, hot = core.bed(bin_), core.state.alarms.get(alarm_key(bin_, Alarm.OVERHEATING))
    fresh = {name for axis in bed.axes.values() for name in axis.newest if not is_old(core, name)}
    return bed.words_by(fresh, cooled=hot is not None and outlived_by(core, hot) is not None)


def beyond(alarm: str, limit: int, milli: int) -> bool:
    """Return whether a value is on the wrong side of an alarm's limit.

    Args:
        alarm: The alarm's id.
        limit: Its limit, thousandths of its unit.
        milli: The value, thousandths of the same unit.
    """
    side = CATALOG[alarm].side
    return milli >= limit if side is WrongSide.ABOVE else milli <= limit and side in (WrongSide.BELOW, WrongSide.SHORT)
