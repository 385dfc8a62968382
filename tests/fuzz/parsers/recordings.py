"""CSV files of readings, work and labels, plain or gzip: what is read is written, and reads the same again."""

import io

from monitor.model.errors import MisuseError
from monitor.model.work_entry import figures_understood
from monitor.recordings import (
    Kind,
    Problems,
    SheetForms,
    read_labels,
    read_readings,
    read_work,
    sniff,
    write_labels,
    write_readings,
    write_work,
)
from tests.fuzz.contract import Parser, file_of
from tests.fuzz.parsers.forms import SETTINGS

FORMS = SheetForms(time_zone="America/New_York")
READ = {Kind.READINGS: read_readings, Kind.WORK: read_work, Kind.LABELS: read_labels}


def _written(kind, rows):
    out = io.StringIO()
    if kind is Kind.READINGS:
        write_readings(rows, out, by_hand=True)
    else:
        (write_work if kind is Kind.WORK else write_labels)(rows, out)
    return out.getvalue().encode()


def read(data):
    """Tell a file's kind, read it, and read what is written of it."""
    path = file_of(data, "recording.csv")
    kind = sniff(path, Problems(), FORMS)
    if kind not in READ:
        return
    rows, problems = READ[kind](path, forms=FORMS)
    assert all(one.isprintable() or "\n" in one for one in problems.sentences()), problems.sentences()
    if kind is Kind.WORK:
        for row in rows:
            try:
                figures_understood(SETTINGS, row)
            except ValueError:
                continue
    text = _written(kind, rows)
    again, wrong = READ[kind](file_of(text, "again.csv"))
    assert wrong.sentences() == [], (text, wrong.sentences())
    # What a row lacks to stand in CSV (a NUL, half a pair) was replaced the first time, so the second writing changes nothing.
    assert len(again) == len(rows), text
    assert _written(kind, again) == text, (text, _written(kind, again))


PARSER = Parser(
    read,
    allowed=(MisuseError,),
    seeds=(
        b"time,probe,quantity,value,unit\n2026-07-19T12:00:00Z,p1-a,temperature,54.5,Cel\n2026-07-19T12:01:00Z,p1-a,temperature,54.6,Cel\n",
        b"sep=;\ntime;probe;quantity;value;unit;received;quality;spot;depth;by;with\n19.7.2026 14:05;hand:p1;temperature;54,5;F;;1;west;60 cm;Ann;d1\n",
        b'time,place,kind,amount,measure,by,note\n2026-07-19 9am,p1,turned,,,Ann,"two\nlines"\n2026-07-19T12:00:00Z,b1,fed,2,kg,,=1+1\n',
        b"place,start,end,kind,note\np1,2026-07-19T12:00:00Z,2026-07-20T12:00:00Z,trouble,'x\np1,1/2/2026,13/2/2026,fine,\n",
        b'\xef\xbb\xbf"time","probe"\ttime\tprobe\tquantity\tvalue\tunit\n46000.5\tp\tmoisture\t55\t%\n',
        b'"a"\rb,time\n1,2\n',
    ),
    words=(
        b"time,",
        b"probe,",
        b"quantity",
        b"value",
        b"unit",
        b"received",
        b"quality",
        b"spot",
        b"place,",
        b"kind",
        b"start",
        b"end",
        b"note",
        b"temperature",
        b"moisture",
        b"2026-07-19T12:00:00Z",
        b"19/7/2026 14:05",
        b"turned",
        b"built",
        b"trouble",
        b"fine",
        b"sep=;\n",
        b'"',
        b"\r",
        b"\r\n",
        b"'=",
        b"\xc2\xb0F",
        b"46000,5",
        b"photo",
        b"parts",
        b"2 kg leaves",
        b"screened",
        b"overs",
    ),
)
