"""A bed as the record and the configuration have it: its warmth over three days, damp, age, and the food of a week."""

from collections.abc import Iterable
from statistics import fmean

from monitor.app.beds.bed_look import bed_look
from monitor.app.entries.work_log import work_log
from monitor.app.yard.yard_view import YardView
from monitor.conditioning import calibrate
from monitor.configuration import Configuration
from monitor.husbandry import FOOD_KG_M3, BedNow
from monitor.journal import Store
from monitor.mix import known_feedstocks
from monitor.model.alarm_kinds import Alarm, alarm_key, alarm_name
from monitor.model.amounts import Dimension, known_amount
from monitor.model.containers import Container
from monitor.model.flags import ACCEPTED
from monitor.model.readings import hand_series, is_hand
from monitor.model.settings import Probe
from monitor.model.times import DAY_MS, HOUR_MS
from monitor.model.units import Quantity
from monitor.model.words import Role
from monitor.model.work import Work, WorkKind
from monitor.model.work_kinds import FILLS_BED, Material, declared

WARMTH_MS = 3 * DAY_MS
WEEK_MS = 7 * DAY_MS
SEEN_MS = 14 * DAY_MS
"""How long a look into a bin speaks for it."""
FORBID = (Alarm.WORMS_IN_DANGER, Alarm.OVERHEATING, Alarm.FREEZING, Alarm.WORMS_UNWELL)
"""The alarms whose advice is to feed nothing."""
BAD_SMELLS = ("sour", "ammonia", "rotten eggs")
_HAND = Probe(place="", role=Role.BEDDING, address="")


def bed_now(view: YardView, configuration: Configuration, place: str, now: int) -> BedNow:
    """Return a bed as it is now.

    Args:
        view: The record.
        configuration: The configuration, which has its size.
        place: The bin.
        now: The present, UTC ms.

    Returns:
        The bed; its warmth is the mean of the hours of three days in which it was measured at all.
    """
    size, state = configuration.beds[place], view.engine.state.bins.get(place)
    stock = bed_look(view.store, configuration, place, now).stock
    heats = view.engine.current(place, Quantity.TEMPERATURE, now)
    moistures = [one.milli for one in view.engine.current(place, Quantity.MOISTURE, now)]
    hottest = max(heats, key=lambda one: one.milli, default=None)
    works = _works(view.store, place)
    begun = size.begun if size.begun is not None else _begun(works)
    squeeze, smell = (_last_seen(works, name, now) for name in ("squeeze", "smell"))
    known = {alarm: view.engine.state.alarms.get(alarm_key(place, alarm)) for alarm in FORBID}
    alarms = {alarm for alarm, one in known.items() if one is not None and one.on}
    outlived = {alarm for alarm in alarms if view.engine.outlived(alarm_key(place, alarm), now) is not None}
    return BedNow(
        surface_mm2=size.surface_mm2,
        worms_g=None if stock is None else round(stock.weight.usual),
        temperature_milli_c=_warmth(view, configuration, place, now),
        moisture_milli_pct=max(moistures, default=None),
        age_ms=None if begun is None else _age(begun, now),
        empty=state is not None and state.emptied_at is not None,
        hottest_milli_c=None if hottest is None else hottest.milli,
        hottest_age_ms=0 if hottest is None else max(0, now - hottest.time),
        hottest_by_hand=hottest is not None and hottest.by_hand,
        alarms=tuple(alarm_name(one) for one in FORBID if one in alarms - outlived),
        outlived=tuple(alarm_name(one) for one in FORBID if one in outlived),
        runs=squeeze == "5",
        smell=smell if smell in BAD_SMELLS else "",
    )


def fed_lately(store: Store, configuration: Configuration, place: str, now: int) -> tuple[int, bool]:
    """Return the food of the last seven days in grams, and whether all of it is known.

    Args:
        store: The journal.
        configuration: The configuration, which has the yard's containers.
        place: The bin.
        now: The present, UTC ms.

    Returns:
        The grams, and False where an entry has no amount that can be weighed.
    """
    masses = [
        _grams(work, configuration)
        for work in _works(store, place)
        if declared(work.kind).feeds and now - WEEK_MS < work.time <= now
    ]
    return round(sum(one for one in masses if one is not None)), None not in masses


def feedings_of(store: Store, configuration: Configuration, place: str, now: int) -> list[tuple[int, float | None]]:
    """Return the feedings of a bin since it was last emptied, in order: (when in UTC ms, grams or None if unknown).

    Args:
        store: The journal.
        configuration: The configuration, which has the yard's containers.
        place: The bin.
        now: The present, UTC ms.
    """
    found: list[tuple[int, float | None]] = []
    for work in _works(store, place):
        if declared(work.kind).material is Material.ENDS:
            found.clear()
        elif declared(work.kind).feeds and work.time <= now:
            found.append((work.time, _grams(work, configuration)))
    return found


def _works(store: Store, place: str) -> list[Work]:
    found = [one.work for one in work_log(store) if one.work is not None and one.work.place == place]
    return sorted(found, key=lambda work: work.time)


def _last_seen(works: Iterable[Work], name: str, now: int) -> str:
    """Return the last word of a sight since the bin was emptied, if it is fresh enough; else ""."""
    word = ""
    for work in works:
        if declared(work.kind).material is Material.ENDS:
            word = ""
        elif getattr(work, name) and now - SEEN_MS < work.time <= now:
            word = getattr(work, name)
    return word


def _age(begun: int, now: int) -> int:
    """Return the age of a bed, ms; below 0 if it is to be begun on a later day (a day of the configuration is one of UTC)."""
    age = now - begun
    return age if age < -DAY_MS else max(0, age)


def _begun(works: Iterable[Work]) -> int | None:
    begun = None
    for work in works:
        if declared(work.kind).material is Material.ENDS:
            begun = None
        elif work.kind in FILLS_BED and begun is None:
            begun = work.time
    return begun


def _warmth(view: YardView, configuration: Configuration, place: str, now: int) -> int | None:
    settings = configuration.settings
    probes = {name: one for name, one in settings.probes.items() if one.quantity is Quantity.TEMPERATURE}
    stays = {name: _stays(view.store, name, one) for name, one in probes.items()}
    probes |= dict.fromkeys(
        (hand_series(place), *(hand_series(place, spot) for spot in settings.spots_of(place))), _HAND
    )
    # Where nothing but people tells of now, what probes said before they fell silent is no longer the bed's warmth.
    now_known = view.engine.current(place, Quantity.TEMPERATURE, now)
    if now_known and all(one.by_hand for one in now_known):
        probes = {name: one for name, one in probes.items() if is_hand(name)}
    hours: dict[int, list[int]] = {}
    for name, probe in probes.items():
        bad = {kept.time for kept in view.store.flags(name, now - WARMTH_MS, now) if kept.flag not in ACCEPTED}
        for reading in view.store.readings([name], now - WARMTH_MS, now):
            milli = calibrate(reading.micro, reading.unit, probe, reading.time)
            there = name not in stays or _where(stays[name], reading.time) == place
            if milli is not None and reading.time not in bad and there:
                hours.setdefault(reading.time // HOUR_MS, []).append(milli)
    return round(fmean(fmean(values) for values in hours.values())) if hours else None


def _stays(store: Store, name: str, probe: Probe) -> list[tuple[int, str]]:
    """Return where a probe was from when on, by the log, UTC ms, in order; "" while it lay outside."""
    moves = [one.work for one in work_log(store) if one.work is not None and one.work.probe == name]
    moves.sort(key=lambda one: one.time)
    return [(0, probe.place), *((one.time, one.place if one.kind is WorkKind.PROBE_IN else "") for one in moves)]


def _where(stays: list[tuple[int, str]], time: int) -> str:
    return next(where for since, where in reversed(stays) if since <= time)


def _grams(work: Work, configuration: Configuration) -> float | None:
    amount = known_amount(work.amount, work.measure, work.unit)
    if amount is None:
        return None
    material = known_feedstocks().get(work.what.casefold())
    known = material.density.typical if material is not None and material.density is not None else FOOD_KG_M3
    if amount.dimension is Dimension.MASS:
        return amount.base
    if amount.dimension is Dimension.VOLUME and amount.base is not None:
        return amount.base * known / 1000
    if amount.dimension is Dimension.CONTAINERS:
        container = configuration.containers.get(amount.unit, Container())
        held = container.content(work.what, float(amount.count), known)
        return None if held is None else held.mass_g
    return None
