"""A season of entries by three careless people, and what an honest certificate must say of each: *met* in no contested way.

Ann logs what she does; Bob logs what Ann did once more, or at the wrong place; Cleo throws things on top and logs them days
later. The rule asks for 15 days and five turnings.
"""

import pytest
from certificate_yard import DAY, HOUR, MIN, T0, Journal, probe_of

from monitor.certificate import judge_case
from monitor.engine.context.batch_runs import heat_status
from monitor.material import HeatStatus
from monitor.proof.verdict import Outcome

RAW, RUNNING, MET, VOID = HeatStatus.RAW, HeatStatus.RUNNING, HeatStatus.MET, HeatStatus.VOID
PROBES = ("p1-a", "p1-b")


class Season(Journal):
    """Bay 1 and bay 2, hot from the first day on, with people at work."""

    def __init__(self, folder):
        super().__init__(folder)
        self.now = T0
        for place in ("p1", "p2"):
            self.work(T0, place, "built", entered=T0 + (place == "p2"), by="Ann Example", amount="1000", measure="kg")
        self.now = T0 + MIN

    def hot(self, days, bay2=58.0):
        """Both bays read every hour for some days."""
        end = self.now + round(days * DAY)
        self.hold(self.now, end, p1_a=60, p1_b=58, p2_a=bay2, air=8)
        self.now = end

    def turn(self, by="Ann Example", place="p1", at=None):
        """Turn a heap and put its probes back, as it should be logged."""
        when = self.now if at is None else at
        entry = self.work(when, place, "turned", by=by, entered=self.now + MIN)
        for probe in PROBES if place == "p1" else ("p2-a",):
            self.work(when + 5 * MIN, place, "probe in", probe=probe, by=by, entered=self.now + 6 * MIN)
        self.now += 10 * MIN
        return entry

    def turned_season(self, turnings=5, by_bob=False):
        """Eighteen days with a turning each third day; Bob logs each a second time, twenty minutes later."""
        for number in range(6):
            self.hot(3)
            if number < turnings:
                done = self.now
                self.turn()
                if by_bob:
                    self.work(done + 20 * MIN, "p1", "turned", by="Bob Example", entered=self.now + 15 * MIN)
                    self.now = done + 40 * MIN
                    for probe in PROBES:
                        self.work(done + 30 * MIN, "p1", "probe in", probe=probe, entered=self.now)
                        self.now += MIN

    def batch(self, place="p1"):
        return self.engine.state.batches.lying[place]

    def certificate(self, place="p1", batch=None, **asked):
        """Return (case, judgement); status and certificate are of one mind."""
        name = batch or self.batch(place)
        case = self.case(name, **asked)
        judgement = judge_case(case)
        run = self.engine.state.runs.get(name)
        if run is not None and not asked:
            assert heat_status(run) is judgement.heat_status
        return case, judgement


@pytest.fixture
def season(tmp_path):
    made = Season(tmp_path)
    yield made
    made.writer.close()


def verdict(judgement):
    return judgement.finding.outcome, judgement.heat_status


def test_who_does_all_that_is_asked_is_told_met(season):
    season.turned_season()
    _, judgement = season.certificate()
    assert verdict(judgement) == (Outcome.MET, MET)
    assert judgement.finding.turnings == 5


def test_one_turning_logged_by_two_people_is_one(season):
    season.turned_season(turnings=4, by_bob=True)
    _, judgement = season.certificate()
    assert verdict(judgement) == (Outcome.NOT_MET, RUNNING)
    assert (judgement.finding.turnings, judgement.finding.turnings_logged) == (4, 8)


def test_raw_material_on_top_of_a_met_heap_undoes_it_even_if_it_is_logged_days_later(season):
    season.turned_season()
    thrown = season.now
    season.hot(2)
    assert verdict(season.certificate()[1]) == (Outcome.MET, MET)
    season.work(thrown + HOUR, "p1", "added", by="Cleo Example", entered=season.now + MIN)
    case, judgement = season.certificate()
    assert judgement.finding.outcome is Outcome.NOT_MET
    assert judgement.finding.counts_from == thrown + HOUR
    assert judgement.finding.turnings == 0
    late = next(one for one in case.work if one.work.kind.value == "added")
    assert late.entered - late.work.time > DAY
    # As of the evening before it was met; the paper says what came after.
    before, then = season.certificate(as_of=thrown)
    assert then.finding.outcome is Outcome.MET
    assert any("was added" in one for one in before.came_after)
    assert "the verdict is: not met" in before.came_after[-1]


def test_what_was_thrown_on_top_after_the_last_reading_counts(season):
    season.turned_season()
    season.work(season.now + HOUR, "p1", "added", by="Cleo Example", what="kitchen scraps")
    _, judgement = season.certificate()
    assert verdict(judgement) == (Outcome.NOT_MET, VOID)


def test_material_that_came_in_midway_takes_the_days_before_it(season):
    season.hot(3)
    season.turn()
    season.hot(3)
    season.turn()
    came = season.now
    season.work(came, "p1", "added", by="Cleo Example", entered=came + MIN)
    season.now += 10 * MIN
    for _ in range(3):
        season.hot(3)
        season.turn()
    season.hot(1)
    _, judgement = season.certificate()
    assert judgement.finding.outcome is Outcome.NOT_MET
    assert judgement.finding.turnings == 3
    assert judgement.finding.values["days"] < 15


def test_a_heap_merged_at_the_wrong_place_undoes_the_heap_that_is_named_until_it_is_put_right(season):
    season.turned_season()
    # Bob puts bay 2, which was never turned, onto bay 3 and writes bay 1.
    met = season.batch()
    wrong = season.work(season.now, "p2", "merged", to="p1", by="Bob Example")
    _, judgement = season.certificate(batch=met)
    assert verdict(judgement) == (Outcome.NOT_MET, VOID)
    season.now += HOUR
    season.put(season.now, "correction", {"of": wrong, "work": None})
    assert season.batch() == met
    assert season.batch("p2")
    assert verdict(season.certificate(batch=met)[1]) == (Outcome.MET, MET)


def test_a_met_heap_thrown_onto_one_that_is_under_way_makes_neither_met(season):
    season.turned_season()
    met, other = season.batch(), season.batch("p2")
    season.work(season.now, "p1", "merged", to="p2", by="Bob Example")
    case, judgement = season.certificate("p2")
    assert verdict(judgement) == (Outcome.NOT_MET, VOID)
    assert any(f"(batch {met})" in one and "the hold counts from then on" in one for one in case.remarks)
    # The heap that was met ends there, as what it was; its paper says where it went.
    gone, then = season.certificate(batch=met)
    assert then.heat_status is MET
    assert any(f"taken up by batch {other}" in one for one in gone.came_after)


def test_a_part_that_was_split_off_keeps_what_it_was_and_goes_its_own_way(season):
    season.turned_season()
    whole = season.batch()
    season.work(season.now, "p1", "split", to="p3", by="Ann Example")
    part = season.batch("p3")
    assert season.certificate(batch=part)[1].heat_status is MET
    season.work(season.now + HOUR, "p3", "added", by="Cleo Example")
    assert season.certificate(batch=part)[1].heat_status is VOID
    assert season.certificate(batch=whole)[1].heat_status is MET


def test_a_heap_built_twice_in_the_log_is_not_met_by_the_first_ones_record(season):
    season.turned_season()
    first = season.batch()
    season.work(season.now, "p1", "built", by="Bob Example")
    assert season.batch() != first
    season.hot(1)
    assert season.certificate()[1].finding.outcome is Outcome.NOT_MET
    assert season.certificate(batch=first)[1].finding.outcome is Outcome.MET


def test_taking_the_cold_probe_out_of_the_reckoning_stands_on_the_paper(season):
    for number in range(6):
        end = season.now + 3 * DAY
        season.hold(season.now, end, p1_a=60, p1_b=40, p2_a=58, air=8)
        season.now = end
        if number < 5:
            season.turn()
    assert season.certificate()[1].finding.outcome is Outcome.NOT_MET
    season.work(T0 + 2 * HOUR, "p1", "probe out", probe="p1-b", by="Bob Example", entered=season.now + MIN)
    case, judgement = season.certificate()
    out = [one for one in probe_of(case, "p1-b").entries if not one.into]
    assert out[0].by == "Bob Example"
    assert out[0].entered - out[0].time > DAY
    # Every turning put it back in, so its cold readings count all the same.
    assert judgement.finding.outcome is Outcome.NOT_MET


def test_deleting_a_turning_takes_the_verdict_with_it_and_a_correction_is_shown(season):
    entries = []
    for _ in range(5):
        season.hot(3)
        entries.append(season.turn())
    season.hot(3)
    assert season.certificate()[1].finding.outcome is Outcome.MET
    season.put(season.now + MIN, "correction", {"of": entries[2], "work": None})
    assert season.certificate()[1].finding.outcome is Outcome.NOT_MET
    right = {"time": T0 + 4 * DAY, "place": "p1", "kind": "turned", "by": "Bob Example"}
    season.put(season.now + 2 * MIN, "correction", {"of": entries[1], "work": right})
    case, judgement = season.certificate()
    assert judgement.finding.outcome is Outcome.NOT_MET
    assert any(one.corrected is not None for one in case.work if one.work.by == "Bob Example")


def test_raw_material_that_was_logged_and_taken_back_stands_on_the_paper(season):
    """Scraps thrown on top undid the heap; a word from anybody made it *met* again, and the certificate was silent of it."""
    season.turned_season()
    thrown = season.work(season.now + HOUR, "p1", "added", by="Cleo Example", what="kitchen scraps")
    assert season.certificate()[1].finding.outcome is Outcome.NOT_MET
    season.put(season.now + 2 * HOUR, "correction", {"of": thrown, "work": None, "by": "Bob Example"})
    case, judgement = season.certificate()
    assert judgement.finding.outcome is Outcome.MET
    assert "by Bob Example: added at Bay 1 (kitchen scraps) on" in case.left_out
    assert "as logged by Cleo Example; the verdict goes without it." in case.left_out
    # Of a time before that there is nothing to tell.
    assert season.case(season.batch(), as_of=season.now).left_out == ""


def test_material_that_is_put_right_into_another_heap_stands_on_the_paper(season):
    season.turned_season()
    thrown = season.work(season.now + HOUR, "p1", "added", by="Cleo Example", what="kitchen scraps")
    right = {"time": season.now + HOUR, "place": "p2", "kind": "added", "by": "Cleo Example", "what": "kitchen scraps"}
    season.put(season.now + 2 * HOUR, "correction", {"of": thrown, "work": right, "by": "Bob Example"})
    case, judgement = season.certificate()
    assert judgement.finding.outcome is Outcome.MET
    assert "Put right on" in case.left_out
    assert "to added at Bay 2 (kitchen scraps)" in case.left_out
    # Another amount of the same is no news, nor is a turning.
    more = season.work(season.now + 3 * HOUR, "p1", "added", by="Cleo Example", what="leaves")
    same = {"time": season.now + 3 * HOUR, "place": "p1", "kind": "added", "by": "Cleo Example", "what": "leaves"}
    season.put(season.now + 4 * HOUR, "correction", {"of": more, "work": {**same, "amount": "1", "measure": "kg"}})
    assert "leaves" not in season.certificate()[0].left_out


def test_a_cold_reading_by_hand_that_was_taken_back_stands_on_the_paper(season):
    for probe in PROBES:
        season.work(season.now, "p1", "probe out", probe=probe, entered=season.now)
        season.now += MIN
    start = season.now
    for day in range(17):
        at = start + day * DAY
        rows = [[at, f"hand:p1:{spot}", (95 if (day, spot) == (8, "west") else 145) * 1_000_000, "[degF]"]
                for spot in ("east", "west")]  # fmt: skip
        season.put(at, "readings", {"rows": rows, "ahead": [], "by": "Ann Example"})
        if day % 3 == 1:
            season.work(at + HOUR, "p1", "turned", entered=at + HOUR)
        season.now = at + 2 * HOUR
    assert season.certificate()[1].finding.outcome is Outcome.NOT_MET
    wrong = {"time": start + 8 * DAY, "probe": "hand:p1:west"}
    season.put(season.now, "correction", {"of": season.now, "work": None, "by": "Bob", "reading": wrong})
    case, judgement = season.certificate()
    assert judgement.finding.outcome is Outcome.MET
    assert "1 reading by hand was taken back, and the verdict goes without: 95 °F by hand, west on" in case.left_out
