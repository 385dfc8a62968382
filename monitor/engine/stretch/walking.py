"""Commits that matter to the walks of heaps alone are fed to these as they come, several at a time.

A probe close to a limit passes it again and again within minutes. From such a commit on the next few are fed without asking
each time where the next change is.
"""

from typing import TYPE_CHECKING, cast

from monitor.engine.batches.batch_effects import refresh_latent, tell_walk
from monitor.engine.context.core import Core
from monitor.engine.output.alarm_notices import settle
from monitor.engine.stretch.courses import AmbientCourse
from monitor.engine.stretch.heaps import PileCourse
from monitor.engine.stretch.walk_ahead import WalkAhead
from monitor.model.settings import AMBIENT
from monitor.piles import Walk

if TYPE_CHECKING:
    from monitor.engine.stretch.drive import Drive

COMMITS = 64
"""The most commits that are fed at a time (our choice)."""

NEAR = 5
"""Feeding this many quiet commits costs as much as asking where the next change is (measured)."""


class _Batch:
    """One batch whose walk is fed."""

    __slots__ = ("ahead", "batch", "next", "rows", "walk")

    def __init__(self, core: Core, ahead: WalkAhead, commit: int, stop: int) -> None:
        self.batch, self.ahead = ahead.run.batch, ahead
        self.walk: Walk = core.walks[self.batch]
        self.rows, self.next = ahead.walk_to(commit, stop), 0

    def feed(self, commit: int) -> int:
        """Feed the readings of a commit; return the newest one's time, or 0 where there is none."""
        rows, walk, newest = self.rows, self.walk, 0
        while self.next < len(rows) and rows[self.next][0] <= commit:
            _, _, probe, time, milli = rows[self.next]
            walk.reading(probe, time, milli)
            newest = max(newest, time)
            self.next += 1
        return newest


def walk_on(drive: "Drive", places: list[str], commit: int) -> bool:
    """Let walks alone take their steps, from a commit on that matters to nothing else.

    Args:
        drive: The run.
        places: The places in which the commit may change something.
        commit: Its number.

    Returns:
        Whether the commit was fed; False where it matters to more than walks.
    """
    core, way = drive.core, drive.way
    end = 2 * int(way.first[commit + 1])
    courses = {place: course for place in places if isinstance(course := drive.places[place], PileCourse)}
    if len(courses) != len(places) or not courses or not all(course.only_walk(end) for course in courses.values()):
        return False
    stop = max(_stop(drive, courses, commit), commit + 1)
    walks = [course.walk for course in courses.values() if course.walk is not None]
    batches = {one.run.batch: _Batch(core, one, commit, stop) for one in walks}
    air = cast("AmbientCourse | None", drive.places.get(AMBIENT))
    done = commit
    while done < stop:
        if done > commit and _looked_up(drive, int(way.at[done])):
            break
        if _step(drive, batches, air, done):
            done += 1
            break
        done += 1
        if min(one.ahead.odd_from(done) for one in batches.values()) > done + NEAR:
            break
    for one in batches.values():
        one.ahead.walked(done)
    drive.after([*courses])
    return True


def _stop(drive: "Drive", courses: dict[str, PileCourse], commit: int) -> int:
    """Return the commit up to which only walks matter; further piles of which that is true may be added to `courses`."""
    way = drive.way
    stop = min(commit + COMMITS, drive.stops())
    key = min([drive.change_key(), *(course.other for course in courses.values())])
    reach = 2 * int(way.first[stop])
    for place, upcoming in drive.next.items():
        course = drive.places[place]
        if upcoming >= reach:
            continue
        if isinstance(course, PileCourse) and course.only_walk(upcoming + 1):
            courses[place] = course
            key = min(key, course.other)
        else:
            key = min(key, upcoming)
    return min(stop, way.commit_of(key // 2)) if key < reach else stop


def _looked_up(drive: "Drive", at: int) -> bool:
    """Serve the looks for silent probes up to an instant; return whether one found something."""
    check = drive.core.silence_check
    return check is not None and drive.checks.run(at, True)


def _step(drive: "Drive", batches: dict[str, _Batch], air: AmbientCourse | None, commit: int) -> bool:
    """Feed one commit; return whether something changed that people are told."""
    core, way = drive.core, drive.way
    fed: list[str] = []
    for one in batches.values():
        newest = one.feed(commit)
        if not newest:
            continue
        fed.append(one.batch)
        state = one.walk.state
        if air is not None and (state.pending or (state.due is not None and state.due <= newest)):
            air.skip(2 * int(way.first[commit]))
    told = False
    for batch, run in core.state.runs.items() if fed else ():
        changes = core.walks[batch].advance() if batch in fed else []
        if not changes:
            continue
        if not told:
            for one in batches.values():
                one.ahead.walked(commit + 1)
            drive.skip_all(2 * int(way.first[commit + 1]))
            told, core.at, core.history = True, int(way.at[commit]), drive.history
        tell_walk(core, run, changes)
        refresh_latent(core, run)
    if told:
        settle(core)
        core.history, core.state.last = None, core.at
    return told
