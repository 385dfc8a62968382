"""Describes a pile: the phase and age of its batch, how warm it is, how far its rule is."""

from monitor.alarms import GOING_ON
from monitor.engine import BatchRun
from monitor.model.alarm_kinds import About, read_alarms
from monitor.model.words import PHASE_SHOWN, Phase, RuleState
from monitor.notices import By, next_round_words
from monitor.page.places.needs import Need
from monitor.page.places.page_times import age, ago
from monitor.page.places.place_now import PlaceNow, empty_view, sentence
from monitor.page.places.place_view import PlaceView
from monitor.page.places.probe_view import Health, ProbeView, last_heard
from monitor.page.places.rule_progress import Progress, progress_of


def pile_view(here: PlaceNow) -> PlaceView:
    """Return the view of a pile."""
    state, now = here.engine.state, here.now
    batch = state.batches.lying.get(here.place)
    run = state.runs.get(batch) if batch is not None else None
    if run is None:
        return empty_view(here, "By the log nothing lies here; log a heap as built when it is made.")
    progress = progress_of(run, state.settings.site.temperature_unit, now)
    phase = run.walk.shown_phase
    old = f"first read {ago(run.built, now)}" if run.by_reading else age(run.built, now)
    silent = any(probe.core_heat and not probe.serves and probe.health is not Health.OUT for probe in here.probes)
    return PlaceView(
        place=here.place,
        is_bin=False,
        name=here.name,
        state=f"{_danger(here.needs)}{PHASE_SHOWN[phase]}, {old}",
        lines=tuple(line for line in _lines(here, run, progress) if line),
        needs=here.needs,
        off=silent or not here.watch.known or (phase is Phase.COOLING and _unmet(run)),
        known=here.watch.known,
        probes=here.probes,
        batch=run.batch,
        built=run.built,
        run=run,
        progress=progress,
    )


def _lines(here: PlaceNow, run: BatchRun, progress: Progress | None) -> list[str]:
    """Return further lines about a heap; empty ones are not shown."""
    by_hand = here.by_hand()
    # If probes send readings too, show both, because alarms use both.
    lines = [by_hand] if by_hand and here.watch.by is By.HAND else [_heat_line(here.probes, here.now), by_hand]
    lines.append(here.apart())
    if progress is not None:
        lines.append(progress.short)
    if here.watch.rounds is not None and not _danger(here.needs):
        # Never send anybody to read a burning heap.
        lines.append(sentence(next_round_words(here.watch.rounds, here.now, here.clock)))
    lines.append(_turning_line(here, run))
    return lines


def _turning_line(here: PlaceNow, run: BatchRun) -> str:
    """Return how a heap recovers from a turning; "" if it does not."""
    if not run.walk.recovering or run.walk.turned_at is None:
        return ""
    turned = here.clock(run.walk.turned_at)
    if any(probe.core_heat and probe.health is Health.OUT for probe in here.probes):
        return f"Turned {turned}; its probes lie outside"
    return "" if _danger(here.needs) else f"Getting warm again since the turning {turned}"


def _danger(mine: tuple[Need, ...]) -> str:
    """Return the words before a heap's phase while it is too hot, so that nobody reads *holding* about a fire."""
    on = {need.alarm for need in mine if need.state in GOING_ON}
    worst = next((alarm for alarm in read_alarms(About.HEAP) if alarm.kind.shuts and alarm in on), None)
    return "" if worst is None else f"{worst.kind.name}, "


def _unmet(run: BatchRun) -> bool:
    return run.rule_id != "none" and run.rule is not RuleState.MET


def _heat_line(probes: tuple[ProbeView, ...], now: int) -> str:
    """Return how warm a heap is inside, by its core probes."""
    cores = [probe for probe in probes if probe.core_heat and probe.serves and probe.milli is not None]
    if not cores:
        inside = [probe for probe in probes if probe.core_heat]
        if inside and all(probe.health is Health.OUT for probe in inside):
            return "Its core probes are outside"
        if not inside:
            return "No core probe sits here"
        return last_heard(inside, now) or "No core probe speaks now"
    coldest = min(cores, key=lambda probe: (probe.milli or 0, probe.probe))
    hottest = max(cores, key=lambda probe: (probe.milli or 0, probe.probe))
    if coldest is hottest:
        return f"{coldest.shown} at {coldest.name}"
    return f"inside: coldest {coldest.shown}, hottest {hottest.shown}"
