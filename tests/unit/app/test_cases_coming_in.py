"""Material that comes in: the engine, the journal's certificate and the files' say the same of the batch that takes it in."""

from random import Random
from types import SimpleNamespace

import pytest
from certificate_yard import DAY, HOUR, MIN, T0, Journal, view_of, yard

from monitor.app.cases import Asked, known_rule
from monitor.app.cases.from_files import file_case
from monitor.app.cases.read_files import Files
from monitor.app.entries.work_log import work_log
from monitor.app.yard.yard_status import status_values
from monitor.certificate import judge_case
from monitor.certificate.judged.judging import member
from monitor.engine.context.batch_runs import heat_status
from monitor.journal import FOREVER
from monitor.material import HeatStatus
from monitor.model.settings import Bin, Pile
from monitor.model.times import show_time
from monitor.model.words import Method, RuleState
from monitor.page.places.rule_progress import progress_of
from monitor.proof.verdict import Outcome
from monitor.recordings import write_work

RULE = "us-503-pfrp-static"
RAW, RUNNING, MET, VOID = HeatStatus.RAW, HeatStatus.RUNNING, HeatStatus.MET, HeatStatus.VOID
TOLD = {RAW: RuleState.NOT_BEGUN, VOID: RuleState.NOT_BEGUN, RUNNING: RuleState.RUNNING, MET: RuleState.MET}


def two_heaps(other_rule=RULE):
    piles = {
        "p1": Pile(name="Bay 1", rule=RULE, method=Method.STATIC),
        "p2": Pile(name="Bay 2", rule=other_rule, method=Method.STATIC),
        "p3": Pile(name="Bay 3", rule=RULE, method=Method.STATIC),
    }
    probes = {name: probe for name, probe in yard().probes.items() if name in ("air", "p1-a", "p2-a")}
    return yard(piles=piles, probes=probes, bins={"b1": Bin(name="Sunny bin")})


@pytest.fixture
def journal(tmp_path):
    made = Journal(tmp_path, two_heaps())
    yield made
    made.writer.close()


def batch_on(journal, place):
    return journal.engine.state.batches.lying[place]


def agree(journal, batch):
    """Return the judged case of a batch; what the engine tells of it is the same."""
    case = journal.case(batch)
    judgement = judge_case(case)
    run = journal.engine.state.runs[batch]
    assert run.rule is TOLD[judgement.heat_status], (run.rule, judgement.heat_status)
    assert (judgement.heat_status is MET) == (judgement.finding.outcome is Outcome.MET)
    return case, judgement


def build(journal, hours, **more):
    """Two heaps, built together and hot for so many hours; returns the instant right after the last reading."""
    journal.work(T0, "p1", "built", entered=T0, **more)
    journal.work(T0, "p2", "built", entered=T0 + 1, **more)
    journal.hold(T0 + MIN, T0 + hours * HOUR + MIN, p1_a=60, p2_a=58, air=8)
    return T0 + hours * HOUR + 2 * MIN


@pytest.mark.parametrize("kind", ["merged", "moved", "split"])
def test_met_into_met_stays_met_and_names_both_records(journal, kind):
    # trade.md B3
    at = build(journal, 80)
    one, other = batch_on(journal, "p1"), batch_on(journal, "p2")
    assert agree(journal, other)[1].heat_status is MET
    journal.work(at, "p1", kind, to="p2", note="not a turning")
    case, judgement = agree(journal, other)
    assert judgement.heat_status is MET
    assert [(came.batch, came.met) for came in case.came_in] == [(one, True)]
    assert any(f"(batch {one})" in said and "both had met this rule" in said for said in case.remarks)
    journal.hold(at + HOUR, at + 3 * HOUR, p2_a=58, air=8)
    assert agree(journal, other)[1].heat_status is MET


@pytest.mark.parametrize(
    ("kind", "more"),
    [
        ("added", {}),
        ("added", {"what": "horse manure"}),
        ("merged", {"to": "p1"}),
        ("split", {"to": "p1"}),
        ("moved", {"to": "p1"}),
    ],
)
def test_raw_material_makes_void_at_once_whether_or_not_a_reading_follows(journal, kind, more):
    # trade.md B2, D4
    at = build(journal, 80)
    batch = batch_on(journal, "p1")
    journal.work(at, "p2", "built", entered=at)
    journal.read(at + MIN, p1_a=60, p2_a=20, air=8)
    assert agree(journal, batch)[1].heat_status is MET
    raw = journal.work(at + 2 * MIN, "p1" if kind == "added" else "p2", kind, note="not a turning", **more)
    _, judgement = agree(journal, batch)
    assert (judgement.heat_status, judgement.finding.outcome) == (VOID, Outcome.NOT_MET)
    assert judgement.finding.counts_from == at + 2 * MIN
    with view_of(journal.folder) as view:
        told = [one.draft for one in view.store.effects(raw - 1, raw) if one.draft.kind.value == "rule"]
        assert view.engine.state.runs[batch].rule is RuleState.NOT_BEGUN
    assert [(one.before, one.after, one.reason, one.since) for one in told] == [
        ("met", "not begun", "raw added", at + 2 * MIN)
    ]
    # The certificate of before can be had, and its head says what came after.
    earlier = journal.case(batch, as_of=at + MIN)
    assert judge_case(earlier).heat_status is MET
    assert any("the verdict is: not met (the material is void)" in one for one in earlier.came_after)
    # It runs anew from the next instant of the hold.
    journal.hold(at + HOUR, at + 4 * HOUR, p1_a=60, p2_a=60, air=8)
    case, judgement = agree(journal, batch)
    assert judgement.heat_status is RUNNING
    assert case.restarts[-1] == at + 2 * MIN
    journal.hold(at + 4 * HOUR, at + 80 * HOUR, p1_a=60, p2_a=60, air=8)
    assert agree(journal, batch)[1].heat_status is MET


def test_raw_into_raw_stays_raw(journal):
    journal.work(T0, "p1", "built", entered=T0)
    journal.hold(T0 + MIN, T0 + 5 * HOUR, p1_a=20, air=8)
    journal.work(T0 + 5 * HOUR, "p1", "added")
    assert agree(journal, batch_on(journal, "p1"))[1].heat_status is RAW


@pytest.mark.parametrize(
    ("amount", "built", "status"),
    [
        ("90 kg", "1000 kg", RUNNING),
        ("100 kg", "1000 kg", RUNNING),
        ("101 kg", "1000 kg", VOID),
        ("220 lb", "1 t", RUNNING),
        ("0.1 m3", "1 m3", RUNNING),
        ("0.1 m3", "1000 kg", VOID),  # one a mass, the other a volume: not known
        ("", "1000 kg", VOID),
        ("5 bucket", "1000 kg", VOID),
        ("90 kg", "", VOID),
    ],
)
def test_a_little_met_material_leaves_a_batch_that_is_under_way(journal, amount, built, status):
    number, _, measure = built.partition(" ")
    at = build(journal, 80, amount=number, measure=measure)
    journal.work(at, "p2", "built", entered=at, amount=number, measure=measure)
    journal.hold(at + MIN, at + 10 * HOUR, p1_a=60, p2_a=58, air=8)
    batch = batch_on(journal, "p2")
    assert agree(journal, batch)[1].heat_status is RUNNING
    number, _, measure = amount.partition(" ")
    journal.work(at + 10 * HOUR, "p1", "split", to="p2", amount=number, measure=measure)
    assert agree(journal, batch)[1].heat_status is status
    journal.hold(at + 10 * HOUR + MIN, at + 12 * HOUR, p1_a=60, p2_a=58, air=8)
    case, judgement = agree(journal, batch)
    assert judgement.heat_status is RUNNING
    assert (judgement.finding.counts_from == at + 10 * HOUR) == (status is VOID)
    assert any("at most 10 %" in one for one in case.remarks)


@pytest.mark.parametrize("what", ["own", "other"])
def test_material_of_a_named_batch_brings_what_that_batch_is(journal, what):
    at = build(journal, 80)
    one, other = batch_on(journal, "p1"), batch_on(journal, "p2")
    # Overs back into the batch they came from; or of another that has met the rule.
    journal.work(at, "p1", "added", what=one if what == "own" else other)
    case, judgement = agree(journal, one)
    assert judgement.heat_status is MET
    assert [came.batch for came in case.came_in] == ([] if what == "own" else [other])


def test_material_named_by_a_batch_that_another_took_up_is_what_that_one_is(journal):
    at = build(journal, 80)
    one, other = batch_on(journal, "p1"), batch_on(journal, "p2")
    journal.work(at, "p3", "built")
    added = journal.work(at + 2 * MIN, "p1", "added", what=other)
    assert agree(journal, one)[1].heat_status is MET
    # It had met the rule, and lay in a raw heap by then: told later, and taken back.
    merged = journal.work(at + MIN, "p2", "merged", to="p3", entered=at + 3 * MIN)
    case, judgement = agree(journal, one)
    assert judgement.heat_status is VOID
    assert [came.batch for came in case.came_in] == [batch_on(journal, "p3")]
    journal.put(at + 5 * MIN, "correction", {"of": merged, "work": None})
    assert agree(journal, one)[1].heat_status is MET
    journal.put(at + 6 * MIN, "correction", {"of": added, "work": None})
    assert agree(journal, one)[0].came_in == ()


@pytest.mark.parametrize("kind", ["fed", "bedded"])
def test_what_is_said_of_bins_and_logged_of_a_heap_brings_raw_material_too(journal, kind):
    at = build(journal, 80)
    journal.work(at, "p1", kind)
    case, judgement = agree(journal, batch_on(journal, "p1"))
    assert judgement.heat_status is VOID
    assert any("Material was added" in one for one in case.remarks)


def test_own_material_that_is_put_back_is_told(journal):
    at = build(journal, 80)
    one = batch_on(journal, "p1")
    journal.work(at, "p1", "added", what=one, amount="5", measure="t")
    case, judgement = agree(journal, one)
    assert judgement.heat_status is MET
    assert "(5 t) was its own material put back" in case.left_out


def test_met_under_another_rule_is_raw(tmp_path):
    journal = Journal(tmp_path, two_heaps("us-112-54-static"))
    at = build(journal, 80)
    batch = batch_on(journal, "p1")
    assert agree(journal, batch_on(journal, "p2"))[1].heat_status is MET
    journal.work(at, "p2", "merged", to="p1")
    assert agree(journal, batch)[1].heat_status is VOID
    journal.writer.close()


def test_a_correction_of_the_heap_that_came_in_counts(journal):
    at = build(journal, 80)
    late = journal.work(at - 30 * HOUR, "p1", "turned", entered=at + 1)
    del late
    other = batch_on(journal, "p2")
    raw = journal.work(at + MIN, "p1", "added")
    journal.work(at + 2 * MIN, "p1", "merged", to="p2")
    assert agree(journal, other)[1].heat_status is VOID
    # Nothing was added to it after all.
    journal.put(at + 5 * MIN, "correction", {"of": raw, "work": None})
    assert agree(journal, other)[1].heat_status in (MET, VOID)
    # And something was, in the middle of its hold.
    journal.work(T0 + 60 * HOUR, "p1", "added", entered=at + 10 * MIN)
    assert agree(journal, other)[1].heat_status is VOID


def test_a_heap_that_nobody_knows_comes_in_raw(journal):
    at = build(journal, 80)
    journal.work(at, "p3", "merged", to="p1")
    case, judgement = agree(journal, batch_on(journal, "p1"))
    assert judgement.heat_status is VOID
    assert any("The heap of Bay 3 was put onto this one" in one for one in case.remarks)


# The same from files, and from anybody's record ---------------------------------------------------------------


def as_files(journal, tmp_path):
    """Write what the journal holds as files, as the exports do."""
    readings, log = tmp_path / "r.csv", tmp_path / "w.csv"
    with view_of(journal.folder) as view, readings.open("w") as out:
        out.write("time,probe,quantity,value,unit\n")
        for probe in ("p1-a", "p2-a"):
            for one in view.store.readings([probe], -FOREVER, FOREVER):
                out.write(f"{show_time(one.time)},{probe},temperature,{one.micro / 1e6},Cel\n")
        works = [one.work for one in work_log(view.store) if one.work is not None]
    with log.open("w") as out:
        write_work(works, out)
    return readings, log


def of_files(journal, tmp_path, place, probe):
    readings, log = as_files(journal, tmp_path)
    files = Files([readings], [log], place)
    asked = Asked(now=T0 + 400 * DAY, probes=(probe,), method=Method.STATIC)
    case, problems = file_case(files, known_rule(RULE, None), asked, SimpleNamespace(settings=journal.settings))
    assert problems == []
    return case


def live_through(journal, rng):
    """Some weeks of two heaps, hot for most of it, with all that people throw together."""
    entries = []
    for number, place in enumerate(("p1", "p2")):
        journal.work(T0, place, "built", entered=T0 + number, amount="1000", measure="kg")
    at = T0 + MIN
    for _ in range(rng.randint(4, 9)):
        hours = rng.choice((5, 20, 74, 74, 80))
        heat = {name: rng.choice((60, 60, 60, 40)) for name in ("p1_a", "p2_a")}
        journal.hold(at, at + hours * HOUR, air=8, **heat)
        at += hours * HOUR
        lying = [place for place in ("p1", "p2", "p3") if place in journal.engine.state.batches.lying]
        if not lying:
            break
        place = rng.choice(lying)
        to = rng.choice([one for one in ("p1", "p2", "p3") if one != place])
        kind = rng.choice(("added", "added", "merged", "split", "moved", "nothing", "undo"))
        done = at - rng.choice((0, 0, 30 * MIN, 10 * HOUR))
        more = rng.choice(({}, {"amount": "50", "measure": "kg"}, {"amount": "500", "measure": "kg"}))
        if kind == "added":
            known = list(journal.engine.state.batches.batches)
            more = {**more, "what": rng.choice(("", "leaves", *known))}
        elif kind in ("merged", "split", "moved"):
            more = {**more, "to": to, "note": "not a turning; probes left"}
        elif kind == "undo" and entries:
            journal.put(at + 2, "correction", {"of": entries.pop(rng.randrange(len(entries))), "work": None})
        if kind in ("added", "merged", "split", "moved"):
            # Late entries of where heaps lie would rewrite the book; additions may come late.
            found = journal.work(done if kind == "added" else at, place, kind, entered=at + 2, **more)
            if kind == "added":
                entries.append(found)
        at += rng.choice((3 * MIN, 50 * MIN))
    return at


@pytest.mark.parametrize("seed", [3, 18, 27, 100, 103])
def test_engine_replay_journal_and_files_say_the_same(tmp_path, seed):
    rng = Random(seed)
    journal = Journal(tmp_path / "j", two_heaps())
    try:
        live_through(journal, rng)
        state = journal.engine.state
        for batch in state.runs:
            case, judgement = agree(journal, batch) if heard(journal, batch) else (None, None)
            if case is None:
                continue
            with view_of(journal.folder) as view:  # restored, and the later events fed again
                assert view.engine.state.runs[batch].rule is state.runs[batch].rule
            home = state.batches.batches[batch].spans[0].pile
            probe = f"{home}-a"
            alone = [one for one in case.probes if one.probe == probe]
            if not alone or len(case.probes) > 1 or alone[0].service[0] != (case.built, alone[0].service[0][1]):
                continue
            place = state.batches.batches[batch].spans[-1].pile
            if len(alone[0].service) == 1 and alone[0].service[0][1] > 1 << 59:
                found = judge_case(of_files(journal, tmp_path, place, probe))
                assert found.heat_status is judgement.heat_status, (seed, batch)
                assert found.finding.counts_from == judgement.finding.counts_from
                assert found.finding.met_at == judgement.finding.met_at
    finally:
        journal.writer.close()


def heard(journal, batch):
    case = journal.case(batch)
    return any(member(one.times, one.service).any() for one in case.probes)


def test_the_same_building_in_the_configuration_and_in_a_file_is_one_batch(tmp_path):
    # checks.md: `built` in the configuration and the same `built` imported made two batches.
    midnight = T0 + 5 * HOUR  # of 2 November in New York
    piles = {"p1": Pile(name="Bay 1", rule=RULE, method=Method.STATIC, built=midnight)}
    probes = {name: probe for name, probe in yard().probes.items() if name in ("air", "p1-a")}
    journal = Journal(tmp_path, yard(piles=piles, probes=probes, bins={}))
    try:
        journal.read(midnight + HOUR, p1_a=20, air=8)
        built = {"time": midnight + 9 * HOUR, "place": "p1", "kind": "built", "by": "Ann Example", "note": "leaves 2"}
        journal.put(midnight + 10 * HOUR, "imported", {"work": [built, built]})
        (batch,) = journal.engine.state.batches.batches.values()
        assert (batch.batch, batch.built, batch.ended) == ("p1-2026-11-02", midnight + 9 * HOUR, None)
        journal.hold(midnight + 10 * HOUR, midnight + 12 * HOUR, p1_a=60, air=8)
        assert journal.case("p1").feedstocks == "leaves 2"
        # Another one, days later, is another batch.
        journal.work(midnight + 5 * DAY, "p1", "built")
        assert len(journal.engine.state.batches.batches) == 2
    finally:
        journal.writer.close()


@pytest.mark.parametrize("kind", ["moved", "merged", "split"])
def test_a_heap_or_a_part_of_it_in_a_bin_is_bedding_and_its_bay_is_empty(journal, kind):
    # trade.md B8
    at = build(journal, 80)
    one = batch_on(journal, "p1")
    journal.work(at, "p1", kind, to="b1")
    batch = journal.engine.state.batches.batches[one]
    assert [(link.time, link.bin) for link in batch.bedding] == [(at, "b1")]
    gone = kind != "split"
    assert ("p1" not in journal.engine.state.batches.lying) == gone
    case = journal.case(one)
    assert judge_case(case).heat_status is MET
    told = case.came_after if gone else case.remarks
    assert any("Sunny bin" in said for said in told), told
    journal.work(at + HOUR, "b1", "emptied")
    assert journal.engine.state.bins["b1"].emptied_at == at + HOUR


def test_what_the_yard_is_told_of_a_void_batch(journal):
    at = build(journal, 80)
    journal.work(at, "p1", "added")
    with view_of(journal.folder) as view:
        (pile,) = [one for one in status_values(view, at)["piles"] if one["place"] == "p1"]
        assert (pile["rule_state"], pile["heat_status"]) == ("not begun", "void")
        assert (
            progress_of(view.engine.state.runs[pile["batch"]], "degF", at).short
            == "raw material came in: its rule begins anew"
        )
    journal.hold(at + HOUR, at + 2 * HOUR, p1_a=20, air=8)
    with view_of(journal.folder) as view:
        assert heat_status(view.engine.state.runs[pile["batch"]]) is VOID
    journal.hold(at + 2 * HOUR, at + 4 * HOUR, p1_a=60, air=8)
    with view_of(journal.folder) as view:
        assert heat_status(view.engine.state.runs[pile["batch"]]) is RUNNING
