"""The two texts that people ask for: *while you were away* and *before you go*."""

from collections.abc import Iterable
from zoneinfo import ZoneInfo

from monitor.diary import Due, in_order, short_words, today, until_back
from monitor.engine.context.core import Core
from monitor.engine.output.falling_due import falling_due, told_by_alarm
from monitor.notices import DueLine, FallingDue, LeavingFacts, ProbeAge


def away_text(core: Core, at: int, since: int) -> str:
    """Return *while you were away*.

    Args:
        core: The engine's ports.
        at: When it is read, UTC ms.
        since: The first instant that it covers, UTC ms.
    """
    core.at = max(core.at, at)
    return core.desk.away(at, since)


def leaving_text(core: Core, at: int, due: Iterable[Due] | None) -> str:
    """Return *before you go*.

    Args:
        core: The engine's ports.
        at: When it is read, UTC ms.
        due: The things that fall due by the whole record, in any order; None: those that the engine knows.
    """
    core.at = max(core.at, at)
    ages = []
    for probe in sorted(core.settings.probes):
        place = core.place_of(probe)
        if place:
            watch = core.state.watches.get(probe)
            ages.append(ProbeAge(probe=probe, place=place, last=watch.newest if watch is not None else None))
    return core.desk.leaving(at, LeavingFacts(probes=tuple(ages), due=_until_back(core, at, due)))


def watched_text(core: Core, at: int) -> str:
    """Return how many places are watched by whom at `at` (UTC ms)."""
    core.at = max(core.at, at)
    return core.desk.watched_words(at)


def soon_due(core: Core, at: int) -> FallingDue:
    """Return the things that the engine knows to fall due today; on Fridays and Saturdays those before Monday.

    What an alarm that is on tells already is left out: it stands at the top of the same text.

    Args:
        core: The engine's ports.
        at: The instant of the digest, UTC ms.
    """
    found = [one for one in falling_due(core, at) if not told_by_alarm(core, one)]
    return _falling(found, at, today(at, ZoneInfo(core.settings.site.time_zone)))


def _until_back(core: Core, at: int, due: Iterable[Due] | None) -> FallingDue:
    """Return the things that fall due until people are back: on Fridays and Saturdays before Monday."""
    found = falling_due(core, at) if due is None else due
    return _falling(found, at, until_back(at, ZoneInfo(core.settings.site.time_zone)))


def _falling(found: Iterable[Due], at: int, span: tuple[int, str]) -> FallingDue:
    until, within = span
    things = [one for one in in_order(found, until) if not one.expected]
    lines = (DueLine(at=one.due_ms, place=one.place, words=short_words(one, at)) for one in things)
    return FallingDue(within=within, lines=tuple(lines))
