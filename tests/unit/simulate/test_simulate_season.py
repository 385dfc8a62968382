"""The log of the demo's year before its weekend: in order, before the weekend, and each number names what it means."""

import re
from functools import cache

from monitor.model.harvest_names import harvest_id
from monitor.model.mix_parts import parts_of
from monitor.model.units import celsius_milli
from monitor.model.work import WorkKind
from monitor.simulate import script
from monitor.simulate.autumn_heap import rounds_by_hand
from monitor.simulate.season import TURNED, instant, season, whole_log
from monitor.simulate.season_yard import PARTS, ROUND_DAYS, SPOTS_BY_HAND

SEASON = season()


@cache
def rounds():
    """The heap is worked out step by step: not each worker that only looks at this file needs it."""
    return list(rounds_by_hand())


def numbered():
    """Return each entry with its number, as the demo takes them in: the rounds stand after the first entries."""
    early = [work for work in SEASON if work.time <= rounds()[-1].time]
    return {number + (len(rounds()) if number > len(early) else 0): work for number, work in enumerate(SEASON, 1)}


def test_entries_come_in_order_and_end_before_the_weekend():
    times = [work.time for work in SEASON]
    assert times == sorted(times)
    assert times[-1] < script.WEEKEND_START
    whole = whole_log(script.WORKS)
    assert [work.time for work in whole] == sorted(work.time for work in whole)
    assert len(whole) == len(SEASON) + len(script.WORKS)


def test_whatever_an_entry_names_by_number_is_a_harvest():
    entries = numbered()
    named = {found for work in SEASON for found in re.findall(r"\bh(\d+)", work.what)}
    assert len(named) == 2
    assert {entries[int(one)].kind for one in named} == {WorkKind.HARVESTED}
    harvests = [harvest_id(number) for number, work in entries.items() if work.kind is WorkKind.HARVESTED]
    assert sorted(harvests) == sorted(f"h{one}" for one in named)
    # From there on the script's own entries stand between, and numbers would be others.
    assert all(entries[int(one)].time < script.HISTORY_START for one in named)


def test_as_much_came_in_as_went_into_the_heaps_and_beds():
    """Counted in the units of the deliveries; the demo's stock says the same in masses."""
    came, used = {}, {}
    whole = [work for work in whole_log(script.WORKS) if work.time < script.WEEKEND_START]
    for work in whole:
        if work.kind is WorkKind.DELIVERY and not work.refused:
            came[work.what] = came.get(work.what, 0) + float(work.amount)
        for part in parts_of(work.parts):
            used[part.name] = used.get(part.name, 0) + float(part.amount.count)
    assert sum(work.kind is WorkKind.BUILT for work in whole) == 4
    assert {work.parts for work in whole if work.kind is WorkKind.BUILT} == {PARTS}
    assert set(used) == {"stable litter", "leaves", "coffee grounds"}
    assert all(used[name] <= came[name] for name in used)


def test_the_autumns_heap_was_hot_for_fifteen_days_with_five_turnings():
    assert len(rounds()) == len(ROUND_DAYS) * len(SPOTS_BY_HAND)
    hot = [one.time for one in rounds() if one.micro / 1e6 >= 131]
    cold = [one.time for one in rounds() if one.micro / 1e6 < 131]
    longest = min(at for at in cold if at > hot[0]) - hot[0]
    assert celsius_milli(131, "degF") == 55_000
    assert longest > 15 * 24 * 3_600_000
    assert all(hot[0] < instant(one) < hot[0] + longest for one in TURNED)
    assert list(rounds_by_hand()) == rounds()
