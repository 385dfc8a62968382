"""Hold sets as values: when a batch, and each of its probes, was proven and within the limits."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.proof.intervals import Intervals


class HoldBasis(StrEnum):
    """The ways to judge several probes together."""

    COLDEST = "coldest"
    MEAN = "mean"
    EACH = "each"


@dataclass(frozen=True, slots=True, kw_only=True)
class ProbeSets:
    """The sets of one probe by itself: when it is proven, and when it is within the limits."""

    probe: str
    proven: Intervals
    hold: Intervals


@dataclass(frozen=True, slots=True, kw_only=True)
class HoldSet:
    """The times in which a batch is proven, and in which it is within the limits.

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
