"""`listen`: shows what arrives, raw and understood, for setting up a node; touches no journal."""

import queue
import time
from dataclasses import replace
from pathlib import Path

import click

from monitor.app.clock import YardClock
from monitor.app.options import config_option, load_configuration
from monitor.app.sources import build_sources
from monitor.codec import Admission, Refused
from monitor.conditioning import calibrate
from monitor.configuration import Configuration
from monitor.intake import Arrival, LinkChange
from monitor.journal import holder
from monitor.model.errors import MisuseError
from monitor.model.units import Quantity, plain_number, show_percent, show_temperature


class _Queue:
    """Takes what the sources offer."""

    def __init__(self) -> None:
        self.items: queue.SimpleQueue[Arrival | LinkChange] = queue.SimpleQueue()

    def offer(self, item: Arrival | LinkChange) -> None:
        """Take one item."""
        self.items.put(item)


@click.command()
@click.option("--seconds", type=click.FloatRange(0.1), help="End after so long; else with Ctrl-C.")
@config_option
def command(seconds: float | None, config_file: Path | None) -> None:
    """Show what arrives, raw and as it is understood, for setting up a node.

    It listens beside the daemon and takes nothing away from it; a serial port that the daemon holds is left alone.

    \b
    Example:
      heaptender listen --seconds 60
    """
    configuration = load_configuration(config_file)
    listened = _beside(configuration)
    sink, clock = _Queue(), YardClock()
    sources, _ = build_sources(listened, sink, clock)
    if not sources:
        raise MisuseError("There is nothing to listen to: the configuration names no broker and no free serial port.")
    admission = Admission(configuration.settings)
    end = None if seconds is None else time.monotonic() + seconds
    for source in sources:
        source.start()
    try:
        while end is None or time.monotonic() < end:
            try:
                item = sink.items.get(timeout=0.2)
            except queue.Empty:
                continue
            _show(item, admission, configuration)
            if isinstance(item, Arrival) and item.token is not None:
                for source in sources:
                    if source.name == item.source:
                        source.acknowledge([item.token])
    except KeyboardInterrupt:
        click.echo("Stopped.", err=True)
    finally:
        for source in sources:
            source.stop()


def _beside(configuration: Configuration) -> Configuration:
    """Return the configuration with a client id of its own, and without ports that the daemon holds."""
    mqtt = configuration.mqtt
    if mqtt is not None:
        mqtt = replace(mqtt, client_id=f"{mqtt.client_id}-listen-{time.time_ns() % 100_000}", session_expiry_ms=1_000)
    serial = {} if holder(configuration.data) is not None else configuration.serial
    return replace(configuration, mqtt=mqtt, serial=serial)


def _show(item: Arrival | LinkChange, admission: Admission, configuration: Configuration) -> None:
    if isinstance(item, LinkChange):
        click.echo(
            f"[{item.source}] {'connected' if item.up else 'not connected'}{': ' + item.why if item.why else ''}"
        )
        return
    raw = item.raw.decode("utf-8", "backslashreplace")
    click.echo(f"[{item.source}] {item.origin} {raw[:300].encode('unicode_escape').decode()}")
    for heard in item.heard:
        found = admission.admit(heard, item.received)
        if isinstance(found, Refused):
            click.echo(f"    {heard.address}: would be set aside, {found.reason.value}: {found.detail}")
            continue
        settings = configuration.settings
        probe = settings.probes[found.probe]
        milli = calibrate(found.micro, found.unit, probe, found.time)
        if milli is None:
            shown = f"{found.micro / 1e6:g} {found.unit}"
        elif probe.quantity is Quantity.TEMPERATURE:
            shown = show_temperature(milli, settings.site.temperature_unit)
        elif probe.quantity in (Quantity.MOISTURE, Quantity.OXYGEN):
            shown = show_percent(milli)
        else:
            shown = f"{plain_number(milli)} {found.unit}"
        when = "" if heard.time is not None else " (no time of its own: arrival counts)"
        click.echo(f"    {found.probe} in {settings.place_name(probe.place)}: {probe.quantity.value} {shown}{when}")
    for reject in item.rejects:
        click.echo(f"    set aside, {reject.reason.value}: {reject.detail}")
