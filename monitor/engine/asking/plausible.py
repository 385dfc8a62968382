"""The one declared list of questions about figures that are possible and hardly right: a slipped point, a wrong unit.

Each row says what is compared with what. Everything that it is compared with comes from the yard's own record or configuration:
the size of a bin, the last look, the stock, the entries of before. Nothing is refused: people can answer *that is so*.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass

from monitor.engine.asking import implausible_amounts as amounts
from monitor.engine.asking import implausible_measures as measures
from monitor.engine.asking.entered import Entered
from monitor.model.work import WorkKind
from monitor.model.work_kinds import KINDS, declared

Ask = Callable[[Entered], Iterator[str]]
"""Yields the questions about an entry."""


@dataclass(frozen=True, slots=True)
class Comparison:
    """A comparison of a figure of an entry with what the yard knows.

    Attributes:
        figure: The figure, in words for people.
        beside: What it is compared with, in words for people.
        kinds: The kinds of work that it is made for.
        ask: Yields the questions.
    """

    figure: str
    beside: str
    kinds: frozenset[WorkKind]
    ask: Ask


def _with(*fields: str) -> frozenset[WorkKind]:
    return frozenset(kind for kind, row in KINDS.items() if set(fields) & set(row.fields))


_STOCKED = frozenset(kind for kind, row in KINDS.items() if row.fills or kind is WorkKind.COVERED)
_OF_BINS = frozenset({WorkKind.FED, WorkKind.WATERED, WorkKind.BEDDED, WorkKind.HARVESTED, WorkKind.EMPTIED})
_LAYERS = frozenset({WorkKind.HARVESTED, WorkKind.BEDDED})
_WORMS = frozenset({WorkKind.SAMPLED, WorkKind.BEDDED})
_OFTEN = frozenset(
    {WorkKind.FED, WorkKind.WATERED, WorkKind.BEDDED, WorkKind.ADDED, WorkKind.HARVESTED, WorkKind.DELIVERY}
)

COMPARISONS: tuple[Comparison, ...] = (
    Comparison("an amount at a bin", "what the bin can hold", _OF_BINS, amounts.more_than_the_bin_holds),
    Comparison("an amount", "the entries of the same kind, place and material", _OFTEN, amounts.unlike_the_others),
    Comparison("what is used", "the stock, where it was delivered or counted", _STOCKED, amounts.more_than_in_stock),
    Comparison("worms", "what a surface carries, 3 lb/ft²", _WORMS, amounts.more_worms_than_live_there),
    Comparison("a count", "the stock, and the most that ever came in", frozenset({WorkKind.COUNTED}), amounts.counted_too_many),
    Comparison("what goes onto the screen", "its harvest", frozenset({WorkKind.SCREENED}), amounts.more_than_was_harvested),
    Comparison("a moisture", "what such material can have", _with("moisture"), measures.hardly_that_moist),
    Comparison("a depth of a bed", "its rim, and the last look", frozenset({WorkKind.INSPECTED}), measures.hardly_that_deep),
    Comparison("a layer", "the bed or the rim", _LAYERS, measures.thicker_than_the_bed),
    Comparison("a height of a heap", "12 ft (3.7 m)", frozenset({WorkKind.BUILT}), measures.higher_than_a_heap),
)  # fmt: skip


def implausible(entered: Entered) -> Iterator[str]:
    """Yield the questions about the figures of an entry."""
    for row in COMPARISONS:
        if entered.work.kind in row.kinds:
            yield from row.ask(entered)


def is_compared(kind: WorkKind) -> bool:
    """Return whether anything of a kind of work is compared, so that the log before it is needed."""
    return any(kind in row.kinds for row in COMPARISONS) or declared(kind).stocks
