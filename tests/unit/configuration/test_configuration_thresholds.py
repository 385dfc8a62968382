"""Keys, values with units and order of thresholds; the reference page is in step with the code."""

import re
from dataclasses import fields
from pathlib import Path
from typing import Any, get_args

import pytest
from hypothesis import given
from hypothesis import strategies as st
from pydantic import BaseModel

from monitor.configuration import keys_of, read_range, show_both, show_value
from monitor.configuration.config_document import Document
from monitor.configuration.config_problems import Problems, UnfitError
from monitor.configuration.quantities import (
    density_kg_m3,
    difference_milli_k,
    duration_ms,
    duty_window,
    instant_ms,
    length_milli_m,
    minute_of_day,
    percent_milli,
    quiet_hours,
    temperature_milli_c,
)
from monitor.configuration.thresholds import Kind, check_order, read_value
from monitor.model.alarm_kinds import Alarm
from monitor.model.settings import Bin, DutyWindow, Pile, Settings, Site
from monitor.model.thresholds import BinThresholds, PileThresholds, ProbeThresholds

PAGE = Path(__file__).parents[3] / "docs" / "configuration.md"
CLASSES = [PileThresholds, BinThresholds, ProbeThresholds]


@pytest.mark.parametrize("cls", CLASSES)
def test_every_field_has_a_key_of_its_own(cls: type) -> None:
    known = keys_of(cls)
    assert [threshold.field for threshold in known.values()] == [field.name for field in fields(cls)]
    assert not any(key.endswith(("_ms", "_milli_c", "_milli_k", "_milli_pct")) for key in known)


@pytest.mark.parametrize("cls", CLASSES)
def test_every_default_can_be_written_as_it_is_shown(cls: type) -> None:
    for threshold in keys_of(cls).values():
        assert read_value(threshold, show_value(threshold.kind, threshold.default)) == threshold.default


@pytest.mark.parametrize("cls", CLASSES)
def test_defaults_stand_in_order(cls: type) -> None:
    problems = Problems("x")
    check_order(cls(), {}, (), problems)
    assert problems.found == []


@pytest.mark.parametrize("unit", ["degF", "degC"])
@pytest.mark.parametrize(("cls", "place"), [(PileThresholds, "p1"), (BinThresholds, "b1")])
def test_the_range_that_tuning_tries_holds_the_default(cls: type, place: str, unit: str) -> None:
    settings = Settings(
        site=Site(temperature_unit=unit), piles={"p1": Pile(name="Bay 1")}, bins={"b1": Bin(name="Bin 1")}
    )
    tried = {key: one for key, one in keys_of(cls).items() if one.said.range_in(unit)}
    for key, threshold in tried.items():
        values = read_range(f"{key}={threshold.said.range_in(unit)}", settings, place).values
        assert min(values) <= threshold.default <= max(values)
    assert tried.keys() <= {key for alarm in Alarm for key in alarm.kind.goes_by}
    assert tried


def reference_table(cls: type) -> str:
    """Return the table of a class's keys for the reference page, in Markdown."""
    rows = ["| key | default | °F | °C | meaning |", "|---|---|---|---|---|"]
    for threshold in keys_of(cls).values():
        fahrenheit, celsius = show_both(threshold.kind, threshold.default)
        written = show_value(threshold.kind, threshold.default)
        shown = written if threshold.kind is Kind.COUNT else f'"{written}"'
        if fahrenheit == celsius:
            fahrenheit = celsius = "–"
        rows.append(f"| `{threshold.key}` | `{shown}` | {fahrenheit} | {celsius} | {threshold.said.meaning} |")
    return "\n".join(rows) + "\n"


@pytest.mark.parametrize("cls", CLASSES)
def test_reference_page_holds_the_tables(cls: type) -> None:
    assert reference_table(cls) in PAGE.read_text(encoding="utf-8"), reference_table(cls)


def part_keys(model: type[BaseModel]) -> list[tuple[str, Any]]:
    return [(field.alias or name, field.annotation) for name, field in model.model_fields.items()]


def every_key() -> set[str]:
    found: set[str] = set()
    rest: list[type[BaseModel]] = [Document]
    while rest:
        for key, annotation in part_keys(rest.pop()):
            found.add(key)
            inner = (annotation, *get_args(annotation))
            rest.extend(part for part in inner if isinstance(part, type) and issubclass(part, BaseModel))
    return found


def test_reference_page_names_every_key() -> None:
    page = PAGE.read_text(encoding="utf-8")
    named = set(re.findall(r"`([a-z_]+)`", page)) | set(re.findall(r"[\[.]([a-z_]+)", page))
    assert every_key() - named == set()


@pytest.mark.parametrize(
    ("text", "milli_c"),
    [("85 degF", 29_444), ("29.4 degC", 29_400), ("170°F", 76_667), ("-3.5 °C", -3_500), ("131 [degF]", 55_000)],
)
def test_temperature(text: str, milli_c: int) -> None:
    assert temperature_milli_c(text) == milli_c


@pytest.mark.parametrize("value", [85, 85.0, "85", "85 F", "85 K", "hot", True, None, [], "", "1e3 degF", "٣ degC"])
def test_temperature_refused(value: object) -> None:
    with pytest.raises(UnfitError):
        temperature_milli_c(value)


@pytest.mark.parametrize(("text", "milli_k"), [("5 K", 5_000), ("9 degF", 5_000), ("0.5 degC", 500), ("1 degF", 556)])
def test_difference(text: str, milli_k: int) -> None:
    assert difference_milli_k(text) == milli_k


@pytest.mark.parametrize("value", [5, "5", "-5 K", "5 %"])
def test_difference_refused(value: object) -> None:
    with pytest.raises(UnfitError):
        difference_milli_k(value)


def test_other_amounts() -> None:
    assert percent_milli("82.5 %") == 82_500
    assert percent_milli("60%") == 60_000
    assert duration_ms("20m") == 1_200_000
    assert [length_milli_m(text) for text in ("60 cm", "24 in", "2 ft", "0.6 m", "15 mm")] == [600, 610, 610, 600, 15]
    assert density_kg_m3("0.55 kg/L") == density_kg_m3("550 kg/m3") == 550
    assert instant_ms("2026-03-01T04:00:00-05:00") == instant_ms("2026-03-01T09:00:00Z")


@pytest.mark.parametrize(
    ("read", "value"),
    [
        (percent_milli, "101 %"),
        (percent_milli, "-1 %"),
        (percent_milli, "0.6"),
        (duration_ms, "20"),
        (duration_ms, "1.5h"),
        (length_milli_m, "0 cm"),
        (length_milli_m, "60"),
        (density_kg_m3, "550"),
        (instant_ms, "2026-03-01T09:00:00"),
        (instant_ms, 7),
        (minute_of_day, "24:00"),
        (minute_of_day, "7:30"),
        (quiet_hours, "22:00-22:00"),
        (quiet_hours, "25:00-07:00"),
        (duty_window, ""),
        (duty_window, "Mon 8:00-18:00"),
        (duty_window, "Mon-Fri 08:00"),
    ],
)
def test_refused(read: Any, value: object) -> None:
    with pytest.raises(UnfitError) as caught:
        read(value)
    assert caught.value.right


@pytest.mark.parametrize(
    ("text", "window"),
    [
        ("Mon-Fri 08:00-18:00", DutyWindow(days=(1, 2, 3, 4, 5), start_minute=480, end_minute=1080)),
        ("sat,sunday", DutyWindow(days=(6, 7))),
        ("Sat-Mon 20:00-06:00", DutyWindow(days=(1, 6, 7), start_minute=1200, end_minute=360)),
        ("08:00-24:00", DutyWindow(start_minute=480, end_minute=1440)),
    ],
)
def test_duty(text: str, window: DutyWindow) -> None:
    assert duty_window(text) == window


def test_hours() -> None:
    assert minute_of_day("07:30") == 450
    assert quiet_hours("22:00-07:00") == (1320, 420)
    assert quiet_hours("none") == (0, 0)
    assert quiet_hours("20:00-24:00") == (1200, 0)


@given(st.integers(-60_000, 120_000))
def test_temperatures_come_back_as_written(milli_c: int) -> None:
    assert temperature_milli_c(show_value(Kind.TEMPERATURE, milli_c)) == milli_c


@given(st.integers(0, 10**12))
def test_durations_come_back_as_written(milliseconds: int) -> None:
    shown = show_value(Kind.DURATION, milliseconds)
    if len(shown) <= 10:
        assert duration_ms(shown) == milliseconds
