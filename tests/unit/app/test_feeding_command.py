"""`feeding`: the plan of each bed by its record, in words and as JSON."""

import json
import time
from dataclasses import asdict

import pytest
from typed_command import ENTRIES, call, yard_of

from monitor.configuration import load_text
from monitor.engine import Engine
from monitor.journal import open_writer
from monitor.model.events import EventKind
from monitor.model.times import HOUR_MS, show_time

SIZED = ENTRIES.replace(
    '[bins.b1]\nname = "Wall bin"',
    '[bins.b1]\nname = "Wall bin"\nsurface = "32 ft2"\nworms = "32 lb"\nbegun = 2026-01-01\n'
    '[bins.b2]\nname = "Shed bin"\n[containers.bucket]\nvolume = "10 L"',
)
yard = yard_of(SIZED)


def read(yard, value, at="1 h ago"):
    call(yard, "log", "reading", "b1", str(value), "--at", at)


def plans(yard, *words, code=0):
    return json.loads(call(yard, "feeding", *words, "--json", code=code))


def test_a_bed_that_is_well_gets_what_its_surface_takes(yard):
    read(yard, 70)
    call(yard, "log", "fed", "b1", "12 lb")
    told = call(yard, "feeding", "b1")
    assert told.startswith("Wall bin: 32 lb of food a week, in 2 parts of 16 lb, 0.2 in over the bed each.\n")
    assert "  Its surface takes 32 lb a week; its worms would eat 112 lb.\n" in told
    assert "  Fed in the last seven days: 12 lb; 20 lb of the week's food is left.\n" in told
    assert "Leave 2 in clear at the edges" in told


def test_a_warm_bed_gets_less_and_the_reason_is_said(yard):
    read(yard, 83.5)
    told = call(yard, "feeding", "b1")
    assert told.startswith("Wall bin: 9.6 lb of food a week")
    assert "  It is warm, 83.5 °F by the readings of three days: 30 %.\n" in told


def test_warmth_is_the_mean_of_the_hours_of_three_days(yard):
    read(yard, 60, "40 h ago")
    read(yard, 62, "40 h ago")
    read(yard, 80, "2 h ago")
    (plan,) = plans(yard, "b1")
    # Of one spot the later value of an hour is its value; older than three days it says nothing.
    assert plan["mean_degc"] in (pytest.approx((71 - 32) / 1.8, abs=0.01), pytest.approx((70.5 - 32) / 1.8, abs=0.01))


def test_where_something_is_unknown_there_is_no_plan(yard):
    told = call(yard, "log", "note", "b1", "--note", "begun")
    told = call(yard, "feeding", code=1)
    assert "Wall bin: no plan, as nothing has measured its warmth for three days; read it by hand and log that." in told
    assert (
        "Shed bin: no plan, as the weight of its worms is unknown; sample them (`heaptender bed b2` says how), "
        'or configure it ([bins.b2] worms = "4 lb").' in told
    )
    call(yard, "log", "emptied", "b1")
    assert "Wall bin: no plan, as it is empty by the log." in call(yard, "feeding", "b1", code=1)


def test_a_young_bed_and_dry_food(yard):
    (yard / "heaptender.toml").write_text(SIZED.replace("begun = 2026-01-01\n", ""))
    read(yard, 70)
    call(yard, "log", "bedded", "b1", "--at", "3 days ago")
    told = call(yard, "feeding", "b1")
    assert "  It is young: 25 % until it is six weeks old.\n" in told
    (plan,) = plans(yard, "b1", "--food", "composted")
    assert plan["surface_kg"] is None
    assert plan["layer_mm"] <= 25.4


def test_food_in_buckets_is_weighed_by_their_volume_and_what_nobody_weighed_is_said(yard):
    read(yard, 70)
    call(yard, "log", "fed", "b1", "2 buckets", "--at", "2 days ago")
    (plan,) = plans(yard, "b1")
    assert plan["fed_kg"] == pytest.approx(10)
    assert plan["fed_known"] is True
    call(yard, "log", "fed", "b1", "--at", "1 day ago")
    assert "(and some of unknown weight)" in call(yard, "feeding", "b1")


def test_how_long_the_stock_takes_to_grow(yard):
    read(yard, 70)
    told = call(yard, "feeding", "b1", "--until", "96 lb")
    assert "From 32 lb to 96 lb of worms: 95 to 143 days if they are kept well." in told
    assert "Its surface feeds no more than 9.1 lb of worms with wet food: more beds feed more." in told
    # Contract, section 8: 3 lb/ft² at most.
    assert "It holds 96 lb at most: before that, spread them to another bed." in call(
        yard, "feeding", "b1", "--until", "98 lb"
    )
    assert "Its worms weigh 32 lb already." in call(yard, "feeding", "b1", "--until", "3 lb")


def test_a_bed_that_is_hot_now_gets_nothing_whatever_its_mean_is(yard):
    for hours in (40, 30, 20):
        read(yard, 70, f"{hours} h ago")
    read(yard, 97, "10 min ago")
    told = call(yard, "feeding", "b1")
    assert told.startswith("Wall bin: no food now.\n")
    assert "  It has an alarm (worms in danger" in told
    assert (
        "  The hottest of its newest readings is 97 °F by hand, 10 min ago: nothing, and take hot food out.\n" in told
    )


def test_what_somebody_saw_forbids_food(yard):
    read(yard, 70)
    call(yard, "log", "inspected", "b1", "--smell", "sour", "--squeeze", "5")
    told = call(yard, "feeding", "b1")
    assert "It is wet: nothing wet until a squeezed handful gives two or three drops" in told
    assert "It smelled sour when somebody looked: nothing wet until a look finds it earthy." in told
    assert plans(yard, "b1", "--food", "composted")[0]["week_kg"] > 0
    call(yard, "log", "inspected", "b1", "--worms", "dead", "--smell", "earthy", "--squeeze", "4")
    told = call(yard, "feeding", "b1", "--food", "composted")
    assert told.startswith("Wall bin: no food now.\n")
    assert "It has an alarm (worms unwell): nothing until that is over, and somebody has looked." in told
    call(yard, "log", "inspected", "b1", "--worms", "plenty")
    assert plans(yard, "b1")[0]["week_kg"] > 0


def test_a_bed_that_had_its_food_gets_no_more(yard):
    read(yard, 70)
    call(yard, "log", "fed", "b1", "40 lb")
    assert call(yard, "feeding", "b1").startswith("Wall bin: feed nothing more this week. It takes 32 lb a week.\n")


def test_what_is_taken_for_granted_is_said(yard):
    (yard / "heaptender.toml").write_text(SIZED.replace("begun = 2026-01-01\n", ""))
    read(yard, 70)
    told = call(yard, "feeding", "b1")
    assert "Nobody has said when it was begun, so it counts as grown" in told
    assert "Its damp is not measured: squeeze a handful first" in told


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (["p1"], '"p1" is no worm bin'),
        (["--until", "5 lb"], "--until goes with one bin"),
        (["b1", "--until", "5 L"], "--until is a weight"),
        (["b1", "--until", "much"], "--until: "),
        (["b1", "--food", "sweets"], "'sweets' is not one of"),
    ],
)
def test_what_cannot_be_understood_is_refused(yard, words, said):
    read(yard, 70)
    assert said in call(yard, "feeding", *words, code=2)


def hours_ago(hours):
    return show_time((time.time_ns() // 1_000_000 // 1000 - round(hours * 3600)) * 1000)


def test_what_a_probe_reads_while_it_lies_outside_says_nothing_of_the_bed(yard):
    rows = [f"{hours_ago(50 - n)},b1-t,temperature,70,F" for n in range(20)]
    rows += [f"{hours_ago(29 - n)},b1-t,temperature,99,F" for n in range(29)]
    (yard / "readings.csv").write_text("time,probe,quantity,value,unit\n" + "\n".join(rows) + "\n")
    (yard / "work.csv").write_text(f"time,place,kind,probe\n{hours_ago(30)},b1,probe out,b1-t\n")
    call(yard, "import", yard / "readings.csv", "--work", yard / "work.csv")
    (plan,) = plans(yard, "b1")
    assert plan["mean_degc"] == pytest.approx((70 - 32) / 1.8, abs=0.01)
    assert plan["week_kg"] > 14, "nor is the bed hot"
    call(yard, "log", "probe-in", "b1", "--probe", "b1-t", "--at", "12 h ago")
    (plan,) = plans(yard, "b1")
    assert plan["mean_degc"] > 25, "back in the bed it counts again"


def test_a_bed_that_is_still_to_be_begun_has_no_plan(yard):
    (yard / "heaptender.toml").write_text(SIZED.replace("2026-01-01", "2099-01-01"))
    read(yard, 70)
    told = call(yard, "feeding", "b1", code=1)
    assert "no plan, as it is still to be begun by the configuration ([bins.b1] begun lies in the future)." in told


def test_a_bin_with_worms_that_suffer_is_called_so_in_the_status(yard):
    read(yard, 70)
    assert "Wall bin: comfort, moisture unknown. Last read" in call(yard, "status", code=1)
    call(yard, "log", "inspected", "b1", "--worms", "dead")
    told = call(yard, "status", code=1)
    assert "Wall bin: comfort, moisture unknown, but dead worms since " in told
    assert "Air it first, with your face away from it." in told
    (bin_, _) = json.loads(call(yard, "status", "--json", code=1))["bins"]
    assert bin_["unwell"].startswith("dead worms since")


PROBED = SIZED  # it has the probe b1-t in its bin


def heard(yard, celsius, *, hours, until=60):
    """Let the probe of the bin show a value each half hour, until so many hours ago, and nothing since."""
    (yard / "heaptender.toml").write_text(PROBED)
    last = time.time_ns() // 1_000_000 - until * HOUR_MS
    settings = load_text(PROBED, None, {}).settings
    writer = open_writer(yard / "data", Engine, Engine.restore)
    try:
        for at in range(last - hours * HOUR_MS, last + 1, HOUR_MS // 2):
            with writer.turn(at) as turn:
                if at == last - hours * HOUR_MS:
                    turn.event(EventKind.STARTED, {"down_since": None})
                    turn.event(EventKind.SETTINGS, {"settings": asdict(settings)})
                turn.event(EventKind.READINGS, {"rows": [[at, "b1-t", celsius * 1_000_000, "Cel"]], "ahead": []})
    finally:
        writer.close()


def test_a_reading_of_now_by_hand_counts_more_than_a_dead_probe_and_its_alarm(yard):
    heard(yard, 31, hours=6)
    told = call(yard, "feeding", "b1")
    assert "  It has an alarm (overheating): nothing until that is over, and somebody has looked.\n" in told
    assert "hottest of its newest" not in told, "60 h ago is not now"
    read(yard, 72, "1 min ago")
    told = call(yard, "feeding", "b1")
    assert told.startswith("Wall bin: 32 lb of food a week"), told
    assert "Its alarm (overheating) is a silent probe's last word: a reading by hand since says otherwise." in told
    (plan,) = plans(yard, "b1")
    assert (plan["alarms"], plan["outlived"]) == ([], ["overheating"])
    assert plan["mean_degc"] == pytest.approx(22.2, abs=0.05), "what the probe said before it died is left out"
    assert "feed" in call(yard, "diary").lower()
    call(yard, "log", "reading", "b1", "88")
    assert call(yard, "feeding", "b1").startswith("Wall bin: no food now.")
    call(yard, "log", "undo", "2")
    assert call(yard, "feeding", "b1").startswith("Wall bin: 32 lb of food a week"), "it was mistyped"
    assert "Wall bin: comfort, moisture unknown. Last read 72 °F" in call(yard, "status", code=1)


def test_a_reading_by_hand_that_is_hot_too_forbids_food_with_its_age_and_origin(yard):
    heard(yard, 31, hours=6)
    read(yard, 86, "2 h ago")
    told = call(yard, "feeding", "b1")
    assert "  It has an alarm (overheating)" in told
    assert "The hottest of its newest readings is 86 °F by hand, 2 h ago: nothing" in told


def test_a_probe_that_speaks_counts_beside_the_reading_by_hand(yard):
    heard(yard, 31, hours=6, until=0)
    read(yard, 72, "1 min ago")
    told = call(yard, "feeding", "b1")
    assert told.startswith("Wall bin: no food now.")
    assert "The hottest of its newest readings is 87.8 °F, " in told
