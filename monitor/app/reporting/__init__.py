"""The report of a month or a season, gathered from the record: in words, as CSV and as JSON."""

from monitor.app.reporting.asked_span import asked_span
from monitor.app.reporting.gathering_report import report_of
from monitor.app.reporting.report_csv import report_csv
from monitor.app.reporting.report_json import report_json
from monitor.app.reporting.report_words import heading_of, mass_said, report_lines, report_sections
