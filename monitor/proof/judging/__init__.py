"""What came of one part of a rule, by the times in which the batch was proven and within the limits."""

from monitor.proof.judging.judge import judge
from monitor.proof.judging.judged_record import (
    Day,
    DayKind,
    Judged,
    Numbers,
    Record,
    counted_turnings,
    hours,
    with_turnings,
)
from monitor.proof.judging.recovery_share import days_chosen

__all__ = [
    "Day",
    "DayKind",
    "Judged",
    "Numbers",
    "Record",
    "counted_turnings",
    "days_chosen",
    "hours",
    "judge",
    "with_turnings",
]
