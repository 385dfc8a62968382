"""Tunes a place, from its record to the findings: ranges to sets, sets to runs, runs to rows; and the phases of a pile.

Rules: sets whose limits contradict each other are left out, as the configuration would refuse them. Today's settings run
first and show which alarms people acted on.
"""

from collections.abc import Callable, Sequence
from contextlib import AbstractContextManager
from dataclasses import dataclass, replace
from zoneinfo import ZoneInfo

from monitor.app.cluster import Cluster
from monitor.app.tuning_run.tuning_record import Material
from monitor.app.tuning_run.tuning_runs import Hands, PlaceJudge, PlaceRun, run_of, workers, workers_of
from monitor.configuration import Range, fits, keys_of, misfit, read_range
from monitor.engine import PEOPLE
from monitor.model.alarm_kinds import About, Alarm
from monitor.model.effects import Effect
from monitor.model.errors import MisuseError
from monitor.model.settings import Settings
from monitor.model.thresholds import BinThresholds, PileThresholds
from monitor.tuning import (
    MOST_VARIED,
    BatchDates,
    Findings,
    Ground,
    Heard,
    Kind,
    Set,
    Tried,
    Vary,
    Window,
    applied,
    findings_of,
    ground_of,
    hints_of,
    one_at_a_time,
    phase_dates,
    sets_of,
    sweep,
    today,
    with_moves,
)


@dataclass(frozen=True, slots=True, kw_only=True)
class Asked:
    """The request: how to make the sets, and how to compare them with the truth.

    Attributes:
        wanted: How many sets to make at most.
        seed: Seed of the draws.
        worth: Needless messages that are as bad as a missed trouble.
        window: When a message counts as a warning.
        workers: Processes of this computer, where no cluster does the work.
        cluster: The cluster that does it, or None.
    """

    wanted: int
    seed: int
    worth: int
    window: Window
    workers: int
    cluster: Cluster | None = None


@dataclass(frozen=True, slots=True, kw_only=True)
class Moved:
    """The dates of a pile's phases under one set."""

    values: Set
    batches: tuple[BatchDates, ...]


@dataclass(slots=True)
class Done:
    """The result of tuning.

    Attributes:
        findings: The rows.
        ranges: The ranges that were varied.
        ground: The truth.
        run, judge: Run a set again, for the pictures.
        left_out: How many sets were not run because the configuration would refuse them.
        left_out_why: What is wrong with one of those, in the configuration's words.
        phases: For a pile: today's dates first, then those with each threshold moved alone.
    """

    findings: Findings
    ranges: Sequence[Range]
    ground: Ground
    run: PlaceRun
    judge: PlaceJudge
    phases: list[Moved]
    left_out: int = 0
    left_out_why: str = ""

    def again(self, values: Set) -> tuple[list[Effect], Heard]:
        """Run one set again and return its effects and its messages."""
        effects = replace(self.run, audience=PEOPLE)(values)
        return effects, self.judge.heard(effects)


def usual_ranges(material: Material, ground: Ground) -> list[Range]:
    """Return the ranges to vary by default: the thresholds behind the labelled troubles, else those of heat."""
    settings, place = material.settings, material.place
    named = frozenset(alarm for trouble in ground.troubles for alarm in trouble.about)
    is_pile = place in settings.piles
    heat = Alarm.HOT if is_pile else Alarm.OVERHEATING
    mine = [] if is_pile else [alarm for alarm in Alarm if alarm in named and alarm.kind.about is About.BED]
    texts = _tried(settings, place, mine) or _tried(settings, place, [heat])
    return [read_range(text, settings, place) for text in texts]


def _tried(settings: Settings, place: str, alarms: Sequence[Alarm]) -> list[str]:
    """Return the ranges that are declared for the thresholds of some alarms, each once."""
    keys, unit = keys_of(type(_limits(settings, place))), settings.site.temperature_unit
    found = {key: keys[key].said.range_in(unit) for alarm in alarms for key in alarm.kind.goes_by}
    return [f"{key}={text}" for key, text in found.items() if text]


def varies_of(ranges: Sequence[Range]) -> tuple[Vary, ...]:
    """Return ranges in the form that tuning takes.

    Raises:
        MisuseError: One threshold is varied twice, or there are too many.
    """
    if len(ranges) > MOST_VARIED:
        raise MisuseError(f"--vary: {len(ranges)} thresholds at once; {MOST_VARIED} is the most.")
    fields = [one.threshold.key for one in ranges]
    twice = next((field for field in fields if fields.count(field) > 1), None)
    if twice is not None:
        raise MisuseError(f"--vary: {twice} is varied twice; write one range for it.")
    return tuple(
        Vary(section=one.section, place=one.place, field=one.threshold.field, values=tuple(sorted(one.values)))
        for one in ranges
    )


def sets_that_fit(
    settings: Settings, place: str, varies: Sequence[Vary], wanted: int, seed: int
) -> tuple[list[Set], int, str]:
    """Return the sets to try, how many are left out because the configuration would refuse them, and why for one of those.

    Args:
        settings: Today's settings.
        place: Id of the place.
        varies: The thresholds to vary, with their values.
        wanted: How many sets to make at most.
        seed: Seed for drawing among more sets than wanted.

    Raises:
        MisuseError: None is left; the sentence says why.
    """
    fit: list[Set] = []
    unfit: list[Set] = []
    for values in sets_of(varies, wanted, seed):
        (fit if fits(_limits(applied(settings, varies, values), place)) else unfit).append(values)
    why = misfit(_limits(applied(settings, varies, unfit[-1]), place)) if unfit else ""
    if not fit:
        raise MisuseError(f"No setting in these ranges makes sense: {why}")
    return fit, len(unfit), why


def _limits(settings: Settings, place: str) -> BinThresholds | PileThresholds:
    return settings.piles[place].thresholds if place in settings.piles else settings.bins[place].thresholds


def tune(
    material: Material, ranges: Sequence[Range], asked: Asked, progress: Callable[[int, int], None] | None = None
) -> Done:
    """Try the sets and return the result.

    Args:
        material: The place's record.
        ranges: The thresholds to vary, with their values.
        asked: How to make and judge the sets.
        progress: Called with how many sets are done, and of how many.

    Raises:
        MisuseError: One threshold is varied twice, there are too many, or no set makes sense.
    """
    varies = varies_of(ranges)
    ground = ground_of(material.stretches, material.place, material.start, material.end)
    sets, left_out, why = sets_that_fit(material.settings, material.place, varies, asked.wanted, asked.seed)
    now = today(material.settings, varies)
    run = run_of(material, varies)
    judge = PlaceJudge(ground, asked.window, ())
    effects = run(now)
    judge = replace(judge, hints=hints_of(material.events, judge.heard(effects).calls, material.place))
    judged, kept = judge(effects)
    mine = Tried(values=now, judged=judged, kept=kept)
    with _hands(run, asked, len(sets)) as hands:
        results = sweep(hands.run, sets, judge, hands.spread, workers=hands.count, progress=progress)
    tried = [Tried(values=values, judged=one, kept=hinted) for values, (one, hinted) in zip(sets, results, strict=True)]
    zone = ZoneInfo(material.settings.site.time_zone)
    found = findings_of(ground, varies, mine, tried, zone, worth=asked.worth, seed=asked.seed)
    if found.kind is Kind.WHAT_IF:
        found = with_moves(found, lambda values: judge.heard(run(values)).calls)
    phases = _phases(run, effects, now) if material.place in material.settings.piles else []
    return Done(found, ranges, ground, run, judge, phases, left_out, why)


def _hands(run: PlaceRun, asked: Asked, sets: int) -> AbstractContextManager[Hands]:
    return workers(run, min(asked.workers, sets)) if asked.cluster is None else workers_of(asked.cluster, run)


def _phases(run: PlaceRun, effects: Sequence[Effect], now: Set) -> list[Moved]:
    """Return how the dates of a pile's phases move with each threshold alone."""
    place = run.varies[0].place
    alone = [
        values
        for values in one_at_a_time(run.varies, now)
        if fits(_limits(applied(run.prepared.settings, run.varies, values), place))
    ]
    return [
        Moved(values=now, batches=phase_dates(effects, place)),
        *(Moved(values=values, batches=phase_dates(run(values), place)) for values in alone),
    ]
