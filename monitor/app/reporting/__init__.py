"""The report of a month or a season, of one yard or of many, gathered from the record: in words, as tables and as JSON."""

from monitor.app.reporting.asked_span import asked_span
from monitor.app.reporting.gathering_report import report_of
from monitor.app.reporting.report_csv import report_csv
from monitor.app.reporting.report_json import report_json
from monitor.app.reporting.report_words import heading_of, mass_said, report_lines, report_sections
from monitor.app.reporting.yards_gathered import Days, named, read_yards, report_of_yard
from monitor.app.reporting.yards_table import read_rows, rows_csv, write_rows
from monitor.app.reporting.yards_words import yards_heading, yards_json, yards_sections
