"""Hot-compost piles: the batch on each pile, its way through its phases, and its probes' outings at a turning."""

from monitor.piles.air import note_hours
from monitor.piles.batches import Batch, BatchBook, BatchChange, BatchNews, BatchState, Span, probes_left
from monitor.piles.changes import (
    OFF,
    ON,
    TRANSITIONS,
    WALK_ALARMS,
    ChangeKind,
    Reason,
    Signal,
    Transition,
    WalkChange,
)
from monitor.piles.outing import OutingState, Weighed, come_in, go_out, reminder_at, weigh
from monitor.piles.rounds import COLDEST, GONE_MS, HOTTEST, ROUND_LINES, ROUND_MS, RoundPoint, rounds
from monitor.piles.signals import HoldLimits
from monitor.piles.state import WalkState
from monitor.piles.walk import Walk

__all__ = [
    "COLDEST",
    "GONE_MS",
    "HOTTEST",
    "OFF",
    "ON",
    "ROUND_LINES",
    "ROUND_MS",
    "TRANSITIONS",
    "WALK_ALARMS",
    "Batch",
    "BatchBook",
    "BatchChange",
    "BatchNews",
    "BatchState",
    "ChangeKind",
    "HoldLimits",
    "OutingState",
    "Reason",
    "RoundPoint",
    "Signal",
    "Span",
    "Transition",
    "Walk",
    "WalkChange",
    "WalkState",
    "Weighed",
    "come_in",
    "go_out",
    "note_hours",
    "probes_left",
    "reminder_at",
    "rounds",
    "weigh",
]
