"""The faults of a bad link: disorder, repeats, gaps, late delivery, wrong clocks. For tests.

Rules: every function takes rows and returns rows, keeps each row's own contents (a wrong clock excepted), and is a
function of rows, arguments and generator alone. `received` never runs backwards in the result.
"""

from collections.abc import Iterable
from random import Random
from typing import NamedTuple

from monitor.simulate.probe_errors import Sample


class Delivery(NamedTuple):
    """A row and its arrival, UTC ms."""

    received: int
    sample: Sample


def at_once(samples: Iterable[Sample]) -> list[Delivery]:
    """Return the rows as delivered at their own time, over a perfect link."""
    return [Delivery(sample.time, sample) for sample in samples]


def _in_order(rows: Iterable[Delivery]) -> list[Delivery]:
    return sorted(rows, key=lambda row: row.received)


def disorder(rows: Iterable[Delivery], rng: Random, longest_ms: int, share: float = 0.3) -> list[Delivery]:
    """Hold back a share of the rows, so that later ones overtake them.

    Args:
        rows: The rows to deliver.
        rng: Chooses the rows and their delays.
        longest_ms: Longest delay of a row.
        share: Share of the rows to hold back, 0 to 1.

    Returns:
        All rows, in order of arrival.
    """
    held = [
        Delivery(row.received + rng.randrange(1, longest_ms + 1), row.sample) if rng.random() < share else row
        for row in rows
    ]
    return _in_order(held)


def repeat(rows: Iterable[Delivery], rng: Random, share: float = 0.1, longest_ms: int = 60_000) -> list[Delivery]:
    """Deliver a share of the rows a second time.

    Args:
        rows: The rows to deliver.
        rng: Chooses the rows and their delays.
        share: Share of the rows to repeat, 0 to 1.
        longest_ms: Longest time until the repetition.

    Returns:
        All rows and the repetitions, in order of arrival.
    """
    out: list[Delivery] = []
    for row in rows:
        out.append(row)
        if rng.random() < share:
            out.append(Delivery(row.received + rng.randrange(0, longest_ms + 1), row.sample))
    return _in_order(out)


def lose(rows: Iterable[Delivery], rng: Random, share: float = 0.05, run: int = 1) -> list[Delivery]:
    """Lose rows in runs.

    Args:
        rows: The rows to deliver.
        rng: Chooses where runs begin.
        share: Share of all rows to lose, about, 0 to 1.
        run: Rows lost in each run.

    Returns:
        The remaining rows, in their order.
    """
    out: list[Delivery] = []
    left = 0
    for row in rows:
        if left == 0 and rng.random() < share / run:
            left = run
        if left:
            left -= 1
        else:
            out.append(row)
    return out


def outage(rows: Iterable[Delivery], start: int, end: int, spacing_ms: int = 20) -> list[Delivery]:
    """Hold back every row of an outage, then deliver them in one burst, first come first served.

    The link is a queue: rows that arrive while the burst still drains come after it.

    Args:
        rows: The rows to deliver.
        start: Beginning of the outage, UTC ms.
        end: End of the outage, UTC ms.
        spacing_ms: Time between two rows of the burst.

    Returns:
        All rows, in order of arrival.
    """
    out: list[Delivery] = []
    free = end
    for row in _in_order(rows):
        if row.received < start:
            out.append(row)
        else:
            received = max(row.received, free)
            out.append(Delivery(received, row.sample))
            free = received + spacing_ms if received > row.received else received
    return out


def wrong_clock(
    rows: Iterable[Delivery], probe: str, shift_ms: int, start: int | None = None, end: int | None = None
) -> list[Delivery]:
    """Shift the stamps of one probe while its clock is wrong; delivery stays.

    Args:
        rows: The rows to deliver.
        probe: Id of the probe.
        shift_ms: Added to the stamps; negative shifts back.
        start: First stamp to shift, UTC ms; None: from the beginning.
        end: First stamp to leave alone again, UTC ms; None: never.

    Returns:
        All rows, in their order.
    """
    out: list[Delivery] = []
    for row in rows:
        hit = (
            row.sample.probe == probe
            and (start is None or row.sample.time >= start)
            and (end is None or row.sample.time < end)
        )
        out.append(Delivery(row.received, row.sample._replace(time=row.sample.time + shift_ms)) if hit else row)
    return out
