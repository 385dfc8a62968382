"""The writer asks before it believes: on the command line and for files; numbers, the list, undoing and putting right."""

import csv
import io
import json
import threading

import pytest
from click.testing import CliRunner
from typed_command import ENTRIES, call, yard_of

from monitor.app.command import heaptender
from monitor.app.entries.entry_log import entry_log
from monitor.app.loop.asking import ask
from monitor.configuration import load
from monitor.engine import Engine
from monitor.journal import Kept, open_reader, open_writer
from monitor.model.events import EventKind
from monitor.model.times import DAY_MS, HOUR_MS, parse_time, show_time
from monitor.proof.rules import rule_ids

yard = yard_of(ENTRIES)


@pytest.fixture
def configuration(yard):
    return load(yard / "heaptender.toml", {}, rules=rule_ids())


def log(yard, *words, code=0):
    return call(yard, "log", *words, code=code)


def works(yard):
    return [row["kind"] for row in csv.DictReader(io.StringIO(call(yard, "export", "work")))]


def test_a_look_into_a_bin_goes_into_the_record_and_out_again(yard):
    told = log(yard, "inspected", "b1", "--worms", "On the lid", "--smell", "rotten eggs", "--squeeze", "5")
    assert "Written down as 1: Wall bin inspected: worms on the lid, smells of rotten eggs, squeeze 5 (runs)" in told
    assert "heaptender label b1 START END trouble" in told
    assert "Air it first, with your face away from it." in told, "who logs it may stand at the bin"
    (row,) = csv.DictReader(io.StringIO(call(yard, "export", "work")))
    assert (row["kind"], row["worms"], row["smell"], row["squeeze"], row["cocoons"]) == (
        "inspected", "on the lid", "rotten eggs", "5", "",
    )  # fmt: skip
    assert "Alarm b1/worms-unwell: new" in call(yard, "status", code=1)
    (yard / "looks.csv").write_text(
        "time,place,kind,worms,cocoons\n2026-06-01T09:00:00Z,b1,inspected,plenty,yes\n2026-06-02T09:00:00Z,b1,inspected,gone,\n"
    )
    assert 'line 3: "gone" says nothing of worms; it is plenty, few, on the lid or dead' in call(
        yard, "import", yard / "looks.csv"
    )


def test_a_look_that_says_nothing_is_refused(yard):
    assert "What did you see?" in log(yard, "inspected", "b1", code=2)
    assert "says nothing of smell" in log(yard, "inspected", "b1", "--smell", "odd", code=2)
    assert "does not go with" in log(yard, "fed", "b1", "2 kg", "--worms", "plenty", code=2)
    told = log(yard, "inspected", "b1", "--worms", "on", "the", "lid", code=2)
    assert '"the" does not go with "inspected"; put what has spaces in it into quotes' in told
    assert '"fed" is not told in ft; ' in log(yard, "fed", "b1", "20 ft", code=2)


@pytest.mark.parametrize(
    ("words", "question"),
    [
        (["turned", "p2"], "Nothing lies on Bay 2"),
        (["added", "p2", "3", "buckets"], "A heap would begin with it"),
        (["moved", "p2", "--to", "p3"], "Nothing lies on Bay 2"),
        (["built", "p1"], "Bay 1 holds a heap that was built"),
        (["turned", "p1", "--at", "2026-02-19 09:00"], "this is earlier"),
        (["watered", "p1", "40 L", "--at", "2026-02-19 09:00"], "this is earlier"),
        (["note", "p1", "--note", "x", "--at", "2026-03-01"], "days back"),
        (["moved", "p1", "--to", "p1"], "is where it lies already"),
        (["moved", "p1", "--to", "b1"], "is a worm bin, not a place for a heap"),
        (["split", "Bay 1", "--to", "wall bin"], "is a worm bin, not a place for a heap"),
        (["fed", "p1"], '"fed" is work on worm bins'),
        (["turned", "b1"], '"turned" is work on heaps'),
        (["harvested", "p1"], '"harvested" is work on worm bins'),
        (["probe-in", "p1", "--probe", "b1-t"], "b1-t is the last thermometer of Wall bin"),
        (["probe-in", "b1", "--probe", "p1-a"], "p1-a is the last thermometer of Bay 1"),
        (["probe-out", "b1", "--probe", "p1-a"], "p1-a is in Bay 1, not in Wall bin"),
        (["reading", "p1", "131", "--at", "2026-03-01 09:00"], "days back"),
        (["reading", "p3", "131"], "Nothing lies on Bay 3, as far as the record knows. A heap would begin with it."),
        (["covered", "p1", "--what", "manure"], "Covering with manure brings raw material in"),
    ],
)
def test_what_may_be_a_slip_is_asked_about_and_taken_with_again(yard, words, question):
    told = log(yard, *words, code=1)
    assert "Not written down yet." in told
    assert "If that is right, enter it again with --again." in told
    assert question in told
    assert not works(yard)
    assert "Written down as 1:" in log(yard, *words, "--again")


@pytest.mark.parametrize(
    ("kind", "place", "more", "minutes"),
    [
        ("turned", "p1", [], 360), ("built", "p2", [], 360), ("emptied", "b1", [], 360), ("harvested", "b1", [], 360),
        ("fed", "b1", [], 30), ("watered", "p1", [], 30), ("bedded", "b1", [], 30),
    ],
)  # fmt: skip
def test_the_same_again_is_asked_about_within_its_time_and_not_at_its_end(yard, kind, place, more, minutes):
    log(yard, kind, place, *more, "--at", f"{minutes + 30} min ago")
    later = ["--at", "30 min ago"]
    told = log(yard, kind, place, *more, *later, code=1 if kind == "built" else 0)
    assert "already" not in told
    sooner = log(yard, kind, place, *more, "--at", f"{minutes + 1} min ago", code=1)
    assert "already (" in sooner
    assert "once more?" in sooner


def test_what_is_asked_is_told_as_json_too(yard):
    told = log(yard, "turned", "p2", "--json", code=1)
    assert "Nothing lies" in json.loads(next(line for line in told.splitlines() if line.startswith("{")))["question"]


def test_two_requests_at_once_are_not_both_believed(yard, configuration):
    log(yard, "note", "p1", "--note", "begin")
    now = 1_793_000_000_000
    payload = {"time": now, "place": "b1", "kind": "fed"}
    writer = open_writer(configuration.data, Engine, Engine.restore)
    taken = []
    try:
        askers = [
            threading.Thread(target=lambda: taken.append(ask(configuration, EventKind.WORK, payload, lambda: now)))
            for _ in range(4)
        ]
        for one in askers:
            one.start()
        while len(writer.requests.waiting()) < 4:
            pass
    finally:
        writer.close()
    for one in askers:
        one.join(30)
    assert sorted(bool(one.question) for one in taken) == [False, True, True, True]
    assert works(yard).count("fed") == 1


def test_a_turning_that_counts_with_another_says_so(yard):
    log(yard, "turned", "p1", "--at", "5 h ago")
    assert "It counts as one with 1." in log(yard, "turned", "p1", "--again")
    assert "counts as one" not in log(yard, "turned", "p1", "--at", "12 h ago")


def test_entries_have_numbers_and_are_listed(yard):
    log(yard, "turned", "p1", "--by", "Ann", "--at", "26 h ago")
    log(yard, "reading", "b1", "80", "--by", "Bob")
    log(yard, "fed", "Wall bin", "5lb", "--what", "peelings", "--from", "a kitchen")
    told = log(yard, "list")
    assert [line.split()[0] for line in told.splitlines()] == ["1", "2", "3"]
    assert "Bay 1 turned; Ann; entered" in told
    assert "Wall bin 80 °F by hand; Bob" in told
    assert "Wall bin fed 5 lb of peelings from a kitchen" in told
    assert [line.split()[0] for line in log(yard, "list", "b1").splitlines()] == ["2", "3"]
    assert [line.split()[0] for line in log(yard, "list", "--since", "20 h ago").splitlines()] == ["2", "3"]
    log(yard, "undo", "2")
    log(yard, "fed", "b1", "1 lb", "--at", "3 h ago")
    told = log(yard, "list", "--json")
    rows = {row["number"]: row for row in map(json.loads, told.splitlines())}
    assert rows[2]["undone"]
    assert sorted(rows) == [1, 2, 3, 4], "what was taken back keeps its number"


def test_numbers_undo_and_correct_work_for_every_kind(yard):
    log(yard, "moved", "p1", "--to", "p2")
    log(yard, "turned", "p2", "--again")
    assert "entry 2 (Bay 2 turned," in log(yard, "undo", "1", code=2)
    log(yard, "undo", "2")
    log(yard, "undo", "1")
    assert "Nothing lies on Bay 2" in log(yard, "turned", "p2", code=1), "the heap lies in Bay 1 again"
    log(yard, "fed", "b1", "2 lb")
    assert "3 put right: Wall bin fed 3 lb" in log(yard, "correct", "3", "--amount", "3")
    assert "3 put right: Wall bin fed 3 gal" in log(yard, "correct", "3", "--amount", "3 gal")
    assert "is taken back already" in log(yard, "correct", "1", "--by", "Bob", code=2)
    log(yard, "reading", "p1", "113", "degF")
    assert "put right: Bay 1 131 °F by hand" in log(yard, "correct", "4", "131", "degF", "--by", "Ann")
    assert "TAKEN BACK" in log(yard, "list", "p1")
    with open_reader(yard / "data") as store:
        rows = [(one.number, one.undone) for one in entry_log(store) if one.readings]
    assert rows == [(4, True), (5, False)]
    assert "There is no entry 77" in log(yard, "undo", "77", code=2)


def test_a_file_is_asked_about_as_a_whole_and_nothing_is_taken(yard):
    file = yard / "work.csv"
    file.write_text(
        "time,place,kind,amount,measure\n2026-03-01T09:00:00Z,Bay 1,turned,,\n2026-03-01T09:20:00Z,p1,turned,,\n"
        "2026-03-02T09:00:00Z,p2,turned,,\n2026-03-03T09:00:00Z,b1,fed,5,lbs\n2026-03-03T09:10:00Z,b1,fed,5lb,\n"
    )
    told = call(yard, "import", str(file), code=1)
    assert f"{file}, line 3: Bay 1 was turned" in told
    assert f"{file}, line 4: Nothing lies on Bay 2" in told
    assert f"{file}, line 6: Wall bin was fed" in told
    assert "Nothing was taken in: 3 questions" in told
    assert "days back" not in told
    assert not (yard / "data").exists()
    assert "5 pieces of work" in call(yard, "import", str(file), "--again")
    rows = list(csv.DictReader(io.StringIO(call(yard, "export", "work"))))
    assert [row["unit"] for row in rows if row["kind"] == "fed"] == ["lb", "lb"]
    assert {row["place"] for row in rows} == {"p1", "p2", "b1"}
    assert all(row["entered"] for row in rows), "when it was entered is in every export"
    log(yard, "undo", "4")
    assert [
        row["time"] for row in csv.DictReader(io.StringIO(call(yard, "export", "work"))) if row["kind"] == "fed"
    ] == ["2026-03-03T09:10:00.000Z"], "one row of an import can be taken back"


def test_an_unknown_unit_is_refused_with_the_list(yard):
    assert "known are g, kg, t, oz, lb" in log(yard, "fed", "b1", "5", "flurbs", code=2)
    assert "of what? Write the unit too, such as 5 lb" in log(yard, "fed", "b1", "--amount", "5", code=2)
    file = yard / "work.csv"
    file.write_text("time,place,kind,amount,measure\n2026-03-01T09:00:00Z,b1,fed,5,flurbs\n")
    assert "work.csv, line 2" in call(yard, "import", str(file), code=2)


def test_numbers_stay_when_old_days_are_dropped(yard, configuration):
    begin = parse_time("2026-03-01T12:00:00Z")
    for day in range(6):
        payload = {"time": begin + day * DAY_MS, "place": "b1", "kind": "note", "note": f"day {day}"}
        ask(configuration, EventKind.WORK, payload, lambda day=day: begin + day * DAY_MS, again=True)
        rows = {"rows": [[begin + day * DAY_MS, "hand:b1", 25_000_000, "Cel"]], "ahead": []}
        ask(configuration, EventKind.READINGS, rows, lambda day=day: begin + day * DAY_MS + HOUR_MS, again=True)
    with open_reader(configuration.data) as store:
        before = {(one.at, one.place): one.number for one in entry_log(store)}
    writer = open_writer(configuration.data, Engine, Engine.restore)
    pruned = writer.prune(Kept(now=begin + 6 * DAY_MS, days=3))
    writer.close()
    assert pruned.days
    with open_reader(configuration.data) as store:
        after = {(one.at, one.place): one.number for one in entry_log(store)}
    assert len(after) < len(before)
    assert all(before[key] == number for key, number in after.items())
    assert max(after.values()) == 12


def test_replay_and_certify_take_rows_as_they_stand_and_remark_on_them(yard):
    begin = parse_time("2026-03-01T00:00:00Z")
    head = "time,probe,quantity,value,unit\n"
    rows = "".join(f"{show_time(begin + n * HOUR_MS)},p1-a,temperature,60,Cel\n" for n in range(24 * 20))
    (yard / "r.csv").write_text(head + rows)
    (yard / "w.csv").write_text(
        "time,place,kind\n2026-03-01T00:00:00Z,p1,built\n2026-03-04T10:00:00Z,p1,turned\n2026-03-04T10:05:00Z,p1,turned\n"
    )
    said = "was turned 4 Mar 2026 05:00 already. Turnings less than 6 h apart count as one. It is taken as it stands."
    told = call(yard, "replay", str(yard / "r.csv"), "--work", str(yard / "w.csv"))
    assert f"w.csv, line 4: Bay 1 {said}" in told
    run = CliRunner().invoke(
        heaptender,
        ["certify", "--readings", str(yard / "r.csv"), "--work", str(yard / "w.csv"), "--rule", "us-112-54-turned",
         "--pile", "p1", "--json"],
        standalone_mode=False,
    )  # fmt: skip
    assert any("already." in one for one in json.loads(run.output.splitlines()[-1])["remarks"]), run.output


def test_a_reading_that_looks_like_a_slip_ends_with_1_and_is_not_written_down(yard):
    log(yard, "reading", "p3", "145", "--at", "3 h ago", "--again")
    assert "Was 145 °F meant?" in log(yard, "reading", "p3", "14.5", code=1)
    assert "Was 60 °C meant?" in log(yard, "reading", "p3", "60", code=1)
    assert "14.5" not in log(yard, "list", "p3")
    log(yard, "reading", "p3", "14.5", "--again")
    assert "14.5" in log(yard, "list", "p3")


def test_what_is_read_where_a_heap_was_taken_away_is_said_to_be_of_no_heap(yard):
    log(yard, "reading", "p1", "145", "--at", "40 min ago")
    log(yard, "moved", "p1", "--to", "p2", "--at", "20 min ago")
    assert "Last read 145 °F by hand, 40 min ago: of the heap that is gone from here." in call(yard, "status", code=1)
    told = log(yard, "reading", "p1", "120", "--again")
    assert "By the log Bay 1 is empty, so nothing but a fire is told: log the heap there as built." in told


def test_a_harvest_and_its_screening_go_into_the_record_and_out_again(yard):
    told = log(yard, "harvested", "b1", "100 kg", "--moisture", "74", "--at", "3 h ago")
    assert "Wall bin harvested 100 kg, moisture 74 %" in told
    fractions = ("--fines", "30kg", "--middle", "9 kg", "--overs", "8.3 kg")
    told = log(yard, "screened", "b1", "47.3 kg", "--moisture", "45", *fractions)
    assert "Wall bin screened 47.3 kg, moisture 45 %: fines 30 kg, middle 9 kg, overs 8.3 kg" in told
    log(yard, "correct", "2", "--overs", "8.2 kg")
    assert "no moisture; it is percent of the wet mass" in log(
        yard, "harvested", "b1", "9 kg", "--moisture", "740", code=2
    )
    assert '"8" says nothing of overs' in log(yard, "screened", "b1", "--overs", "8", code=2)
    rows = list(csv.DictReader(io.StringIO(call(yard, "export", "work"))))
    told = [(row["moisture"], row["fines"], row["overs"]) for row in rows]
    assert told == [("74", "", ""), ("45", "30 kg", "8.2 kg")]
    wrong = yard / "screened.csv"
    wrong.write_text("time,place,kind,overs\n2026-06-01T09:00:00Z,b1,screened,8\n")
    assert 'screened.csv, line 2: "8" says nothing of overs' in call(yard, "import", wrong, code=2)


def test_a_file_is_not_asked_about_names_that_its_last_day_alone_cannot_tell(yard):
    rows = [("01", "oak leaves"), ("03", "leaves"), ("05", "leaves"), ("05", "oak leaves")]
    file = yard / "work.csv"
    file.write_text(
        "time,place,kind,amount,measure,what\n"
        + "".join(f"2026-03-{day}T09:00:00Z,yard,delivery,{n},lb,{what}\n" for n, (day, what) in enumerate(rows, 1))
        + "2026-03-06T09:00:00Z,b1,bedded,5,lb,p1\n"
    )
    told = call(yard, "import", str(file), code=1)
    assert f'{file}, line 6: "p1" is a place' in told
    assert "1 question" in told
    assert "ever came in" not in told


def test_a_reading_is_withdrawn_only_once_the_right_one_is_sure(yard):
    told = log(yard, "reading", "p1", "131F", "--again")
    number = told.split("Written down as ")[1].split(":")[0]
    asked = log(yard, "correct", number, "--at", "2020-01-01 10:00", code=1)
    assert "Is the day right?" in asked
    assert "TAKEN BACK" not in log(yard, "list"), "the old one stands until that is answered"
    log(yard, "correct", number, "--at", "2020-01-01 10:00", "--again")
    listed = log(yard, "list")
    assert listed.count("131 °F by hand") == 2
    assert listed.count("TAKEN BACK") == 1
