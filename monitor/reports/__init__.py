"""The report of a month or a season: what came in, what became of it, who got it, and on which days nobody looked. Pure."""

from monitor.reports.heap_turns import HeapTurn, Turn, heap_turns
from monitor.reports.report_sections import Section
from monitor.reports.report_spans import Span, beside, last_whole_month, month_named, season_named
from monitor.reports.report_sums import Spread, Sum
from monitor.reports.taken_in import TakenIn
from monitor.reports.yard_report import Kept, Report, yard_report
