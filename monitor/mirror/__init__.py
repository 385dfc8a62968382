"""The mirror: a copy of readings and effects on any server with the InfluxDB v2 write API."""

from monitor.mirror.check import Checked, ExportReader, FluxReader, Reader, Unreadable, check, reader_of
from monitor.mirror.cursor_file import CursorFile
from monitor.mirror.line_protocol import codes, effect_line, effect_lines, reading_line
from monitor.mirror.mirror import Mirror, Tally
from monitor.mirror.runner import MirrorThread
from monitor.mirror.source import Cursor, CursorStore, Effects, MirroredReading, MirrorSource, Readings
from monitor.mirror.write_api import InfluxServer, Server, Trouble, WriteError

__all__ = [
    "Checked",
    "Cursor",
    "CursorFile",
    "CursorStore",
    "Effects",
    "ExportReader",
    "FluxReader",
    "InfluxServer",
    "Mirror",
    "MirrorSource",
    "MirrorThread",
    "MirroredReading",
    "Reader",
    "Readings",
    "Server",
    "Tally",
    "Trouble",
    "Unreadable",
    "WriteError",
    "check",
    "codes",
    "effect_line",
    "effect_lines",
    "reader_of",
    "reading_line",
]
