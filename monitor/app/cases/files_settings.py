"""Makes the settings under which bare files are judged: every place that the log names, and the probes of the readings."""

from collections.abc import Sequence
from dataclasses import replace

from monitor.app.cases.asked import Asked
from monitor.app.cases.read_files import Files, Read
from monitor.configuration import Configuration
from monitor.model.readings import is_hand
from monitor.model.settings import Pile, Probe, Settings, Site
from monitor.model.words import Method, Role
from monitor.recordings import SheetForms


def is_by_hand(name: str, files: Files) -> bool:
    """Return whether a series of files was read by hand."""
    return files.by_hand or is_hand(name) or name in files.hand_series


def settings_of_files(
    files: Files, all_chosen: Sequence[str], read: Read, asked: Asked, configuration: Configuration | None
) -> Settings:
    """Return settings with every place that the log names, and the probes.

    Args:
        files: The files and the pile.
        all_chosen: The probes to judge by; their unit decides the one shown.
        read: The content of the files.
        asked: May name the method.
        configuration: The yard's configuration, which gives names and units, or None.
    """
    known = configuration.settings if configuration is not None else Settings(site=_bare_site(files.forms))
    places = dict.fromkeys((files.pile, *(name for work in read.works for name in (work.place, work.to) if name)))
    method = asked.method if asked.method is not None else Method.TURNED
    site = known.site
    if configuration is None:
        fahrenheit = any("[degF]" in read.columns[name].unit_names for name in all_chosen)
        site = replace(site, temperature_unit="degF" if fahrenheit else "degC")
    probes = {}
    for name in (one for one in read.columns if not is_by_hand(one, files)):
        own = known.probes.get(name)
        probes[name] = Probe(
            place="",
            role=Role.CORE,
            address=name,
            name=own.name if own is not None else "",
            depth_milli_m=own.depth_milli_m if own is not None else None,
            uncertainty_milli_k=own.uncertainty_milli_k if own is not None else None,
        )
    piles = {place: Pile(name=known.place_name(place), method=method) for place in places}
    return Settings(site=site, piles=piles, probes=probes)


def _bare_site(forms: SheetForms) -> Site:
    """Return a yard of which only the named time zone is known."""
    return Site(name="", time_zone=forms.time_zone) if forms.time_zone else Site(name="")
