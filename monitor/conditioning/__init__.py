"""Calibration, then quality flags: a pure function of the probes' readings in time order."""

from monitor.conditioning.calibration import NEVER, Line, Stretch, calibrate, comparable, stretch_at
from monitor.conditioning.checks import Checks, checks_for, flag_by_hand, possible, temperature_of
from monitor.conditioning.company import Company
from monitor.conditioning.conditioner import Conditioner, ConditioningState, Still, condition, condition_bare
from monitor.conditioning.flags import GAP_MS, expire, pending_due, step
from monitor.conditioning.record import HOURS_KEPT, RUN_IN_MS, Pending, ProbeRecord
from monitor.conditioning.suspects import calibrated

__all__ = [
    "GAP_MS",
    "HOURS_KEPT",
    "NEVER",
    "RUN_IN_MS",
    "Checks",
    "Company",
    "Conditioner",
    "ConditioningState",
    "Line",
    "Pending",
    "ProbeRecord",
    "Still",
    "Stretch",
    "calibrate",
    "calibrated",
    "checks_for",
    "comparable",
    "condition",
    "condition_bare",
    "expire",
    "flag_by_hand",
    "pending_due",
    "possible",
    "step",
    "stretch_at",
    "temperature_of",
]
