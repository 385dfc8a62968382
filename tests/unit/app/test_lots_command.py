"""`stock` and `lots`: from a delivery to the people who have something of it, and back, as a keeper types it."""

import json
import re
import subprocess
import sys
import time

import pytest
from code_reader import text_of_code
from freezegun import freeze_time
from typed_command import ENTRIES, call, typed, yard_of

from monitor.material import tracing
from monitor.model.times import parse_time
from monitor.page import load_key
from monitor.page.visitors.bag_links import read_bag

YARD = ENTRIES.replace("built = 2026-02-20T09:00:00Z\n", "") + (
    '[containers.bag]\nvolume = "100 L"\n[containers.barrow]\nvolume = "85 L"\ntare = "14 kg"\n'
    'full = { "stable litter" = ["54 kg", "56 kg"] }\n[lots]\ntests = ["Bean test"]\n'
)
yard = yard_of(YARD)


def story(yard, *entries):
    for words in entries:
        call(yard, "log", *words, "--again")


def told(yard, *words, code=0):
    return json.loads(call(yard, *words, "--json", code=code))


DELIVERED = (
    ("delivery", "stable litter", "4 barrows", "--from", "the stable", "--risk", "wormer", "--at", "9 h ago"),
    ("delivery", "leaves", "12 bags", "--from", "the park", "--at", "8 h ago"),
    ("built", "p1", "3 bags of leaves and 2 barrows of stable litter", "--at", "7 h ago"),
)
CASTINGS = (
    *DELIVERED,
    ("split", "p1", "--to", "b1", "--at", "6 h ago"),
    ("fed", "b1", "4 kg", "--what", "coffee grounds", "--at", "5 h ago"),
    ("harvested", "b1", "20 kg", "--moisture", "75", "--at", "4 h ago"),
    ("screened", "b1", "--fines", "9 kg", "--overs", "2 kg", "--moisture", "45", "--at", "3 h ago"),
)


def lot_of(yard):
    call(yard, "lots", "make", "h6/fines")
    return told(yard, "lots")[0]["lot"]


def test_three_bags_and_two_barrows_are_a_heap_by_one_command(yard):
    story(yard, *DELIVERED[:2])
    said = call(yard, "log", *DELIVERED[2])
    assert "Bay 1 built of 3 bags of leaves, 2 barrows of stable litter" in said


def test_stock_is_what_came_in_less_what_was_used_and_what_rots_stands_first(yard):
    story(yard, *DELIVERED)
    litter, leaves = told(yard, "stock")
    assert (litter["material"], litter["measured_kg"], litter["estimated_kg"], litter["spoils"]) == (
        "stable litter", 82.0, 0.0, True
    )  # fmt: skip
    assert litter["deliveries"][0] | {"time": ""} == {
        "id": "d1", "time": "", "left_kg": 82.0, "measured": True, "risks": ["wormer"],
        "risks_asked": True, "risks_said_by": "",
    }  # fmt: skip
    assert (leaves["material"], leaves["measured_kg"], leaves["spoils"]) == ("leaves", 0.0, False)
    words = call(yard, "stock").splitlines()
    assert words[0] == "stable litter: 181 lb, use it first: it rots"
    assert words[1] == "    d1: 181 lb from the stable, today, risk: wormer"
    assert words[2].startswith("leaves: about ")
    assert words[2].endswith(" lb, estimated")


def test_an_empty_stock_says_how_to_begin(yard):
    call(yard, "log", "turned", "p1", "--again")
    assert 'heaptender log delivery "stable litter"' in call(yard, "stock")
    assert "heaptender lots make h31" in call(yard, "lots")
    assert told(yard, "stock") == told(yard, "lots") == []


def test_more_used_than_came_in_is_said_until_it_is_counted(yard):
    story(yard, *DELIVERED[:2], ("built", "p1", "900 lb of stable litter", "--at", "7 h ago"))
    assert "538 lb more was used than came in by the record" in call(yard, "stock")
    story(yard, ("counted", "stable litter", "1 barrow"))
    assert "more was used" not in call(yard, "stock")
    assert told(yard, "stock")[0]["measured_kg"] == 41.0


def test_a_use_without_an_amount_is_said(yard):
    story(yard, *DELIVERED[:2], ("built", "p1", "--what", "leaves", "--at", "7 h ago"))
    assert "used once without an amount since it was last counted" in call(yard, "stock")


def test_a_lot_is_traced_to_its_deliveries(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    assert lot.startswith("lot-b1-2")
    sheet = told(yard, "lots", "trace", lot)
    assert {one["id"]: one["certain"] for one in sheet["inputs"] if one["kind"] in ("delivery", "unrecorded")} == {
        "d1": False, "d2": False, "coffee grounds": False,
    }  # fmt: skip
    assert {one["id"]: one["heat_status"] for one in sheet["inputs"]}["d1"] == "raw"
    assert next(one for one in sheet["inputs"] if one["id"] == "h6/fines")["dry_kg"] == 4.95
    assert (sheet["treated"], sheet["status"], sheet["held"], sheet["left_kg"]) == (
        "nothing", "held back", ["Bean test is not in"], 9.0,
    )  # fmt: skip
    words = call(yard, "lots", "trace", lot)
    assert "It contains:\n  fraction h6/fines" in words
    assert "d1: stable litter from the stable, not heated, risk: wormer" in words


def test_a_lot_that_is_held_back_or_carries_a_risk_is_asked_about(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    asked = call(yard, "lots", "give", lot, "5 lb", "--to", "a school", code=1)
    assert f"{lot} is held back: Bean test is not in. It carries a risk: wormer by d1." in asked
    call(yard, "lots", "test", lot, "bean test", "failed")
    assert "held back: Bean test was not passed" in call(yard, "lots", "give", lot, "5 lb", "--to", "a school", code=1)
    call(yard, "lots", "test", lot, "bean test", "passed")
    asked = call(yard, "lots", "give", lot, "50 lb", "--to", "a school", code=1)
    assert "held back" not in asked
    assert "Only 19.8 lb of it is left." in asked
    said = call(yard, "lots", "give", lot, "5 lb", "--to", "a school", "--price", "12 USD", "--again")
    assert f"given out: 5 lb of {lot} to a school for 12 USD" in said
    sheet = told(yard, "lots", "trace", lot)
    assert (round(sheet["left_kg"], 3), [one["to"] for one in sheet["given"]]) == (6.732, ["a school"])


def test_a_bad_delivery_leads_to_the_people_who_have_something_of_it(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    for who in ("a school", "Ben Example"):
        call(yard, "lots", "give", lot, "2 kg", "--to", who, "--again")
    said = call(yard, "lots", "recall", "d1", code=1)
    assert "Tell Ben Example, a school." in said
    assert f"{lot} may have some of it" in said
    found = told(yard, "lots", "recall", "d1", code=1)
    assert [(one["lot"], one["left_kg"], [got["to"] for got in one["given"]]) for one in found["lots"]] == [
        (lot, 5.0, ["a school", "Ben Example"])
    ]
    assert told(yard, "lots", "recall", "Wall bin", code=1)["lots"][0]["certain"] is True
    assert told(yard, "lots", "recall", "b1", "--since", "1 h ago") == {"lots": []}
    assert "No lot has anything of h6/overs" in call(yard, "lots", "recall", "h6/overs")


def test_an_entry_taken_back_leaves_all_as_it_was(yard):
    story(yard, *CASTINGS)
    before = told(yard, "stock"), told(yard, "lots")
    lot_of(yard)
    call(yard, "log", "undo", "8")
    story(yard, ("fed", "b1", "9 kg", "--what", "leaves", "--at", "3 h ago"))
    assert told(yard, "stock") != before[0]
    call(yard, "log", "undo", "9")
    assert (told(yard, "stock"), told(yard, "lots")) == before


def test_a_lot_made_again_the_same_day_has_another_name(yard):
    story(yard, *CASTINGS)
    first = lot_of(yard)
    call(yard, "lots", "make", "h6/overs")
    assert [one["lot"] for one in told(yard, "lots")] == [first, f"{first}-2"]


def test_the_label_says_what_the_record_says_and_how_to_open_the_bag(yard):
    story(yard, *CASTINGS)
    said = call(yard, "lots", "label", lot_of(yard))
    assert said.startswith("Worm castings, lot-b1-2")
    assert "Not heat treated, as far as anything is recorded." in said
    assert all(words in said for words in ("Legionella", "evidence and no permit"))
    assert "Weed killer can outlast a heap" in said, "no bean test is in"
    lot = said.split()[2]
    call(yard, "lots", "test", lot, "bean test", "passed")
    said = call(yard, "lots", "label", lot)
    assert "Bean test against weed killer: passed, " in said
    assert "Weed killer can" not in said


@pytest.mark.parametrize(
    ("words", "wrong"),
    [
        (("make", "h99"), 'There is no harvest or heap "h99"; the newest are h6/overs, h6/fines, h6.'),
        (("make", "d1"), "d1 is a delivery, which becomes no lot by itself"),
        (("make", "h6", "p1", "--amount", "3 kg"), "--amount goes with a single source"),
        (("trace", "lot-x"), 'There is no lot "lot-x"; there is none yet'),
        (("recall", "nothing"), 'Nothing in the record is called "nothing"'),
        (("give", "lot-x", "3 kg", "--to", "Ann"), 'There is no lot "lot-x"'),
    ],
)
def test_a_wrong_name_is_refused_with_what_would_be_right(yard, words, wrong):
    story(yard, *CASTINGS)
    assert wrong in call(yard, "lots", *words, code=2)


def test_a_heap_named_by_its_batch_becomes_a_lot_with_compost_on_its_label(yard):
    story(yard, *DELIVERED)
    assert told(yard, "lots", "recall", "d1") == {"lots": []}
    asked = call(yard, "lots", "make", "Bay 1", "--amount", "100 lb", code=1)
    assert "us-112-54-turned (no reading of it is in the record). Its label will not say heat treated." in asked
    call(yard, "lots", "make", "Bay 1", "--amount", "100 lb", "--again")
    sheet = told(yard, "lots")[0]
    assert (sheet["left_kg"], sheet["inputs"][0]["kind"]) == (45.359, "batch")
    assert call(yard, "lots", "label", sheet["lot"]).startswith("Compost, lot-p1-2")


def test_a_lot_of_a_bed_that_may_have_been_full_says_so_until_somebody_says_when_it_was_begun(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    assert "  what lay in b1 before the record, nobody knows whether it was heated" in call(yard, "lots", "trace", lot)
    assert {"earlier"} == {one["kind"] for one in told(yard, "lots", "trace", lot)["inputs"] if one["id"] == "b1"}
    file = yard / "heaptender.toml"
    file.write_text(
        file.read_text().replace("[bins.b1]\n", f"[bins.b1]\nbegun = {time.strftime('%Y-%m-%d', time.gmtime())}\n")
    )
    assert "before the record" not in call(yard, "lots", "trace", lot)


def test_log_points_to_the_command_that_writes_lots_down(yard):
    assert "`heaptender lots make`" in call(yard, "log", "lot-made", "yard", code=2)
    assert "heaptender lots" in typed("lots", "--help")


REACHED = '[page]\nlink = "http://yard.example:8460"\n'


def test_a_label_is_drawn_with_a_code_for_its_sheet(yard, tmp_path):
    (yard / "heaptender.toml").write_text(YARD + REACHED)
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    assert f"All that went in: http://yard.example:8460/lots/{lot}" in call(yard, "lots", "label", lot)
    out = tmp_path / "label.svg"
    assert f"{out}: the label of {lot}, 96 by 66 mm." in call(yard, "lots", "label", lot, "--svg", out)
    assert text_of_code(out.read_text()) == f"http://yard.example:8460/lots/{lot}"
    call(yard, "lots", "label", lot, "--svg", out, "--for-all")
    address = text_of_code(out.read_text())
    assert address.startswith("http://yard.example:8460/bag/")
    assert read_bag(load_key(yard / "data"), address.rsplit("/", 1)[1], int(time.time() * 1000)) == lot
    assert "cannot be written" in call(yard, "lots", "label", lot, "--svg", tmp_path / "none" / "label.svg", code=2)


def test_a_label_without_an_address_says_the_name_and_how_to_set_one(yard, tmp_path):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    said = call(yard, "lots", "label", lot, "--svg", tmp_path / "label.svg")
    assert "It has no code, since no address is set by which phones reach the page: set page.link" in said
    assert text_of_code((tmp_path / "label.svg").read_text()) is None
    assert f"Tell the yard this name to hear all that went in: {lot}." in call(yard, "lots", "label", lot)


def test_what_others_name_is_not_taken_back_without_a_question(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    call(yard, "lots", "test", lot, "bean test", "passed")
    asked = call(yard, "log", "undo", "6", code=1)
    assert "Entry 8 names h6, which would no longer be in the record" in asked
    assert f"Entry 9 names {lot}, which" in call(yard, "log", "undo", "8", code=1)
    assert told(yard, "lots")[0]["lot"] == lot, "a question takes nothing back"
    for number in ("9", "8", "6"):
        assert f"{number} taken back" in call(yard, "log", "undo", number)


def test_a_delivery_that_a_heap_names_is_asked_about_and_again_takes_it_back(yard):
    story(yard, DELIVERED[0], ("built", "p1", "2 barrows of d1", "--at", "7 h ago"),
          ("fed", "b1", "1 kg", "--what", "d1", "--at", "6 h ago"))  # fmt: skip
    assert "Entries 2 and 3 name d1, which" in call(yard, "log", "undo", "1", code=1)
    assert "1 taken back" in call(yard, "log", "undo", "1", "--again")


def test_a_second_lot_of_all_that_is_left_is_asked_about(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    assert f"{lot} has all that was left of h6/fines already" in call(yard, "lots", "make", "h6/fines", code=1)
    assert len(told(yard, "lots")) == 1
    call(yard, "lots", "make", "h6/overs")
    call(yard, "lots", "make", "h6/fines", "--again")
    assert len(told(yard, "lots")) == 3


def test_a_test_under_nearly_the_name_that_the_yard_asks_for_is_asked_about(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    asked = call(yard, "lots", "test", lot, "beans tests", "passed", code=1)
    assert 'The yard asks for "Bean test"; under another name' in asked
    call(yard, "lots", "test", lot, "germination", "passed")
    call(yard, "lots", "test", lot, "bean  TEST", "passed")
    call(yard, "lots", "test", lot, "beans tests", "passed", "--again")


def test_worms_from_a_breeder_are_no_missing_delivery_and_not_the_bedding_once_more(yard):
    call(yard, "log", "bedded", "b1", "20 kg", "--what", "old leaves")
    call(yard, "log", "bedded", "b1", "1 kg", "--what", "worms", "--from", "a breeder")
    assert "was bedded" in call(yard, "log", "bedded", "b1", "1 kg", "--what", "Worms", code=1)
    assert [row["material"] for row in told(yard, "stock")] == ["old leaves"]


def imported_by(yard, *words):
    """Return the modules that a process of its own has loaded once it has answered."""
    words = [*map(str, words), "--config", str(yard / "heaptender.toml")]
    told = (
        "import sys, atexit\n"
        "atexit.register(lambda: print('\\n'.join(sys.modules), file=sys.stderr))\n"
        f"sys.argv = {['heaptender', *words]!r}\n"
        "from monitor.app.command import main\n"
        "main()"
    )
    return set(subprocess.run([sys.executable, "-c", told], capture_output=True, text=True).stderr.split())


@pytest.mark.parametrize("words", [("stock",), ("lots", "recall", "d1")])
def test_who_has_some_of_a_delivery_waits_for_no_part_of_the_program_that_it_does_not_need(yard, words):
    story(yard, *CASTINGS)
    needless = {"monitor.certificate", "monitor.drawing", "monitor.page", "pydantic_settings", "asyncio", "highspy"}
    loaded = imported_by(yard, *words)
    assert {"monitor.material", "monitor.engine"} <= loaded, "the log is read, and the engine says where heaps lay"
    assert sorted(loaded & needless) == []
    loaded = imported_by(yard, *words)
    assert "monitor.material" in loaded
    assert sorted(loaded & (needless | {"monitor.engine", "monitor.notices", "numpy"})) == [], "it is kept"


def test_a_material_that_never_came_in_as_a_delivery_is_no_missing_stock(yard):
    story(yard, *DELIVERED[:2], ("fed", "b1", "3 lb", "--what", "scraps"), ("fed", "b1", "--what", "scraps", "--again"))
    words = call(yard, "stock")
    assert "scraps: 3 lb used, never logged as a delivery\n" in words
    assert "more was used" not in words
    assert "without an amount" not in words
    scraps = next(one for one in told(yard, "stock") if one["material"] == "scraps")
    assert (scraps["delivered"], scraps["measured_kg"]) == (False, 0.0)
    assert all(one["delivered"] for one in told(yard, "stock") if one is not scraps and one["material"] != "scraps")


def waits(yard):
    found = told(yard, "diary")
    return {row["id"]: row["why"] for row in found if row["what"] in ("mix", "put back", "screen", "test a lot")}


def test_the_diary_lists_what_waits_until_it_went_somewhere(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    assert {one: why.partition(":")[0] for one, why in waits(yard).items() if not one.startswith("screen")} == {
        "mix/yard/d1": "stable litter (d1) rots while it waits",
        "put back/b1/h6/overs": "the overs (h6/overs) wait since they were screened off; they go back into a bed, with the "
        "worms in them",
        f"test a lot/yard/{lot}": "held back until Bean test is in",
    }
    call(yard, "lots", "test", lot, "bean test", "passed")
    story(
        yard,
        ("bedded", "b1", "2 kg", "--what", "h6/overs"),
        ("counted", "stable litter", "0 kg"),
        ("harvested", "b1", "5 kg", "--at", "1 h ago"),
    )
    assert {one for one in waits(yard) if "h6" not in one} == {"screen/b1/h12/first"}
    assert "h12 lies there since, neither screened nor made a lot" in waits(yard)["screen/b1/h12/first"]


def test_a_yard_that_never_screens_is_not_asked_to(yard):
    story(yard, ("harvested", "b1", "20 kg", "--at", "4 h ago"))
    assert waits(yard) == {}


def test_a_delivery_whose_material_went_on_by_its_name_is_not_taken_back_without_a_question(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    asked = call(yard, "log", "undo", "1", code=1)
    assert "Entry 3 used stable litter after d1 came in. Its risk of wormer would be gone from every heap, bed" in asked
    assert "A recall of d1 would name nobody any more. Take it back all the same?" in asked
    assert "by d1" in call(yard, "lots", "give", lot, "1 kg", "--to", "Ann", code=1), "the risk still stands"
    assert "A recall of d2 would name" in (said := call(yard, "log", "undo", "2", code=1))
    assert "risk" not in said, "nobody named one"
    assert "1 taken back" in call(yard, "log", "undo", "1", "--again")


def test_a_risk_is_not_taken_from_a_delivery_that_was_used_without_a_question(yard):
    story(yard, *DELIVERED)
    asked = call(yard, "log", "correct", "1", "--risk", "none", code=1)
    assert "Its risk of wormer would be gone from every heap" in asked
    assert "recall" not in asked, "the delivery itself stays"
    assert "A recall of d1 would name nobody" in call(yard, "log", "correct", "1", "--what", "hay", code=1)
    assert "1 put right" in call(yard, "log", "correct", "1", "--risk", "wormer,herbicide"), "more risk loses nothing"
    assert "1 put right" in call(yard, "log", "correct", "1", "--amount", "5 barrows")


def test_a_delivery_that_nobody_has_used_since_is_taken_back_at_once(yard):
    story(yard, *DELIVERED, ("delivery", "leaves", "3 bags", "--at", "1 h ago"), ("counted", "leaves", "9 bags"))
    assert "4 taken back" in call(yard, "log", "undo", "4")


def test_a_screening_whose_fines_are_a_lot_is_not_taken_back_without_a_question(yard):
    story(yard, *CASTINGS)
    call(yard, "log", "undo", "7")
    story(yard, CASTINGS[-1])
    lot_of(yard)
    asked = call(yard, "log", "undo", "8", code=1)
    assert "Entry 9 names h6/, which" not in asked
    assert "Entry 9 names parts of h6, which would no longer be in the record" in asked
    assert "8 taken back" in call(yard, "log", "undo", "8", "--again")


def test_the_first_screening_is_named_by_a_lot_of_the_second(yard):
    story(yard, *CASTINGS, ("screened", "b1", "8 kg", "--what", "h6/fines", "--fines", "7 kg", "--at", "2 h ago"))
    call(yard, "lots", "make", "h6/fines/fines")
    assert "Entries 8 and 9 name parts of h6, which" in call(yard, "log", "undo", "7", code=1)
    assert "Entry 9 names parts of h6/fines, which" in call(yard, "log", "undo", "8", code=1)


def test_a_gift_written_down_by_two_people_is_asked_about_even_if_the_risk_was_answered(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    gift = ("lots", "give", lot, "2 kg", "--to", "the school garden")
    call(yard, *gift, "--again")
    asked = call(yard, "lots", "give", lot, "2 kg", "--to", "The  School garden", "--by", "Bob", code=1)
    assert "Entry 9 already says that the school garden got 2 kg of it" in asked
    assert "already says" not in call(yard, "lots", "give", lot, "2 kg", "--to", "allotment 3", code=1)


def test_a_gift_before_the_lot_was_made_is_asked_about(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    asked = call(yard, "lots", "give", lot, "2 kg", "--to", "the school garden", "--at", "2 d ago", code=1)
    assert f"{lot} was made" in asked
    assert "this is earlier. Is the day right?" in asked


def test_a_lot_of_what_a_screen_left_or_of_nothing_is_asked_about(yard):
    story(yard, *CASTINGS)
    asked = call(yard, "lots", "make", "h6", code=1)
    assert "h6 was screened, and what passed then is h6/fines; by the record nothing is left of it." in asked
    story(yard, ("bedded", "b1", "9 kg", "--what", "h6/fines"))
    assert "By the record nothing is left of h6/fines." in call(yard, "lots", "make", "h6/fines", code=1)
    nothing = call(yard, "lots", "make", "h6/fines", "--amount", "1 kg", code=1)
    assert "By the record nothing is left of h6/fines. Is it the right one?" in nothing
    assert "lot made" in call(yard, "lots", "make", "h6/fines", "--amount", "1 kg", "--again")


def test_a_mix_is_put_right_as_a_whole(yard):
    story(yard, *DELIVERED)
    wrong = call(yard, "log", "correct", "3", "--amount", "5 barrows", code=2)
    assert 'put it right as a whole, such as --parts "3 bags of leaves, 2 barrows of stable litter".' in wrong
    assert "put it right as a whole" in call(yard, "log", "correct", "3", "--what", "leaves", code=2)
    said = call(yard, "log", "correct", "3", "--parts", "3 bags of leaves and 1 barrow of stable litter")
    assert "3 bags of leaves, 1 barrow of stable litter" in said


OF_2025 = (
    ("delivery", "stable litter", "4 barrows", "--from", "the stable", "--at", "2025-10-01 10:00"),
    ("built", "p1", "2 barrows of stable litter", "--at", "2025-10-02 10:00"),
    ("split", "p1", "--to", "b1", "--at", "2025-10-20 10:00"),
    ("harvested", "b1", "20 kg", "--moisture", "75", "--at", "2025-11-01 10:00"),
    ("screened", "b1", "--fines", "9 kg", "--overs", "2 kg", "--moisture", "45", "--at", "2025-11-02 10:00"),
)


def test_days_of_another_year_say_it_in_every_list(yard, monkeypatch):
    monkeypatch.setattr("time.time_ns", lambda: parse_time("2026-08-01T12:00:00Z") * 1_000_000)
    story(yard, *OF_2025)
    call(yard, "lots", "make", "h4/fines", "--at", "2025-11-05 10:00", "--again")
    lot = "lot-b1-2025-11-05"
    call(yard, "lots", "test", lot, "bean test", "passed", "--at", "2026-01-05 10:00", "--again")
    call(yard, "lots", "give", lot, "2 kg", "--to", "Ann", "--at", "2025-12-31 10:00", "--again")
    assert "made Wed 5 Nov 2025 10:00; " in call(yard, "lots")
    trace = call(yard, "lots", "trace", lot)
    assert "made Wed 5 Nov 2025 10:00: " in trace
    # This year's days go without.
    assert "Bean test: passed, Mon 5 Jan 10:00" in trace.replace("bean", "Bean")
    assert "Ann: 2 kg, Wed 31 Dec 2025 10:00" in trace
    assert "Ann: 2 kg, Wed 31 Dec 2025 10:00" in call(yard, "lots", "recall", "d1", code=1)
    assert "Screened on Sun 2 Nov 2025" in call(yard, "harvest")
    listed = call(yard, "log", "list", "--since", "2025-01-01")
    assert "Wed 1 Oct 2025 10:00  " in listed
    assert "Mon 5 Jan 10:00  " in listed


def test_the_list_in_words_works_out_no_shares_and_says_the_same_of_heat(yard, monkeypatch):
    story(yard, *CASTINGS)
    lot_of(yard)
    asked = []
    whole = tracing.dry_shares
    monkeypatch.setattr(tracing, "dry_shares", lambda *given: asked.append(given) or whole(*given))
    words = told(yard, "lots")[0]["words"]
    assert len(asked) == 1
    assert f"{words[:1].lower()}{words[1:]}" in call(yard, "lots")
    assert len(asked) == 1


def test_a_lot_of_more_than_there_was_has_no_mass_on_its_label(yard):
    story(yard, *CASTINGS, ("bedded", "b1", "12 kg", "--what", "h6/fines"))
    lot = told(yard, "lots", "make", "h6/fines", "--again")["lot"]
    assert f"{lot}: nobody knows how much is in it: by the record nothing was left to make it of" in call(yard, "lots")
    label = call(yard, "lots", "label", lot)
    assert "in the lot" not in label
    assert "-" not in next(line for line in label.splitlines() if line.startswith("Made"))


def test_more_off_the_screen_than_onto_it_is_asked_about(yard):
    story(yard, *CASTINGS[:-1])
    words = ("log", "screened", "b1", "9 kg", "--overs", "2 kg", "--fines")
    asked = call(yard, *words, "70 kg", code=1)
    assert "More came off the screen (fines 70 kg, overs 2 kg) than went onto it (9 kg)." in asked
    assert "More came off" not in call(yard, *words, "16 lb")


def test_a_risk_that_is_known_only_later_says_how_to_find_who_has_some(yard):
    story(yard, *CASTINGS)
    told_now = call(yard, "log", "correct", "2", "--risk", "herbicide")
    assert "Who may have some of it already: heaptender lots recall d2" in told_now
    assert "recall" not in call(yard, "log", "correct", "2", "--amount", "11 bags")


def test_a_heap_that_never_lay_there_is_asked_about(yard):
    story(yard, *DELIVERED)
    wrong = call(yard, "log", "bedded", "b1", "2 kg", "--what", "p1-2019-01-01", code=1)
    heap = wrong.partition("There was no heap p1-2019-01-01; the newest there is ")[2].partition(". Is the name")[0]
    assert heap.startswith("p1-20")
    assert "bedded" in call(yard, "log", "bedded", "b1", "2 kg", "--what", heap)
    assert "bedded" in call(yard, "log", "bedded", "b1", "2 kg", "--what", "oats-2019-01-01", "--at", "3 h ago")


BY_THE_BAG = (
    ("harvested", "b1", "--at", "4 h ago"),
    ("screened", "b1", "--fines", "20 bags", "--moisture", "45", "--at", "3 h ago"),
)


def bagged(yard):
    (yard / "heaptender.toml").write_text(YARD.replace('tests = ["Bean test"]', "tests = []"))
    story(yard, *BY_THE_BAG)
    return told(yard, "lots", "make", "h1/fines", "--amount", "20 bags")["lot"]


def test_bags_that_nobody_weighed_are_counted_and_no_more_is_given_than_was_made(yard):
    lot = bagged(yard)
    assert "8 bags" in call(yard, "lots", "give", lot, "8 bags", "--to", "a school")
    assert f"{lot}: 12 of 20 bags left" in call(yard, "lots")
    asked = call(yard, "lots", "give", lot, "13 bags", "--to", "a neighbour", code=1)
    assert "Only 12 of 20 bags that were made of it are left." in asked
    call(yard, "lots", "give", lot, "13 bags", "--to", "a neighbour", "--again")
    assert f"{lot}: 1 bags more were given out than made, all given out" in call(yard, "lots")


def test_a_gift_that_nobody_weighed_hides_no_other_that_is_too_much(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    call(yard, "lots", "give", lot, "1 bag", "--to", "a school", "--again")
    assert f"{lot}: at most 19.8 lb of 19.8 lb left: not all gifts were weighed" in call(yard, "lots")
    assert told(yard, "lots")[0]["left_kg"] is None
    assert told(yard, "lots")[0]["left_at_most_kg"] == 9
    assert "At most 19.8 lb of it can be left." in call(yard, "lots", "give", lot, "30 lb", "--to", "Ann", code=1)
    assert "left." not in call(yard, "lots", "give", lot, "12 lb", "--to", "Ann", code=1)
    call(yard, "lots", "give", lot, "12 lb", "--to", "Ann", "--again")
    assert "At most 7.8 lb of it can be left." in call(yard, "lots", "give", lot, "9 lb", "--to", "Bob", code=1)


def test_bags_of_what_is_as_good_as_gone_are_asked_about(yard):
    (yard / "heaptender.toml").write_text(YARD.replace('[containers.bag]\nvolume = "100 L"\n', ""))
    story(yard, *CASTINGS)
    call(yard, "lots", "make", "h6/fines", "--amount", "9 kg")
    asked = call(yard, "lots", "make", "h6/fines", "--amount", "20 bags", code=1)
    assert "By the record as good as nothing is left of h6/fines. Is it the right one?" in asked


def test_what_is_left_of_a_harvest_goes_by_dry_matter(yard):
    """A harvest of 20 kg at 75 % is 5 kg dry; 9 kg and 2 kg off the screen at 45 % are 6.05 kg dry: nothing is left."""
    story(yard, *CASTINGS[:-1])
    assert "44.1 lb, 11 lb dry, are left of h6; this is 44.1 lb, 24.3 lb dry." in call(
        yard, "lots", "make", "h6", "--amount", "20 kg", "--moisture", "45", code=1
    )
    lot = told(yard, "lots", "make", "h6", "--amount", "9 kg", "--moisture", "45")["lot"]
    traced = told(yard, "lots", "trace", lot)["inputs"]
    assert next(one["dry_kg"] for one in traced if one["id"] == "h6") == 4.95
    # It has dried, so of the 11 kg that the scales would have left, 50 g of dry matter are there.
    assert "By the record 0.2 lb, 0.1 lb dry, are left of h6; this is 2.2 lb." in call(
        yard, "lots", "make", "h6", "--amount", "1 kg", code=1
    )


def test_a_heap_whose_rule_is_not_met_becomes_a_lot_only_after_a_question(yard):
    story(yard, *DELIVERED, ("reading", "p1", "150", "--at", "6 h ago"), ("reading", "p1", "150", "--at", "1 h ago"))
    asked = call(yard, "lots", "make", "p1", code=1)
    assert "No rule is met yet by p1-" in asked
    assert "us-112-54-turned (0 of 15 days, 0 of 5 turnings). Its label will not say heat treated." in asked
    assert "No rule" not in call(yard, "lots", "make", "p1", "--again")


def test_a_heap_without_a_rule_becomes_a_lot_without_a_question(yard):
    file = yard / "heaptender.toml"
    file.write_text(file.read_text().replace('rule = "us-112-54-turned"', 'rule = "none"'))
    story(yard, *DELIVERED)
    assert "lot made" in call(yard, "lots", "make", "p1")


def test_after_its_screening_is_taken_back_a_lot_of_the_fines_is_not_all_of_the_harvest(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    call(yard, "log", "undo", "7", "--again")
    assert f"{lot}: nobody knows how much is left" in call(yard, "lots")


def test_nobody_asked_about_risks_is_not_the_same_as_none(yard):
    story(
        yard,
        ("delivery", "straw", "20 kg", "--from", "a farm", "--at", "9 h ago"),
        ("delivery", "leaves", "20 kg", "--from", "the park", "--risk", "none", "--by", "Ann", "--at", "8 h ago"),
        ("delivery", "litter", "20 kg", "--risk", "wormer", "--by", "Bob", "--at", "8 h ago"),
        ("built", "p1", "2 kg of straw and 3 kg of leaves and 4 kg of litter", "--at", "7 h ago"),
    )
    stock = call(yard, "stock")
    for words in ("today, not asked about risks", "today, risk: none, said by Ann", "today, risk: wormer"):
        assert words in stock
    shown = {one["material"]: one["deliveries"][0] for one in told(yard, "stock")}
    assert [(shown[one]["risks"], shown[one]["risks_asked"], shown[one]["risks_said_by"]) for one in shown] == [
        ([], False, ""), ([], True, "Ann"), (["wormer"], True, "Bob"),
    ]  # fmt: skip
    lot = told(yard, "lots", "make", "p1", "--again")["lot"]
    trace = call(yard, "lots", "trace", lot)
    assert "straw from a farm" in trace
    assert "not heated, not asked about risks" in trace
    assert "risk: none, said by Ann" in trace
    inputs = {one["id"]: one for one in told(yard, "lots", "trace", lot)["inputs"]}
    assert [inputs[one]["risks_asked"] for one in ("d1", "d2", "d3")] == [False, True, True]
    assert "risks_asked" not in inputs[next(one for one in inputs if one.startswith("p1-"))]


def test_why_dry_matter_is_not_told_is_said_with_the_entry_that_mends_it(yard):
    story(
        yard,
        ("delivery", "leaves", "90 lb", "--at", "9 h ago"),
        ("bedded", "b1", "40 lb", "--what", "leaves", "--at", "8 h ago"),
        ("fed", "b1", "2 buckets", "--what", "coffee grounds", "--at", "7 h ago"),
        ("harvested", "b1", "20 lb", "--moisture", "75", "--at", "6 h ago"),
    )
    lot = told(yard, "lots", "make", "h4")["lot"]
    trace = call(yard, "lots", "trace", lot)
    assert "nobody knows what lay in b1 before its first entry. If it was empty then, `begun` under [bins.b1]" in trace
    assert "Nobody knows the weight of entry 3: say it with `heaptender log correct 3 --amount`" in trace
    call(yard, "log", "emptied", "b1", "--at", "10 h ago", "--again")
    call(yard, "log", "correct", "3", "--amount", "3 lb")
    trace = call(yard, "lots", "trace", lot)
    assert "obody knows" not in trace
    assert re.search(r"d1: leaves, [0-9.]+ lb dry, not heated", trace)


def test_a_lot_of_fines_says_that_no_screening_weighs_them_any_more(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    assert "no screening in the log" not in call(yard, "lots", "trace", lot)
    call(yard, "log", "undo", "7", "--again")
    trace = call(yard, "lots", "trace", lot)
    assert "It was made of h6/fines, which no screening in the log says to be there: it counts as some of h6" in trace
    assert "(heaptender log undo 8)" in trace


def test_a_harvest_put_right_after_lots_were_made_of_it_is_asked_about_with_the_lots_that_change(yard):
    file = yard / "heaptender.toml"
    file.write_text(file.read_text() + '[bins.b2]\nname = "Shed bin"\n')
    story(yard, *CASTINGS, ("bedded", "b2", "9 kg", "--what", "leaves", "--at", "6 h ago"))
    lot = lot_of(yard)
    asked = call(yard, "log", "correct", "6", "--place", "b2", code=1)
    assert f"{lot} would have, for sure or perhaps, b2-" in asked
    assert "in it, and no longer h6/fines, b1-" in asked
    assert "Is that so?" in asked
    assert "put right" in call(yard, "log", "correct", "6", "--place", "b2", "--again")
    assert "bed b2-" in call(yard, "lots", "trace", lot)


def test_what_changes_the_mass_of_a_lot_says_so_and_what_changes_nothing_of_it_is_not_asked(yard):
    story(yard, *CASTINGS)
    lot = lot_of(yard)
    asked = call(yard, "log", "correct", "7", "--fines", "5 kg", code=1)
    assert f"{lot} would weigh 11 lb instead of 19.8 lb." in asked
    assert "put right" in call(yard, "log", "correct", "5", "--amount", "5 kg")
    assert "put right" in call(yard, "log", "correct", "6", "--note", "after rain")
    assert "taken back" in call(yard, "log", "undo", "5"), "coffee grounds without a delivery are no input with a name"


@freeze_time("2026-12-01T18:00:00Z", tick=True)  # all of one day: a bed is named by the day on which it begins
def test_taking_a_bedding_back_says_what_a_lot_loses_by_it(yard):
    story(yard, *CASTINGS[:3], ("bedded", "b1", "9 kg", "--what", "d2", "--at", "6 h ago"), *CASTINGS[4:])
    lot = lot_of(yard)
    asked = call(yard, "log", "undo", "4", code=1)
    assert f"{lot} would no longer have d2 in it." in asked
    call(yard, "log", "undo", "8")  # the lot itself is taken back without a question about itself


def test_the_page_and_the_command_ask_of_the_same_figures(yard):
    file = yard / "heaptender.toml"
    file.write_text(file.read_text().replace("[bins.b1]\n", '[bins.b1]\nsurface = "32 ft2"\nrim = "16 in"\n'))
    for words, question in (
        (("harvested", "b1", "8000 lb", "--moisture", "74"), "Wall bin holds 2661 lb at most"),
        (("harvested", "b1", "80 lb", "--moisture", "7"), "Was 70 % meant?"),
        (("inspected", "b1", "--depth", "140 in"), "its rim is at 16 in. Was 14 in meant?"),
        (("reading", "b1", "70", "--depth", "30 in"), "Wall bin can be 16 in deep"),
    ):
        assert question in call(yard, "log", *words, code=1)
        assert "Written down" in call(yard, "log", *words, "--again")


def test_an_import_reports_the_same_doubts_with_their_lines(yard):
    story(yard, ("delivery", "leaves", "9 bags", "--at", "2 d ago"))
    rows = [
        f"{time.strftime('%Y-%m-%dT%H:%M:%SZ', time.gmtime(time.time() - 3600 * hours))},{place},{kind},{amount},{unit},{what}"
        for hours, place, kind, amount, unit, what in (
            (30, "yard", "counted", 9, "bag", "leaves"),
            (29, "p2", "built", 30, "bag", "leaves"),
            (28, "yard", "counted", 900, "bag", "leaves"),
        )
    ]
    (yard / "work.csv").write_text("\n".join(["time,place,kind,amount,unit,what", *rows]) + "\n")
    asked = call(yard, "import", "--work", yard / "work.csv", code=1)
    assert "line 3: By the record 9 bags of leaves are left; this takes 30 bag" in asked
    assert "line 4: No more than 9 bags of leaves ever came in, was counted, or can be left; this is 900 bag" in asked
    assert "Taken in" in call(yard, "import", "--work", yard / "work.csv", "--again")


def test_of_many_lots_that_a_correction_touches_the_newest_are_compared_and_the_rest_are_counted(yard):
    straw = ("delivery", "straw", "50 kg", "--at", "6 h ago"), ("fed", "b1", "4 kg", "--what", "d5", "--at", "5 h ago")
    story(yard, *CASTINGS[:4], *straw, CASTINGS[5])
    for count in range(8):
        call(yard, "lots", "make", "h7", "--amount", "2 kg", "--at", f"{count + 1} min ago")
    asked = call(yard, "log", "undo", "6", code=1)
    assert "and 3 more would no longer have d5 in it. 2 older lots may change as well. Is that so?" in asked
    assert "put right" in call(yard, "log", "correct", "6", "--note", "in rain")
