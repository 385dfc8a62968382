"""What a certificate's pages say, word by word and figure by figure, before they are set."""

from dataclasses import replace

import certificate_scenes as scenes
import numpy as np
import pytest

from monitor.certificate import Attested, CaseWork, ServiceEntry, judge_case
from monitor.model.settings import Calibration
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind
from monitor.proof.holdset import HoldBasis

START = scenes.START
RAW = START + 10 * DAY_MS


def flat(probe, *stretches, every_ms=HOUR_MS, **more):
    """Return a probe that read one temperature for so many hours, then the next."""
    steps = HOUR_MS // every_ms
    values = [round(celsius * 1_000) for hours, celsius in stretches for _ in range(hours * steps)]
    return scenes.probe(probe, np.array(values, dtype=np.int64), every_ms=every_ms, **more)


def plain(*probes, rule="us-503-pfrp-static", **more):
    """Return a heap of a static pile in °C and UTC, hot from its first reading on, without work or turnings."""
    known = {
        "probes": probes or (flat("p1-a", (100, 60.0)),), "turnings": (), "work": (), "restarts": (), "method": Method.STATIC,
        "temperature_unit": "degC", "time_zone": "UTC",
    }  # fmt: skip
    return scenes.ruled(rule, **{**known, **more})


def texts(value):
    """Return a value of the pages as it is read: without places to break, with plain spaces."""
    if isinstance(value, str):
        return value.replace("\u200b", "").replace("\xa0", " ")
    if isinstance(value, dict):
        return {key: texts(one) for key, one in value.items()}
    return [texts(one) for one in value] if isinstance(value, list) else value


def sheet(case):
    """Return the texts of a case's pages."""
    return texts(scenes.pages_of(case)[0])


def section(case, title):
    found = [one for one in [*sheet(case)["sections"], sheet(case)["conditions"]] if one["title"] == title]
    assert len(found) <= 1
    return found[0] if found else None


def rows(case, title):
    table = section(case, title)["table"]
    return table["rows"] if table else []


def facts(case, side="facts-right"):
    return dict(sheet(case)[side])


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


def test_probes_are_listed_with_depth_readings_and_spread():
    one = flat("p1-a", (10, 50.0), (10, 60.5), name="p1-a", uncertainty_milli_k=None, depth_milli_m=None)
    two = flat("p1-b", (20, 58.0), name="north", depth_milli_m=600)
    bad = replace(two, quality=np.array([1] * 15 + [3] * 5, dtype=np.int8))
    assert rows(plain(one, bad), "The probes") == [
        ["1", "p1-a", "not stated", "probe", "20 of 20", "50.0 °C (122.0 °F) to 60.5 °C (140.9 °F)", "not stated"],
        [
            "2",
            "north (p1-b)",
            "0.60 m (24 in)",
            "probe",
            "15 of 20",
            "58.0 °C (136.4 °F) to 58.0 °C (136.4 °F)",
            "0.5 °C (0.9 °F)",
        ],
    ]
    nothing = replace(two, service=((0, 1),))
    assert rows(plain(one, nothing), "The probes")[1][4:6] == ["0 of 20", "–"]
    assert rows(plain(replace(one, name="")), "The probes")[0][1] == "p1-a"


def test_calibrations_and_a_guard_are_told():
    made = Calibration(points=((0, 100), (100_000, 99_800)), by="Ann", note="ice", start=START)
    one = flat("p1-a", (100, 60.0), calibrations=(made, Calibration(points=((0, 0),))))
    told = section(plain(one, flat("p1-b", (100, 60.0)), guard_milli_k=500), "Calibrations")
    assert told["paragraphs"] == [
        "No calibration is stated for Probe B.", "The limits were drawn in by 0.5 °C (0.9 °F) to allow for uncertainty.",
    ]  # fmt: skip
    shown = "0 °C (32 °F) is 0.1 °C (32.2 °F); 100 °C (212 °F) is 99.8 °C (211.6 °F)"
    assert told["table"]["rows"] == [
        ["Probe A", "2026-03-05 09:00", shown, "Ann", "ice"],
        ["Probe A", "the beginning", "0 °C (32 °F) is 0 °C (32 °F)", "–", "–"],
    ]
    assert section(plain(one), "Calibrations")["paragraphs"] == []


def entry(hour, into, how, **more):
    return ServiceEntry(time=START + hour * HOUR_MS, into=into, how=how, **more)


def test_when_probes_were_in_is_told_with_who_said_it():
    first = entry(0, True, "built", by="Ann", entered=START + HOUR_MS)
    out, back = entry(24, False, "turning", by="Bo"), entry(25, True, "back by itself")
    one = flat("p1-a", (100, 60.0), entries=(first, out, back), retired_by="Cy", name="")
    two = flat("p1-b", (100, 60.0), entries=(first, out))
    told = section(plain(one, two), "When each probe was in")
    assert told["paragraphs"] == ["p1-a was taken out for good by Cy."]
    assert told["table"]["rows"] == [
        ["–", "2026-03-05 09:00", "p1-a, Probe B", "built", "Ann", "2026-03-05 10:00"],
        ["2026-03-06 09:00", "2026-03-06 10:00 p1-a", "p1-a, Probe B", "turning; back by itself", "Bo", "–"],
    ]
    same = plain(one, replace(two, entries=(first, out, back)))
    assert rows(same, "When each probe was in")[1][1] == "2026-03-06 10:00"
    assert section(plain(), "When each probe was in")["paragraphs"] == [
        "Nothing is recorded; each probe is taken to have been in all the time.",
    ]


def logged(kind, hours, *, entered_h=0.0, **more):
    work = Work(time=START + round(hours * HOUR_MS), place="p1", kind=kind, **more)
    return work, work.time + round(entered_h * HOUR_MS)


def test_work_is_told_as_it_was_logged_with_how_late_it_was_entered():
    watered, noted = logged(WorkKind.WATERED, 1, entered_h=0.5, amount="60", measure="L", by="Ann", note="steam")
    moved, late = logged(WorkKind.MOVED, 2, entered_h=24, to="p2", by="")
    noticed, later = logged(WorkKind.NOTE, 3, entered_h=25, note="smells")
    corrected, latest = logged(WorkKind.FAN, 4, entered_h=72)
    case = plain(
        work=(
            CaseWork(work=watered, entered=noted),
            CaseWork(work=moved, entered=late, imported=True),
            CaseWork(work=noticed, entered=later),
            CaseWork(work=corrected, entered=latest, corrected=latest + HOUR_MS),
        )
    )
    told = rows(case, "Work, as it was logged")
    assert told[0] == ["2026-03-05 10:00", "watered 60 L", "p1", "Ann", "steam", "2026-03-05 10:30"]
    assert told[1] == ["2026-03-05 11:00", "moved", "p1 to p2", "–", "–", "2026-03-06 11:00, from a file"]
    assert told[2][5] == "2026-03-06 13:00; 1 day after it was done"
    assert told[3][4:] == ["–", "2026-03-08 13:00; 3 days after it was done; corrected 2026-03-08 14:00"]
    assert section(plain(), "Work, as it was logged")["paragraphs"] == ["Nothing was logged."]
    assert section(case, "Work, as it was logged")["paragraphs"] == []


def test_turnings_are_told_with_how_they_count():
    at = [START + hours * HOUR_MS for hours in (20, 25, 26, 60)]
    case = plain(
        flat("p1-a", (19, 60.0), (2, 40.0), (79, 60.0)), turnings=tuple(at), restarts=(START, START + 24 * HOUR_MS)
    )
    told = rows(case, "Turnings")
    assert [one[:2] for one in told] == [
        ["2026-03-06 05:00", "before material came in"],
        ["2026-03-06 10:00", "no: one with that of 2026-03-06 05:00"],
        ["2026-03-06 11:00", "as a turning of its own"],
        ["2026-03-07 21:00", "as a turning of its own"],
    ]
    assert section(plain(), "Turnings") is None


def test_the_rules_other_conditions_are_told_as_they_are_known():
    case = plain(rule="us-112-54-turned", method=None)
    told = rows(case, "What else the rule asks")
    assert told[0] == ["Adequate curing afterwards", "not examined", "nobody declared it"]
    declared = {case.rule.conditions[0].key: Attested(by="Ann", at=START, words="six weeks")}
    told = rows(replace(case, declared=declared), "What else the rule asks")
    assert told[0][:2] == ["Adequate curing afterwards", "declared by Ann"]
    assert told[0][2].endswith("six weeks")
    bare = section(plain(rule="backyard-130f-3d"), "What else the rule asks")
    assert (bare["paragraphs"], bare["table"]) == (["Nothing beside time, temperature and turnings."], None)


def test_a_rule_whose_figures_are_from_memory_is_for_information_until_somebody_confirms_them():
    case = plain(rule="backyard-130f-3d")
    assert sheet(case)["band"].startswith("For information only:")
    confirmed = replace(case, confirmed=Attested(by="Ann", at=START, words="edition of 2025"))
    assert sheet(confirmed)["band"] == (
        "Ann confirmed the figures of this rule against the current text on 2026-03-05 09:00 (edition of 2025)."
    )
    assert sheet(confirmed)["confirmed"] is True
    assert sheet(plain(confirmed=confirmed.confirmed))["band"] == ""


def test_other_readings_of_the_same_record_are_told_with_their_reasons():
    case = replace(scenes.small(), smoothing_ms=HOUR_MS, start=START + HOUR_MS)
    cold = flat("p1-z", (570, 40.0), retired_by="Ann")
    told = section(replace(case, probes=(*case.probes, cold)), "Read in other ways")["paragraphs"]
    assert told[0].startswith("Strictly, with the days as one unbroken stretch: not met. ")
    assert told[1].startswith("Without smoothing: not met, 0 min at temperature in all. Needs 15 days")
    assert told[2].startswith("Without probe p1-z: met. Needs 15 days")
    assert told[2].endswith("With it: not met.")
    assert told[3] == "Whoever asked for this record chose its ends: 2026-03-05 05:00 to 2026-03-29 04:00."
    each = plain(flat("p1-a", (100, 60.0)), flat("p1-b", (100, 54.0)), basis=HoldBasis.EACH)
    assert section(each, "Read in other ways")["paragraphs"] == [
        "Every probe was judged by itself; the figures above are those of the worst, p1-b.",
    ]
    assert section(plain(), "Read in other ways") is None
    gone = plain(flat("p1-a", (100, 60.0), retired_by="Ann"))
    assert section(gone, "Read in other ways")["paragraphs"] == ["Without probe p1-a: nothing is left to judge."]


def test_lethality_is_told_with_notes_that_stand_once():
    told = section(plain(), "Lethality, for information")
    assert [one[2] for one in told["table"]["rows"]][:4] == ["1", "2", "2", "3"]
    assert len(set(told["notes"])) == len(told["notes"])
    assert all(one.endswith(".") for one in told["notes"])
    assert max(int(one[2]) for one in told["table"]["rows"]) == len(told["notes"])
    assert told["table"]["rows"][1][1] == "not reached, 99 h"
    assert told["table"]["rows"][2][1] == "reached, 99 h, from 2026-03-05 09:00"
    after = plain(restarts=(START, START + 200 * HOUR_MS), as_of=START + 200 * HOUR_MS)
    told = section(after, "Lethality")
    assert told["paragraphs"] == ["Nothing was read since material last came in, so there are no figures."]


def test_how_to_check_it_names_all_that_must_fit():
    told = dict(rows(plain(chain_head="", origin="files: a.csv"), "How to check this record"))
    assert told["Readings attached"] == "100"
    assert told["Head of the journal's hash chain"] == "none: not from a journal"
    assert told["Where the record came from"] == "files: a.csv"
    assert told["Made with"] == "heaptender 0.1.0, typst 0.15.2"


def test_long_tables_are_cut_and_say_how_many_more_there_are():
    work = tuple(
        CaseWork(work=Work(time=START + at, place="p1", kind=WorkKind.NOTE, note=str(at)), entered=START)
        for at in range(201)
    )
    told = section(plain(work=work), "Work, as it was logged")
    assert (len(told["table"]["rows"]), told["after"]) == (200, "And 1 more entries; the attached record has them all.")
    assert section(plain(work=work[:200]), "Work, as it was logged")["after"] == ""
    gappy, hours = flat("p1-a", (128, 60.0)), np.arange(128, dtype=np.int64)
    gappy = replace(gappy, times=START + (hours // 2 * 4 + hours % 2) * HOUR_MS)
    told = section(plain(gappy), "Gaps")
    assert (len(told["table"]["rows"]), told["after"]) == (60, "And 3 more gaps; the attached record has them all.")
    assert told["paragraphs"] == ["63 stretches in which the temperature is not proven, 189 h 00 min in all."]


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
