"""What went into a batch, as its certificate states it, and page 1's words where something of it carries a risk."""

import json
from dataclasses import replace

import certificate_scenes as scenes
from certificate_papers import flat, plain

from monitor.certificate import CaseInput, CaseWork
from monitor.certificate.pages.input_pages import inputs_section, risk_words
from monitor.certificate.pages.sheet_wording import Wording
from monitor.certificate.record.plain_forms import INPUTS, WORK
from monitor.model.times import show_time
from monitor.model.work import Work, WorkKind

START = scenes.START
LITTER = CaseInput(
    kind="delivery", id="d14", what="stable litter", supplier="the stable", came=START, until=START + 1, certain=True,
    risks=("herbicide", "wormer"),
)  # fmt: skip
HEAP = CaseInput(kind="batch", id="p2-2026-02-01", until=START + 2, certain=False, heat_status="met")
OTHER = CaseInput(kind="delivery", id="d15", what="straw", until=START, certain=False, risks=("herbicide",))


def stated(case):
    return json.loads(scenes.pages_of(case)[1]["certificate.json"])


def test_inputs_are_stated_as_they_are_and_a_certificate_without_any_has_no_word_of_them():
    case = plain(flat("p1-a", (5, 50.0), (80, 60.0)), inputs=(LITTER, HEAP))
    assert stated(case)["inputs"] == [
        {
            "kind": "delivery", "id": "d14", "what": "stable litter", "supplier": "the stable", "came": show_time(START),
            "until": show_time(START + 1), "certain": True, "heat_status": None, "risks": ["herbicide", "wormer"],
        },
        {
            "kind": "batch", "id": "p2-2026-02-01", "what": "", "supplier": "", "came": None, "until": show_time(START + 2),
            "certain": False, "heat_status": "met", "risks": [],
        },
    ]  # fmt: skip
    assert "inputs" not in stated(replace(case, inputs=()))


def test_page_one_says_each_risk_with_all_that_brought_it():
    case = plain(flat("p1-a", (5, 50.0), (80, 60.0)), inputs=(LITTER, HEAP, OTHER))
    assert risk_words(case) == (
        "By the log as it stood when this was issued, a risk goes with what went into it: herbicide by stable litter d14 "
        "(surely), straw d15 (perhaps); wormer by stable litter d14 (surely). The heat proven here says nothing of that."
    )
    assert risk_words(replace(case, inputs=(HEAP,))) == ""
    assert risk_words(replace(case, inputs=())) == ""


def test_the_section_names_what_where_from_when_and_whether_it_is_in_there():
    earlier = CaseInput(kind="earlier", id="b1", until=START, certain=False)
    leaves = CaseInput(kind="unrecorded", id="leaves", until=START, certain=True)
    case = plain(flat("p1-a", (5, 50.0), (80, 60.0)), inputs=(LITTER, HEAP, leaves, earlier))
    wording = Wording.of(case)
    (found,) = inputs_section(case, wording)
    rows = found["table"]["rows"]
    assert rows[0] == ["stable litter (d14)", "the stable", wording.when(START), "surely", "–", "herbicide, wormer"]
    assert rows[1] == ["heap p2-2026-02-01", "–", wording.when(START + 2), "perhaps", "had met its rule", "–"]
    assert [row[0] for row in rows[2:]] == [
        "leaves, of which no delivery is written down", "what lay in b1 before the record",
    ]  # fmt: skip
    assert list(inputs_section(replace(case, inputs=()), wording)) == []


def test_all_that_the_pages_print_of_work_is_read_back():
    plainly = Work(time=START, place="p1", kind=WorkKind.BUILT, amount="4", unit="barrow", what="straw")
    told = replace(plainly, parts="straw=4 kg", moisture="60", fines="1 kg", middle="2 kg", overs="3 kg", depth="2 in")
    for work in (plainly, told):
        logged = CaseWork(work=work, entered=START)
        assert WORK.read(WORK.write(logged)) == logged
    assert not {"parts", "fines"} & WORK.write(CaseWork(work=plainly, entered=START)).keys()


def test_no_risk_and_nobody_asked_are_told_apart_and_read_back():
    asked = replace(OTHER, risks=(), looked_for="none, said by Ann")
    silent = replace(OTHER, risks=(), looked_for="not asked about risks")
    before = replace(OTHER, risks=())
    case = plain(flat("p1-a", (5, 50.0), (80, 60.0)), inputs=(asked, silent, before))
    (found,) = inputs_section(case, Wording.of(case))
    assert [row[-1] for row in found["table"]["rows"]] == ["none, said by Ann", "not asked about risks", "–"]
    assert INPUTS.read(json.loads(json.dumps(INPUTS.write(case.inputs)))) == case.inputs
    assert "risks_looked_for" not in INPUTS.write((before,))[0]
