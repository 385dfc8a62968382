"""The points at which a straight line between two readings crosses a limit, exactly, in integers.

A set of instants ("at or above", "below") is closed and its ends are rounded inward to the millisecond: it begins at
the first whole millisecond inside and ends at the last. Times are UTC ms, values thousandths of a unit.
"""


def first_at_or_above(start: int, low: int, end: int, high: int, limit: int) -> int:
    """Find where a rising line reaches a limit.

    Args:
        start: Time of the first reading, UTC ms.
        low: Its value, thousandths; below `limit`.
        end: Time of the second reading, UTC ms; later.
        high: Its value, thousandths; at or above `limit`.
        limit: Thousandths.

    Returns:
        The first whole ms in [start, end] at which the line is >= limit.
    """
    return start - (-(limit - low) * (end - start) // (high - low))


def last_at_or_above(start: int, high: int, end: int, low: int, limit: int) -> int:
    """Find where a falling line leaves a limit.

    Args:
        start: Time of the first reading, UTC ms.
        high: Its value, thousandths; at or above `limit`.
        end: Time of the second reading, UTC ms; later.
        low: Its value, thousandths; below `limit`.
        limit: Thousandths.

    Returns:
        The last whole ms in [start, end] at which the line is >= limit.
    """
    return start + (high - limit) * (end - start) // (high - low)


def first_above(start: int, low: int, end: int, high: int, limit: int) -> int:
    """Find where a rising line passes a limit.

    Args:
        start: Time of the first reading, UTC ms.
        low: Its value, thousandths; at or below `limit`.
        end: Time of the second reading, UTC ms; later.
        high: Its value, thousandths; above `limit`.
        limit: Thousandths.

    Returns:
        The first whole ms in [start, end] at which the line is > limit.
    """
    return start + (limit - low) * (end - start) // (high - low) + 1


def last_above(start: int, high: int, end: int, low: int, limit: int) -> int:
    """Find where a falling line comes back to a limit.

    Args:
        start: Time of the first reading, UTC ms.
        high: Its value, thousandths; above `limit`.
        end: Time of the second reading, UTC ms; later.
        low: Its value, thousandths; at or below `limit`.
        limit: Thousandths.

    Returns:
        The last whole ms in [start, end] at which the line is > limit.
    """
    return start - (-(high - limit) * (end - start) // (high - low)) - 1
