"""What a person read at the spots of a heap; which were not read, and which values gave way (`piles.rounds`)."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from monitor.certificate import CaseProbe, accepted, member, rounds_by_hand
from monitor.proof.intervals import Intervals
from monitor.proof.temperature import Series


def read_by_hand(probe: CaseProbe, spot: str, lay: Intervals, service: Intervals) -> CaseProbe:
    """Return a series that a person read: what was read while the batch lay there.

    Args:
        probe: All that was read of it.
        spot: The spot's name, or "".
        lay: When the batch lay where it was read.
        service: When what was read there proves something.
    """
    there = member(probe.times, lay)
    return replace(
        probe,
        name=f"by hand, {spot}" if spot else "read by hand",
        by_hand=True,
        times=probe.times[there],
        micro=probe.micro[there],
        units=probe.units[there],
        quality=probe.quality[there],
        service=service,
    )


def said_of_spots(probes: Sequence[CaseProbe], spots: Sequence[str], piles: Sequence[str]) -> Iterator[str]:
    """Yield what is to be said of the spots at which a batch was read by hand.

    Args:
        probes: Those that are judged by, hand series among them.
        spots: The spots that the site names for its pile.
        piles: Where the batch lay.
    """
    series = [_proving(one) for one in probes if one.by_hand]
    series = [one for one in series if one.times.size]
    if not series:
        return
    points = rounds_by_hand(series)
    read = {one.probe for one in series}
    never = [spot for spot in spots if not any(f"hand:{pile}:{spot}" in read for pile in piles)]
    if never:
        yield (
            f"Of the site's spots {', '.join(never)} {'was' if len(never) == 1 else 'were'} not read in any round that counts; "
            "what was not read holds nothing back."
        )
    short = sum(point.spots < len(series) for point in points)
    if short:
        yield (
            f"In {short} of {len(points)} rounds by hand not every spot was read that was read in others; what was not read "
            "holds nothing back."
        )
    again = sum(one.times.size for one in series) - sum(point.spots for point in points)
    if again:
        values = "1 value" if again == 1 else f"{again} values"
        yield (
            f"In rounds by hand {values} of a spot gave way to a later one of the same hour; "
            "of readings that name no spot all count."
        )


def _proving(one: CaseProbe) -> Series:
    found = accepted(one)
    there = member(found.times, one.service)
    return Series(probe=found.probe, times=found.times[there], milli_c=found.milli_c[there])
