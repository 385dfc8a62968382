"""The declaration of work: every kind has a row, and says itself in the past tense."""

import pytest

from monitor.model.work import Work, WorkKind, work_from
from monitor.model.work_kinds import GOING, HEAP_CHANGES, KINDS, MOISTENING, PROBE_WORK, Where, kinds, typed_words
from monitor.model.work_words import work_said


def test_an_entry_with_a_field_of_a_later_version_and_with_empty_ones_is_read_without_these():
    payload = {"kind": "turned", "place": "p1", "by": None, "note": None, "time": None, "wheels": 4}
    assert work_from(payload, 5) == Work(time=5, place="p1", kind=WorkKind.TURNED)


def test_every_kind_is_declared_once():
    assert set(KINDS) == set(WorkKind)
    assert set(typed_words().values()) == set(WorkKind)
    fields = set(Work.__dataclass_fields__)
    assert all(set(row.fields) <= fields for row in KINDS.values())


def test_what_the_flags_say():
    assert {WorkKind.MOVED, WorkKind.SPLIT, WorkKind.MERGED} == GOING
    assert {*GOING, WorkKind.BUILT, WorkKind.EMPTIED} == HEAP_CHANGES
    assert {WorkKind.FED, WorkKind.WATERED} == MOISTENING
    assert {WorkKind.PROBE_IN, WorkKind.PROBE_OUT} == PROBE_WORK
    assert WorkKind.FED not in {row.kind for row in kinds(Where.PILE)}
    assert WorkKind.TURNED not in {row.kind for row in kinds(Where.BIN)}
    of_yard = {row.kind for row in KINDS.values() if row.of_yard}
    assert of_yard == {row.kind for row in kinds(Where.YARD)} - {WorkKind.NOTE}
    assert {row.kind for row in KINDS.values() if row.stocks} == {WorkKind.DELIVERY, WorkKind.COUNTED} < of_yard


@pytest.mark.parametrize(
    ("fields", "said"),
    [
        ({"kind": WorkKind.FAN, "amount": "20", "measure": "min"}, "fan run 20 min"),
        ({"kind": WorkKind.SEEN}, "looked at"),
        (
            {"kind": WorkKind.INSPECTED, "worms": "on the lid", "smell": "ammonia", "squeeze": "5", "note": "lid open"},
            "inspected: worms on the lid, smells of ammonia, squeeze 5 (runs) (lid open)",
        ),
        (
            {"kind": WorkKind.INSPECTED, "spot": "west", "cocoons": "yes", "smell": "none", "squeeze": "3"},
            "inspected at west: cocoons, no smell, squeeze 3 (shines, one drop)",
        ),
        ({"kind": WorkKind.INSPECTED, "cocoons": "none", "smell": "sour"}, "inspected: no cocoons, smells sour"),
        (
            {"kind": WorkKind.HARVESTED, "amount": "9", "measure": "kg", "moisture": "74", "depth": "2 in"},
            "harvested 9 kg, moisture 74 %, 2 in deep",
        ),
        (
            {
                "kind": WorkKind.SCREENED,
                "amount": "47",
                "measure": "lb",
                "what": "b1-2026-07-01",
                "moisture": "45",
                "fines": "30 lb",
                "middle": "9 lb",
                "overs": "8.3 lb",
            },
            "screened 47 lb of b1-2026-07-01, moisture 45 %: fines 30 lb, middle 9 lb, overs 8.3 lb",
        ),
        ({"kind": WorkKind.SCREENED, "overs": "0 kg", "note": "all of it"}, "screened: overs 0 kg (all of it)"),
        (
            {"kind": WorkKind.SAMPLED, "amount": "0.9", "measure": "lb", "what": "worms", "spot": "west"},
            "sampled 0.9 lb of worms at west",
        ),
        ({"kind": WorkKind.NOTE, "note": "lid left open"}, "note: lid left open"),
        ({"kind": WorkKind.FED, "amount": "5", "measure": "lb", "what": "peelings"}, "fed 5 lb of peelings"),
        ({"kind": WorkKind.MOVED, "to": "p2"}, "moved to BAY p2"),
        ({"kind": WorkKind.PROBE_OUT, "probe": "p1-a"}, "THE p1-a taken out"),
        ({"kind": WorkKind.ADDED, "what": "manure", "source": "a stable"}, "added manure from a stable"),
        (
            {
                "kind": WorkKind.DELIVERY,
                "amount": "2",
                "measure": "t",
                "what": "leaves",
                "source": "a park",
                "spot": "pad 2",
                "risk": "herbicide,plastic",
                "refused": "too wet",
                "note": "Tuesday's load",
            },
            "delivered 2 t of leaves from a park at pad 2, risk of herbicide and plastic; refused: too wet (Tuesday's load)",
        ),
        (
            {"kind": WorkKind.DELIVERY, "amount": "3", "unit": "yd3", "what": "chips", "risk": "none"},
            "delivered 3 yd3 of chips, no risk found",
        ),
        ({"kind": WorkKind.COUNTED, "amount": "40", "measure": "bags", "what": "leaves"}, "counted 40 bags of leaves"),
        (
            {"kind": WorkKind.AWAY, "contact": "ann", "start": "MON", "end": "TUE"},
            "ANN away from @MON to @TUE",
        ),
        ({"kind": WorkKind.VISITORS, "note": "a school class"}, "visitors: a school class"),
        (
            {"kind": WorkKind.WATERED, "amount": "60", "measure": "L", "note": "while turning"},
            "watered 60 L (while turning)",
        ),
    ],
)
def test_it_is_said_in_the_past_tense(fields, said):
    work = Work(time=0, place="p1", **fields)
    assert (
        work_said(
            work,
            lambda place: f"BAY {place}",
            lambda probe: f"THE {probe}",
            contact_name=str.upper,
            instant=lambda text: f"@{text}",
        )
        == said
    )
