"""Tuning: tries other settings on a record and compares them with a person's labels. Pure; effects in, figures out.

It reads no file and knows no clock. Labels, the record, the workers and every seed are handed in.
"""

from monitor.tuning.calls import Call, Heard, heard
from monitor.tuning.choice import beats, cost, figures, suggested, unbeaten
from monitor.tuning.compare import Fate, Pair, pairs_of
from monitor.tuning.findings import LEAST_TROUBLES, Findings, Kind, Row, Tried, Why, findings_of, with_moves
from monitor.tuning.hints import Hint, Hinted, Kept, hints_of, kept
from monitor.tuning.labels import Ground, Stretch, about, ground_of
from monitor.tuning.phase_dates import SHOWN, BatchDates, one_at_a_time, phase_dates
from monitor.tuning.scoring import WEEK_MS, Judged, Score, Window, judge, score
from monitor.tuning.sweep import sweep
from monitor.tuning.vary import MOST_VARIED, Set, Vary, applied, sets_of, size, today
from monitor.tuning.weeks import parts_of, weeks_of, within
