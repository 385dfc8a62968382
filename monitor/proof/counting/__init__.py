"""The counting of turnings and days, shared by the judging of a whole record and the following of a batch."""

from monitor.proof.counting.counted import DayKind, Numbers, counted_turnings, hours, with_turnings
from monitor.proof.counting.recovery_share import days_chosen
