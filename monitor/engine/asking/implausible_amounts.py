"""Questions about amounts: more than a bin holds, than is in stock, than was harvested, or many times what it was before."""

from collections.abc import Iterator, Sequence
from fractions import Fraction
from math import ceil

from monitor.engine.asking.entered import Entered, amount_in
from monitor.engine.asking.stock_tally import GRAMS, named_amounts
from monitor.engine.asking.yard_sizes import depth_words, mass_words, volume_words
from monitor.model.amounts import UNITS, Amount, Dimension, unit_shown
from monitor.model.harvest_names import WORMS, harvest_part
from monitor.model.moisture_words import moisture_understood
from monitor.model.work import Work, WorkKind
from monitor.model.work_entry import fraction_of
from monitor.model.work_kinds import FRACTIONS
from monitor.model.work_words import amount_said

WEIGHING = Fraction(105, 100)
"""Two weighings of one thing may differ by 5 % (ours)."""
FLUFFED = 2
"""Loose material takes up at most twice the room that it settles to in a bin (ours)."""
MUCH_MORE = 6
"""An amount so many times the greatest of before is asked about (ours): a slipped point makes it ten."""
MUCH_MORE_THAN_ONE = 30
"""The same where there is but one before it."""
FAR_MORE_COUNTED = 3
"""A count of so many times all that can be there, or ever came in at once, is asked about (ours)."""
DRY_GAP = Fraction(115, 100)
"""More dry matter off the screen than this times that of the harvest is asked about, as yard-work §5 shows such a gap."""


def more_than_the_bin_holds(entered: Entered) -> Iterator[str]:
    """Ask about an amount that the bin has no room for; nothing in a worm bed is heavier than water (ours)."""
    amount, room = entered.amount, entered.bed.volume_ml
    if amount is None or room is None or amount.base is None:
        return
    if amount.dimension is Dimension.MASS:
        too_much, most = amount.base > room, mass_words(room, us=entered.us)
    elif amount.dimension is Dimension.VOLUME:
        too_much, most = amount.base > FLUFFED * room, volume_words(FLUFFED * room, us=entered.us)
    else:
        return
    if too_much:
        rim = entered.bed.rim_mm
        by = f"by its surface and its rim at {depth_words(rim, us=entered.us)}" if rim else "by its surface"
        said = amount_said(entered.work)
        yield f"{entered.name} holds {most} at most, {by}; this is {said}. Is the figure or the unit a slip?"


def unlike_the_others(entered: Entered) -> Iterator[str]:
    """Ask about an amount many times as great as the entries of before, or in another unit with their number."""
    amount, work = entered.amount, entered.work
    before = [one for one in entered.past.alike(work) if amount_in(one) is not None]
    said = [(one, terms) for one in before if (terms := _comparable(entered, one)) is not None]
    mine = _comparable(entered, work)
    if amount is None or mine is None or not said:
        return
    greatest, most = max(said, key=lambda pair: pair[1])
    if mine < most * (MUCH_MORE if len(said) > 1 else MUCH_MORE_THAN_ONE):
        yield from _in_another_unit(entered, amount, [one for one, _ in said])
        return
    times = "once" if len(said) == 1 else f"the last {len(said)} times"
    yield (
        f"That is {float(mine / most):.0f} times as much as the most of before ({amount_said(greatest)}, of {times})."
        f"{_meant(amount, most / mine)}"
    )


def _meant(amount: Amount, share: Fraction) -> str:
    """Return the question: a tenth or a hundredth was meant if the point has slipped, else the figure or unit is doubted.

    Args:
        amount: The amount.
        share: The share (0 to 1) of it that would be usual.
    """
    slip = next((power for power in (10, 100) if share * power >= _NEAR), None)
    if slip is None:
        return " Is the figure or the unit a slip?"
    return f" Was {float(amount.count / slip):g} {_unit(amount)} meant?"


_NEAR = Fraction(1, 2)


def _in_another_unit(entered: Entered, amount: Amount, before: Sequence[Work]) -> Iterator[str]:
    """Ask about a number as always in a unit as never: 3 kg where it was always 3 lb."""
    units = {one.unit for work in before if (one := amount_in(work)) is not None}
    counts = [one.count for work in before if (one := amount_in(work)) is not None]
    weighed = amount.dimension in (Dimension.MASS, Dimension.VOLUME)
    if len(before) < 2 or len(units) != 1 or amount.unit in units or not weighed:
        return
    (usual,) = units
    if UNITS[usual].dimension is amount.dimension and min(counts) <= amount.count <= max(counts):
        yield (
            f"It was always told in {unit_shown(usual)} before, from {float(min(counts)):g} to {float(max(counts)):g}; this is "
            f"{amount_said(entered.work)}. Is the unit right?"
        )


def _comparable(entered: Entered, work: Work) -> Fraction | None:
    """Return the amount of an entry as grams, or as millilitres or containers of the unit of the new entry; None otherwise."""
    amount, new = amount_in(work), entered.amount
    if amount is None or new is None or not amount.count:
        return None
    if amount.dimension is new.dimension and amount.base is not None:
        return Fraction(amount.base)
    if amount.unit == new.unit and amount.unit:
        return amount.count
    if new.dimension is not Dimension.MASS:
        return None  # both sides of a comparison must be masses, or neither
    mass = entered.sizes.scales.weigh(work.what, amount)
    return None if mass is None else Fraction(mass.wet_g)


def more_than_in_stock(entered: Entered) -> Iterator[str]:
    """Ask about a use of more than is in stock of a material that was delivered or counted."""
    for name, amount in named_amounts(entered.work):
        heap = entered.past.stock.of(name)
        if heap is None or amount is None or heap.unclear:
            continue
        told = entered.past.stock.terms(name, amount)
        unit = next((one for one in (amount.unit, GRAMS) if one in told and one in heap.left), None)
        if unit is not None and told[unit] > heap.left[unit] * WEIGHING:
            left = _stock_said(entered, unit, heap.left[unit])
            there = f"{left} of {heap.name} are left" if heap.left[unit] else f"no {heap.name} is left"
            mends = " If more was there, write down the delivery, or count it (heaptender log counted)."
            yield (
                f"By the record {there}; this takes {float(amount.count):g} {_unit(amount)}. Is the amount right?"
                f"{'' if harvest_part(name) else mends}"
            )


def more_worms_than_live_there(entered: Entered) -> Iterator[str]:
    """Ask about worms beyond what a surface carries: of a sample, under 1 ft²; of worms that are brought, in the whole bin."""
    work, grams, surface = entered.work, _grams(entered.amount), entered.bed.surface_mm2
    if work.what.strip().casefold() != WORMS or not grams:
        return
    is_sample = work.kind is WorkKind.SAMPLED
    if not is_sample and surface is None:
        return
    most = MOST_WORMS_G_MM2 * (FT2_MM2 if is_sample or surface is None else surface)
    if grams > ceil(most):  # an amount is kept in whole grams
        where = "1 ft² carries" if is_sample else f"{entered.name} carries"
        said = mass_words(float(most), us=entered.us)
        yield f"{where} {said} of worms at most; this is {amount_said(work)}. Is the figure or the unit a slip?"


FT2_MM2 = 92_903
MOST_WORMS_G_MM2 = Fraction(3 * 453_592, 1000 * FT2_MM2)
"""3 lb/ft² of worms (yard-work §8; common practice, no published source)."""


def counted_too_many(entered: Entered) -> Iterator[str]:
    """Ask about a count of far more than can be there: many times what is left, and the most that ever came in at once."""
    amount, work = entered.amount, entered.work
    heap = entered.past.stock.of(work.what)
    if heap is None or amount is None:
        return
    told = entered.past.stock.terms(work.what, amount)
    unit = next((one for one in (amount.unit, GRAMS) if one in told and one in heap.most), None)
    if unit is None:
        return
    most = max(heap.most[unit], heap.left.get(unit, Fraction(0)))
    if told[unit] > FAR_MORE_COUNTED * most:
        said = _stock_said(entered, unit, most)
        yield (
            f"No more than {said} of {heap.name} ever came in, was counted, or can be left; this is {amount_said(work)}."
            f"{_meant(amount, most / told[unit])}"
        )


def more_than_was_harvested(entered: Entered) -> Iterator[str]:
    """Ask about a screening of more than its harvest, as it lay or by dry matter."""
    work, found = entered.work, entered.past.harvest_of(entered.work)
    if found is None:
        return
    name, harvest = found
    onto, whole = entered.amount, amount_in(harvest)
    if onto is not None and _grams(onto) > WEIGHING * _grams(whole) > 0:
        yield (
            f"{name} weighed {amount_said(harvest)}, and nothing gets heavier before the screen; this is {amount_said(work)}. "
            "Is the figure or the unit a slip?"
        )
        return
    parts = [fraction_of(work, one) for one in FRACTIONS if getattr(work, one)]
    off = sum((_grams(one) for one in parts), Fraction(0))
    dry = (_dry(whole, harvest.moisture), off * _dry_share(work.moisture))
    if None not in parts and dry[0] and dry[1] > DRY_GAP * dry[0]:
        yield (
            f"By dry matter {mass_words(float(dry[1]), us=entered.us)} came off the screen, and {name} had "
            f"{mass_words(float(dry[0]), us=entered.us)}. Is a figure or a moisture a slip?"
        )


def _stock_said(entered: Entered, unit: str, count: Fraction) -> str:
    return mass_words(float(count), us=entered.us) if unit == GRAMS else f"{float(count):g} {unit_shown(unit)}"


def _unit(amount: Amount) -> str:
    if amount.dimension is Dimension.CONTAINERS:
        return amount.unit if amount.count == 1 else unit_shown(amount.unit)
    return amount.measure or unit_shown(amount.unit)


def _grams(amount: Amount | None) -> Fraction:
    """Return a mass, g; 0 for any other amount, or none."""
    known = amount is not None and amount.dimension is Dimension.MASS and amount.base is not None
    return Fraction(amount.base) if known and amount is not None and amount.base is not None else Fraction(0)


def _dry(amount: Amount | None, moisture: str) -> Fraction:
    return _grams(amount) * _dry_share(moisture)


def _dry_share(moisture: str) -> Fraction:
    """Return the share (0 to 1) of dry matter at a moisture as the record keeps it; 0 if unknown."""
    try:
        plain = moisture_understood(moisture)
    except ValueError:
        return Fraction(0)
    return 1 - Fraction(plain) / 100 if plain else Fraction(0)
