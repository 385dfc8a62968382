"""Water for what is too dry, and dry bedding for what is too wet: by probes, and by a squeezed handful."""

from dataclasses import dataclass

from monitor.diary.due import Due, What
from monitor.model.units import show_percent


@dataclass(frozen=True, slots=True, kw_only=True)
class WrongDamp:
    """A place that is too dry or too wet.

    Attributes:
        place: A pile or a bin.
        dry: Whether it is too dry, else too wet.
        since: Since when, UTC ms.
        milli_pct: Its moisture now, thousandths of a percent of wet mass; None: somebody squeezed a handful.
        rings_after_ms: After how long the alarm rings for it; None: none does.
    """

    place: str
    dry: bool
    since: int
    milli_pct: int | None = None
    rings_after_ms: int | None = None


def damp_due(wrong: WrongDamp) -> Due:
    """Return the watering or the bedding that a place needs; its slack ends when the alarm rings."""
    if wrong.milli_pct is None:
        how = "a squeezed handful crumbled" if wrong.dry else "water ran from a squeezed handful"
        why = f"{how} when somebody looked"
    else:
        why = f"it is too {'dry' if wrong.dry else 'wet'}, {show_percent(wrong.milli_pct)}"
    rings = wrong.rings_after_ms
    return Due(
        due_ms=wrong.since,
        place=wrong.place,
        what=What.WATER if wrong.dry else What.BEDDING,
        why=why,
        of=str(wrong.since),
        latest_ms=None if rings is None else wrong.since + rings,
    )
