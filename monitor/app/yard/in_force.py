"""Finds the settings in force, for commands that look or write down while the configuration file is wrong.

A daemon that reads a wrong file keeps its previous settings. So must commands that show the yard or write down work.
"""

import tomllib
from contextlib import suppress
from pathlib import Path

import click

from monitor.app.console.options import configuration_path, load_configuration
from monitor.configuration import Configuration, Page
from monitor.journal import holder, open_reader
from monitor.model.errors import ConfigurationError, MonitorError
from monitor.model.events import EventKind


def load_or_in_force(config_file: Path | None) -> Configuration:
    """Load the configuration; if the file is wrong while a daemon runs, warn and use the daemon's settings.

    Raises:
        ConfigurationError: The file is wrong, and no daemon runs on its data folder.
    """
    try:
        return load_configuration(config_file)
    except ConfigurationError as fault:
        found = _in_force(configuration_path(config_file))
        if found is None:
            raise
        faults = "1 fault" if len(fault.problems) == 1 else f"{len(fault.problems)} faults"
        click.echo(
            f"{configuration_path(config_file)} has {faults} (`heaptender check` says which); the daemon goes on with the "
            "settings of before, and so does this.",
            err=True,
        )
        return found


def _in_force(path: Path) -> Configuration | None:
    from monitor.engine import settings_from  # noqa: PLC0415 (only where the file is wrong)

    data = path.parent / _data_folder(path)
    if holder(data) is None:
        return None
    with suppress(MonitorError, ValueError), open_reader(data) as store:
        newest = None
        for event in store.events_of(EventKind.SETTINGS):
            newest = event
        if newest is not None:
            settings = settings_from(newest.payload["settings"])
            return Configuration(settings=settings, source=path, data=data, page=Page(on=False))
    return None


def _data_folder(path: Path) -> str:
    """Return the data folder that a wrong file names, if that much can be read, else the default."""
    with suppress(OSError, ValueError):
        site = tomllib.loads(path.read_text("utf-8")).get("site")
        if isinstance(site, dict) and isinstance(site.get("data"), str):
            return str(site["data"])
    with suppress(OSError, ValueError):
        for line in path.read_text("utf-8").splitlines():
            key, _, value = line.partition("=")
            if key.strip() == "data" and value.strip().startswith('"'):
                return value.strip().strip('"')
    return "data"
