"""`run`: the daemon."""

import logging
import signal
import threading
from pathlib import Path
from types import FrameType

import click

from monitor.app.clock import YardClock
from monitor.app.options import config_option, load_configuration


@click.command()
@config_option
@click.option("--verbose", is_flag=True, help="Say more on stderr.")
def command(config_file: Path | None, verbose: bool) -> None:
    """Watch the yard: read probes, work out phases and conditions, send messages.

    Ends on SIGTERM or Ctrl-C; reads its configuration again on SIGHUP.

    \b
    Example:
      heaptender run --config heaptender.toml
    """
    logging.basicConfig(
        level=logging.DEBUG if verbose else logging.INFO,
        format="%(asctime)s %(levelname)s %(message)s",
        datefmt="%Y-%m-%d %H:%M:%S",
    )
    for noisy in ("apscheduler", "urllib3", "apprise"):
        logging.getLogger(noisy).setLevel(logging.WARNING)
    configuration = load_configuration(config_file)

    from monitor.app.daemon import Daemon  # noqa: PLC0415 (a bad configuration is told before anything else is loaded)

    daemon = Daemon(configuration, YardClock())

    def end(signum: int, frame: FrameType | None) -> None:
        del signum, frame
        daemon.stop.set()
        daemon.hub.wake()

    def reload(signum: int, frame: FrameType | None) -> None:
        del signum, frame
        threading.Thread(target=daemon.reload, args=(lambda: load_configuration(config_file),), daemon=True).start()

    signal.signal(signal.SIGTERM, end)
    signal.signal(signal.SIGINT, end)
    if hasattr(signal, "SIGHUP"):
        signal.signal(signal.SIGHUP, reload)
    settings = configuration.settings
    logging.getLogger("heaptender").info(
        "Watching %s: %d piles, %d bins, %d probes.",
        settings.site.name,
        len(settings.piles),
        len(settings.bins),
        len(settings.probes),
    )
    daemon.run()
