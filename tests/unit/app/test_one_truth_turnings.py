"""Days, turnings and verdict are the same at every instant, whoever is asked: the tracker while watching, the evaluator on
the record cut there, a replay through the other door, the case from the journal, the case from files.

Times are on the minute, as people's are: entries fall on readings, a minute beside them, and half an hour after the probes
felt the air.
"""

import os
from dataclasses import replace
from random import Random

import pytest
from certificate_yard import DAY, HOUR, MIN, T0, Journal, view_of, yard

from monitor.app.cases import Asked, known_rule
from monitor.app.cases.from_files import Files, file_case
from monitor.certificate import judge_case
from monitor.certificate.judged.judging import accepted
from monitor.engine import Engine
from monitor.engine.context.batch_runs import progress_now
from monitor.engine.stretch import ColumnHistory, Commits, commits_from_events, feed_commits
from monitor.model.settings import Pile
from monitor.model.thresholds import PileThresholds
from monitor.model.times import show_time
from monitor.model.words import Method
from monitor.proof.verdict import Outcome, Question, prove

SEEDS = int(os.environ.get("HEAPTENDER_SEEDS", "3"))
FIRST = int(os.environ.get("HEAPTENDER_FIRST_SEED", "0"))
PROBES = ("p1-a", "p1-b")
OURS = """\
title = "Our county"
jurisdiction = "Our county"
section = "Ordinance 7"
methods = ["turned"]
feedstock = "leaves"
wording = "Some days at 55 °C or hotter."
source = "the county's office"
status = "seen"
[[alternatives]]
hold = "55 degC"
[[alternatives.parts]]
kind = "{kind}"
{amount}
turnings = {turnings}
"""


def our_rule(rng):
    kind = rng.choice(["days", "days", "days", "total", "run"])
    amount = f'duration = "{rng.choice([30, 48, 60])}h"' if kind != "days" else f"days = {rng.choice([2, 3])}"
    if kind == "days" and rng.random() < 0.5:
        amount += "\nscattered = true"
    return OURS.format(kind=kind, amount=amount, turnings=rng.choice([1, 2]))


class Season:
    """A batch that lives through some days, minute by minute; what people do is logged before or after it is read."""

    def __init__(self, journal, rng):
        self.journal, self.rng = journal, rng
        self.step = rng.choice([10, 20, 30]) * MIN
        self.heat = dict.fromkeys(PROBES, 58.0)
        self.back_at, self.silent_until, self.waiting = 0, 0, []

    def read(self, at):
        if at < self.silent_until:
            return
        rng = self.rng
        for probe in PROBES:
            moved = rng.choice([0, 0, 0.25, -0.25, 0.5, -0.5])
            self.heat[probe] = min(62.0, max(53.5, self.heat[probe] + moved + (0.4 if self.heat[probe] < 55 else 0)))
        rows = [[at, p, round((12.0 if at < self.back_at else self.heat[p]) * 1_000_000), "Cel"] for p in PROBES]
        self.journal.put(at, "readings", {"rows": rows})

    def work(self, at, kind, now, **more):
        self.journal.work(at, "p1", kind, entered=now, **more)

    def turn(self, at):
        """Plan a turning around a reading's instant: when the air is felt, when it is entered, when the probes are back."""
        rng = self.rng
        done = at + rng.choice([-MIN, 0, 0, MIN, 20 * MIN, 60 * MIN])
        back = max(done, at) + rng.choice([20, 40, 61, 90]) * MIN
        self.back_at = back
        entries = [done + n for n in rng.choice([[0], [0], [0, MIN], [0, 2 * MIN, 7 * MIN]])]
        for when in entries:
            self.waiting.append((max(when, at) + rng.choice([0, MIN]), when, "turned", {}))
        # A time that passes between the entries and their being told may be longer: people log in the evening.
        late = rng.choice([0, 0, 0, 5 * HOUR])
        self.waiting = [(now + late, when, kind, more) for now, when, kind, more in self.waiting]
        for probe in PROBES:
            self.waiting.append((back + late + rng.choice([0, MIN]), back, "probe in", {"probe": probe}))
        self.waiting.sort(key=lambda one: one[0])

    def go(self, at):
        """Pass one reading's instant; what is entered at it comes before or after what is read at it."""
        rng = self.rng
        first = rng.random() < 0.5
        self.told(at if first else at - 1)
        self.read(at)
        self.told(at)
        if not self.waiting and at > self.back_at + 3 * HOUR:
            what = rng.random()
            if what < 0.012 * self.step / MIN / 10:
                self.turn(at + self.step)
            elif what < 0.014 * self.step / MIN / 10:
                self.work(at - rng.choice([0, MIN]), "added", at)
            elif what < 0.018 * self.step / MIN / 10:
                self.silent_until = at + rng.choice([90, 150, 400]) * MIN

    def told(self, until):
        while self.waiting and self.waiting[0][0] <= until:
            now, when, kind, more = self.waiting.pop(0)
            self.work(when, kind, now, **more)


def replayed(journal, batch):
    """The progress that the other door comes to."""
    engine, history = Engine(), ColumnHistory()
    with view_of(journal.folder) as view:
        for piece in commits_from_events(list(view.store.events())):
            if isinstance(piece, Commits):
                feed_commits(engine, piece, history, rows=400_000, least=2)
            else:
                if piece.kind.value in ("imported", "readings"):
                    history.take(piece.payload)
                engine.feed(piece, history)
    return progress_now(engine.state.runs[batch])


def from_files(folder, case, now, known):
    """The case that a spreadsheet gives which says the same: what was accepted, and who logged what when."""
    rows = []
    for own in case.probes:
        series = accepted(own)
        rows += [
            (at, own.probe, milli) for at, milli in zip(series.times.tolist(), series.milli_c.tolist(), strict=True)
        ]
    lines = [f"{show_time(at)},{probe},temperature,{milli / 1000},Cel,1\n" for at, probe, milli in sorted(rows)]
    (folder / "r.csv").write_text("time,probe,quantity,value,unit,quality\n" + "".join(lines), encoding="utf-8")
    works = [one.work for one in case.work]
    lines = [f"{show_time(one.time)},{one.place},{one.probe},{one.kind.value},Ann Example\n" for one in works]
    (folder / "w.csv").write_text("time,place,probe,kind,by\n" + "".join(lines), encoding="utf-8")
    files = Files([folder / "r.csv"], [folder / "w.csv"], "p1")
    asked = Asked(now=T0 + 400 * DAY, end=now, probes=PROBES, max_gap_ms=case.max_gap_ms)
    return file_case(files, known, asked)[0]


def _all_logged(probe, now):
    """Where a probe is out and not logged in again, a spreadsheet says that it stayed in."""
    return probe.service and probe.service[-1][1] > now and all(one.how != "back by itself" for one in probe.entries)


def compared(folder, journal, batch, text):
    now, progress, total_ms = journal.live(batch)
    if progress.since is None or now <= T0:
        return None
    case = journal.case(batch, end=now)
    if not any(accepted(one).times.size for one in case.probes):
        return None
    finding = judge_case(case).finding
    known = known_rule("ours", None, {"ours": text})
    same = prove(
        Question(
            rule=known.rule,
            max_gap_ms=case.max_gap_ms,
            start=finding.start,
            end=now,
            turnings=case.turnings,
            restarts=case.restarts,
        ),
        tuple(accepted(one) for one in case.probes),
    )
    told = [("store", finding), ("evaluate", same)]
    if all(_all_logged(one, now) for one in case.probes):
        told.append(("files", judge_case(from_files(folder, case, now, known)).finding))
    again = replayed(journal, batch)
    assert (again.state, again.since, again.values) == (progress.state, progress.since, progress.values)
    for name, who in told:
        assert (who.outcome is Outcome.MET) == (progress.state.value == "met"), name
        assert who.met_at in (None, progress.since), name
        assert who.values == progress.values, name
        assert who.total_ms == total_ms, name
        assert who.hold == finding.hold, name
        assert who.days == finding.days, name
    return finding


@pytest.mark.parametrize("seed", range(FIRST, FIRST + SEEDS))
def test_everybody_says_the_same_at_every_instant(tmp_path, seed):
    rng = Random(seed)
    text = our_rule(rng)
    # Files know nothing of the hour after a probe is back: here there is none.
    # What the settings bridge beyond the rule's own two hours proves nothing for it, whoever is asked.
    thresholds = replace(PileThresholds(), settle_ms=0, max_gap_ms=rng.choice([1, 2, 2, 4, 7]) * HOUR)
    piles = {"p1": Pile(name="Bay 1", rule="ours", method=Method.TURNED, thresholds=thresholds)}
    probes = {name: one for name, one in yard().probes.items() if name in PROBES}
    journal = Journal(tmp_path / "yard", yard(piles=piles, probes=probes, rules={"ours": text}))
    seen = 0
    try:
        journal.work(T0, "p1", "built", entered=T0)
        season = Season(journal, rng)
        (batch,), looks = journal.engine.state.runs, set(rng.sample(range(6 * DAY // season.step), 5))
        for number, at in enumerate(range(T0 + season.step, T0 + 6 * DAY, season.step)):
            season.go(at)
            if number in looks or (season.waiting and rng.random() < 0.05):
                seen += compared(tmp_path, journal, batch, text) is not None
        seen += compared(tmp_path, journal, batch, text) is not None
    finally:
        journal.writer.close()
    assert seen >= 3
