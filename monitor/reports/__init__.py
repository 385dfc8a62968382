"""The report of a month or a season: what came in, what became of it, who got it, and on which days nobody looked. Pure."""

from monitor.reports.bin_year import BinYear, DayReach, bin_year
from monitor.reports.heap_course import STEP_MS, HeapCourse, HeatCourse, Step
from monitor.reports.heap_turns import HeapTurn, Turn, heap_turns
from monitor.reports.many_yards import FLAT, Known, Unread, YardRow, Yards, all_yards, flat, row_of, yard_row
from monitor.reports.moved import Watered, water_of
from monitor.reports.report_sections import Section
from monitor.reports.report_spans import Span, beside, last_whole_month, month_named, season_named
from monitor.reports.report_sums import Spread, Sum, sum_of
from monitor.reports.taken_in import TakenIn
from monitor.reports.time_in_alarm import time_in_alarm
from monitor.reports.yard_report import Kept, Report, yard_report
