"""Two values of one probe at one instant: nothing is met by the kinder of them, whichever row came first."""

from itertools import product

import pytest
from certificate_yard import T0 as START
from certificate_yard import Journal
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from test_cases_files import DAY, HEAD, HOUR, T0, case_of, hours, line

from monitor.app.cases.verdict_words import verdict_lines
from monitor.certificate import judge_case
from monitor.model.events import EventKind
from monitor.proof.verdict import Outcome

__all__ = ["case_of"]

LOWER_ONLY, WITH_UPPER = "us-503-pfrp-static", "us-205-203-static"
FOUR_DAYS = hours(T0, T0 + 4 * DAY)
AT = T0 + 40 * HOUR


@pytest.fixture
def journal(tmp_path):
    made = Journal(tmp_path)
    yield made
    made.writer.close()


def test_a_hotter_first_row_does_not_make_a_batch_met(case_of):
    """It said *met* by 58 °C, though another row of the same instant says 20 °C."""
    short = hours(T0, T0 + 3 * DAY)
    case, _ = case_of(short)
    assert judge_case(case).met
    for both in (line(AT, 20) + short, short + line(AT, 20)):
        case, _ = case_of(both)
        assert judge_case(case).finding.outcome is not Outcome.MET


def test_the_same_temperature_in_another_unit_is_no_clash(case_of):
    case, _ = case_of(FOUR_DAYS + line(AT, "136.4", unit="[degF]") + line(AT, "58.0"))
    assert "several values" not in case.left_out
    assert judge_case(case).met


def test_of_equal_values_the_row_that_is_called_bad_stays(case_of):
    head = HEAD.strip() + ",quality\n"
    rows = "".join(f"{one},1\n" for one in FOUR_DAYS.splitlines())
    cold = line(AT, 30).strip()
    case, _ = case_of(head + rows + f"{cold},1\n{cold},4\n")
    place = case.probes[0].times.tolist().index(AT)
    assert (case.probes[0].micro[place], case.probes[0].quality[place]) == (30_000_000, 4)


def test_where_heat_can_be_too_much_neither_value_counts(case_of):
    case, _ = case_of(FOUR_DAYS + line(AT, 60), rule=WITH_UPPER)
    finding = judge_case(case).finding
    assert finding.unproven_ms == 2 * HOUR
    assert "At 1 instant a probe has several values; the rule has an upper limit" in case.left_out
    assert "none of them counts" in case.left_out


@pytest.mark.parametrize("rule", [LOWER_ONLY, WITH_UPPER])
@settings(max_examples=40, deadline=None, suppress_health_check=[HealthCheck.function_scoped_fixture])
@given(
    at=st.lists(st.integers(0, 80), min_size=1, max_size=3, unique=True),
    values=st.lists(
        st.lists(st.sampled_from([20, 54, 56, 58, 76, 78]), min_size=2, max_size=2), min_size=3, max_size=3
    ),
    first=st.booleans(),
)
def test_met_with_several_values_means_met_with_each_of_them(case_of, rule, at, values, first):
    rest = "".join(line(T0 + hour * HOUR, 58) for hour in range(81) if hour not in at)
    rows = [[line(T0 + hour * HOUR, value) for value in two] for hour, two in zip(at, values, strict=False)]
    clashing = "".join(two[0] + two[1] for two in rows)
    case, _ = case_of(clashing + rest if first else rest + clashing, rule=rule)
    if judge_case(case).met:
        for picked in product(*rows):
            assert judge_case(case_of(rest + "".join(picked), rule=rule)[0]).met


@pytest.mark.parametrize("first", [True, False])
def test_where_an_error_code_stands_beside_a_temperature_none_counts(case_of, first):
    both = [line(AT, 58), line(AT, -127)]
    rest = "".join(line(T0 + hour * HOUR, 58) for hour in range(97) if hour != 40)
    case, _ = case_of("".join(both if first else both[::-1]) + rest)
    assert judge_case(case).finding.unproven_ms == 2 * HOUR
    assert "one of them failed its checks or is no temperature, so none of them counts" in case.left_out
    case, _ = case_of("".join(both) + line(T0 + 50 * HOUR, 57) + rest)
    assert (
        "the coldest counts (at 1 of these instants one failed its checks or is no temperature, so none"
        in case.left_out
    )


def held(journal, days=4):
    journal.work(START, "p3", "built")
    journal.hold(START + HOUR, START + days * DAY, p3_a=60, air=8)


def test_what_the_journal_set_aside_is_held_against_what_it_kept(journal):
    held(journal, days=3)
    journal.read(START + 3 * DAY, p3_a=60, air=8)
    journal.read(START + 3 * DAY + HOUR, p3_a=60, air=8)
    case = journal.case("p3")
    assert judge_case(case).met
    clash = START + 40 * HOUR
    journal.put(START + 4 * DAY, EventKind.READINGS, {"rows": [[clash, "p3-a", 68_000_000, "[degF]"]]})
    case = journal.case("p3")
    assert not judge_case(case).met
    assert "At 1 instant a probe has several values; the coldest counts: p3-a on 3 Nov" in case.left_out
    assert "60 °C beside 68 °F" in case.left_out
    assert any("several values" in one for one in verdict_lines(case, judge_case(case)))


def test_a_hotter_value_that_the_journal_set_aside_changes_nothing_but_is_told(journal):
    held(journal)
    journal.put(START + 5 * DAY, EventKind.READINGS, {"rows": [[START + 40 * HOUR, "p3-a", 61_000_000, "Cel"]]})
    case = journal.case("p3")
    assert judge_case(case).met
    assert case.probes[0].micro.max() == 60_000_000
    assert "60 °C beside 61 °C" in case.left_out


def test_what_clashes_counts_for_nothing_where_the_journals_rule_has_an_upper_limit(journal):
    held(journal)
    journal.put(START + 5 * DAY, EventKind.READINGS, {"rows": [[START + 40 * HOUR, "p3-a", 61_000_000, "Cel"]]})
    case = journal.case("p3", rule=WITH_UPPER)
    assert case.probes[0].unread == (START + 40 * HOUR,)
    assert judge_case(case).finding.unproven_ms >= 2 * HOUR
