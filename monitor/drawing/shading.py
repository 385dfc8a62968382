"""Stretches of time as washes and as hatching.

Stretches closer together than anybody could see are drawn as one, so that a picture stays small whatever the record; each
function states the distance at which it merges them.
"""

from collections.abc import Sequence

from monitor.drawing.scales import Scale
from monitor.drawing.svg_sheet import block, segment

Stretch = tuple[float, float]
_MOST = 150


def stretches(spans: Sequence[tuple[int, int]], scale: Scale) -> list[Stretch]:
    """Return spans of time as stretches of x within the scale, in order, each at least 0.4 units wide.

    Stretches less than 0.3 units apart become one; if more than 150 are left, those less than 2 units apart too.
    """
    seen = sorted(
        (scale.within(start), scale.within(end)) for start, end in spans if end >= scale.low and start <= scale.high
    )
    joined = _joined(seen, 0.3)
    return joined if len(joined) <= _MOST else _joined(joined, 2)


def _joined(seen: Sequence[Stretch], closer: float) -> list[Stretch]:
    joined: list[Stretch] = []
    for left, end in seen:
        right = max(end, left + 0.4)
        if joined and left - joined[-1][1] < closer:
            joined[-1] = (joined[-1][0], max(joined[-1][1], right))
        else:
            joined.append((left, right))
    return joined


def blocks(seen: Sequence[Stretch], top: float, bottom: float) -> str:
    """Make blocks that shade stretches.

    Args:
        seen: Stretches of x, units.
        top: Upper edge, units.
        bottom: Lower edge, units.

    Returns:
        Path data; "" if there is no stretch.
    """
    return "".join(block(left, top, right, bottom) for left, right in seen)


def hatching(seen: Sequence[Stretch], top: float, bottom: float, step: float = 7) -> str:
    """Hatch stretches with slanted strokes, all of one pattern; a stretch narrower than 3 units is a plain stroke.

    Args:
        seen: Stretches of x, units.
        top: Upper edge, units.
        bottom: Lower edge, units.
        step: Distance between two strokes, units; doubled until there are at most about 600.

    Returns:
        Path data; "" if there is no stretch.
    """
    height = bottom - top
    while sum((right - left + height) / step for left, right in seen) > 600:
        step *= 2
    strokes: list[str] = []
    for left, right in seen:
        if right - left < 3:
            strokes.append(segment((left + right) / 2, top, (left + right) / 2, bottom))
            continue
        # Each stroke lies on a line x + y = c with c a multiple of `step`, so the pattern runs on from stretch to stretch.
        c = (left + top) // step * step + step
        while c < right + bottom:
            low, high = max(top, c - right), min(bottom, c - left)
            if high - low > 0.2:
                strokes.append(segment(c - low, low, c - high, high))
            c += step
    return "".join(strokes)


def widest(seen: Sequence[Stretch]) -> Stretch | None:
    """Return the widest stretch, the first of equals; None if there is none."""
    return max(seen, key=lambda stretch: stretch[1] - stretch[0], default=None)
