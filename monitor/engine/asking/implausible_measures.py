"""Questions about moistures, depths and heights that such material, such a bed or such a heap hardly has."""

from collections.abc import Iterator
from fractions import Fraction

from monitor.engine.asking.entered import Entered
from monitor.engine.asking.yard_sizes import DEEPEST_MM, BedSpace, depth_words
from monitor.model.amounts import Dimension, parse_amount
from monitor.model.moisture_words import moisture_understood
from monitor.model.settings import Settings
from monitor.model.times import DAY_MS
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import is_us
from monitor.model.work_words import amount_said
from monitor.notices import clean

MOIST = {
    WorkKind.HARVESTED: (30, 92, "castings fresh from a bed have 60 to 85 %"),
    WorkKind.SCREENED: (10, 75, "what goes onto a screen has 35 to 45 %"),
    WorkKind.LOT: (5, 85, "castings and compost that are kept have 30 to 60 %"),
    WorkKind.SAMPLED: (5, 95, "heaps and beds have 40 to 85 %"),
}
"""Moistures (percent of wet mass) outside which somebody is asked, and what is usual (common practice, no published source)."""
DRIES_BY = 5
"""By how many percent points a screening may be moister than its harvest, for the measuring (ours)."""
LOOKS_ALIKE = 3
"""A bed so many times as deep, or as shallow, as at the last look is asked about (ours)."""
LOOK_MS = 60 * DAY_MS
"""For how long a look speaks for the depth of a bed (ours)."""
REACH_MM = 1829
"""6 ft: no thermometer for heaps is longer (common practice, no published source)."""
HIGHEST_MM = 3658
"""12 ft: a heap above this burns more easily, and no mix is worked out for one (yard-work §7)."""


def hardly_that_moist(entered: Entered) -> Iterator[str]:
    """Ask about a moisture that such material hardly has, and about what has become moister since it was harvested."""
    work, pct = entered.work, _moisture(entered.work)
    if pct is None or work.kind not in MOIST:
        return
    least, most, usual = MOIST[work.kind]
    if not least <= pct <= most:
        meant = next((one for one in (pct * 100, pct * 10) if least <= one <= most), None)
        ask = f"Was {meant:g} % meant?" if meant is not None else "Is the moisture right?"
        yield f"{pct:g} % of its wet mass would be water; {usual}. {ask}"
        return
    found = entered.past.harvest_of(work) if work.kind is WorkKind.SCREENED else None
    before = None if found is None else _moisture(found[1])
    if found is not None and before is not None and pct > before + DRIES_BY:
        yield (
            f"{found[0]} had {before:g} % when it was harvested, and what lies there dries; this is {pct:g} %. Is the moisture "
            "right?"
        )


def hardly_that_deep(entered: Entered) -> Iterator[str]:
    """Ask about a bed deeper than its rim is high, or quite unlike it was at the last look."""
    depth = _depth(entered.work.depth)
    if depth is None:
        return
    last = entered.past.measured(entered.work.place)
    before = None if last is None or entered.work.time - last.time > LOOK_MS else _depth(last.depth)
    rim = entered.bed.rim_mm
    if before and last is not None and _same_number(last.depth, entered.work.depth):
        yield f"The bed of {entered.name} was {last.depth} deep at the last look; now {entered.work.depth}. Is the unit right?"
    elif depth > (rim or DEEPEST_MM):
        yield _beyond(entered, entered.work.depth, depth, rim)
    elif before and last is not None and not before / LOOKS_ALIKE < depth < before * LOOKS_ALIKE:
        slip = next((by for by in (10, Fraction(1, 10)) if before / 2 < depth * by < before * 2), None)
        ask = f"Was {_times(entered.work.depth, slip)} meant?" if slip is not None else "Is the depth right?"
        yield f"The bed of {entered.name} was {last.depth} deep at the last look; now {entered.work.depth}. {ask}"


def thicker_than_the_bed(entered: Entered) -> Iterator[str]:
    """Ask about a layer that is thicker than the bed of which it was taken, or than the bin is high."""
    work = entered.work
    layer, said = _depth(work.depth), work.depth
    if layer is None and entered.amount is not None and entered.amount.dimension is Dimension.LENGTH:
        layer, said = entered.amount.base, amount_said(work)
    if layer is None:
        return
    rim = entered.bed.rim_mm
    if layer > (rim or DEEPEST_MM):
        yield _beyond(entered, said, layer, rim)
        return
    last = entered.past.measured(work.place)
    looked = None if last is None or work.time - last.time > LOOK_MS else _depth(last.depth)
    bed = looked or entered.bed.depth_mm
    if work.kind is WorkKind.HARVESTED and bed is not None and layer > bed:
        yield f"The bed of {entered.name} is {depth_words(bed, us=entered.us)} deep; this layer is {said}. Is the depth right?"


def higher_than_a_heap(entered: Entered) -> Iterator[str]:
    """Ask about a heap higher than any that is worked out for the yard."""
    amount = entered.amount
    if amount is None or amount.dimension is not Dimension.LENGTH or amount.base is None or amount.base <= HIGHEST_MM:
        return
    yield (
        f"A heap {amount_said(entered.work)} high would be above {depth_words(HIGHEST_MM, us=entered.us)}, where it can take "
        "fire of itself. Is the figure or the unit a slip?"
    )


def _beyond(entered: Entered, said: str, depth: float, rim: int | None) -> str:
    most = rim or DEEPEST_MM
    where = (
        f"its rim is at {depth_words(most, us=entered.us)}"
        if rim
        else f"no bed is {depth_words(most, us=entered.us)} deep"
    )
    slip = depth / 10 <= most
    ask = f"Was {_times(said, Fraction(1, 10))} meant?" if slip else "Is the figure or the unit a slip?"
    return f"{said} is more than {entered.name} can be deep: {where}. {ask}"


def _same_number(one: str, other: str) -> bool:
    """Return whether two lengths have the same number and not the same unit."""
    first, second = parse_amount(one), parse_amount(other)
    return first.count == second.count and first.unit != second.unit


def _times(said: str, factor: int | Fraction) -> str:
    """Return a length as it was told, made longer or shorter."""
    amount = parse_amount(said)
    return f"{float(amount.count * factor):g} {amount.measure}"


def _moisture(work: Work) -> float | None:
    try:
        plain = moisture_understood(work.moisture)
    except ValueError:
        return None
    return float(plain) if plain else None


def _depth(text: str) -> int | None:
    """Return a depth as the record keeps it, mm; None without one."""
    try:
        amount = parse_amount(text) if text.strip() else None
    except ValueError:
        return None
    return None if amount is None or amount.dimension is not Dimension.LENGTH else amount.base


def hardly_so_deep_in(settings: Settings, place: str, bed: BedSpace | None, depth_mm: int) -> Iterator[str]:
    """Ask about a reading deeper than its bin, or deeper in a heap than anybody reaches.

    Args:
        settings: The settings in force.
        place: The pile or bin.
        bed: The space in the bin; None for a heap, or if nobody measured it.
        depth_mm: How deep it was read.

    Yields:
        The question, if there is one.
    """
    is_bin = place in settings.bins
    most = (bed.rim_mm if bed is not None and bed.rim_mm else DEEPEST_MM) if is_bin else REACH_MM
    if depth_mm > most:
        us, name = is_us(settings), clean(settings.place_name(place), 40)
        far = depth_words(most, us=us)
        told = f"{name} can be {far} deep" if is_bin else f"nobody reaches {far} into a heap"
        yield f"{depth_words(depth_mm, us=us)} is deep for a thermometer: {told}. Is the figure or the unit a slip?"
