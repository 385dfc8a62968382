"""Stock, lots and recalls on the page: what a keeper writes down, and what nobody else is shown."""

import html
import re

import pytest
from page_yard_for_tests import NOW

from monitor.app.page_ports.page_material import KeptMaterial
from monitor.app.page_ports.page_yard import JournalLook
from monitor.model.events import EventKind
from monitor.model.settings import YARD
from monitor.model.times import HOUR_MS

SUPPLIER, RECEIVER, PRICE, REMARK = "Quillfeather stables", "Ottoline Marsh", "12.50 EUR", "seen by Barnaby"
NAMES = (SUPPLIER, RECEIVER, PRICE, REMARK, "Quillfeather", "Ottoline", "Barnaby", "Marlow")


def words(text):
    plain = re.sub(r"<svg.*?</svg>", " ", text, flags=re.DOTALL)
    plain = re.sub(r"</?(?:strong|a|span)\b[^>]*>", "", plain)
    return html.unescape(" ".join(re.sub(r"<[^>]+>", " ", plain).split()))


def log(yard, kind, place=YARD, ago_h=1, **fields):
    done = yard.put(
        EventKind.WORK,
        {"time": NOW - ago_h * HOUR_MS, "place": place, "kind": kind, "by": "Marlow"} | fields,
        again=True,
    )
    assert done.at is not None, done.refusal


@pytest.fixture
def castings(yard):
    """Litter with a risk and leaves went into a bin, of which a harvest was taken; entries 1 to 5."""
    log(yard, "delivery", ago_h=50, what="stable litter", amount="100", unit="kg", source=SUPPLIER, risk="herbicide")
    log(yard, "delivery", ago_h=49, what="Marlow's mash", amount="50", unit="kg", source=SUPPLIER)
    log(yard, "bedded", "b1", ago_h=40, what="d1", amount="30", unit="kg")
    log(yard, "fed", "b1", ago_h=39, what="d2", amount="4", unit="kg")
    log(yard, "harvested", "b1", ago_h=30, amount="20", unit="kg", moisture="75")
    return yard


def made(near, **more):
    answer = near.send("/do/lots", page="/stock", form="make", what="h5", **more)
    assert answer.status_code == 303, words(answer.text)
    return answer.headers["location"].partition("?")[0]


def test_an_empty_yard_says_how_to_begin(near):
    said = words(near.get("/stock").text)
    assert "Nothing is in stock by the record." in said
    assert "There is no lot yet." in said
    assert "Nothing is there that could become a lot" in said


def test_stock_shows_what_rots_first_with_its_risk_and_its_recall(castings, near):
    text = near.get("/stock").text
    said = words(text)
    assert (
        "stable litter: 154 lb use it first: it rots d1: 154 lb from Quillfeather stables, 2 days old. Risk: herbicide"
        in said
    )
    assert said.index("stable litter:") < said.index("Marlow's mash:")
    assert 'href="/recall?what=d1"' in text, "one tap from the stock"


def test_food_of_which_nobody_said_what_it_was_has_a_name_in_the_stock(yard, near):
    log(yard, "fed", "b1", amount="5", unit="lb")
    assert "material without a name: 5 lb used, never logged as a delivery" in words(near.get("/stock").text)


def test_a_harvest_becomes_a_lot_is_tested_and_given_out(castings, near):
    path = made(near)
    assert re.fullmatch(r"/lots/lot-b1-2026-07-20", path)
    said = words(near.get(path).text)
    assert "Worm castings, lot-b1-2026-07-20 Not heat treated, as far as anything is recorded." in said
    assert "Not held back. 44.1 lb of 44.1 lb left." in said
    assert "It contains harvest h5, 11 lb dry." in said
    assert "It may contain" in said
    assert "d1, stable litter from Quillfeather stables, not heated. Risk: herbicide" in said
    near.send(
        "/do/lots", page=path, form="test", lot="lot-b1-2026-07-20", test="bean test", result="passed", note=REMARK
    )
    assert "bean test: passed, 20 Jul 2026 (seen by Barnaby)" in words(near.get(path).text)
    given = {
        "form": "give",
        "lot": "lot-b1-2026-07-20",
        "amount": "10",
        "measure": "lb",
        "receiver": RECEIVER,
        "price": PRICE,
    }
    asked = near.send("/do/lots", page=path, **given)
    assert asked.status_code == 409
    assert "Not written down yet It carries a risk: herbicide by d1." in words(asked.text)
    assert f'action="{path}"' in asked.text, "leaving it out leads back to the lot"
    done = near.send("/do/lots", page=path, again="1", **given)
    said = words(near.get(done.headers["location"]).text)
    assert "Written down: given out: 10 lb of lot-b1-2026-07-20 to Ottoline Marsh for 12.50 EUR." in said
    assert "34.1 lb of 44.1 lb left." in said
    assert "Ottoline Marsh: 10 lb for 12.50 EUR, 20 Jul 2026" in said


def test_a_keeper_reads_how_long_castings_lay_with_worms_for_information(castings, near):
    said = words(near.get(made(near)).text)
    assert (
        "How long it lay with worms Held against us-nop-5021-vermicompost: nobody can say. For information only: its figures "
        "are from memory, and nobody has confirmed them." in said
    )
    assert "duration, nobody can say:" in said
    assert 'feedstocks, nobody can say: "only feedstocks that organic production allows"' in said


def test_giving_more_than_is_left_is_asked_and_the_form_keeps_what_was_typed(castings, near):
    path = made(near, amount="5", measure="kg")
    asked = near.send("/do/lots", page=path, form="give", lot=path[6:], amount="9", measure="kg", receiver=RECEIVER)
    assert "Only 11 lb of it is left." in words(asked.text)
    bare = near.send("/do/lots", page=path, form="give", lot=path[6:], amount="", receiver=RECEIVER)
    assert bare.status_code == 400
    assert "Give the amount with its unit" in words(bare.text)
    assert f'name="receiver" maxlength="80" required autocomplete="off" value="{RECEIVER}"' in bare.text


@pytest.mark.parametrize(
    ("form", "status", "says"),
    [
        ({"form": "make", "what": "h99"}, 400, 'There is no harvest or heap "h99"; the newest are h5'),
        ({"form": "make", "what": ""}, 400, "Choose what the lot is made of"),
        ({"form": "make", "what": "d1"}, 400, "d1 is a delivery, which becomes no lot by itself"),
        ({"form": "give", "lot": "lot-x"}, 404, 'There is no lot "lot-x"'),
        ({"form": "melt"}, 404, "That is no form about lots"),
    ],
)
def test_what_cannot_be_is_said_and_nothing_is_written(castings, near, form, status, says):
    before = len(castings.works())
    answer = near.send("/do/lots", page="/stock", **form)
    assert answer.status_code == status
    assert says in words(answer.text)
    assert len(castings.works()) == before


def test_a_bad_delivery_leads_to_the_people_who_have_some(castings, near):
    path = made(near)
    near.send("/do/lots", page=path, form="give", lot=path[6:], amount="10", measure="lb", receiver=RECEIVER, again="1")
    said = words(near.get("/recall?what=d1").text)
    assert "Who has some of d1, stable litter from Quillfeather stables Tell Ottoline Marsh." in said
    assert "It may have some of it; 34.1 lb of 44.1 lb left. Ottoline Marsh: 10 lb, 20 Jul 2026" in said
    assert "bed b1-2026-07-18 It" not in said
    assert "bed b1-2026-07-18 harvest h5 (may have some of it)" in said
    assert "Tell Ottoline Marsh." in words(near.get("/recall?what=Sunny wall bin").text)
    unknown = near.get("/recall?what=d77")
    assert unknown.status_code == 404
    assert 'Nothing in the record is called "d77"' in words(unknown.text)


def test_what_was_taken_back_is_gone(castings, near):
    path = made(near)
    done = near.send("/do/lots", page=path, form="test", lot=path[6:], test="bean test", result="failed")
    assert "Held back: bean test was not passed" in words(near.get("/stock").text)
    token = re.search(r"done=([^&]+)", done.headers["location"])[1]
    assert near.send("/do/undo", page=path, done=token, back=path).status_code == 303
    assert "Held back" not in words(near.get("/stock").text)


def test_no_guest_sees_who_brought_or_got_something(castings, open_page):
    elsewhere, page, keeper_in = open_page
    keeper = keeper_in()
    path = made(keeper)
    keeper.send("/do/lots", page=path, form="test", lot=path[6:], test="bean test", result="passed", note=REMARK)
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
    assert RECEIVER in keeper.get(path).text
    _, secret = page.guests.make("A guest", "Ann", NOW)
    guest = elsewhere()
    guest.get(f"/guest/{secret}")
    for address in ("/stock", path):
        answer = guest.get(address)
        assert answer.status_code == 200
        assert not [name for name in NAMES if name in html.unescape(answer.text)], address
        assert "/do/lots" not in answer.text
    assert "stable litter, not heated. Risk: herbicide" in words(guest.get(path).text)
    assert "another material, not heated, not asked about risks." in words(guest.get(path).text), (
        "a material's own name may name a person"
    )
    assert guest.get("/recall?what=d1").status_code == 403
    assert elsewhere().get(path, follow_redirects=False).status_code == 303, "a stranger is asked for the password"


def test_the_log_is_read_once_until_it_says_something_new(castings, monkeypatch):
    from monitor.app.page_ports import page_material

    reads = []
    real = page_material.material_record
    monkeypatch.setattr(page_material, "material_record", lambda *all: reads.append(1) or real(*all))
    kept = KeptMaterial()

    def stock():
        with castings.look() as look:
            again = JournalLook(look.engine, look._store, castings.configuration, look.now, kept=kept)
            offered = {one.material: one.amount for one in again.stock()}
            shown = again.material().stock(names=True)
            assert offered.keys() == {one.name for one in shown.materials if one.deliveries}, "for a mix"
            return shown

    first = stock()
    assert stock() == first
    assert len(reads) == 1
    castings.read(("amb", 21.0, "Cel"))
    stock()
    assert len(reads) == 1, "a reading that decides nothing changes nothing here"
    log(castings, "delivery", what="leaves", amount="9", unit="kg")
    assert [one.name for one in stock().materials] != [one.name for one in first.materials]
    assert len(reads) == 2
    castings.burn()
    stock()
    assert len(reads) == 3, "a decision may come with a heap that is proven otherwise"


def test_the_tree_names_every_input_also_where_several_deliveries_lay_open(castings, near):
    for ago in (48, 47, 46):
        log(castings, "delivery", ago_h=ago, what="stable litter", amount="40", unit="kg", source=SUPPLIER)
    log(castings, "fed", "b1", ago_h=38, what="stable litter", amount="2", unit="kg")
    text = near.get(made(near)).text
    tree = re.search(r'<svg[^>]*class="d-drawing".*?</svg>', text, re.DOTALL)[0]
    for delivery in ("d1", "d2", "d6", "d7", "d8"):
        assert f">{delivery}, " in tree
        assert f"{delivery}, " in words(text)


def test_a_recall_leaves_no_sheet_that_a_later_look_cannot_finish(castings, near):
    made(near)
    kept = KeptMaterial()

    def material(of):
        with castings.look() as look:
            return of(JournalLook(look.engine, look._store, castings.configuration, look.now, kept=kept).material())

    assert [one.id for one in material(lambda one: one.recall("d1")).lots] == ["lot-b1-2026-07-20"]
    assert material(lambda one: one.lot("lot-b1-2026-07-20", names=True)).line.risks == ("herbicide",)
    assert "inputs" in vars(kept._read.sheets[next(iter(kept._read.sheets))]), "traced while its record was open"


def test_of_many_lots_the_newest_with_something_left_are_traced(castings, near, monkeypatch):
    from monitor.app.page_ports import material_shown

    monkeypatch.setattr(material_shown, "LOTS_TRACED", 1)
    made(near, amount="5", measure="kg")
    made(near, amount="5", measure="kg")
    near.send(
        "/do/lots",
        page="/stock",
        form="give",
        lot="lot-b1-2026-07-20-2",
        amount="5",
        measure="kg",
        receiver="A",
        again="1",
    )
    made(near, amount="5", measure="kg")
    said = words(near.get("/stock").text)
    assert said.count("Its own sheet tells of heat and risks.") == 2
    assert said.count("Not heat treated, as far as anything is recorded.") == 1
    assert "lot-b1-2026-07-20-2 All given out. 0 lb of 11 lb left." in said


def test_a_second_lot_of_the_same_and_a_second_gift_are_asked_about(castings, near):
    path = made(near)
    asked = near.send("/do/lots", page="/stock", form="make", what="h5")
    assert f"{path[6:]} has all that was left of h5 already. Is this another lot of it?" in words(asked.text)
    assert near.send("/do/lots", page="/stock", form="make", what="h5", again="1").status_code == 303
    gift = {"form": "give", "lot": path[6:], "amount": "2", "measure": "kg", "receiver": RECEIVER}
    assert near.send("/do/lots", page=path, again="1", **gift).status_code == 303
    assert f"already says that {RECEIVER} got 2 kg of it" in words(near.send("/do/lots", page=path, **gift).text)


def test_a_lot_of_a_heap_whose_rule_is_not_met_and_of_more_than_is_left_is_asked_about(castings, near):
    log(castings, "built", "p1", ago_h=20, what="d1", amount="20", unit="kg")
    heap = re.search(r'<option value="(p1-[^"]+)"', near.get("/stock").text)
    assert heap is not None
    asked = near.send("/do/lots", page="/stock", form="make", what=heap[1])
    assert asked.status_code == 409
    assert f"No rule is met yet by {heap[1]}: us-112-54-turned (" in words(asked.text)
    much = near.send("/do/lots", page="/stock", form="make", what="h5", amount="20", measure="kg", moisture="40")
    assert "By the record 44.1 lb, 11 lb dry, are left of h5; this is 44.1 lb, 26.5 lb dry." in words(much.text)
    assert 'name="moisture"' in much.text
    wrong = near.send("/do/lots", page="/stock", form="make", what="h5", amount="2", measure="kg", moisture="wet")
    assert '"wet" is no moisture' in words(wrong.text)


def test_a_figure_that_can_hardly_be_is_asked_about_in_the_form_of_its_bin(near):
    form = {"kind": "harvested", "amount": "80", "measure": "lb", "moisture": "7"}
    asked = near.send("/do/work", place="b1", **form)
    assert asked.status_code == 409
    assert "Was 70 % meant?" in words(asked.text)
