"""Calibration, then quality flags: a pure function of the probes' readings in time order."""

from monitor.conditioning.calibration import NEVER, calibrate, comparable, stretch_at
from monitor.conditioning.checks import checks_for, flag_by_hand, possible, temperature_of
from monitor.conditioning.columns import Course, Said, Series, is_fire
from monitor.conditioning.company import Company
from monitor.conditioning.conditioned import Conditioned, UnsettledError
from monitor.conditioning.conditioner import Conditioner, ConditioningState, Still, condition, condition_bare
from monitor.conditioning.flags import GAP_MS
from monitor.conditioning.record import RUN_IN_MS, ProbeRecord
from monitor.conditioning.suspects import calibrated
