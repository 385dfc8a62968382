"""Makes the empty slip of a place: its name, the depths at which it is read, and what the hand must heed."""

from urllib.parse import urlsplit

from monitor.drawing import LogSlip, Unit, log_slip
from monitor.model.settings import Settings
from monitor.model.units import Quantity
from monitor.model.words import Role
from monitor.page.pictures.probe_names import depth_words
from monitor.page.visitors.hosts import host_name, is_loopback
from monitor.page.visitors.message_links import place_address

_HEAP = (
    "Gloves and a mask, stand upwind: steam scalds, dust carries mold. Smoke or a smell of burning: leave it shut, "
    "keep away, call the fire service. Local codes come first."
)
_BIN = "Gloves on, wash your hands after. Dig with your hands or a blunt fork, so that no worm is cut. Local codes come first."


def slip_of(settings: Settings, place: str, link: str) -> str:
    """Return an empty slip as SVG, sized for paper.

    Args:
        settings: The yard's settings.
        place: Id of a pile or a bin.
        link: The page's link, without a slash at its end; one that leads to this computer alone is left out.
    """
    unit = settings.site.temperature_unit
    leads_here = is_loopback(host_name(urlsplit(link).netloc))
    return log_slip(
        LogSlip(
            site=settings.site.name,
            place=settings.place_name(place),
            is_bin=place in settings.bins,
            unit=Unit(unit).sign,
            depths=_depths(settings, place),
            caution=_BIN if place in settings.bins else _HEAP,
            address="" if leads_here else place_address(link, place),
        )
    )


def _depths(settings: Settings, place: str) -> tuple[str, ...]:
    """Return the names of the columns of temperature: spots for readings by hand, else the depths of core probes."""
    spots = settings.spots_of(place)
    if spots:
        return spots
    found = {
        probe.depth_milli_m
        for probe in settings.probes.values()
        if probe.place == place and probe.role is Role.CORE and probe.quantity is Quantity.TEMPERATURE
    }
    known = sorted((depth for depth in found if depth is not None), reverse=True)
    return tuple(depth_words(depth, settings.site.temperature_unit) for depth in known)
