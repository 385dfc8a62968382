"""Forecasts from a file and from a source: read, refused in words, and written down once."""

import json
from datetime import date
from types import SimpleNamespace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.app.evening import read_forecast_file
from monitor.app.loop.forecasts_heard import ForecastNews
from monitor.app.loop.gathering import Gathered, Gatherer
from monitor.app.upkeep.evening_word import EveningWord
from monitor.configuration import load_text
from monitor.intake import Arrival
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard
from monitor.model.settings import Bin, Probe, Settings, Site
from monitor.model.times import parse_time
from monitor.model.words import Role

TODAY = date(2026, 7, 18)
NOW = parse_time("2026-07-18T22:00:00Z")  # 18:00 in New York
SITE = Site(time_zone="America/New_York", temperature_unit="degF")
SETTINGS = Settings(site=SITE, bins={"b1": Bin(name="Wall bin")})


def read(folder, text, name="forecast.csv", settings=SETTINGS):
    path = folder / name
    path.write_text(text, encoding="utf-8")
    found = read_forecast_file(path, settings, TODAY, NOW)
    return [(one["day"], one.get("high"), one.get("low")) for one in found.entries], found.faults


def test_a_table_and_a_list_are_read(tmp_path):
    table = "Day, High ,low\n2026-07-19,97,71\n2026-07-17,90,60\n\n2026-07-20,,70\n"
    assert read(tmp_path, table) == ([("2026-07-19", "97 degF", "71 degF"), ("2026-07-20", None, "70 degF")], [])
    listed = [{"day": "2026-07-19", "high": 36, "unit": "degC"}, {"day": "2026-07-20", "low": 70.5}]
    said = [("2026-07-19", "36 degC", None), ("2026-07-20", None, "70.5 degF")]
    assert read(tmp_path, json.dumps(listed), "forecast.json") == (said, [])


def test_a_bad_row_is_named_and_the_others_count(tmp_path):
    bad = ("2026-07-19,150,71,", "soon,97,71,", "2026-07-20,95,70,degF", "2026-07-21,9O,1,", "2026-07-22,1,1,K")
    rows, faults = read(tmp_path, "\n".join(("day,high,low,unit", *bad)))
    assert rows == [("2026-07-20", "95 degF", "70 degF")]
    assert [fault.split(": ")[0] for fault in faults] == [f"forecast.csv, line {line}" for line in (2, 3, 5, 6)]
    assert "no air has a high of 150 °F; write the high of the air, such as 97 °F" in faults[0]
    assert '"K" is no unit; write degF or degC' in faults[3]


@pytest.mark.parametrize("text", ["", "high,low\n1,2\n", "[1, 2]", '[{"day": ', "x" * 200_000, "\0"])
def test_what_is_no_file_of_forecasts_is_refused_whole(tmp_path, text):
    rows, faults = read(tmp_path, text)
    assert rows == []
    assert len(faults) == 1


def test_a_missing_file_and_other_bytes_are_refused(tmp_path):
    assert read_forecast_file(tmp_path / "none.csv", SETTINGS, TODAY, NOW).faults == [
        "none.csv cannot be read (No such file or directory)"
    ]
    (tmp_path / "bytes.csv").write_bytes(b"\xff\xfe\x00")
    assert read_forecast_file(tmp_path / "bytes.csv", SETTINGS, TODAY, NOW).entries == []


@given(st.text(max_size=200))
def test_no_text_breaks_the_reader(tmp_path_factory, text):
    path = tmp_path_factory.getbasetemp() / "any.csv"
    path.write_text(text, encoding="utf-8", errors="replace")
    found = read_forecast_file(path, SETTINGS, TODAY, NOW)
    assert isinstance(found.entries, list)


def gathered(*heard, settings=SETTINGS):
    clock = SimpleNamespace(asks=False, confirmed=True, now_ms=lambda: NOW)
    into = Gathered()
    Gatherer(settings, clock).take(Arrival("mqtt", NOW, heard, (), (1, 2), "weather/tomorrow", b"raw"), into)
    return into


def high(micro=36_100_000, unit="Cel", time=None, address="forecast-high", quantity=None):
    return Heard(address, quantity, micro, unit, time)


def test_high_and_low_of_one_message_are_one_entry_for_tomorrow():
    into = gathered(high(), high(21_700_000, address="forecast-low"))
    assert into.forecasts == [
        {"time": NOW, "place": "yard", "kind": "weather", "source": "mqtt",
         "day": "2026-07-19", "high": "97 degF", "low": "71 degF"}
    ]  # fmt: skip
    assert into.readings == []
    assert into.tokens == {"mqtt": [(1, 2)]}


def test_a_time_of_its_own_names_the_day():
    (entry,) = gathered(high(time=parse_time("2026-07-20T16:00:00Z"))).forecasts
    assert entry["day"] == "2026-07-20"


@pytest.mark.parametrize(
    ("one", "reason"),
    [
        (high(80_000_000), SetAside.MALFORMED),
        (high(unit="%"), SetAside.WRONG_UNIT),
        (high(quantity="moisture"), SetAside.WRONG_QUANTITY),
        (high(time=parse_time("2026-07-17T16:00:00Z")), SetAside.MALFORMED),
    ],
)
def test_what_cannot_be_is_set_aside_with_its_reason(one, reason):
    into = gathered(one)
    assert into.forecasts == []
    assert [aside.reason for aside in into.set_aside] == [reason]


def test_a_probe_of_that_address_keeps_its_readings():
    probe = Probe(place="b1", role=Role.BEDDING, address="forecast-high")
    into = gathered(high(), settings=Settings(site=SITE, bins=SETTINGS.bins, probes={"b1-t": probe}))
    assert into.forecasts == []
    assert [one.probe for one in into.readings] == ["b1-t"]


def test_the_same_forecast_is_written_down_once():
    news, entry = ForecastNews(), {"source": "mqtt", "day": "2026-07-19", "high": "97 degF"}
    assert [news.is_news(one) for one in (entry, entry, entry | {"low": "71 degF"}, entry)] == [
        True,
        False,
        True,
        False,
    ]
    assert news.is_news(entry | {"high": "96 degF"})
    assert news.is_news(entry | {"source": "forecast.csv", "high": "96 degF"})


def test_the_daemon_reads_the_file_when_it_changes(tmp_path, caplog):
    text = '[site]\ntime_zone = "America/New_York"\ntemperature_unit = "degF"\n[evening]\nfile = "f.csv"\n'
    configuration = load_text(text, tmp_path / "heaptender.toml", {}, rules=set())
    taken = []
    hub = SimpleNamespace(clock=SimpleNamespace(now_ms=lambda: NOW), call=lambda task: task(), forecast=taken.append)
    word = EveningWord(hub, configuration)
    word.read_file()
    assert taken == [], "it has not been written yet"
    (tmp_path / "f.csv").write_text("day,high\n2026-07-19,97\n2026-07-20,150\n")
    word.read_file()
    word.read_file()
    assert [one["high"] for one in taken] == ["97 degF"]
    assert [record.getMessage() for record in caplog.records] == [
        "The forecast: f.csv, line 3: no air has a high of 150 °F; write the high of the air, such as 97 °F."
    ]
