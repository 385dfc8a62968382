"""The one list of the diary's sources. To add one, write it in a file of its own here and add it to `SOURCES`."""

from itertools import chain

from monitor.app.diary.from_beds import builds, feedings, screenings
from monitor.app.diary.from_certificates import certificates
from monitor.app.diary.from_evening import bins_to_guard
from monitor.app.diary.from_material import waiting_material
from monitor.app.diary.from_seasons import seasons
from monitor.app.diary.from_thermometers import thermometers
from monitor.app.diary.sources import Asked, Source
from monitor.diary import Due, in_order


def by_engine(asked: Asked) -> list[Due]:
    """Return the things that fall due by the engine's own memory."""
    return asked.engine.due(asked.now)


SOURCES: tuple[Source, ...] = (
    by_engine,
    feedings,
    builds,
    screenings,
    waiting_material,
    certificates,
    thermometers,
    seasons,
    bins_to_guard,
)


OF_PLACES: tuple[Source, ...] = (by_engine, certificates)
"""The sources of things at places that need nothing but the engine's memory and a look into a folder."""
OF_PLACES_LOG: tuple[Source, ...] = (feedings, builds, screenings, bins_to_guard)
"""The sources of things at places that read the log, so that their answers are worth keeping for a while."""


def of_places(asked: Asked, sources: tuple[Source, ...]) -> list[Due]:
    """Return the things that fall due at places by some of the sources, in order."""
    return in_order(chain.from_iterable(source(asked) for source in sources), asked.until)


def diary(asked: Asked) -> list[Due]:
    """Return all that falls due before `asked.until`, in order."""
    return in_order(chain.from_iterable(source(asked) for source in SOURCES), asked.until)
