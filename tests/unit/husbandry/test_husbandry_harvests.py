"""Which screening belongs to which harvest, and what went back from it."""

from hypothesis import given
from hypothesis import strategies as st

from monitor.husbandry import harvests_of
from monitor.model.times import DAY_MS, HOUR_MS, parse_time
from monitor.model.work import Work, WorkKind

T0 = parse_time("2026-07-05T03:00:00Z")
BINS = ("b1", "b2")


def harvested(day=0.0, place="b1"):
    return Work(time=T0 + int(day * DAY_MS), place=place, kind=WorkKind.HARVESTED)


def screened(day, what="", place="b1"):
    return Work(time=T0 + int(day * DAY_MS), place=place, kind=WorkKind.SCREENED, what=what)


def of(*works):
    return harvests_of(list(enumerate(works, 1)), BINS)


def test_a_harvest_is_known_by_the_number_of_its_entry():
    found, _ = of(harvested(0.5), harvested(), harvested(0.1, "b2"))
    assert [one.id for one in found] == ["h2", "h3", "h1"]


def test_a_screening_is_of_the_harvest_it_names_else_of_the_newest_of_its_bin():
    named, unnamed = screened(4, "H1"), screened(5)
    other, early = screened(5, place="b2"), screened(-1)
    (first, second), strays = of(harvested(), harvested(3), named, unnamed, other, early)
    assert (first.screenings, second.screenings) == ([named], [unnamed])
    assert strays == [early, other], "nothing was harvested there before"
    _, strays = of(harvested(), screened(1, "h9"), screened(1, "p1-2026-07-01", "p1"))
    assert [one.what for one in strays] == ["h9"], "a heap's own is no harvest's"


def test_fines_are_screened_again_when_they_are_named_or_have_rested():
    goes = [screened(1), screened(2), screened(28.9), screened(29), screened(3, "fines h1"), screened(3.5, "h1/fines")]
    ((one,), strays) = of(harvested(), *goes)
    assert [work.time for work in one.screenings] == [goes[0].time, goes[1].time, goes[2].time]
    assert [work.time for work in one.again] == [goes[4].time, goes[5].time, goes[3].time]
    assert strays == []


def test_what_went_back_names_its_part_or_the_harvest_as_its_origin():
    def bedded(what, source=""):
        return Work(time=T0 + HOUR_MS, place="b2", kind=WorkKind.BEDDED, what=what, source=source)

    back = [bedded("Middle", "h1"), bedded("worms", "H1"), bedded("h1/overs"), bedded("overs of h1")]
    others = [bedded("straw", "h1"), bedded("overs"), bedded("overs", "h9"), bedded("h9/overs"), bedded("h1")]
    ((one,), _) = of(harvested(), *back, *others)
    assert one.returned == back


texts = st.sampled_from(["", "h1", "fines h2", "nothing", "h3/overs", "  "])
works = st.builds(
    Work,
    time=st.integers(T0 - DAY_MS, T0 + 60 * DAY_MS),
    place=st.sampled_from(["b1", "b2", "p1"]),
    kind=st.sampled_from([WorkKind.HARVESTED, WorkKind.SCREENED, WorkKind.BEDDED]),
    what=texts,
    source=texts,
)


@given(st.lists(works, max_size=12))
def test_every_screening_at_a_bin_is_somewhere_once_and_ids_are_unique(log):
    found, strays = of(*log)
    ids = [one.id for one in found]
    assert len(set(ids)) == len(ids) == sum(one.kind is WorkKind.HARVESTED for one in log)
    placed = [*strays, *(work for one in found for work in (*one.screenings, *one.again))]
    at_bins = [one for one in log if one.kind is WorkKind.SCREENED and one.place in BINS]
    assert sorted(map(repr, (one for one in placed if one.place in BINS))) == sorted(map(repr, at_bins))
