"""The two texts that people ask for: *while you were away* and *before you go*."""

from monitor.engine.context.core import Core
from monitor.notices import LeavingFacts, ProbeAge


def away_text(core: Core, at: int, since: int) -> str:
    """Return *while you were away*.

    Args:
        core: The engine's ports.
        at: When it is read, UTC ms.
        since: The first instant that it covers, UTC ms.
    """
    core.at = max(core.at, at)
    return core.desk.away(at, since)


def leaving_text(core: Core, at: int) -> str:
    """Return *before you go* at `at` (UTC ms)."""
    core.at = max(core.at, at)
    ages = []
    for probe in sorted(core.settings.probes):
        place = core.place_of(probe)
        if place:
            watch = core.state.watches.get(probe)
            ages.append(ProbeAge(probe=probe, place=place, last=watch.newest if watch is not None else None))
    return core.desk.leaving(at, LeavingFacts(probes=tuple(ages)))


def watched_text(core: Core, at: int) -> str:
    """Return how many places are watched by whom at `at` (UTC ms)."""
    core.at = max(core.at, at)
    return core.desk.watched_words(at)
