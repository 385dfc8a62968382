"""Recordings: readings, work and labels in CSV or Parquet, events and effects as JSON lines, and a record in memory."""

from monitor.recordings.effect_lines import effect_line, write_effects
from monitor.recordings.event_lines import (
    Checkpoint,
    Mark,
    Seal,
    checkpoint_line,
    event_line,
    mark_line,
    parse_line,
    read_events,
    seal_line,
)
from monitor.recordings.feedstock_table import read_feedstocks
from monitor.recordings.file_problems import Problem, Problems, quoted
from monitor.recordings.formulas import defused
from monitor.recordings.kinds import COLUMNS, Kind
from monitor.recordings.memory import MemoryHistory
from monitor.recordings.parquet_files import (
    PARQUET,
    About,
    is_parquet,
    lacks_parquet,
    write_readings_parquet,
    write_work_parquet,
)
from monitor.recordings.plan import SetAsides, plan_commits, plan_pieces, work_payload
from monitor.recordings.reading_columns import ReadingColumns, ReadingRow, Told, columns_of, joined
from monitor.recordings.reading_tables import lines_of, read_readings, stream_columns, stream_readings, write_readings
from monitor.recordings.sheet_forms import RECORDING, DateOrder, SheetForms
from monitor.recordings.table import header_fields, row_line, sniff
from monitor.recordings.values import parse_micro, show_micro
from monitor.recordings.work_tables import Label, LabelKind, read_labels, read_work, write_labels, write_work
