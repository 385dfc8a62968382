"""Edges of tuning's rules: which effects make a call, which reaction counts, which calls are the same, which sets are drawn."""

from zoneinfo import ZoneInfo

import pytest

from monitor.model.effects import Draft, Effect, EffectKind
from monitor.model.events import Answer, Event, EventKind
from monitor.model.settings import Bin, Pile, Settings
from monitor.tuning import (
    Call,
    Fate,
    Ground,
    Heard,
    Hinted,
    Judged,
    Kept,
    Kind,
    Score,
    Stretch,
    Tried,
    Vary,
    Window,
    applied,
    findings_of,
    ground_of,
    heard,
    hints_of,
    judge,
    kept,
    one_at_a_time,
    pairs_of,
    parts_of,
    phase_dates,
    score,
    sets_of,
    suggested,
    sweep,
    today,
    weeks_of,
    with_moves,
    within,
)
from monitor.tuning.choice import at_most

MIN, HOUR, DAY = 60_000, 3_600_000, 86_400_000
T0 = 1_793_577_600_000  # 2026-11-02T00:00:00Z, a Monday
END = T0 + 30 * DAY


# From effects to calls --------------------------------------------------------------------------------------------------


class Run:
    """Effects made one after another."""

    def __init__(self):
        self.effects = []

    def alarm(self, at, after, before="normal", alarm="overheating", place="b1", probe="", since=None, why="Warm."):
        return self._put(
            at, place=place, kind=EffectKind.ALARM, axis=alarm, before=before, after=after, why=why,
            since=at if since is None else since, reason="on", probe=probe,
        )  # fmt: skip

    def notice(self, at, *keys, reason="came on", occasion="new"):
        return self._put(
            at, place="b1", kind=EffectKind.NOTICE, axis=occasion, before=None, after="ann", why="", since=at,
            reason=reason, values={"keys": keys},
        )  # fmt: skip

    def _put(self, at, **draft):
        self.effects.append(Effect(at=at, ordinal=len(self.effects), draft=Draft(**draft)))
        return self

    def heard(self, end=END):
        return heard(self.effects, "b1", end)


KEY, WET = "b1/overheating", "b1/too-wet"
ON, SEEN, OVER, PUT_OFF, MUTED = "unacknowledged", "acknowledged", "normal", "shelved", "suppressed"


def rung(at=T0):
    return Run().alarm(at, ON, since=at - HOUR)


def test_a_call_says_when_it_rang_since_when_and_until_when():
    (call,) = rung().notice(T0 + MIN, KEY).alarm(T0 + HOUR, OVER, before=ON).heard().calls
    assert call == Call(
        key=KEY, alarm="overheating", rang=T0, since=T0 - HOUR, over=T0 + HOUR, told=(T0 + MIN,), why="Warm."
    )
    assert call.first == T0 + MIN


@pytest.mark.parametrize("after", [OVER, "returned unacknowledged", MUTED, "out of service"])
def test_an_alarm_is_over_when_it_ends_is_muted_or_out_of_service(after):
    said = rung().notice(T0, KEY).alarm(T0 + HOUR, after, before=ON).heard()
    assert said.calls[0].over == T0 + HOUR
    assert said.on == ((T0, T0 + HOUR),)


@pytest.mark.parametrize("after", [SEEN, PUT_OFF])
def test_an_alarm_that_somebody_answered_is_still_on(after):
    said = rung().notice(T0, KEY).alarm(T0 + HOUR, after, before=ON).alarm(T0 + 2 * HOUR, OVER, before=after).heard()
    assert said.calls[0].over == T0 + 2 * HOUR
    assert said.on == ((T0, T0 + 2 * HOUR),)


@pytest.mark.parametrize(
    ("before", "calls"), [("normal", 2), ("returned unacknowledged", 2), (MUTED, 2), (PUT_OFF, 1), (SEEN, 1)]
)
def test_an_alarm_that_rings_anew_after_its_end_is_another_call(before, calls):
    run = rung().notice(T0, KEY).alarm(T0 + HOUR, before, before=ON).alarm(T0 + 2 * HOUR, ON, before=before)
    assert len(run.notice(T0 + 2 * HOUR, KEY).heard().calls) == calls


def test_over_is_when_it_was_first_over():
    run = rung().notice(T0, KEY).alarm(T0 + HOUR, "returned unacknowledged", before=ON)
    assert run.alarm(T0 + 2 * HOUR, OVER, before="returned unacknowledged").heard().calls[0].over == T0 + HOUR


def test_a_message_about_several_alarms_repeats_no_call_that_is_over_and_told():
    run = rung().notice(T0, KEY).alarm(T0 + HOUR, OVER, before=ON).alarm(T0 + HOUR, ON, alarm="too-wet")
    first, wet = run.notice(T0 + 2 * HOUR, KEY, WET).heard().calls
    assert (first.told, wet.told) == ((T0,), (T0 + 2 * HOUR,))


def test_what_was_held_until_after_its_end_is_told_once():
    run = rung().alarm(T0 + HOUR, OVER, before=ON).notice(T0 + 2 * HOUR, KEY).notice(T0 + 3 * HOUR, KEY)
    assert run.heard().calls[0].told == (T0 + 2 * HOUR,)


def test_two_contacts_told_at_one_instant_are_told_once():
    assert rung().notice(T0, KEY, KEY).notice(T0, KEY).notice(T0 + HOUR, KEY).heard().calls[0].told == (T0, T0 + HOUR)


def test_an_end_is_no_call_nor_is_a_digest_that_goes_alone():
    assert rung().notice(T0, KEY, reason="over").heard().calls == ()
    assert rung().notice(T0, reason="daily", occasion="digest").heard().calls == ()


def test_a_digest_that_goes_with_what_waited_tells_of_it():
    assert rung().notice(T0, KEY, reason="daily", occasion="digest").heard().calls[0].told == (T0,)


def test_an_alarm_of_another_place_or_that_nobody_heard_of_is_no_call():
    run = rung().alarm(T0, ON, place="b2").notice(T0, "b2/overheating", "b1/phase")
    said = run.heard()
    assert (said.calls, said.on) == ((), ((T0, END),))


def test_alarms_of_two_probes_are_two_calls_in_the_order_of_their_messages():
    run = Run().alarm(T0, ON, alarm="silent", probe="b").alarm(T0 + 1, ON, alarm="silent", probe="a")
    calls = run.notice(T0 + 5, "b1/silent/b", "b1/silent/a").heard().calls
    assert [call.key for call in calls] == ["b1/silent/a", "b1/silent/b"]
    later = Run().alarm(T0, ON, alarm="silent", probe="b").alarm(T0, ON, alarm="silent", probe="a")
    calls = later.notice(T0 + 5, "b1/silent/b").notice(T0 + 6, "b1/silent/a").heard().calls
    assert [call.key for call in calls] == ["b1/silent/b", "b1/silent/a"]


def test_an_alarm_that_rang_beyond_the_record_is_on_for_no_time():
    assert rung(T0 + HOUR).heard(end=T0).on == ((T0 + HOUR, T0 + HOUR),)


# Reactions --------------------------------------------------------------------------------------------------------------


def called(first=T0, over=None, alarm="overheating", told=()):
    return Call(key=f"b1/{alarm}", alarm=alarm, rang=first, since=first, over=over, told=(first, *told))


def answered(at, what, key=KEY):
    return Event(at, EventKind.ANSWER, {"alarm": key, "answer": what, "until": None, "by": "Ann"})


def said(events, call):
    return [hint.said for hint in hints_of(events, [call], "b1")]


@pytest.mark.parametrize(
    ("at", "over", "counts"),
    [
        (T0, None, True),
        (T0 - 1, None, False),
        (T0 + HOUR, T0 + HOUR, True),
        (T0 + HOUR + 1, T0 + HOUR, False),
        (T0 + DAY, T0 - 1, True),  # it ended before its message went out, so any answer is to that message
        (T0 + 1, T0, False),
    ],
)
def test_an_answer_counts_from_the_message_to_the_end_of_its_alarm(at, over, counts):
    assert said([answered(at, "seen")], called(over=over)) == ([Hinted.SEEN] if counts else [])


def test_the_first_answer_counts_and_one_that_is_taken_back_does_not():
    seen, off, not_me = answered(T0 + 1, "seen"), answered(T0 + 2, "put off"), answered(T0 + 3, Answer.NOT_ME)
    assert said([seen, off], called()) == [Hinted.SEEN]
    assert said([off, seen], called()) == [Hinted.PUT_OFF]
    assert said([seen, not_me], called()) == []
    assert said([seen, not_me, answered(T0 + 4, "put off")], called()) == [Hinted.PUT_OFF]
    assert said([seen, off, not_me], called()) == [Hinted.SEEN]
    assert said([seen, answered(T0 + 2, Answer.NOT_ME, WET)], called()) == [Hinted.SEEN]
    assert said([answered(T0 + 1, "out of service")], called()) == []
    assert said([answered(T0 + 1, "seen", WET)], called()) == []


@pytest.mark.parametrize(
    ("after", "confirms"), [(0, True), (2 * DAY, True), (2 * DAY + 1, False), (-1, False)], ids=str
)
def test_a_turning_within_two_days_confirms_a_message_that_asks_for_one(after, confirms):
    turned = Event(T0 + 9 * DAY, EventKind.WORK, {"time": T0 + after, "kind": "turned", "place": "b1"})
    assert said([turned], called(alarm="turning-due")) == ([Hinted.TURNED] if confirms else [])
    assert said([turned], called(alarm="too-wet")) == []
    (hint,) = hints_of([answered(T0, "seen", "b1/turning-due"), turned], [called(alarm="turning-due")], "b1")
    assert hint.said is Hinted.SEEN
    assert (hint.key, hint.first, hint.over) == ("b1/turning-due", T0, None)


@pytest.mark.parametrize(
    ("first", "over", "there"),
    [
        (T0 - 6 * HOUR, None, True),
        (T0 - 6 * HOUR - 1, None, False),
        (T0 + 6 * HOUR, None, True),
        (T0 + 6 * HOUR + 1, None, False),
        (T0 + 16 * HOUR, T0 + 10 * HOUR, True),
        (T0 + 16 * HOUR + 1, T0 + 10 * HOUR, False),
        (T0 + 6 * HOUR, T0 - DAY, True),
    ],
)
def test_a_worthy_call_is_kept_if_a_message_comes_near_it_or_while_it_was_on(first, over, there):
    events = [answered(T0, "seen"), answered(T0, "put off", WET)]
    hints = hints_of(events, [called(over=over), called(over=over, alarm="too-wet")], "b1")
    assert kept([called(first)], hints) == Kept(worthy=1, worthy_told=there, put_off=1, put_off_told=0)
    assert kept([called(first, alarm="too-wet")], hints) == Kept(worthy=1, worthy_told=0, put_off=1, put_off_told=there)


# Two runs side by side --------------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("now", "changed", "same"),
    [
        (called(T0), called(T0 + 6 * HOUR - 1), True),
        (called(T0), called(T0 + 6 * HOUR), False),
        (called(T0, over=T0 + DAY), called(T0 + DAY), True),
        (called(T0, over=T0 + DAY), called(T0 + DAY + 1), False),
        (called(T0 + DAY), called(T0, over=T0 + DAY), True),
        (called(T0 + DAY + 1), called(T0, over=T0 + DAY), False),
        (called(T0, told=(T0 + DAY,)), called(T0 + DAY), True),  # never over: on until its last message at least
        (called(T0, told=(T0 + DAY,)), called(T0 + DAY + 1), False),
        (called(T0, over=T0 + DAY), called(T0 + HOUR, alarm="too-wet"), False),
    ],
)
def test_calls_are_the_same_if_they_come_near_or_were_on_together(now, changed, same):
    fates = {pair.fate for pair in pairs_of([now], [changed])}
    assert fates == ({Fate.MOVED} if same else {Fate.GONE, Fate.NEW})


def test_each_call_has_one_partner_the_nearest_whichever_run_has_more():
    one, near, far = called(T0), called(T0 + 10 * MIN), called(T0 + 2 * HOUR)
    for more in ((near, far), (far, near)):
        fates = [(pair.fate, pair.call.first) for pair in pairs_of([one], more)]
        assert fates == [(Fate.MOVED, T0), (Fate.NEW, far.first)]
        (both, *_) = pairs_of([one], more)
        assert both.changed == near
        assert [(pair.fate, pair.call.first) for pair in pairs_of(more, [one])] == [
            (Fate.MOVED, near.first),
            (Fate.GONE, far.first),
        ]


def test_pairs_stand_in_the_order_of_their_first_messages():
    now = [called(T0 + 3 * DAY), called(T0, alarm="too-wet")]
    changed = [called(T0 + 2 * DAY, alarm="too-dry"), called(T0, alarm="freezing")]
    assert [pair.call.alarm for pair in pairs_of(now, changed)] == ["freezing", "too-wet", "too-dry", "overheating"]


# Labels and scores ------------------------------------------------------------------------------------------------------


def trouble(start, end, note="too hot"):
    return Stretch(place="b1", start=start, end=end, trouble=True, note=note)


def test_troubles_of_a_kind_exactly_a_day_apart_are_two():
    first, second = trouble(T0, T0 + HOUR), trouble(T0 + HOUR + DAY, T0 + 2 * DAY)
    assert len(ground_of([first, second], "b1", T0, END).troubles) == 2
    nearer = trouble(T0 + HOUR + DAY - 1, T0 + 2 * DAY)
    (one,) = ground_of([nearer, first], "b1", T0, END).troubles
    assert (one.start, one.end) == (T0, T0 + 2 * DAY)
    inside = trouble(T0 + MIN, T0 + 2 * MIN, "too hot: again")
    (one,) = ground_of([first, inside], "b1", T0, END).troubles
    assert (one.end, one.note) == (T0 + HOUR, "too hot"), "a short one inside ends nothing sooner"


def test_labels_that_touch_the_record_count_and_fine_time_is_cut_to_it():
    fine = Stretch(place="b1", start=T0 - DAY, end=T0 + DAY, trouble=False)
    ground = ground_of([trouble(END, END + DAY), trouble(T0 - DAY, T0, "too wet"), fine], "b1", T0, END)
    assert [one.start for one in ground.troubles] == [T0 - DAY, END]
    assert ground.fine_said
    assert (ground.judged[-1][0] >= T0, ground.judged[-1][1]) == (True, T0 + DAY)


def test_a_trouble_that_began_before_the_record_counts_at_its_beginning():
    ground = ground_of([trouble(T0 - DAY, T0 + HOUR)], "b1", T0, END)
    judged = judge(Heard(calls=(), on=()), ground, Window())
    assert score(judged, ground, ((T0, T0 + DAY),)).troubles == 1
    assert score(judged, ground, ((T0 + 1, T0 + DAY),)).troubles == 0


def test_the_warning_window_begins_after_the_trouble_before_it_of_its_kind():
    wide = Window(early_ms=5 * DAY)
    ground = ground_of([trouble(T0, T0 + HOUR), trouble(T0 + 3 * DAY, T0 + 4 * DAY)], "b1", T0, END)
    at_its_end = judge(Heard(calls=(called(T0 + HOUR),), on=()), ground, wide)
    assert at_its_end.warnings == (-HOUR, 3 * DAY - HOUR)
    assert at_its_end.useful == (T0 + HOUR,), "one message that served twice is one message"


def test_a_warning_is_that_of_the_first_message_in_the_window():
    ground = ground_of([trouble(T0 + 5 * DAY, T0 + 6 * DAY)], "b1", T0, END)
    calls = (called(T0 + 5 * DAY - 3 * HOUR), called(T0 + 5 * DAY - 2 * HOUR, alarm="worms-in-danger"))
    judged = judge(Heard(calls=calls, on=()), ground, Window())
    assert judged.warnings == (3 * HOUR,)
    assert judged.useful == (T0 + 5 * DAY - 3 * HOUR, T0 + 5 * DAY - 2 * HOUR)
    assert judged.by_alarm == {"overheating": 1, "worms-in-danger": 1}


def test_figures_of_a_part_are_those_of_its_time():
    figures = Score(
        troubles=3, caught=1, median_ms=None, worst_ms=None, needless=3, judged_ms=0, unjudged=0, messages=3, alarm_ms=0,
        span_ms=DAY,
    )  # fmt: skip
    assert (figures.missed, figures.needless_in(DAY)) == (2, 0.0), "no judged time, no rate"
    ground = ground_of([], "b1", T0, T0 + 10 * DAY)
    judged = judge(Heard(calls=(called(T0 + DAY),), on=((T0, T0 + 2 * DAY),)), ground, Window())
    whole, half = score(judged, ground), score(judged, ground, ((T0 + DAY, T0 + 5 * DAY),))
    assert (whole.span_ms, whole.judged_ms, whole.alarm_ms) == (10 * DAY, 10 * DAY, 2 * DAY)
    assert (half.span_ms, half.judged_ms, half.alarm_ms, half.needless) == (4 * DAY, 4 * DAY, DAY, 1)
    assert half.needless_in(2 * DAY) == 0.5


# Sets, weeks and the answer ---------------------------------------------------------------------------------------------


def vary(place="b1", section="bins", field="overheating_milli_c", values=(1, 2, 3)):
    return Vary(section=section, place=place, field=field, values=tuple(values))


@pytest.mark.parametrize("values", [(), (1, 1), (2, 1)])
def test_a_range_that_does_not_rise_is_refused(values):
    with pytest.raises(ValueError, match="overheating_milli_c: the values must rise"):
        vary(values=values)
    assert vary(values=(1,)).values == (1,)


def test_a_place_that_the_settings_lack_is_left_out_of_what_is_set():
    settings = Settings(bins={"b1": Bin(name="One")}, piles={"p1": Pile(name="Bay")})
    varies = (vary(), vary("b9"), vary("p9", "piles", "hot_milli_c"), vary("p1", "piles", "hot_milli_c"))
    after = applied(settings, varies, (1, 2, 3, 4))
    assert (after.bins["b1"].thresholds.overheating_milli_c, after.piles["p1"].thresholds.hot_milli_c) == (1, 4)
    assert (set(after.bins), set(after.piles)) == ({"b1"}, {"p1"})
    assert today(after, (varies[3], varies[0])) == (4, 1)
    with pytest.raises(KeyError):
        today(settings, (vary("b9"),))


def test_at_most_eight_thresholds_are_varied_and_a_small_grid_is_never_exceeded():
    eight = [vary(field=f"f{n}", values=(1, 2)) for n in range(8)]
    assert len(sets_of(eight, 100, 1)) == 100
    with pytest.raises(ValueError, match="9 thresholds are varied; 8 is the most"):
        sets_of([*eight, vary()], 100, 1)
    assert sets_of(eight[:3], 8, 1)[:3] == [(1, 1, 1), (1, 1, 2), (1, 2, 1)]
    assert len(sets_of(eight[:3], 7, 1)) == 7


def test_one_threshold_at_a_time_shows_its_ends_and_leaves_out_today():
    assert one_at_a_time((vary(values=range(5)),), (2,)) == [(0,), (1,), (3,), (4,)]
    assert one_at_a_time((vary(values=(7,)),), (7,)) == []
    assert one_at_a_time((vary(values=(7,)), vary(values=(1, 2))), (6, 1)) == [(7, 1), (6, 2)]


def test_weeks_begin_on_monday_at_midnight_of_the_yard():
    zone = ZoneInfo("America/New_York")
    monday = T0 + 5 * HOUR  # midnight of Monday, 2 November in New York (EST)
    assert weeks_of(monday - 1, monday, zone) == ((monday - 1, monday - 1), (monday, monday))
    assert weeks_of(monday, monday + 7 * DAY - 1, zone) == ((monday, monday + 7 * DAY - 1),)
    weeks = weeks_of(monday - 3 * DAY, monday + 20 * DAY, zone)
    assert [first for first, _ in weeks] == [monday - 3 * DAY, monday, monday + 7 * DAY, monday + 14 * DAY]
    spring = weeks_of(T0 + 120 * DAY, T0 + 140 * DAY, zone)  # 8 March is the day of 23 hours
    assert {last - first + 1 for first, last in spring[1:-1]} <= {7 * DAY, 7 * DAY - HOUR}
    assert weeks_of(monday, monday - 1, zone) == ()


def weeks(count):
    return [(T0 + n * 7 * DAY, T0 + (n + 1) * 7 * DAY - 1) for n in range(count)]


@pytest.mark.parametrize(("count", "block"), [(3, 1), (8, 2), (15, 3), (16, 4), (40, 4)])
def test_blocks_have_up_to_four_weeks_and_are_at_least_four(count, block):
    parts = parts_of(weeks(count), [])
    assert list(parts.choosing[:block]) == weeks(count)[:block]
    assert list(parts.reporting[:block]) == weeks(count)[block : 2 * block]
    assert sorted((*parts.choosing, *parts.reporting)) == weeks(count)


def test_a_block_goes_to_the_part_with_fewer_troubles():
    first, last = weeks(4)[0]
    parts = parts_of(weeks(4), [first, last, weeks(4)[1][0]])
    assert parts.reporting == tuple(weeks(4)[1:])
    assert parts.choosing == (weeks(4)[0],)
    level = parts_of(weeks(4), [first, weeks(4)[1][1]])
    assert level.choosing == (weeks(4)[0], weeks(4)[2])
    assert within(parts.choosing, last)
    assert not within(parts.choosing, last + 1)


def phase(at, after, since, batch="p1-1", place="p1"):
    draft = Draft(
        place=place, kind=EffectKind.PHASE, axis="phase", before=None, after=after, why="", since=since, reason="",
        values={"batch": batch},
    )  # fmt: skip
    return Effect(at=at, ordinal=0, draft=draft)


def test_the_date_of_a_phase_is_the_earliest_at_which_it_was_true():
    effects = [
        phase(T0 + 9, "holding", T0 + 5),
        phase(T0 + 10, "holding", T0 + 3),
        phase(T0 + 11, "holding", T0 + 7),
        phase(T0 + 12, "cooling", T0 + 12),
        phase(T0 + 13, "ready", T0 + 12, place="p2"),
        phase(T0 + 14, None, T0 + 14, batch="p1-2"),
    ]
    (one,) = phase_dates(effects, "p1")
    assert (one.batch, one.dates) == ("p1-1", (T0 + 3, T0 + 12, None))


class Sized:
    """Notes how large the parcels are."""

    def __init__(self):
        self.sizes = []

    def map(self, work, parcels):
        for parcel in parcels:
            self.sizes.append(len(parcel.sets))
            yield work(parcel)


@pytest.mark.parametrize(("sets", "workers", "sizes"), [(3, 1, [1] * 3), (40, 2, [5] * 8), (600, 2, [64] * 9 + [24])])
def test_parcels_are_as_large_as_can_be_while_every_worker_has_some(sets, workers, sizes):
    sized, done = Sized(), []
    kept = sweep(
        lambda values: values, [(n,) for n in range(sets)], lambda effects: effects[0], sized.map, workers=workers,
        progress=lambda *how_many: done.append(how_many),
    )  # fmt: skip
    assert kept == list(range(sets))
    assert sized.sizes == sizes
    assert done[0] == (sizes[0], sets)
    assert done[-1] == (sets, sets)


def figures(missed, needless, warning=HOUR):
    return Score(
        troubles=9, caught=9 - missed, median_ms=warning, worst_ms=warning, needless=needless, judged_ms=DAY, unjudged=0,
        messages=needless, alarm_ms=0, span_ms=DAY,
    )  # fmt: skip


def test_a_missed_trouble_weighs_as_much_as_ten_needless_messages():
    varies, sets = (vary(values=range(2)),), [(0,), (1,)]
    for needless, chosen in ((9, 0), (11, 1)):
        some = [figures(0, needless), figures(1, 0)]
        assert suggested([0, 1], some, sets, varies, (0,)) == chosen
    both = [figures(0, 1, HOUR), figures(0, 1, 2 * HOUR)]
    assert suggested([0, 1], both, sets, varies, (0,)) == 1, "of equals the one that warns longer"


@pytest.mark.parametrize(
    ("count", "most", "kept"),
    [(10, 10, list(range(10))), (11, 10, [0, 1, 2, 3, 4, 6, 7, 8, 9, 10]), (5, 1, [0]), (5, 0, []), (9, 3, [0, 4, 8])],
)
def test_a_list_is_thinned_evenly_from_end_to_end(count, most, kept):
    assert at_most(range(count), most, lambda _: False) == kept


def test_what_must_stay_stays_even_beyond_the_most():
    assert at_most(range(6), 2, lambda number: number in (1, 3, 5)) == [1, 3, 5]
    assert at_most(range(6), 3, lambda number: number in (1, 3, 5)) == [1, 3, 5]
    assert at_most(range(6), 4, lambda number: number in (1, 3, 5)) == [0, 1, 3, 5]


def judged(ground: Ground, *calls, on=()) -> Judged:
    return judge(Heard(calls=tuple(calls), on=tuple(on)), ground, Window())


def test_without_labels_rows_stand_by_their_values_and_with_two_thresholds_by_their_messages():
    ground = ground_of([], "b1", T0, END)
    calls = [called(T0 + n * DAY) for n in range(9)]
    one = (vary(values=range(10)),)
    tried = [Tried(values=(n,), judged=judged(ground, *calls[: 9 - n])) for n in range(1, 5)]
    now = Tried(values=(9,), judged=judged(ground))
    result = findings_of(ground, one, now, tried, ZoneInfo("UTC"))
    assert (result.kind, [row.values for row in result.rows]) == (Kind.WHAT_IF, [(9,), (1,), (2,), (3,), (4,)])
    two = (*one, vary(field="too_wet_milli_pct", values=range(10)))
    pairs = [Tried(values=(*some.values, 0), judged=some.judged) for some in tried]
    result = findings_of(ground, two, Tried(values=(9, 0), judged=now.judged), pairs, ZoneInfo("UTC"))
    assert [row.values for row in result.rows] == [(9, 0), (4, 0), (3, 0), (2, 0), (1, 0)]
    assert [row.score.messages for row in result.rows] == [0, 5, 6, 7, 8]
    assert (result.tried, result.points, result.best) == (4, (), None)


def test_of_many_sets_without_labels_ten_rows_are_shown_and_the_rest_are_points():
    ground = ground_of([], "b1", T0, END)
    calls = [called(T0 + n * HOUR) for n in range(30)]
    tried = [Tried(values=(n,), judged=judged(ground, *calls[: n + 1])) for n in range(25)]
    result = findings_of(
        ground, (vary(values=range(40)),), Tried(values=(39,), judged=judged(ground)), tried, ZoneInfo("UTC")
    )
    assert len(result.rows) == 10
    assert len(result.points) == 16
    assert result.now.values == (39,)
    assert sorted(one.messages for one in (*(row.score for row in result.rows), *result.points)) == list(range(26))


def test_sets_with_the_same_messages_but_other_times_in_alarm_are_not_alike():
    ground = ground_of([], "b1", T0, END)
    short, long = (judged(ground, called(T0), on=((T0, T0 + hours * HOUR),)) for hours in (1, 2))
    tried = [Tried(values=(1,), judged=short), Tried(values=(2,), judged=long), Tried(values=(3,), judged=short)]
    result = findings_of(
        ground, (vary(values=range(5)),), Tried(values=(4,), judged=judged(ground)), tried, ZoneInfo("UTC")
    )
    assert [(row.values, row.alike) for row in result.rows] == [((4,), 0), ((2,), 0), ((3,), 1)]


def test_the_rows_of_an_answer_say_how_their_messages_moved():
    ground = ground_of([], "b1", T0, END)
    runs = {(0,): [called(T0)], (1,): [called(T0 + HOUR)], (2,): []}
    tried = [Tried(values=values, judged=judged(ground, *calls)) for values, calls in runs.items()]
    found = findings_of(ground, (vary(values=range(3)),), tried[0], tried[1:], ZoneInfo("UTC"))
    moves = [row.moves for row in with_moves(found, lambda values: runs[values]).rows]
    assert [(one.new, one.gone, one.shifts) for one in moves] == [(0, 0, (0,)), (0, 0, (HOUR,)), (0, 1, ())]
    assert all(row.moves is None for row in found.rows)


@pytest.mark.parametrize(
    ("before", "after", "warning"),
    [
        ("too hot", "too hot", None),
        ("too hot", "too wet", 3 * DAY),
        ("somebody knocked", "too wet", None),
        ("too hot", "somebody knocked", None),
    ],
)
def test_a_trouble_that_may_be_the_same_bounds_the_warning_of_the_next(before, after, warning):
    ground = ground_of(
        [trouble(T0, T0 + HOUR, before), trouble(T0 + 3 * DAY, T0 + 4 * DAY, after)], "b1", T0 - DAY, END
    )
    alarm = "too-wet" if after == "too wet" else "overheating"
    said = Heard(calls=(called(T0, alarm=alarm),), on=())
    assert judge(said, ground, Window(early_ms=5 * DAY)).warnings[1] == warning


def test_a_message_before_the_window_is_neither_a_warning_nor_too_late():
    ground = ground_of([trouble(T0 + 5 * DAY, T0 + 7 * DAY)], "b1", T0, END)
    for at, late in (
        (T0 + DAY, None),
        (T0 + 5 * DAY + 6 * HOUR + 1, 6 * HOUR + 1),
        (T0 + 7 * DAY, 2 * DAY),
        (T0 + 7 * DAY + 1, None),
    ):
        assert judge(Heard(calls=(called(at),), on=()), ground, Window()).late == (late,)
    both = Heard(calls=(called(T0 + 6 * DAY), called(T0 + 6 * DAY + HOUR)), on=())
    assert judge(both, ground, Window()).late == (DAY,), "the first of them"


def test_the_spreads_of_an_answer_are_those_of_its_reported_weeks():
    """Every trouble is caught by the one set and none by today's; a needless message comes each week in both."""
    stretches = [trouble(T0 + n * 7 * DAY + DAY, T0 + n * 7 * DAY + 2 * DAY) for n in range(16)]
    ground = ground_of(stretches, "b1", T0, T0 + 16 * 7 * DAY - 1)
    needless = [called(T0 + n * 7 * DAY + 4 * DAY, alarm="too-wet") for n in range(16)]
    warned = [called(T0 + n * 7 * DAY + 22 * HOUR) for n in range(16)]

    def run(value, *calls):
        return Tried(values=(value,), judged=judged(ground, *sorted(calls, key=lambda one: one.first)))

    found = findings_of(
        ground,
        (vary(values=range(3)),),
        run(0, *needless),
        [run(1, *needless, *warned), run(0), run(2)],
        ZoneInfo("UTC"),
    )
    assert (found.kind, found.why, found.tried) == (Kind.CHOSEN, None, 2)
    best, now = found.best, found.now
    assert (best.values, now.values) == ((1,), (0,))
    assert (best.caught_spread, now.caught_spread) == ((1.0, 1.0), (0.0, 0.0))
    assert best.needless_spread == pytest.approx((7 / 6, 7 / 6)), "a week less the day of its trouble was judged"
    assert (best.choosing.missed, now.choosing.missed) == (0, now.choosing.troubles)
    assert len(found.rows) + len(found.points) == 3
    assert found.rows[0].values == (1,), "the suggested one first"


def test_of_sets_that_send_todays_messages_todays_row_stands_for_all():
    ground = ground_of([], "b1", T0, END)
    same = judged(ground, called(T0))
    tried = [Tried(values=(n,), judged=same) for n in (1, 2)]
    result = findings_of(ground, (vary(values=range(9)),), Tried(values=(8,), judged=same), tried, ZoneInfo("UTC"))
    assert [(row.values, row.today, row.alike) for row in result.rows] == [((8,), True, 2)]
