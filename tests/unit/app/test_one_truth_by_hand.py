"""A yard read by hand alone: the engine, `status`, the certificate from the journal and the one from files say the same."""

from random import Random

import pytest
from certificate_yard import DAY, HOUR, MIN, Journal, core, view_of, yard

from monitor.app.cases import Asked, known_rule
from monitor.app.cases.from_files import file_case
from monitor.app.cases.read_files import Files
from monitor.app.cases.verdict_words import verdict_json
from monitor.app.yard.yard_status import status_lines, status_values
from monitor.certificate import judge_case
from monitor.model.errors import MisuseError
from monitor.model.settings import Pile
from monitor.model.thresholds import PileThresholds
from monitor.model.times import parse_time, show_time
from monitor.model.units import plain_number
from monitor.model.words import Method
from monitor.page.places.all_places import place_view
from monitor.proof.verdict import Outcome

OCT = parse_time("2026-10-01T13:00:00Z")
MET = parse_time("2026-10-16T23:33:35Z")
RULE = "us-112-54-turned"
BATCH = "p1-2026-10-01"
HEAD = "time,probe,quantity,value,unit\n"


@pytest.fixture
def journal(tmp_path, monkeypatch):
    monkeypatch.setattr("certificate_yard.T0", OCT - 2 * HOUR)
    made = []

    def opened(hand_gap_ms=26 * HOUR, rule=RULE, **probes):
        own = PileThresholds(hand_gap_ms=hand_gap_ms)
        method = Method.TURNED if rule == RULE else Method.STATIC
        piles = {place: Pile(name=place, rule=rule, method=method, thresholds=own) for place in ("p1", "p2")}
        made.append(Journal(tmp_path / "data", yard(piles=piles, probes=probes)))
        return made[-1]

    yield opened
    for one in made:
        one.writer.close()


def read(journal, at, *values, entered=None, spots=("west", "middle", "east"), place="p1"):
    """Write a round down: Fahrenheit by spot, None where one was not read."""
    rows = [
        [at, f"hand:{place}:{spot}", round(value * 1_000_000), "[degF]"]
        for spot, value in zip(spots, values, strict=False)
        if value is not None
    ]
    journal.put(at if entered is None else entered, "readings", {"rows": sorted(rows), "ahead": [], "by": "Ann"})
    return rows


def from_files(tmp_path, rows, works, **asked):
    lines = [
        f"{show_time(at)},{series},temperature,{plain_number(micro // 1000)},[degF]\n" for at, series, micro, _ in rows
    ]
    (tmp_path / "r.csv").write_text(HEAD + "".join(lines))
    log = [f"{show_time(at)},{kind},{place}\n" for at, kind, place in works]
    (tmp_path / "w.csv").write_text("time,kind,place\n" + "".join(log))
    files = Files([tmp_path / "r.csv"], [tmp_path / "w.csv"], "p1")
    return judge_case(file_case(files, known_rule(RULE, None), Asked(now=OCT + 400 * DAY, **asked))[0])


def test_the_check_value_is_the_same_everywhere(journal, tmp_path):
    yard_of = journal()
    works, rows = [(OCT - HOUR, "built", "p1")], []
    yard_of.work(OCT - HOUR, "p1", "built")
    for day in range(20):
        at = OCT + day * DAY
        rows += read(yard_of, at, *((120,) if day == 0 else (145,)), spots=("west",))
        if day + 1 in (4, 7, 10, 13, 16):
            yard_of.work(at + HOUR, "p1", "turned")
            works.append((at + HOUR, "turned", "p1"))
    _, progress, _ = yard_of.live(BATCH)
    stored = judge_case(yard_of.case("p1"))
    filed = from_files(tmp_path, rows, works)
    for finding in (stored.finding, filed.finding):
        assert finding.outcome is Outcome.MET
        assert (finding.met_at // 1000 * 1000, finding.met_at) == (MET, progress.since)
        assert (finding.values["days"], finding.turnings) == (15, 5)
        assert finding.unproven_ms == 0
    assert progress.state.value == "met"
    told = verdict_json(yard_of.case("p1"), stored)
    assert told["assumed_s"] == 19 * 86400
    with view_of(yard_of.folder) as view:
        pile = status_values(view, OCT + 20 * DAY)["piles"][0]
    assert (pile["phase"], pile["rule_state"]) == ("holding", "met")
    assert (pile["progress"]["days"], pile["progress"]["turnings"]) == (15, 5)


def test_a_day_that_was_missed_is_unproven_and_not_met_anywhere(journal, tmp_path):
    yard_of = journal()
    works, rows = [(OCT - HOUR, "built", "p1")], []
    yard_of.work(OCT - HOUR, "p1", "built")
    for day in (*range(8), *range(9, 16)):
        rows += read(yard_of, OCT + day * DAY, 145, spots=("west",))
    stored, filed = judge_case(yard_of.case("p1")), from_files(tmp_path, rows, works)
    assert stored.finding.outcome is filed.finding.outcome is Outcome.NOT_MET
    assert stored.finding.unproven_ms == filed.finding.unproven_ms == 2 * DAY


def standing(yard_of, now):
    """Return what `status`, its lines, the page and *before you go* say of the heap's rounds at an instant."""
    with view_of(yard_of.folder) as view:
        pile = status_values(view, now)["piles"][0]
        line = next(one for one in status_lines(view, now) if one.startswith("p1: "))
        sheet = place_view(view.engine, "p1", [], now).lines
        leaving = next(one for one in view.engine.before_you_go(now).splitlines() if one.startswith("- p1: "))
    return pile.get("next_round"), line, sheet[-1], leaving


def test_a_missed_round_is_said_everywhere_and_the_verdict_says_it_too(journal):
    yard_of = journal()
    yard_of.work(OCT - HOUR, "p1", "built")
    for day in range(9):
        read(yard_of, OCT + day * DAY, 120 if day == 0 else 145, spots=("west",))
    last = OCT + 8 * DAY
    due, line, sheet, leaving = standing(yard_of, last + HOUR)
    assert due == {
        "last": show_time(last), "due": show_time(last + DAY), "chain_breaks": show_time(last + 26 * HOUR),
    }  # fmt: skip
    assert line.endswith("Next round due by tomorrow 09:00.")
    assert sheet == "Next round due by tomorrow 09:00"
    assert leaving.endswith("; next round due by tomorrow 09:00")
    _, line, sheet, leaving = standing(yard_of, last + 25 * HOUR)
    for words in (line, sheet, leaving):
        assert "ound is missed, due by 09:00: read it by hand before 11:00" in words
    _, line, sheet, leaving = standing(yard_of, last + 26 * HOUR)
    for words in (line, sheet, leaving):
        assert "he chain of rounds is broken since yesterday 09:00: read it by hand now" in words
    for day in range(10, 15):
        read(yard_of, OCT + day * DAY, 145, spots=("west",))
    told = yard_of.writer.store.connection.execute("SELECT DISTINCT at FROM effect WHERE axis = 'round-due'").fetchall()
    assert [at - last for (at,) in told] == [25 * HOUR, 26 * HOUR, 2 * DAY]
    judged = judge_case(yard_of.case("p1"))
    assert judged.finding.outcome is Outcome.NOT_MET
    assert judged.finding.unproven_ms == 2 * DAY


def test_a_longer_hand_gap_of_the_pile_makes_nothing_met_anywhere_but_as_asked_for(journal):
    """`status` and the message said *met*, the certificate of the same heap *met only as asked*."""
    yard_of = journal(hand_gap_ms=31 * DAY)
    yard_of.work(OCT - HOUR, "p1", "built")
    for day in (0, 10, 20, 30):
        read(yard_of, OCT + day * DAY, 145, 145, 145)
        for hour in (1, 49, 97, 145, 193):
            yard_of.work(OCT + day * DAY + hour * HOUR, "p1", "turned")
    now, progress, total_ms = yard_of.live(BATCH)
    assert (progress.state.value, total_ms) == ("running", 0)
    with view_of(yard_of.folder) as view:
        pile = status_values(view, now)["piles"][0]
    # Phases go by the longer gap all the same.
    assert (pile["phase"], pile["rule_state"], pile["heat_status"]) == ("holding", "running", "running")
    plain = judge_case(yard_of.case("p1", end=now))
    assert (plain.finding.outcome, plain.usual, plain.finding.total_ms) == (Outcome.NOT_PROVEN, None, 0)
    asked = judge_case(yard_of.case("p1", end=now, hand_gap_ms=31 * DAY))
    assert asked.only_as_asked


def test_a_heap_met_only_as_asked_brings_no_met_material_into_another(journal):
    yard_of = journal(hand_gap_ms=31 * DAY)
    for place in ("p1", "p2"):
        yard_of.work(OCT - HOUR, place, "built", entered=OCT - HOUR + (place == "p2"))
    for day in (0, 10, 20, 30):
        for place in ("p1", "p2"):
            read(yard_of, OCT + day * DAY + (place == "p2") * MIN, 145, 145, 145, place=place)
        for hour in (1, 49, 97, 145, 193):
            for place in ("p1", "p2"):
                done = OCT + day * DAY + hour * HOUR + (place == "p2") * MIN
                yard_of.work(done, place, "turned")
    yard_of.work(OCT + 31 * DAY, "p2", "merged", to="p1")
    read(yard_of, OCT + 31 * DAY + HOUR, 145, 145, 145)
    asked = judge_case(yard_of.case("p1", hand_gap_ms=31 * DAY))
    assert asked.finding.outcome is Outcome.NOT_MET


def live_through(journal, rng, probe="", *, dies=False):
    """Three weeks of one heap that is read by hand once a day or so; with a probe that is taken out and put back."""
    journal.work(OCT - HOUR, "p1", "built")
    rows, works, taken = [], [(OCT - HOUR, "built", "p1")], []
    calm = rng.random() < 0.4
    level, inside, at = 140 if calm else rng.choice((118, 140)), bool(probe), OCT
    place = "p1"
    last = at
    while at < OCT + 21 * DAY:
        level = min(158, max(133 if calm else 112, level + rng.uniform(-6, 9)))
        values = [level + rng.choice((0, 0, 2, 5, 9)) if rng.random() < 0.8 else None for _ in range(3)]
        if all(value is None for value in values):
            values[0] = level
        if rng.random() < 0.4:
            # Spot by spot, some minutes apart, and perhaps entered hours later and the other way round.
            parts = [
                (at + n * rng.randrange(1, 25) * MIN, n, value) for n, value in enumerate(values) if value is not None
            ]
            late = rng.choice((0, 0, 5 * HOUR))
            rng.shuffle(parts)
            for moment, n, value in parts:
                spots = ("west", "middle", "east")[n : n + 1]
                rows += read(journal, moment, value, spots=spots, entered=max(last, at + 90 * MIN + late), place=place)
                last += 1
        else:
            rows += read(journal, at, *values, place=place)
        last = max(last, at + 8 * HOUR)
        if rng.random() < 0.3:
            done = at + rng.choice((HOUR, 2 * HOUR, 7 * HOUR))
            journal.work(done, place, "turned", entered=done)
            works.append((done, "turned", place))
        if not calm and rng.random() < 0.06:
            journal.work(at + 3 * HOUR, place, "added", entered=at + 7 * HOUR)
            works.append((at + 3 * HOUR, "added", place))
        if rows and not calm and rng.random() < 0.1:
            one = rng.choice(rows)
            if one not in taken:
                taken.append(one)
                wrong = {"time": one[0], "probe": one[1]}
                journal.put(last, "correction", {"of": last, "work": None, "by": "Ann", "reading": wrong})
        if probe:
            if dies:
                # Its battery ends, somebody changes it days later: nobody logs anything.
                inside = rng.random() < 0.6 if rng.random() < 0.5 else inside
            elif rng.random() < 0.25:
                inside = not inside
                journal.work(
                    at + 4 * HOUR, place, "probe in" if inside else "probe out", probe=probe, entered=at + 4 * HOUR
                )
            if inside:
                heat = (level - 32) / 1.8
                journal.hold(at + 8 * HOUR + MIN, at + 20 * HOUR, step=30 * MIN, p1_a=heat + rng.uniform(-1, 1))
                last = max(last, at + 20 * HOUR)
        at = max(at + rng.choice((23 * HOUR, DAY, DAY, 25 * HOUR, 30 * HOUR)), last)
        at -= at % MIN
    return [row for row in rows if row not in taken], works


@pytest.mark.parametrize("seed", range(10))
def test_engine_journal_and_files_agree_on_any_record(journal, tmp_path, seed):
    # What the settings bridge beyond the rule's own 26 h proves nothing for it.
    yard_of = journal(hand_gap_ms=(26 * HOUR, 28 * HOUR, 31 * DAY)[seed % 3])
    rows, works = live_through(yard_of, Random(seed))
    now, progress, total_ms = yard_of.live(BATCH)
    found = [judge_case(yard_of.case(BATCH, end=now)).finding, from_files(tmp_path, rows, works, end=now).finding]
    for finding in found:
        assert (finding.outcome is Outcome.MET) == (progress.state.value == "met")
        assert finding.met_at == progress.since or finding.met_at is None
        assert finding.total_ms == total_ms
        shared = {key: value for key, value in finding.values.items() if key in progress.values}
        assert shared
        assert shared == {key: progress.values[key] for key in shared}
    assert found[0].hold == found[1].hold
    assert found[0].proven == found[1].proven
    assert found[0].reasons == found[1].reasons


@pytest.mark.parametrize("dies", [False, True])
@pytest.mark.parametrize("seed", range(6))
def test_engine_and_journal_agree_where_a_probe_comes_and_goes(journal, seed, dies):
    yard_of = journal(**{"p1-a": core("p1")})
    live_through(yard_of, Random(100 + seed), probe="p1-a", dies=dies)
    now, progress, total_ms = yard_of.live(BATCH)
    try:
        finding = judge_case(yard_of.case(BATCH, end=now)).finding
    except MisuseError:
        # No reading counts: the one probe was taken out by a turning and never came back.
        assert total_ms == 0
        return
    assert (finding.outcome is Outcome.MET) == (progress.state.value == "met")
    assert finding.total_ms == total_ms
    shared = {key: value for key, value in finding.values.items() if key in progress.values}
    # The case begins at the first reading that counts, the engine at the building: what was logged between is no turning of it.
    shared.pop("turnings_logged", None)
    assert shared == {key: progress.values[key] for key in shared}


def test_the_certificate_marks_the_stretches_that_rounds_prove(journal):
    yard_of = journal(**{"p1-a": core("p1")})
    yard_of.work(OCT - HOUR, "p1", "built")
    yard_of.hold(OCT, OCT + 2 * DAY, p1_a=60)
    read(yard_of, OCT + DAY + MIN, 60, 60, 60)
    yard_of.work(OCT + 2 * DAY, "p1", "probe out", probe="p1-a")
    for day in (2, 3, 4):
        read(yard_of, OCT + day * DAY + 2 * HOUR, 145, 150, 139)
    yard_of.work(OCT + 4 * DAY + 6 * HOUR, "p1", "probe in", probe="p1-a")
    yard_of.hold(OCT + 4 * DAY + 6 * HOUR + MIN, OCT + 5 * DAY, p1_a=60)
    judgement = judge_case(yard_of.case("p1"))
    assert judgement.assumed == ((OCT + 2 * DAY + 2 * HOUR, OCT + 4 * DAY + 2 * HOUR),)
    told = "Rounds by hand prove only where no core probe was in, or all that were in had fallen silent"
    assert any(told in one for one in yard_of.case("p1").remarks)
    # Cold hand readings while the probe proves decide nothing.
    assert (judgement.finding.total_ms, judgement.finding.unproven_ms) == (4 * DAY + 15 * HOUR, 8 * HOUR + MIN)


def test_rounds_prove_while_the_last_probe_is_dead_and_until_it_returns(journal):
    yard_of = journal(**{"p1-a": core("p1")})
    yard_of.work(OCT - HOUR, "p1", "built")
    yard_of.hold(OCT, OCT + DAY, p1_a=60)  # the last of them an hour before the day is over
    for hour in (26, 50, 74):
        read(yard_of, OCT + hour * HOUR, 145, 150, 139)
    assert yard_of.engine.state.runs[BATCH].walk.lines["p1-a"].failed
    yard_of.hold(OCT + 80 * HOUR, OCT + 90 * HOUR, p1_a=60)
    now, _, total_ms = yard_of.live(BATCH)
    judgement = judge_case(yard_of.case("p1", end=now))
    assert judgement.assumed == ((OCT + 26 * HOUR, OCT + 74 * HOUR),)
    assert judgement.finding.total_ms == total_ms == (23 + 48 + 9) * HOUR
    assert not yard_of.engine.state.runs[BATCH].walk.lines["p1-a"].failed


@pytest.mark.parametrize("rule", [RULE, "us-205-203-static"])
@pytest.mark.parametrize("seed", range(4))
def test_engine_and_journal_agree_where_one_spot_has_two_values_of_an_instant(journal, tmp_path, rule, seed):
    rng = Random(f"{rule} {seed}")
    yard_of = journal(rule=rule)
    yard_of.work(OCT - HOUR, "p1", "built")
    taken = []
    for day in range(18):
        at = OCT + day * DAY
        read(yard_of, at, *(rng.uniform(132, 150) for _ in range(3)))
        if rng.random() < 0.3:
            spot = rng.choice(("west", "middle", "east"))
            entered = at + rng.choice((1, HOUR, 3 * DAY))
            read(yard_of, at, rng.choice((100, 140, 160)), spots=(spot,), entered=entered)
            if rng.random() < 0.3:
                taken.append((entered + 1, {"time": at, "probe": f"hand:p1:{spot}"}))
        if rng.random() < 0.2:
            yard_of.work(at + HOUR, "p1", "turned")
        for when, wrong in [one for one in taken if one[0] <= at + 2 * HOUR]:
            # Whoever takes it back takes all that was said of that spot and minute back.
            yard_of.put(max(when, at + 2 * HOUR), "correction", {"of": at, "work": None, "by": "Ann", "reading": wrong})
            taken.remove((when, wrong))
    now, progress, total_ms = yard_of.live(BATCH)
    case = yard_of.case(BATCH, end=now)
    finding = judge_case(case).finding
    assert (finding.outcome is Outcome.MET) == (progress.state.value == "met")
    assert finding.total_ms == total_ms
    shared = {key: value for key, value in finding.values.items() if key in progress.values}
    assert shared == {key: progress.values[key] for key in shared}
    assert "has several values" in case.left_out
