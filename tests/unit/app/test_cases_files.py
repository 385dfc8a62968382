"""Cases from CSV files without any configuration: what counts, what is said of it."""

from dataclasses import replace

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.app.cases import Asked, known_rule
from monitor.app.cases.case_columns import file_columns
from monitor.app.cases.from_files import file_case
from monitor.app.cases.read_files import Files
from monitor.app.cases.verdict_words import verdict_json, verdict_lines
from monitor.certificate import judge_case
from monitor.conditioning import condition_bare
from monitor.material import HeatStatus
from monitor.model.errors import MisuseError
from monitor.model.flags import Flag
from monitor.model.thresholds import ProbeThresholds
from monitor.model.times import show_time
from monitor.model.units import Quantity
from monitor.proof.verdict import Outcome
from monitor.recordings import ReadingRow

T0 = 1_772_323_200_000  # 2026-03-01T00:00:00Z
MIN, HOUR, DAY = 60_000, 3_600_000, 86_400_000
HEAD = "time,probe,quantity,value,unit\n"
WORK_HEAD = "time,place,to,probe,kind,amount,measure,by,note\n"


def line(at, value, probe="a", unit="Cel"):
    return f"{show_time(at)},{probe},temperature,{value},{unit}\n"


def work(at, kind, *, place="p1", to="", probe="", note="", amount="", measure="", by="Ann Example"):
    return f"{show_time(at)},{place},{to},{probe},{kind},{amount},{measure},{by},{note}\n"


@pytest.fixture
def case_of(tmp_path):
    def made(readings, works="", rule="us-503-pfrp-static", pile="p1", by_hand=False, **asked):
        table = tmp_path / "r.csv"
        table.write_text(readings if readings.startswith("time,") else HEAD + readings, encoding="utf-8")
        log = []
        if works:
            (tmp_path / "w.csv").write_text(WORK_HEAD + works, encoding="utf-8")
            log = [tmp_path / "w.csv"]
        files = Files([table], log, pile, by_hand=by_hand)
        return file_case(files, known_rule(rule, None), Asked(now=T0 + 90 * DAY, **asked))

    return made


def hours(start, end, value=58, probe="a"):
    return "".join(line(at, value, probe) for at in range(start, end + 1, HOUR))


def test_a_constant_heap_holds_for_exactly_as_long_as_it_was_read(case_of):
    case, problems = case_of(hours(T0, T0 + 72 * HOUR))
    finding = judge_case(case).finding
    assert (finding.outcome, finding.total_ms, finding.unproven_ms) == (Outcome.MET, 72 * HOUR, 0)
    assert problems == []
    assert set(case.probes[0].quality.tolist()) == {2}
    assert (case.batch, case.built, case.restarts, case.lay_on) == ("", None, (), ())


def test_a_turning_takes_no_probe_out_unless_one_is_logged_in_after_it(case_of):
    turnings = [T0 + day * DAY for day in (3, 6, 9, 12, 14)]
    readings = hours(T0, T0 + 15 * DAY) + hours(T0, T0 + 15 * DAY, 60, "b")
    log = "".join(work(at, "turned") for at in turnings)
    case, _ = case_of(readings, log, "us-112-54-turned", probes=("a", "b"))
    finding = judge_case(case).finding
    assert (finding.outcome, finding.total_ms, finding.turnings) == (Outcome.MET, 15 * DAY, 5)
    # With probe a back an hour later, that hour rests on probe b alone; what a read in it does not count.
    log += work(turnings[0] + HOUR, "probe in", probe="a")
    case, _ = case_of(readings.replace(line(turnings[0], 58), line(turnings[0] + 1, 12)), log, "us-112-54-turned",
                      probes=("a", "b"))  # fmt: skip
    assert case.probes[0].service[0] == (T0, turnings[0])
    assert [(one.how, one.into) for one in case.probes[0].entries] == [("turning", False), ("probe in", True)]
    # Probe a's last reading before the turning, and its first after it is in again, leave no gap but its own.
    assert judge_case(case).finding.outcome is Outcome.MET


def test_a_probe_serves_from_its_probe_in_to_its_probe_out(case_of):
    log = work(T0 + DAY, "probe in", probe="b") + work(T0 + 5 * DAY, "probe out", probe="b")
    readings = hours(T0, T0 + 8 * DAY) + hours(T0, T0 + 8 * DAY, 20, "b")
    case, _ = case_of(readings, log, probes=("a", "b"))
    b = case.probes[1]
    assert b.service == ((T0 + DAY, T0 + 5 * DAY),)
    assert b.retired_by == "Ann Example"
    judgement = judge_case(case)
    assert judgement.finding.hold == ((T0, T0 + DAY), (T0 + 5 * DAY, T0 + 8 * DAY))
    assert judgement.without[0][1].total_ms == 8 * DAY


def test_building_begins_the_record_and_added_restarts_the_hold(case_of):
    log = work(T0 + DAY, "built", note="leaves", amount="3", measure="m3") + work(T0 + 3 * DAY, "added", note="grounds")
    case, _ = case_of(hours(T0, T0 + 7 * DAY), log)
    assert case.built == T0 + DAY
    assert case.restarts == (T0 + DAY, T0 + 3 * DAY)
    finding = judge_case(case).finding
    assert (finding.start, finding.counts_from) == (T0 + DAY, T0 + 3 * DAY)
    assert case.quantity == "3 m3"
    assert case.feedstocks.startswith("leaves; added on ")


def test_the_newest_batch_of_the_pile_is_meant_and_it_may_have_moved(case_of):
    log = (
        work(T0, "built", place="p2")
        + work(T0 + 2 * DAY, "built", place="p3")
        + work(T0 + 3 * DAY, "moved", place="p2", to="p1")
    )
    case, _ = case_of(hours(T0, T0 + 6 * DAY), log)
    assert case.built == T0
    assert [place for place, _, _ in case.lay_on] == ["p2", "p1"]
    assert case.turnings == (T0 + 3 * DAY,)
    assert judge_case(case).finding.total_ms == 6 * DAY


def test_daily_dial_readings_are_joined_as_far_as_the_person_says(case_of):
    readings = "".join(line(T0 + day * DAY, 140, unit="[degF]") for day in range(8))
    short, _ = case_of(readings, rule="backyard-130f-3d", by_hand=True, hand_gap_ms=23 * HOUR)
    finding = judge_case(short).finding
    assert (finding.outcome, finding.total_ms, finding.unproven_ms) == (Outcome.NOT_PROVEN, 0, 7 * DAY)
    assert judge_case(short).assumed == ()
    for said in ({}, {"hand_gap_ms": 26 * HOUR}, {"max_gap_ms": 26 * HOUR}):
        stated, _ = case_of(readings, rule="backyard-130f-3d", by_hand=True, **said)
        judgement = judge_case(stated)
        assert judgement.finding.total_ms == 7 * DAY
        assert judgement.assumed == ((T0, T0 + 7 * DAY),), "and all of it is assumed"
        assert stated.temperature_unit == "degF"
        assert any("26 h apart" in one and "is assumed to run straight" in one for one in stated.remarks)
        assert any("read from a thermometer by a person" in one for one in stated.remarks)


def test_a_quality_column_is_used_as_it_is(case_of):
    head = "time,probe,quantity,value,unit,quality\n"
    rows = [f"{show_time(T0 + hour * HOUR)},a,temperature,58,Cel,{4 if hour == 30 else 1}\n" for hour in range(73)]
    rows[40] = rows[40].replace(",1\n", ",\n")
    case, _ = case_of(head + "".join(rows))
    assert case.probes[0].quality[30] == 4
    assert case.probes[0].quality[40] == 2
    assert case.probes[0].quality[0] == 1


def test_what_cannot_be_read_and_what_was_read_twice_is_said(case_of):
    rubbish = line(T0 + HOUR, "warm") + line(T0 + 2 * HOUR, 99) + line(T0 + 2 * HOUR, 61)
    case, problems = case_of(hours(T0, T0 + 72 * HOUR) + rubbish)
    assert ["r.csv line" in str(one) for one in problems] == [True]
    assert any(one.startswith("1 row of readings cannot be read") for one in case.remarks)
    assert any(one.startswith("At 1 instant a probe has several values; the coldest counts") for one in case.remarks)
    assert judge_case(case).finding.outcome is Outcome.NOT_PROVEN


@pytest.mark.parametrize(
    ("asked", "readings", "sentence"),
    [
        ({"probes": ("x",)}, hours(T0, T0 + DAY), 'no temperature of a probe "x"'),
        ({}, hours(T0, T0 + DAY) + hours(T0, T0 + DAY, 60, "b"), "Say which probes were in the core"),
        ({}, f"{show_time(T0)},a,moisture,60,%\n", "There is no temperature in"),
        ({}, "", "There is no temperature in"),
        ({}, "time,probe\n", "Nothing can be read: .*r.csv line 1"),
    ],
)
def test_what_cannot_be_meant_is_refused(case_of, asked, readings, sentence):
    with pytest.raises(MisuseError, match=sentence):
        case_of(readings, **asked)


def test_a_work_log_about_something_else_is_told(case_of):
    case, _ = case_of(hours(T0, T0 + DAY), work(T0, "turned", place="bay1"))
    assert any("No entry of the work log is about p1" in one for one in case.remarks)


VALUES = st.sampled_from(
    [85_000_000, -127_000_000, 58_000_000, 58_000_001, 100_000_000, 100_000_501, 20_000_000, -40_000_500]
)


@settings(max_examples=60, deadline=None)
@given(st.lists(st.tuples(st.integers(0, 500), VALUES), min_size=1, max_size=40, unique_by=lambda pair: pair[0]))
def test_flags_of_bare_files_are_those_of_conditioning(pairs):
    rows = [ReadingRow(T0 + minute * 7 * MIN, "a", Quantity.TEMPERATURE, micro, "Cel") for minute, micro in pairs]
    columns, conflicts = file_columns(rows, ProbeThresholds())
    verdicts = condition_bare([row.reading() for row in sorted(rows)])
    assert conflicts == []
    assert columns["a"].quality.tolist() == [int(verdict.flag) for verdict in verdicts]
    assert columns["a"].times.tolist() == [verdict.time for verdict in verdicts]


@pytest.mark.parametrize(("unit", "degrees"), [("Cel", 100.0006), ("[degF]", 212.0011), ("K", 373.1506)])
def test_the_measurable_range_ends_at_the_same_value_in_every_unit(unit, degrees):
    micro = round(degrees * 1_000_000)
    rows = [
        ReadingRow(T0, "a", Quantity.TEMPERATURE, micro, unit),
        ReadingRow(T0 + 1, "a", Quantity.TEMPERATURE, micro - 1100, unit),
    ]
    quality = file_columns(rows, ProbeThresholds())[0]["a"].quality
    assert quality.tolist() == [int(Flag.FAIL), int(Flag.NOT_EVALUATED)]
    assert quality.dtype == np.int8


def test_raw_material_after_the_last_reading_makes_a_met_batch_void(case_of):
    # trade.md B2
    when = T0 + 4 * DAY + HOUR
    met, _ = case_of(hours(T0, T0 + 4 * DAY))
    assert judge_case(met).heat_status is HeatStatus.MET
    case, _ = case_of(hours(T0, T0 + 4 * DAY), work(when, "added"))
    judgement = judge_case(case)
    assert judgement.finding.outcome is Outcome.NOT_MET
    assert judgement.heat_status is HeatStatus.VOID
    assert (judgement.as_of, judgement.finding.counts_from) == (when, when)
    assert judgement.finding.end == T0 + 4 * DAY
    earlier, _ = case_of(hours(T0, T0 + 4 * DAY), work(when, "added"), as_of=when - 1)
    assert judge_case(earlier).finding.outcome is Outcome.MET
    assert "Material (not named) was added" in earlier.came_after[0]
    assert "the verdict is: not met (the material is void)" in earlier.came_after[-1]


def test_a_record_that_ends_before_material_came_in_says_what_came_after(case_of):
    # `--to` must not hide it either.
    case, _ = case_of(hours(T0, T0 + 4 * DAY), work(T0 + 4 * DAY, "added"), end=T0 + 4 * DAY - HOUR)
    assert judge_case(case).finding.outcome is Outcome.MET
    assert any("was added" in one for one in case.came_after)
    assert any("the verdict is: not met" in one for one in case.came_after)


def test_no_doubt_helps_where_what_was_held_was_made_void(case_of):
    # Three hours of silence after raw material came in; without it the doubt would be one.
    rows = hours(T0, T0 + 70 * HOUR) + hours(T0 + 73 * HOUR, T0 + 130 * HOUR)
    doubtful = judge_case(case_of(rows)[0])
    assert (doubtful.finding.outcome, doubtful.heat_status) == (Outcome.NOT_PROVEN, HeatStatus.RUNNING)
    judgement = judge_case(case_of(rows, work(T0 + HOUR, "added"))[0])
    assert (judgement.finding.outcome, judgement.heat_status) == (Outcome.NOT_MET, HeatStatus.RUNNING)
    assert "made void by what came in" in judgement.finding.reasons[-1]
    # Of a heap that never held before, the doubt stays one.
    cold = hours(T0, T0 + HOUR, 20) + hours(T0 + 2 * HOUR, T0 + 70 * HOUR) + hours(T0 + 73 * HOUR, T0 + 130 * HOUR)
    assert judge_case(case_of(cold, work(T0 + HOUR, "added"))[0]).finding.outcome is Outcome.NOT_PROVEN


def test_five_entries_of_one_turning_are_one(case_of):
    log = "".join(work(T0 + 5 * DAY + n * MIN, "turned", by=name) for n, name in enumerate("ABCDE"))
    case, _ = case_of(hours(T0, T0 + 20 * DAY), log, "us-112-54-turned")
    finding = judge_case(case).finding
    assert (finding.outcome, finding.turnings, finding.turnings_logged) == (Outcome.NOT_MET, 1, 5)
    assert (
        "needs 5 turnings within that time, 1 counted (of 5 logged, 4 within 6 h of another are one with it)"
        in (finding.reasons[0])
    )
    said = verdict_json(case, judge_case(case))
    assert (said["turnings"], said["turnings_logged"]) == (1, 5)


BAD = ("49,9", "n/a", "")


@pytest.mark.parametrize("value", BAD)
def test_a_row_that_cannot_be_read_improves_nothing(case_of, value):
    # checks.md A2: 97 hourly readings at 60, one of which cannot be read.
    rows = hours(T0, T0 + 39 * HOUR, 60) + line(T0 + 40 * HOUR, value) + hours(T0 + 41 * HOUR, T0 + 96 * HOUR, 60)
    case, problems = case_of(rows)
    judgement = judge_case(case)
    assert [one.time for one in problems] == [T0 + 40 * HOUR]
    assert case.probes[0].unread == (T0 + 40 * HOUR,)
    assert judgement.finding.outcome is Outcome.NOT_PROVEN
    assert judgement.finding.unproven_ms == 2 * HOUR
    assert any("1 row of readings cannot be read" in one for one in case.remarks)


@pytest.mark.parametrize(
    "bad",
    [
        line(T0 + 40 * HOUR, 60, unit="degX"),
        f"{show_time(T0 + 40 * HOUR)},a\n",
        f"{show_time(T0 + 40 * HOUR)},a,temperature,49,9,Cel\n",
    ],
)
def test_a_wrong_unit_or_shape_is_not_proven_either(case_of, bad):
    case, _ = case_of(hours(T0, T0 + 39 * HOUR, 60) + bad + hours(T0 + 41 * HOUR, T0 + 96 * HOUR, 60))
    assert judge_case(case).finding.outcome is Outcome.NOT_PROVEN


def test_an_unreadable_row_of_another_probe_or_quantity_harms_nobody(case_of):
    other = line(T0 + 40 * HOUR, "x", probe="b") + line(T0 + HOUR, 20, probe="b")
    damp = f"{show_time(T0 + 40 * HOUR)},a,moisture,x,%\n"
    case, problems = case_of(hours(T0, T0 + 96 * HOUR, 60) + other + damp, probes=("a",))
    assert len(problems) == 2
    assert judge_case(case).finding.outcome is Outcome.MET


def test_a_reading_beside_an_unreadable_one_of_the_same_instant_proves_its_instant_only(case_of):
    rows = hours(T0, T0 + 96 * HOUR, 60) + line(T0 + 40 * HOUR, "?")
    assert judge_case(case_of(rows)[0]).finding.unproven_ms == 2 * HOUR


def test_the_last_row_counts_though_nobody_can_read_it(case_of):
    finding = judge_case(case_of(hours(T0, T0 + 80 * HOUR, 60) + line(T0 + 81 * HOUR, "?"))[0]).finding
    assert (finding.outcome, finding.end, finding.unproven_ms) == (Outcome.MET, T0 + 81 * HOUR, HOUR)


@pytest.mark.parametrize(
    ("rows", "works"),
    [
        ("03.13.2026 at four,a,temperature,60,Cel\n", ""),
        (f"{show_time(T0 + 40 * HOUR)},,temperature,60,Cel\n", ""),
        (f"{show_time(T0 + 40 * HOUR)},strange,temperature,x,Cel\n", ""),
        ("", work(T0 + 40 * HOUR, "add")),
        ("", "whenever,p1,,,added,,,,\n"),
    ],
)
def test_lines_that_might_say_anything_are_refused_unless_they_are_left_out(tmp_path, rows, works):
    (tmp_path / "r.csv").write_text(HEAD + hours(T0, T0 + 96 * HOUR, 60) + rows, encoding="utf-8")
    (tmp_path / "w.csv").write_text(WORK_HEAD + works, encoding="utf-8")
    files = Files([tmp_path / "r.csv"], [tmp_path / "w.csv"], "p1")
    known, asked = known_rule("us-503-pfrp-static", None), Asked(now=T0 + 90 * DAY)
    with pytest.raises(MisuseError, match=r"1 line that cannot be read and might say[\s\S]*line \d+[\s\S]*--leave-out"):
        file_case(files, known, asked)
    case, problems = file_case(replace(files, leave_out=True), known, asked)
    assert judge_case(case).finding.outcome is Outcome.MET
    assert len(problems) == 1
    assert "1 line that cannot be read was left out, as whoever asked" in case.left_out
    assert "line " in case.left_out


def test_every_line_that_cannot_be_read_is_named_at_once(tmp_path):
    whole = hours(T0, T0 + 96 * HOUR, 60)
    (tmp_path / "r.csv").write_text(
        HEAD + line(T0 + 40 * HOUR, "?") + "03.13.2026 at four,a,temperature,60,Cel\n" + whole
    )
    files = Files([tmp_path / "r.csv"], [], "p1")
    with pytest.raises(MisuseError) as told:
        file_case(files, known_rule("us-503-pfrp-static", None), Asked(now=T0 + 90 * DAY))
    first, beside = str(told.value).split("Beside them")
    assert "line 3" in first
    assert "line 2" not in first
    assert "line 2" in beside


@settings(max_examples=60, deadline=None)
@given(st.data())
def test_spoiling_rows_never_makes_a_verdict_better(data):
    # Whatever the record and whichever rows become unreadable: what was not met or not proven does not become met.
    count = data.draw(st.integers(73, 110))
    values = [data.draw(st.sampled_from([60, 60, 60, 60, 60, 60, 60, 60, 50])) for _ in range(count)]
    spoiled = data.draw(st.sets(st.integers(0, count - 1), max_size=4))
    import tempfile
    from pathlib import Path

    def verdict(bad):
        rows = "".join(line(T0 + n * HOUR, "?" if n in bad else value) for n, value in enumerate(values))
        with tempfile.TemporaryDirectory() as folder:
            path = Path(folder) / "r.csv"
            path.write_text(HEAD + rows, encoding="utf-8")
            case, _ = file_case(
                Files([path], [], "p1"), known_rule("us-503-pfrp-static", None), Asked(now=T0 + 90 * DAY)
            )
        return judge_case(case).finding

    whole, less = verdict(()), verdict(spoiled)
    assert not (less.outcome is Outcome.MET and whole.outcome is not Outcome.MET)
    assert less.total_ms <= whole.total_ms


def verdict_lines_of(case):
    return list(verdict_lines(case, judge_case(case)))


def test_fahrenheit_called_celsius_is_asked_about(case_of):
    # newcomer.md A11
    rows = "".join(line(T0 + n * HOUR, 140 if n % 10 else 60) for n in range(100))
    case, _ = case_of(rows)
    (asked,) = [one for one in case.remarks if "is the unit °F?" in one]
    assert asked.startswith("90 of 100 readings are above 100 °C and were thrown away as impossible")
    every, _ = case_of("".join(line(T0 + n * HOUR, 140) for n in range(100)))
    with pytest.raises(MisuseError, match="100 of 100 readings are above 100 °C"):
        judge_case(every)


@pytest.mark.parametrize(("hot", "asked"), [(49, False), (51, True)])
def test_a_heap_that_would_burn_is_told_first_since_its_unit_may_be_wrong(case_of, hot, asked):
    """A cool heap of 97 °F whose file calls them °C was *met* without a word."""
    case, _ = case_of("".join(line(T0 + n * HOUR, 97 if n < hot else 60) for n in range(100)))
    told = f"{hot} of 100 readings are above 82 °C (180 °F)"
    assert case.left_out.startswith(told) is asked
    first = verdict_lines_of(case)[1].strip()
    assert first.startswith(told) is asked
    assert first.endswith("is the unit °F?") is asked


def test_rounds_too_far_apart_are_told_the_option_that_joins_rounds(case_of):
    rows = "".join(line(T0 + day * DAY, 63, probe="hand:p1") for day in (0, 2, 4))
    case, _ = case_of(rows)
    (hint,) = [one for one in verdict_lines_of(case) if one.startswith("Hint: ")]
    assert hint.startswith("Hint: the readings by hand lie about 48 h apart")
    assert "more than 26 h apart is not proven. A longer --hand-gap would join them" in hint


def test_a_fall_before_the_entry_is_stated(case_of):
    felt, done = T0 + 54 * HOUR, T0 + 55 * HOUR
    rows = "".join(line(at, 60) for at in range(T0, felt, 10 * MIN))
    rows += "".join(line(at, 20) for at in range(felt, done + 30 * MIN, 10 * MIN))
    rows += "".join(line(at, 59) for at in range(done + 40 * MIN, T0 + 5 * DAY + 1, 10 * MIN))
    log = work(done, "turned") + work(done + 30 * MIN, "probe in", probe="a")
    case, _ = case_of(rows, log, "us-112-54-turned")
    judgement = judge_case(case)
    assert judgement.finding.falls == ((done, felt - 10 * MIN),)
    assert judgement.finding.values["days"] == 5
    assert any("felt the air from" in one for one in verdict_lines(case, judgement))
    bare, _ = case_of(rows, "", "us-112-54-turned")
    finding = judge_case(bare).finding
    assert (finding.values["days"], finding.falls) == (4, ())
    assert "1 day does not count: that from 2026-03-03" in finding.reasons[1]
