"""Describes rounds by hand: which spots of a heap were read, which were not, which values gave way (`piles.rounds`)."""

from collections.abc import Iterator, Sequence
from dataclasses import replace

from monitor.certificate import CaseProbe, accepted, member, rounds_by_hand
from monitor.proof.intervals import Intervals
from monitor.proof.temperature import Series


def read_by_hand(probe: CaseProbe, spot: str, lay: Intervals, service: Intervals) -> CaseProbe:
    """Return a hand series with the readings taken while the batch lay there.

    Args:
        probe: All readings of the series.
        spot: The spot's name, or "".
        lay: When the batch lay at the series' place, UTC ms.
        service: When readings there prove something, UTC ms.
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
    """Yield remarks on the spots at which a batch was read by hand.

    Args:
        probes: The probes to judge by, hand series among them.
        spots: The spots that the site names for its pile.
        piles: Ids of the piles on which the batch lay.
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
