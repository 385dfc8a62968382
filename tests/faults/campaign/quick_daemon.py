"""`heaptender`, all of it, but with its jobs every few seconds instead of hours, and with a wall clock that can be put wrong.

`python -m tests.faults.campaign.quick_daemon run --config FILE`; `CAMPAIGN_NOTES` names a folder with two files: `jobs`, to
which each job writes when it begins and ends, and `clock_off_ms`, by how much the wall clock is wrong.
"""

import os
import sys
import time
from datetime import timedelta
from pathlib import Path

SOON_S = 2.0
EVERY_MS = 3_000
DELIVERY_S = 7.0
AGREE_MS = 3_000


def quicken(notes):
    """Shorten every wait that is too long for a round; what is done after it stays as it is."""
    from monitor.app.loop import clock
    from monitor.app.loop.witnesses import Timing
    from monitor.app.upkeep import housekeeping
    from monitor.mirror import mirror
    from monitor.outbox import deliverer, notification_url, retry, unstored

    housekeeping._SOON = timedelta(seconds=SOON_S)
    housekeeping.HOUR_MS = EVERY_MS
    for name in ("pack", "prune", "backup", "look"):
        _mark(housekeeping.Housekeeping, name, notes / "jobs")
    retry.FIRST_MS, retry.LONGEST_MS, unstored.AGAIN_MS = 1_000, 4_000, 2_000
    mirror.LONGEST_PAUSE_S = 3.0
    deliverer.Deliverer.__init__.__kwdefaults__["limit_s"] = DELIVERY_S
    _without_pauses(notification_url.AppriseChannel)
    clock.AGREE_MS = AGREE_MS
    off = notes / "clock_off_ms"

    def wall_ms():
        return time.time_ns() // 1_000_000 + (int(off.read_text() or 0) if off.exists() else 0)

    quick = Timing(settle_s=1.0, lone_s=3.0, apart_s=0.5)
    clock.YardClock.__init__.__defaults__ = (wall_ms, time.monotonic, lambda: None, quick)


def _without_pauses(channel):
    """Have the notification library not wait for seconds between two mails, as it does out of courtesy to servers."""
    opened = channel._opened

    def opened_without_pauses(self):
        service = opened(self)
        for one in service:
            one.request_rate_per_sec = 0.0
        return service

    channel._opened = opened_without_pauses


def _mark(owner, name, file):
    """Have a job tell the campaign when it begins and ends."""
    job = getattr(owner, f"_{name}")

    def marked(self):
        _tell(file, f"{name} begins")
        try:
            job(self)
        finally:
            _tell(file, f"{name} ends")

    setattr(owner, f"_{name}", marked)


def _tell(file, what):
    with file.open("a") as out:
        out.write(f"{time.time():.6f} {what}\n")


if __name__ == "__main__":
    quicken(Path(os.environ["CAMPAIGN_NOTES"]))
    from monitor.app.command import main

    sys.exit(main())
