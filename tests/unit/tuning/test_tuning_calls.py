"""From effects of the real engine to calls; hints, two runs side by side, phases, sweeps, and the whole answer."""

from concurrent.futures import ProcessPoolExecutor, ThreadPoolExecutor
from dataclasses import dataclass
from zoneinfo import ZoneInfo

import pytest

from monitor.engine import Engine
from monitor.model.effects import Draft, Effect, EffectKind
from monitor.model.events import Event, EventKind
from monitor.model.settings import Bin, Contact, NoticePolicy, Probe, Settings, Site
from monitor.model.thresholds import BinThresholds
from monitor.model.words import Role
from monitor.recordings import MemoryHistory
from monitor.tuning import (
    Call,
    Fate,
    Ground,
    Heard,
    Hinted,
    Judged,
    Kind,
    Stretch,
    Tried,
    Vary,
    Why,
    Window,
    findings_of,
    ground_of,
    heard,
    hints_of,
    judge,
    kept,
    one_at_a_time,
    pairs_of,
    phase_dates,
    sweep,
)
from monitor.tuning.compare import Moves, moves_of

MIN = 60_000
HOUR = 60 * MIN
DAY = 24 * HOUR
T0 = 1_793_577_600_000  # 2026-11-02T00:00:00Z, a Monday
ZONE = ZoneInfo("UTC")


def yard(*contacts, overheating=29_444):
    limits = BinThresholds(overheating_milli_c=overheating)
    return Settings(
        site=Site(time_zone="UTC"),
        bins={"b1": Bin(name="Bin", thresholds=limits), "b2": Bin(name="Other")},
        probes={
            "t": Probe(place="b1", role=Role.BEDDING, address="t"),
        },
        contacts=dict(contacts),
        notices=NoticePolicy(),
    )


def run(settings, values, probe="t", until=None, more=()):
    """Feed one probe's temperatures (milli degC) every ten minutes, other events between them; return the effects."""
    events = [Event(T0 - 1, EventKind.SETTINGS, {"settings": settings}), *more]
    for number, milli in enumerate(values):
        at = T0 + number * 10 * MIN
        events.append(Event(at, EventKind.READINGS, {"rows": [[at, probe, milli * 1000, "Cel"]], "ahead": []}))
    engine, history, effects = Engine(), MemoryHistory(), []
    for event in sorted(events, key=lambda one: one.at):
        history.take(event.payload)
        effects += engine.feed(event, history)
    return effects + engine.advance(until or T0 + len(values) * 10 * MIN)


HOT_HOUR = [25_000] * 12 + [31_000] * 12 + [25_000] * 24


def test_one_excursion_is_one_call_however_often_it_is_repeated():
    effects = run(yard(), [25_000] * 12 + [31_000] * 60 + [25_000] * 24)
    said = heard(effects, "b1", T0 + 16 * HOUR)
    (call,) = said.calls
    assert (call.key, call.alarm) == ("b1/overheating", "overheating")
    assert call.since == T0 + 2 * HOUR
    assert call.rang == call.first == T0 + 2 * HOUR + 20 * MIN
    assert [at - call.first for at in call.told] == [0, 2 * HOUR, 6 * HOUR]  # each repeat waits twice as long
    assert said.on == ((call.rang, call.over),)
    assert heard(effects, "b2", T0 + 16 * HOUR).calls == ()


def test_two_contacts_hear_one_call():
    two = [(name, Contact(name=name, quiet_start_minute=0, quiet_end_minute=0)) for name in ("ann", "bob")]
    assert len(heard(run(yard(*two), HOT_HOUR), "b1", T0 + DAY).calls) == 1


def test_what_is_held_through_the_night_is_told_in_the_morning():
    sleeper = ("ann", Contact(name="Ann", quiet_start_minute=0, quiet_end_minute=7 * 60))
    (call,) = heard(run(yard(sleeper), HOT_HOUR), "b1", T0 + DAY).calls
    assert call.rang == T0 + 2 * HOUR + 20 * MIN
    assert call.first == T0 + 7 * HOUR
    assert call.over < call.first


def test_the_lesser_alarm_rings_anew_when_the_worse_is_over():
    values = [25_000] * 12 + [30_000] * 6 + [36_000] * 6 + [30_000] * 12 + [25_000] * 12
    calls = heard(run(yard(), values), "b1", T0 + 8 * HOUR).calls
    assert [call.alarm for call in calls] == ["overheating", "worms-in-danger", "overheating"]
    spans = heard(run(yard(), values), "b1", T0 + 8 * HOUR).on
    assert len(spans) == 1  # never off in between


def test_an_alarm_that_is_on_at_the_end_counts_to_the_end():
    said = heard(run(yard(), [31_000] * 12), "b1", T0 + 3 * HOUR)
    assert said.on[-1][1] == T0 + 3 * HOUR
    assert said.calls[0].over is None


def answer(at, what, until=None):
    return Event(at, EventKind.ANSWER, {"alarm": "b1/overheating", "answer": what, "until": until, "by": "Ann"})


@pytest.mark.parametrize(
    ("event", "hinted"),
    [
        (answer(T0 + 3 * HOUR, "seen"), Hinted.SEEN),
        (answer(T0 + 3 * HOUR, "put off", T0 + 9 * HOUR), Hinted.PUT_OFF),
        (answer(T0 + HOUR, "seen"), None),  # before it rang
    ],
)
def test_answers_are_hints(event, hinted):
    calls = heard(run(yard(), HOT_HOUR, more=(event,)), "b1", T0 + DAY).calls
    hints = hints_of([event], calls, "b1")
    assert [hint.said for hint in hints] == ([hinted] if hinted else [])
    other = heard(run(yard(overheating=33_000), HOT_HOUR), "b1", T0 + DAY).calls
    counts = kept(other, hints)
    assert (counts.worthy_told, counts.put_off_told) == (0, 0)
    assert kept(calls, hints).worthy_told == (hinted is Hinted.SEEN)


def test_a_turning_after_a_message_confirms_it():
    call = Call(key="p1/turning-due", alarm="turning-due", rang=T0, since=T0, over=None, told=(T0,))
    work = {"time": T0 + DAY, "kind": "turned", "place": "p1"}

    def hints(payload):
        return [hint.said for hint in hints_of([Event(T0 + 3 * DAY, EventKind.WORK, payload)], [call], "p1")]

    assert hints(work) == [Hinted.TURNED]
    assert hints({**work, "time": T0 + 3 * DAY}) == []
    assert hints({**work, "place": "p2"}) == []
    assert hints({**work, "kind": "watered"}) == []


def made(first, key="b1/overheating", over=None):
    return Call(key=key, alarm=key.split("/")[1], rang=first, since=first, over=over, told=(first,))


def test_two_runs_side_by_side():
    now = [made(T0), made(T0 + 2 * DAY), made(T0 + 4 * DAY, over=T0 + 5 * DAY), made(T0 + 9 * DAY)]
    changed = [
        made(T0),
        made(T0 + 2 * DAY - HOUR),
        made(T0 + 4 * DAY + 20 * HOUR),
        made(T0 + 7 * DAY),
        made(T0 + 9 * DAY, "b1/too-wet"),
    ]
    fates = [pair.fate for pair in pairs_of(now, changed)]
    assert fates == [Fate.STAYS, Fate.MOVED, Fate.MOVED, Fate.NEW, Fate.GONE, Fate.NEW]
    assert moves_of(now, changed) == Moves(new=2, gone=1, shifts=(-HOUR, 0, 20 * HOUR))
    assert moves_of(now, []) == Moves(new=0, gone=4, shifts=())
    assert [pair.fate for pair in pairs_of([], changed)] == [Fate.NEW] * 5
    assert {pair.fate for pair in pairs_of(now, now)} == {Fate.STAYS}


def test_each_call_is_paired_once_with_the_nearest():
    pairs = pairs_of([made(T0), made(T0 + 2 * HOUR)], [made(T0 + 2 * HOUR + MIN)])
    assert [(pair.fate, pair.call.first) for pair in pairs] == [(Fate.GONE, T0), (Fate.MOVED, T0 + 2 * HOUR)]


def phase(at, after, batch="p1-1", since=None):
    draft = Draft(
        place="p1", kind=EffectKind.PHASE, axis="phase", before=None, after=after, why="", since=since or at, reason="",
        values={"batch": batch},
    )  # fmt: skip
    return Effect(at=at, ordinal=0, draft=draft)


def test_dates_of_phases_are_the_first_of_each_batch():
    effects = [
        phase(T0, "heating"),
        phase(T0 + DAY, "holding", since=T0 + DAY - HOUR),
        phase(T0 + 2 * DAY, "heating"),
        phase(T0 + 3 * DAY, "holding"),
        phase(T0 + 9 * DAY, "heating", "p1-2"),
    ]
    first, second = phase_dates(effects, "p1")
    assert first.dates == (T0 + DAY - HOUR, None, None)
    assert (second.batch, second.dates) == ("p1-2", (None, None, None))
    assert phase_dates(effects, "p2") == ()


def test_one_at_a_time_moves_each_threshold_alone():
    varies = (
        Vary(section="bins", place="b1", field="a", values=tuple(range(101))),
        Vary(section="bins", place="b1", field="b", values=(1, 2)),
    )
    sets = one_at_a_time(varies, (50, 2))
    assert sets == [(0, 2), (25, 2), (75, 2), (100, 2), (50, 1)]


@dataclass(frozen=True)
class Made:
    """A run that is made up: an alarm each day, later the higher the threshold is."""

    def __call__(self, values):
        return [phase(T0 + values[0] * HOUR + day * DAY, "holding") for day in range(3)]


@dataclass(frozen=True)
class Firsts:
    def __call__(self, effects):
        return [effect.at for effect in effects]


@pytest.mark.parametrize("workers", [1, 3])
def test_the_outcome_does_not_depend_on_the_workers(workers):
    sets = [(n,) for n in range(30)]
    wanted = [[T0 + n * HOUR + day * DAY for day in range(3)] for n in range(30)]
    told = []
    with ThreadPoolExecutor(workers) as pool:
        progress = lambda done, total: told.append((done, total))  # noqa: E731
        assert sweep(Made(), sets, Firsts(), pool.map, workers=workers, progress=progress) == wanted
    assert told[-1] == (30, 30)
    assert told == sorted(told)


def test_it_works_on_processes():
    with ProcessPoolExecutor(1) as pool:
        assert sweep(Made(), [(5,)], Firsts(), pool.map) == [[T0 + 5 * HOUR + day * DAY for day in range(3)]]


def world(troubles, weeks=16):
    """A record with troubles, one every so many days, each of which a good set warns of and today's misses."""
    stretches = [
        Stretch(
            place="b1",
            start=T0 + n * 10 * DAY + 9 * DAY,
            end=T0 + n * 10 * DAY + 10 * DAY,
            trouble=True,
            note="too hot",
        )
        for n in range(troubles)
    ]
    return ground_of(stretches, "b1", T0, T0 + weeks * 7 * DAY)


def outcome(ground: Ground, good: bool, needless: int) -> Judged:
    calls = [made(one.start - 3 * HOUR) for one in ground.troubles if good]
    calls += [made(T0 + n * 2 * DAY + HOUR, "b1/too-wet") for n in range(needless)]
    return judge(Heard(calls=tuple(sorted(calls, key=lambda one: one.first)), on=()), ground, Window())


VARIES = (Vary(section="bins", place="b1", field="overheating_milli_c", values=tuple(range(10))),)


def found(troubles, runs=10, **more):
    ground = world(troubles)
    now = Tried(values=(5,), judged=outcome(ground, False, 20))
    tried = [Tried(values=(n,), judged=outcome(ground, n < 3, 10 - n)) for n in range(runs)]
    return findings_of(ground, VARIES, now, tried, ZONE, **more)


def test_with_enough_labels_sets_are_chosen_on_one_part_and_reported_on_the_other():
    result = found(10)
    assert result.kind is Kind.CHOSEN
    assert result.best.values == (2,)
    assert result.now.values == (5,)
    assert result.best.choosing.troubles + result.best.score.troubles == 10
    assert result.best.score.caught == result.best.score.troubles
    assert result.now.score.caught == 0
    assert result.tried == 9  # today's values are not tried twice
    weeks = {*result.parts.choosing, *result.parts.reporting}
    assert weeks == set(result.weeks)
    low, high = result.best.needless_spread
    assert low <= result.best.score.needless_in(7 * DAY) <= high


@pytest.mark.parametrize(("troubles", "why"), [(0, Why.NO_LABELS), (4, Why.FEW)])
def test_with_few_labels_messages_are_only_counted(troubles, why):
    result = found(troubles)
    assert (result.kind, result.why, result.best, result.parts) == (Kind.WHAT_IF, why, None, None)
    assert [row.values for row in result.rows] == [(5,), *((n,) for n in range(10) if n != 5)]


def test_of_sets_that_say_the_same_one_row_stands_for_all():
    ground = world(0)
    now = Tried(values=(5,), judged=outcome(ground, False, 2))
    tried = [Tried(values=(n,), judged=outcome(ground, False, 2 if n > 3 else 4)) for n in range(10)]
    result = findings_of(ground, VARIES, now, tried, ZONE)
    assert [(row.values, row.alike) for row in result.rows] == [((5,), 5), ((3,), 3)]


def test_troubles_that_lie_in_one_block_are_not_split():
    stretches = [
        Stretch(place="b1", start=T0 + n * 2 * DAY, end=T0 + n * 2 * DAY + MIN, trouble=True, note="") for n in range(8)
    ]
    ground = ground_of(stretches, "b1", T0, T0 + 16 * 7 * DAY)
    now = Tried(values=(5,), judged=outcome(ground, False, 1))
    assert findings_of(ground, VARIES, now, [], ZONE).why is Why.ONE_PART


def test_there_are_at_most_ten_rows_and_the_same_seed_gives_the_same_answer():
    ground = world(10)
    now = Tried(values=(5,), judged=outcome(ground, False, 20))
    # Each set misses one more trouble and sends fewer messages: none beats another.
    tried = []
    for n in range(40):
        some = judge(
            Heard(
                calls=tuple(
                    sorted(
                        [
                            *(made(one.start - 30 * MIN * (45 - n)) for one in ground.troubles[: max(0, 10 - n // 4)]),
                            *(made(T0 + k * DAY + MIN, "b1/too-wet") for k in range(40 - n)),
                        ],
                        key=lambda one: one.first,
                    )
                ),
                on=(),
            ),
            ground,
            Window(),
        )
        tried.append(Tried(values=(n,), judged=some))
    one, other = (findings_of(ground, VARIES, now, tried, ZONE, seed=3) for _ in range(2))
    assert one == other
    assert len(one.rows) == 10
    assert sum(row.today for row in one.rows) == sum(row.suggested for row in one.rows) == 1


def test_what_nothing_beats_stays():
    ground = world(10)
    now = Tried(values=(5,), judged=outcome(ground, True, 0))
    tried = [Tried(values=(n,), judged=outcome(ground, False, n)) for n in range(5)]
    result = findings_of(ground, VARIES, now, tried, ZONE)
    assert result.best.today
