"""Hot-compost piles: the batch on each pile, its way through its phases, and its probes' outings at a turning."""

from monitor.piles.air import note_hours
from monitor.piles.batches import Batch, BatchBook, BatchChange, BatchNews, BatchState, probes_left
from monitor.piles.changes import (
    ON,
    TRANSITIONS,
    WALK_ALARMS,
    ChangeKind,
    Reason,
    Signal,
    WalkChange,
)
from monitor.piles.outing import OutingState, come_in, go_out, reminder_at, weigh
from monitor.piles.phases import ready_from
from monitor.piles.rounds import COLDEST, GONE_MS, HOTTEST, ROUND_LINES, ROUND_MS, RoundPoint, rounds
from monitor.piles.signals import HoldLimits
from monitor.piles.state import ProbeLine, Stir, WalkState
from monitor.piles.turn_plan import next_turning
from monitor.piles.undoing import Reversal, forget_batch, reversal_of, take_back
from monitor.piles.walk import Walk
