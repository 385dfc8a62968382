"""Pieces of a certificate: words and lengths, what is usual, which readings count, how pages are set."""

import subprocess
from dataclasses import replace
from types import SimpleNamespace

import certificate_scenes as scenes
import numpy as np
import pytest
from certificate_papers import flat, plain

from monitor.certificate import ServiceEntry, as_asked, judge_case, rounds_by_hand, so_far
from monitor.certificate.judged.hand_lines import proving_lines
from monitor.certificate.judged.judging import accepted, member
from monitor.certificate.judged.usual import departures, usual_case
from monitor.certificate.pages import passages, typesetting
from monitor.certificate.pages.outing_words import outings_together, probes_together
from monitor.certificate.pages.printable import LONGEST, printable, printable_tree
from monitor.certificate.pages.sheet_wording import Wording, coarse, cubed, length, metres, several, share
from monitor.certificate.pages.typesetting import layout_digest, shaping_texts, typeset, typst_version
from monitor.model.errors import MisuseError, UnavailableError
from monitor.model.settings import Calibration
from monitor.model.times import DAY_MS, HOUR_MS, MINUTE_MS, parse_time
from monitor.model.work import WorkKind
from monitor.piles import COLDEST, HOTTEST
from monitor.proof.holdset import HoldBasis

START = scenes.START


@pytest.mark.parametrize(
    ("ms", "words"),
    [
        (0, "0 min"),
        (1, "under 1 min"),
        (59_999, "under 1 min"),
        (60_000, "1 min"),
        (60_001, "1 min"),
        (59 * MINUTE_MS, "59 min"),
        (HOUR_MS, "1 h 00 min"),
        (61 * MINUTE_MS + 59_999, "1 h 01 min"),
        (372 * HOUR_MS + 5 * MINUTE_MS, "372 h 05 min"),
    ],
)
def test_a_length_is_cut_off_and_never_rounded(ms, words):
    assert length(ms) == words


def test_other_measures_are_said_as_people_do():
    assert [metres(one) for one in (None, 450, 1_500)] == ["not stated", "0.45 m (18 in)", "1.50 m (59 in)"]
    assert [share(one) for one in (0, 9, 10, 999, 1000)] == ["0 %", "0 %", "1 %", "99 %", "100 %"]
    assert [several(one, "probe") for one in (0, 1, 2, 1200)] == ["0 probes", "1 probe", "2 probes", "1,200 probes"]
    assert several(2, "stretch", "stretches") == "2 stretches"
    assert cubed("3 m3 of p3") == "3 m³ of p3"


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("17 days 16 h 5 min 3 s", "17 days 16 h"),
        ("71 h 59 min 59.5 s", "71 h 59 min"),
        ("5 min 3 s", "5 min"),
        ("30 s", "30 s"),
        ("30.5 s", "under 1 min"),
        ("for 4 min.", "for 4 min."),
        ("15 days at 131 °F", "15 days at 131 °F"),
    ],
)
def test_durations_in_sentences_keep_two_units(text, said):
    assert coarse(text) == said


def test_times_and_temperatures_are_said_in_both_units_and_local_time():
    us, eu = Wording.of(scenes.case()), Wording.of(plain())
    assert (us.when(None), us.when(START), eu.when(START)) == ("", "2026-03-05 04:00", "2026-03-05 09:00")
    assert eu.span(START, START + HOUR_MS) == "2026-03-05 09:00 to 10:00"
    assert eu.span(START, START + DAY_MS) == "2026-03-05 09:00 to 2026-03-06 09:00"
    assert (us.both(55_000), eu.both(55_000), us.both(None)) == ("131 °F (55 °C)", "55 °C (131 °F)", "–")
    assert (us.difference(500), eu.difference(500), eu.difference(None)) == (
        "0.9 °F (0.5 °C)",
        "0.5 °C (0.9 °F)",
        "not stated",
    )
    assert us.local("met at 2026-03-05T09:00:00.000Z after 3 h 5 min 7 s") == "met at 2026-03-05 04:00 after 3 h 5 min"
    last = parse_time("9999-12-31T23:59:59Z")
    assert Wording.of(plain(time_zone="Asia/Tokyo")).when(last) == "9999-12-31T23:59:59.000Z", (
        "a year that no clock there shows"
    )


@pytest.mark.parametrize(
    ("text", "shown"),
    [
        ("x" * 16, "x" * 16),
        ("x" * 17, "\u200b".join(["x" * 8, "x" * 8, "x"])),
        ("55 °C", "55\u00a0°C"),
        ("  a\n b ", "a b"),
        ("中", "[U+4E2D]"),
        ("e\u0301", "é"),
        ("well-known-and-long-words", "well-known-and-long-words"),
    ],
)
def test_a_text_is_printed_as_it_can_be_set(text, shown):
    assert printable(text) == shown


def test_long_words_and_long_texts_end_in_an_ellipsis():
    def bare(text):
        return printable(text).replace("\u200b", "")

    assert bare("x" * 100) == "x" * 100
    assert bare("x" * 101) == "x" * 99 + "…"
    text = "word " * 119 + "wordy"
    assert len(text) == LONGEST == 600
    assert printable(text) == text
    assert printable(text + "y") == text[:599] + "…"
    assert len(printable("a " * 5_000)) == 600
    assert printable_tree({"a": ["x" * 101, ("b", 1, None)], "c": True}) == {
        "a": [printable("x" * 101), ["b", 1, None]], "c": True,
    }  # fmt: skip


def test_a_table_is_cut_where_it_is_too_long():
    rows = [[str(number)] for number in range(1_205)]
    assert passages.cut_rows(rows[:5], 5, "days") == (rows[:5], "")
    assert passages.cut_rows(rows, 5, "days") == (rows[:5], "And 1,200 more days; the attached record has them all.")
    assert passages.section("x", head=["a"], rows=[])["table"] is None
    assert passages.section("x", rows=[["a"]])["table"] is None


def test_progress_is_said_as_the_rule_counts_it():
    def told(values, total_ms=0):
        return so_far(SimpleNamespace(values=values, total_ms=total_ms))

    assert told({"days": 4, "days_needed": 15, "turnings": 7, "turnings_needed": 5}) == "4 of 15 days, 5 of 5 turnings"
    assert told({"days": 0, "days_needed": 1, "turnings_needed": 1}) == "0 of 1 day, 0 of 1 turning"
    assert told({"total_h": 5}, 5 * HOUR_MS) == "5 h 00 min at temperature in all"


def test_probes_without_an_end_and_without_a_beginning_are_told_in_order_of_time():
    late = [ServiceEntry(time=START + HOUR_MS, into=True, how="built")]
    probes = [SimpleNamespace(probe="a", name="", entries=late), SimpleNamespace(probe="b", name="north", entries=())]
    (one,) = outings_together(probes)
    assert (one.out, one.probes, list(one.backs.values())) == (None, ["a"], [["a"]])
    some = [scenes.work(WorkKind.WATERED, 3), scenes.work(WorkKind.WATERED, 3)]
    assert probes_together(some) == some, "what is no probe's stays apart"
    alone = [scenes.work(WorkKind.PROBE_IN, 3, probe="p1-a")]
    assert probes_together(alone) == alone


# What is usual


@pytest.mark.parametrize(
    ("changes", "said"),
    [
        ({}, []),
        ({"basis": HoldBasis.MEAN}, ["by the mean of the probes"]),
        ({"basis": HoldBasis.EACH}, ["by each probe by itself"]),
        ({"smoothing_ms": HOUR_MS}, ["by a running mean over 1 h"]),
        ({"max_gap_ms": 2 * HOUR_MS}, []),
        ({"max_gap_ms": 2 * HOUR_MS + MINUTE_MS}, ["across gaps of up to 2 h 1 min"]),
        ({"hand_gap_ms": 30 * HOUR_MS}, []),
    ],
)
def test_what_is_asked_for_beyond_the_usual_is_named(changes, said):
    case = plain(**changes)
    assert list(departures(case)) == said
    usual = usual_case(case)
    assert (usual is None) is (said == [])
    if usual is not None:
        assert (usual.basis, usual.smoothing_ms, usual.max_gap_ms) == (HoldBasis.COLDEST, 0, 2 * HOUR_MS)
        assert as_asked(case, "met") == (
            f"Judged {said[0]}, as was asked for. By the usual reading (the coldest probe, readings at most 2 h and rounds by "
            "hand at most 26 h apart, no running mean) it is: met."
        )


def hand(*hours, spot="", celsius=60.0, **more):
    one = flat(f"hand:p1{spot}", (len(hours), celsius), by_hand=True, **more)
    return replace(one, times=START + np.array(hours, dtype=np.int64) * HOUR_MS)


def test_rounds_further_apart_than_a_day_are_asked_for():
    by_hand = plain(hand(0, 24, 48, 72), max_gap_ms=30 * HOUR_MS)
    assert list(departures(by_hand)) == [], "gaps of probes mean nothing where there is none"
    assert list(departures(replace(by_hand, hand_gap_ms=26 * HOUR_MS + MINUTE_MS))) == [
        "across up to 26 h 1 min between two rounds by hand",
    ]  # fmt: skip
    assert usual_case(replace(by_hand, hand_gap_ms=30 * HOUR_MS)).hand_gap_ms == 26 * HOUR_MS


def test_rounds_are_judged_by_their_coldest_and_hottest_or_spot_by_spot():
    probes = (flat("p1-a", (10, 60.0)), hand(0, 24, spot=":east"), hand(0, 24, spot=":west", celsius=65.0))
    case = plain(*probes)
    series = [accepted(one) for one in probes]
    found = proving_lines(case, probes, series)
    assert [(one.probe, one.milli_c.tolist()) for one in found[1:]] == [
        (COLDEST, [60_000, 60_000]), (HOTTEST, [65_000, 65_000]),
    ]  # fmt: skip
    assert [one.max_gap_ms for one in found] == [None, 26 * HOUR_MS, 26 * HOUR_MS]
    mean = proving_lines(replace(case, basis=HoldBasis.MEAN), probes, series)
    assert [one.probe for one in mean] == ["p1-a", "hand:p1:east", "hand:p1:west"]
    assert [one.max_gap_ms for one in mean] == [None, 26 * HOUR_MS, 26 * HOUR_MS]
    alone = proving_lines(case, probes[1:2], series[1:2])
    assert [one.probe for one in alone] == ["hand:p1:east"], "a single spot keeps its name"
    assert [(point.low, point.high) for point in rounds_by_hand(series[1:])] == [(60_000, 65_000)] * 2
    assert proving_lines(case, probes[:1], series[:1]) == (series[0],)


# Which readings count


def test_only_readings_of_good_quality_in_service_count():
    one = replace(flat("p1-a", (4, 60.0)), quality=np.array([1, 2, 3, 4], dtype=np.int8))
    assert accepted(one).times.tolist() == [START, START + HOUR_MS]
    times = np.array([0, 4, 5, 9, 10, 20], dtype=np.int64)
    assert member(times, ((5, 10), (20, 21))).tolist() == [False, False, True, True, False, True]
    assert member(times, ()).tolist() == [False] * 6


def test_a_calibration_counts_from_the_instant_at_which_it_is_in_force_and_in_each_unit():
    made = (Calibration(points=((0, 1_000),), start=START + 2 * HOUR_MS),)
    one = flat("p1-a", (4, 60.0), calibrations=made)
    assert accepted(one).milli_c.tolist() == [60_000, 60_000, 61_000, 61_000]
    two = replace(one, unit_names=("Cel", "[degF]"), units=np.array([0, 1, 0, 1], dtype=np.int8))
    assert accepted(two).milli_c.tolist() == [60_000, 15_556, 61_000, 16_556]


def test_a_record_ends_with_what_could_not_be_read_and_where_it_was_asked_to():
    one = flat("p1-a", (100, 60.0), unread=(START + 120 * HOUR_MS,))
    judged = judge_case(plain(one))
    assert (judged.start, judged.end, judged.as_of) == (START, START + 120 * HOUR_MS, START + 120 * HOUR_MS)
    asked = judge_case(plain(one, start=START + HOUR_MS, end=START + 2 * HOUR_MS, as_of=START + 9 * HOUR_MS))
    assert (asked.start, asked.end, asked.as_of) == (START + HOUR_MS, START + 2 * HOUR_MS, START + 9 * HOUR_MS)
    instant = judge_case(plain(one, start=START, end=START))
    assert instant.start == instant.end
    with pytest.raises(MisuseError, match="The record would end before it starts"):
        judge_case(plain(one, start=START + 1, end=START))


@pytest.mark.parametrize(("ms", "status"), [(-1, "void"), (0, "raw"), (1, "running")])
def test_heat_at_the_very_instant_at_which_material_came_in_was_neither_held_before_nor_is_held_since(ms, status):
    hours = np.arange(232, dtype=np.int64)
    hours[230:] = 240, 250
    one = replace(flat("p1-a", (230, 40.0), (1, 60.0), (1, 40.0)), times=START + hours * HOUR_MS)
    one.times[230] += ms
    judged = judge_case(plain(one, restarts=(START, START + 240 * HOUR_MS)))
    assert judged.heat_status.value == status


def test_where_nothing_counts_the_probes_are_named_and_what_was_thrown_away():
    out = replace(flat("p1-a", (4, 60.0)), service=())
    with pytest.raises(
        MisuseError,
        match=r"No reading counts \(probes: p1-a\): each is flagged bad.* Read a new heap by hand and log it",
    ):
        judge_case(plain(out))
    with pytest.raises(MisuseError, match=r"\(probes: none is named\)"):
        judge_case(replace(plain(), probes=()))
    remark = "3 readings were thrown away as impossible."
    with pytest.raises(MisuseError, match=f"{remark}$"):
        judge_case(plain(out, remarks=("Another.", remark)))


def test_assumed_time_lies_within_the_record_and_is_none_of_probes():
    case = plain(hand(0, 24, 48, 100))
    assert judge_case(case).assumed == ((START, START + 48 * HOUR_MS),)
    assert judge_case(replace(case, end=START + 30 * HOUR_MS)).assumed == ((START, START + 30 * HOUR_MS),)
    assert judge_case(plain()).assumed == ()


# Pages


def test_pages_that_cannot_be_set_are_told_with_the_reason(monkeypatch):
    with pytest.raises(UnavailableError, match=r"The pages could not be set \(.*panicked"):
        typeset({"main.typ": b"#panic()"})

    def run(*_, **__):
        return SimpleNamespace(returncode=0, stderr=b"")

    monkeypatch.setattr(typesetting.subprocess, "run", run)
    with pytest.raises(UnavailableError, match=r"\(typst said nothing\)"):
        typeset({"main.typ": b"x"})

    def late(*_, **__):
        raise subprocess.TimeoutExpired("typst", 600)

    monkeypatch.setattr(typesetting.subprocess, "run", late)
    with pytest.raises(UnavailableError, match=r"The pages could not be set \(.*600 seconds"):
        typeset({"main.typ": b"x"})


def test_a_typesetter_that_is_missing_is_told_before_anything_is_set(monkeypatch):
    from importlib import metadata

    def missing(name):
        raise metadata.PackageNotFoundError(name)

    monkeypatch.setattr(typesetting.metadata, "version", missing)
    typst_version.cache_clear()
    try:
        with pytest.raises(
            UnavailableError, match=r"Certificates need typst, which is not installed: install Heaptender"
        ):
            typeset({})
    finally:
        monkeypatch.undo()
        typst_version.cache_clear()
    assert typst_version()


def test_the_layout_changes_with_the_text_the_name_and_the_machine(monkeypatch):
    def digest(texts, machine="x86"):
        monkeypatch.setattr(typesetting, "shaping_texts", lambda: texts)
        monkeypatch.setattr(typesetting.platform, "machine", lambda: machine)
        layout_digest.cache_clear()
        return layout_digest()

    try:
        found = [
            digest([("a", b"x")]), digest([("a", b"y")]), digest([("b", b"x")]), digest([("a", b"x")], "arm"), digest([]),
        ]  # fmt: skip
        assert len(set(found)) == 5
        assert all(len(one) == 16 for one in found)
    finally:
        layout_digest.cache_clear()


def test_the_texts_that_shape_the_pages_are_read_alike_on_every_system():
    texts = dict(shaping_texts())
    assert "monitor.certificate/pages/certificate.typ" in texts
    assert not [name for name in texts if not name.endswith((".py", ".typ"))]
    assert not [name for name, text in texts.items() if b"\r\n" in text]


def test_years_that_a_calendar_shows_are_set_and_others_refused():
    first, last = -2_208_988_800_000, 221_845_392_000_000
    for start, end in ((first, first + HOUR_MS), (last - HOUR_MS, last)):
        assert scenes.pages_of(plain(start=start, end=end))[0]["id"]
    for start, end in ((first - 1, first), (last, last + 1)):
        with pytest.raises(MisuseError, match="beyond the years 1900 to 9000"):
            scenes.pages_of(plain(start=start, end=end))
