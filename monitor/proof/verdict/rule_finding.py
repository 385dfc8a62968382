"""The verdict of `evaluate`, as plain values."""

from dataclasses import dataclass
from enum import StrEnum

from monitor.proof.intervals import Intervals
from monitor.proof.judging import Day
from monitor.proof.verdict.other_conditions import Examined


class Outcome(StrEnum):
    """Verdict on time and temperature; stored and shown, so never renamed."""

    MET = "met"
    NOT_PROVEN = "not proven"
    NOT_MET = "not met"


@dataclass(frozen=True, slots=True, kw_only=True)
class PartFinding:
    """The finding on one part of an alternative.

    Attributes:
        kind: Name of its kind (`kinds`), such as `Run`.
        needs: What it asks for, in words.
        outcome, met_at: As for the whole.
        reason: A sentence.
        values: Its plain numbers.
    """

    kind: str
    needs: str
    outcome: Outcome
    met_at: int | None
    reason: str
    values: dict[str, int | float]


@dataclass(frozen=True, slots=True, kw_only=True)
class Finding:
    """The finding on a batch under a rule.

    Attributes:
        outcome: The verdict.
        met_at: The exact instant at which time and temperature were met, UTC ms, or None.
        alternative: Place of the alternative that this finding tells of.
        start, end: Ends of the record that was judged, UTC ms, as they were given.
        counts_from: Instant from which on it counts (material last came in), else `start`.
        hold, proven: The sets that were judged (at the alternative's own limits), from `counts_from` to `end`.
        total_ms, longest_run, unproven_ms: Sums over them; `unproven_ms` counts from `start` to `end`.
        turnings: Turnings that count, of the part that wants the most.
        turnings_logged: Entries of turnings up to the end of the record, however many of them are one.
        values: Plain numbers, those of `RuleProgress.values`.
        reasons: Sentences, one a part; and one more where failed duties changed the verdict.
        unbroken: The strict reading (days as one unbroken run) where the rule counts days, else None.
        unbroken_reasons: Its sentences.
        scattered: Where days must follow one another because the rule's text does not say that they need not: what it would
            be if they need not; else None.
        scattered_reasons: Its sentences.
        days: The days of the first part that counts any, in order.
        falls: (logged, begun) of turnings before whose entry the probes had felt the air already.
        probe: On basis *each*, the probe that this finding tells of.
        parts: What came of each part of the alternative.
        conditions: What came of the rule's other conditions, where evidence was given.
    """

    outcome: Outcome
    met_at: int | None
    alternative: int
    start: int
    end: int
    counts_from: int
    hold: Intervals
    proven: Intervals
    total_ms: int
    longest_run: tuple[int, int] | None
    unproven_ms: int
    turnings: int
    turnings_logged: int
    values: dict[str, int | float]
    reasons: tuple[str, ...]
    unbroken: Outcome | None = None
    unbroken_reasons: tuple[str, ...] = ()
    scattered: Outcome | None = None
    scattered_reasons: tuple[str, ...] = ()
    days: tuple[Day, ...] = ()
    falls: tuple[tuple[int, int], ...] = ()
    probe: str = ""
    parts: tuple[PartFinding, ...] = ()
    conditions: tuple[Examined, ...] = ()
