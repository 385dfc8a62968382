"""`report` as a keeper types it: in words, as CSV and as JSON, about one yard."""

import csv
import io
import json

import pytest
from typed_command import ENTRIES, call, yard_of

from monitor.app.reporting import asked_span
from monitor.engine import Engine
from monitor.journal import open_writer
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.times import HOUR_MS, parse_time

YARD = ENTRIES.replace("built = 2026-02-20T09:00:00Z\n", "") + (
    '[containers.bag]\nvolume = "100 L"\n[containers.bucket]\nvolume = "20 L"\ntare = "1 kg"\n'
    'full = { "food scraps" = ["17.6 kg", "17.6 kg", "18.2 kg", "18.8 kg", "18.8 kg"] }\n'
)
METHANE = '[report]\nmethane_factor = 0.04\nmethane_source = "made up for a test"\n'
yard = yard_of(YARD)
bare = yard_of(YARD.replace('[probes.p1-a]\nplace = "p1"\nrole = "core"\n', ""))
metric = yard_of(
    YARD.replace("America/New_York", "Europe/Vienna")
    .replace("degF", "degC")
    .replace("[piles.p1]", METHANE + "[piles.p1]", 1)
)


def story(yard):
    for words in (
        ("delivery", "food scraps", "25 buckets", "--from", "the café", "--at", "2026-10-02 10:00"),
        ("delivery", "Food scraps", "15 buckets", "--from", "The Café", "--at", "2026-10-09 10:00"),
        ("delivery", "leaves", "12 bags", "--from", "the park", "--at", "2026-10-03 10:00"),
        ("delivery", "chips", "1 lb", "--from", "=1+1", "--refused", "glass", "--at", "2026-10-03 11:00"),
        ("built", "p1", "3 bags of leaves and 20 buckets of food scraps", "--at", "2026-10-04 10:00"),
        ("turned", "p1", "--at", "2026-10-07 10:00"),
        ("turned", "p1", "--at", "2026-10-07 11:00"),
        ("incident", "=2 spades are gone", "--at", "2026-10-31 23:30"),
        ("incident", "later", "--at", "2026-11-01 00:30"),
    ):
        call(yard, "log", *words, "--again")


def brought(yard, *, first):
    """Import a heap that was read by hand each day, turned five times and gone by November, its work or its readings first."""
    works = [("01T12", "built"), *((f"{day:02}T16", "turned") for day in (4, 7, 10, 13, 16)), ("28T12", "emptied")]
    rows = [f"2026-10-{day:02}T14:00:00Z,hand:p1,temperature,145,F,,Ann\n" for day in range(1, 27)]
    (yard / "work.csv").write_text(
        "time,place,kind\n" + "".join(f"2026-10-{when}:00:00Z,p1,{what}\n" for when, what in works)
    )
    (yard / "hand.csv").write_text("time,probe,quantity,value,unit,spot,by\n" + "".join(rows))
    for name in first:
        call(yard, "import", yard / name, "--again")


def told(yard, *words):
    return json.loads(call(yard, "report", *words, "--json"))


def test_a_month_in_words_us_units_first(yard):
    story(yard)
    said = call(yard, "report", "--month", "2026-10")
    assert said.startswith("Test yard, October 2026\n")
    assert "the café      food scraps  1517 lb ± 23.7 lb        100 %" in said
    assert "the park      leaves       about 317 lb             0 %" in said
    assert "All together               about 1834 lb ± 23.7 lb  83 %" in said
    assert "Sent back on 3 Oct: chips from =1+1 (glass)." in said
    assert "1 turning (2 entries; those less than 6 hours apart count as one)." in said
    assert "31 Oct  incident  =2 spades are gone" in said
    assert "later" not in said
    assert "methane" not in said.lower()


def test_forty_buckets_of_which_five_were_weighed(yard):
    story(yard)
    (scraps, leaves) = told(yard, "--month", "2026-10")["taken_in"]
    assert (scraps["kg"], round(scraps["standard_error_kg"]), scraps["entries"]) == (688.0, 11, 2)
    assert (scraps["measured_kg"], leaves["measured_kg"], leaves["estimated_kg"]) == (688.0, 0.0, 144.0)


def test_months_are_those_of_the_yard(yard):
    story(yard)
    assert [one["note"] for one in told(yard, "--month", "2026-11")["told"]] == ["later"]
    october = told(yard, "--month", "2026-10")
    # The zone goes back to winter time in November.
    assert (october["from"], october["to"]) == ("2026-10-01T04:00:00.000Z", "2026-11-01T04:00:00.000Z")


def test_a_metric_yard_and_its_own_factor_for_methane(metric):
    story(metric)
    said = call(metric, "report", "--season", "2026")
    assert "the café      food scraps  688 kg ± 10.7 kg" in said
    assert "33.3 kg: 0.04 for each part of what came in, as it lay (made up for a test)." in said
    methane = told(metric, "--season", "2026")["methane"]
    assert methane == {"kg": pytest.approx(33.28), "factor": 0.04, "source": "made up for a test"}


def test_csv_opens_in_a_spreadsheet_and_runs_nothing(yard, tmp_path):
    story(yard)
    out = tmp_path / "october.csv"
    assert "has the report for a spreadsheet" in call(yard, "report", "--month", "2026-10", "--csv", out)
    raw = out.read_bytes()
    assert raw.startswith(b"\xef\xbb\xbf")
    rows = list(csv.DictReader(io.StringIO(raw.decode("utf-8-sig"), newline="")))
    assert not [cell for row in rows for cell in row.values() if cell[:1] in ("=", "+", "@")]
    scraps, leaves = (row for row in rows if row["part"] == "taken in")
    assert (scraps["unit"], float(scraps["amount"]), float(scraps["standard_error"])) == (
        "lb", pytest.approx(688 / 0.45359237, abs=0.01), pytest.approx(10.733 / 0.45359237, abs=0.01),
    )  # fmt: skip
    assert (leaves["measured"], leaves["standard_error"]) == ("0", "")
    (back,) = (row for row in rows if row["part"] == "sent back")
    assert (back["from"], back["note"]) == ("'=1+1", "glass")
    (incident,) = (row for row in rows if row["part"] == "incident")
    assert incident["note"] == "'=2 spades are gone"
    quiet = [row["time"] for row in rows if row["part"] == "day without an entry"]
    (count,) = (row for row in rows if row["part"] == "days without an entry")
    assert (int(count["amount"]), int(count["entries"])) == (len(quiet), 30)
    assert "2026-10-05" in quiet
    assert "2026-10-07" not in quiet


def test_an_empty_month_says_so(yard):
    story(yard)
    said = call(yard, "report", "--month", "2026-08")
    for words in (
        "No delivery is written down.",
        "No turning.",
        "Nothing was given out.",
        "No whole day of the record",
    ):
        assert words in said


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--month", "2026-13"), '--month: "2026-13" is no month; write the year and the month, such as 2026-10'),
        (("--month", "2026-10", "--season", "2026"), "--month and --season are two times; name one of them"),
        (("--to", "2026-10-05"), "--to needs --from"),
        (("--from", "2026-10-05", "--to", "2026-10-04"), "--to (2026-10-04) lies before --from (2026-10-05)"),
        (("--season", "2200"), "2200 is still to come"),
        (("--from", "9998-12-31"), "is still to come"),
        (("--from", "soon"), "--from: 'soon' is no time"),
    ],
)
def test_a_time_that_makes_no_sense_is_refused(yard, words, said):
    call(yard, "log", "seen", "p1")
    assert said in call(yard, "report", *words, code=2)


NOW = parse_time("2026-11-30T20:00:00Z")


def asked(month="", season="", since="", until=""):
    span = asked_span(month, season, since, until, NOW, "America/New_York")
    return span.first.isoformat(), span.last.isoformat()


def test_the_days_asked_for():
    assert asked() == ("2026-10-01", "2026-10-31")
    assert asked(month="2026-11") == ("2026-11-01", "2026-11-30")
    assert asked(since="Nov 3", until="2026-11-09") == ("2026-11-03", "2026-11-09")
    assert asked(since="2026-11-03", until="2026-11-09 14:00") == ("2026-11-03", "2026-11-09"), "the day counts whole"
    assert asked(since="2026-11-03") == ("2026-11-03", "2026-11-30")
    assert asked(since="2026-11-03", until="9998-12-31") == ("2026-11-03", "2026-11-30")
    assert asked(since="0003-01-01", until="1980-01-01") == ("1970-01-01", "1980-01-01")
    with pytest.raises(MisuseError, match="two times"):
        asked(month="2026-10", since="2026-10-01")


@pytest.mark.parametrize("first", [("work.csv", "hand.csv"), ("hand.csv", "work.csv")])
def test_a_heap_that_had_gone_before_its_readings_came_counts_as_its_certificate_says(bare, first):
    brought(bare, first=first)
    (heap,) = told(bare, "--month", "2026-10")["met"]
    judged = json.loads(call(bare, "certify", "--batch", heap["heap"], "--json"))
    assert (judged["verdict"], judged["turnings"]) == ("met", 5)
    assert (heap["place"], heap["time"]) == ("p1", "2026-10-16T16:00:00.000Z")
    assert told(bare, "--month", "2026-11")["met"] == []
    assert f"{heap['heap']}  us-112-54-turned  met" in call(bare, "report", "--season", "2026")


def test_a_heap_that_had_gone_and_whose_readings_prove_nothing_is_not_met(bare):
    brought(bare, first=("work.csv",))
    assert told(bare, "--month", "2026-10")["met"] == []
    (bare / "hand.csv").write_text((bare / "hand.csv").read_text().replace(",145,", ",120,"))
    call(bare, "import", bare / "hand.csv", "--again")
    assert told(bare, "--month", "2026-10")["met"] == []


def test_a_heap_whose_probe_sent_its_readings_after_it_had_gone_counts_as_its_certificate_says(yard):
    brought(yard, first=("work.csv",))
    assert told(yard, "--month", "2026-10")["met"] == []
    first, late = parse_time("2026-10-01T13:00:00Z"), parse_time("2026-11-05T12:00:00Z")
    # Out for a turning it reads the air.
    out = {24 * (day - 1) + hours for day in (4, 7, 10, 13, 16) for hours in (3, 4)}
    rows = [[first + hour * HOUR_MS, "p1-a", (20 if hour in out else 63) * 1_000_000, "Cel"] for hour in range(24 * 26)]
    writer = open_writer(yard / "data", Engine, Engine.restore)
    try:
        with writer.turn(max(late, writer.engine.last + 1)) as turn:
            turn.event(EventKind.READINGS, {"rows": rows, "ahead": []})
    finally:
        writer.close()
    (heap,) = told(yard, "--month", "2026-10")["met"]
    judged = json.loads(call(yard, "certify", "--batch", heap["heap"], "--json"))
    assert judged["verdict"] == "met"
