"""`diary`: everything that falls due by the record, in words and as JSON."""

import json
from datetime import UTC, datetime, timedelta

import pytest
from typed_command import call, yard_of

from monitor.model.times import parse_time

TEXT = """
[site]
name = "Test yard"
time_zone = "America/New_York"
temperature_unit = "degF"
data = "data"
[piles.p1]
name = "Bay 1"
rule = "us-112-54-turned"
[piles.p2]
name = "Bay 2"
[bins.b1]
name = "Wall bin"
surface = "32 ft2"
worms = "32 lb"
begun = 2026-01-01
[thermometers.dial]
name = "the red dial"
checked = CHECKED
[probes.amb]
place = "ambient"
"""
LONG_AGO = (datetime.now(UTC) - timedelta(days=200)).date()
yard = yard_of(TEXT.replace("CHECKED", LONG_AGO.isoformat()))


def listed(yard, *words):
    return json.loads(call(yard, "diary", *words, "--json"))


def one(found, place, what):
    (only,) = [row for row in found if (row["place"], row["what"]) == (place, what)]
    return only


def heap_by_hand(yard):
    call(yard, "log", "built", "p1", "--at", "5 days ago")
    for hours in (119, 95, 71, 47, 23):
        call(yard, "log", "reading", "p1", "145", "--at", f"{hours} h ago", "--with", "dial")


def test_an_empty_yard_has_nothing_to_do(yard):
    call(yard, "log", "note", "p1", "--note", "swept")
    told = call(yard, "diary", "p1")
    assert told.startswith("Test yard: nothing falls due before ")
    assert "The daemon does not run; this is how things stood" in told


def test_a_heap_read_by_hand(yard):
    heap_by_hand(yard)
    found = listed(yard, "--days", "30")
    assert list(found[0]) == ["due", "place", "what", "why", "slack_s", "expected", "id"]
    assert [row["due"] for row in found] == sorted(row["due"] for row in found)
    read = one(found, "p1", "read")
    assert read["slack_s"] == 7200
    assert abs(parse_time(read["due"]) / 1000 - datetime.now(UTC).timestamp() - 3600) < 300
    turn = one(found, "p1", "turn")
    assert turn["why"] == "its rule wants more: 5 turnings are left, and 11 days"
    # Three days after it came to temperature: two days late by now. The last of five must leave a day before the end.
    assert turn["slack_s"] == pytest.approx((10 - 4) * 86_400, abs=300)
    assert one(found, "p1", "expect")["why"].startswith("its rule is met then if all goes well (4 of 15 days, 0 of 5")
    told = call(yard, "diary", "--days", "30")
    assert told.startswith("Today, ")
    assert (
        "  now  Bay 1: turn it, due 1 day ago, 6 days of slack left. Its rule wants more: 5 turnings are left" in told
    )
    assert ": read it by hand, 2 h of slack. Rounds by hand prove its rule; without one their chain breaks" in told
    assert "Bay 1: its rule is met then if all goes well" in told


def test_a_place_is_asked_for_by_id_or_name_and_days_bound_it(yard):
    heap_by_hand(yard)
    call(yard, "log", "built", "p2")
    assert {row["place"] for row in listed(yard, "Bay 1")} == {"p1"}
    assert {row["place"] for row in listed(yard)} == {"p1", "p2", "yard"}
    assert {row["place"] for row in listed(yard, "yard")} == {"yard"}
    assert not [row for row in listed(yard, "--days", "3") if row["what"] == "expect"]


def test_thermometers_are_checked_after_half_a_year(yard):
    heap_by_hand(yard)
    call(yard, "log", "reading", "p1", "150", "--with", "old stick")
    rows = [row for row in listed(yard) if row["what"] == "calibrate"]
    known, unknown = sorted(rows, key=lambda row: row["id"])
    assert known["why"].startswith("thermometer the red dial was last checked ")
    assert known["slack_s"] < -10 * 86_400
    assert unknown["why"].startswith("thermometer old stick: no check is written down")


def test_a_bed_is_fed_by_its_plan(yard):
    call(yard, "log", "reading", "b1", "70")
    call(yard, "log", "fed", "b1", "16 lb", "--at", "2 days ago")
    feed = one(listed(yard), "b1", "feed")
    assert feed["why"] == "16 lb, one of 2 parts of a week's food; feed only if the last is nearly gone"
    assert abs(parse_time(feed["due"]) / 1000 - datetime.now(UTC).timestamp() - 86_400) < 300
    call(yard, "log", "inspected", "b1", "--smell", "sour")
    assert not [row for row in listed(yard) if row["what"] == "feed"]


def test_a_deep_bed_is_harvested_and_a_sunken_one_gets_a_lift(yard):
    text = (yard / "heaptender.toml").read_text()
    (yard / "heaptender.toml").write_text(
        text.replace('worms = "32 lb"', 'worms = "32 lb"\nkind = "flow"\nrim = "36 in"')
    )
    call(yard, "log", "inspected", "b1", "--depth", "17 in", "--at", "3 days ago")
    found = listed(yard)
    harvest, lift = one(found, "b1", "harvest"), one(found, "b1", "lift")
    assert harvest["why"] == "it is 17 in deep by the record: take 1 in to 2 in from below"
    assert lift["why"] == "it is 17 in deep by the record: a lift of 6 in of bedding"
    for thing in (harvest, lift):
        assert thing["slack_s"] == pytest.approx(11 * 86_400, abs=300)
    assert one(listed(yard), "b1", "lift")["id"] == lift["id"]
    call(yard, "log", "harvested", "b1", "60 lb", "--depth", "2 in")
    assert not [row for row in listed(yard) if row["what"] == "harvest"], "15 in are left"


def test_fines_that_have_rested_are_screened_again(yard):
    call(yard, "log", "harvested", "b1", "100 lb", "--at", "36 days ago", "--again")
    assert not [row for row in listed(yard) if row["what"] == "screen"]
    call(yard, "log", "screened", "b1", "--fines", "30 lb", "--at", "29 days ago", "--again")
    screen = one(listed(yard), "b1", "screen")
    assert (
        screen["why"] == "fines h1/fines have rested; only then, and screened again, may they be called free of cocoons"
    )
    assert screen["slack_s"] == pytest.approx(41 * 86_400, abs=300)
    call(yard, "log", "screened", "b1", "29 lb", "--what", "h1/fines", "--fines", "28 lb")
    assert not [row for row in listed(yard) if row["what"] == "screen"]


def test_a_met_rule_asks_for_its_certificate_until_one_was_made_wherever_it_lies(yard):
    (yard / "heaptender.toml").write_text(
        TEXT.replace('rule = "us-112-54-turned"', 'rule = "us-112-54-static"\nmethod = "aerated static"').replace(
            "CHECKED", "2026-11-01"
        )
    )
    call(yard, "log", "built", "p1", "--at", "6 days ago")
    for hours in range(140, 0, -24):
        call(yard, "log", "reading", "p1", "145", "--at", f"{hours} h ago")
    paper = one(listed(yard), "p1", "certify")
    assert paper["why"].startswith("its rule was met ")
    assert 0 < paper["slack_s"] <= 28 * 86_400
    batch = paper["id"].rpartition("/")[2]
    folder = yard / "data" / "certificates"
    folder.mkdir()
    (folder / f"{batch}.20261130T000000Z.not-met-yet.pdf").touch()
    assert one(listed(yard), "p1", "certify")["id"] == paper["id"]
    (folder / f"{batch}.20261130T000000Z.met.pdf").touch()
    assert not [row for row in listed(yard) if row["what"] == "certify"]
    (folder / f"{batch}.20261130T000000Z.met.pdf").unlink()
    elsewhere = yard / "bay1.pdf"
    call(yard, "certify", "--batch", "p1", "--rule", "us-503-pfrp-static", "--out", elsewhere)
    assert one(listed(yard), "p1", "certify"), "that was another rule's"
    call(yard, "certify", "--batch", "p1", "--out", elsewhere)
    assert not [row for row in listed(yard) if row["what"] == "certify"]
    (note,) = folder.glob("*.elsewhere")
    assert note.read_text() == f"{elsewhere}\n"


def test_the_first_frost_of_last_year_is_expected(yard):
    today = datetime.now(UTC)
    rows = []
    for back in range(70, -1, -1):
        at = today - timedelta(days=365 + back - 3)
        rows.append(f"{at:%Y-%m-%dT%H:%M:%SZ},amb,temperature,{-3 if back == 0 else 8},Cel")
    (yard / "air.csv").write_text("time,probe,quantity,value,unit\n" + "\n".join(rows) + "\n")
    call(yard, "import", yard / "air.csv")
    frost = one(listed(yard, "--days", "10"), "yard", "expect")
    assert frost["why"].startswith("first frost came on ")
    assert "26.6 °F" in frost["why"]
    assert frost["expected"] is True


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["p9"], "p9"),
        (["ambient"], "no pile and no bin"),
        (["--days", "0"], "0 is not in the range"),
        (["--days", "x"], "not a valid"),
    ],
)
def test_what_cannot_be_understood_is_refused(yard, words, said):
    call(yard, "log", "note", "p1", "--note", "swept")
    assert said in call(yard, "diary", *words, code=2)
