"""Scores against a general-purpose reference: scikit-learn on labelled instants, and intervals minute by minute."""

from importlib import import_module
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from monitor.proof.intervals import normal, total
from monitor.tuning import Stretch, Window, about, ground_of, judge, score
from monitor.tuning.calls import Call, Heard
from monitor.tuning.scoring import windows

MIN = 60_000
HOUR = 60 * MIN
DAY = 24 * HOUR
WEEK = 7 * DAY


def call(first, alarm="overheating", told=(), over=None):
    return Call(key=f"b1/{alarm}", alarm=alarm, rang=first, since=first, over=over, told=(first, *told), why="It rang.")


def said(*calls, on=()):
    return Heard(calls=tuple(sorted(calls, key=lambda one: (one.first, one.key))), on=normal(on))


def trouble(start, end, note="too hot"):
    return Stretch(place="b1", start=start, end=end, trouble=True, note=note)


def fine(start, end):
    return Stretch(place="b1", start=start, end=end, trouble=False)


def ground(*stretches, end=4 * WEEK):
    return ground_of(stretches, "b1", 0, end)


WINDOW = Window()


@pytest.mark.parametrize(
    ("first", "caught", "warning"),
    [
        (DAY * 9, True, DAY),  # exactly a day before
        (DAY * 9 - 1, False, None),  # a millisecond too early
        (DAY * 10, True, 0),
        (DAY * 10 + 6 * HOUR, True, -6 * HOUR),  # six hours late is the last that helps
        (DAY * 10 + 6 * HOUR + 1, False, None),
    ],
)
def test_a_trouble_is_caught_from_a_day_before_to_six_hours_after_its_start(first, caught, warning):
    truth = ground(trouble(DAY * 10, DAY * 11))
    judged = judge(said(call(first)), truth, WINDOW)
    assert judged.warnings == (warning,)
    assert score(judged, truth).caught == caught
    assert score(judged, truth).needless == (0 if caught or first >= DAY * 10 else 1)


def test_told_too_late_is_missed_and_said_apart_from_never():
    truth = ground(trouble(DAY * 10, DAY * 12), trouble(DAY * 20, DAY * 21))
    judged = judge(said(call(DAY * 11), call(DAY * 12 + 1), call(DAY * 21 + 1)), truth, WINDOW)
    assert (judged.warnings, judged.late) == ((None, None), (DAY, None))
    assert judge(said(call(DAY * 10, told=(DAY * 11,))), truth, WINDOW).late == (None, None)


def test_a_short_trouble_must_be_told_before_it_is_over():
    truth = ground(trouble(DAY, DAY + HOUR))
    assert judge(said(call(DAY + HOUR)), truth, WINDOW).warnings == (-HOUR,)
    assert judge(said(call(DAY + HOUR + 1)), truth, WINDOW).warnings == (None,)


def test_a_message_told_again_within_the_window_catches_and_is_one_message():
    truth = ground(trouble(DAY * 10, DAY * 11))
    judged = judge(said(call(DAY * 7, told=(DAY * 8, DAY * 9 + HOUR))), truth, WINDOW)
    assert judged.warnings == (DAY - HOUR,)
    assert judged.needless == ()
    assert len(judged.told) == 1


def test_only_messages_about_it_can_have_warned_of_it():
    truth = ground(trouble(DAY * 10, DAY * 11, "too wet: the hose ran"))
    assert judge(said(call(DAY * 10 - HOUR)), truth, WINDOW).warnings == (None,)
    assert judge(said(call(DAY * 10 - HOUR)), truth, WINDOW).needless == (DAY * 10 - HOUR,)
    assert judge(said(call(DAY * 10 - HOUR, "too-wet")), truth, WINDOW).warnings == (HOUR,)
    anything = ground(trouble(DAY * 10, DAY * 11, "the worms climbed the walls"))
    assert judge(said(call(DAY * 10 - HOUR)), anything, WINDOW).warnings == (HOUR,)


def test_a_message_during_a_trouble_is_not_a_warning_of_the_next_of_its_kind():
    wide = Window(early_ms=3 * DAY)
    truth = ground(trouble(DAY * 10, DAY * 10 + 8 * HOUR), trouble(DAY * 12, DAY * 12 + 8 * HOUR))
    assert judge(said(call(DAY * 10 + HOUR)), truth, wide).warnings == (-HOUR, None)
    assert judge(said(call(DAY * 11)), truth, wide).warnings == (None, DAY)
    other = ground(trouble(DAY * 10, DAY * 10 + 8 * HOUR), trouble(DAY * 10 + 4 * HOUR, DAY * 12, "too dry"))
    judged = judge(said(call(DAY * 10 + HOUR, "too-dry")), other, WINDOW)
    assert judged.warnings == (None, 3 * HOUR)


def test_troubles_of_a_kind_less_than_a_day_apart_are_one():
    nights = [trouble(DAY * n + 4 * HOUR, DAY * n + 9 * HOUR, f"freezing, night {n}") for n in (10, 11, 12)]
    truth = ground(*nights, trouble(DAY * 11, DAY * 11 + HOUR, "too wet"), trouble(DAY * 14, DAY * 15, "freezing"))
    assert [(one.start, one.end) for one in truth.troubles] == [
        (DAY * 10 + 4 * HOUR, DAY * 12 + 9 * HOUR),
        (DAY * 11, DAY * 11 + HOUR),
        (DAY * 14, DAY * 15),
    ]
    assert truth.troubles[0].note == "freezing, night 10"


def test_without_fine_labels_all_but_troubles_is_fine_and_with_them_only_they_are():
    calls = said(call(DAY * 2), call(DAY * 5), call(DAY * 10 + 7 * HOUR))
    bad = trouble(DAY * 10, DAY * 11)
    truth = ground(bad)
    figures = score(judge(calls, truth, WINDOW), truth)
    assert (figures.needless, figures.unjudged, figures.messages) == (2, 0, 3)
    assert figures.judged_ms == 4 * WEEK - DAY
    truth = ground(bad, fine(DAY * 4, DAY * 6))
    figures = score(judge(calls, truth, WINDOW), truth)
    assert (figures.needless, figures.unjudged, figures.messages) == (1, 1, 3)
    assert figures.judged_ms == 2 * DAY
    assert figures.needless_in(WEEK) == 3.5


def test_a_fine_stretch_does_not_make_a_trouble_fine():
    truth = ground(trouble(DAY * 10, DAY * 11), fine(DAY * 9, DAY * 13))
    assert truth.judged == ((DAY * 9, DAY * 10), (DAY * 11, DAY * 13))


def test_labels_of_other_places_and_beyond_the_record_are_left_out():
    strange = Stretch(place="b2", start=DAY, end=2 * DAY, trouble=True, note="")
    assert ground(strange, trouble(5 * WEEK, 6 * WEEK)).troubles == ()


def test_of_two_warnings_the_later_one_is_the_median():
    truth = ground(*(trouble(DAY * day, DAY * day + 8 * HOUR) for day in (3, 8)))
    figures = score(judge(said(call(DAY * 3 - 17 * HOUR), call(DAY * 8 + HOUR)), truth, WINDOW), truth)
    assert figures.median_ms == -HOUR  # a mean of the two, 8 h before, never happened


def test_median_and_worst_are_of_those_caught():
    truth = ground(*(trouble(DAY * day, DAY * day + 8 * HOUR) for day in (3, 8, 13, 18)))
    calls = said(call(DAY * 3 - 4 * HOUR), call(DAY * 8 - 2 * HOUR), call(DAY * 13 + HOUR))
    figures = score(judge(calls, truth, WINDOW), truth)
    assert (figures.caught, figures.missed, figures.median_ms, figures.worst_ms) == (3, 1, 2 * HOUR, -HOUR)
    nothing = score(judge(said(), truth, WINDOW), truth)
    assert (nothing.caught, nothing.median_ms, nothing.worst_ms) == (0, None, None)


@pytest.mark.parametrize(
    ("note", "alarm", "named"),
    [
        ("too hot (hot spell)", "overheating", True),
        ("Too hot: worms on the lid", "worms-in-danger", True),
        ("too hot for me", "overheating", False),
        ("dead probe", "silent", True),
        ("worms in danger", "worms-in-danger", True),
        ("too-wet", "too-wet", True),
        ("", "too-wet", False),
    ],
)
def test_the_head_of_a_note_says_what_a_trouble_is_about(note, alarm, named):
    assert (alarm in about(note)) == named


def random_world(seed):
    rng = Random(seed)
    end = rng.randrange(2, 6) * WEEK
    stretches = []
    for _ in range(rng.randrange(1, 9)):
        start = rng.randrange(-DAY // MIN, end // MIN) * MIN
        lasting = rng.choice((20, 60, 300, 2000)) * MIN
        note = rng.choice(("too hot", "too wet", "odd"))
        stretches.append(trouble(start, start + lasting, note))
    if rng.random() < 0.6:
        for _ in range(rng.randrange(1, 4)):
            start = rng.randrange(0, end // MIN) * MIN
            stretches.append(fine(start, start + rng.randrange(60, 8000) * MIN))
    truth = ground(*stretches, end=end)
    calls, spans = [], []
    for _ in range(rng.randrange(0, 25)):
        first = rng.randrange(0, end // MIN) * MIN
        again = tuple(first + n * 2 * HOUR for n in range(1, rng.randrange(1, 5)))
        calls.append(call(first, rng.choice(("overheating", "too-wet", "silent")), again))
        spans.append((first, first + rng.randrange(1, 900) * MIN))
    return truth, said(*calls, on=spans), rng


@pytest.fixture(scope="module")
def metrics():
    """The reference takes seconds to load: not in each worker that only looks at this file."""
    return import_module("sklearn.metrics")


@pytest.mark.parametrize("seed", range(25))
def test_caught_and_needless_are_the_recall_and_precision_of_the_reference(seed, metrics):
    truth, heard, _ = random_world(seed)
    judged = judge(heard, truth, WINDOW)
    figures = score(judged, truth)
    # Recall: every trouble is one positive; it is found if any instant at which a fitting message went out lies in its window.
    found = []
    for one, (first, last) in zip(truth.troubles, windows(truth.troubles, WINDOW), strict=True):
        instants = [at for c in heard.calls for at in c.told if not one.about or c.alarm in one.about]
        found.append(int(any(first <= at <= last for at in instants)))
    if found:
        assert figures.caught / figures.troubles == pytest.approx(metrics.recall_score([1] * len(found), found))
    # Precision: every message that somebody can judge is one prediction; it is right if it caught something.
    right = [1] * len(judged.useful) + [0] * len(judged.needless)
    if right:
        share = len(judged.useful) / (len(judged.useful) + figures.needless)
        assert share == pytest.approx(metrics.precision_score(right, [1] * len(right)))
    # No message is counted twice, and each is accounted for, those inside a trouble that caught nothing apart.
    bad = [(one.start, one.end) for one in truth.troubles]
    inside = [
        c.first
        for c in heard.calls
        if c.first not in judged.useful and c.first not in judged.needless and c.first not in judged.unjudged
    ]
    assert all(any(start <= at <= end for start, end in bad) for at in inside)


@pytest.mark.parametrize("seed", range(25, 40))
def test_spans_are_those_of_a_count_minute_by_minute(seed):
    truth, heard, _ = random_world(seed)
    figures = score(judge(heard, truth, WINDOW), truth)
    on = fine_minutes = 0
    said_fine = truth.fine_said
    for minute in range(truth.end // MIN):
        at = minute * MIN + MIN // 2
        on += any(start <= at <= end for start, end in heard.on)
        bad = any(one.start <= at <= one.end for one in truth.troubles)
        fine_minutes += not bad and (not said_fine or any(start <= at <= end for start, end in truth.judged))
    assert figures.alarm_ms == on * MIN
    assert figures.judged_ms == fine_minutes * MIN


@given(st.integers(0, 10_000))
def test_parts_of_a_record_add_up_to_the_whole(seed):
    truth, heard, rng = random_world(seed)
    judged = judge(heard, truth, WINDOW)
    cut = rng.randrange(1, truth.end // MIN) * MIN
    whole = score(judged, truth)
    one, other = (score(judged, truth, part) for part in (((0, cut - 1),), ((cut, truth.end),)))
    for figure in ("troubles", "caught", "needless", "unjudged", "messages"):
        assert getattr(one, figure) + getattr(other, figure) == getattr(whole, figure)
    assert abs(one.judged_ms + other.judged_ms - whole.judged_ms) <= 2
    assert one.alarm_ms + other.alarm_ms <= total(heard.on)
