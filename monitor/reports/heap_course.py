"""A heap's course from its building on: how warm it was, what was done with it, how long it held, what came of it.

Times are instants (UTC ms); days since the building are worked out where they are shown.
"""

from collections.abc import Sequence
from dataclasses import dataclass, field

from monitor.material import HeatStatus, Node
from monitor.model.times import HOUR_MS
from monitor.reports.moved import Watered
from monitor.reports.report_sums import Sum

STEP_MS = 3 * HOUR_MS
"""A course keeps the lowest and the highest reading of each such stretch from the building on (our choice)."""


@dataclass(frozen=True, slots=True)
class Step:
    """The readings of some hours, or one round by hand: when (UTC ms), the coldest and the hottest, thousandths of °C."""

    at: int
    low: int
    high: int


@dataclass(frozen=True, slots=True, kw_only=True)
class HeatCourse:
    """The readings of a heap and what its rule makes of them, as its certificate would have it.

    Attributes:
        hold_milli_c: The temperature that the rule asks for, or the heap's own hold without a rule, thousandths of °C.
        steps: The readings of its core probes while they were in, by `STEP_MS`, those without a reading left out.
        rounds: Its readings by hand.
        holds: The times in which the coldest was proven to be at that temperature, (from, to).
        held_ms: All of that.
        longest_ms: The longest of it in one piece.
        counts_from: The instant from which it counts: its building, or when raw material last came in.
        hottest: The hottest reading, (instant, thousandths of °C); None: there is none.
        heat: The heat status of the material by its end; None: it has no rule, or nothing was read.
        met_at: The instant at which its rule was met, or None.
        progress: The standing of its rule, in the rule's own counts: `9 of 15 days, 3 of 5 turnings`; "" without a rule.
        waits: Whether it is still to be worked out, so that nothing of this is known.
    """

    hold_milli_c: int
    steps: Sequence[Step] = ()
    rounds: Sequence[Step] = ()
    holds: Sequence[tuple[int, int]] = ()
    held_ms: int = 0
    longest_ms: int = 0
    counts_from: int
    hottest: tuple[int, int] | None = None
    heat: HeatStatus | None = None
    met_at: int | None = None
    progress: str = ""
    waits: bool = False

    @property
    def held_from(self) -> int | None:
        """The first instant at that temperature, of all that counts; None: never."""
        return self.holds[0][0] if self.holds else None


@dataclass(frozen=True, slots=True, kw_only=True)
class HeapCourse:
    """A heap.

    Attributes:
        batch: Its id.
        place: The place where it lies, or lay last.
        built: The instant of its building.
        ended: The instant from which it was gone, or None.
        rule: The rule's id; `none` without any.
        heat: Its readings.
        made_of: The materials that went in, in people's words; "" if nobody said.
        carbon: Its C/N, by the materials that went in; None if one of them is not known well enough.
        turned: Its turnings, those that belong together as one.
        watered_at: Its waterings.
        added_at: The instants at which more material came in.
        water: The water that it got, also at its building.
        start: The mass that went in.
        end: The mass that was taken out, as it lay.
        became: The lots, beds and heaps that got it, in order of time.
        merged_into: The heap that took it up, or "".
    """

    batch: str
    place: str
    built: int
    ended: int | None
    rule: str
    heat: HeatCourse
    made_of: str = ""
    carbon: float | None = None
    turned: Sequence[int] = ()
    watered_at: Sequence[int] = ()
    added_at: Sequence[int] = ()
    water: Watered = field(default_factory=lambda: Watered(0, 0, 0))
    start: Sum = field(default_factory=Sum)
    end: Sum = field(default_factory=Sum)
    became: Sequence[Node] = ()
    merged_into: str = ""

    @property
    def last(self) -> int:
        """The last instant of which anything is known."""
        seen = [step.at for step in (*self.heat.steps[-1:], *self.heat.rounds[-1:])]
        return max([self.built, *seen, *self.turned[-1:], *self.watered_at[-1:], *self.added_at[-1:]])
