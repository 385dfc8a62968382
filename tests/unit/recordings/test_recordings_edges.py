"""Edges of a recording's file: how wide, how long, how deep in quotes, which header, which separator, which event."""

import io

import pytest

from monitor.model.events import Event, EventKind
from monitor.model.readings import Reading
from monitor.model.times import parse_time
from monitor.model.work import Work, WorkKind
from monitor.recordings import (
    Checkpoint,
    Kind,
    Mark,
    MemoryHistory,
    Problems,
    Seal,
    SheetForms,
    checkpoint_line,
    event_line,
    mark_line,
    parse_line,
    quoted,
    read_events,
    read_feedstocks,
    read_labels,
    read_readings,
    read_work,
    row_line,
    seal_line,
    sniff,
    write_work,
)

NINE = parse_time("2026-03-01T09:00:00Z")
HEAD = "time,probe,quantity,value,unit"
ROW = "2026-03-01T09:00:00Z,a,temperature,1,Cel"


@pytest.fixture
def put(tmp_path):
    def put(text, name="r.csv"):
        path = tmp_path / name
        path.write_bytes(text if isinstance(text, bytes) else text.encode())
        return path

    return put


def told(path, read=read_readings, **more):
    rows, problems = read(path, **more)
    return len(rows), [(problem.line, problem.text) for problem in problems]


def sniffed(path, forms=None):
    problems = Problems()
    return sniff(path, problems, *([] if forms is None else [forms])), [problem.text for problem in problems]


# Width ------------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("width", "fine"), [(1_000, True), (1_001, False)])
def test_a_header_names_a_thousand_columns_at_most(put, width, fine):
    names = ",".join([HEAD, *(f"c{n}" for n in range(width - 5))])
    path = put(f"{names}\n{ROW}\n")
    kind, problems = sniffed(path)
    assert (kind is Kind.READINGS) is fine
    assert [one for one in problems if f"names {width} columns, and a recording at most 1000" in one] == problems
    assert told(path)[0] == (1 if fine else 0)


@pytest.mark.parametrize("tail", ["", ",", ", ,", ",,,,"])
def test_empty_cells_beyond_the_header_are_no_fault_and_missing_ones_are_empty(put, tail):
    assert told(put(f"{HEAD}\n{ROW}{tail}\n")) == (1, [])
    assert told(put(f"{HEAD},received\n{ROW}\n{ROW},{tail}\n"))[0] == 2


def test_a_row_that_is_too_wide_names_its_probe_and_time(put):
    _, problems = read_readings(put(f"{HEAD}\n{ROW},x\n"))
    (problem,) = problems
    assert (problem.time, problem.probe, problem.of_heat) == (NINE, "a", True)
    assert problem.text == "6 columns, but the header names 5; put a text that holds ',' in quotes"
    assert told(put("time;place;kind\n2026-03-01T09:00:00Z;p1;turned;x\n"), read_work)[1] == [
        (2, "4 columns, but the header names 3; put a text that holds ';' in quotes")
    ]


# Quotes -----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("more", "fine"), [(50, True), (51, False)])
def test_a_quoted_text_may_go_over_fifty_more_lines(put, more, fine):
    note = "\n".join("x" for _ in range(more + 1))
    path = put(f'time,place,kind,note\n2026-03-01T09:00:00Z,p1,note,"{note}"\n2026-03-01T10:00:00Z,p1,turned,\n')
    found, problems = read_work(path)
    assert found[-1].kind is WorkKind.TURNED, "the next row is read in any case"
    if fine:
        assert (found[0].note, problems.sentences()) == (note, [])
    else:
        assert next(iter(problems)).line == 2
        assert "a quote is opened and never closed" in next(iter(problems)).text


def test_a_quote_within_a_text_is_told_with_what_would_be_right(put):
    _, ((line, text),) = told(put(f'{HEAD}\n2026-03-01T09:00:00Z,"a"b",temperature,1,"Cel"x"\n{ROW}\n'))
    assert line == 2
    assert text.startswith("not a CSV row (")
    assert text.endswith('); put the whole text in quotes, "" for a quote')


@pytest.mark.parametrize(
    ("fields", "line"),
    [
        (("a", "b c"), "a,b c\n"),
        (("a,b", "c"), '"a,b",c\n'),
        (("a;b", "c\td"), '"a;b","c\td"\n'),
        (('say "x"', ""), '"say ""x""",\n'),
        (("a\r", "b\n"), '"a\r","b\n"\n'),
    ],
)
def test_only_a_field_that_needs_quotes_has_them(fields, line):
    assert row_line(fields) == line


# Headers and separators -------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("text", "rows"),
    [
        (f"sep=;\n\n{HEAD.replace(',', ';')}\n{ROW.replace(',', ';')}\n", 1),
        (f'"sep=|"\n{HEAD.replace(",", "|")}\n{ROW.replace(",", "|")}\n', 1),
        (f"SEP=,\n{HEAD}\n{ROW}\n", 1),
        (f"sep=:\n{HEAD}\n{ROW}\n", 0),
        (f'{HEAD.replace(",", ";")};"a,b"\n{ROW.replace(",", ";")};x\n', 1),  # a comma in quotes separates nothing
    ],
)
def test_the_separator_is_the_one_that_is_named_or_that_the_header_has(put, text, rows):
    assert told(put(text))[0] == rows


def test_a_file_is_of_the_kind_of_which_its_header_has_most(put):
    cases = {
        "time,place,kind": Kind.WORK,
        "place,start,end,kind": Kind.LABELS,
        HEAD: Kind.READINGS,
        '"Time" , "PROBE",quantity,value,unit': Kind.READINGS,
        f"{HEAD},place,kind": Kind.READINGS,
    }
    for head, kind in cases.items():
        assert sniffed(put(f"\n  \n{head}\n")) == (kind, [])
    kind, (text,) = sniffed(put("time,probe\n"))
    assert kind is None
    assert text.startswith("'time,probe' is no header of a recording; it names columns (readings: ")
    kind, (text,) = sniffed(put("time,probe,quantity\n"))
    assert kind is None
    assert text.startswith("the columns value, unit are missing, for readings; the first line names")
    assert "--column value=THEIRS" in text
    kind, (text,) = sniffed(put("place,start,end\n"))
    assert text == "the column kind is missing, for labels; the first line names place,start,end,kind"


def test_columns_that_a_person_filled_count_for_the_kind_of_a_file(put):
    path = put("When,Heat\n2026-03-01T09:00:00Z,55\n")
    forms = SheetForms(
        columns={"time": "When", "value": "Heat"}, fills={"probe": "dial", "quantity": "temperature", "unit": "C"}
    )
    assert sniffed(path, forms) == (Kind.READINGS, [])
    assert told(path, forms=forms) == (1, [])
    assert sniffed(path)[0] is None


@pytest.mark.parametrize("first", ["2026-03-01T09:00:00Z", "+55", "-3", "7 March"])
def test_a_file_that_begins_with_a_row_is_told_that_names_are_missing(put, first):
    path = put(f"{first},b,c\n")
    assert sniffed(path)[1] == [
        f"the first line is a row, not the names of the columns; write their names in a line above it, such as {HEAD}"
    ]
    assert told(path, read_labels)[1][0][1].endswith("such as place,start,end,kind")
    assert "is no header of a recording" in sniffed(put("+a,-,b\n"))[1][0]


def test_labels_and_work_say_what_their_header_lacks(put):
    assert told(put("place,start,kind\n"), read_labels)[1] == [
        (1, "the header has no column end; a labels file has place,start,end,kind,note")
    ]
    assert told(put("time,place\n"), read_work)[1][0][1].endswith(
        "; this one has 'time,place': say which is which (--column kind=THEIRS), "
        "or what every row holds where it has none (--fill kind=turned)"
    )


# Faults -----------------------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(("length", "shown"), [(40, "x" * 40), (41, "x" * 40 + "...")])
def test_a_field_is_shown_cut_short(length, shown):
    assert quoted("x" * length) == repr(shown)


def test_problems_count_on_beyond_the_thousand_that_are_kept():
    problems = Problems()
    for n in range(1_000):
        problems.add("f", n, "x")
    assert (len(problems), len(problems.sentences())) == (1_000, 1_000)
    problems.add("f", 1_001, "x")
    assert (len(problems), len([*problems])) == (1_001, 1_000)
    assert problems.sentences()[-1] == "1 more problems of this kind were left out"


@pytest.mark.parametrize(
    ("row", "place"),
    [
        ("2026-03-01T09:00:00Z,a,temperature,x,Cel", (NINE, "a", True)),
        ("2026-03-01T09:00:00Z, a ,moisture,x,%", (NINE, "a", False)),
        ("noon,a,heat,x,%", (None, "a", True)),
    ],
)
def test_a_bad_row_keeps_what_can_be_read_of_it(put, row, place):
    (problem,) = read_readings(put(f"{HEAD}\n{row}\n"))[1]
    assert (problem.time, problem.probe, problem.of_heat) == place


# Work -------------------------------------------------------------------------------------------------------------------


def test_every_column_of_work_is_written_and_read(put):
    work = Work(
        time=NINE, place="p1", kind=WorkKind.MERGED, entered=NINE + 1, to="p2", batch="p1-1", probe="a", amount="2",
        measure="m3", by="Ann", note="n", unit="L", source="farm", what="straw", spot="west",
        worms="few", cocoons="none", smell="rotten eggs", squeeze="4",
        moisture="74", fines="30 kg", middle="9 kg", overs="8.3 kg", depth="20 in",
        contact="ann", start="2026-03-01T09:00:00.000Z", end="2026-03-02T09:00:00.000Z",
        risk="wormer,meat", refused="too wet", parts="leaves=3 bag; d14=2 barrow", lot="lot-b1-2026-03-01",
        receiver="a school", price="12 EUR", test="bean test", result="passed",
        day="2026-03-02", high="97 degF", low="21.5 degC", photo="ab" * 32 + "-6",
    )  # fmt: skip
    out = io.StringIO()
    assert write_work([work], out) == 1
    assert out.getvalue().splitlines()[1] == (
        "2026-03-01T09:00:00.000Z,2026-03-01T09:00:00.001Z,p1,p2,p1-1,a,merged,2,m3,Ann,n,L,farm,straw,west,"
        'few,none,rotten eggs,4,74,30 kg,9 kg,8.3 kg,20 in,"wormer,meat",too wet,'
        "ann,2026-03-01T09:00:00.000Z,2026-03-02T09:00:00.000Z,"
        '"leaves=3 bag; d14=2 barrow",lot-b1-2026-03-01,a school,12 EUR,bean test,passed,2026-03-02,97 degF,21.5 degC,'
        + "ab" * 32
        + "-6"
    )
    lines = []
    assert read_work(put(out.getvalue()), lines=lines)[0] == [work]
    assert lines == [2]


@pytest.mark.parametrize("word", ["probe in", "Probe-In", " probe  in ", "PROBE IN"])
def test_a_kind_of_work_is_understood_as_people_write_it(put, word):
    (work,) = read_work(put(f"time,place,kind\n2026-03-01T09:00:00Z,p1,{word}\n"))[0]
    assert work.kind is WorkKind.PROBE_IN


# Events -----------------------------------------------------------------------------------------------------------------


def test_a_seal_stands_at_its_event_and_a_mark_may(put):
    sealed = Event(NINE, EventKind.SEALED, {"from": 1, "to": 2})
    assert parse_line(seal_line(Seal(NINE, "c3Q="))) == Seal(NINE, "c3Q=")
    assert seal_line(Seal(NINE, "c3Q=")) == '{"seal":{"at":"2026-03-01T09:00:00.000Z","state":"c3Q="}}'
    lines = [
        checkpoint_line(Checkpoint(NINE - 1, "ab", "")),
        event_line(sealed),
        seal_line(Seal(NINE, "")),
        mark_line(NINE),
    ]
    record, problems = read_events(put("\n".join(lines)))
    assert problems.sentences() == []
    assert (record.checkpoint, record.seals, record.mark) == (
        Checkpoint(NINE - 1, "ab", ""),
        [Seal(NINE, "")],
        Mark(NINE),
    )


@pytest.mark.parametrize(
    "line",
    [
        '{"at":"2026-03-01T09:00:00Z","kind":"stopped","payload":{},"x":1}',
        '{"mark":"2026-03-01T09:00:00Z","x":1}',
        '{"seal":{"at":"2026-03-01T09:00:00Z","state":""},"x":1}',
        '{"checkpoint":{"at":"2026-03-01T09:00:00Z","head":"","state":""},"x":1}',
        "[]",
        "5",
    ],
)
def test_a_line_with_anything_more_is_no_event(line):
    with pytest.raises(ValueError, match="is no event; write"):
        parse_line(line)


def test_a_line_at_or_before_the_last_one_is_left_out(put):
    stop = [event_line(Event(NINE + n, EventKind.STOPPED, {})) for n in (5, 5, 4, 6)]
    record, problems = read_events(put("\n".join([*stop, mark_line(NINE + 5)])))
    assert [event.at - NINE for event in record.events] == [5, 6]
    assert [problem.line for problem in problems] == [2, 3, 5]
    assert record.mark is None


# The record in memory ---------------------------------------------------------------------------------------------------


def test_other_values_of_an_instant_are_kept_once_and_found_by_time():
    def value(time, micro, probe="a"):
        return Reading(time, probe, micro, "Cel")

    history = MemoryHistory(
        [value(5, 1), value(5, 3), value(5, 2), value(5, 3), value(7, 1), value(7, 2), value(5, 9, "b")]
    )
    history.add(value(5, 8, "b"))
    assert history.further(["a"], 5, 5) == [value(5, 2), value(5, 3)]
    assert history.further(["a", "a", "c"], 6, 7) == [value(7, 2)]
    assert history.further(["b", "a"], 5, 7) == [value(5, 2), value(5, 3), value(5, 8, "b"), value(7, 2)]
    assert history.further(["a"], 8, 9) == []
    assert (history.repeated, len(history.conflicts), len(history)) == (0, 5, 3)
    history.take({"rows": [[9, "a", 1, "Cel"]], "further": [[9, "a", 2, "Cel"]]})
    assert history.further(["a"], 9, 9) == [value(9, 2)]
    assert not history.add(value(9, 1))
    assert history.repeated == 1


@pytest.mark.parametrize("text", ['"a"\rb,time\n', '"' + "x" * 200_000 + '",time\n'])
def test_a_header_whose_quotes_make_no_sense_is_a_problem_and_no_error_of_the_program(tmp_path, text):
    """Found for a law of its fuzzer: the library's own error came through."""
    (tmp_path / "strange.csv").write_text(text, newline="")
    problems = Problems()
    assert sniff(tmp_path / "strange.csv", problems) is None
    assert len(problems) == 1


@pytest.mark.parametrize("text", ['"a"\rb,moisture,nitrogen\n', 'material,moisture,nitrogen,cn\n"a"\rb,40,1,30\n'])
def test_a_row_of_materials_whose_quotes_make_no_sense_is_a_problem(tmp_path, text):
    """Found by fuzzing: the library's own error came through."""
    (tmp_path / "strange.csv").write_text(text, newline="")
    problems = Problems()
    assert read_feedstocks(tmp_path / "strange.csv", problems) == {}
    assert "not a CSV row" in str(next(iter(problems)))
