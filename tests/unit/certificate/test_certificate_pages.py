from dataclasses import replace
from io import BytesIO
from pathlib import Path

import certificate_scenes as scenes
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from pypdf import PdfReader

from monitor.certificate import Attested, draft, issue
from monitor.certificate.pages.printable import LONGEST, printable
from monitor.certificate.pages.sheet_wording import Wording, length, share
from monitor.certificate.pages.typesetting import shaping_texts, typeset
from monitor.model.errors import UnavailableError
from monitor.model.times import HOUR_MS
from monitor.proof.holdset import HoldBasis
from monitor.proof.rules import load_rule, rule_text

PROGRAM = Path(__file__).parents[3] / "monitor"


def text_of(pdf):
    return " ".join(" ".join(page.extract_text() for page in PdfReader(BytesIO(pdf)).pages).split())


def pages(case):
    return text_of(draft(case, scenes.ISSUED, "ab" * 32, scenes.CSV))


def test_the_same_case_and_time_give_the_same_bytes():
    one, other = (draft(scenes.small(), scenes.ISSUED, "ab" * 32, scenes.CSV) for _ in range(2))
    assert one == other
    assert draft(scenes.small(), scenes.ISSUED + 1000, "ab" * 32, scenes.CSV) != one


def test_it_says_the_verdict_first_and_all_that_was_asked(met):
    shown = text_of(met)
    assert shown.startswith(
        "Self-declared record of time above temperature MET By its probes this batch was at 131 °F (55 °C)"
    )
    for words in (
        "Tern Hollow allotments",
        "p1-2026-03-05",
        "coffee grounds 20 kg",
        "21 CFR 112.54(b)(2)",
        "Read strictly, as one unbroken stretch",
        "What else the rule asks",
        "not examined",
        "Signature",
        "Day by day",
        "Gaps None",
        "No calibration is stated",
        "Work, as it was logged",
        "Lethality, for information",
        "It is not a permit",
        "Local codes",
        "spores",
        "heaptender verify FILE",
        "Page 1 of",
    ):
        assert words in shown, words


def test_every_page_bears_the_record_s_number(met):
    import json

    from monitor.certificate.checking.container import open_container

    number = json.loads(open_container(met, scenes.place(met)).record)["id"]
    found = PdfReader(BytesIO(met)).pages
    assert all(f"Record {number}" in page.extract_text() for page in found)
    assert f"Page {len(found)} of {len(found)}" in found[-1].extract_text()


def test_not_met_and_not_proven_say_so():
    assert "NOT MET By its probes this batch was not at 55 °C (131 °F)" in pages(scenes.not_met())
    shown = pages(scenes.not_proven())
    assert "NOT PROVEN The rule would be met if the time for which no reading counts" in shown
    assert "stretch in which the temperature is not proven" in shown


def test_hand_readings_say_in_plain_words_what_is_assumed():
    shown = pages(scenes.by_hand())
    assert "Between two rounds at most 26 h 00 min apart it is assumed to run" in shown
    assert "For information only" in shown
    confirmed = scenes.ruled(
        "backyard-130f-3d",
        probes=scenes.small().probes,
        max_gap_ms=3 * HOUR_MS,
        confirmed=Attested(by="Ann Example", at=scenes.ISSUED),
    )
    shown = pages(confirmed)
    assert "Ann Example confirmed the figures of this rule" in shown
    assert "For information only" not in shown
    assert "it was not measured" in shown


def test_probes_taken_out_and_smoothing_show_both_verdicts():
    cold = scenes.probe("p1-z", scenes.course(24, seed=3, peak=40_000), retired_by="Ann Example")
    case = scenes.case(probes=(*scenes.small().probes, cold), smoothing_ms=HOUR_MS)
    shown = pages(case)
    assert "Probe p1-z was taken out before the end. Without any of its readings the verdict is: met." in shown
    assert "Without any smoothing it is: not met." in shown


def test_what_the_record_does_not_support_is_a_section_where_there_is_something():
    assert "What the record does not support" not in pages(scenes.small())
    shown = pages(replace(scenes.small(), remarks=("A part of it went to Bay 2.", "Another part lies in Bay 3.")))
    assert "What the record does not support A part of it went to Bay 2. Another part lies in Bay 3." in shown


@pytest.mark.parametrize(
    ("rule", "basis", "words"),
    [
        ("us-112-54-turned", HoldBasis.COLDEST, "2, judged by the coldest Rule"),
        ("us-112-54-turned", HoldBasis.MEAN, "2, judged by their mean Rule"),
        ("us-112-54-turned", HoldBasis.EACH, "2, judged by each by itself, the worst counting Rule"),
        ("us-205-203-windrow", HoldBasis.COLDEST, "2, judged by the coldest, and its upper limit by the hottest Rule"),
    ],
)
def test_it_says_how_several_probes_are_judged(rule, basis, words):
    ruled = replace(scenes.small(), rule=load_rule(rule), rule_text=rule_text(rule))
    assert words in pages(replace(ruled, basis=basis))


@pytest.mark.parametrize(
    ("rule", "words"),
    [
        ("us-112-54-turned", "Days are counted as 24 h each, which by the rule's text need not follow one another."),
        (
            "us-205-203-windrow",
            "must follow one another, since the rule's text does not say that they need not; if they need",
        ),
    ],
)
def test_it_says_how_days_are_read(rule, words):
    shown = pages(replace(scenes.small(), rule=load_rule(rule), rule_text=rule_text(rule)))
    assert words in shown.replace("’", "'")


def test_long_and_hostile_texts_do_no_harm(keys):
    pdf = issue(scenes.long_and_hostile(), scenes.ISSUED, scenes.key(keys), scenes.CSV)
    shown = text_of(pdf)
    assert "#strong[no] *b* _i_ $x$" in shown
    assert "[U+202E]" in shown
    assert len(PdfReader(BytesIO(pdf)).pages) < 40


@settings(max_examples=300)
@given(st.text(max_size=2000))
def test_printable_text_holds_only_letters_that_can_be_drawn(text):
    shown = printable(text)
    assert len(shown) <= 12 * LONGEST
    assert all(len(word) <= 24 for word in shown.replace("\u200b", " ").replace("-", " ").split())
    assert not any(sign in shown for sign in "\n\r\t\x00\u202e\u2066\ufeff")


def test_all_letters_that_count_as_drawable_are_drawn():
    signs = [chr(code) for code in range(0x20, 0x2300) if printable(f"x{chr(code)}x") == f"x{chr(code)}x"]
    assert len(signs) > 1300
    page = (
        '#set document(date: datetime(year: 2026, month: 1, day: 1), title: "x")\n#set text(font: "Libertinus Serif")\n'
        '#for weight in ("regular", "bold") { text(weight: weight, json("sheet.json")) }'
    )
    import json

    assert typeset({"main.typ": page.encode(), "sheet.json": json.dumps(" ".join(signs)).encode()})


def test_a_page_that_cannot_be_set_is_a_sentence():
    with pytest.raises(UnavailableError, match="could not be set"):
        typeset({"main.typ": b"#panic()"})


@settings(max_examples=12)
@given(st.text(max_size=60), st.text(max_size=60))
def test_any_text_can_be_set(site, note):
    typeset_case = scenes.case(site=site, feedstocks=note, remarks=(note,), probes=scenes.by_hand().probes, work=())
    assert draft(typeset_case, scenes.ISSUED, "ab" * 32, scenes.CSV).startswith(b"%PDF")


def test_words_for_numbers_never_round_up():
    assert length(15 * 24 * HOUR_MS - 1) == "359 h 59 min"
    assert length(59_999) == "under 1 min"
    assert share(999) == "99 %"
    assert share(1000) == "100 %"


def test_a_zone_that_is_not_known_here_is_utc():
    wording = Wording.of(scenes.case(time_zone="Mars/Olympus", temperature_unit="K"))
    assert wording.when(scenes.START) == "2026-03-05 09:00"
    assert wording.both(55_000) == "55 °C (131 °F)"
    assert wording.both(76_667) == "76.7 °C (170 °F)"


def test_an_entry_made_more_than_a_day_after_the_fact_says_so():
    case = scenes.small()
    late = replace(case.work[0], entered=case.work[0].work.time + 50 * 3_600_000)
    punctual = replace(case.work[-1], entered=case.work[-1].work.time + 24 * 3_600_000)
    shown = pages(replace(case, work=(late, *case.work[1:-1], punctual)))
    assert shown.count("after it was done") == 1
    assert "2 days after it was done" in shown


def test_the_layout_hangs_on_every_program_file_that_shapes_the_pages():
    names = [name for name, _ in shaping_texts()]
    wanted = {
        f"monitor.{package}/{file.relative_to(PROGRAM / package).as_posix()}"
        for package in ("certificate", "drawing", "proof", "model")
        for file in (PROGRAM / package).rglob("*.py")
    }
    assert wanted <= set(names)
    assert "monitor.proof/verdict/evaluate.py" in names
    assert len(set(names)) == len(names)
