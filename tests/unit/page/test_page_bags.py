"""Labels of bags, and the sheet that a bag's code opens: from a bag to all that went into it in one scan."""

import html
import re

import pytest
from code_reader import text_of_code
from page_visitor import browser
from page_yard_for_tests import NOW, page_of
from test_page_lots import NAMES, PRICE, RECEIVER, castings, made, words

from monitor.model.events import EventKind
from monitor.model.times import DAY_MS
from monitor.page.visitors.bag_links import BAG_LASTS_MS, bag_address, read_bag

__all__ = ["castings"]

LOT = "lot-b1-2026-07-20"


def svgs(text):
    return re.findall(r"<li[^>]*>(<svg.*?</svg>)</li>", text, re.DOTALL)


def bag_path(keeper):
    """Return the path that the code of a label for everybody opens."""
    drawn = svgs(keeper.get(f"/bags/{LOT}?for=all").text)
    address = text_of_code(drawn[0])
    assert address.startswith("http://yard.example:8460/bag/")
    return address.removeprefix("http://yard.example:8460")


@pytest.fixture
def labelled(castings, open_page):
    """(returns a browser elsewhere, the page, a keeper), with a lot of which somebody got some."""
    elsewhere, page, keeper_in = open_page
    keeper = keeper_in()
    path = made(keeper)
    keeper.send(
        "/do/lots",
        page=path,
        form="give",
        lot=path[6:],
        amount="1",
        measure="kg",
        receiver=RECEIVER,
        price=PRICE,
        again="1",
    )
    return elsewhere, page, keeper


def test_eight_labels_carry_a_code_for_those_who_keep_the_yard(labelled):
    _, _, keeper = labelled
    text = keeper.get(f"/bags/{LOT}").text
    drawn = svgs(text)
    assert len(drawn) == 8
    assert len(set(drawn)) == 1
    assert text_of_code(drawn[0]) == f"http://yard.example:8460/lots/{LOT}"
    for said in ("Worm castings", LOT, "Tern Hollow allotments", "Made 20 Jul 2026; 44.1 lb in the lot", "Legionella"):
        assert said in html.unescape(drawn[0])
    assert "By the record it may carry: herbicide." in drawn[0]
    assert "Others are asked for the password." in words(text)
    assert not [name for name in (*NAMES, "d1") if name in drawn[0]]


def test_one_scan_of_a_bag_shows_all_that_went_in_and_nobodys_name(labelled):
    elsewhere, _, keeper = labelled
    answer = elsewhere().get(bag_path(keeper))
    assert answer.status_code == 200
    said = words(answer.text)
    assert f"Worm castings, {LOT} Not heat treated, as far as anything is recorded." in said
    assert "stable litter, not heated. Risk: herbicide" in said
    assert "another material, not heated, not asked about risks." in said
    assert "Legionella" in said
    assert "Not held back." in said
    assert " left." not in said, "how much there is concerns the yard"
    assert not [name for name in NAMES if name in html.unescape(answer.text)]
    assert "given out" not in answer.text.casefold()
    assert "us-nop-5021" not in answer.text, "for the keepers' information, and on no label"
    assert "/do/lots" not in answer.text
    assert 'href="/stock"' not in answer.text


def test_a_later_result_of_a_test_reaches_whoever_has_a_bag(labelled):
    elsewhere, _, keeper = labelled
    path = bag_path(keeper)
    keeper.send("/do/lots", page=f"/lots/{LOT}", form="test", lot=LOT, test="bean test", result="failed")
    assert "Held back: bean test was not passed" in words(elsewhere().get(path).text)


def test_the_code_opens_one_lot_and_changes_nothing(labelled):
    elsewhere, page, keeper = labelled
    path = bag_path(keeper)
    stranger = elsewhere()
    assert stranger.get(path).status_code == 200
    for other in ("/", "/stock", f"/lots/{LOT}", f"/bags/{LOT}", "/recall?what=d1"):
        assert stranger.get(other, follow_redirects=False).status_code == 303, "the password is asked for"
    before = page.yard.changed()
    assert stranger.post(path, data={"form": "make", "what": "h5"}).status_code in (403, 405)
    assert page.yard.changed() == before
    assert keeper.get(path, follow_redirects=False).headers["location"] == f"/lots/{LOT}"


def test_what_is_no_code_of_ours_or_too_old_opens_nothing(labelled):
    elsewhere, page, keeper = labelled
    path = bag_path(keeper)
    token = path.removeprefix("/bag/")
    assert read_bag(page.key, token, NOW + 4 * 365 * DAY_MS) == LOT
    assert read_bag(page.key, token, NOW + BAG_LASTS_MS + DAY_MS) is None
    assert read_bag(b"k" * 32, token, NOW) is None
    gone = elsewhere().get(path[:-3] + "abc")
    assert gone.status_code == 404
    assert "Ask the yard by the name on the label." in words(gone.text)


def test_a_bag_labelled_again_has_the_same_code():
    key = b"k" * 32
    assert bag_address("http://a", key, LOT, NOW) == bag_address("http://a", key, LOT, NOW)


def test_labels_are_for_keepers(labelled):
    elsewhere, page, _ = labelled
    _, secret = page.guests.make("A guest", "Ann", NOW)
    guest = elsewhere()
    guest.get(f"/guest/{secret}")
    assert guest.get(f"/bags/{LOT}").status_code == 403


def test_without_an_address_for_phones_the_name_stands_there_and_how_to_set_one(castings):
    app, _ = page_of(castings)
    keeper = browser(app)
    made(keeper)
    for query in ("", "?for=all"):
        text = keeper.get(f"/bags/{LOT}{query}").text
        assert text_of_code(svgs(text)[0]) is None
        assert "Set page.link to the address that phones can reach, then print." in words(text).replace(" .", ".")


def test_a_bag_shows_no_photo_of_what_was_done_to_its_bin(labelled, yard):
    elsewhere, _, keeper = labelled
    photo = "ab" * 32
    seen = {"time": yard.clock - 1, "place": "b1", "kind": "note", "note": "full of worms", "photo": photo}
    assert yard.put(EventKind.WORK, seen, again=True).at is not None
    assert photo in keeper.get("/place/b1").text
    text = elsewhere().get(bag_path(keeper)).text
    assert LOT in text
    assert photo not in text
