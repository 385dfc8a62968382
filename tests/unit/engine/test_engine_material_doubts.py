"""A material under a name that is nearly one in stock, and a place named as material, are asked about once."""

import pytest

from monitor.engine.asking.left_over import left_over
from monitor.engine.asking.material_doubts import material_doubts
from monitor.model.settings import Bin, Pile, Settings
from monitor.model.work import Work, WorkKind

SETTINGS = Settings(piles={"p1": Pile(name="Bay 1")}, bins={"b1": Bin(name="Wall bin")})


def delivered(name, **more):
    return Work(time=1, place="yard", kind=WorkKind.DELIVERY, what=name, amount="5", unit="lb", **more)


CAME = [
    (3, delivered("Stable litter")),
    (4, delivered("leaves")),
    (5, delivered("horse manure")),
    (6, delivered("sawdust", refused="wet")),
    (7, delivered("chips 2")),
    (31, Work(time=2, place="b1", kind=WorkKind.HARVESTED, amount="5", unit="lb")),
]


def asked(name, entries=CAME, kind=WorkKind.ADDED, heap="p1-2026-10-05"):
    work = Work(time=9, place="p1", kind=kind, what=name)
    return list(material_doubts(SETTINGS, entries, work, {"p1": heap}.get))


@pytest.mark.parametrize(
    ("name", "meant"),
    [("litter", "Stable litter (3)"), ("Leafs", "leaves (4)"), ("oak leaves", "leaves (4)"), ("manure", "horse manure (5)")],
)  # fmt: skip
def test_a_name_that_is_nearly_that_of_what_came_in_is_asked_about(name, meant):
    known, number = meant.rstrip(")").split(" (")
    for kind in (WorkKind.ADDED, WorkKind.BUILT, WorkKind.FED, WorkKind.DELIVERY, WorkKind.COUNTED):
        told = f"(entry {number}, 5 lb), and 5 lb are left. Is the name right?"
        assert asked(name, kind=kind) == [f'By the record no "{name}" ever came in, but "{known}" did {told}']


@pytest.mark.parametrize(
    "name",
    ["", "STABLE  litter", "leaves", "chicken manure", "straw", "sawdusts", "chips 3", "d3", "h31/fines", "worms", "water",
     "p1-2026-10-05", "lot-b1-2026-10-05"],
)  # fmt: skip
def test_other_names_are_taken(name):
    assert asked(name) == []


def test_a_name_that_was_taken_once_is_not_asked_about_again():
    taken = (8, Work(time=8, place="p1", kind=WorkKind.ADDED, what="litter"))
    assert asked("litter", [*CAME, taken]) == []


def test_every_part_of_a_mix_is_looked_at():
    work = Work(time=9, place="p1", kind=WorkKind.BUILT, parts="litter=2 barrow; leaves=3 bag; leafs=1 bag")
    found = list(material_doubts(SETTINGS, CAME, work, lambda _: ""))
    assert [one.split('"')[1::2] for one in found] == [["litter", "Stable litter"], ["leafs", "leaves"]]


def test_a_place_is_no_material():
    for name in ("p1", "bay 1"):
        (found,) = asked(name, kind=WorkKind.BEDDED)
        assert found.startswith(f'"{name}" is a place, and would be taken for a material of that name; the heap')
        assert found.endswith('the heap that lay there is called "p1-2026-10-05". Is the name right?')
    assert "heap" not in asked("p1", heap="")[0]


@pytest.mark.parametrize(
    ("name", "missing"),
    [("d99", "d99"), ("D31", "d31"), ("h3", "h3"), ("h99/overs", "h99")],
)
def test_a_delivery_or_harvest_that_is_not_in_the_record_is_asked_about(name, missing):
    assert asked(name, kind=WorkKind.BEDDED) == [f"There is no {missing} in the record. Is the name right?"]
    assert asked(name, entries=[], kind=WorkKind.BEDDED) == []


def test_a_lot_and_a_screening_of_a_harvest_that_is_not_there_are_asked_about():
    for kind in (WorkKind.LOT, WorkKind.SCREENED):
        assert asked("h9", kind=kind) == ["There is no h9 in the record. Is the name right?"]
        assert asked("h9/fines", kind=kind) == ["There is no h9 in the record. Is the name right?"]
        assert asked("h31/fines", kind=kind) == []
        assert asked("leafs", kind=kind) == []


def entry(kind, amount="", unit="", *, time=1, **more):
    return Work(time=time, place="p1", kind=WorkKind(kind), amount=amount, unit=unit, **more)


@pytest.mark.parametrize(
    ("works", "left"),
    [
        ([], ""),
        ([entry("delivery", "6", "barrow", what="Litter")], "6 barrows"),
        (
            [entry("delivery", "6", "barrow", what="litter"), entry("added", "1.5", "barrow", what="LITTER")],
            "4.5 barrows",
        ),
        (
            [entry("delivery", "6", "barrow", what="litter"), entry("built", parts="litter=2 barrow; leaves=3 bag")],
            "4 barrows",
        ),
        ([entry("delivery", "6", "barrow", what="litter"), entry("added", what="litter")], ""),
        ([entry("delivery", "6", "barrow", what="litter"), entry("added", "3", "lb", what="litter")], ""),
        (
            [entry("counted", "3", "bag", what="litter", time=5), entry("delivery", "9", "bag", what="litter", time=2)],
            "3 bags",
        ),
        (
            [entry("delivery", "6", "bag", what="litter", refused="wet"), entry("delivery", "2", "bag", what="litter")],
            "2 bags",
        ),
        ([entry("delivery", "2", "bag", what="litter"), entry("added", "3", "bag", what="litter", time=2)], ""),
        ([entry("built", "2", "bag", what="litter"), entry("delivery", "6", "bag", what="litter", time=2)], "6 bags"),
        ([entry("delivery", "2", "bag", what="leaves")], ""),
    ],
)
def test_what_is_left_is_told_where_one_unit_tells_it(works, left):
    assert left_over(works, " litter") == left
