"""The tables of a certificate's pages: probes, calibrations, work, turnings, conditions, lethality, and how to check it."""

from dataclasses import replace

import certificate_scenes as scenes
import numpy as np
from certificate_papers import flat, plain, rows, section, sheet

from monitor.certificate import Attested, CaseWork, ServiceEntry
from monitor.model.settings import Calibration
from monitor.model.times import HOUR_MS
from monitor.model.work import Work, WorkKind
from monitor.proof.holdset import HoldBasis

START = scenes.START


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
    unnamed = [replace(each, name="") for each in (one, flat("p1-b", (100, 60.0)))]
    told = section(plain(*unnamed), "Calibrations")
    assert told["paragraphs"] == ["No calibration is stated for p1-b."]
    assert told["table"]["rows"][0][0] == "p1-a"


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
