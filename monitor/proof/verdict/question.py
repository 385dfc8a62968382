"""The question that a batch's record is asked."""

from collections.abc import Sequence
from dataclasses import dataclass

from monitor.proof.holdset import HoldBasis
from monitor.proof.rules import Rule
from monitor.proof.verdict.other_conditions import Evidence


@dataclass(frozen=True, slots=True, kw_only=True)
class Question:
    """Whether a batch met a rule, and by what the answer goes; instants are UTC ms.

    Attributes:
        rule: The rule.
        max_gap_ms: Longest distance between two readings of a probe across which a line is drawn, ms.
        basis: How the probes are judged together.
        guard_milli_k: Guard band by which every limit is drawn in, thousandths of a kelvin.
        smoothing_ms: Length of the running mean (`temperature.smoothing`), ms; 0 for none.
        start: Where the record begins, nothing before it is looked at; None: the earliest first reading of any probe.
        end: Where it ends; None: the latest last reading of any probe.
        as_of: The instant that the verdict is of, where that is later than the end: material that came in after the last
            reading counts too.
        turnings: Every logged entry of a turning, in any order; which of them are one turning is found out here.
        restarts: When it was built and when material was added; before the last of them nothing counts.
        evidence: What is known of the rule's other conditions, or None where they are not to be examined.
    """

    rule: Rule
    max_gap_ms: int
    basis: HoldBasis = HoldBasis.COLDEST
    guard_milli_k: int = 0
    smoothing_ms: int = 0
    start: int | None = None
    end: int | None = None
    as_of: int | None = None
    turnings: Sequence[int] = ()
    restarts: Sequence[int] = ()
    evidence: Evidence | None = None
