"""Backups of the record: a changed one is refused, or holds what was entered. The first byte says how an input changes it.

`b`: bytes of the file, in fours: place (three bytes), value. `t`: a value of a table; line 1 its number, line 2 that of the
column, line 3 that of the row, then the value as JSON (a text that begins with `x'` is a blob in hexadecimal).
"""

import json
import shutil
import sqlite3
from contextlib import closing

from monitor.engine import Engine
from monitor.journal import NotSoundError, backup, journal_path, open_reader, open_writer, restore
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from tests.fuzz.contract import Parser, parts, room
from tests.fuzz.parsers.forms import SETTINGS_PLAIN

T0, DAY, MINUTE = 1_784_500_000_000, 86_400_000, 60_000
ALLOWED = (NotSoundError, UnavailableError, MisuseError)


def _content(folder):
    with open_reader(folder) as store, store.view():
        rows = [tuple(one) for one in store.readings(store.probes(), 0, 1 << 60)]
        events = [
            (one.at, one.kind, json.dumps(one.payload, default=str, sort_keys=True)) for one in store.events(-(1 << 62))
        ]
    return rows, events


def _made():
    home = room() / "journal"
    home.mkdir()
    with open_writer(home, Engine, Engine.restore) as writer:
        with writer.turn(T0 - 1) as turn:
            turn.event(EventKind.SETTINGS, {"settings": SETTINGS_PLAIN})
        for day in range(3):
            for minute in range(3):
                at = T0 + day * DAY + minute * 30 * MINUTE
                with writer.turn(at) as turn:
                    turn.readings(
                        [
                            Reading(at - 500, "p1-a", 54_500_000 + minute, "Cel"),
                            Reading(at - 500, "b1-t", 20_000_000, "Cel"),
                        ]
                    )
        with writer.turn(T0 + 2 * DAY + 3 * 60 * MINUTE) as turn:
            turn.event(EventKind.WORK, {"kind": "turned", "place": "p1", "time": T0, "by": "Ann"})
        writer.pack_closed_hours(T0 + DAY, limit_rows=1000)
    backup(home, room() / "copy.sqlite", {"labels.csv": b"labels\n"})
    return (room() / "copy.sqlite").read_bytes(), _content(home)


WHOLE, CONTENT = _made()
with closing(sqlite3.connect(room() / "copy.sqlite")) as _copy:
    TABLES = [
        (name, [row[1] for row in _copy.execute(f"PRAGMA table_info({name})")])
        for (name,) in _copy.execute(
            "SELECT name FROM sqlite_schema WHERE type = 'table' AND name NOT LIKE 'sqlite_%' ORDER BY name"
        )
    ]


def _bytes(changes):
    image = bytearray(WHOLE)
    for at in range(0, len(changes) // 4 * 4, 4):
        image[int.from_bytes(changes[at : at + 3], "little") % len(image)] = changes[at + 3]
    return bytes(image)


def _table(data, path):
    table, column, row, value = parts(data, 4)
    name, columns = TABLES[_number(table) % len(TABLES)]
    told = json.loads(value)
    if isinstance(told, str) and told.startswith("x'"):
        told = bytes.fromhex(told[2:])
    with closing(sqlite3.connect(path, isolation_level=None)) as copy:
        keys = [one[0] for one in copy.execute(f"SELECT {columns[0]} FROM {name}")]
        if keys:
            statement = f"UPDATE {name} SET {columns[_number(column) % len(columns)]} = ? WHERE {columns[0]} = ?"
            copy.execute(statement, (told, keys[_number(row) % len(keys)]))


def _number(text):
    return int(text) if text.isdigit() and len(text) < 9 else 0


def read(data):
    """Put a changed backup back, sound or anyway."""
    path, target = room() / "changed.sqlite", room() / "restored"
    path.write_bytes(_bytes(data[1:]) if data[:1] == b"b" else WHOLE)
    if data[:1] == b"t":
        try:
            _table(data[1:], path)
        except (ValueError, sqlite3.Error, OverflowError, TypeError):
            return
    for anyway in (False, True):
        shutil.rmtree(target, ignore_errors=True)
        target.mkdir()
        try:
            restore(target, path, T0 + 9 * DAY, anyway=anyway)
        except ALLOWED:
            assert not journal_path(target).exists()
            continue
        if not anyway:
            assert _content(target) == CONTENT
            open_writer(target, Engine, Engine.restore).close()
            return


def _at(what, value):
    place = WHOLE.find(what)
    return b"b" + place.to_bytes(3, "little") + bytes([value]) if place >= 0 else b"b"


PARSER = Parser(
    read,
    allowed=ALLOWED,
    seeds=(
        b"b",
        b"b\x00\x00\x00\x00",
        b"b" + (60).to_bytes(3, "little") + b"\x09",
        _at(b"p1-a", 0x71),
        _at(b"turned", 0x00),
        *(
            f"t{table}\n{column}\n0\n0".encode()
            for table, (_, columns) in enumerate(TABLES)
            for column in (0, len(columns) - 1)
        ),
        b't3\n2\n0\n"x"',
        b't4\n2\n1\n"x\'00ff"',
    ),
    words=(b'"x\'789c"', b"null", b"-9223372036854775808", b"9223372036854775807", b'"[]"', b'"{}"', b"1.5", b'"x"'),
    longest=200,
    seconds=20,
)
