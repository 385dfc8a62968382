"""What a person says of a spreadsheet, by each command that takes one."""

import pytest
from click.testing import CliRunner

from monitor.app.command import heaptender

YARD = """
[site]
time_zone = "America/New_York"
temperature_unit = "degF"
[piles.p1]
[probes.a]
place = "p1"
"""
SHEET = "time,probe,quantity,value,unit\n6/1/2026 9:00,a,temperature,131,F\n6/1/2026 10:00,a,temperature,140,F\n"
COMMANDS = {
    "import": ["import", "r.csv"],
    "replay": ["replay", "r.csv"],
    "tune": ["tune", "r.csv", "--place", "p1", "--sets", "2", "--workers", "1"],
    "certify": ["certify", "--readings", "r.csv", "--pile", "p1", "--rule", "backyard-130f-3d", "--time-zone", "UTC"],
}


@pytest.fixture
def yard(tmp_path, monkeypatch):
    (tmp_path / "heaptender.toml").write_text(YARD)
    (tmp_path / "r.csv").write_text(SHEET)
    monkeypatch.chdir(tmp_path)
    return tmp_path


@pytest.mark.parametrize("command", COMMANDS)
def test_the_answer_that_is_asked_for_is_taken(yard, command):
    """The question and the help said `day-first`; the option took `DAY_FIRST` alone."""
    asked = CliRunner().invoke(heaptender, COMMANDS[command])
    assert "--dates day-first or --dates month-first" in f"{asked.output}{asked.exception}"
    for order in ("day-first", "month-first"):
        taken = CliRunner().invoke(heaptender, [*COMMANDS[command], "--dates", order])
        assert "dates" not in f"{taken.output}{taken.exception}"
        assert "Invalid value" not in taken.output


@pytest.mark.parametrize("command", COMMANDS)
def test_columns_that_are_not_there_are_told_with_the_way_out(yard, command):
    (yard / "r.csv").write_text("time,probe,Temp 1\n2026-06-01T09:00:00Z,a,131\n")
    told = CliRunner().invoke(heaptender, COMMANDS[command])
    assert "--column" in f"{told.output}{told.exception}"
    said = ["--column", "value=Temp 1", "--fill", "quantity=temperature", "--fill", "unit=F"]
    taken = CliRunner().invoke(heaptender, [*COMMANDS[command], *said])
    assert "column" not in f"{taken.output}{taken.exception}"


@pytest.mark.parametrize(
    ("work", "said"),
    [("", "nothing that its probes sent counts yet"), ("turned", "nothing that its probes sent counts yet")],
)
def test_a_probe_whose_readings_were_taken_in_was_heard(yard, work, said):
    """`status` said *never heard* beside *last reading 160 days ago*."""
    (yard / "r.csv").write_text("time,probe,quantity,value,unit\n2026-06-01T09:00:00Z,a,temperature,131,F\n")
    (yard / "w.csv").write_text(
        f"time,place,kind\n2026-06-01T08:00:00Z,p1,built\n2026-06-01T10:00:00Z,p1,{work or 'watered'}\n"
    )
    taken = CliRunner().invoke(heaptender, ["import", "r.csv", "--work", "w.csv"])
    assert taken.exit_code == 0, taken.output
    status = CliRunner().invoke(heaptender, ["status"]).output
    assert "never heard" not in status
    assert said in status


def test_two_files_with_other_names_for_the_same_thing_are_read_together(yard):
    (yard / "r.csv").write_text("When,Date,Temp\n2026-06-01T09:00:00Z,x,131\n2026-06-01T10:00:00Z,x,131\n")
    (yard / "w.csv").write_text("When,Date,Place,kind\nx,2026-06-01T09:30:00Z,p1,turned\n")
    fills = [
        "--fill",
        "probe=a",
        "--fill",
        "quantity=temperature",
        "--fill",
        "readings:unit=F",
        "--column",
        "value=Temp",
    ]
    own = ["--column", "readings:time=When", "--column", "work:time=Date", "--column", "Work:place=Place"]
    ran = CliRunner().invoke(
        heaptender,
        [
            "certify",
            "--readings",
            "r.csv",
            "--work",
            "w.csv",
            "--pile",
            "p1",
            "--rule",
            "us-112-54-turned",
            *own,
            *fills,
        ],
    )
    assert "1 turning counted of 1 logged" in ran.output, ran.output
    taken = CliRunner().invoke(heaptender, ["import", "r.csv", "--work", "w.csv", "--again", *own, *fills])
    assert taken.exit_code == 0, taken.output


@pytest.mark.parametrize(
    ("said", "told"),
    [
        (["time=When", "time=Date"], 'column "time" is named twice (When, Date)'),
        (["sheet:time=When"], '"sheet" is no kind of files'),
        (["work:value=When"], 'files of work have no column "value"'),
        (["readings:time"], "names no pair"),
    ],
)
def test_names_that_cannot_be_meant_are_told(yard, said, told):
    options = [word for one in said for word in ("--column", one)]
    ran = CliRunner().invoke(heaptender, [*COMMANDS["certify"], *options])
    assert told in f"{ran.output}{ran.exception}"
