"""An entry that is put right counts as if it had been logged so at once: where things lie, what bins hold, what is proved."""

from engine_yard import DAY, HOUR, MIN, T0, Drive, bedding, core, yard
from hypothesis import given, settings
from hypothesis import strategies as st

from monitor.engine.context.batch_runs import progress_now
from monitor.model.settings import Pile
from monitor.model.words import Method

DAYS = 4
KINDS = [
    ("p1", "turned", {}), ("p1", "turned", {}), ("p1", "added", {}), ("p1", "watered", {}), ("p1", "note", {"note": "rain"}),
    ("p1", "probe out", {"probe": "p1-a"}), ("p1", "probe in", {"probe": "p1-a"}), ("p2", "added", {}), ("p2", "turned", {}),
    ("b1", "fed", {}), ("b1", "emptied", {}), ("b1", "bedded", {}), ("b1", "watered", {}), ("b1", "note", {"note": "rain"}),
    ("b1", "probe out", {"probe": "b1-t"}), ("b1", "probe in", {"probe": "b1-t"}),
]  # fmt: skip
hours = st.lists(st.integers(2, DAYS * 24 - 2), min_size=1, max_size=5, unique=True)


def piles():
    return {
        "p1": Pile(name="Bay 1", rule="us-112-54-turned", method=Method.TURNED, built=T0),
        "p2": Pile(name="Bay 2", rule="us-112-54-static", method=Method.STATIC, built=T0),
    }


def lived(works):
    """A yard with steady readings every half hour, and entries (hour, place, kind, more) logged when they were done."""
    probes = {"p1-a": core("p1"), "p1-b": core("p1"), "p2-a": core("p2"), "b1-t": bedding("b1")}
    drive, events = Drive(yard(piles=piles(), probes=probes)), {}
    left = sorted(works, key=lambda one: one[0])
    for at in range(T0 + MIN, T0 + DAYS * DAY, 30 * MIN):
        while left and T0 + left[0][0] * HOUR < at:
            hour, place, kind, more = left.pop(0)
            drive.work(T0 + hour * HOUR, place, kind, **more)
            events[hour] = drive.engine.last
        drive.read(at, p1_a=60, p1_b=61, p2_a=58, b1_t=20)
    return drive, events


def truth(drive):
    engine = drive.engine
    bins = {name: (bed.emptied_at, bed.fed_at) for name, bed in engine.state.bins.items()}
    runs = {}
    for batch, run in engine.state.runs.items():
        progress, walk = progress_now(run), run.walk
        runs[batch] = (
            run.built, walk.phase, run.rule, progress and progress.values, walk.turned_at, dict(walk.alarms), walk.now,
            {p: line.serving for p, line in sorted(walk.lines.items())},
        )  # fmt: skip
    places = {probe: (engine.place_of(probe), engine.core.in_service(probe)) for probe in engine.state.settings.probes}
    return bins, runs, places, dict(engine.state.batches.lying)


@settings(max_examples=25, deadline=None)
@given(hours, st.data())
def test_an_entry_that_is_put_right_counts_as_if_it_had_been_logged_so(times, data):
    works = [(hour, *data.draw(st.sampled_from(KINDS))) for hour in times]
    wrong = data.draw(st.integers(0, len(works) - 1))
    place, kind, more = data.draw(st.sampled_from([None, *KINDS])) or ("", "", {})
    hour = works[wrong][0] + data.draw(st.sampled_from([0, 0, 1]))
    if hour in [one[0] for number, one in enumerate(works) if number != wrong]:
        hour = works[wrong][0]
    corrected, events = lived(works)
    right = {"time": T0 + hour * HOUR, "place": place, "kind": kind, **more} if kind else None
    at = T0 + DAYS * DAY + MIN
    corrected.feed(at, "correction", {"of": events[works[wrong][0]], "work": right, "by": "Ann"})
    at_once, _ = lived([*works[:wrong], *([(hour, place, kind, more)] if kind else []), *works[wrong + 1 :]])
    at_once.feed(at, "work", {"time": at, "place": "", "kind": "note"})
    assert truth(corrected) == truth(at_once)
