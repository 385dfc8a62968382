"""The engine's second door: many commits at once, with the effects and the state that feeding them one by one gives.

Commits that are out of the ordinary are fed one at a time (`barriers`); runs between them are worked out as columns (`drive`).
"""

from collections.abc import Callable, Hashable

from monitor.conditioning import Conditioned, Course, UnsettledError
from monitor.engine.context.audience import Nobody
from monitor.engine.context.core import Core
from monitor.engine.engine import Engine
from monitor.engine.stretch.barriers import RowsOf, first_barrier, ready, rows_by_probe
from monitor.engine.stretch.commits import Commits
from monitor.engine.stretch.drive import Drive
from monitor.engine.stretch.record import ColumnHistory
from monitor.engine.stretch.unread import UnreadDrive
from monitor.model.effects import Effect
from monitor.model.events import Event

Known = dict[Hashable, Conditioned | int]
"""The runs of a piece, by where they begin and by the state then; or the commit up to which there is none."""

ROWS = 400_000
"""The most rows of a run (our choice): enough that its preparation costs little, few enough for little memory."""

LEAST = 96
"""The fewest commits that are worth a run (measured: preparing one costs as much as feeding a hundred of its commits)."""

GROWTH = 4
"""How many times as long as the run before the next one may be (our choice)."""


def feed_commits(
    engine: Engine,
    commits: Commits,
    history: ColumnHistory,
    *,
    rows: int = ROWS,
    least: int = LEAST,
    told: Callable[[int], None] | None = None,
    known: Known | None = None,
) -> list[Effect]:
    """Feed commits and return the effects; verdicts are not collected through this door.

    Args:
        engine: The engine; the first commit is later than everything it was fed.
        commits: The commits.
        history: The record of everything fed before; the commits are added to it.
        rows: Most rows of a run.
        least: Fewest commits of a run.
        known: Keeps the runs, for commits that are fed many times to engines that differ only in thresholds.
        told: Called now and then with the number of commits that have been fed.
    """
    history.open(commits)
    effects: list[Effect] = []
    # A prepared recording is best run in one piece; otherwise the first runs are short, since a barrier may be near.
    begin = 4 * least if known is None else rows
    between = [(index, event) for index, events in sorted(commits.between.items()) for event in events][::-1]
    commit, wanted, alone = 0, begin, 0
    while commit < len(commits):
        while between and between[-1][0] <= commit:
            effects += engine.feed(between.pop()[1], history)
        done = commit
        if commit >= alone and ready(engine.core) and not engine.core.silence_check_is_far(int(commits.at[commit])):
            size = min(
                wanted,
                max(least, rows * (len(commits) - commit) // max(int(commits.first[-1] - commits.first[commit]), 1)),
            )
            done, alone = _run(
                engine, commits, history, commit, min(commit + size, len(commits)), between, least, known
            )
            effects += engine.take_effects()
            wanted = max(begin, min(GROWTH * (done - commit), 1 << 30))
        if done == commit:
            history.reach(int(commits.first[commit + 1]))
            effects += engine.feed(commits.event(commit), history)
            done = commit + 1
        engine.take_verdicts()
        if told is not None and (done - commit > 1 or commit % 500 == 0):
            told(done)
        commit = done
    while between:
        effects += engine.feed(between.pop()[1], history)
    return effects


def _run(
    engine: Engine,
    commits: Commits,
    history: ColumnHistory,
    start: int,
    end: int,
    between: list[tuple[int, Event]],
    least: int,
    known: Known | None,
) -> tuple[int, int]:
    """Take in as many commits as fit into one run from `start` on.

    Returns:
        The first commit that is left, and the one before which all must be fed by themselves, since no run is worth it.
    """
    core = engine.core
    key = (start, end, repr(core.conditioner.state), repr(core.state.watches)) if known is not None else None
    if known is not None and key in known:
        run = known[key]
    else:
        rows = rows_by_probe(commits, start, end)
        run = found = first_barrier(core, commits, start, end, rows)
        if found - start >= least:
            run = _conditioned(core, commits, start, found, rows, least)
        if known is not None:
            known[key] = run
    if isinstance(run, int):
        return start, run + 1
    base = int(commits.first[start])
    history.reach(base)
    drive = UnreadDrive if isinstance(engine.core.audience, Nobody) else Drive
    done = drive(engine, run, history, between, start).go(lambda count: history.reach(base + count))
    history.reach(int(commits.first[start + done]))
    return start + done, start + done


def _conditioned(core: Core, commits: Commits, start: int, end: int, rows: RowsOf, least: int) -> Conditioned | int:
    """Return the run of the commits from `start` on, cut where a reading touches the past; else the commit up to which none is.

    Args:
        core: It stands where the run begins.
        commits: What comes.
        start: The first commit.
        end: The commit behind the last.
        rows: By probe, the rows from `start` on.
        least: Fewest commits of a run.
    """
    while end - start >= least:
        first, last = int(commits.first[start]), int(commits.first[end])
        course = Course(commits.at[start:end], commits.first[start : end + 1] - first, commits.time[first:last])
        mine = {
            name: (kept, commits.micro[first:][kept])
            for name, all_of in rows.items()
            if name in core.conditioner.state.probes and len(kept := all_of[: int(all_of.searchsorted(last - first))])
        }
        if not mine:
            return end
        try:
            run = Conditioned(core.conditioner, course, mine)
        except UnsettledError:
            return start + least
        late = min((row for series in run.series.values() for row in series.late), default=None)
        if late is None:
            return run
        end = start + course.commit_of(late)
    return end
