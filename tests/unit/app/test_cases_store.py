"""Cases gathered from the journal: what served when, what the record supports, and the same verdict as the engine's."""

import numpy as np
import pytest
from certificate_yard import DAY, HOUR, MIN, T0, Journal, core, probe_of, yard

from monitor.certificate import judge_case
from monitor.model.errors import MisuseError
from monitor.model.events import EventKind
from monitor.model.settings import Calibration, Pile
from monitor.model.words import Method
from monitor.proof.intervals import FAR_AHEAD_MS
from monitor.proof.verdict import Outcome


@pytest.fixture
def journal(tmp_path):
    made = Journal(tmp_path)
    yield made
    made.writer.close()


def same_as_live(journal, batch):
    """The certificate up to the engine's frontier says what the engine's own progress says there."""
    now, progress, total_ms = journal.live(batch)
    case = journal.case(batch, end=now)
    finding = judge_case(case).finding
    assert (finding.outcome is Outcome.MET) == (progress.state.value == "met")
    assert finding.met_at == progress.since or finding.met_at is None
    assert 0 <= finding.total_ms - total_ms <= 2
    for key, value in progress.values.items():
        if key in finding.values:
            assert finding.values[key] == value, key
    return case, finding


def turn(journal, at, place="p1", probes=("p1-a", "p1-b"), back=True):
    journal.work(at, place, "turned")
    journal.read(at + 10 * MIN, air=8, **{probe.replace("-", "_"): 12.0 for probe in probes})
    if back:
        for probe in probes:
            journal.work(at + 20 * MIN, place, "probe in", probe=probe)


@pytest.mark.parametrize(
    ("fields", "feedstocks", "quantity"),
    [
        (
            {"parts": "stable litter=300 kg; leaves=164.5 kg; water=12 L", "note": "C/N 30 worked out from the mix"},
            "300 kg of stable litter, 164.5 kg of leaves, 12 L of water (C/N 30 worked out from the mix)",
            "464.5 kg and 12 L of water",
        ),
        ({"parts": "stable litter=2 barrow; leaves=100 kg"}, "2 barrows of stable litter, 100 kg of leaves", ""),
        ({"parts": "stable litter=200 lb; leaves=100 kg"}, "200 lb of stable litter, 100 kg of leaves", ""),
        ({"parts": "leaves"}, "leaves", ""),
        ({"parts": "leaves=100 kg", "amount": "3", "measure": "m3"}, "100 kg of leaves", "3 m3"),
    ],
)
def test_feedstocks_and_quantity_come_from_the_parts_of_a_heap(journal, fields, feedstocks, quantity):
    journal.work(T0, "p1", "built", **fields)
    journal.hold(T0 + MIN, T0 + DAY, p1_a=58, p1_b=60, air=8)
    case, _ = same_as_live(journal, "p1-2026-11-01")
    assert (case.feedstocks, case.quantity) == (feedstocks, quantity)


def test_a_turned_batch_is_met_as_the_engine_has_it(journal):
    journal.work(T0, "p1", "built", amount="3", measure="m3", note="stable litter 2, leaves 1")
    at = T0 + MIN
    for day in range(18):
        journal.hold(at, at + DAY, p1_a=58 + day % 3, p1_b=60, air=8)
        at += DAY
        if day % 3 == 2:
            turn(journal, at - 30 * MIN)
    case, finding = same_as_live(journal, "p1-2026-11-01")
    assert finding.outcome is Outcome.MET
    assert finding.turnings == 5
    assert (case.feedstocks, case.quantity) == ("stable litter 2, leaves 1", "3 m3")
    assert case.built == T0
    assert len(case.turnings) == 6
    assert case.restarts == (T0,)
    entries = probe_of(case, "p1-a").entries
    assert [one.how for one in entries[:3]] == ["built", "turning", "probe in"]
    assert {one.by for one in entries} == {"Ann Example"}
    assert probe_of(journal.case("p1-2026-11-01"), "p1-a").service[-1][1] == FAR_AHEAD_MS
    assert probe_of(case, "p1-a").name == "north side"
    assert probe_of(case, "p1-a").depth_milli_m == 600
    assert probe_of(case, "p1-a").uncertainty_milli_k == 500
    assert any("in the 1 h after it was back" in remark for remark in case.remarks)


def test_a_probe_comes_back_by_itself_as_in_the_engine(journal):
    journal.work(T0, "p1", "built")
    journal.hold(T0 + MIN, T0 + 2 * DAY, p1_a=60, p1_b=58, air=8)
    turned = T0 + 2 * DAY
    journal.work(turned, "p1", "turned")
    journal.hold(turned + 5 * MIN, turned + 55 * MIN, 10 * MIN, p1_a=12, p1_b=12, air=8)
    journal.hold(turned + 60 * MIN, turned + DAY, 10 * MIN, p1_a=57, p1_b=57, air=8)
    case, _ = same_as_live(journal, "p1-2026-11-01")
    probe = probe_of(case, "p1-a")
    assert [(one.how, one.into) for one in probe.entries] == [
        ("built", True), ("turning", False), ("back by itself", True),
    ]  # fmt: skip
    assert probe.entries[2].time == turned + 60 * MIN
    assert probe.entries[2].by == ""
    assert probe.entries[2].entered is None
    settling = (probe.times >= turned + 60 * MIN) & (probe.times < turned + 120 * MIN)
    assert set(probe.quality[settling].tolist()) == {3}
    assert set(probe.quality[probe.times >= turned + 120 * MIN].tolist()) == {1}
    # The engine knows it as the same outing.
    outing = journal.engine.state.outings["p1-a"]
    assert (outing.returned, outing.accepted_from) == (turned + 60 * MIN, turned + 120 * MIN)


def test_a_moved_batch_takes_its_probes_along(journal):
    journal.work(T0, "p1", "built")
    journal.hold(T0 + MIN, T0 + 3 * DAY, p1_a=60, p1_b=58, air=8)
    journal.work(T0 + 3 * DAY, "p1", "moved", to="p2")
    journal.work(T0 + 3 * DAY + 20 * MIN, "p2", "probe in", probe="p1-a")
    journal.work(T0 + 3 * DAY + 20 * MIN, "p2", "probe in", probe="p1-b")
    journal.hold(T0 + 3 * DAY + 30 * MIN, T0 + 6 * DAY, p1_a=61, p1_b=59, p2_a=60, air=8)
    case, _ = same_as_live(journal, "p1-2026-11-01")
    assert case.pile == "p2"
    assert [place for place, _, _ in case.lay_on] == ["Bay 1", "Bay 2"]
    assert case.turnings == (T0 + 3 * DAY,)
    # The probe of the bay it came to is in the heap from the move on.
    assert {one.probe for one in case.probes} == {"p1-a", "p1-b", "p2-a"}
    assert probe_of(case, "p2-a").service == ((T0 + 3 * DAY + 30 * MIN, FAR_AHEAD_MS),)
    assert any(
        "moved from Bay 1 to Bay 2" in one and "counts as a turning" in one and "its probes went with it" in one
        for one in case.remarks
    )


def test_a_part_that_was_split_off_has_the_record_of_the_whole_until_then(journal):
    journal.work(T0, "p1", "built")
    journal.hold(T0 + MIN, T0 + 4 * DAY, p1_a=60, p1_b=58, air=8)
    journal.work(T0 + 4 * DAY, "p1", "split", to="p2")
    journal.hold(T0 + 4 * DAY + HOUR, T0 + 6 * DAY, p1_a=60, p1_b=58, p2_a=59, air=8)
    whole, _ = same_as_live(journal, "p1-2026-11-01")
    part, _ = same_as_live(journal, "p2-2026-11-05")
    assert {one.probe for one in part.probes} == {"p1-a", "p1-b", "p2-a"}
    assert probe_of(part, "p1-a").service == ((T0, T0 + 4 * DAY),)
    assert any("split off from batch p1-2026-11-01" in one for one in part.remarks)
    assert any("that part is not covered" in one for one in whole.remarks)


def test_material_that_comes_in_restarts_the_hold(journal):
    journal.work(T0, "p1", "built")
    journal.work(T0, "p2", "built")
    journal.hold(T0 + MIN, T0 + 4 * DAY, p1_a=60, p1_b=58, p2_a=57, air=8)
    journal.work(T0 + 2 * DAY, "p1", "added", note="coffee grounds", amount="20", measure="kg", entered=T0 + 4 * DAY)
    journal.work(T0 + 3 * DAY, "p2", "merged", to="p1", entered=T0 + 4 * DAY + MIN)
    journal.hold(T0 + 4 * DAY + HOUR, T0 + 5 * DAY, p1_a=60, p1_b=58, p2_a=57, air=8)
    case, finding = same_as_live(journal, "p1-2026-11-01")
    assert case.restarts == (T0, T0 + 2 * DAY, T0 + 3 * DAY)
    assert finding.counts_from == T0 + 3 * DAY
    assert "coffee grounds" in case.feedstocks
    assert "20 kg added" in case.quantity
    assert any(one.startswith("Material was added") for one in case.remarks)
    assert any(one.startswith("The heap of Bay 2 (batch p2-2026-11-01) was put onto this one") for one in case.remarks)
    other = journal.case("p2-2026-11-01")
    assert any("taken up by batch p1-2026-11-01" in one for one in other.came_after)
    assert probe_of(other, "p2-a").service[-1][1] == T0 + 3 * DAY


def test_a_batch_that_is_used_up_says_what_it_said_while_it_was_watched(journal):
    journal.work(T0, "p3", "built", note="leaves")
    journal.hold(T0 + MIN, T0 + 4 * DAY, p3_a=58, air=8)
    _, before = same_as_live(journal, "p3-2026-11-01")
    end = before.end
    journal.work(T0 + 4 * DAY, "p3", "emptied")
    journal.work(T0 + 5 * DAY, "p3", "built")
    journal.hold(T0 + 5 * DAY + MIN, T0 + 6 * DAY, p3_a=30, air=8)
    assert "p3-2026-11-01" not in journal.engine.state.runs
    case = journal.case("p3-2026-11-01", end=end)
    assert judge_case(case).finding == before
    whole = journal.case("p3-2026-11-01")
    assert probe_of(whole, "p3-a").entries[-1].how == "end of the batch"
    assert probe_of(whole, "p3-a").retired_by == ""
    assert whole.as_of == T0 + 4 * DAY
    assert any(one.startswith("The batch ended on") for one in whole.came_after)
    assert any(one.startswith("The batch ended on") for one in case.came_after)
    assert case.feedstocks == "leaves"


def test_a_used_up_batch_that_began_with_its_first_reading_and_moved(journal):
    journal.hold(T0 + MIN, T0 + 3 * DAY, p1_a=60, p1_b=58, air=8)
    journal.work(T0 + 3 * DAY, "p1", "moved", to="p2", note="not a turning, opened")
    journal.hold(T0 + 3 * DAY + MIN, T0 + 5 * DAY, p1_a=60, p1_b=58, p2_a=58, air=8)
    _, before = same_as_live(journal, "p1-2026-11-01")
    journal.work(T0 + 5 * DAY, "p2", "emptied")
    case = journal.case("p1-2026-11-01", end=before.end)
    assert judge_case(case).finding == before
    assert case.turnings == ()
    assert any(one.startswith("Nobody logged when the batch was built") for one in case.remarks)
    assert any("which was not a turning" in one for one in case.remarks)


def test_a_probe_taken_out_for_good_is_told_with_and_without(journal):
    journal.work(T0, "p1", "built")
    journal.hold(T0 + MIN, T0 + 3 * DAY, p1_a=60, p1_b=40, air=8)
    journal.work(T0 + 3 * DAY, "p1", "probe out", probe="p1-b")
    journal.hold(T0 + 3 * DAY + MIN, T0 + 5 * DAY, p1_a=60, air=8)
    case, finding = same_as_live(journal, "p1-2026-11-01")
    assert probe_of(case, "p1-b").retired_by == "Ann Example"
    assert probe_of(case, "p1-b").service == ((T0, T0 + 3 * DAY),)
    judgement = judge_case(case)
    (told,) = judgement.without
    assert told[0] == "p1-b"
    assert told[1].total_ms > finding.total_ms
    assert any("Probe p1-b was taken out on" in one for one in case.remarks)


def test_a_correction_counts_and_is_told(journal):
    journal.work(T0, "p1", "built")
    journal.hold(T0 + MIN, T0 + 2 * DAY, p1_a=60, p1_b=58, air=8)
    entry = journal.work(T0 + DAY, "p1", "turned", entered=T0 + 2 * DAY)
    right = {"time": T0 + DAY + HOUR, "place": "p1", "kind": "turned", "by": "Bea Sample"}
    corrected = journal.put(T0 + 2 * DAY + HOUR, "correction", {"of": entry, "work": right})
    case, _ = same_as_live(journal, "p1-2026-11-01")
    assert case.turnings == (T0 + DAY + HOUR,)
    (told,) = [one for one in case.work if one.work.kind.value == "turned"]
    assert (told.work.by, told.entered, told.corrected) == ("Bea Sample", entry, corrected)


def test_calibrations_are_those_in_force_now(journal):
    journal.work(T0, "p1", "built")
    journal.hold(T0 + MIN, T0 + 2 * DAY, p1_a=60, p1_b=56, air=8)
    low = Calibration(points=((0, -2000),), start=T0 + DAY, by="Ann Example")
    probes = {**journal.settings.probes, "p1-b": core("p1", calibrations=(low,))}
    journal.settle(T0 + 2 * DAY, yard(probes=probes))
    journal.read(T0 + 2 * DAY + HOUR, p1_a=60, p1_b=56, air=8)
    case, finding = same_as_live(journal, "p1-2026-11-01")
    assert probe_of(case, "p1-b").calibrations == (low,)
    # The line falls from 56 to 54 °C across the change, and passes 55 °C halfway.
    assert finding.hold[-1][1] < T0 + DAY + HOUR


def test_flagged_readings_do_not_count(journal):
    journal.work(T0, "p1", "built")
    journal.hold(T0 + MIN, T0 + DAY, 10 * MIN, p1_a=60, p1_b=58, air=8)
    journal.read(T0 + DAY + MIN, p1_a=-127, p1_b=58, air=8)
    journal.hold(T0 + DAY + 11 * MIN, T0 + DAY + 2 * HOUR, 10 * MIN, p1_a=60, p1_b=58, air=8)
    case, _ = same_as_live(journal, "p1-2026-11-01")
    probe = probe_of(case, "p1-a")
    assert probe.quality[np.searchsorted(probe.times, T0 + DAY + MIN)] == 4


def test_hand_readings_serve_only_where_there_is_no_core_probe(tmp_path):
    settings = yard(piles={"p1": Pile(name="Bay 1", rule="backyard-130f-3d"), "p2": Pile(name="Bay 2")})
    settings = yard(piles=settings.piles, probes={"p2-a": core("p2")})
    journal = Journal(tmp_path, settings)
    journal.work(T0, "p1", "built")
    journal.work(T0, "p2", "built")
    for day in range(6):
        journal.hand(T0 + day * DAY + HOUR, "p1", 140)
        journal.hand(T0 + day * DAY + HOUR, "p2", 100)
        journal.hold(T0 + day * DAY + HOUR + MIN, T0 + (day + 1) * DAY, p2_a=60)
    case = journal.case("p1", max_gap_ms=26 * HOUR)
    assert [one.probe for one in case.probes] == ["hand:p1"]
    assert case.probes[0].by_hand
    assert judge_case(case).finding.outcome is Outcome.MET
    assert any("the temperature is assumed to run straight" in one for one in case.remarks)
    assert [one.probe for one in journal.case("p2", "backyard-130f-3d").probes] == ["p2-a"]
    chosen = journal.case("p2", "backyard-130f-3d", probes=("hand:p2",), max_gap_ms=26 * HOUR)
    assert [one.probe for one in chosen.probes] == ["hand:p2"]
    assert judge_case(chosen).finding.outcome is Outcome.NOT_MET
    assert any("p2-a was left out" in one for one in chosen.remarks)
    assert any("under no rule" in one or "with no rule" in one for one in chosen.remarks)
    journal.writer.close()


def test_a_hand_reading_that_was_taken_back_does_not_count(tmp_path):
    settings = yard(piles={"p1": Pile(name="Bay 1", rule="backyard-130f-3d")}, probes={})
    journal = Journal(tmp_path, settings)
    journal.work(T0, "p1", "built")
    for day in range(6):
        journal.hand(T0 + day * DAY + HOUR, "p1", 140)
    middle = T0 + 3 * DAY + HOUR
    taken = {"of": middle, "work": None, "by": "Ann", "reading": {"time": middle, "probe": "hand:p1"}}
    journal.put(T0 + 6 * DAY, EventKind.CORRECTION, taken)
    probe = journal.case("p1", max_gap_ms=26 * HOUR).probes[0]
    assert probe.quality[list(probe.times).index(middle)] == 4
    assert judge_case(journal.case("p1", max_gap_ms=26 * HOUR)).finding.outcome is not Outcome.MET
    journal.writer.close()


def test_what_does_not_go_with_the_batch_is_refused(journal):
    journal.work(T0, "p1", "built")
    journal.hold(T0 + MIN, T0 + DAY, p1_a=60, p1_b=58, air=8)
    with pytest.raises(MisuseError, match=r'no core probe "p1-x"; did you mean "p1-b"\?|did you mean "p1-a"\?'):
        journal.case("p1", probes=("p1-x",))
    with pytest.raises(MisuseError, match='There is no batch "p9"'):
        journal.case("p9")
    with pytest.raises(MisuseError, match="covers passive, aerated static"):
        judge_case(journal.case("p1", "us-112-54-static"))
    stated = journal.case("p1", "us-503-pfrp-static", method=Method.STATIC)
    assert any("The method aerated static was stated" in one for one in stated.remarks)
    assert any("this certificate holds it against us-503-pfrp-static" in one for one in stated.remarks)
