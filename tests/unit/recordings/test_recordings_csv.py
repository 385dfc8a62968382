"""CSV recordings: tolerant reading, exact errors, round trips, hostile files."""

import gzip
import io
from decimal import ROUND_HALF_EVEN, Decimal

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.flags import Flag
from monitor.model.times import parse_time
from monitor.model.units import UNITS_OF, Quantity
from monitor.model.work import Work, WorkKind
from monitor.recordings import (
    Kind,
    Label,
    LabelKind,
    Problems,
    ReadingRow,
    parse_micro,
    read_labels,
    read_readings,
    read_work,
    show_micro,
    sniff,
    stream_readings,
    write_labels,
    write_readings,
    write_work,
)
from monitor.recordings.values import Times

NINE = parse_time("2026-03-01T09:00:00Z")
QUANTITIES = "these are: temperature, moisture, oxygen, battery, signal"
NO_TIME = " is not a time; write 2026-03-01T09:00:00Z, or date and time as your spreadsheet does"
READINGS_HAVE = "a readings file has time,probe,quantity,value,unit,received,quality,spot,depth,by,with"
HEADER = "time,probe,quantity,value,unit\n"
ROW = "2026-03-01T09:00:00Z,p1-a,temperature,55.0625,Cel\n"
GOOD = ReadingRow(NINE, "p1-a", Quantity.TEMPERATURE, 55_062_500, "Cel")


@pytest.fixture
def put(tmp_path):
    def write(content, name="r.csv"):
        path = tmp_path / name
        path.write_bytes(content if isinstance(content, bytes) else content.encode())
        return path

    return write


def told(path, read=read_readings):
    """Rows, and the problems without the folder."""
    rows, problems = read(path)
    return rows, [sentence.replace(str(path), path.name) for sentence in problems.sentences()]


@pytest.mark.parametrize(
    "content",
    [
        HEADER + ROW,
        (HEADER + ROW).replace("\n", "\r\n"),
        "\ufeff" + HEADER + ROW,
        gzip.compress((HEADER + ROW).encode(), mtime=0),
        HEADER + "\n\n" + ROW + ",,,,\n   \n",
        (HEADER + ROW).rstrip("\n"),
        "unit,value,colour,quantity,probe,time\nCel,55.0625,green,temperature,p1-a,2026-03-01T09:00:00.000Z\n",
        "Time,Probe,Quantity,Value,Unit\n2026-03-01T10:00:00+01:00, p1-a ,Temperature, 5.50625e1 ,Cel\n",
        HEADER.replace(",", ";") + ROW.replace(",", ";"),
        HEADER.replace(",", "\t") + ROW.replace(",", "\t"),
        '"time","probe","quantity","value","unit"\n"2026-03-01T09:00:00Z","p1-a","temperature","55.0625","Cel"\n',
        "time,probe,quantity,value,unit,received,quality\n" + ROW,
    ],
    ids=["plain", "crlf", "bom", "gzip", "blank", "no-end", "order", "case", "semicolon", "tab", "quoted", "short"],
)
def test_tolerates(put, content):
    assert told(put(content)) == ([GOOD], [])


def test_received_and_quality(put):
    path = put("time,probe,quantity,value,unit,received,quality\n" + ROW.strip() + ",2026-03-01T09:00:01.5Z,3\n")
    assert told(path)[0] == [GOOD._replace(received=NINE + 1500, quality=Flag.SUSPECT)]


@pytest.mark.parametrize(
    ("row", "sentence"),
    [
        ("yesterday,a,temperature,1,Cel", "'yesterday'" + NO_TIME),
        (
            "2026-02-30T09:00:00Z,a,temperature,1,Cel",
            "'2026-02-30T09:00:00Z' is not a time: day is out of range for month",
        ),
        ("2026-03-01T09:00:00Z,,temperature,1,Cel", "the probe is empty; it is the probe's id"),
        ("2026-03-01T09:00:00Z,a,heat,1,Cel", "'heat' is not a quantity; " + QUANTITIES),
        (
            "2026-03-01T09:00:00Z,a,temperature,1,%",
            "'%' is not a unit of temperature; these are: Cel, [degF], K, or as people write them (°C, °F)",
        ),
        ("2026-03-01T09:00:00Z,a,temperature,,Cel", "'' is not a number like 55 or 55.0625"),
        ("2026-03-01T09:00:00Z,a,temperature,nan,Cel", "'nan' is not a number like 55 or 55.0625"),
        (
            '2026-03-01T09:00:00Z,a,temperature,"55,500",Cel',
            "'55,500' may be a number with three decimals or thousands; write a point for decimals",
        ),
        ("2026-03-01T09:00:00Z,a,temperature,1e15,Cel", "'1e15' is not within a million million"),
        ("2026-03-01T09:00:00Z,a,temperature,1e999,Cel", "'1e999' is not within a million million"),
        (
            "2026-03-01T09:00:00Z,a,temperature,1,Cel,x",
            "6 columns, but the header names 5; put a text that holds ',' in quotes",
        ),
        ("=cmd(),a,temperature,1,Cel", "'=cmd()'" + NO_TIME),
        (
            '2026-03-01T09:00:00Z,"a,temperature,1,Cel',
            'a quote is opened and never closed; write "" for a quote in a text',
        ),
    ],
)
def test_a_bad_row_is_told_and_stops_nothing(put, row, sentence):
    assert told(put(HEADER + row + "\n" + ROW)) == ([GOOD], [f"r.csv line 2: {sentence}"])


def test_quality_must_be_a_flag(put):
    path = put("time,probe,quantity,value,unit,quality\n" + ROW.strip() + ",7\n")
    assert told(path) == ([], ["r.csv line 2: '7' is not a quality; it is one of 1, 2, 3, 4, 9, or empty"])


def test_strict_raises_the_first_problem(put):
    path = put(HEADER + "x\n" + ROW)
    with pytest.raises(MisuseError, match=r"r\.csv line 2: 'x' is not a time"):
        read_readings(path, strict=True)


@pytest.mark.parametrize(
    ("content", "sentence"),
    [
        (b"", "line 1: the file is empty; its first line names the columns"),
        (b"\n \n", "line 1: the file is empty; its first line names the columns"),
        (
            b"time,probe,value\n",
            "line 1: the header has no column quantity, unit; "
            + READINGS_HAVE
            + "; this one has 'time,probe,value': say which "
            "is which (--column quantity=THEIRS), or what every row holds where it has none (--fill quantity=temperature)",
        ),
        (b"time,probe,quantity,value,unit,time\n", "line 1: the header names column time twice; " + READINGS_HAVE),
        ("time,probe".encode("utf-16"), "line 1: the file is UTF-16; save it as CSV in UTF-8"),
    ],
)
def test_a_file_that_is_no_recording(put, content, sentence):
    assert told(put(content)) == ([], ["r.csv " + sentence])


def test_hostile_lines_are_sentences(put):
    path = put(
        HEADER.encode()
        + b"2026-03-01T09:00:00Z,a\x00,temperature,1,Cel\n"
        + b"2026-03-01T09:00:00Z,caf\xe9,temperature,1,Cel\n"
        + b"2026-03-01T09:00:00Z," + b"x" * (9 << 20) + b",temperature,1,Cel\n"
        + b"2026-03-01T09:00:00Z,a,temperature," + b"9" * 200_000 + b",Cel\n"
        + ROW.encode()
    )  # fmt: skip
    rows, problems = told(path)
    assert rows == [GOOD]
    assert problems == [
        "r.csv line 2: the line holds a NUL byte; a recording is plain text",
        "r.csv line 3: byte 25 is not UTF-8; save the file as CSV in UTF-8",
        "r.csv line 4: the line is longer than 8388608 bytes; a row has a few dozen",
        f"r.csv line 5: '{'9' * 40}...' is not a number like 55 or 55.0625",
    ]


def test_problems_are_bounded(put):
    path = put(HEADER + "x\n" * 2500 + ROW)
    rows, problems = read_readings(path)
    assert (rows, len(problems), len(list(problems))) == ([GOOD], 2500, 1000)
    assert problems.sentences()[-1] == "1500 more problems of this kind were left out"


def test_a_cut_off_gzip_gives_what_came_before(put):
    whole = gzip.compress(
        (HEADER + "".join(ROW.replace("09:00", f"09:{i % 60:02d}") for i in range(20_000))).encode(), 1
    )
    rows, problems = told(put(whole[: len(whole) // 2]))
    assert 0 < len(rows) < 20_000
    assert len(problems) == 1
    assert "gzip file is damaged or cut off here" in problems[0]
    damaged = whole[:200] + bytes(50) + whole[250:]
    assert any("gzip" in sentence for sentence in told(put(damaged))[1])


def test_files_that_cannot_be_read(tmp_path):
    with pytest.raises(MisuseError, match="is not there or no file"):
        read_readings(tmp_path / "none.csv")
    with pytest.raises(MisuseError, match="is not there or no file"):
        read_readings(tmp_path)
    (tmp_path / "loop").symlink_to(tmp_path / "loop")
    with pytest.raises(UnavailableError, match="cannot be read"):
        read_readings(tmp_path / "loop")


@pytest.mark.parametrize(
    ("content", "kind"),
    [
        (HEADER, Kind.READINGS),
        ("kind,place,time\n", Kind.WORK),
        ("place,start,end,kind,note\n", Kind.LABELS),
        ('\n{"mark":"2026-03-01T09:00:00.000Z"}\n', Kind.EVENTS),
        (gzip.compress(HEADER.encode(), mtime=0), Kind.READINGS),
    ],
)
def test_sniff(put, content, kind):
    problems = Problems()
    assert sniff(put(content), problems) == kind
    assert not len(problems)


def test_sniff_says_what_a_recording_is(put):
    problems = Problems()
    assert sniff(put("a,b\n"), problems) is None
    assert "'a,b' is no header of a recording; it names columns (readings: time,probe," in problems.sentences()[0]


@pytest.mark.parametrize(
    ("header", "words"),
    [
        ("time,probe,quantity,value", "the column unit is missing, for readings; the first line names time,probe,"),
        ("place,start,kind,note", "the column end is missing, for labels; the first line names place,start,end,kind"),
        ("time,place,note", "the column kind is missing, for work; the first line names time,place,kind"),
        ("time,value,probe", "the columns quantity, unit are missing, for readings"),
    ],
)
def test_sniff_names_the_columns_that_are_missing(put, header, words):
    problems = Problems()
    assert sniff(put(f"{header}\n"), problems) is None
    assert words in problems.sentences()[0]


def test_work_needs_three_columns_only(put):
    rows, problems = told(put("kind,place,time\nTurned,p1,2026-03-01T09:00:00Z\n"), read_work)
    assert (rows, problems) == ([Work(time=NINE, place="p1", kind=WorkKind.TURNED)], [])


def test_work_with_problems(put):
    rows, problems = told(
        put("time,place,kind,note\n2026-03-01T09:00:00Z,p1,danced,\n2026-03-01T09:00:00Z,,turned,\n,p1,turned,x\n"),
        read_work,
    )
    assert rows == []
    assert problems[0].startswith("r.csv line 2: 'danced' is not a kind of work; these are: built, added, turned, ")
    assert problems[1] == "r.csv line 3: the place is empty; time, place and kind must be filled"
    assert problems[2].startswith("r.csv line 4: '' is not a time; write")


def test_a_note_may_hold_quotes_commas_and_lines(put):
    text = 'time,place,kind,note,by\n2026-03-01T09:00:00Z,p1,turned,"dry, ""dusty""\nwatered after",R\n'
    (work,), problems = told(put(text), read_work)
    assert (work.note, work.by, problems) == ('dry, "dusty"\nwatered after', "R", [])


def test_labels(put):
    text = (
        "place,start,end,kind,note\n"
        "p1,2026-03-01T09:00:00Z,2026-03-01T10:00:00Z,trouble,cold\n"
        "p1,2026-03-01T09:00:00Z,2026-03-01T08:00:00Z,fine,\n"
        "p1,2026-03-01T09:00:00Z,2026-03-01T10:00:00Z,odd,\n"
    )
    labels, problems = told(put(text), read_labels)
    assert labels == [Label(place="p1", start=NINE, end=NINE + 3_600_000, kind=LabelKind.TROUBLE, note="cold")]
    assert problems == [
        "r.csv line 3: the end is before the start; the earlier time goes first",
        "r.csv line 4: 'odd' is not a kind of label; these are: trouble, fine",
    ]


@given(st.decimals(min_value=-(10**11), max_value=10**11, allow_nan=False, allow_infinity=False, places=9))
def test_numbers_are_exact(number):
    expected = int((number * 10**6).to_integral_value(ROUND_HALF_EVEN))
    assert parse_micro(str(number)) == expected
    assert parse_micro(format(number, "f")) == expected
    assert Decimal(show_micro(expected)) == Decimal(expected) / 10**6


@pytest.mark.parametrize(
    ("text", "micro"),
    [
        ("999999999999.999999", 10**18 - 1),
        ("-999999999999.999999", 1 - 10**18),
        ("0.001e14", 10**17),
        ("0e999", 0),
        ("1e-999", 0),
        ("1000000e-12", 1),
        ("0.0000005", 0),
        ("0.0000015", 2),
        ("1000000000000", None),
        ("999999999999.9999995", None),
        ("1e12", None),
        ("1e25", None),
        ("0.1e40", None),
    ],
)
def test_a_number_is_within_a_million_million(text, micro):
    if micro is not None:
        assert parse_micro(text) == micro
    else:
        with pytest.raises(ValueError, match=f"'{text}' is not within a million million"):
            parse_micro(text)


@given(st.text(max_size=30))
def test_numbers_and_times_never_raise_but_value_error(text):
    for parse in (parse_micro, Times()):
        try:
            parse(text)
        except ValueError as fault:
            assert str(fault).isprintable()  # noqa: PT017


@given(st.datetimes(), st.sampled_from(["Z", "+02:00", "-11:30", ".25Z", ".123456Z"]))
def test_remembered_times_equal_parsed_ones(moment, zone):
    text = moment.replace(microsecond=0).isoformat().zfill(19) + zone
    times = Times()
    assert times(text) == times(text) == parse_time(text)


ids = st.text(st.characters(exclude_categories=["Cs", "Cc"]), min_size=1, max_size=12).filter(lambda t: t == t.strip())
texts = st.text(st.characters(exclude_categories=["Cs"], exclude_characters="\x00"), max_size=20)
instants = st.integers(parse_time("0002-01-01T00:00:00Z"), parse_time("9998-01-01T00:00:00Z"))
rows_of = st.sampled_from([(q, u) for q in Quantity for u in UNITS_OF[q]]).flatmap(
    lambda what: st.builds(
        ReadingRow, instants, ids, st.just(what[0]), st.integers(-(10**18) + 1, 10**18 - 1), st.just(what[1]),
        st.none() | instants, st.none() | st.sampled_from(Flag), st.none(),
    )
)  # fmt: skip
works = st.builds(
    Work, time=instants, place=ids, kind=st.sampled_from(WorkKind), entered=st.none() | instants,
    to=st.just("") | ids, batch=st.just("") | ids, probe=st.just("") | ids, amount=st.just("") | ids,
    measure=st.just("") | ids, by=texts, note=texts,
)  # fmt: skip
labels_of = st.builds(
    lambda place, times, kind, note: Label(place=place, start=min(times), end=max(times), kind=kind, note=note),
    ids, st.tuples(instants, instants), st.sampled_from(LabelKind), texts,
)  # fmt: skip


@pytest.mark.parametrize("packed", [False, True])
@pytest.mark.parametrize(
    ("strategy", "write", "read"),
    [(rows_of, write_readings, read_readings), (works, write_work, read_work), (labels_of, write_labels, read_labels)],
    ids=["readings", "work", "labels"],
)
def test_round_trip(tmp_path_factory, strategy, write, read, packed):
    path = tmp_path_factory.mktemp("round") / "r.csv"

    @given(st.lists(strategy, max_size=4))
    @settings(max_examples=25 if packed else 60)
    def check(rows):
        out = io.StringIO()
        assert write(rows, out) == len(rows)
        content = out.getvalue().encode()
        path.write_bytes(gzip.compress(content, mtime=0) if packed else content)
        back, problems = read(path)
        assert problems.sentences() == []
        assert back == rows

    check()


@given(st.binary(max_size=300) | st.binary(max_size=200).map(lambda tail: HEADER.encode() + tail))
def test_any_bytes_give_rows_and_sentences(tmp_path_factory, content):
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_bytes(content)
    for read in (read_readings, read_work, read_labels):
        _, problems = read(path)
        assert all(sentence.isprintable() for sentence in problems.sentences())
    sniff(path, Problems())


def test_formulas_are_data(put):
    work = Work(time=NINE, place="p1", kind=WorkKind.NOTE, by="+1", note="=HYPERLINK(A1)")
    out = io.StringIO()
    write_work([work], out)
    assert told(put(out.getvalue()), read_work) == ([work], [])
    odd = Work(time=NINE, place="p1", kind=WorkKind.NOTE, note="a\x00b\ud800c")
    out = io.StringIO()
    write_work([odd], out)
    assert out.getvalue().encode().endswith(f",a\ufffdb\ufffdc{',' * 28}\n".encode())


def test_each_empty_file_is_told(tmp_path):
    problems = Problems()
    for name in ("a.csv", "b.csv"):
        (tmp_path / name).write_text("")
        assert list(stream_readings(tmp_path / name, problems)) == []
    assert len(problems) == 2
