"""What is refused in a document by its structure and its size, and how readings and differences are told."""

import certificate_scenes as scenes
import pytest
from certificate_papers import flat

from monitor.certificate import verify
from monitor.certificate.checking import container, remaking
from monitor.certificate.checking.container import open_container
from monitor.certificate.checking.differences import MOST_NAMED, tree_differences
from monitor.certificate.pages.typesetting import typeset
from monitor.certificate.record.attached_rows import gather_rows, pack, unpack
from monitor.certificate.signature.signing import sign
from monitor.model.errors import MisuseError
from monitor.model.times import HOUR_MS

HEAD = '#set document(date: datetime(year: 2026, month: 1, day: 1), title: "x")\nx\n'


def attaching(*names):
    kind = 'relationship: "data", mime-type: "text/plain", description: "x"'
    lines = "".join(f'#pdf.attach("{name}", read("file", encoding: none), {kind})\n' for name in names)
    return typeset({"main.typ": (HEAD + lines).encode(), "file": b"x"})


@pytest.mark.parametrize(
    "names",
    [["certificate.json"], ["certificate.json", "readings.csv.gz", "more.txt"], ["a", "b"]],
)
def test_a_document_has_exactly_the_two_attachments(keys, names):
    pdf = sign(attaching(*names), scenes.key(keys), "Yard", scenes.ISSUED)
    assert verify(pdf, scenes.CSV).faults == [
        "Attached should be certificate.json and readings.csv.gz, and nothing else.",
    ]


def test_a_record_larger_than_any_is_refused(short, monkeypatch):
    size = len(scenes.opened(short).record)
    monkeypatch.setattr(container, "LARGEST_JSON", size)
    assert scenes.opened(short)
    monkeypatch.setattr(container, "LARGEST_JSON", size - 1)
    with pytest.raises(MisuseError, match=f"certificate.json is larger than {size - 1} bytes; no record is."):
        scenes.opened(short)


def test_attachments_that_are_nested_without_end_are_refused(short, monkeypatch):
    monkeypatch.setattr(container, "_DEEPEST", -1)
    with pytest.raises(MisuseError, match="The attachments are nested too deeply"):
        scenes.opened(short)


def test_a_signature_at_another_place_is_not_the_one_that_covers_the_file(short):
    start, end = scenes.place(short)
    for wrong in ((start + 1, end), (start, end - 1)):
        with pytest.raises(MisuseError, match="is not the one that covers the whole file"):
            open_container(short, wrong)


def test_readings_are_held_to_their_limits(short, monkeypatch):
    monkeypatch.setattr(remaking, "MOST_ROWS", 99)
    assert "more than 99 rows" in verify(short, scenes.CSV).faults[0]
    monkeypatch.setattr(remaking, "MOST_ROWS", 100)
    assert verify(short, scenes.CSV).ok
    text = unpack(scenes.opened(short).readings)
    assert unpack(pack(text), len(text)) == text
    with pytest.raises(MisuseError, match="unpack to more"):
        unpack(pack(text), len(text) - 1)


def test_rows_are_gathered_in_order_of_time_and_then_of_id_whatever_the_order_of_the_probes():
    late, early = flat("p1-b", (3, 60.0)), flat("p1-a", (2, 50.0), start=scenes.START + HOUR_MS)
    rows = gather_rows([late, early])
    assert rows.probe_names == ("p1-a", "p1-b")
    assert [(at - scenes.START) // HOUR_MS for at in rows.times.tolist()] == [0, 1, 1, 2, 2]
    assert rows.probes.tolist() == [1, 0, 1, 0, 1]
    assert rows.micro.tolist() == [60_000_000, 50_000_000, 60_000_000, 50_000_000, 60_000_000]
    assert gather_rows([]).times.size == 0


def test_differences_are_told_shortened_and_twelve_at_most():
    found = tree_differences({"a": "x" * 80, "b": [1], "c": None}, {"a": 1, "b": [1, 2], "c": True})
    assert [(one.said, one.gives) for one in found] == [
        ("'" + "x" * 58 + "…", "1"), ("a list of 1", "a list of 2"), ("nothing", "True"),
    ]  # fmt: skip
    assert tree_differences({"a": "x" * 58}, {"a": 1})[0].said == repr("x" * 58)
    assert not found[0].worded
    many = {str(number): number for number in range(20)}
    assert len(tree_differences(many, {})) == MOST_NAMED == 12
    assert tree_differences({"days": [{"why": "a"}]}, {"days": [{"why": "b"}]})[0].worded
    assert tree_differences(1, 2)[0].path == ""
