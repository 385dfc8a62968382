"""Several values of one instant: engine, `status`, certificate, replay of the journal and of files say the same."""

import json
from dataclasses import replace
from random import Random
from types import SimpleNamespace

import pytest
from certificate_yard import DAY, HOUR, MIN, T0, Journal, core, view_of, yard

from monitor.app.cases import Asked, known_rule
from monitor.app.cases.from_files import file_case
from monitor.app.cases.read_files import Files
from monitor.app.files.reading_rows import reading_rows
from monitor.app.yard.yard_status import status_values
from monitor.certificate import judge_case
from monitor.configuration import canonical_settings
from monitor.engine import Engine, nearest_way, progress_now
from monitor.engine.stretch import replay_pieces
from monitor.journal.columns import read_pieces
from monitor.model.events import Event, EventKind
from monitor.model.settings import Pile
from monitor.model.times import show_time
from monitor.model.words import Method
from monitor.model.work import Work, WorkKind
from monitor.proof.verdict import Outcome
from monitor.recordings import columns_of, plan_pieces, read_readings, write_readings

LOWER, UPPER, TURNED = "us-503-pfrp-static", "us-205-203-static", "us-112-54-turned"
AT = T0 + 40 * HOUR


@pytest.fixture
def yard_of(tmp_path):
    made = []

    def opened(rule):
        method = Method.TURNED if rule == TURNED else Method.STATIC
        piles = {"p3": Pile(name="Bay 3", rule=rule, method=method)}
        probes = {"p3-a": core("p3"), "p3-b": core("p3")}
        made.append(Journal(tmp_path / f"data-{len(made)}", yard(piles=piles, probes=probes)))
        return made[-1]

    yield opened
    for one in made:
        one.writer.close()


def beside(journal, at, *values, now=None, kind=EventKind.READINGS):
    rows = [[at, probe, round(value * 1_000_000), unit] for probe, value, unit in values]
    journal.put(at if now is None else now, kind, {"rows": rows})


def progress_of(journal):
    (run,) = journal.engine.state.runs.values()
    return progress_now(run)


def status_of(journal, now):
    with view_of(journal.folder) as view:
        return status_values(view, now)["piles"][0]


@pytest.mark.parametrize("when", [AT, AT + 10 * MIN, T0 + 4 * DAY])
@pytest.mark.parametrize("kind", [EventKind.READINGS, EventKind.IMPORTED])
def test_a_colder_value_takes_back_what_the_first_had_met(yard_of, when, kind):
    """`status` said *met* by the value that came first, the certificate *not met*."""
    journal = yard_of(LOWER)
    journal.work(T0, "p3", "built")
    journal.hold(T0 + HOUR, T0 + 3 * DAY + 2 * HOUR, p3_a=60, p3_b=61)
    assert progress_of(journal).state.value == "met"
    before = journal.engine.last
    beside(journal, AT, ("p3-a", 20, "Cel"), now=max(when, before + 1), kind=kind)
    assert progress_of(journal).state.value != "met"
    assert status_of(journal, before + HOUR)["rule_state"] != "met"
    assert judge_case(journal.case("p3")).finding.outcome is not Outcome.MET
    beside(journal, AT, ("p3-a", 20, "Cel"), now=max(when, before + 1) + HOUR)
    assert journal.writer.store.further(["p3-a"], AT, AT) == [(AT, "p3-a", 20_000_000, "Cel")]


def test_the_same_temperature_in_another_unit_takes_nothing_away(yard_of):
    journal = yard_of(UPPER)
    journal.work(T0, "p3", "built")
    journal.hold(T0 + HOUR, T0 + 3 * DAY + 2 * HOUR, p3_a=60, p3_b=61)
    before = progress_of(journal)
    assert before.state.value == "met"
    beside(journal, AT, ("p3-a", 140, "[degF]"), now=T0 + 4 * DAY)
    assert progress_of(journal) == before
    beside(journal, AT, ("p3-a", 60.5, "Cel"), now=T0 + 4 * DAY + HOUR)
    assert progress_of(journal) != before


@pytest.mark.parametrize("first", [60, -127])
def test_where_an_error_code_stands_beside_a_temperature_nothing_is_proven_around_it(yard_of, first):
    journal = yard_of(LOWER)
    journal.work(T0, "p3", "built")
    journal.hold(T0 + HOUR, AT, step=30 * MIN, p3_a=60, p3_b=61)
    journal.read(AT, p3_a=first, p3_b=61)
    beside(journal, AT, ("p3-a", -67 - first, "Cel"), now=AT + MIN)
    journal.hold(AT + 30 * MIN, T0 + 4 * DAY, step=30 * MIN, p3_a=60, p3_b=61)
    now, _, total_ms = journal.live(next(iter(journal.engine.state.runs)))
    finding = judge_case(journal.case("p3", end=now)).finding
    # The two hours at the building, before the first reading, are no part of it.
    assert finding.unproven_ms == HOUR
    assert finding.total_ms == total_ms


def test_a_value_that_comes_while_the_first_still_waits_for_the_next_reading(yard_of):
    journal = yard_of(LOWER)
    journal.work(T0, "p3", "built")
    journal.hold(T0 + HOUR, AT, step=10 * MIN, p3_a=60, p3_b=61)
    # A jump waits for the next reading, which shows whether it was one.
    journal.read(AT, p3_a=85.5, p3_b=61)
    assert journal.engine.state.conditioning.probes["p3-a"].pending is not None
    beside(journal, AT, ("p3-a", 30, "Cel"), now=AT + MIN)
    journal.hold(AT + 10 * MIN, T0 + 3 * DAY + 2 * HOUR, step=10 * MIN, p3_a=85.5, p3_b=61)
    now, progress, total_ms = journal.live(next(iter(journal.engine.state.runs)))
    finding = judge_case(journal.case("p3", end=now)).finding
    assert (finding.outcome is Outcome.MET, finding.total_ms) == (progress.state.value == "met", total_ms)
    assert total_ms < now - T0 - HOUR


def live_through(journal, rng):
    """A heap for six days, with values that come twice, at once, soon after or days later."""
    level, later = rng.choice((50, 58, 66)), []
    journal.work(T0, "p3", "built")
    step = rng.choice((30, 60)) * MIN
    out = -1
    for at in range(T0 + HOUR, T0 + 6 * DAY, step):
        level = min(80, max(48, level + rng.uniform(-2, 2.3)))
        values = {name: round(level + rng.uniform(-1.5, 1.5), 1) for name in ("p3-a", "p3-b")}
        if rng.random() < 0.03:
            values.pop(rng.choice(("p3-a", "p3-b")))
        read = [[at, name, value, "Cel"] for name, value in sorted(values.items())]
        if rng.random() < 0.08:
            name = rng.choice(sorted(values))
            other = rng.choice((20, 54, 56, 60, 78, -127, values[name]))
            value = [at, name, other, "Cel"] if rng.random() < 0.7 else [at, name, round(other * 1.8 + 32, 2), "[degF]"]
            later.append((at + rng.choice((0, 0, MIN, 5 * HOUR, 2 * DAY)), value))
        put = [one for when, one in later if when <= at]
        later = [(when, one) for when, one in later if when > at]
        event = [[time, name, round(value * 1_000_000), unit] for time, name, value, unit in (*read, *put)]
        journal.put(at, EventKind.READINGS, {"rows": event})
        if at > out + DAY and rng.random() < 0.01:
            out = at
            journal.work(at + MIN, "p3", "turned")


@pytest.mark.parametrize("rule", [LOWER, UPPER, TURNED])
@pytest.mark.parametrize("seed", range(6))
def test_everybody_agrees_on_any_record(yard_of, rule, seed):
    journal = yard_of(rule)
    live_through(journal, Random(f"{rule} {seed}"))
    (batch,) = journal.engine.state.runs
    now, progress, total_ms = journal.live(batch)
    case = journal.case("p3", end=now)
    finding = judge_case(case).finding
    assert (finding.outcome is Outcome.MET) == (progress.state.value == "met")
    assert finding.total_ms == total_ms
    shared = {key: value for key, value in finding.values.items() if key in progress.values}
    shared.pop("turnings_logged", None)
    assert shared == {key: progress.values[key] for key in shared}
    assert "a probe has several values" in case.left_out
    # Replay of the journal, as columns and one event at a time, and the state at a new start.
    assert replayed(read_pieces(journal.writer.store)) == (progress_of(journal), total_ms, now)
    with view_of(journal.folder) as view:
        assert progress_now(view.engine.state.runs[batch]) == progress_of(journal)
        assert view.faults == []


@pytest.mark.parametrize("rule", [LOWER, UPPER])
@pytest.mark.parametrize("seed", range(5))
def test_replay_of_files_and_their_certificate_agree(yard_of, tmp_path, rule, seed):
    rng = Random(f"files {rule} {seed}")
    level, lines = 57, []
    for at in range(T0, T0 + 5 * DAY, 30 * MIN):
        level = min(58, max(55.2, level + rng.uniform(-0.6, 0.6)))
        value = round(level, 1)
        # Replay looks for spikes, which a certificate of bare files does not: none of these is one.
        lines.append(f"{show_time(at)},p3-a,temperature,{value},Cel\n")
        if rng.random() < 0.02:
            lines.append(f"{show_time(at)},p3-a,temperature,{rng.choice((53.5, 54.5, 56, 58.5, -127, value))},Cel\n")
            if rng.random() < 0.3:
                lines[-2:] = lines[:-3:-1]
    path = tmp_path / "r.csv"
    path.write_text("time,probe,quantity,value,unit\n" + "".join(lines))
    (tmp_path / "w.csv").write_text(f"time,kind,place\n{show_time(T0)},built,p3\n")
    journal = yard_of(rule)
    plain = json.loads(canonical_settings(replace(journal.settings, probes={"p3-a": core("p3")})))
    settings = Event(T0 - 1, EventKind.SETTINGS, {"settings": plain})
    pieces = plan_pieces(columns_of(read_readings(path)[0]), [Work(time=T0, place="p3", kind=WorkKind.BUILT)])
    progress, total_ms, now = replayed([settings, *pieces])
    files = Files([path], [tmp_path / "w.csv"], "p3")
    finding = judge_case(file_case(files, known_rule(rule, None), Asked(now=T0 + 400 * DAY, end=now))[0]).finding
    assert (finding.outcome is Outcome.MET) == (progress.state.value == "met")
    assert finding.total_ms == total_ms


@pytest.mark.parametrize("rule", [LOWER, UPPER])
def test_what_is_exported_says_all_values(yard_of, tmp_path, rule):
    journal = yard_of(rule)
    journal.work(T0, "p3", "built")
    journal.hold(T0 + HOUR, T0 + 3 * DAY + 2 * HOUR, p3_a=60, p3_b=61)
    beside(journal, AT, ("p3-a", 20, "Cel"), ("p3-a", -127, "Cel"), now=T0 + 4 * DAY)
    out = tmp_path / "r.csv"
    with view_of(journal.folder) as view, out.open("w", encoding="utf-8") as file:
        configuration = SimpleNamespace(settings=journal.settings)
        write_readings(reading_rows(view.store, configuration, None, T0, T0 + 9 * DAY), file)
    mine = [row for row in read_readings(out)[0] if (row.probe, row.time) == ("p3-a", AT)]
    assert [row.micro for row in mine] == [60_000_000, -127_000_000, 20_000_000]
    assert [row.received for row in mine] == [AT, T0 + 4 * DAY, T0 + 4 * DAY]
    case, _ = file_case(
        Files([out], [], "p3"), known_rule(rule, None), Asked(now=T0 + 400 * DAY, probes=("p3-a", "p3-b"))
    )
    assert judge_case(case).finding.unproven_ms >= 2 * HOUR
    stored = judge_case(journal.case("p3")).finding
    assert stored.total_ms == judge_case(case).finding.total_ms


def replayed(pieces):
    engine = Engine()
    replay_pieces(engine, pieces)
    (run,) = engine.state.runs.values()
    return progress_now(run), nearest_way(run).state.situation.total_ms, run.walk.now
