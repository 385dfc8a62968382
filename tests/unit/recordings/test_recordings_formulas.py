"""No cell that is written out begins a formula, and every text comes back as it was."""

import csv
import io

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.model.units import Quantity
from monitor.model.work import Work, WorkKind
from monitor.recordings import (
    Label,
    LabelKind,
    ReadingRow,
    read_labels,
    read_readings,
    read_work,
    write_labels,
    write_readings,
    write_work,
)
from monitor.recordings.formulas import as_written, defused

T = 1_793_577_600_000
FORMULAS = [
    '=HYPERLINK("http://x","y")',
    "+1+1",
    "-2+3",
    "@SUM(A1)",
    "\t=1",
    "\r=1",
    "＝1",
    "'=1",
    "''",
    "'tis wet",
    "'",
]


@given(st.text())
def test_every_text_comes_back(text):
    assert as_written(defused(text)) == text
    assert defused(text)[:1] not in set("=+-@\t\r\n＝＋－＠")


@pytest.mark.parametrize("cell", ["'hello", "it's", "plain", "", "2026-03-01"])
def test_what_others_wrote_with_an_apostrophe_stays(cell):
    assert as_written(cell) == cell


@pytest.mark.parametrize("text", FORMULAS)
def test_work_and_labels_are_written_without_formulas_and_read_as_they_were(tmp_path, text):
    note = text.replace("\r", "")
    work = Work(time=T, place="b1", kind=WorkKind.NOTE, note=note, by=note, spot=note.strip(), what=note.strip())
    label = Label(place="b1", start=T, end=T + 1000, kind=LabelKind.FINE, note=note)
    for write, read, one in ((write_work, read_work, work), (write_labels, read_labels, label)):
        out = io.StringIO()
        write([one], out)
        for row in csv.reader(io.StringIO(out.getvalue())):
            assert all(cell[:1] not in set("=+-@\t\r\n＝") for cell in row)
        (tmp_path / "f.csv").write_text(out.getvalue(), encoding="utf-8", newline="")
        found, problems = read(tmp_path / "f.csv")
        assert list(problems.sentences()) == []
        assert found == [one]


@pytest.mark.parametrize("rows", [1, 5000])
def test_probes_are_written_without_formulas_and_read_as_they_were(tmp_path, rows):
    made = [
        ReadingRow(T + n * 1000, name, Quantity.TEMPERATURE, -5_000_000 + n, "Cel")
        for n in range(rows)
        for name in ("=cmd", "@x", "'=y", "b1-t")
    ]
    out = io.StringIO()
    write_readings(made, out)
    assert all(cell[:1] not in "=@" for row in csv.reader(io.StringIO(out.getvalue())) for cell in row if cell)
    (tmp_path / "r.csv").write_text(out.getvalue(), encoding="utf-8")
    found, problems = read_readings(tmp_path / "r.csv")
    assert list(problems.sentences()) == []
    assert [(row.time, row.probe, row.micro) for row in found] == [(row.time, row.probe, row.micro) for row in made]
