"""Runs jobs by the wall clock: packing, retention, backup, the outside heartbeat; and the look ahead in the evening.

APScheduler decides when. After sleep or a clock jump each job runs once to catch up; it is never skipped and never stacked.
After a clock that ran ahead was put back, jobs are rescheduled, or they would wait for the wrong time. Jobs that change the
journal run on the writer's thread, between two turns; backup and heartbeat have their own threads, for which a stop does not
wait.
"""

import logging
import threading
import time
from collections.abc import Callable
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from functools import partial
from pathlib import Path
from typing import NoReturn

from apscheduler.schedulers.background import BackgroundScheduler

from monitor.app.console.refusals import ended
from monitor.app.loop.hub import STUCK_S, Hub
from monitor.app.loop.loop_faults import fault as raised
from monitor.app.loop.loop_faults import fault_over, stands
from monitor.app.upkeep.backups import copies_in, keep_damaged, make_backup
from monitor.app.upkeep.copy_manifest import write_manifest
from monitor.app.upkeep.disk_room import DiskRoom, fills_up
from monitor.app.upkeep.evening_word import EveningWord
from monitor.app.upkeep.photo_upkeep import copy_photos, tidy_photos
from monitor.app.upkeep.record_watch import RecordWatch
from monitor.configuration import Configuration
from monitor.engine import Engine
from monitor.journal import Kept, Machine, UnsoundCopyError
from monitor.model.alarm_kinds import Alarm
from monitor.model.errors import MonitorError, UnavailableError
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS

PACK_AFTER_MS = 2 * DAY_MS
"""Readings older than this move into compressed blocks; newer ones stay as rows, where late readings are quick to store."""

KEPT_AFTER_CLOSING_MS = 5 * 365 * DAY_MS
"""How long the days of a closed batch are protected from retention.

Source: 14 CCR 17896.45(b), records kept 5 years, as seen (docs/sources.md)."""

EVENING_EVERY_MS = 5 * MINUTE_MS
"""How often the daemon sees whether it is the hour to look ahead, beside each commit."""

_SOON = timedelta(minutes=10)
"""How long after a start overdue jobs begin: readings that waited at the broker come in first."""

log = logging.getLogger("heaptender")


class Housekeeping:
    """Owns the scheduler; call `start` once and `stop` once."""

    def __init__(self, hub: Hub, configuration: Configuration) -> None:
        self._hub = hub
        self._configuration = configuration
        self._scheduler = BackgroundScheduler(
            timezone=UTC, job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
        )

        self._beside: dict[str, threading.Thread] = {}
        self._watch = RecordWatch(configuration.data, hub)
        self._evening = EveningWord(hub, configuration)
        self._room = DiskRoom(configuration.data)

    def start(self) -> None:
        """Schedule the jobs and begin."""
        configuration = self._configuration
        self._every(HOUR_MS, "pack", lambda: self._hub.call(self._guarded(self._pack)))
        if configuration.retention_keep_ms is not None:
            self._every(6 * HOUR_MS, "retention", lambda: self._hub.call(self._guarded(self._prune)))
        if configuration.backup is not None:
            copy = lambda: self._alone("backup", self._guarded(self._backup))  # noqa: E731
            self._every(configuration.backup.every_ms, "backup", copy, after=self._backup_first())
        look = lambda: self._alone("record", self._guarded(self._look))  # noqa: E731
        self._every(HOUR_MS, "record", look, after=_SOON)
        tidy = lambda: self._alone("photos", self._guarded(self._tidy_photos))  # noqa: E731
        self._every(DAY_MS, "photos", tidy, after=_SOON)
        self._every(DAY_MS, "room", lambda: self._alone("room", self._guarded(self._look_at_room)), after=_SOON)
        self._every(EVENING_EVERY_MS, "evening", self.evening)
        if configuration.forecast_file is not None:
            read = lambda: self._alone("forecast", self._guarded(self._evening.read_file))  # noqa: E731
            self._every(EVENING_EVERY_MS, "forecast", read, after=timedelta())
        if configuration.heartbeat is not None:
            from monitor.outbox import Heartbeat  # noqa: PLC0415 (only where one is configured)

            heart = Heartbeat(configuration.heartbeat.url.get_secret_value())
            every_ms = configuration.heartbeat.every_ms
            self._every(
                every_ms,
                "heartbeat",
                lambda: self._alone("heartbeat", lambda: self._beat(heart.beat)),
                after=timedelta(),
            )
        if configuration.mirror is not None:
            self._every(DAY_MS, "mirror check", lambda: self._alone("mirror check", self._guarded(self._check_mirror)))
        self._scheduler.start()

    def evening(self) -> None:
        """Look ahead if it is the hour for that."""
        if self._evening.due():
            self._alone("evening", self._guarded(self._evening.look))

    def stop(self) -> None:
        """Stop scheduling; a running job is not waited for."""
        self._scheduler.shutdown(wait=False)

    def clock_changed(self) -> None:
        """Run jobs now whose next run lies further away than their interval, because the wall clock was put back."""
        now = datetime.now(UTC)
        for job in self._scheduler.get_jobs():
            if job.next_run_time is not None and job.next_run_time > now + job.trigger.interval + timedelta(seconds=1):
                job.modify(next_run_time=now)

    def _every(self, span_ms: int, name: str, job: Callable[[], None], *, after: timedelta | None = None) -> None:
        """Schedule a job; it first runs after `after` if given, else after its interval."""
        first = {} if after is None else {"next_run_time": datetime.now(UTC) + after}
        self._scheduler.add_job(job, "interval", seconds=max(1, span_ms // 1000), id=name, **first)

    def _alone(self, name: str, job: Callable[[], None]) -> None:
        """Run a job on a daemon thread, unless it still runs: the scheduler's own threads would delay the program's end."""
        before = self._beside.get(name)
        if before is None or not before.is_alive():
            self._beside[name] = threading.Thread(target=job, name=name, daemon=True)
            self._beside[name].start()

    def _guarded(self, job: Callable[[], None]) -> Callable[[], None]:
        def run() -> None:
            try:
                job()
            except MonitorError as fault:
                log.error("%s", fault)
            except OSError as fault:
                log.error("It could not be done: %s (%s).", fault.strerror or fault, fault.filename or "no file")

        return run

    def _pack(self) -> None:
        now = self._hub.clock.now_ms()
        # In portions, so that a backlog of years does not hold up arrivals.
        if self._hub.writer.pack_closed_hours(now - PACK_AFTER_MS, limit_rows=100_000) >= 100_000:
            self._hub.call(self._guarded(self._pack))

    def _prune(self) -> None:
        keep_ms = self._configuration.retention_keep_ms
        if keep_ms is None:
            return
        now = self._hub.clock.now_ms()
        spans = protected_spans(self._hub.writer.engine, now, KEPT_AFTER_CLOSING_MS)
        gone = self._hub.writer.prune(Kept(now=now, days=keep_ms // DAY_MS, protected=spans))
        if gone.days:
            log.info("retention dropped %d days, %d readings", len(gone.days), gone.rows)

    def _look(self) -> None:
        self._watch.look()

    def _tidy_photos(self) -> None:
        if gone := tidy_photos(self._configuration):
            log.info("%d photos went that no entry names any more", gone)

    def _look_at_room(self) -> None:
        """Tell people in good time that the disk will be full."""
        told = stands(self._hub.writer.engine, Alarm.FILLING)
        why = fills_up(self._room.note(self._hub.clock.now_ms()), told=told)
        if why:
            log.warning("The disk fills up: %s.", why)
            self._hub.call(partial(self._hub.event, *raised(Alarm.FILLING, why)))
        elif told:
            self._hub.call(partial(self._hub.event, *fault_over(Alarm.FILLING)))

    def _backup(self) -> None:
        """Copy the record; if it is damaged, people are told, the copy has another name, and the good copies stay."""
        try:
            damage = self._watch.before_copy()
            target, size = self._copied_damaged(damage) if damage else self._copied()
        except MonitorError as fault:
            why = str(fault).rstrip(".")
            log.error("The backup failed: %s", ended(why))
            self._hub.call(partial(self._hub.event, *raised(Alarm.BACKUP, why)))
            return
        self._hub.call(partial(self._hub.event, *fault_over(Alarm.BACKUP)))
        log.info("backup of %d bytes: %s", size, target)

    def _copied(self) -> tuple[Path, int]:
        plan, now = self._configuration.backup, self._hub.clock.now_ms()
        kept = plan.keep if plan is not None else 1
        try:
            target, size = make_backup(self._configuration, now, lambda copy: self._watch.look_at_copy(copy, kept))
        except UnsoundCopyError as unsound:
            damage = self._watch.damage_on({one.day for one in unsound.findings})
            if damage:
                return self._copied_damaged(damage)
            raise UnavailableError(
                f"what was written is not what the record holds ({unsound}): the disk of the copies may be failing"
            ) from unsound
        try:
            copy_photos(self._configuration, target.parent)
        finally:
            write_manifest(self._configuration, target, now)
        return target, size

    def _copied_damaged(self, damage: str) -> NoReturn:
        """Copy a damaged record beside the good copies.

        Raises:
            UnavailableError: Always, with what became of it, since no good copy was made.
        """
        said, now = f"the record is damaged ({damage})", self._hub.clock.now_ms()
        try:
            copy = keep_damaged(self._configuration, now)
            write_manifest(self._configuration, copy, now, [damage])
        except MonitorError as fault:
            raise UnavailableError(f"{said}, and no copy of it could be made ({str(fault).rstrip('.')})") from fault
        raise UnavailableError(f"{said}; it was copied as it is to {copy.name}, and the good copies stay")

    def _backup_first(self) -> timedelta:
        """Return how long until the first copy is due: a computer that is switched off every night must get its copy too."""
        plan = self._configuration.backup
        copies = copies_in(plan.folder) if plan is not None else []
        if plan is None or not copies:
            return _SOON
        with suppress(OSError):
            age = timedelta(seconds=time.time() - copies[-1].stat().st_mtime)
            return max(_SOON, timedelta(milliseconds=plan.every_ms) - age)
        return _SOON

    def _check_mirror(self) -> None:
        from monitor.app.upkeep.mirror_check import check_mirror  # noqa: PLC0415 (only where there is a mirror)

        check_mirror(self._configuration, self._hub.clock.now_ms(), log.info)

    def _beat(self, beat: Callable[[], str]) -> None:
        stuck_s = self._hub.stuck_s()
        if stuck_s > STUCK_S:
            # The outside service must not believe that the yard is watched.
            log.error("No heartbeat is sent: nothing could be stored for %.0f s.", stuck_s)
            return
        trouble = beat()
        if trouble:
            log.warning("heartbeat: %s", trouble)


def protected_spans(engine: Machine, now: int, after_closing_ms: int) -> list[tuple[int, int]]:
    """Return the spans (start, end in UTC ms) of batches whose readings retention must keep; for the writer's thread.

    Args:
        engine: The engine, which knows the batches.
        now: Now, UTC ms.
        after_closing_ms: How long a batch stays protected after it was used up.
    """
    if not isinstance(engine, Engine):
        return []
    return [
        (batch.built, batch.ended if batch.ended is not None else now)
        for batch in engine.state.batches.batches.values()
        if batch.ended is None or batch.ended > now - after_closing_ms
    ]
