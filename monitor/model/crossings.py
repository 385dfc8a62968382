"""Where a straight line between two readings passes a limit, exactly, in integers.

A set of instants ("at or above", "below") is closed and its ends are rounded inward to the millisecond: it begins at
the first whole millisecond inside and ends at the last. Times are UTC ms, values thousandths of a unit.
"""


def first_at_or_above(start: int, low: int, end: int, high: int, limit: int) -> int:
    """Return the first whole ms in [start, end] at which a line rising from `low` to `high` is >= limit.

    Precondition: low < limit <= high and start < end.
    """
    return start - (-(limit - low) * (end - start) // (high - low))


def last_at_or_above(start: int, high: int, end: int, low: int, limit: int) -> int:
    """Return the last whole ms in [start, end] at which a line falling from `high` to `low` is >= limit.

    Precondition: low < limit <= high and start < end.
    """
    return start + (high - limit) * (end - start) // (high - low)


def first_above(start: int, low: int, end: int, high: int, limit: int) -> int:
    """Return the first whole ms in [start, end] at which a line rising from `low` to `high` is > limit.

    Precondition: low <= limit < high and start < end.
    """
    return start + (limit - low) * (end - start) // (high - low) + 1


def last_above(start: int, high: int, end: int, low: int, limit: int) -> int:
    """Return the last whole ms in [start, end] at which a line falling from `high` to `low` is > limit.

    Precondition: low <= limit < high and start < end.
    """
    return start - (-(high - limit) * (end - start) // (high - low)) - 1
