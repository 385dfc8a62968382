"""What causes no notice and runs by the wall clock: packing, retention, backup, the outside heartbeat.

APScheduler decides when; each job is caught up once after sleep or a clock jump, never skipped and never stacked. After a
clock that ran ahead was put back, jobs are arranged anew, or they would wait for the time that was wrong. Whatever changes the
journal is done on the writer's thread, between two turns; backup and heartbeat have threads of their own, which a stop does
not wait for.
"""

import logging
import threading
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

from apscheduler.schedulers.background import BackgroundScheduler

from monitor.app.hub import Hub
from monitor.configuration import Configuration
from monitor.journal import Kept, backup
from monitor.model.errors import MonitorError
from monitor.model.times import DAY_MS, HOUR_MS

PACK_AFTER_MS = 2 * DAY_MS
"""Readings this old move into compressed blocks; the newest stay as rows, which is quicker for what is late."""

KEPT_AFTER_CLOSING_MS = 5 * 365 * DAY_MS
"""How long the days of a closed batch are protected from retention.

Source: 14 CCR 17896.45(b), records kept 5 years, as seen (docs/sources.md)."""

STUCK_S = 60.0
"""Without a turn for so long the daemon does not count as alive (common practice, no published source)."""

log = logging.getLogger("heaptender")


class Housekeeping:
    """Owns the scheduler; `start` once, `stop` once."""

    def __init__(self, hub: Hub, configuration: Configuration) -> None:
        self._hub = hub
        self._configuration = configuration
        self._scheduler = BackgroundScheduler(
            timezone=UTC, job_defaults={"misfire_grace_time": None, "coalesce": True, "max_instances": 1}
        )

        self._beside: dict[str, threading.Thread] = {}

    def start(self) -> None:
        """Arrange the jobs and begin."""
        configuration = self._configuration
        self._every(HOUR_MS, "pack", lambda: self._hub.call(self._guarded(self._pack)))
        if configuration.retention_keep_ms is not None:
            self._every(6 * HOUR_MS, "retention", lambda: self._hub.call(self._guarded(self._prune)))
        if configuration.backup is not None:
            self._every(
                configuration.backup.every_ms, "backup", lambda: self._alone("backup", self._guarded(self._backup))
            )
        if configuration.heartbeat is not None:
            from monitor.outbox import Heartbeat  # noqa: PLC0415 (only where one is configured)

            heart = Heartbeat(configuration.heartbeat.url.get_secret_value())
            every_ms = configuration.heartbeat.every_ms
            self._every(
                every_ms, "heartbeat", lambda: self._alone("heartbeat", lambda: self._beat(heart.beat)), now=True
            )
        if configuration.mirror is not None:
            self._every(DAY_MS, "mirror check", lambda: self._alone("mirror check", self._guarded(self._check_mirror)))
        self._scheduler.start()

    def stop(self) -> None:
        """End; a job that runs is not waited for."""
        self._scheduler.shutdown(wait=False)

    def clock_changed(self) -> None:
        """Bring jobs nearer that wait for a time further away than their interval (the wall clock was put back)."""
        now = datetime.now(UTC)
        for job in self._scheduler.get_jobs():
            if job.next_run_time is not None and job.next_run_time > now + job.trigger.interval + timedelta(seconds=1):
                job.modify(next_run_time=now)

    def _every(self, span_ms: int, name: str, job: Callable[[], None], *, now: bool = False) -> None:
        first = {"next_run_time": datetime.now(UTC)} if now else {}
        self._scheduler.add_job(job, "interval", seconds=max(1, span_ms // 1000), id=name, **first)

    def _alone(self, name: str, job: Callable[[], None]) -> None:
        """Do a job on a daemon thread, unless it is still at it: the scheduler's own would hold up the end of the program."""
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
        # In helpings, so that a backlog of years does not hold up what arrives.
        if self._hub.writer.pack_closed_hours(now - PACK_AFTER_MS, limit_rows=100_000) >= 100_000:
            self._hub.call(self._guarded(self._pack))

    def _prune(self) -> None:
        keep_ms = self._configuration.retention_keep_ms
        if keep_ms is None:
            return
        now = self._hub.clock.now_ms()
        spans = self._hub.protected_spans(now, KEPT_AFTER_CLOSING_MS)
        gone = self._hub.writer.prune(Kept(now=now, days=keep_ms // DAY_MS, protected=spans))
        if gone.days:
            log.info("retention dropped %d days, %d readings", len(gone.days), gone.rows)

    def _backup(self) -> None:
        plan = self._configuration.backup
        if plan is None:
            return
        plan.folder.mkdir(parents=True, exist_ok=True)
        stamp = datetime.fromtimestamp(self._hub.clock.now_ms() / 1000, UTC).strftime("%Y%m%dT%H%M%SZ")
        size = backup(self._configuration.data, plan.folder / f"journal-{stamp}.sqlite")
        for old in _oldest(plan.folder, plan.keep):
            old.unlink(missing_ok=True)
        log.info("backup of %d bytes in %s", size, plan.folder)

    def _check_mirror(self) -> None:
        from monitor.app.mirror_check import check_mirror  # noqa: PLC0415 (only where there is a mirror)

        check_mirror(self._configuration, self._hub.clock.now_ms(), log.info)

    def _beat(self, beat: Callable[[], str]) -> None:
        stuck_s = self._hub.stuck_s()
        if stuck_s > STUCK_S:
            # Whoever listens outside must not believe that the yard is watched.
            log.error("No heartbeat is sent: nothing could be stored for %.0f s.", stuck_s)
            return
        trouble = beat()
        if trouble:
            log.warning("heartbeat: %s", trouble)


def _oldest(folder: Path, keep: int) -> list[Path]:
    copies = sorted(folder.glob("journal-*.sqlite"))
    return copies[: max(0, len(copies) - keep)]
