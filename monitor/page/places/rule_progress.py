"""Shows how far a batch is with its rule, in words and as steps to draw."""

from dataclasses import dataclass

from monitor.engine import BatchRun, heat_status, nearest_way, progress_now, rule_of, turning_waits
from monitor.material import HeatStatus
from monitor.model.times import DAY_MS, HOUR_MS, show_duration
from monitor.model.units import show_temperature
from monitor.model.words import RuleState
from monitor.notices import say_span
from monitor.proof.following import PartState

UNREAD_MOST_MS = 2 * HOUR_MS
"""How long readings may be missing before the page no longer speaks of today: as much as a counted day may lack."""


@dataclass(frozen=True, slots=True, kw_only=True)
class Step:
    """One of the rule's counts: done, needed, and both in words."""

    done: float
    needed: float
    words: str

    @property
    def whole(self) -> bool:
        """Whether it is small enough to be drawn as single strokes."""
        return float(self.needed).is_integer() and 1 <= self.needed <= 31 and float(self.done).is_integer()


@dataclass(frozen=True, slots=True, kw_only=True)
class Progress:
    """A batch's progress under its rule.

    Attributes:
        title: The rule's title.
        rule: The rule's id.
        state: `not begun`, `running` or `met`.
        short: One line: `9 of 15 days, 2 of 5 turnings`.
        steps: The rule's counts.
        today: The standing of the running day, or "".
    """

    title: str
    rule: str
    state: str
    short: str
    steps: tuple[Step, ...]
    today: str

    @property
    def counts_days(self) -> bool:
        """Whether the rule counts days."""
        return any(step.words.partition(";")[0].endswith(("day", "days")) for step in self.steps)


def progress_of(run: BatchRun, temperature_unit: str, now: int) -> Progress | None:
    """Return how far a batch is with its rule; None if it follows none.

    Args:
        run: The batch.
        temperature_unit: The site's, `degF` or `degC`.
        now: The daemon's time, UTC ms.
    """
    if run.rule_id == "none":
        return None
    rule = rule_of(run)
    known = progress_now(run)
    values = known.values if known is not None else {}
    steps = tuple(_steps(values, waiting=turning_waits(run)))
    met = run.rule is RuleState.MET
    counted = ", ".join(step.words for step in steps)
    way = values.get("at_hold_c")
    if counted and way is not None:
        # The rule can be fulfilled at several temperatures, so name the one that is counted.
        counted += f" at {show_temperature(round(way * 1000), temperature_unit)}"
    if met:
        short = "its rule is met" + (f": {counted}" if counted else "")
    elif heat_status(run) is HeatStatus.VOID:
        short = "raw material came in: its rule begins anew"
    elif run.rule is RuleState.NOT_BEGUN:
        short = "its rule has not begun: not at temperature yet"
    else:
        short = counted or "its rule is running"
    return Progress(
        title=rule.title if rule is not None else run.rule_id,
        rule=run.rule_id,
        state=run.rule.value,
        short=short,
        steps=steps,
        today=_today(run, now) if run.rule is RuleState.RUNNING else "",
    )


def _ordinal(number: int) -> str:
    last = {1: "st", 2: "nd", 3: "rd"}.get(number % 10, "th") if number % 100 not in (11, 12, 13) else "th"
    return f"{number}{last}"


def _steps(values: dict[str, int | float], *, waiting: bool) -> list[Step]:
    found = []
    needed_h = values.get("needed_h")
    held_h = [values[key] for key in ("longest_run_h", "run_h", "total_h") if key in values]
    for key, one, many in (("days", "day", "days"), ("turnings", "turning", "turnings")):
        needed = values.get(f"{key}_needed")
        if needed is not None:
            done = min(values.get(key, 0), needed)
            words = f"{done:g} of {needed:g} {one if needed == 1 else many}"
            if needed_h is not None and not held_h:
                # The hours belong to each turning, so there is no count of them for the whole batch.
                words += f", each after {_hours(needed_h)} in one piece"
            if key == "turnings" and waiting and done < needed:
                words += f"; the {_ordinal(int(done) + 1)} counts when it is back at temperature"
            found.append(Step(done=done, needed=needed, words=words))
    if needed_h is not None and held_h:
        done = min(max(held_h), needed_h)
        kind = "in all" if "total_h" in values else "in one piece"
        found.append(Step(done=done, needed=needed_h, words=f"{_hours(done)} of {_hours(needed_h)} {kind}"))
    return found


def _hours(hours: float) -> str:
    return show_duration(round(hours * HOUR_MS))


def _today(run: BatchRun, now: int) -> str:
    """Return the standing of the running day for a rule that counts days of 24 h from the first hold instant on."""
    if now - run.walk.now > UNREAD_MOST_MS:
        # The engine stands at the last reading, so its running day is not today.
        return f"nothing of the last {say_span(now - run.walk.now)} counts yet"
    tracker = nearest_way(run)
    if tracker is None:
        return ""
    for part in tracker.state.parts:
        days = part.open
        if part.met_at is None and days:
            day = days[0]
            if run.walk.now - day.start >= DAY_MS:
                continue
            if day.dark:
                return "today does not count: too much of it is not proven"
            if day.bad:
                return "today does not count: it was below temperature"
            # With too much recovery in all, only the end of the day shows whether it counts.
            return _passed_over(part) or "today counts so far"
    return ""


def _passed_over(part: PartState) -> str:
    """Return how many days do not count because too much of the time was recovery, or ""."""
    over = len(part.recovery) - part.days
    if over <= 0:
        return ""
    days = "1 day does not count" if over == 1 else f"{over} days do not count"
    return f"{days}: more than a quarter of the time would be recovery after turnings, so turn it less often"
