"""Which values become readings of which probes, and why others do not."""

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.codec import Admission
from monitor.model.quarantine import SetAside
from monitor.model.readings import Heard, Reading
from monitor.model.settings import Probe, Settings
from monitor.model.times import MINUTE_MS, YEAR_2000_MS
from monitor.model.units import Quantity
from monitor.model.words import Basis, Role

NOW = 1_795_600_000_000


def probe(address, quantity=Quantity.TEMPERATURE, **more):
    return Probe(place="p1", role=Role.CORE, address=address, quantity=quantity, **more)


SETTINGS = Settings(
    probes={
        "p1-a": probe("p1-a"),
        "p1-f": probe("north", unit="[degF]"),
        "n7-t": probe("n7"),
        "n7-b": probe("n7", Quantity.BATTERY),
        "n7-s": probe("n7", Quantity.SIGNAL),
        "b1-m": probe("b1-m", Quantity.MOISTURE),
        "b1-raw": probe("b1-raw", Quantity.MOISTURE, basis=Basis.RAW),
        "v1-m": probe("v1", Quantity.MOISTURE),
        "v1-o": probe("v1", Quantity.OXYGEN),
    }
)
ADMISSION = Admission(SETTINGS)


@pytest.mark.parametrize(
    ("heard", "reading"),
    [
        (Heard("p1-a", "temperature", 5, "Cel", NOW - 7), Reading(NOW - 7, "p1-a", 5, "Cel")),
        (Heard("p1-a", None, 5, "[degF]", NOW), Reading(NOW, "p1-a", 5, "[degF]")),
        (Heard("p1-a", "temperature", 5, "K", NOW), Reading(NOW, "p1-a", 5, "K")),
        (Heard("p1-a", None, 5, None, None), Reading(NOW, "p1-a", 5, "Cel")),
        (Heard("north", None, 5, None, NOW), Reading(NOW, "p1-f", 5, "[degF]")),
        (Heard("north", None, 5, "Cel", NOW), Reading(NOW, "p1-f", 5, "Cel")),
        (Heard("n7", "temperature", 5, "Cel", NOW), Reading(NOW, "n7-t", 5, "Cel")),
        (Heard("n7", "battery", 5, "mV", NOW), Reading(NOW, "n7-b", 5, "mV")),
        (Heard("n7", None, 5, "dBm", NOW), Reading(NOW, "n7-s", 5, "dBm")),
        (Heard("n7", "signal", 5, None, NOW), Reading(NOW, "n7-s", 5, "dBm")),
        (Heard("b1-m", None, 5, "%", NOW), Reading(NOW, "b1-m", 5, "%")),
        (Heard("b1-raw", None, 5, None, NOW), Reading(NOW, "b1-raw", 5, "1")),
        (Heard("b1-raw", None, 5, "%", NOW), Reading(NOW, "b1-raw", 5, "%")),
        (Heard("v1", "oxygen", 5, "%", NOW), Reading(NOW, "v1-o", 5, "%")),
        (Heard("v1", "moisture", 5, "%", NOW), Reading(NOW, "v1-m", 5, "%")),
    ],
)
def test_let_in(heard, reading):
    assert ADMISSION.admit(heard, NOW) == reading


@pytest.mark.parametrize(
    ("heard", "reason", "named"),
    [
        (Heard("p9", "temperature", 5, "Cel", NOW), SetAside.UNKNOWN_PROBE, None),
        (Heard("P1-A", "temperature", 5, "Cel", NOW), SetAside.UNKNOWN_PROBE, None),
        (Heard("p1-a", "moisture", 5, "%", NOW), SetAside.WRONG_QUANTITY, "p1-a"),
        (Heard("p1-a", "warmth", 5, None, NOW), SetAside.WRONG_QUANTITY, "p1-a"),
        (Heard("p1-a", "temperature", 5, "%", NOW), SetAside.WRONG_UNIT, "p1-a"),
        (Heard("p1-a", None, 5, "%RH", NOW), SetAside.WRONG_UNIT, "p1-a"),
        (Heard("p1-a", None, 5, "degF", NOW), SetAside.WRONG_UNIT, "p1-a"),
        (Heard("b1-m", None, 5, "%RH", NOW), SetAside.WRONG_UNIT, "b1-m"),
        (Heard("b1-m", None, 5, "1", NOW), SetAside.WRONG_UNIT, "b1-m"),
        (Heard("n7", "battery", 5, "Cel", NOW), SetAside.WRONG_UNIT, "n7-b"),
        (Heard("n7", None, 5, "%", NOW), SetAside.WRONG_UNIT, None),
        (Heard("n7", "moisture", 5, "%", NOW), SetAside.WRONG_QUANTITY, None),
        (Heard("n7", None, 5, None, NOW), SetAside.WRONG_QUANTITY, None),
        (Heard("v1", None, 5, "%", NOW), SetAside.WRONG_QUANTITY, None),
    ],
)
def test_refused(heard, reason, named):
    refused = ADMISSION.admit(heard, NOW)
    assert (refused.reason, refused.probe, refused.time) == (reason, named, NOW)


def test_words_of_a_refusal():
    assert ADMISSION.admit(Heard("n7", "moisture", 5, "%", NOW), NOW).detail == (
        "n7 measures temperature and battery and signal, not moisture"
    )
    assert ADMISSION.admit(Heard("p1-a", None, 5, "%", NOW), NOW).detail == "p1-a sends Cel or [degF] or K, not %"


def test_time_before_2000_is_absurd():
    heard = Heard("p1-a", None, 5, "Cel", YEAR_2000_MS)
    assert ADMISSION.admit(heard, NOW).time == YEAR_2000_MS
    refused = ADMISSION.admit(heard._replace(time=YEAR_2000_MS - 1), NOW)
    assert (refused.reason, refused.probe) == (SetAside.ABSURD_TIME, "p1-a")


def test_more_than_five_minutes_ahead():
    heard = Heard("p1-a", None, 5, "Cel", NOW + 5 * MINUTE_MS)
    assert isinstance(ADMISSION.admit(heard, NOW), Reading)
    later = heard._replace(time=heard.time + 1)
    refused = ADMISSION.admit(later, NOW)
    assert (refused.reason, refused.probe, refused.time) == (SetAside.AHEAD, "p1-a", later.time)
    assert ADMISSION.admit(later, NOW, judge_ahead=False) == Reading(later.time, "p1-a", 5, "Cel")
    assert ADMISSION.admit(heard._replace(time=10**16), NOW).reason is SetAside.AHEAD


def test_two_probes_that_nothing_tells_apart_are_not_heard():
    admission = Admission(Settings(probes={"a": probe("x"), "b": probe("x"), "c": probe("x", Quantity.BATTERY)}))
    assert admission.clashes == (("a", "b"),)
    assert ADMISSION.clashes == ()
    refused = admission.admit(Heard("x", "temperature", 5, "Cel", NOW), NOW)
    assert (refused.reason, refused.detail) == (SetAside.WRONG_QUANTITY, "x could be any of a and b")
    assert admission.admit(Heard("x", "battery", 5, "V", NOW), NOW).probe == "c"


WORDS = st.sampled_from(["p1-a", "n7", "v1", "b1-raw", "temperature", "battery", "%", "Cel", "1", "V"]) | st.text(
    max_size=4
)


@given(WORDS, st.none() | WORDS, st.integers(), st.none() | WORDS, st.none() | st.integers(), st.booleans())
def test_never_raises(address, quantity, micro, unit, time, judge):
    answer = ADMISSION.admit(Heard(address, quantity, micro, unit, time), NOW, judge_ahead=judge)
    if isinstance(answer, Reading):
        assert answer.probe in SETTINGS.probes
    else:
        assert answer.detail.isprintable()


def test_a_moisture_probe_sends_bare_numbers_only_if_it_is_said_to_be_raw():
    def admitted(address, unit):
        return ADMISSION.admit(Heard(address, "moisture", 512_000_000, unit, NOW - MINUTE_MS), NOW)

    assert isinstance(admitted("b1-raw", "1"), Reading)
    assert isinstance(admitted("b1-raw", None), Reading), "what it sends needs no name"
    refused = admitted("b1-m", "1")
    assert refused.reason is SetAside.WRONG_UNIT
    assert refused.detail.endswith("not 1")
