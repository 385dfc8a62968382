"""Lines of the line protocol: exact numbers, words as codes, and the page that documents them."""

from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from mirror_fakes import START, effect, reading

from monitor.mirror import MirroredReading, codes, effect_line, effect_lines, reading_line
from monitor.mirror.line_protocol import ALARM, CONDITION, PHASE, READING, RULE, decimal, tagged
from monitor.mirror.write_api import Trouble, trouble_of
from monitor.model.effects import EffectKind
from monitor.model.words import AlarmState, Dampness, Phase, RuleState, Thermal

PAGE = Path(__file__).parents[3] / "docs" / "mirror.md"


def test_reading() -> None:
    row = MirroredReading(START, "p1-a", "temperature", "[degF]", 131_500_000, 55_278, 1)
    assert reading_line(row) == (
        f"heaptender_reading,probe=p1-a,quantity=temperature,unit=[degF] raw=131.500,value=55.278,flag=1i {START}"
    )


def test_a_reading_without_a_verdict_has_its_raw_value_only() -> None:
    assert reading_line(reading(START, milli=None, flag=None)).split(" ")[1] == "raw=0.000"


def test_raw_is_rounded_half_even() -> None:
    row = reading(START)._replace(micro=1_234_500)
    assert "raw=1.234," in reading_line(row)


@given(st.integers(-(10**12), 10**12))
def test_numbers_are_exact(milli: int) -> None:
    assert round(float(decimal(milli)) * 1000) == milli
    assert decimal(milli).partition(".")[2].isdigit()


def test_effects() -> None:
    lines = [
        effect_line(effect(START, EffectKind.PHASE, "phase", "holding", batch="p1-2026-03-01")),
        effect_line(effect(START, EffectKind.CONDITION, "thermal", "overheating")),
        effect_line(effect(START, EffectKind.CONDITION, "moisture", "too wet")),
        effect_line(effect(START, EffectKind.ALARM, "too-hot", "unacknowledged")),
        effect_line(
            effect(START, EffectKind.RULE, "us-112-54-turned", "running", days=3, longest_run_h=61.5, note="x")
        ),
    ]
    since = f"since={START // 1000 - 1}.500"
    assert lines == [
        f"heaptender_phase,batch=p1-2026-03-01,place=p1 code=1i,{since} {START}",
        f"heaptender_condition,axis=thermal,place=p1 code=5i,{since} {START}",
        f"heaptender_condition,axis=moisture,place=p1 code=3i,{since} {START}",
        f"heaptender_alarm,alarm=too-hot,place=p1 code=1i,{since} {START}",
        f"heaptender_rule,place=p1,rule=us-112-54-turned code=1i,{since},days=3.000,longest_run_h=61.500 {START}",
    ]


def test_notices_are_not_mirrored() -> None:
    assert effect_line(effect(START, EffectKind.NOTICE, "new", "anna")) is None


def test_of_two_effects_for_one_point_the_later_stays() -> None:
    lines = effect_lines(
        [
            effect(START, EffectKind.ALARM, "hot", "unacknowledged", 0),
            effect(START, EffectKind.PHASE, "phase", "cooling", 1),
            effect(START, EffectKind.ALARM, "hot", "acknowledged", 2),
        ]
    )
    assert len(lines) == 2
    assert "code=2i" in lines[0]


@given(st.text(max_size=30))
def test_no_id_breaks_a_line(text: str) -> None:
    line = reading_line(reading(START, probe=text))
    assert "\n" not in line
    assert line.endswith(f" {START}")


@pytest.mark.parametrize(
    ("status", "retry_after_s", "trouble"),
    [
        (400, None, Trouble.DATA),
        (401, None, Trouble.REFUSED),
        (404, None, Trouble.REFUSED),
        (413, None, Trouble.LARGE),
        (429, None, Trouble.BUSY),
        (500, None, Trouble.AWAY),
        (503, None, Trouble.AWAY),
        (503, 5.0, Trouble.BUSY),
        (418, None, Trouble.REFUSED),
    ],
)
def test_statuses(status: int, retry_after_s: float | None, trouble: Trouble) -> None:
    assert trouble_of(status, retry_after_s) is trouble


def test_the_page_names_every_measurement_and_code() -> None:
    page = PAGE.read_text(encoding="utf-8")
    for name in (READING, PHASE, CONDITION, ALARM, RULE):
        assert f"`{name}`" in page
    for words in (Phase, Thermal, Dampness, AlarmState, RuleState):
        assert ", ".join(f"{code} {word}" for word, code in codes(words).items()) in page


def test_a_yard_that_shares_a_server_is_a_tag_of_each_point():
    line = reading_line(reading(START))
    assert tagged(line, "tern hollow") == line.replace("heaptender_reading,", "heaptender_reading,yard=tern\\ hollow,")
    assert tagged("heaptender_mirror alive=1i", "tern") == "heaptender_mirror,yard=tern alive=1i"
    assert tagged(line, "") == line
