"""Readings read as columns are the readings read row by row, in whatever form they stand."""

import gzip
import re

import numpy as np
import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from monitor.model.errors import MisuseError
from monitor.model.flags import Flag
from monitor.model.times import parse_time
from monitor.model.units import Quantity
from monitor.recordings import (
    Problems,
    ReadingRow,
    columns_of,
    joined,
    parse_micro,
    read_readings,
    reading_tables,
    stream_columns,
    text_codes,
    text_lines,
    write_readings,
)
from monitor.recordings.cells import grid, instants, micros
from monitor.recordings.reading_columns import NOT_SAID
from monitor.recordings.sheet_forms import SheetTimes

NINE = parse_time("2026-03-01T09:00:00Z")
plain_times = st.integers(0, 10**12).map(lambda ms: NINE + ms).map(reading_tables.show_time)
ODD_TIMES = [
            "2026-03-01T09:00:00Z", "2024-02-29T23:59:59.999Z", "2023-02-29T00:00:00Z", "2026-12-31T23:59:60Z",
            "2026-12-31T23:59:61Z", "2026-03-01T24:00:00Z", "2026-13-01T09:00:00Z", "0000-00-00T00:00:00Z",
            "0001-01-01T00:00:00.000Z", "9999-12-31T23:59:59.999Z", "2026-03-01t09:00:00z", "2026-03-01 09:00:00Z",
            "2026-03-01T09:00:00.5Z", "2026-03-01T09:00:00.123456Z", " 2026-03-01T09:00:00Z", "2026-03-01T09:00:00Z ",
            "2026-03-01T09:00:00-05:30", "2026-03-01T09:00:00", "2026-03-01T09:00:00,000Z", "2026-03-01T09:0a:00Z",
            "2026-03-01T09:00:00.00aZ", "2026-03-01T09-00:00Z", "2026-03-01T09:60:00Z", "noon", "",
        ]  # fmt: skip
TIMES = st.one_of(
    plain_times,
    plain_times.map(lambda text: text[:19] + "Z"),
    plain_times.map(lambda text: text[:19] + "+00:00"),
    st.sampled_from(ODD_TIMES),
)  # fmt: skip
ODD_NUMBERS = ["1e3", "-.5", "5.", "+7", "-", ".", "+.", "1.2.3", "1,5", " 2 ", "0x1", "nan", "--1", "1/2", "٣", "",
    "1.2345675", "1.2345685", "-1.23456789", "0.0000005", "12345678.123456", "-12345678.123456", "123456789.5", "123456789",
    "12345678", "-1234567", "-12345678", "0.000001", "-0", "00012.500", "999999999999.999999", "1000000000000"]  # fmt: skip
NUMBERS = st.one_of(
    st.integers(-(10**16), 10**16).map(reading_tables.show_micro),
    st.integers(-(10**8), 10**8).map(reading_tables.show_micro),
    st.from_regex(r"[+-]?[0-9]{0,10}(\.[0-9]{0,8})?", fullmatch=True),
    st.sampled_from(ODD_NUMBERS),
)
PROBES = st.one_of(
    st.sampled_from(
        ["a", "b", "p1-core", "a much longer name of a probe", "a much longer name of a trobe", "süß", " a "]
    ),
    st.integers(0, 3).map(lambda n: "x" * (63 + n)),
    st.sampled_from(["", '"a"', '"a,b;c"', '"open', "12345678", "12345678\r", "\u00a0a"]),
)
UNITS = (
    ["temperature", "Cel"],
    ["temperature", "[degF]"],
    ["moisture", "%"],
    ["Moisture", "% "],
    ["heat", "Cel"],
    ["moisture", "K"],
)
odd_rows = st.tuples(
    TIMES, PROBES, st.sampled_from(UNITS), NUMBERS, st.one_of(st.just(""), TIMES),
    st.sampled_from(["", "1", "4", "9", " 3", "7"]),
).map(lambda row: [row[0], row[1], *row[2], row[3], row[4], row[5]])  # fmt: skip
good_rows = st.tuples(
    plain_times,
    st.sampled_from(["a", "b", "p1-core", "a much longer name of a probe"]),
    st.sampled_from(UNITS[:3]),
    st.integers(-(10**9), 10**9).map(reading_tables.show_micro),
    st.one_of(st.just(""), plain_times),
    st.sampled_from(["", "1", "4"]),
).map(lambda row: [row[0], row[1], *row[2], row[3], row[4], row[5]])
files = st.one_of(
    st.lists(good_rows, max_size=12),
    st.lists(st.one_of(good_rows, good_rows, odd_rows), max_size=12),
    st.lists(st.one_of(good_rows, good_rows, good_rows, good_rows, good_rows, good_rows, odd_rows), max_size=12),
)
ORDERS = [[0, 1, 2, 3, 4, 5, 6], [6, 5, 4, 3, 2, 1, 0], [0, 1, 2, 4, 3], [3, 4, 2, 1, 0, 5]]
NAMES = ["time", "probe", "quantity", "unit", "value", "received", "quality"]


@st.composite
def contents(draw):
    """The bytes of a file."""
    order, comma = draw(st.sampled_from(ORDERS)), draw(st.sampled_from(",,,;\t"))
    table = [[NAMES[i] for i in order], *([row[i] for i in order] for row in draw(files))]
    if draw(st.booleans()):
        table = [[*row, "more" if number else "note"] for number, row in enumerate(table[::-1])][::-1]
    told = [comma.join(row) for row in table]
    if draw(st.integers(0, 5)) == 0:
        told.insert(draw(st.integers(0, len(told))), draw(st.sampled_from(["", " ", comma * 6, "x", "\x00", "\r"])))
    end = draw(st.sampled_from(["\n", "\n", "\r\n"]))
    whole = (end.join(told) + draw(st.sampled_from(["", end, end + end]))).encode()
    if draw(st.integers(0, 9)) == 0:
        whole = whole.replace(b"a", b"\xe4", 3)
    if draw(st.booleans()):
        whole = b"\xef\xbb\xbf" + whole
    return gzip.compress(whole, mtime=0) if draw(st.booleans()) else whole


@example(b"time,probe,quantity,unit,value\n2026-03-01T09:00:00,a,temperature,Cel,1\n", 1 << 18)
@given(contents(), st.sampled_from([16, 40, 200, 1 << 18]))
def test_columns_are_the_rows(tmp_path_factory, content, block):
    path = tmp_path_factory.getbasetemp() / "columns.csv"
    path.write_bytes(content)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(text_lines, "_BLOCK", block)
        try:
            quick = read_readings(path)
        except MisuseError as asked:
            # A time without a zone is asked about, by either way in the same words.
            with pytest.raises(MisuseError, match=re.escape(str(asked))):
                joined(stream_columns(path, Problems()))
            patch.setattr(reading_tables, "grid", lambda *_: None)
            with pytest.raises(MisuseError, match=re.escape(str(asked))):
                read_readings(path)
            return
        problems = Problems()
        columns = joined(stream_columns(path, problems))
        patch.setattr(reading_tables, "grid", lambda *_: None)
        slow = read_readings(path)
    assert quick[0] == slow[0] == list(columns.rows())
    assert quick[1].sentences() == slow[1].sentences() == problems.sentences()
    assert [type(one) for row in quick[0] for one in row] == [type(one) for row in slow[0] for one in row]
    assert set(columns.names) == {row.probe for row in slow[0]}
    assert set(columns.units) == {row.unit for row in slow[0]}


@given(st.lists(st.tuples(TIMES, NUMBERS), min_size=1, max_size=9))
def test_each_cell_is_what_its_parser_says(cells):
    cells = [(time.replace(",", "."), number.replace(",", ".")) for time, number in cells]
    raw = "".join(f"{time},{number}\n" for time, number in cells).encode()
    found = grid(raw, ",", 2)
    for column, parser, whole in (
        (0, parse_time, lambda cells: instants(cells, parse_time, day)),
        (1, number_of, lambda cells: micros(cells, number_of)),
    ):
        try:
            expected = [parser(row[column]) for row in cells]
        except ValueError:
            with pytest.raises(ValueError, match=r"."):
                whole(found[column])
            continue
        assert whole(found[column]).tolist() == expected


@pytest.mark.parametrize("beside", [None, "2026-03-01T09:00:00.000Z", "2026-03-01T09:00:00Z"])
@pytest.mark.parametrize("text", ODD_TIMES)
def test_an_odd_time_is_what_the_parser_says(text, beside):
    cells = [text] if beside is None else [beside, text, beside]
    column = grid("".join(f"{cell};\n" for cell in cells).encode(), ";", 2)[0]
    try:
        expected = [parse_time(cell) for cell in cells]
    except ValueError:
        with pytest.raises(ValueError, match=r"."):
            instants(column, parse_time, day)
    else:
        assert instants(column, parse_time, day).tolist() == expected


@pytest.mark.parametrize("text", ODD_NUMBERS)
def test_an_odd_number_is_what_the_parser_says(text):
    cells = ["1.5", text, "-2"]
    column = grid("".join(f"{cell};\n" for cell in cells).encode(), ";", 2)[0]
    try:
        expected = [number_of(cell) for cell in cells]
    except ValueError:
        with pytest.raises(ValueError, match=r"."):
            micros(column, number_of)
    else:
        assert micros(column, number_of).tolist() == expected


PLAIN_TIMES = [
    "2026-03-01T09:00:00Z", "2026-03-01T09:59:59Z", "2026-03-01T09:00:00.000Z", "2024-02-29T23:59:59.999Z",
    "2026-12-31T23:59:60Z", "2026-01-31T00:00:00.007Z",
]  # fmt: skip
PLAIN_NUMBERS = [
    "7", "-7", "+7", "12345678", "-1234567", "1.5", "-.5", "5.", "123456.7", "1234567.123456", "-123456.123456", "00012.5",
    "-12.0625", "0.000001",
]  # fmt: skip


@pytest.mark.parametrize("end", ["\n", "\r\n"])
@pytest.mark.parametrize("place", [0, 1])
def test_cells_in_the_plain_form_need_no_parser(place, end):
    """Most cells of a year are plain; were each handed to a parser, a year would be read in minutes, not seconds."""

    def never(text):
        pytest.fail(f"{text!r} went to the parser")

    for whole, texts, parser in (
        (lambda cells: instants(cells, never, day), PLAIN_TIMES, parse_time),
        (lambda cells: micros(cells, never), PLAIN_NUMBERS, number_of),
    ):
        lines = [(text, "x") if place == 0 else ("x", text) for text in texts]
        column = grid("".join(";".join(cells) + end for cells in lines).encode(), ";", 2)[place]
        assert whole(column).tolist() == [parser(text) for text in texts]
        for text in texts:
            alone = grid((";".join((text, "x") if place == 0 else ("x", text)) + end).encode(), ";", 2)[place]
            assert whole(alone).tolist() == [parser(text)]


@pytest.mark.parametrize("column", ["probe", "colour"])
def test_a_line_that_is_no_text_is_told_even_where_nobody_reads_the_column(tmp_path, column):
    good = b"2026-03-01T09:00:00Z,a,temperature,1,Cel,red\n"
    bad = good.replace(b",a,", b",\xe4,") if column == "probe" else good.replace(b"red", b"r\xf6t")
    path = tmp_path / "r.csv"
    path.write_bytes(b"time,probe,quantity,value,unit,colour\n" + good + bad + good)
    rows, problems = read_readings(path)
    assert len(rows) == 2
    assert [(problem.line, problem.text.split(" is ")[1]) for problem in problems] == [
        (3, "not UTF-8; save the file as CSV in UTF-8")
    ]


def number_of(text):
    return parse_micro(text.strip())


def day(number):
    return parse_time(f"{number // 10_000:04}-{number // 100 % 100:02}-{number % 100:02}T00:00:00Z")


def test_what_we_write_is_read_without_a_look_at_single_rows(tmp_path, monkeypatch):
    rows = [
        ReadingRow(
            NINE + n * 977, f"p{n % 7}-core", Quantity.TEMPERATURE, (n - 50) * 62_500, "Cel",
            NINE + n * 977 + 40, Flag.PASS if n % 3 else None,
        )
        for n in range(20_000)
    ]  # fmt: skip
    path = tmp_path / "r.csv"
    with path.open("w") as out:
        write_readings(rows, out)

    def never(*_):
        raise AssertionError("a row was read by itself")

    monkeypatch.setattr(reading_tables._Reader, "one_by_one", never)
    monkeypatch.setattr(reading_tables, "sheet_micro", never)
    monkeypatch.setattr(SheetTimes, "__call__", never)
    assert read_readings(path)[0] == rows


def test_one_bad_row_costs_its_block_only(tmp_path):
    row = "2026-03-01T09:00:00Z,a,temperature,1,Cel\n"
    path = tmp_path / "r.csv"
    path.write_text("time,probe,quantity,value,unit\n" + row * 20_000 + row.replace("Cel", "%") + row * 20_000)
    problems = Problems()
    parts = list(stream_columns(path, problems))
    assert sum(map(len, parts)) == 40_000
    assert [(problem.line, problem.text.split(";")[0]) for problem in problems] == [
        (20_002, "'%' is not a unit of temperature")
    ]


def test_texts_that_share_a_key_are_told_apart(tmp_path, monkeypatch):
    monkeypatch.setattr(text_codes, "_MIX", np.zeros(8, np.uint64))  # now only the first eight bytes count
    monkeypatch.setattr(text_lines, "_BLOCK", 300)
    names = [*(f"the-heap-{n % 5}" for n in range(50)), *("the-heap" for n in range(50))]
    path = tmp_path / "r.csv"
    path.write_text(
        "time,probe,quantity,value,unit\n"
        + "".join(f"2026-03-01T09:00:00Z,{name},temperature,1,Cel\n" for name in names)
    )
    assert [row.probe for row in read_readings(path)[0]] == names


@pytest.mark.parametrize("length", range(2, 70))
def test_names_of_probes_are_told_apart_by_any_letter(tmp_path, length):
    names = [
        "x" * length,
        *("x" * n + "y" + "x" * (length - n - 1) for n in {0, length // 2, length - 1}),
        "x" * (length - 1),
    ]
    path = tmp_path / "r.csv"
    path.write_text(
        "time,probe,quantity,value,unit\n"
        + "".join(f"2026-03-01T09:00:00Z,{name},temperature,1,Cel\n" for name in names * 2)
    )
    assert [row.probe for row in read_readings(path)[0]] == names * 2


def test_more_probes_than_are_remembered(tmp_path, monkeypatch):
    monkeypatch.setattr(text_codes, "_REMEMBERED", 10)
    monkeypatch.setattr(text_lines, "_BLOCK", 500)
    names = [f"p{n * n % 37}" for n in range(300)]
    path = tmp_path / "r.csv"
    path.write_text(
        "time,probe,quantity,value,unit\n"
        + "".join(f"2026-03-01T09:00:00Z,{name},temperature,1,Cel\n" for name in names)
    )
    assert [row.probe for row in read_readings(path)[0]] == names


def test_files_are_joined_in_their_order():
    first = [
        ReadingRow(NINE, "b", Quantity.MOISTURE, 1, "%"),
        ReadingRow(NINE, "a", Quantity.TEMPERATURE, 2, "K", NINE),
    ]
    second = [ReadingRow(NINE, "a", Quantity.TEMPERATURE, 3, "Cel", None, Flag.FAIL), first[0]]
    whole = joined(map(columns_of, (first, [], second)))
    assert list(whole.rows()) == first + second
    assert (whole.names, whole.units) == (("b", "a"), ("%", "K", "Cel"))
    assert whole.received.tolist() == [NOT_SAID, NINE, NOT_SAID, NOT_SAID]
    assert len(joined([])) == 0
    assert list(joined([]).rows()) == []
