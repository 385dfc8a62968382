"""`run`: the daemon."""

import logging
import os
import signal
import threading
from pathlib import Path
from types import FrameType

import click

from monitor.app.console.options import config_option, load_configuration
from monitor.app.loop.clock import YardClock
from monitor.model.errors import UnavailableError

LOCK_WAIT_S = 5.0
"""How long, in seconds, a start waits for a command that holds the data folder (our choice)."""

log = logging.getLogger("heaptender")


@click.command()
@config_option
@click.option("--verbose", is_flag=True, help="Say more on stderr.")
def command(config_file: Path | None, verbose: bool) -> None:
    """Watch the yard: read probes, work out phases and conditions, send messages.

    Ends on SIGTERM or Ctrl-C; reads its configuration again on `heaptender reload` or SIGHUP.

    \b
    Example:
      heaptender run --config heaptender.toml
    """
    # Until the daemon exists, a request to read the file again is only noted: by default the signal would end the process.
    asked = threading.Event()
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, lambda _signum, _frame: asked.set())
    configuration = load_configuration(config_file)

    from monitor.app.daemon.daemon import Daemon  # noqa: PLC0415 (a bad configuration is reported before anything else is loaded)
    from monitor.app.daemon.start_failed import FailedStart  # noqa: PLC0415
    from monitor.app.loop.daemon_log import SiteTime  # noqa: PLC0415
    from monitor.app.upkeep.service_manager import service_manager  # noqa: PLC0415
    from monitor.app.yard.taken_file import TakenNote  # noqa: PLC0415

    handler = logging.StreamHandler()
    handler.setFormatter(SiteTime(configuration.settings.site.time_zone))
    logging.basicConfig(level=logging.DEBUG if verbose else logging.INFO, handlers=[handler])
    for noisy in ("apscheduler", "urllib3", "apprise", "asyncio"):
        logging.getLogger(noisy).setLevel(logging.WARNING)
    failed = FailedStart(configuration)
    try:
        daemon = Daemon(configuration, YardClock(), wait_s=LOCK_WAIT_S)
    except UnavailableError as fault:
        failed.tell(str(fault))
        raise

    def end(signum: int, frame: FrameType | None) -> None:
        del frame
        daemon.ended_by = signal.Signals(signum).name
        daemon.stop.set()
        daemon.hub.wake()

    def reload(signum: int, frame: FrameType | None) -> None:
        del signum, frame
        threading.Thread(target=daemon.reload, args=(lambda: load_configuration(config_file),), daemon=True).start()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, reload)
        if asked.is_set():
            reload(signal.SIGHUP, None)
    daemon.manager = service_manager()
    daemon.taken = TakenNote(configuration.data, os.getpid())
    log.info("%s", daemon.words())
    daemon.run()
