"""A probe that dies, and people who read on by hand: the engine, the certificate from the journal and from files agree."""

from dataclasses import replace
from random import Random

import pytest
from certificate_yard import DAY, HOUR, MIN, T0, Journal, core, yard

from monitor.app.cases import Asked, known_rule
from monitor.app.cases.from_files import file_case
from monitor.app.cases.read_files import Files
from monitor.certificate import judge_case
from monitor.configuration import load_text
from monitor.model.settings import Pile
from monitor.model.thresholds import PileThresholds
from monitor.model.times import show_time
from monitor.model.words import Method
from monitor.proof.verdict import Outcome

RULE = "us-112-54-turned"
BARE = '[site]\nname = "Tern Hollow"\n[piles.p1]\n'


class Yard(Journal):
    """One heap with a probe or two, of which everything that is read or logged can be handed in as files, too.

    If it is `configured`, whoever has the files has the configuration as well.
    """

    configured = False

    def __init__(self, folder, probes):
        # Files know nothing of the hour after a probe is back: here there is none.
        own = PileThresholds(settle_ms=0)
        piles = {"p1": Pile(name="p1", rule=RULE, method=Method.TURNED, thresholds=own)}
        super().__init__(folder / "data", yard(piles=piles, probes={name: core("p1") for name in probes}))
        self.out, self.probes, self.rows, self.works = folder, probes, [], []

    def did(self, at, kind, probe=""):
        self.work(at, "p1", kind, entered=at, **({"probe": probe} if probe else {}))
        self.works.append(f"{show_time(at)},p1,{kind},{probe}\n")

    def said(self, at, **celsius):
        rows = [[at, name.replace("_", "-"), round(value * 1_000_000), "Cel"] for name, value in celsius.items()]
        self.put(at, "readings", {"rows": rows, "ahead": [], "by": "Ann"})
        self.rows += [f"{show_time(at)},{name},temperature,{micro / 1_000_000},Cel\n" for _, name, micro, _ in rows]

    def by_hand(self, at, *celsius):
        for spot, value in zip(("west", "east"), celsius, strict=False):
            micro = round(value * 1_000_000)
            self.put(at, "readings", {"rows": [[at, f"hand:p1:{spot}", micro, "Cel"]], "ahead": [], "by": "Ann"})
            self.rows.append(f"{show_time(at)},hand:p1:{spot},temperature,{micro / 1_000_000},Cel\n")
            at += 4 * MIN
        return at

    def from_files(self, **asked):
        (self.out / "r.csv").write_text("time,probe,quantity,value,unit\n" + "".join(self.rows))
        (self.out / "w.csv").write_text("time,place,kind,probe\n" + "".join(self.works))
        files = Files([self.out / "r.csv"], [self.out / "w.csv"], "p1")
        configuration = replace(load_text(BARE, None, {}), settings=self.settings) if self.configured else None
        asked = Asked(now=T0 + 400 * DAY, probes=self.probes, **asked)
        return file_case(files, known_rule(RULE, None), asked, configuration)[0]

    def all_agree(self):
        """Return the finding that all agree on."""
        (batch,) = self.engine.state.runs
        now, progress, total_ms = self.live(batch)
        stored = judge_case(self.case(batch, end=now)).finding
        filed_case = self.from_files(end=now)
        filed = judge_case(filed_case).finding
        for name, finding in (("journal", stored), ("files", filed)):
            assert (finding.outcome is Outcome.MET) == (progress.state.value == "met"), name
            assert finding.total_ms == total_ms, name
            # A case begins at the first reading that counts: what was logged before that is no turning of it.
            own, theirs = ({key: value for key, value in one.items() if key != "turnings_logged"}
                           for one in (finding.values, progress.values))  # fmt: skip
            assert own == theirs, name
        assert filed.hold == stored.hold
        assert filed.proven == stored.proven
        assert filed.outcome is stored.outcome
        return filed, filed_case


class Imported(Yard):
    """The same, but everything is handed in later as one import, or as an import of readings and one of work."""

    def __init__(self, folder, probes, door):
        self.door, self.kept = door, {"work": [], "rows": []}
        super().__init__(folder, probes)

    def put(self, at, kind, payload):
        if kind == "work":
            self.kept["work"].append(payload)
        elif kind == "readings":
            self.kept["rows"] += payload["rows"]
        else:
            return super().put(at, kind, payload)
        return None

    def hand_in(self):
        work, rows = {"work": self.kept["work"]}, {"rows": sorted(self.kept["rows"])}
        orders = {"at once": ({**work, **rows},), "work first": (work, rows), "readings first": (rows, work)}
        for number, payload in enumerate(orders[self.door]):
            super().put(T0 + 60 * DAY + number, "imported", payload)


def lives(heap, life):
    """Let a heap be read by hand for 19 days and turned five times, while its probe never speaks or dies."""
    heap.did(T0, "built")
    for hour in range({"spoke once": 1, "fell silent": 30, "left out": 77, "left out, back": 77}.get(life, 0)):
        heap.said(T0 + MIN + hour * HOUR, p1_a=60)
    if life in ("never spoke, turned first", "spoke once, turned first"):
        if life.startswith("spoke"):
            heap.said(T0 + MIN, p1_a=60)
        heap.did(T0 + 2 * HOUR, "turned")
    if life == "out":
        heap.did(T0 + 2 * HOUR, "probe out", "p1-a")
    for day in range(20):
        at = T0 + day * DAY + 3 * HOUR
        heap.by_hand(at, 61, 60)
        if day in (3, 6, 9, 12, 15):
            heap.did(at + 2 * HOUR, "turned")
            if life == "put in again":
                heap.did(at + 3 * HOUR, "probe in", "p1-a")
        if life == "left out, back" and day == 17:
            heap.did(at + 2 * HOUR, "probe in", "p1-a")
            for hour in range(3, 20):
                heap.said(at + hour * HOUR, p1_a=60)


@pytest.mark.parametrize("door", ["live", "at once", "work first", "readings first"])
@pytest.mark.parametrize(
    ("life", "proven_hours", "how"),
    [
        ("never spoke", 19 * 24, ["built", "never spoke"]),
        ("put in again", 19 * 24, ["built", "never spoke"]),
        ("spoke once", 19 * 24, ["built", "fell silent"]),
        ("fell silent", 29 + 17 * 24, ["built", "fell silent"]),
        ("out", 19 * 24, ["built", "probe out"]),
        ("never spoke, turned first", 19 * 24, ["built", "never spoke"]),
        ("spoke once, turned first", 19 * 24, ["built", "fell silent"]),
        ("left out", 76 + 15 * 24, ["built", "fell silent"]),
        ("left out, back", 76 + 13 * 24 + 16 + 24, ["built", "fell silent"]),
    ],
)
def test_a_probe_that_measures_nothing_takes_no_day_from_rounds(tmp_path, life, proven_hours, how, door):
    """A turning from an import was presumed to have put a dead probe back, and each cost the heap a day; of the certificate,
    all that came after the first."""
    heap = Yard(tmp_path, ("p1-a",)) if door == "live" else Imported(tmp_path, ("p1-a",), door)
    try:
        lives(heap, life)
        if door != "live":
            heap.hand_in()
        if "never spoke" in life or "never spoke" in how or life == "out":
            heap.probes = ()  # files hold nothing of it
        finding, _ = heap.all_agree()
        assert finding.total_ms == proven_hours * HOUR
        assert (finding.values["days"], finding.turnings, finding.outcome) == (15, 5, Outcome.MET)
        (probe,) = [one for one in heap.case("p1").probes if one.probe == "p1-a"]
        told = [one.how for one in probe.entries]
        if "turned" in life or "left out" in life:
            # What turnings did and are presumed to have done stands there too, depending on the door.
            assert (told[0], told[-1] in (how[-1], "turning")) == (how[0], True)
        else:
            assert told == how
    finally:
        heap.writer.close()


def beside(heap, life):
    """Let one probe of a heap speak for 19 days of five turnings (or die, and people read on), while another never does."""
    back = {"a back": ["p1-a"], "both back": ["p1-a", "p1-b"]}.get(life, ["p1-a"])
    if life == "out since the building":
        heap.did(T0, "probe out", "p1-b")
    if life == "turned first":
        heap.did(T0 + 2 * HOUR, "turned")
        heap.did(T0 + 3 * HOUR, "probe in", "p1-a")
    for day in range(20):
        start, end = T0 + day * DAY + 5 * HOUR, T0 + (day + 1) * DAY + 4 * HOUR
        if day in (3, 6, 9, 12, 15) and life != "dies":
            heap.did(start - HOUR, "turned")
            for probe in back:
                heap.did(start, "probe in", probe)
        if day < 2 or life != "dies":
            for at in range(start + 10 * MIN, end, 30 * MIN):
                heap.said(at, p1_a=60)
        else:
            heap.by_hand(T0 + day * DAY + 8 * HOUR, 61, 60)


@pytest.mark.parametrize(
    ("life", "days", "outcome"),
    [
        # It is in by the configuration, and nobody knows how cold its spot was.
        ("never put back", 16, Outcome.NOT_PROVEN),
        ("both back", 0, Outcome.NOT_PROVEN),
        ("dies", 17, Outcome.NOT_MET),
        ("turned first", 15, Outcome.MET),
        ("out since the building", 15, Outcome.MET),
    ],
)
def test_a_probe_never_heard_beside_one_that_speaks_leaves_the_time_unproven_until_somebody_says_it_was_out(
    tmp_path, life, days, outcome
):
    """A rule is held at the coldest point, and of its point nobody knows anything. A file of the readings alone knows no such
    probe; with the configuration it does."""
    heap = Yard(tmp_path, ("p1-a", "p1-b"))
    heap.configured, heap.probes = True, ()
    try:
        heap.did(T0, "built")
        beside(heap, life)
        finding, _ = heap.all_agree()
        assert (finding.values["days"], finding.outcome) == (days, outcome)
    finally:
        heap.writer.close()


@pytest.fixture
def yard_of(tmp_path):
    made = []

    def opened(*probes):
        made.append(Yard(tmp_path, probes))
        made[-1].did(T0, "built")
        return made[-1]

    yield opened
    for one in made:
        one.writer.close()


def test_a_dead_probe_hands_over_to_rounds_in_files_as_in_the_journal(yard_of):
    """`certify` on files took the time after the probe's last reading for unproven, for ever."""
    heap = yard_of("p1-a")
    for at in range(T0 + MIN, T0 + DAY, HOUR):
        heap.said(at, p1_a=60)
    for hour in (26, 50, 74):
        heap.by_hand(T0 + hour * HOUR, 60, 59)
    for at in range(T0 + 80 * HOUR, T0 + 90 * HOUR, HOUR):
        heap.said(at, p1_a=60)
    finding, case = heap.all_agree()
    assert finding.total_ms == (23 + 48 + 9) * HOUR
    (probe,) = [one for one in case.probes if not one.by_hand]
    assert [one.how for one in probe.entries] == ["built", "fell silent", "spoke again"]


def test_rows_of_the_probe_that_cannot_be_read_let_no_round_prove_in_its_place(yard_of):
    heap = yard_of("p1-a")
    for at in range(T0 + MIN, T0 + DAY, HOUR):
        heap.said(at, p1_a=60)
    for hour in (26, 50, 74):
        heap.by_hand(T0 + hour * HOUR, 60, 59)
    whole = judge_case(heap.from_files()).finding
    heap.rows += [f"{show_time(at)},p1-a,temperature,4o,Cel\n" for at in range(T0 + DAY, T0 + 74 * HOUR, HOUR)]
    spoiled = judge_case(heap.from_files()).finding
    assert (whole.total_ms, spoiled.total_ms) == ((23 + 48) * HOUR, 23 * HOUR)


@pytest.mark.parametrize("seed", range(8))
def test_everybody_agrees_on_any_record_of_probes_that_die(yard_of, seed):
    rng = Random(seed)
    probes = ("p1-a", "p1-b")[: rng.choice((1, 1, 2))]
    heap = yard_of(*probes)
    alive, out = set(probes), set()
    level, at = 60.0, T0 + MIN
    while at < T0 + 18 * DAY:
        level = min(66, max(rng.choice((48, 57)), level + rng.uniform(-4, 4)))
        if rng.random() < 0.8:
            at = heap.by_hand(at, level + rng.uniform(0, 2), level)
        done = at + 2 * HOUR
        if rng.random() < 0.25:
            heap.did(done, "turned")
            for number, probe in enumerate(probes):
                # Put back with the others, whether or not its battery lives.
                if probe not in out:
                    heap.did(done + (20 + number) * MIN, "probe in", probe)
        elif rng.random() < 0.15:
            probe = rng.choice(probes)
            heap.did(done, "probe in" if probe in out else "probe out", probe)
            out ^= {probe}
        if rng.random() < 0.05:
            heap.did(done + 30 * MIN, "added")
        for probe in probes:
            if rng.random() < 0.3:
                alive ^= {probe}
        for when in range(done + HOUR, done + 19 * HOUR, 40 * MIN):
            told = {probe.replace("-", "_"): level + rng.uniform(-1, 1) for probe in alive - out}
            if told:
                heap.said(when, **told)
        at = done + 19 * HOUR + rng.randrange(0, 300) * MIN
        at -= at % MIN
    heap.all_agree()
