"""The mirror: a copy of readings and effects on any server with the InfluxDB v2 write API."""

from monitor.mirror.check import ExportReader, FluxReader, Unreadable, check, reader_of
from monitor.mirror.cursor_file import CursorFile
from monitor.mirror.line_protocol import codes, effect_line, effect_lines, reading_line
from monitor.mirror.mirror import Mirror
from monitor.mirror.runner import MirrorThread
from monitor.mirror.source import Cursor, Effects, MirroredReading, Readings
from monitor.mirror.write_api import InfluxServer, Trouble, WriteError
