"""Who asks for a reading that lets more pass gets no plain *met*, and what in files was not used is said."""

import pytest
from test_cases_files import DAY, HEAD, HOUR, T0, case_of, hours, line, work

from monitor.app.cases.verdict_words import verdict_json, verdict_lines
from monitor.certificate import judge_case
from monitor.certificate.pages.sheet import make_sheet
from monitor.model.errors import MisuseError
from monitor.proof.holdset import HoldBasis
from monitor.proof.verdict import Outcome

__all__ = ["case_of"]

LATER = T0 + 4 * DAY
FAR_APART = line(T0, 60) + line(LATER, 60)
ONE_COLD = hours(T0, LATER, 80) + hours(T0, LATER, 34, probe="b")
BY_DAY_ONLY = "".join(line(T0 + hour * HOUR, 80 if hour % 24 < 12 else 40) for hour in range(24 * 6))


@pytest.mark.parametrize(
    ("readings", "asked", "told"),
    [
        (ONE_COLD, {"probes": ("a", "b"), "basis": HoldBasis.MEAN}, "by the mean of the probes"),
        (BY_DAY_ONLY, {"smoothing_ms": DAY}, "by a running mean over 24 h"),
        (FAR_APART, {"max_gap_ms": 30 * DAY}, "across gaps of up to 30 days"),
        (FAR_APART, {"by_hand": True, "hand_gap_ms": 30 * DAY}, "across up to 30 days between two rounds by hand"),
    ],
)
def test_what_only_another_reading_lets_pass_is_met_only_as_asked(case_of, readings, asked, told):
    case, _ = case_of(readings, **asked)
    judgement = judge_case(case)
    assert judgement.met
    assert judgement.only_as_asked
    lines = list(verdict_lines(case, judgement))
    assert lines[0].startswith("Met only as asked: ")
    assert told in lines[1]
    assert not any("proven from beginning to end" in one for one in lines)
    plain = verdict_json(case, judgement)
    assert (plain["verdict"], plain["for_information"]) == ("met", True)
    assert plain["usual"] in ("not met", "not proven")


def test_what_the_usual_reading_lets_pass_too_is_met_and_says_so(case_of):
    case, _ = case_of(hours(T0, LATER), max_gap_ms=12 * HOUR)
    judgement = judge_case(case)
    assert not judgement.only_as_asked
    lines = list(verdict_lines(case, judgement))
    assert lines[0].startswith("Met: ")
    assert "it is: met" in lines[1]
    assert verdict_json(case, judgement)["usual"] == "met"
    as_usual, _ = case_of(hours(T0, LATER))
    assert judge_case(as_usual).usual is None


def test_page_1_says_what_was_asked_for(case_of):
    case, _ = case_of(FAR_APART, max_gap_ms=30 * DAY)
    stated = {"id": "x", "key": {"spki_sha256": ""}, "readings": {"sha256": "", "rows": 2}}
    stated |= {"record": {"origin": "", "chain_head": ""}, "software": {"program": "", "typst": ""}}
    sheet = make_sheet(case, judge_case(case), stated, LATER, [])
    assert (sheet["verdict"], sheet["tone"]) == ("met only as asked", "not proven")
    assert sheet["beside"][0].startswith("Judged across gaps of up to 30 days")
    assert sheet["sentence"].startswith("As it was asked to be judged,")


def test_a_probe_of_the_files_that_nobody_named_is_said_first(case_of):
    case, _ = case_of(ONE_COLD, probes=("a",))
    assert "hold temperatures of b too" in case.left_out
    log = work(T0, "probe in", place="bay2", probe="b")
    elsewhere, _ = case_of(ONE_COLD, log, probes=("a",))
    assert elsewhere.left_out == ""


@pytest.mark.parametrize("kind", ["merged", "moved", "split"])
def test_material_that_went_nowhere_might_have_gone_anywhere(case_of, kind):
    with pytest.raises(MisuseError, match="column `to` is empty"):
        case_of(hours(T0, LATER), work(T0 + DAY, kind))


def test_a_pile_is_known_however_it_is_spelled_and_other_places_are_named(case_of):
    spelled, _ = case_of(hours(T0, LATER), work(LATER, "added", place="P1"))
    assert judge_case(spelled).finding.outcome is not Outcome.MET
    log = work(T0, "built") + work(LATER, "added", place="pile 1")
    other, _ = case_of(hours(T0, LATER), log)
    assert any("no part of this record: pile 1 (1)" in one for one in other.remarks)


@pytest.mark.parametrize("value", [200, -127])
def test_no_quality_column_makes_a_temperature_of_what_is_none(case_of, value):
    head = HEAD.strip() + ",quality\n"
    rows = [f"{one},1\n" for one in hours(T0, LATER).splitlines()]
    rows[40] = f"{line(T0 + 40 * HOUR, value).strip()},1\n"
    case, _ = case_of(head + "".join(rows))
    assert case.probes[0].quality[40] == 4
    assert verdict_json(case, judge_case(case))["thrown_away"] == 1


def test_days_that_were_not_hot_throughout_are_told_beside_the_verdict(case_of):
    # Turned each third day, and each time half a day on the way back to its heat.
    cold = {day * 24 + hour for day in range(0, 20, 3) for hour in range(14, 24)}
    readings = "".join(line(T0 + hour * HOUR, 40 if hour in cold else 63) for hour in range(24 * 20))
    log = "".join(work(T0 + day * DAY + 13 * HOUR, "turned") for day in range(0, 20, 3))
    case, _ = case_of(readings, work(T0, "built") + log, rule="us-112-54-turned")
    judgement = judge_case(case)
    assert judgement.met
    (told,) = [one for one in verdict_lines(case, judgement) if one.startswith("Of the 15 days that count")]
    assert "the rest was recovery after turnings" in told
    whole, _ = case_of(hours(T0, T0 + 20 * DAY), work(T0, "built"), rule="us-112-54-turned")
    assert not any("days that count" in one for one in verdict_lines(whole, judge_case(whole)))


@pytest.mark.parametrize(("hot_hours", "days"), [(3, 0), (13, 8), (17, 12), (19, 15), (24, 15)])
def test_a_heap_turned_every_evening_has_its_days_only_as_far_as_it_was_hot(case_of, hot_hours, days):
    """Half of each day at temperature was *met*: recovery after each evening's turning stood for the other half."""
    readings = "".join(
        line(T0 + hour * HOUR + minute * 60_000, 63 if hour % 24 < hot_hours else 40)
        for hour in range(24 * 16) for minute in (0, 59)
    )  # fmt: skip
    log = "".join(work(T0 + day * DAY + (hot_hours - 1) * HOUR + 59 * 60_000, "turned") for day in range(16))
    case, _ = case_of(readings, work(T0, "built") + log, rule="us-112-54-turned")
    judgement = judge_case(case)
    assert min(15, judgement.finding.values["days"]) == days
    assert judgement.met == (days == 15)
    text = "\n".join(verdict_lines(case, judgement))
    assert ("more than a quarter of the days asked for would be recovery" in text) == (3 < hot_hours < 19)
    if hot_hours == 3:
        assert "the rest was recovery after a turning" in text


def spot(day, minute, name, value):
    return line(T0 + day * DAY + minute * 60_000, value, probe=f"hand:p1{name and ':' + name}")


def test_spots_that_were_not_read_and_values_that_gave_way_are_told(case_of):
    both = "".join(spot(day, minute, name, 63) for day in range(5) for minute, name in ((0, "north"), (5, "south")))
    case, _ = case_of(both)
    assert not any("spot" in one for one in case.remarks)
    north = spot(0, 1, "south", 30) + "".join(spot(day, 0, "north", 63) for day in range(5))
    case, _ = case_of(north)
    assert any("In 4 of 5 rounds by hand not every spot was read" in one for one in case.remarks)
    text = " ".join(verdict_lines(case, judge_case(case)))
    assert "hand::" not in text
    twice = "".join(spot(day, minute, "north", value) for day in range(5) for minute, value in ((0, 30), (1, 63)))
    case, _ = case_of(twice)
    assert judge_case(case).met
    assert any("5 values of a spot gave way to a later one" in one for one in case.remarks)


def test_values_that_clash_stand_on_page_1(case_of):
    """The first value stayed, and nobody learned which rows clash."""
    again = line(T0 + 40 * HOUR, 58) + line(T0 + 40 * HOUR, 20) + line(T0 + 41 * HOUR, "21,5")
    case, _ = case_of(hours(T0, LATER) + again.replace("21,5", '"21,5"'))
    assert "At 2 instants a probe has several values; the coldest counts: " in case.left_out
    assert "r.csv line 42 ('58 Cel') beside r.csv line 100 ('20 Cel')" in case.left_out
    assert "r.csv line 43 ('58 Cel') beside r.csv line 101 ('21,5 Cel')" in case.left_out
    lines = list(verdict_lines(case, judge_case(case)))
    assert sum("several values" in one for one in lines) == 1


def test_why_a_heap_without_a_record_of_its_own_counts_as_raw_is_said_with_what_would_be_right(case_of):
    """It said *by its own record it had not met this rule* of a heap that was hot for days, and whose probe nobody named."""
    readings = hours(T0, LATER) + hours(T0, LATER, probe="b")
    log = work(T0, "built") + work(T0, "built", place="p2") + work(LATER - HOUR, "merged", place="p2", to="p1")
    case, _ = case_of(readings, log, probes=("a",))
    (said,) = [one for one in case.remarks if "was put onto this one" in one]
    assert "nobody says which probes were in that heap" in said
    assert "counts as raw" in said
    assert "an entry `probe in` at p2" in said
    assert judge_case(case).finding.outcome is Outcome.NOT_MET
    named, _ = case_of(readings, log + work(T0, "probe in", place="p2", probe="b"), probes=("a",))
    (said,) = [one for one in named.remarks if "was put onto this one" in one]
    assert "both had met this rule, each by its own record" in said
    assert judge_case(named).met
    cold = hours(T0, LATER) + hours(T0, LATER, 30, probe="b")
    unmet, _ = case_of(cold, log + work(T0, "probe in", place="p2", probe="b"), probes=("a",))
    (said,) = [one for one in unmet.remarks if "was put onto this one" in one]
    assert "by its own record it had not met this rule" in said


def test_what_the_files_themselves_call_bad_improves_nothing(case_of):
    """A cold reading that the column `quality` called bad was left out: *met*, *no gaps*, and not a word of it."""
    head = HEAD.strip() + ",quality\n"
    rows = [f"{one},1\n" for one in hours(T0, LATER).splitlines()]
    rows[40] = f"{line(T0 + 40 * HOUR, 40).strip()},4\n"
    case, _ = case_of(head + "".join(rows))
    assert "1 reading outside the rule's limits would count but for the files' own column `quality`" in case.left_out
    judgement = judge_case(case)
    assert (judgement.finding.outcome, judgement.finding.unproven_ms) == (Outcome.NOT_PROVEN, 2 * HOUR)
    # What lies within them decides nothing; what no heap can be is no temperature, whoever calls it so.
    rows[40] = f"{line(T0 + 40 * HOUR, 58).strip()},4\n"
    rows[60] = f"{line(T0 + 60 * HOUR, -127).strip()},4\n"
    fair, _ = case_of(head + "".join(rows))
    assert fair.left_out == ""
    assert judge_case(fair).met


def test_one_row_that_names_a_person_makes_no_probe_a_hand_thermometer(case_of):
    """Readings 20 hours apart were *met*, with 26 hours between rounds, since one of the rows said who read it."""
    head = HEAD.strip() + ",by\n"
    rows = [f"{line(T0 + n * 20 * HOUR, 60).strip()},\n" for n in range(8)]
    rows[3] = rows[3].strip() + "Ann Example\n"
    case, _ = case_of(head + "".join(rows))
    assert judge_case(case).finding.outcome is Outcome.NOT_PROVEN
    assert any("Some rows of a say who read them and others do not" in one for one in case.remarks)
    everyone, _ = case_of(head + "".join(one.strip() + ("" if "Ann" in one else "Ann Example") + "\n" for one in rows))
    assert judge_case(everyone).met
    assert any("read from a thermometer by a person" in one for one in everyone.remarks)
