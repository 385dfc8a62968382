"""`listen`: shows arrivals, raw and understood, for setting up a node; it touches no journal."""

import queue
import time
from collections.abc import Callable
from pathlib import Path

import click

from monitor.app.connections.arrivals import arrival_lines, arrival_values
from monitor.app.connections.sources import beside, build_sources
from monitor.app.console.options import config_option, json_option, load_configuration, print_json
from monitor.app.loop.clock import YardClock
from monitor.codec import Admission
from monitor.intake import Arrival, LinkChange, Source
from monitor.journal import holder
from monitor.model.errors import MisuseError

_Item = Arrival | LinkChange


class _Queue:
    """Takes items from the sources."""

    def __init__(self) -> None:
        self.items: queue.SimpleQueue[_Item] = queue.SimpleQueue()

    def offer(self, item: _Item) -> None:
        """Take one item."""
        self.items.put(item)


@click.command()
@click.option("--seconds", type=click.FloatRange(0.1), help="End after this many seconds; else with Ctrl-C.")
@config_option
@json_option
def command(seconds: float | None, config_file: Path | None, as_json: bool) -> int:
    """Show each message that arrives, raw and as Heaptender understands it, for setting up a node.

    It listens beside the daemon and takes nothing away from it; it leaves alone a serial port that the daemon holds. Ends
    with 1 if nothing arrived.

    \b
    Example:
      heaptender listen --seconds 60
    """
    configuration = load_configuration(config_file)
    running = holder(configuration.data) is not None
    sink = _Queue()
    sources, _ = build_sources(beside(configuration, "listen", running=running), sink, YardClock(), keep_session=False)
    if running and configuration.serial:
        click.echo(f"The daemon holds {', '.join(configuration.serial)}; not listened to.", err=True)
    if not sources:
        right = "end the daemon first, then listen" if running and configuration.serial else "name a broker or a port"
        raise MisuseError(
            f"There is nothing to listen to: the configuration names no broker and no free serial port; {right}."
        )
    admission = Admission(configuration.settings)

    def show(item: _Item) -> None:
        if isinstance(item, LinkChange):
            _show_link(item, as_json=as_json)
            return
        values = arrival_values(item, admission, configuration)
        if as_json:
            print_json(values)
        else:
            for line in arrival_lines(values):
                click.echo(line)

    if not _listen(sources, sink, show, seconds):
        click.echo("Nothing arrived. `heaptender check` says whether the connections are well.", err=True)
        return 1
    return 0


def _listen(sources: list[Source], sink: _Queue, show: Callable[[_Item], None], seconds: float | None) -> int:
    """Show arrivals until the time is up or Ctrl-C; return how many messages there were."""
    by_name = {source.name: source for source in sources}
    end = None if seconds is None else time.monotonic() + seconds
    count = 0
    for source in sources:
        source.start()
    try:
        while end is None or time.monotonic() < end:
            try:
                item = sink.items.get(timeout=0.2 if end is None else max(0.01, min(0.2, end - time.monotonic())))
            except queue.Empty:
                continue
            show(item)
            if isinstance(item, Arrival):
                count += 1
                if item.token is not None:
                    by_name[item.source].acknowledge([item.token])
    except KeyboardInterrupt:
        click.echo("Stopped.", err=True)
    finally:
        for source in sources:
            source.stop()
    return count


def _show_link(link: LinkChange, *, as_json: bool) -> None:
    if as_json:
        print_json({"source": link.source, "up": link.up, "why": link.why})
        return
    click.echo(f"[{link.source}] {'connected' if link.up else 'not connected'}{': ' + link.why if link.why else ''}")
