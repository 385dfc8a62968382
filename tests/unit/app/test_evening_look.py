"""The look ahead in the evening, on a journal: forecasts, days that were like tomorrow, and what keeps it silent."""

import json
from dataclasses import replace
from datetime import date, timedelta
from zoneinfo import ZoneInfo

import pytest

from monitor.app.diary import Asked, diary
from monitor.app.entries.work_log import work_log
from monitor.app.evening import PlaceAhead, TomorrowAhead, air_ahead_words, forecasts_given, look_ahead
from monitor.app.upkeep.evening_word import evening_event, evening_start
from monitor.configuration import canonical_settings, load_text
from monitor.diary import What
from monitor.engine import Engine
from monitor.forecast import Expected, Outlook, Score, Trouble, Whence
from monitor.journal import open_writer
from monitor.model.evening import EveningPolicy
from monitor.model.events import EventKind
from monitor.model.readings import Reading
from monitor.model.times import HOUR_MS
from monitor.model.units import celsius_milli
from monitor.notices import instant

ZONE = ZoneInfo("America/New_York")
FIRST = date(2026, 7, 1)
TODAY = FIRST + timedelta(days=7)
TEXT = """
[site]
name = "Test yard"
time_zone = "America/New_York"
temperature_unit = "degF"
[bins.b1]
name = "Wall bin"
[probes.amb]
place = "ambient"
[probes.b1-t]
place = "b1"
[contacts.ann]
name = "Ann"
"""
AIR = (80, 95, 80, 96, 80, 94, 80, 80)
BED = (78, 86, 78, 87, 78, 86, 78, 79)
"""Highs of eight days: the bin passed 85 °F on the three hot ones, each after a cool one, as today is."""


EVENING = instant(TODAY, 19 * 60, ZONE)


class Yard:
    """A journal that is written day by day, and looked at in the evening of the last."""

    def __init__(self, folder, text=TEXT, bed=BED, air=AIR, hours=range(24)):
        self.configuration = load_text(text, folder / "heaptender.toml", {}, rules=set())
        self.writer = open_writer(self.configuration.data, Engine, Engine.restore)
        plain = json.loads(canonical_settings(self.configuration.settings))
        self.event(instant(FIRST, 0, ZONE) - HOUR_MS, EventKind.SETTINGS, {"settings": plain})
        for number, highs in enumerate(zip(air, bed, strict=True)):
            self.live(FIRST + timedelta(days=number), *highs, hours)

    def live(self, day, air, bed, hours):
        """Live a day until 18:00 if it is the last; both are 15 °F cooler but for one hour of the afternoon."""
        for hour in hours:
            at = instant(day, 60 * hour, ZONE)
            if at < EVENING:
                values = (("amb", air if hour == 15 else air - 15), ("b1-t", bed if hour == 16 else bed - 15))
                rows = [Reading(at, name, 1_000 * celsius_milli(value, "degF"), "Cel") for name, value in values]
                with self.writer.turn(at) as turn:
                    turn.readings(rows)

    def event(self, at, kind, payload):
        with self.writer.turn(max(at, self.writer.engine.last + 1)) as turn:
            turn.event(kind, payload)

    def work(self, at, place, kind, **more):
        self.event(at, EventKind.WORK, {"time": at, "place": place, "kind": kind, **more})

    def forecast(self, high="97 degF", *, at=EVENING - 2 * HOUR_MS, day=TODAY + timedelta(days=1), **more):
        self.work(at, "yard", "weather", day=str(day), high=high, by="Ann", **more)

    def ahead(self, trouble=Trouble.HEAT, now=EVENING):
        found = look_ahead(self.writer.engine, self.writer.store, self.configuration.evening, now)
        return next((one for one in found if one.trouble is trouble), None)

    def tell(self, now=EVENING):
        return evening_event(self.writer.engine, self.writer.store, self.configuration, now)

    def dues(self, now=EVENING):
        asked = Asked(engine=self.writer.engine, store=self.writer.store, configuration=self.configuration,
                      now=now, until=now + 24 * HOUR_MS)  # fmt: skip
        return [one for one in diary(asked) if one.what in (What.SHADE, What.WRAP)]


@pytest.fixture
def yard(tmp_path):
    one = Yard(tmp_path)
    yield one
    one.writer.close()


def test_a_forecast_like_three_days_that_passed_is_told(yard):
    yard.forecast()
    found = yard.ahead()
    assert (found.air.whence, found.air.by) == (Whence.TYPED, "Ann")
    (place,) = found.places
    assert (place.place, place.expected.days, place.expected.last) == ("b1", 3, FIRST + timedelta(days=5))
    assert yard.tell() == {
        "day": "2026-07-09", "what": "heat", "milli_c": 36_111, "whence": "typed", "by": "Ann", "joins": False,
        "places": [{"place": "b1", "limit_milli_c": 29_444, "days": 3, "last": "2026-07-06"}],
    }  # fmt: skip


def test_the_diary_says_it_and_how_long_it_can_wait(yard):
    yard.forecast()
    (due,) = yard.dues()
    assert due.why == "97 °F in the air tomorrow (typed in); it passed 85 °F on 3 days no hotter"
    assert (due.place, due.what) == ("b1", What.SHADE)
    assert due.latest_ms == instant(TODAY + timedelta(days=1), 600, ZONE)
    yard.work(EVENING - HOUR_MS, "b1", "covered")
    assert yard.dues() == []


def test_without_a_forecast_tomorrow_is_as_today_and_must_prove_itself(yard):
    assert yard.ahead().air.whence is Whence.TODAY
    assert yard.ahead().air.milli_c == celsius_milli(80, "degF")
    assert yard.tell() is None
    assert yard.ahead(Trouble.FROST) is None, "for frost it does not serve at all"
    assert yard.ahead(now=instant(TODAY, 16 * 60 + 59, ZONE)) is None, "the day's high is not known yet"


@pytest.mark.parametrize(
    "given",
    [
        {"day": TODAY},
        {"day": TODAY + timedelta(days=2)},
        {"at": EVENING - 49 * HOUR_MS},
        {"at": EVENING - 2 * HOUR_MS, "high": "150 degF"},
    ],
)
def test_a_forecast_for_another_day_an_old_one_and_an_impossible_one_do_not_count(tmp_path, given):
    yard = (
        Yard(tmp_path, bed=BED[:5], air=AIR[:5])
        if "at" in given and given["at"] < EVENING - 40 * HOUR_MS
        else Yard(tmp_path)
    )
    yard.forecast(**given)
    found = yard.ahead()
    assert found is None or found.air.whence is Whence.TODAY
    yard.writer.close()


def test_a_forecast_taken_back_or_put_right_counts_so(yard):
    yard.forecast()
    at = yard.writer.engine.last
    right = {"time": at, "place": "yard", "kind": "weather", "day": "2026-07-09", "high": "88 degF", "by": "Ann"}
    yard.event(at + 1, EventKind.CORRECTION, {"of": at, "work": right})
    assert yard.ahead().air.milli_c == celsius_milli(88, "degF")
    yard.event(at + 2, EventKind.CORRECTION, {"of": at, "work": None})
    assert yard.ahead().air.whence is Whence.TODAY


def test_nobody_is_told_again_within_three_days(yard):
    yard.forecast()
    payload = yard.tell()
    yard.event(EVENING, EventKind.EVENING, payload)
    assert yard.tell(EVENING + HOUR_MS) is None
    later = EVENING + 24 * HOUR_MS
    yard.forecast(at=later - HOUR_MS, day=TODAY + timedelta(days=2))
    yard.live(TODAY + timedelta(days=1), 80, 79, range(0))
    assert yard.tell(later) is None


def test_a_bin_whose_alarm_is_on_is_not_told_again(yard):
    for minutes in (0, 25):
        with yard.writer.turn(EVENING - HOUR_MS + minutes * 60_000) as turn:
            turn.readings([Reading(EVENING - HOUR_MS + minutes * 60_000, "b1-t", 30_500_000, "Cel")])
    yard.forecast(at=EVENING - 60_000)
    found = yard.ahead()
    assert not any(place.worth_telling for place in found.places)
    assert yard.tell() is None


def test_a_day_after_somebody_acted_tells_nothing(tmp_path):
    calm = Yard(tmp_path / "a", bed=(78, 86, 78, 87, 78, 86, 79, 80), air=(80, 95, 80, 96, 80, 94, 97, 80))
    calm.forecast()
    assert calm.tell() is None, "a day as hot stayed calm"
    shaded = Yard(tmp_path / "b", bed=(78, 86, 78, 87, 78, 86, 79, 80), air=(80, 95, 80, 96, 80, 94, 97, 80))
    shaded.work(instant(FIRST + timedelta(days=5), 20 * 60, ZONE), "b1", "covered")
    shaded.forecast()
    assert shaded.tell() is not None
    calm.writer.close()
    shaded.writer.close()


def test_days_with_missing_probes_do_not_count_as_calm(tmp_path):
    """Readings of half a day: the air is not known whole, so no day can be asked."""
    half = Yard(tmp_path, hours=range(8, 19))
    half.forecast()
    assert half.ahead().places == ()
    half.writer.close()


def test_a_bin_read_by_hand_passes_too(tmp_path):
    text = TEXT.replace('[probes.b1-t]\nplace = "b1"\n', "")
    yard = Yard.__new__(Yard)
    yard.configuration = load_text(text, tmp_path / "heaptender.toml", {}, rules=set())
    yard.writer = open_writer(yard.configuration.data, Engine, Engine.restore)
    plain = json.loads(canonical_settings(yard.configuration.settings))
    yard.event(instant(FIRST, 0, ZONE) - HOUR_MS, EventKind.SETTINGS, {"settings": plain})
    for number, (air, bed) in enumerate(zip(AIR, BED, strict=True)):
        for hour in range(24):
            at = instant(FIRST + timedelta(days=number), 60 * hour, ZONE)
            if at < EVENING:
                rows = [Reading(at, "amb", 1_000 * celsius_milli(air if hour == 15 else air - 15, "degF"), "Cel")]
                rows += [Reading(at, "hand:b1", bed * 1_000_000, "[degF]")] if hour == 16 else []
                with yard.writer.turn(at) as turn:
                    turn.readings(rows)
    yard.forecast()
    assert yard.ahead().places[0].expected.days == 3
    yard.writer.close()


def test_the_digest_takes_it_in_where_that_falls_in_the_evening(tmp_path):
    text = f'{TEXT}[notices]\ndigest = "20:00"\n[evening]\nat = "18:30"\n'
    configuration = load_text(text, tmp_path / "heaptender.toml", {}, rules=set())
    assert evening_start(configuration, EVENING) == (instant(TODAY, 19 * 60 + 55, ZONE), True)
    assert evening_start(configuration, EVENING + 2 * HOUR_MS)[1] is False, "it has gone"
    early = load_text(text.replace("20:00", "07:30"), tmp_path / "heaptender.toml", {}, rules=set())
    assert evening_start(early, EVENING) == (instant(TODAY, 18 * 60 + 30, ZONE), False)


def test_the_head_of_a_page_says_what_is_known_of_the_air(yard):
    settings = yard.configuration.settings

    def head(now=EVENING, *, names=True):
        return air_ahead_words(forecasts_given(work_log(yard.writer.store), settings), settings, now, names=names)

    assert head() == ""
    yard.forecast(low="71 degF")
    assert head() == "tomorrow 97 °F, low 71 °F, typed in by Ann"
    assert head(names=False) == "tomorrow 97 °F, low 71 °F, typed in"
    assert head(EVENING + 8 * HOUR_MS) == "today 97 °F, low 71 °F, typed in by Ann"
    assert head(EVENING + 50 * HOUR_MS) == ""


def test_of_frost_people_are_told_only_if_they_ask_for_it(yard, monkeypatch):
    place = PlaceAhead(
        place="b1", limit=6_111, expected=Expected(3, 0, FIRST), score=Score(3, 3), proven=True, alarm_on=False, acted=False
    )  # fmt: skip
    air = Outlook(day=TODAY + timedelta(days=1), milli_c=-2_000, whence=Whence.TYPED)
    cold = TomorrowAhead(trouble=Trouble.FROST, air=air, places=(place,))
    monkeypatch.setattr("monitor.app.upkeep.evening_word.look_ahead", lambda *_: [cold])
    assert yard.tell() is None
    yard.configuration = replace(yard.configuration, evening=EveningPolicy(frost=True))
    assert yard.tell()["what"] == "frost"
    unproven = replace(cold, places=(replace(place, score=Score(2, 2)),))
    monkeypatch.setattr("monitor.app.upkeep.evening_word.look_ahead", lambda *_: [unproven])
    assert yard.tell() is None, "it has not been right three times here yet"
