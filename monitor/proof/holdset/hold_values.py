"""What `holdset` works out, as values without numpy: who only holds such a set against a rule need not load it."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.proof.intervals import Intervals


class HoldBasis(StrEnum):
    """How several probes are judged together."""

    COLDEST = "coldest"
    MEAN = "mean"
    EACH = "each"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeSets:
    """What one probe proves by itself: when it is proven, and when it is within the limits."""

    probe: str
    proven: Intervals
    hold: Intervals


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldSet:
    """When a batch is proven, and when it is within the limits.

    Attributes:
        basis: How the probes were judged together.
        proven: Instants at which the temperature is known by that basis.
        hold: Those of them within the limits.
        probes: The same for every probe by itself, in the order given.
    """

    basis: HoldBasis
    proven: Intervals
    hold: Intervals
    probes: tuple[ProbeSets, ...]
