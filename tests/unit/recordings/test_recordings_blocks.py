"""Large files are read block by block: where the cuts fall changes nothing, and neither does the fast way."""

import gzip

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.recordings import read_readings, read_work, reading_tables, text_lines

HEADER = "time,probe,quantity,value,unit,received,quality\n"
CELLS = [
    ["2026-03-01T09:00:00Z", "2026-03-01T09:00:00Z", " 2026-03-01T09:01:00+01:00", "noon", ""],
    ["a", "b", " a ", "", '"a"', '"a,b"', '"a'],
    ["temperature", "temperature", "Moisture", "heat"],
    ["1", "55.0625", " 2 ", "x", ""],
    ["Cel", "Cel", "[degF]", "%", ""],
    ["", "", "2026-03-01T09:00:00Z", "x"],
    ["", "1", "4", "7"],
]
ROWS = st.tuples(*(st.sampled_from(cells) for cells in CELLS)).map(",".join)
LINES = st.one_of(ROWS, ROWS, ROWS, st.sampled_from(["", ",,,,,,", "x", "2026-03-01T09:00:00Z,a,temperature,1,Cel"]))


@given(st.lists(LINES, max_size=12), st.sampled_from(["\n", "\r\n"]), st.sampled_from([1, 7, 60, 1 << 18]))
def test_blocks_and_the_fast_way_change_nothing(tmp_path_factory, rows, end, block):
    path = tmp_path_factory.getbasetemp() / "blocks.csv"
    path.write_bytes((HEADER + "\n".join(rows)).replace("\n", end).encode())
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(text_lines, "_BLOCK", block)
        quick = read_readings(path)
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(reading_tables, "grid", lambda *_: None)
        slow = read_readings(path)
    assert quick[0] == slow[0]
    assert quick[1].sentences() == slow[1].sentences()


@pytest.mark.parametrize("packed", [False, True])
def test_line_numbers_go_on_from_block_to_block(tmp_path, packed):
    row = "2026-03-01T09:00:00Z,a,temperature,1,Cel,,\n"
    content = (HEADER + row * 20_000 + "x\n" + row * 20_000 + '"y\n' + row).encode()
    path = tmp_path / "r.csv"
    path.write_bytes(gzip.compress(content) if packed else content)
    rows, problems = read_readings(path)
    assert len(rows) == 40_001
    assert [problem.line for problem in problems] == [20_002, 40_003]


def test_a_quoted_text_may_lie_across_blocks(tmp_path):
    path = tmp_path / "w.csv"
    row = '2026-03-01T09:00:00Z,p1,note,"one\r\ntwo"\n'
    path.write_bytes(("time,place,kind,note\n" + row * 20_000).encode())
    work, problems = read_work(path)
    assert (len(work), {entry.note for entry in work}, len(problems)) == (20_000, {"one\r\ntwo"}, 0)


def test_lines_after_a_quote_that_never_closes_are_read(tmp_path):
    path = tmp_path / "w.csv"
    row = "2026-03-01T09:00:00Z,p1,note,fine\n"
    path.write_text(
        "time,place,kind,note\n" + row * 3 + '2026-03-01T09:00:00Z,p1,note,"open\n' + row * 100 + "x,p1,note,\n"
    )
    work, problems = read_work(path)
    assert len(work) == 103
    assert [problem.line for problem in problems] == [5, 106]
