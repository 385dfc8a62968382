"""Contradictions between a reading by hand and the yard's record, told to the reader on the command line and the page alike."""

from collections.abc import Mapping
from typing import Any

from monitor.conditioning import flag_by_hand
from monitor.engine.context.places import Places
from monitor.engine.output.differing_readings import furthest_apart
from monitor.model.readings import Reading
from monitor.notices import Facts, Phrases


def beside_words(core: Places, payload: Mapping[str, Any]) -> list[str]:
    """Return sentences about readings by hand of one place, given as the payload of their event; none if all agrees.

    They name a probe of the place that shows another value, and say if the place is empty by the log, where little rings.
    """
    where = core.settings.place_of_hand(payload["rows"][0][1])
    if where is None:
        return []
    return [words for words in (_apart(core, where[0], payload), _empty(core, where[0], payload)) if words]


def _apart(core: Places, place: str, payload: Mapping[str, Any]) -> str:
    verdicts = [flag_by_hand(Reading(*row), core.settings.probe_thresholds) for row in payload["rows"]]
    found = furthest_apart(core, place, verdicts)
    if found is None:
        return ""
    read, probe, milli = found
    say = Phrases(Facts(place=place, probe=probe, value_milli=milli, since=read.time, now=core.at), core.settings)
    return f"{say.probe} shows {say.value}: look at the probe."


def _empty(core: Places, place: str, payload: Mapping[str, Any]) -> str:
    if not core.was_cleared(place):
        return ""
    bed, read_at = core.state.bins.get(place), payload["rows"][0][0]
    say = Phrases(Facts(place=place, since=read_at, now=core.at), core.settings)
    if place in core.settings.piles:
        lay = core.batches.at(place, read_at) is not None
        return (
            ""
            if lay
            else f"By the log {say.place} is empty, so nothing but a fire is told: log the heap there as built."
        )
    if bed is None or bed.emptied_at is None or read_at < bed.emptied_at:
        return ""
    return f"By the log {say.place} is empty, so nobody is told: log what went into it (bedded, fed), or undo the emptying."
