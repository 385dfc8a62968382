"""Facts that a certificate tells beside the verdict: the batch day by day, and the organisms that its heat kills."""

from monitor.proof.report.day_table import DayRow, by_week_after, day_table
from monitor.proof.report.lethality import Figure, lethality
