"""The weather: geometry of the sun, rhythm, scripted spells, and independence from how it is asked."""

from random import Random

import pytest

from monitor.model.times import DAY_MS, HOUR_MS, parse_time
from monitor.simulate.weather import Climate, Spell, Weather, clear_sky, sun_at

START = parse_time("2026-05-09T14:00:00Z")


def _weather(seed=1, spells=()):
    return Weather(Climate(), Random(seed), START, spells)


def test_sun_stands_highest_in_the_south_at_solar_noon_of_midsummer():
    # 41.7° N: 90 - 41.7 + 23.45 degrees; solar noon at 74.2° W is 16:57 UTC without the equation of time.
    noon = parse_time("2026-06-21T16:56:48Z")
    assert _weather().height_deg(noon) == pytest.approx(71.75, abs=0.1)
    sun = sun_at(noon, 41.7, -74.2)
    assert sun.north < 0.0
    assert sun.east == pytest.approx(0.0, abs=0.01)
    assert _weather().height_deg(noon + 12 * HOUR_MS) < 0.0
    assert _weather().height_deg(parse_time("2026-12-21T16:56:48Z")) == pytest.approx(24.85, abs=0.1)


def test_sun_rises_in_the_east():
    assert sun_at(parse_time("2026-07-19T11:00:00Z"), 41.7, -74.2).east > 0.5


def test_clear_sky_has_a_plausible_summer_noon():
    assert 950 < clear_sky(0.95) < 1_020
    assert clear_sky(-0.2) == 0.0


def test_a_south_wall_gets_more_sun_than_a_north_wall():
    air = _weather(spells=(Spell(start=START, end=START + 90 * DAY_MS, cloud=0.0),)).at(
        parse_time("2026-07-19T17:00:00Z")
    )
    assert air.wall(180.0) > 2.0 * air.wall(0.0) > 0.0
    assert air.level() > air.wall(180.0)  # the summer sun stands high


def test_the_answer_does_not_depend_on_the_order_of_the_questions():
    times = [START + step * 7 * HOUR_MS for step in range(60)]
    forward = {time: _w.at(time) for _w in [_weather()] for time in times}
    backward = {time: _w.at(time) for _w in [_weather()] for time in reversed(times)}
    assert forward == backward


def test_another_seed_gives_other_weather():
    time = START + 20 * DAY_MS
    assert _weather(1).at(time) != _weather(2).at(time)


def test_year_and_day_have_their_rhythm():
    weather = _weather()

    def mean(day):
        start = parse_time(day + "T05:00:00Z")
        return sum(weather.at(start + hour * HOUR_MS).celsius for hour in range(24 * 14)) / (24 * 14)

    assert mean("2026-07-14") - mean("2027-01-14") > 15.0
    start = parse_time("2026-07-01T05:00:00Z")  # solar midnight
    day = [sum(weather.at(start + (24 * k + hour) * HOUR_MS).celsius for k in range(40)) for hour in range(24)]
    assert 13 <= day.index(max(day)) <= 17
    assert 1 <= day.index(min(day)) <= 5


def test_a_spell_warms_its_middle_and_leaves_the_rest():
    spell = Spell(start=START + 10 * DAY_MS, end=START + 12 * DAY_MS, rise_k=8.0)
    with_it, without = _weather(spells=(spell,)), _weather()
    middle = START + 11 * DAY_MS
    assert with_it.at(middle).celsius - without.at(middle).celsius == pytest.approx(8.0)
    assert with_it.at(START + 9 * DAY_MS) == without.at(START + 9 * DAY_MS)
    assert with_it.at(START + 12 * DAY_MS) == without.at(START + 12 * DAY_MS)


def test_the_air_is_never_wetter_than_saturated():
    from monitor.simulate.laws import vapour_pressure

    weather = _weather()
    for hour in range(0, 24 * 60, 5):
        air = weather.at(START + hour * HOUR_MS)
        assert 0.0 < air.vapour_pa <= vapour_pressure(air.celsius) + 1e-9
        assert air.beam >= 0.0
        assert air.diffuse >= 0.0


def test_the_slow_noise_has_about_the_spread_it_is_given():
    weather = Weather(Climate(yearly_k=0.0, daily_k=0.0), Random(5), START)
    values = [weather.at(START + hour * HOUR_MS).celsius - 10.0 for hour in range(24 * 365 * 3)]
    spread = (sum(value * value for value in values) / len(values)) ** 0.5
    assert spread == pytest.approx(Climate().noise_k, rel=0.25)
