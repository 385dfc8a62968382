"""One case for each message: id, variant and facts. The golden table beside this file holds the words it must give."""

from dataclasses import replace

from monitor.model.alarm_values import ClockOff, Fault
from monitor.model.settings import Bin, Pile, Probe, Settings, Site
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.model.units import Quantity, celsius_milli
from monitor.model.words import Method, Role
from monitor.notices import Ending, Facts, Foretold, InBin, Outside, Progress, Rounds, Stale

NOW = parse_time("2026-03-04T20:10:00Z")  # Wednesday, 15:10 in New York


def yard(unit="degF", **more):
    return Settings(
        site=Site(name="Tern Hollow allotments", time_zone="America/New_York", temperature_unit=unit),
        piles={
            "p1": Pile(name="Bay 1", rule="us-112-54-turned"),
            "p2": Pile(name="Bay 2", method=Method.STATIC),
            "p3": Pile(name="Drum", method=Method.VESSEL),
            "p4": Pile(name="Leaf cage", method=Method.PASSIVE),
        },
        bins={"b1": Bin(name="Sunny wall bin")},
        probes={
            "p1-a": Probe(place="p1", role=Role.CORE, address="p1-a"),
            "p1-b": Probe(place="p1", role=Role.CORE, address="p1-b", name="north corner"),
            "b1-a": Probe(place="b1", role=Role.BEDDING, address="b1-a"),
        },
        **more,
    )


def f(degrees):
    return celsius_milli(degrees, "degF")


def facts(place, value=None, limit=None, ago=HOUR_MS, trend=None, probe="", quantity=Quantity.TEMPERATURE, **more):
    return Facts(
        place=place,
        probe=probe,
        value_milli=value,
        limit_milli=limit,
        since=NOW - ago,
        now=NOW,
        trend_milli_k_per_h=trend,
        quantity=quantity,
        **more,
    )


WET = Quantity.MOISTURE
MISSED = Rounds(last=NOW - 25 * HOUR_MS, due=NOW - HOUR_MS, breaks=NOW + HOUR_MS)
BROKEN = Rounds(last=NOW - 26 * HOUR_MS, due=NOW - 2 * HOUR_MS, breaks=NOW)
PROGRESS = Progress(days=6, days_needed=15, turnings=2, turnings_needed=5)
LATE = Progress(days=14, days_needed=15, turnings=4, turnings_needed=5)
TURNED = {"read_at": NOW - 5 * HOUR_MS, "turned_at": NOW - HOUR_MS}

CASES = {
    "stalled": facts("p1", f(84.2), 40_000, 3 * DAY_MS, 100),
    "stalled no-hold": facts("p1", f(118), f(131), 7 * DAY_MS + HOUR_MS, -500, variant="no-hold"),
    "cold-corner": facts("p1", f(120), f(131), 25 * HOUR_MS, 50, "p1-b", other_milli=f(145)),
    "turning-due": facts("p1", f(141), f(131), 5 * MINUTE_MS, last_turned=NOW - 3 * DAY_MS, progress=PROGRESS),
    "turning-due first": facts("p1", f(141), f(131), 5 * MINUTE_MS),
    "turning-due cooled": facts("p1", f(124.5), f(131), 12 * HOUR_MS, -600, variant="cooled"),
    "turning-due cold late": facts(
        "p1", f(104), f(131), 13 * HOUR_MS, -600, variant="cooled", rule="us-112-54-turned", progress=LATE
    ),
    "turning-due last": facts("p1", f(141), f(131), 5 * MINUTE_MS, last_turned=NOW - 3 * DAY_MS, progress=LATE),
    "round-due": facts("p1", rounds=MISSED),
    "round-due early": facts(
        "p1", variant="early", rounds=Rounds(last=NOW - 12 * HOUR_MS, due=NOW + 12 * HOUR_MS, breaks=NOW + 14 * HOUR_MS)
    ),
    "round-due days": facts("p1", rounds=replace(MISSED, lost_days=9)),
    "round-due one day": facts("p1", rounds=replace(MISSED, lost_days=1)),
    "round-due recovering": facts("p1", rounds=replace(MISSED, lost_days=9, recovers=True)),
    "round-due hours": facts("p2", rounds=replace(MISSED, lost_run=True)),
    "round-due broken": facts("p1", None, None, 26 * HOUR_MS, variant="broken", rounds=BROKEN),
    "round-due broken days": facts(
        "p1", None, None, 26 * HOUR_MS, variant="broken", rounds=replace(BROKEN, lost_days=9)
    ),
    "cooled-unmet": facts("p1", f(112), f(131), 50 * HOUR_MS, -400, rule="us-112-54-turned", progress=PROGRESS),
    "cooled-unmet no rule": facts("p2", f(112), f(131), 13 * HOUR_MS, -400, rule="none"),
    "hot": facts("p1", f(163), f(160), 6 * HOUR_MS, 600, "p1-a"),
    "hot static": facts("p2", f(163), f(160), 6 * HOUR_MS, 600),
    "hot vessel": facts("p3", f(163), f(160), 6 * HOUR_MS, 600),
    "hot passive": facts("p4", f(163), f(160), 6 * HOUR_MS, 600),
    "over left": facts("p1", f(181), f(180), HOUR_MS, None, "p1-a", ending=Ending(alarm="fire", left="p1-a")),
    "over left bin": facts(
        "b1", None, None, HOUR_MS, None, "b1-a", ending=Ending(alarm="worms-in-danger", left="b1-a")
    ),
    "overheating one silent": facts(
        "b1", f(86.4), f(85), 11 * HOUR_MS, None, "b1-a", stale=Stale(at=NOW - 10 * HOUR_MS, others_speak=True)
    ),
    "overheating unread": facts(
        "b1", f(86.4), f(85), 80 * HOUR_MS, None, "hand:b1", stale=Stale(at=NOW - 80 * HOUR_MS)
    ),
    "turning-due by hand": facts("p1", f(141), f(131), 5 * HOUR_MS, read_at=NOW - 4 * HOUR_MS, progress=PROGRESS),
    "turning-due cooled by hand": facts(
        "p1", f(124.5), f(131), 12 * HOUR_MS, None, variant="cooled", read_at=NOW - 4 * HOUR_MS
    ),
    "holding by hand": facts("p1", f(145), f(131), 12 * HOUR_MS, None, "hand:p1"),
    "hot silent": facts("p1", f(163), f(160), 16 * HOUR_MS, None, "p1-a", stale=Stale(at=NOW - 9 * HOUR_MS)),
    "too-hot": facts("p1", f(172.4), f(170), 65 * MINUTE_MS, 1_200, "p1-a"),
    "too-hot static": facts("p2", f(172.4), f(170), 65 * MINUTE_MS, 1_200),
    "too-hot vessel": facts("p3", f(172.4), f(170), 65 * MINUTE_MS, 1_200),
    "hot turned": facts("p1", f(163), f(160), 6 * HOUR_MS, probe="hand:p1", **TURNED),
    "too-hot turned": facts("p1", f(172.4), f(170), 6 * HOUR_MS, probe="p1-a", **TURNED),
    "too-hot turned vessel": facts("p3", f(172.4), f(170), 6 * HOUR_MS, **TURNED),
    "fire turned": facts("p1", f(183.2), f(180), 6 * HOUR_MS, probe="p1-a", **TURNED),
    "fire static": facts("p2", f(183.2), f(180), 2 * MINUTE_MS, 2_500),
    "fire vessel": facts("p3", f(183.2), f(180), 2 * MINUTE_MS, 2_500),
    "fire": facts("p1", f(183.2), f(180), 2 * MINUTE_MS, 2_500, "p1-a"),
    "fire easing": facts("p1", f(179.4), f(180), 20 * MINUTE_MS, -2_500, "p1-a"),
    "stalled vessel": facts("p3", f(84.2), 40_000, 3 * DAY_MS, 100),
    "cooled-unmet vessel": facts("p3", f(112), f(131), 50 * HOUR_MS, -400, rule="us-503-pfrp-static"),
    "turning-due alone": facts(
        "p1", f(141), f(131), MINUTE_MS, progress=PROGRESS, outside=Outside(out=("p1-b",), rest=("p1-a",))
    ),
    "turning-due silent": facts(
        "p1", f(141), f(131), 5 * HOUR_MS, progress=PROGRESS, stale=Stale(at=NOW - 4 * HOUR_MS)
    ),
    "hot-and-lost vessel": facts("p3", f(171), 70_000, 31 * MINUTE_MS, None, "p3-a"),
    "hot-and-lost": facts("p1", f(171), 70_000, 31 * MINUTE_MS, None, "p1-a"),
    "look-at-probe": facts("p1", f(190), f(180), 2 * MINUTE_MS, None, "p1-a"),
    "silent": facts("p1", f(139), None, 3 * HOUR_MS, None, "p1-a"),
    "silent never": facts("p1", None, None, 2 * HOUR_MS, None, "p1-a"),
    "silent bin": facts("b1", None, None, 3 * DAY_MS + HOUR_MS, None, "b1-a"),
    "silent moisture": facts("b1", 78_000, None, 3 * HOUR_MS, None, "b1-m", WET),
    "broken": facts("p1", f(139), None, 3 * HOUR_MS, None, "p1-b"),
    "broken moisture": facts("b1", 78_000, None, 3 * HOUR_MS, None, "b1-m", WET),
    "silent empty": facts("p1", f(139), None, 3 * HOUR_MS, None, "p1-a", empty=True),
    "broken empty": facts("p1", f(139), None, 3 * HOUR_MS, None, "p1-b", empty=True),
    "fire moved": facts(
        "p2", f(185), f(180), 3 * HOUR_MS, None, "hand:p1", moved_from="p1", stale=Stale(at=NOW - 3 * HOUR_MS)
    ),
    "too-hot moved": facts(
        "p2", f(172), f(170), 3 * HOUR_MS, None, "p1-a", moved_from="p1", stale=Stale(at=NOW - HOUR_MS, outside=True)
    ),
    "over moved": facts("p1", f(181), f(180), HOUR_MS, None, "p1-a", ending=Ending(alarm="fire", moved_to="p2")),
    "clock": facts(
        "p1", None, None, 20 * MINUTE_MS, None, "p1-a", clock=ClockOff(by_ms=7 * MINUTE_MS, limit_ms=5 * MINUTE_MS)
    ),
    "clock yard": facts("", None, None, 20 * MINUTE_MS, clock=ClockOff(by_ms=-12 * MINUTE_MS, limit_ms=2 * MINUTE_MS)),
    "clock behind": facts("", None, None, 20 * MINUTE_MS, variant="nodes", clock=ClockOff(by_ms=24 * HOUR_MS)),
    "clock ahead": facts("", None, None, 20 * MINUTE_MS, variant="nodes", clock=ClockOff(by_ms=-24 * HOUR_MS)),
    "clock record": facts("", None, None, 20 * MINUTE_MS, variant="record", clock=ClockOff(by_ms=24 * HOUR_MS)),
    "link": facts("", None, None, 25 * MINUTE_MS, fault=Fault(what="source", name="shed", why="device not found")),
    "link channel": facts("", None, None, 25 * MINUTE_MS, fault=Fault(what="channel", name="mail")),
    "link mirror": facts("", None, None, 25 * MINUTE_MS, fault=Fault(what="mirror", name="mirror", why="no answer")),
    "unwatched": facts("b1", None, None, 5 * MINUTE_MS, None, "b1-a"),
    "disk": facts("", None, None, 2 * MINUTE_MS, fault=Fault(why="the disk that holds data is full")),
    "record": facts("", None, None, 2 * MINUTE_MS, fault=Fault(why="page 114 does not agree with its hash.")),
    "backup": facts("", None, None, HOUR_MS, fault=Fault(why="/mnt/stick is not there")),
    "filling": facts(
        "",
        None,
        None,
        HOUR_MS,
        fault=Fault(why="2.1 GB are left, full in about 12 days at the pace of the last 21 days"),
    ),
    "page": facts("", None, None, HOUR_MS, fault=Fault(why="port 8460 is taken by another program")),
    "flood": facts("", None, None, 2 * MINUTE_MS, fault=Fault(why="over 50,000 in a minute could not be understood")),
    "overheating": facts("b1", f(86.4), f(85), 2 * HOUR_MS, 500, "b1-a", bed=InBin(fed_at=NOW - 26 * HOUR_MS)),
    "overheating fresh": facts(
        "b1", f(86.4), f(85), 2 * HOUR_MS, 500, "b1-a", bed=InBin(fed_at=NOW - 26 * HOUR_MS, air_high_milli=f(70))
    ),
    "overheating weather": facts(
        "b1", f(86.4), f(85), 2 * HOUR_MS, 500, "b1-a", bed=InBin(fed_at=NOW - 26 * HOUR_MS, air_high_milli=f(97.6))
    ),
    "overheating sun": facts("b1", f(86.4), f(85), 2 * HOUR_MS, 500, "b1-a", bed=InBin(air_high_milli=f(80))),
    "overheating silent": facts("b1", f(86.4), f(85), 11 * HOUR_MS, None, "b1-a", stale=Stale(at=NOW - 10 * HOUR_MS)),
    "overheating silent, read since": facts(
        "b1",
        f(86.4),
        f(85),
        11 * HOUR_MS,
        None,
        "b1-a",
        stale=Stale(at=NOW - 10 * HOUR_MS, read_at=NOW - HOUR_MS, read_milli=f(72), outlived=True),
    ),
    "overheating spot": facts("b1", f(86.4), f(85), 2 * HOUR_MS, 500, "b1-a", other_milli=f(75)),
    "worms-in-danger": facts("b1", f(93.2), f(90), 15 * MINUTE_MS, 1_000, "b1-a"),
    "worms-in-danger fed": facts(
        "b1", f(96), f(95), MINUTE_MS, 1_000, "b1-a", other_milli=f(78), bed=InBin(fed_at=NOW - DAY_MS)
    ),
    "worms-in-danger all": facts(
        "b1",
        f(90.3),
        f(90),
        MINUTE_MS,
        1_000,
        "b1-a",
        bed=InBin(by_all=True, coolest_milli=f(90.3), hottest_milli=f(93)),
    ),
    "worms-in-danger any": facts(
        "b1",
        f(96),
        f(95),
        MINUTE_MS,
        1_000,
        "b1-a",
        other_milli=f(78),
        bed=InBin(coolest_milli=f(78), hottest_milli=f(96)),
    ),
    "worms-in-danger easing": facts("b1", f(89.4), f(90), 2 * HOUR_MS, -1_000, "b1-a"),
    "freezing": facts("b1", f(38.2), f(39), 40 * MINUTE_MS, -400, "b1-a"),
    "freezing near": facts("b1", f(42.5), f(43), 40 * MINUTE_MS, -400, "b1-a"),
    "freezing easing": facts("b1", f(39.5), f(39), 3 * HOUR_MS, 400, "b1-a"),
    "worms-unwell": facts("b1", None, None, 2 * HOUR_MS, variant="dead"),
    "worms-unwell lid": facts("b1", None, None, 2 * HOUR_MS, variant="on the lid"),
    "too-wet": facts("b1", 87_500, 85_000, 12 * HOUR_MS, None, "b1-a", WET),
    "too-dry": facts("b1", 57_300, 60_000, 14 * HOUR_MS, None, "b1-a", WET),
    "too-dry easing": facts("b1", 60_500, 60_000, 20 * HOUR_MS, None, "b1-a", WET),
    "warm-spot": facts("b1", f(88), f(80), 2 * HOUR_MS, 100, "b1-a", other_milli=f(75)),
    "holding": facts("p1", f(133.5), f(131), HOUR_MS, 600, "p1-b"),
    "rule-met": facts(
        "p1", rule="us-112-54-turned", progress=Progress(days=15, days_needed=15, turnings=5, turnings_needed=5)
    ),
    "rule-met alone": facts(
        "p1",
        rule="us-112-54-turned",
        progress=Progress(days=15, days_needed=15),
        outside=Outside(out=("p1-b",), rest=("p1-a",)),
    ),
    "ready": facts("p1", f(76), f(80), 72 * HOUR_MS, -50, rule_met=True),
    "ready no air": facts("p1", f(76), f(80), 72 * HOUR_MS, -50, rule_met=True, no_air=True),
    "too-hot rule": facts("p1", f(172.4), f(170), 65 * MINUTE_MS, 1_200, "p1-a", upper_milli=f(170)),
    "too-hot static rule": facts("p2", f(172.4), f(170), 65 * MINUTE_MS, 1_200, upper_milli=f(170)),
    "ready unmet": facts("p2", f(76), f(80), 72 * HOUR_MS, -50, rule_met=False),
    "reheating": facts("p1", f(106), 40_000, 40 * HOUR_MS, 400),
    "suggested-turning": facts("p1", f(98), None, 45 * MINUTE_MS),
    "probes-out": facts("p1", None, None, 12 * HOUR_MS, outside=Outside(out=("p1-a", "p1-b"), rest=())),
    "probes-out some": facts("p1", None, None, 12 * HOUR_MS, outside=Outside(out=("p1-b",), rest=("p1-a",))),
    "probes-out shut": facts("p1", None, None, 12 * HOUR_MS, outside=Outside(shut=True, out=("p1-a", "p1-b"), rest=())),
    "over": facts("p1", f(158), f(170), 5 * HOUR_MS, -800, ending=Ending(alarm="too-hot", until=NOW - MINUTE_MS)),
    "over silent": facts("p1", None, None, 2 * HOUR_MS, None, "p1-b", ending=Ending(alarm="silent")),
    "over worms": facts("b1", f(84), f(90), 2 * HOUR_MS, ending=Ending(alarm="worms-in-danger")),
    "past": facts(
        "b1", f(93), f(90), 2 * HOUR_MS, None, "b1-a", ending=Ending(alarm="worms-in-danger", until=NOW - HOUR_MS)
    ),
    "past hot": facts("p1", f(171), f(170), 90 * MINUTE_MS, ending=Ending(alarm="too-hot", until=NOW - HOUR_MS)),
    "over mistyped": facts("p1", None, f(180), 90 * MINUTE_MS, ending=Ending(alarm="fire", taken_back=True)),
    "read-late": facts("p1", f(185), f(180), 14 * HOUR_MS, None, "hand:p1:west", ending=Ending(alarm="fire")),
    "read-late bin": facts("b1", f(97), f(95), 14 * HOUR_MS, None, "hand:b1", ending=Ending(alarm="worms-in-danger")),
    "apart": facts("p1", f(112), None, 5 * MINUTE_MS, None, "p1-a", hand_milli=f(131), hand_series="hand:p1:west"),
    "hot by hand": facts("p1", f(165), f(160), 6 * HOUR_MS, None, "hand:p1:west"),
    "overheating by hand": facts("b1", f(88), f(85), 30 * MINUTE_MS, None, "hand:b1"),
    "heat-ahead": facts(
        "b1", f(97), f(85), 0, foretold=Foretold(day=NOW + DAY_MS, days=5, last=NOW - 9 * DAY_MS, by="Ann")
    ),
    "heat-ahead as today": facts(
        "b1", f(94), f(85), 0, foretold=Foretold(day=NOW + DAY_MS, days=3, last=NOW - DAY_MS, as_today=True)
    ),
    "frost-ahead": facts("b1", f(24), f(43), 0, foretold=Foretold(day=NOW + DAY_MS, days=3, last=NOW - 400 * DAY_MS)),
    "cool": facts("b1", f(57), f(60), 9 * HOUR_MS, -100, "b1-a"),
    "cold": facts("b1", f(48), f(50), 30 * HOUR_MS, -100, "b1-a"),
    "warm": facts("b1", f(82), f(80), 3 * HOUR_MS, None, "b1-a"),
    "pile-too-dry": facts("p1", 38_000, 40_000, 9 * HOUR_MS, None, "p1-a", WET),
    "pile-too-wet": facts("p1", 66_000, 65_000, 9 * HOUR_MS, None, "p1-a", WET),
    "oxygen": facts("p2", 3_900, 5_000, 6 * HOUR_MS, None, "p2-o", Quantity.OXYGEN),
    "unread": facts("b1", None, None, 7 * DAY_MS + HOUR_MS),
    "flat-line": facts("p1", f(140), None, 24 * HOUR_MS, None, "p1-a"),
    "empty-yet-warm": facts("p1", f(150), None, HOUR_MS, None, "p1-a"),
    "empty-yet-warm by hand": facts("p1", f(150), None, HOUR_MS, None, "hand:p1:west"),
}
