"""Sheets that people fill in: a round's CSV, a table of materials, a file of forecasts; the first byte says which."""

from datetime import date

from monitor.app.console.time_words import parse_when
from monitor.app.entries.round_file import read_sheet, sheet_id
from monitor.app.evening.forecast_file import read_forecast_file
from monitor.model.errors import MisuseError
from monitor.model.event_shapes import wrong_request
from monitor.model.events import EventKind
from monitor.model.round_sheet import Answer, SheetMaker, put_sheet
from monitor.recordings import Problems, read_feedstocks
from tests.fuzz.contract import Parser, file_of
from tests.fuzz.parsers.forms import NOW, SETTINGS


def _round(path):
    lines, unclear = read_sheet(
        path, SETTINGS, lambda text: parse_when(text, NOW, "America/New_York", "time"), (NOW, "Ann"), again=False
    )

    def put(entry):
        assert wrong_request(entry.kind, entry.payload) == "", entry
        return Answer(question="really?" if len(entry.lines) > 1 else "")

    outcome = put_sheet(SheetMaker(settings=SETTINGS, told={}, withdrawn=lambda *_: (), entry_id=sheet_id), lines, put)
    assert all(one.why for one in (*outcome.waiting, *unclear))


def _materials(path):
    assert all(read_feedstocks(path, Problems(), []))


def _forecasts(path):
    found = read_forecast_file(path, SETTINGS, date(2026, 7, 20), NOW)
    for entry in found.entries:
        assert wrong_request(EventKind.WORK, entry) == "", entry


READ = {b"r": _round, b"m": _materials, b"f": _forecasts}


def read(data):
    """Read the sheet that an input is."""
    if data[:1] in READ:
        READ[data[:1]](file_of(data[1:], "sheet.csv"))


PARSER = Parser(
    read,
    allowed=(MisuseError,),
    seeds=(
        b"rtime,place,spot,value,squeeze,smell,by\n9:30am,p2,west,131,,,Ann\n,p2,middle,55 C,,,\n14:05,b1,,70F,4,earthy,Bo\n",
        b"rplace;value;time\np1;131,5;yesterday 18:00\np2;;\n",
        b"mmaterial,moisture,nitrogen,cn,density,woody,source\nleaves,40,0.9,54,120,,\nchips,30,0.1,400,250,yes,x\n",
        b"mmaterial,moisture,moisture_low,moisture_high,carbon,nitrogen,ash\nlitter,70,60,75,40,1.5,10\n",
        b"fday,high,low,unit\n2026-07-21,97,71,degF\n2026-07-22,35,,degC\n",
        b'f[{"day":"2026-07-21","high":97,"low":"71"},{"day":"2026-07-22","high":36.5,"unit":"degC"}]',
    ),
    words=(
        b"time,",
        b"place,",
        b"spot,",
        b"value",
        b"squeeze",
        b"smell",
        b"p2",
        b"west",
        b'"',
        b"\r",
        b"\x00",
        b"carbon",
        b"_low",
        b"_high",
        b"yes",
        b"nan",
        b"inf",
        b"1e400",
        b"-0",
        b"2026-07-21",
        b"degC",
        b"[{",
        b"null",
    ),
)
