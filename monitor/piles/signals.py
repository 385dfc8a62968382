"""The joint signals of a batch's probes at one instant: coldest, hottest, and what is proven of them.

Rules:

1. The coldest is at or above a limit iff every probe in service is proven and at or above it. One proven probe below a
   limit proves that the coldest is below; one at or above it proves that the hottest is.
2. The hottest is below a limit iff every probe in service is proven and below it, absent ones left out.
3. For the rule, a gap that the settings alone bridge is unproven; for phases and alarms it is not.
"""

from collections.abc import Iterable
from dataclasses import dataclass

from monitor.model.thresholds import PileThresholds
from monitor.piles.cuts import ABSENT, Cut, Cuts
from monitor.piles.state import ProbeLine


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldLimits:
    """The temperatures that count as hold.

    Attributes:
        hold_milli_c: The rule's hold temperature, else that of the thresholds.
        strict: Whether the rule asks for more than the hold temperature (for phases, reaching it is always enough).
        upper_milli_c: The rule's upper limit, included, or None.
        others: Those of the rule's other alternatives.
    """

    hold_milli_c: int
    strict: bool = False
    upper_milli_c: int | None = None
    others: tuple["HoldLimits", ...] = ()

    def cuts(self) -> tuple[Cut, Cut | None]:
        """Return the cut that must be passed to be inside, and the cut that must not."""
        upper = None if self.upper_milli_c is None else (self.upper_milli_c, True)
        return (self.hold_milli_c, self.strict), upper


class Marks:
    """The levels at which a batch's signals change, for its limits."""

    __slots__ = (
        "cool", "cuts", "hold", "hot", "hot_over", "insides", "ready", "ready_over", "under", "unready", "warm",
        "warm_over",
    )  # fmt: skip

    def __init__(self, limits: HoldLimits, thresholds: PileThresholds) -> None:
        hold, band = limits.hold_milli_c, thresholds.deadband_milli_k
        ready = thresholds.ready_milli_c
        named: dict[str, Cut] = {
            "hold": (hold, False),
            "under": (hold - band, False),
            "warm": (thresholds.warm_milli_c, False),
            "warm_over": (thresholds.warm_milli_c + band, False),
            "ready": (ready, True),
            "ready_over": (ready + band, True),
            "unready": (ready + thresholds.unready_above_milli_k, False),
            "hot": (thresholds.hot_milli_c, False),
            "hot_over": (thresholds.hot_milli_c - band, False),
        }
        bands = [one.cuts() for one in (limits, *limits.others)]
        self.cuts = Cuts([*named.values(), *(cut for band in bands for cut in band if cut is not None)])
        self.hold = self.cuts.need(*named["hold"])
        self.under = self.cuts.need(*named["under"])
        beyond = len(self.cuts.passes) + 1
        self.insides = tuple(
            (self.cuts.need(*low), beyond if high is None else self.cuts.need(*high)) for low, high in bands
        )
        """For each alternative of the rule: the level to be reached, and the level not to be reached."""
        self.warm = self.cuts.need(*named["warm"])
        self.warm_over = self.cuts.need(*named["warm_over"])
        self.ready = self.cuts.need(*named["ready"])
        self.ready_over = self.cuts.need(*named["ready_over"])
        self.unready = self.cuts.need(*named["unready"])
        self.hot = self.cuts.need(*named["hot"])
        self.hot_over = self.cuts.need(*named["hot_over"])

    @property
    def of_coldest(self) -> tuple[int, ...]:
        """The levels that the coldest probe must pass for `Signals` to change."""
        return tuple(sorted({self.under, self.hold, *(low for low, _ in self.insides)}))

    @property
    def of_hottest(self) -> tuple[int, ...]:
        """The levels that the hottest probe must pass for `Signals` to change."""
        uppers = (high for _, high in self.insides)
        limits = (self.hold, self.under, *uppers, self.warm, self.warm_over, self.hot, self.hot_over)
        return tuple(sorted({*limits, self.ready, self.ready_over, self.unready}))


class Signals:
    """Signals of a batch at one instant, each true only where it is proven."""

    __slots__ = (
        "apart", "at_hold", "below_hold", "corner", "hot", "hot_seen", "inside", "not_hot", "not_warm", "over_ready",
        "over_ready_band", "proven", "rule_proven", "under", "under_any", "under_warm", "unready", "warm_seen", "within_ready",
    )  # fmt: skip

    def __init__(self, lines: Iterable[ProbeLine], marks: Marks) -> None:
        serving = [line for line in lines if line.walk_serving]
        levels = [line.walk_level for line in serving]
        known = [level for level in levels if level >= 0]
        low, high = (min(known), max(known)) if known else (0, 0)
        some = bool(known)
        all_known = some and len(known) == len(levels)
        # Rule 2: a probe lost long ago must not keep a heap from cooling, but one in a mere gap may be the hottest.
        rest_known = some and all(level >= 0 or level == ABSENT for level in levels)
        self.proven = all_known
        self.rule_proven = all_known and not any(line.walk_long for line in serving)
        self.at_hold = all_known and low >= marks.hold
        """Coldest at or above the hold temperature."""
        self.inside = 0
        """The limits of the rule that the batch is inside: bit n stands for the rule's alternative n."""
        if self.rule_proven:
            for n, (least, beyond) in enumerate(marks.insides):
                if low >= least and high < beyond:
                    self.inside |= 1 << n
        self.hot_seen = some and high >= marks.hold
        """Hottest at or above the hold temperature."""
        self.below_hold = rest_known and high < marks.hold
        """Hottest below the hold temperature."""
        self.under = rest_known and high < marks.under
        """Hottest below the hold temperature by more than the deadband."""
        self.under_any = some and low < marks.under
        """Coldest below by more than the deadband."""
        self.apart = self.under_any and high >= marks.under
        """Coldest below by more than the deadband, hottest not."""
        self.corner = some and low < marks.hold <= high
        """Coldest below, hottest at or above."""
        self.warm_seen = some and high >= marks.warm
        self.under_warm = rest_known and high < marks.warm
        self.not_warm = not (some and high >= marks.warm_over)
        """Hottest not seen at 40 °C plus the deadband."""
        self.hot = some and high >= marks.hot
        self.not_hot = rest_known and high < marks.hot_over
        self.within_ready = all_known and high < marks.ready
        """Hottest at or below the fixed limit for worms, every probe proven."""
        self.over_ready = some and high >= marks.ready
        self.over_ready_band = some and high >= marks.ready_over
        self.unready = some and high >= marks.unready
