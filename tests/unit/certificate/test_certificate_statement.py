import json
from dataclasses import replace
from hashlib import sha256

import certificate_scenes as scenes
import numpy as np
import pytest

from monitor.certificate import Attested, canonical, judge_case, make_statement
from monitor.certificate.checking.differences import byte_ranges, tree_differences
from monitor.certificate.record.attached_rows import gather_rows, pack, unpack
from monitor.certificate.record.restoring import restore_case
from monitor.certificate.record.statement import Imprint, certificate_id
from monitor.model.errors import MisuseError
from monitor.model.times import HOUR_MS

SCENES = (scenes.case, scenes.not_met, scenes.not_proven, scenes.by_hand)


def stated(case):
    packed = pack(scenes.CSV.write(gather_rows(case.probes)))
    imprint = Imprint(
        issued_at=scenes.ISSUED,
        key_id="ab" * 32,
        readings_sha256=sha256(packed).hexdigest(),
        typst="0.15.2",
        layout="0" * 16,
    )
    return make_statement(case, judge_case(case), imprint), packed, imprint


def every(value):
    yield value
    if isinstance(value, dict):
        for one in value.values():
            yield from every(one)
    elif isinstance(value, list):
        for one in value:
            yield from every(one)


@pytest.mark.parametrize("scene", SCENES)
def test_a_statement_holds_whole_numbers_texts_and_nothing_else(scene):
    tree, _, _ = stated(scene())
    assert {type(one) for one in every(tree)} <= {dict, list, str, int, bool, type(None)}
    assert json.loads(canonical(tree)) == tree
    assert tree["id"] == certificate_id(tree)
    assert tree["rule"]["text"] == scene().rule_text


@pytest.mark.parametrize("scene", SCENES)
def test_the_record_and_its_readings_alone_give_the_same_statement_again(scene):
    case = replace(scene(), smoothing_ms=HOUR_MS, guard_milli_k=300)
    tree, packed, imprint = stated(case)
    rows = scenes.CSV.read(unpack(packed), 10**6)
    again = restore_case(json.loads(canonical(tree)), rows)
    assert canonical(make_statement(again, judge_case(again), imprint)) == canonical(tree)


def test_what_people_declared_and_confirmed_stands_in_the_statement_with_their_names_and_when():
    declared, confirmed = (Attested(by=by, at=scenes.ISSUED, words=words) for by, words in (("Ann", "ok"), ("Bo", "")))
    tree, _, _ = stated(scenes.case(declared={"curing": declared}, confirmed=confirmed))
    wanted = {"by": "Bo", "at": "2026-05-02T15:30:00.000Z", "words": ""}
    assert tree["rule"]["confirmed"] == wanted
    assert {**wanted, "by": "Ann", "words": "ok"} in list(every(tree))
    assert stated(scenes.case())[0]["rule"]["confirmed"] is None


def test_mixed_units_and_flags_come_back():
    one = scenes.probe("b", scenes.course(3, seed=1))
    half = one.times.size // 2
    mixed = replace(
        one,
        unit_names=("Cel", "[degF]"),
        units=np.array([0] * half + [1] * (one.times.size - half), dtype=np.int8),
        quality=np.array([1, 2, 3, 4] * (one.times.size // 4), dtype=np.int8),
    )
    case = scenes.case(probes=(scenes.probe("a", scenes.course(3, seed=2)), mixed))
    tree, packed, _ = stated(case)
    again = restore_case(tree, scenes.CSV.read(unpack(packed), 10**6))
    for was, now in zip(case.probes, again.probes, strict=True):
        assert was.times.tolist() == now.times.tolist()
        assert was.micro.tolist() == now.micro.tolist()
        assert was.quality.tolist() == now.quality.tolist()
        assert [was.unit_names[at] for at in was.units] == [now.unit_names[at] for at in now.units]


@pytest.mark.parametrize(
    ("path", "value"),
    [
        (("format",), "another"),
        (("version",), 3),
        (("version",), 1),
        (("site",), None),
        (("judged", "max_gap_ms"), True),
        (("judged", "basis"), "warmest"),
        (("turnings",), ["yesterday"]),
        (("rule", "text"), "title = 1"),
        (("probes",), []),
        (("probes",), "abc"),
        (("work",), [{"kind": "built"}]),
        (("batch", "method"), "boiled"),
        (("declared",), []),
    ],
)
def test_a_record_that_is_not_of_this_format_is_refused_in_a_sentence(path, value):
    tree, packed, _ = stated(scenes.case())
    rows = scenes.CSV.read(unpack(packed), 10**6)
    below = tree
    for key in path[:-1]:
        below = below[key]
    below[path[-1]] = value
    with pytest.raises(MisuseError):
        restore_case(tree, rows)


def test_packed_readings_are_the_same_each_time_and_limited():
    assert pack(b"abc" * 100) == pack(b"abc" * 100)
    bomb = pack(b"\0" * 10_000_000)
    with pytest.raises(MisuseError, match="unpack to more"):
        unpack(bomb, 1_000_000)
    for bad in (b"", b"abc", bomb[:-3], bomb + b"x", bomb + pack(b"more")):
        with pytest.raises(MisuseError):
            unpack(bad)


def test_differences_are_named_by_their_place():
    found = tree_differences({"a": [1, {"b": 2}], "c": True}, {"a": [1, {"b": 3}], "c": 1, "d": None})
    assert [one.path for one in found] == ["a[1].b", "c", "d"]
    assert tree_differences({"finding": {"reasons": ["x"]}}, {"finding": {"reasons": ["y"]}})[0].worded


def test_ranges_of_bytes_that_differ():
    one = bytes(1000)
    other = bytearray(one)
    other[5] = other[9] = other[500] = 1
    assert byte_ranges(one, bytes(other)) == [(5, 9), (500, 500)]
    assert byte_ranges(one, one + b"xy") == [(1000, 1001)]
    assert byte_ranges(one, one) == []


def test_every_key_of_a_record_is_described():
    from pathlib import Path

    tree, _, _ = stated(replace(scenes.case(), smoothing_ms=HOUR_MS, lay_on=(("Bay 1", scenes.START, None),)))
    page = (Path(__file__).parents[3] / "docs" / "format-certificate.md").read_text(encoding="utf-8")
    free = {"declared", "measures", "values_milli"}  # their keys are those of rules and of people

    def keys(value, name=""):
        if isinstance(value, dict) and name not in free:
            for key, one in value.items():
                yield key
                yield from keys(one, key)
        elif isinstance(value, list):
            for one in value:
                yield from keys(one, name)

    assert sorted({key for key in keys(tree) if f"`{key}`" not in page}) == []
