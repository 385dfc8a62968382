"""Seasons of three careless people by chance: whatever they write, *met* is nothing that a strict reader would contest.

What stands of what they wrote is kept in plain lists beside the record, and the strict reader goes by these lists alone.
"""

import os
from random import Random

from certificate_yard import DAY, HOUR, MIN, T0, Journal

from monitor.certificate import judge_case
from monitor.engine.context.batch_runs import heat_status
from monitor.proof.verdict import Outcome

PEOPLE = ("Ann Example", "Bob Example", "Cleo Example")
PROBES = ("p1-a", "p1-b")
FIRST = int(os.environ.get("HEAPTENDER_FIRST_SEED", "0"))
SEASONS = int(os.environ.get("HEAPTENDER_SEEDS", "2"))


class Careless:
    """Two heaps at 60 °C with now and then a cold evening, and people who log twice, late, wrong, and take back."""

    def __init__(self, folder, seed):
        self.journal, self.rng, self.now = Journal(folder), Random(seed), T0
        self.entries, self.cold_until = [], 0

    def put(self, kind, payload):
        self.now += MIN
        return self.journal.put(self.now, kind, payload)

    def log(self, kind, at=None, place="p1", **more):
        by = self.rng.choice(PEOPLE)
        work = {"time": self.now if at is None else at, "place": place, "kind": kind, "by": by, **more}
        self.entries.append([self.put("work", work), work])
        return self.entries[-1]

    def take_back(self, entry):
        self.put("correction", {"of": entry[0], "work": None, "by": self.rng.choice(PEOPLE)})
        entry[1] = None

    def put_right(self, entry, **more):
        if entry[1] is not None:
            entry[1] = {**entry[1], **more}
            self.put("correction", {"of": entry[0], "work": entry[1], "by": self.rng.choice(PEOPLE)})

    def read(self, hours, level):
        start = self.now - self.now % MIN + MIN
        for at in range(start, start + hours * HOUR, HOUR):
            outside = PROBES if at < self.cold_until else ()
            heat = {p: 12 if p in outside else level + self.rng.uniform(-0.5, 0.5) for p in (*PROBES, "p2-a")}
            rows = sorted([at, p, round(c * 1_000_000), "Cel"] for p, c in {**heat, "air": 8}.items())
            self.journal.put(at, "readings", {"rows": rows})
            if self.rng.random() < 0.01:
                self.journal.put(at + 1, "imported", {"rows": rows, "work": []})
        self.now = start + hours * HOUR

    def turn(self):
        rng, done = self.rng, self.now
        self.cold_until = done + rng.choice((20, 40, 90)) * MIN
        entry = self.log("turned", at=done - rng.choice((0, 0, MIN, 60 * MIN)))
        if rng.random() < 0.3:
            self.log("turned", at=done + rng.choice((0, MIN, 30 * MIN)))
        if rng.random() < 0.6:
            for probe in PROBES:
                self.log("probe in", at=self.cold_until, probe=probe)
        if rng.random() < 0.1:
            self.take_back(entry)
        elif rng.random() < 0.1:
            self.put_right(entry, time=done - rng.choice((HOUR, 5 * HOUR, 30 * HOUR)))

    def day(self):
        rng, what = self.rng, self.rng.random()
        if what < 0.33:
            self.turn()
        elif what < 0.36:
            entry = self.log("added", what=rng.choice(("", "leaves")), at=self.now - rng.choice((0, 0, 2 * DAY)))
            if rng.random() < 0.5:
                self.take_back(entry)
            elif rng.random() < 0.3:
                self.put_right(entry, place="p2")
        elif what < 0.38:
            entry = self.log("merged", place="p2", to="p1")
            if rng.random() < 0.4:
                self.log("merged", place="p2", to="p1")
            if rng.random() < 0.5:
                self.take_back(entry)
        elif what < 0.44:
            self.log(
                rng.choice(("probe out", "probe in")), probe=rng.choice(PROBES), at=self.now - rng.choice((0, 3 * HOUR))
            )
        elif what < 0.46:
            self.take_back(self.log("built"))
        elif what < 0.5:
            row = [self.now, "hand:p1:west", rng.choice((95, 145, 1450)) * 1_000_000, "[degF]"]
            self.put("readings", {"rows": [row], "ahead": [], "by": "Bob Example"})
            if rng.random() < 0.5:
                gone = {"time": row[0], "probe": row[1]}
                self.put("correction", {"of": self.now, "work": None, "by": "Bob Example", "reading": gone})

    def live(self):
        for place in ("p1", "p2"):
            self.log("built", place=place)
        for _ in range(self.rng.choice((20, 26))):
            dips = self.rng.random() < 0.07
            self.read(18 if dips else self.rng.choice((22, 23, 24)), 60)
            if dips:
                self.read(6, 45)
            self.day()


def counted(times):
    found = []
    for at in sorted(times):
        if not found or at - found[-1] >= 6 * HOUR:
            found.append(at)
    return found


def strict_reader(entries, case, finding):
    """What somebody who knows the rule asks of a paper that says *met*, by what stands written alone."""
    stands = [work for _, work in entries if work is not None]
    raw = [work["time"] for work in stands if work["kind"] == "added" and work["place"] == "p1"]
    assert all(at <= finding.counts_from for at in raw)
    assert finding.met_at - finding.counts_from >= 15 * DAY
    turned = counted(work["time"] for work in stands if work["kind"] == "turned" and work["place"] == "p1")
    assert sum(finding.hold[0][0] <= at <= finding.met_at for at in turned) >= 5
    days = [day for day in finding.days if day.kind.value == "counted" and day.end <= finding.met_at]
    # At most a quarter of 15 days was recovery, and at most two hours of each were not proven.
    assert sum(day.hold_ms for day in days) >= 270 * HOUR - len(days) * 2 * HOUR
    assert all(day.hold_ms >= 12 * HOUR and day.unproven_ms <= 2 * HOUR for day in days)
    for at in (work["time"] for work in stands if work["kind"] == "merged"):
        assert at <= finding.counts_from or any("both had met this rule" in one for one in case.remarks)


def test_met_is_nothing_that_a_strict_reader_would_contest(tmp_path):
    seen = set()
    for seed in range(FIRST, FIRST + SEASONS):
        season = Careless(tmp_path / str(seed), seed)
        try:
            season.live()
            batch = season.journal.engine.state.batches.lying["p1"]
            case = season.journal.case(batch)
            judged = judge_case(case)
            assert heat_status(season.journal.engine.state.runs[batch]) is judged.heat_status, seed
            seen.add(judged.finding.outcome)
            if judged.finding.outcome is Outcome.MET:
                strict_reader(season.entries, case, judged.finding)
        finally:
            season.journal.writer.close()
    assert Outcome.MET in seen, "or nothing was tried"
