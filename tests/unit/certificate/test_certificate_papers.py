"""What the first page of a certificate says, and the figures behind it, before they are set."""

from dataclasses import replace

import certificate_scenes as scenes
import numpy as np
import pytest
from certificate_papers import facts, flat, plain, rows, section, sheet

from monitor.certificate import judge_case
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.proof.holdset import HoldBasis

START = scenes.START
RAW = START + 10 * DAY_MS


def test_the_first_page_says_what_it_is_about(keys):
    shown = sheet(scenes.small())
    assert (shown["title"], shown["subtitle"], shown["tone"], shown["verdict"]) == (
        "Self-declared record", "of time above temperature", "met", "met",
    )  # fmt: skip
    assert shown["document"] == "Self-declared record of time above temperature: Bay 1"
    assert shown["date"] == [2026, 5, 2, 15, 30, 0]
    assert shown["issued"] == "Issued 2026-05-02 11:30 (America/New_York)"
    assert (shown["paper"], shown["band"], shown["confirmed"]) == ("us-letter", "", False)
    assert shown["facts-left"] == [
        ["Site", "Tern Hollow allotments"],
        ["Batch", "p1-2026-03-05"],
        ["Pile", "Bay 1 (p1)"],
        ["Method", "turned"],
        ["Feedstocks", "stable litter 2 parts, autumn leaves 1 part, coffee grounds 20 kg"],
        ["Quantity", "3 m³"],
        ["Size", "2 m x 1.5 m, 1.2 m high"],
        ["Built", "2026-03-05 04:00"],
    ]
    assert shown["reasons"] == ["Needs 15 days at 131 °F (55 °C) or above with 5 turnings; met at 2026-03-21 06:18."]
    assert shown["sentence"] == (
        "By its probes this batch was at 131 °F (55 °C) or above as the rule asks; all that it asks of time and temperature "
        "was fulfilled by 2026-03-21 06:18."
    )
    assert [label for label, _ in shown["rule"]] == ["Rule", "Made for", "Written in", "It asks", "For", "Figures"]
    assert shown["rule"][0][1] == "Produce safety, turned composting (us-112-54-turned)"


def test_what_nobody_stated_is_said_to_be_missing():
    bare = plain(site="", batch="", pile_name="p1", method=None, feedstocks="", quantity="", size="", built=None)
    assert list(facts(bare, "facts-left").values()) == [
        "not stated", "no number", "p1", "not stated", "not stated", "not stated", "not stated", "not stated",
    ]  # fmt: skip
    assert facts(plain(pile_name=""), "facts-left")["Pile"] == "– (p1)"
    assert sheet(plain(pile_name=""))["document"].endswith(": p1")
    assert sheet(plain())["paper"] == "a4"


def test_where_it_lay_is_said_where_it_was_moved():
    stays = (("Bay 1", START, START + DAY_MS), ("Bay 2", START + DAY_MS, None))
    assert facts(plain(lay_on=stays), "facts-left")["Lay on"] == (
        "Bay 1 2026-03-05 09:00 to 2026-03-06 09:00; Bay 2 2026-03-06 09:00 to now"
    )
    assert "Lay on" not in facts(plain(lay_on=stays[:1]), "facts-left")


def test_the_figures_of_a_hold_are_exact():
    case = plain(flat("p1-a", (5, 50.0), (80, 60.0), (15, 50.0)))
    assert sheet(case)["facts-right"] == [
        ["Verdict as of", "2026-03-09 12:00"],
        ["Heat status", "met"],
        ["Record", "2026-03-05 09:00 to 2026-03-09 12:00"],
        ["At temperature", "80 h 00 min in all"],
        ["Longest stretch", "80 h 00 min, 2026-03-05 13:30 to 2026-03-08 21:30"],
        ["Not proven", "0 min"],
        ["Turnings", "0 counted of 0 logged"],
        ["Probes", "1"],
    ]
    assert rows(case, "Day by day") == [
        ["2026-03-05", "50.0 °C (122.0 °F)", "57.0 °C (134.6 °F)", "60.0 °C (140.0 °F)", "10 h 30 min", "100 %"],
        *[[f"2026-03-0{day}", *["60.0 °C (140.0 °F)"] * 3, "24 h 00 min", "100 %"] for day in (6, 7)],
        ["2026-03-08", "50.0 °C (122.0 °F)", "59.0 °C (138.1 °F)", "60.0 °C (140.0 °F)", "21 h 30 min", "100 %"],
        ["2026-03-09", *["50.0 °C (122.0 °F)"] * 3, "0 min", "100 %"],
    ]
    cold = facts(plain(flat("p1-a", (100, 40.0))))
    assert (cold["At temperature"], cold["Heat status"]) == ("0 min in all", "raw")
    assert "Longest stretch" not in cold


def test_what_is_not_proven_is_hatched_listed_and_never_rounded_away():
    case = plain(flat("p1-a", (50, 60.0)))
    late = flat("p1-a", (50, 60.0), start=START + 60 * HOUR_MS)
    one = case.probes[0]
    both = replace(
        one,
        **{
            name: np.concatenate([getattr(one, name), getattr(late, name)])
            for name in ("times", "micro", "units", "quality")
        },
    )
    case = replace(case, probes=(both,))
    gap = section(case, "Gaps")
    assert gap["paragraphs"] == ["1 stretch in which the temperature is not proven, 11 h 00 min in all."]
    assert gap["table"]["rows"] == [["2026-03-07 10:00", "2026-03-07 21:00", "11 h 00 min"]]
    assert sheet(case)["sentence"] == (
        "The rule would be met if the time for which no reading counts (11 h 00 min in all) had been at 55 °C (131 °F) or "
        "above; the record does not prove that."
    )
    assert (sheet(case)["verdict"], sheet(case)["tone"]) == ("not proven", "not proven")
    assert facts(case)["Not proven"] == "11 h 00 min"
    assert [one[-1] for one in rows(case, "Day by day")] == ["100 %", "100 %", "54 %", "100 %", "100 %"]


@pytest.mark.parametrize(
    ("rule", "asked"),
    [
        ("us-503-pfrp-static", "at 55 °C (131 °F) or above"),
        ("au-food-safety-vessel", "above 55 °C (131 °F)"),
        ("us-205-203-windrow", "at 55 °C (131 °F) or above and at most 76.7 °C (170 °F)"),
    ],
)
def test_what_is_asked_is_said_with_its_limits(rule, asked):
    case = plain(flat("p1-a", (60, 56.0)), rule=rule, method=None)
    assert sheet(case)["sentence"] == (
        f"By its probes this batch was not {asked} for as long, or not in the way, that the rule asks."
    )


def test_raw_material_makes_void_what_was_proven_before():
    case = plain(flat("p1-a", (240, 60.0), (60, 40.0)), restarts=(START, RAW))
    shown = sheet(case)
    assert shown["sentence"] == (
        "Raw material came in on 2026-03-15 09:00. What was proven before counts no more, and the batch was not at "
        "temperature since."
    )
    assert facts(case)["Counts from"] == "2026-03-15 09:00 (built, or material came in)"
    assert facts(case)["Heat status"] == "void"
    assert [one[4] for one in rows(case, "Day by day")][:2] == ["not counted", "not counted"]
    again = plain(flat("p1-a", (400, 60.0)), restarts=(START, RAW))
    assert sheet(again)["verdict"] == "met"
    assert "Counts from" not in facts(plain(restarts=(START,)))


def test_a_doubt_after_what_was_held_became_void_helps_nobody():
    quiet = flat("p1-a", (240, 60.0))
    later = flat("p1-a", (3, 40.0), start=START + 330 * HOUR_MS)
    both = replace(
        quiet,
        **{
            name: np.concatenate([getattr(quiet, name), getattr(later, name)])
            for name in ("times", "micro", "units", "quality")
        },
    )
    judged = judge_case(plain(both, restarts=(START, RAW)))
    assert judged.finding.outcome.value == "not met"
    assert judged.heat_status.value == "void"
    assert judged.finding.reasons[-1] == (
        "what was held before 2026-03-15T09:00:00.000Z was made void by what came in then; not met anew since"
    )


def test_what_stands_beside_the_verdict_is_told_in_its_order():
    case = plain(left_out="2 lines were left out.", came_after=("It was emptied.",))
    assert sheet(case)["beside"] == ["2 lines were left out.", "It was emptied."]
    cold = flat("p1-z", (100, 40.0), retired_by="Ann Example")
    hot = plain(flat("p1-a", (100, 60.0)), cold)
    assert sheet(hot)["beside"] == [
        "Probe p1-z was taken out before the end. Without any of its readings the verdict is: met.",
    ]
    alone = plain(replace(cold, retired_by="Ann Example"))
    assert sheet(alone)["beside"][-1].endswith("the verdict is: nothing is left to judge.")
    wide = plain(max_gap_ms=3 * HOUR_MS)
    assert sheet(wide)["beside"][-1] == (
        "Between two readings up to 3 h 00 min apart the temperature is assumed to run straight from one to the other; it "
        "was not measured."
    )
    assert sheet(plain(max_gap_ms=2 * HOUR_MS))["beside"] == []
    smoothed = sheet(plain(smoothing_ms=HOUR_MS))["beside"]
    assert smoothed[0].startswith("Judged by a running mean over 1 h, as was asked for.")
    assert smoothed[1] == "This verdict goes by a running mean over 1 h 00 min. Without any smoothing it is: met."


def test_a_verdict_that_only_the_asked_reading_gives_says_so_everywhere():
    warm, cool = flat("p1-a", (100, 62.0)), flat("p1-b", (100, 54.0))
    case = plain(warm, cool, basis=HoldBasis.MEAN)
    shown = sheet(case)
    assert (shown["verdict"], shown["tone"]) == ("met only as asked", "not proven")
    assert shown["sentence"].startswith("As it was asked to be judged, this batch was at 55 °C")
    assert shown["beside"][0].startswith("Judged by the mean of the probes, as was asked for.")
    assert shown["beside"][0].endswith("no running mean) it is: not met.")
    assert facts(case)["Probes"] == "2, judged by their mean"
    assert sheet(plain(warm, warm, basis=HoldBasis.MEAN))["verdict"] == "met"


def test_readings_by_hand_alone_or_beside_probes_are_told_apart():
    hand = flat("hand:p1", (8, 60.0), every_ms=HOUR_MS, by_hand=True, name="dial")
    case = plain(replace(hand, times=START + np.arange(8, dtype=np.int64) * DAY_MS))
    assert sheet(case)["beside"][-1] == (
        "The temperature was read by hand. Between two rounds at most 26 h 00 min apart it is assumed to run straight from "
        "one to the other, 168 h 00 min in all; nobody measured it."
    )
    assumed = section(case, "Proven by rounds by hand")
    assert assumed["table"]["rows"] == [["2026-03-05 09:00", "2026-03-12 09:00", "168 h 00 min"]]
    assert rows(case, "The probes")[0][3] == "read by hand"
    both = plain(flat("p1-a", (100, 60.0)), case.probes[0])
    assert sheet(both)["beside"][-1].startswith("While no probe was in, it was read by hand.")
    assert section(plain(), "Proven by rounds by hand") is None


@pytest.mark.parametrize(
    ("as_of_h", "cold_from_h", "interim"),
    [(48, 48, True), (40 + 7 * 24, 40, True), (40 + 7 * 24 + 1, 40, False)],
)
def test_a_batch_is_under_way_for_a_week_after_it_was_last_hot(as_of_h, cold_from_h, interim):
    lay_on = (("Bay 1", START, None),)
    probe = flat("p1-a", (cold_from_h + 1, 60.0), every_ms=30 * MINUTE_MS)
    last = int(probe.times[-1])
    case = plain(probe, lay_on=lay_on, as_of=last - START + START + (as_of_h - cold_from_h) * HOUR_MS)
    shown = sheet(case)
    assert (shown["title"] == "Interim record") is interim
    assert shown["verdict"] == ("not met yet" if interim else "not met")
    assert shown["tone"] == ("not proven" if interim else "not met")
    if interim:
        assert shown["sentence"].startswith(f"So far: {cold_from_h} h 30 min at temperature in all, as of ")
        assert shown["subtitle"].endswith("self-declared while the batch goes on")
