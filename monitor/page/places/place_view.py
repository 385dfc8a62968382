"""Piles and bins as the page shows them, and in which order: the worst first.

Worst is what a person must act on: an alarm by its priority, a fire first, an unseen one before a seen one of the same, then
what was put off, then what is not as it should be (a bin outside comfort, a heap whose probes are silent), then the rest by
name, in natural order (*Bay 2* before *Bay 10*).
"""

import re
from dataclasses import dataclass, field
from zoneinfo import ZoneInfo

from monitor.alarms import GOING_ON
from monitor.engine import Engine
from monitor.engine.runs import BatchRun
from monitor.engine.spots import last_read, why_not_held
from monitor.model.units import show_percent
from monitor.model.words import PHASE_SHOWN, AlarmState, Dampness, Phase, RuleState, Thermal
from monitor.notices import By, PlaceWatch, next_round_words, read_words
from monitor.notices.localtime import say_span, say_time
from monitor.page.places.needs import Need, name_of
from monitor.page.places.page_times import age, ago
from monitor.page.places.probe_view import Health, ProbeView, last_heard, probes_at
from monitor.page.places.rule_progress import Progress, progress_of


@dataclass(frozen=True, slots=True, kw_only=True)
class PlaceView:
    """One pile or bin at a glance.

    Attributes:
        place: Its id.
        is_bin: Whether it is a bin.
        name: What people call it, safe for one line.
        state: How it is in two or three words: `holding`, `comfort, too wet`, `empty`.
        lines: A few lines that say more.
        needs: What needs a person here, the most urgent first.
        off: Whether it is not as it should be although no alarm is open.
        batch: The batch on a pile, or "".
        progress: How far its rule is, or None.
        probes: Its probes.
        known: Whether it is known how the place is now, by probes or by hand; an empty one has nothing to know.
    """

    place: str
    is_bin: bool
    name: str
    state: str
    lines: tuple[str, ...]
    needs: tuple[Need, ...]
    off: bool
    probes: tuple[ProbeView, ...]
    batch: str = ""
    built: int | None = None
    run: BatchRun | None = field(default=None, compare=False)
    progress: Progress | None = None
    known: bool = True

    @property
    def worst(self) -> Need | None:
        """The most urgent of its needs that is not settled."""
        return next((one for one in self.needs if one.listed), None)

    @property
    def shut(self) -> bool:
        """Whether an alarm that goes on here forbids to open the heap."""
        return any(one.shut for one in self.needs)

    @property
    def look(self) -> str:
        """How it is marked: `act`, `soon`, `watch` or `well`."""
        worst = self.worst
        if worst is None:
            return "watch" if self.off or self.put_off is not None else "well"
        return "act" if worst.urgent else "soon"

    @property
    def put_off(self) -> Need | None:
        """The most urgent of its needs that was put off."""
        return next((one for one in self.needs if one.state is AlarmState.SHELVED), None)

    @property
    def heard(self) -> str:
        """What its mark says to those who cannot see it; "" where all is well."""
        if self.worst is not None:
            return "needs you now" if self.look == "act" else "needs you"
        if self.put_off is not None:
            # Without by whom: guests read it too.
            return self.put_off.stand.partition(" by ")[0]
        return "not as it should be" if self.off else ""


_DIGITS = re.compile(r"(\d+)")


def natural(name: str) -> list[tuple[int, int, str]]:
    """Return a key by which names sort as people count: *Bay 2* before *Bay 10*."""
    return [(0, int(one), "") if one.isdecimal() else (1, 0, one.casefold()) for one in _DIGITS.split(name[:80]) if one]


def places(engine: Engine, found: list[Need], now: int, *, names: bool = True) -> list[PlaceView]:
    """Return every pile and bin, the worst first; without `names` of people."""
    views = [_view(engine, watch, found, now, names=names) for watch in engine.watched(now)]
    return sorted(views, key=_rank)


def place_view(engine: Engine, place: str, found: list[Need], now: int, *, names: bool = True) -> PlaceView:
    """Return one place; `found` are the needs of the whole yard. Without `names` nobody is named.

    Raises:
        KeyError: There is no such place.
    """
    watch = next((one for one in engine.watched(now) if one.place == place), None)
    if watch is None:
        raise KeyError(place)
    return _view(engine, watch, found, now, names=names)


def _view(engine: Engine, watch: PlaceWatch, found: list[Need], now: int, *, names: bool) -> PlaceView:
    mine = tuple(one for one in found if one.place == watch.place)
    if watch.place in engine.state.settings.bins:
        return _bin(engine, watch, mine, now, names=names)
    return _pile(engine, watch, mine, now, names=names)


def _by_hand(engine: Engine, watch: PlaceWatch, now: int, *, names: bool) -> str:
    """Return what was read by hand last, as `status` does: `145 °F by hand, Ann, 3 h ago, coldest of 4`; "" for nothing."""
    last = last_read(engine.state.hands, watch.place)
    if last is None:
        return ""
    by = last.by if names else ""
    extremes = (last.low, last.high)
    ago_ms = now - last.time
    empty = watch.place in engine.state.settings.piles and watch.place not in engine.state.batches.lying
    why_not = "" if last.held else why_not_held(engine.state.hands, watch.place, now, empty=empty)
    return read_words(engine.state.settings, watch.place, extremes, last.spots, by, ago_ms, why_not=why_not)


def _rank(view: PlaceView) -> tuple[int, int, bool, bool, int, list[tuple[int, int, str]]]:
    worst = view.worst
    if worst is None:
        settled = 1 if view.put_off is not None else 2 if view.off else 3 if view.state != "empty" else 4
        return settled, 0, False, False, 0, natural(view.name)
    return 0, -worst.priority, not worst.key.endswith("/fire"), not worst.open, worst.since, natural(view.name)


def _pile(engine: Engine, watch: PlaceWatch, mine: tuple[Need, ...], now: int, *, names: bool) -> PlaceView:
    state, place = engine.state, watch.place
    batch = state.batches.lying.get(place)
    run = state.runs.get(batch) if batch is not None else None
    probes = tuple(probes_at(engine, place, now))
    asked = _asked(engine, watch, now)
    by_hand = _by_hand(engine, watch, now, names=names)
    if run is None:
        empty = asked or "By the log nothing lies here; log a heap as built when it is made."
        return PlaceView(
            place=place,
            is_bin=False,
            name=name_of(engine, place),
            state="empty by the log" if asked else "empty",
            lines=tuple(line for line in (empty, by_hand) if line),
            needs=mine,
            off=bool(asked),
            known=watch.known,
            probes=probes,
        )
    progress = progress_of(run, state.settings.site.temperature_unit, now)
    phase = run.walk.shown_phase
    # Where probes speak too, both stand there: the limits are held against both.
    lines = [by_hand] if by_hand and watch.by is By.HAND else [_heat_line(probes, now), by_hand]
    lines.append(_apart(engine, place, now))
    if progress is not None:
        lines.append(progress.short)
    zone = ZoneInfo(state.settings.site.time_zone)
    if watch.rounds is not None and not _danger(mine):
        # Nobody is sent to read a heap that may burn.
        lines.append(_sentence(next_round_words(watch.rounds, now, lambda at: say_time(at, now, zone))))
    if run.walk.recovering and run.walk.turned_at is not None:
        outside = any(one.core_heat and one.health is Health.OUT for one in probes)
        turned = say_time(run.walk.turned_at, now, zone)
        if outside:
            lines.append(f"Turned {turned}; its probes lie outside")
        elif not _danger(mine):
            lines.append(f"Getting warm again since the turning {turned}")
    silent = any(one.core_heat and not one.serves and one.health is not Health.OUT for one in probes)
    return PlaceView(
        place=place,
        is_bin=False,
        name=name_of(engine, place),
        state=f"{_danger(mine)}{PHASE_SHOWN[phase]}, "
        + (f"first read {ago(run.built, now)}" if run.by_reading else age(run.built, now)),
        lines=tuple(line for line in lines if line),
        needs=mine,
        off=silent or not watch.known or (phase is Phase.COOLING and _unmet(run)),
        known=watch.known,
        probes=probes,
        batch=run.batch,
        built=run.built,
        run=run,
        progress=progress,
    )


def _sentence(words: str) -> str:
    return words[:1].upper() + words[1:]


def _apart(engine: Engine, place: str, now: int) -> str:
    """Return how a reading by hand and a probe of a place differ; "" where they do not."""
    return engine.apart(place, now).partition(": ")[2]


def _asked(engine: Engine, watch: PlaceWatch, now: int) -> str:
    """Return what is asked of a place that is empty by the log while something in it reads warm; "" where nothing is."""
    if watch.why != "not empty":
        return ""
    asked = engine.empty_yet_warm(watch.place, now).partition(": ")[2]
    return f"{_sentence(asked)}." if asked else ""


def _danger(mine: tuple[Need, ...]) -> str:
    """Return what stands before a heap's phase while it is too hot, so that nobody reads *holding* of a fire."""
    on = {one.alarm for one in mine if one.state in GOING_ON}
    return "fire danger, " if "fire" in on else "too hot, " if "too-hot" in on else ""


def _unmet(run: BatchRun) -> bool:
    return run.rule_id != "none" and run.rule is not RuleState.MET


def _heat_line(probes: tuple[ProbeView, ...], now: int) -> str:
    cores = [one for one in probes if one.core_heat and one.serves and one.milli is not None]
    if not cores:
        inside = [one for one in probes if one.core_heat]
        if inside and all(one.health is Health.OUT for one in inside):
            return "Its core probes are outside"
        if not inside:
            return "No core probe sits here"
        return last_heard(inside, now) or "No core probe speaks now"
    coldest = min(cores, key=lambda one: (one.milli or 0, one.probe))
    hottest = max(cores, key=lambda one: (one.milli or 0, one.probe))
    if coldest is hottest:
        return f"{coldest.shown} at {coldest.name}"
    return f"inside: coldest {coldest.shown}, hottest {hottest.shown}"


def _bin(engine: Engine, watch: PlaceWatch, mine: tuple[Need, ...], now: int, *, names: bool) -> PlaceView:
    place = watch.place
    bed = engine.state.bins.get(place)
    thermal = bed.thermal if bed is not None and bed.thermal is not None else Thermal.UNKNOWN
    damp = bed.moisture if bed is not None and bed.moisture is not None else Dampness.UNKNOWN
    probes = tuple(probes_at(engine, place, now))
    asked = _asked(engine, watch, now)
    by_hand = _by_hand(engine, watch, now, names=names)
    if watch.by is By.EMPTY or asked:
        empty = asked or "It was emptied; log bedding or food when worms live here again."
        return PlaceView(
            place=place,
            is_bin=True,
            name=name_of(engine, place),
            state="empty by the log" if asked else "empty",
            lines=tuple(line for line in (empty, by_hand) if line),
            needs=mine,
            off=bool(asked),
            known=watch.known,
            probes=probes,
        )
    lines = [by_hand] if by_hand else []
    lines += [apart] if (apart := _apart(engine, place, now)) else []
    warm = [one for one in probes if one.heat and one.serves and one.milli is not None]
    if warm:
        values = sorted(warm, key=lambda one: one.milli or 0)
        low, high = values[0].shown, values[-1].shown
        shown = f"{low} in the bedding" if low == high else f"{low} to {high} in the bedding"
        if waits := [one.counts_from for one in warm if one.counts_from is not None]:
            zone = ZoneInfo(engine.state.settings.site.time_zone)
            shown += f" (just back: counts again from {say_time(max(waits), now, zone)})"
        lines.append(shown)
    elif heard := last_heard([one for one in probes if one.heat], now):
        lines.append(heard)
    wet = [one.milli for one in probes if one.damp and one.serves and one.milli is not None]
    if wet:
        lines.append(f"{show_percent(max(wet))} moist")
    elif heard := last_heard([one for one in probes if one.damp], now):
        lines.append(heard)
    if bed is not None and bed.fed_at is not None:
        lines.append(f"fed {say_span(now - bed.fed_at)} ago")
    words = [thermal.value if thermal is not Thermal.UNKNOWN else "heat unknown"]
    if damp is not Dampness.UNKNOWN and damp is not Dampness.COMFORT:
        words.append(damp.value)
    elif damp is Dampness.UNKNOWN and any(one.damp for one in probes):
        words.append("damp unknown")
    calm = thermal in (Thermal.COMFORT, Thermal.WARM, Thermal.COOL) and damp in (Dampness.COMFORT, Dampness.UNKNOWN)
    return PlaceView(
        place=place,
        is_bin=True,
        name=name_of(engine, place),
        state=", ".join(words),
        lines=(
            ", ".join(lines)
            or ("No probe speaks now" if probes else "No probe sits here, and no reading by hand counts now"),
        ),
        needs=mine,
        off=not calm or not watch.known,
        known=watch.known,
        probes=probes,
    )
