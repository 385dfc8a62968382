"""Chooses which of the tried sets are worth a look, and which one to take.

Rules:
1. One set *beats* another if it is no worse in missed troubles, needless messages and median warning time, and better in one
   of them. A person has to choose among the *unbeaten* ones; none of them is better than another without a price.
2. Of unbeaten sets with the same figures the middle one stands for all: it is the farthest from where the figures change.
3. The *suggested* set is the one with the least cost: needless messages, and `worth` for each missed trouble. Its own cost
   counts, and as much again the mean cost of the sets around it: a good one among bad ones is luck, and next year's weather is
   not this year's. Among equals: longer median warning, then nearer to today's values.

Source of the mean around a set (a kernel mean): E. A. Nadaraya 1964, Theory of Probability and Its Applications 9, 141-142;
G. S. Watson 1964, Sankhya A 26, 359-372. From memory. The reach of *around* is our choice (docs/performance.md).
"""

from collections.abc import Callable, Sequence
from math import exp

from monitor.tuning.scoring import Score
from monitor.tuning.vary import Set, Vary

WORTH = 10
"""Needless messages that weigh as much as one missed trouble, unless the person says otherwise (our choice)."""

REACH = 0.11
"""Reach of a set's neighbourhood: a share of each range, times the root of the number of ranges (our choice)."""

_NEVER = -(1 << 60)
"""Stands for the warning time of a set that caught nothing."""

Figures = tuple[int, int, int]


def figures(score: Score) -> Figures:
    """Return missed, needless, and the negated median warning, so that less is better in all three."""
    return score.missed, score.needless, -(score.median_ms if score.median_ms is not None else _NEVER)


def cost(score: Score, worth: int) -> int:
    """Return the cost of a set: its needless messages, and `worth` for each missed trouble."""
    return score.missed * worth + score.needless


def beats(one: Figures, other: Figures) -> bool:
    """Return whether figures beat others (rule 1)."""
    return one != other and all(mine <= theirs for mine, theirs in zip(one, other, strict=True))


def unbeaten(scores: Sequence[Score]) -> list[int]:
    """Return the indices of the sets that no other beats, in their order; sets with equal figures all stay."""
    found = [figures(score) for score in scores]
    # Sorted by their figures, a set can only be beaten by an earlier one, so comparing with the unbeaten so far suffices.
    kept: list[Figures] = []
    for one in sorted(set(found)):
        if not any(beats(other, one) for other in kept):
            kept.append(one)
    wanted = set(kept)
    return [number for number, one in enumerate(found) if one in wanted]


def one_of_each(
    indices: Sequence[int], scores: Sequence[Score], sets: Sequence[Set], varies: Sequence[Vary]
) -> list[int]:
    """Choose one set for each different outcome (rule 2).

    Args:
        indices: The sets to choose from.
        scores: Of all sets.
        sets: All sets.
        varies: The thresholds that are varied.

    Returns:
        Indices, the least missed first, then the least needless.
    """
    groups: dict[Figures, list[int]] = {}
    for number in indices:
        groups.setdefault(figures(scores[number]), []).append(number)
    return [_middle(members, sets, varies) for _, members in sorted(groups.items())]


def _middle(members: Sequence[int], sets: Sequence[Set], varies: Sequence[Vary]) -> int:
    centre = [sum(sets[number][axis] for number in members) / len(members) for axis in range(len(varies))]
    return min(members, key=lambda number: (apart(sets[number], centre, varies), number))


def apart(one: Sequence[float], other: Sequence[float], varies: Sequence[Vary]) -> float:
    """Measure how far two sets are apart, each threshold in parts of its range.

    Args:
        one: Values of a set.
        other: Values of another.
        varies: The thresholds that are varied, in the order of the values.

    Returns:
        Sum of the squared distances; a threshold with a single value counts 0.
    """
    apart = 0.0
    for mine, theirs, vary in zip(one, other, varies, strict=True):
        reach = vary.values[-1] - vary.values[0]
        apart += ((mine - theirs) / reach) ** 2 if reach else 0.0
    return apart


def suggested(
    indices: Sequence[int],
    scores: Sequence[Score],
    sets: Sequence[Set],
    varies: Sequence[Vary],
    now: Set,
    worth: int = WORTH,
) -> int:
    """Choose the set to take (rule 3); a set's neighbours are sought among all sets.

    Args:
        indices: The sets to choose from; not empty.
        scores: Of all sets, on the part of the record to choose on.
        sets: All sets.
        varies: The thresholds that are varied.
        now: Today's values.
        worth: Needless messages that weigh as much as one missed trouble.

    Returns:
        One of `indices`.
    """
    costs = [cost(score, worth) for score in scores]

    def rank(number: int) -> tuple[float, int, float, int]:
        _, _, late = figures(scores[number])
        around = _around(number, costs, sets, varies)
        return round(costs[number] + around, 1), late, apart(sets[number], now, varies), number

    return min(indices, key=rank)


def _around(number: int, costs: Sequence[int], sets: Sequence[Set], varies: Sequence[Vary]) -> float:
    """Return the mean cost of a set and its neighbours; the nearer ones weigh more."""
    scale = 2 * len(varies) * REACH**2
    weights = [exp(-apart(sets[number], other, varies) / scale) for other in sets]
    return sum(weight * cost for weight, cost in zip(weights, costs, strict=True)) / sum(weights)


def at_most(indices: Sequence[int], most: int, keep: Callable[[int], bool]) -> list[int]:
    """Thin a list evenly.

    Args:
        indices: In the order to spread over.
        most: Most entries to keep.
        keep: Tells whether an entry stays in any case.

    Returns:
        The kept entries, in their order; more than `most` only if more must stay.
    """
    must = [number for number in indices if keep(number)]
    rest = [number for number in indices if not keep(number)]
    room = max(0, most - len(must))
    if len(rest) > room:
        rest = [rest[round(step * (len(rest) - 1) / max(1, room - 1))] for step in range(room)] if room else []
    wanted = {*must, *rest}
    return [number for number in indices if number in wanted]
