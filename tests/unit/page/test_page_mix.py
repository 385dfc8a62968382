"""The mix sheet: materials in the address, the answer with its picture, and one tap that writes the heap down as built."""

import re

import pytest
from page_visitor import browser, signed_in
from page_yard_for_tests import page_of

from monitor.app.page_ports import page_mixing
from monitor.app.page_ports.page_mixing import YardMixing
from monitor.model.events import EventKind
from monitor.page import MixAsked, MixRow
from monitor.page.sheets.mix_sheet import MOST_ROWS, asked_of

LITTER = {"material_1": "Stable Litter", "amount_1": "800", "measure_1": "lb", "use_1": "all"}
LEAVES = {"material_2": "leaves", "amount_2": "", "measure_2": "yd³", "use_2": "some"}


@pytest.fixture
def mixing(yard):
    return YardMixing(lambda: yard.configuration)


@pytest.fixture
def near(yard, mixing):
    return browser(page_of(yard, mixing=mixing)[0])


def words_of(text):
    plain = re.sub(r"<svg.*?</svg>", "", text, flags=re.DOTALL)
    return " ".join(re.sub(r"<[^>]+>", " ", plain).split())


def buttons(text):
    """Return the forms that write the heap down: by the button's words, the hidden fields."""
    forms = re.findall(r'<form method="post" action="/do/work".*?</form>', text, re.DOTALL)
    return {
        re.search(r"<button[^>]*>(.*?)</button>", form)[1]: dict(re.findall(r'name="(\w+)" value="([^"]*)"', form))
        for form in forms
    }


def test_the_bare_sheet_offers_what_is_known_in_the_yards_units(near):
    text = near.get("/mix").text
    assert '<option value="stable litter">' in text.split("<datalist")[1]
    assert re.findall(r"<option[^>]*>([^<]*)</option>", text.split('name="measure_1"')[1].split("</select>")[0]) == [
        "lb", "oz", "short ton", "gal", "ft³", "yd³",
    ]  # fmt: skip
    assert "The mix" not in words_of(text)
    assert 'name="use_1"' in text
    first, second = (text.split(f'name="use_{number}"')[1].split("</select>")[0] for number in (1, 2))
    assert '<option value="all" selected>' in first, "one material at least goes in whole"
    assert '<option value="some" selected>' in second


def test_the_answer_says_all_that_the_command_says(near):
    text = near.get("/mix", params={**LITTER, **LEAVES, "bay": "4 x 4 ft"}).text
    said = words_of(text)
    assert re.search(r"This mix will do, though not well: C/N 3\d, where 25 to 35 is better\.", said)
    assert "stable litter: 800 lb" in said
    assert "ft high in that bay; big enough to heat" in said
    assert "What limits it: moisture 60 %" in said
    assert re.search(r"From the bottom up leaves, [0-9.]+ lb", said)
    assert "Dung and litter are raw: gloves" in said
    assert text.count('class="d-mix-best"') >= 2, "drawn for a narrow sheet and for a wide one"
    assert "too rich in nitrogen" in text
    assert 'value="4 x 4 ft"' in text, "what was typed stays"


def test_one_tap_writes_the_heap_down_with_its_materials(yard, near):
    text = near.get("/mix", params={**LITTER, **LEAVES}).text
    offered = buttons(text)
    assert list(offered) == ["Built at Bay 2", "Built at Bay 1"], "the empty pile first"
    assert not yard.works()
    fields = {name: value for name, value in offered["Built at Bay 2"].items() if name not in ("token", "back")}
    answer = near.send("/do/work", back="/place/p2", **fields)
    assert answer.status_code == 303
    (work,) = yard.works()
    assert (work["place"], work["kind"]) == ("p2", "built")
    assert re.fullmatch(r"stable litter=800 lb; leaves=[0-9.]+ lb", work["parts"])
    assert work["note"].endswith("worked out from the mix")
    done = near.get(answer.headers["location"]).text
    assert "Written down: built" in done
    assert ">Undo</button>" in done


def deliver(yard, what, amount, unit, **more):
    work = {"time": yard.clock, "place": "yard", "kind": "delivery", "what": what, "amount": amount, "unit": unit}
    yard.put(EventKind.WORK, {**work, "measure": unit, "source": "a stable", **more})


def rows_of(text):
    """Return (material, amount, unit, how it goes in, hint) of each row that is filled."""
    found = []
    for row in re.findall(r'<fieldset class="mix-row".*?</fieldset>', text, re.DOTALL):
        name, amount = (
            re.search(rf'name="{field}_\d+"[^>]*value="([^"]*)"', row)[1] for field in ("material", "amount")
        )
        unit, use = re.findall(r"<option[^>]* selected>([^<]*)<", row + " selected>-<")[:2] if amount else ("", "")
        hint = re.search(r'<span class="hint">(.*?)</span>', row)
        if name:
            found.append((name, amount, unit, use, hint[1] if hint else ""))
    return found


def test_what_is_in_stock_is_offered_first_and_what_rots_in_front(yard, near):
    deliver(yard, "Leaves", "12", "yd3")
    deliver(yard, "coffee grounds", "80", "lb")
    deliver(yard, "horse manure", "600", "lb", risk="herbicide,wormer")
    deliver(yard, "moon dust", "5", "lb")
    text = near.get("/mix").text
    assert rows_of(text) == [
        ("coffee grounds", "80", "lb", "whole", "In stock; use it first, it rots"),
        ("horse manure", "600", "lb", "whole", "In stock; use it first, it rots; RISK: herbicide, wormer"),
        ("Leaves", "2427.2", "lb", "as needed", "In stock; estimated"),
    ]
    assert "In stock too, but no figures of it are known here: moon dust." in words_of(text)
    assert re.findall(r'<option value="([^"]*)">', text.split("<datalist")[1])[:3] == [
        "coffee grounds",
        "horse manure",
        "Leaves",
    ]
    asked = near.get("/mix", params={"material_1": "leaves", "amount_1": "9", "measure_1": "lb", "use_1": "all"}).text
    assert [row[0] for row in rows_of(asked)] == ["leaves"], "what was asked for stands alone"
    assert "In stock; estimated" in asked


def test_from_stock_to_the_heap_in_three_taps_and_the_stock_is_less(yard, near):
    deliver(yard, "stable litter", "800", "lb")
    deliver(yard, "leaves", "1000", "lb")
    text = near.get("/mix").text
    form = dict(re.findall(r'name="((?:material|amount)_\d)"[^>]*value="([^"]+)"', text))
    form |= {"measure_1": "lb", "measure_2": "lb", "use_1": "all", "use_2": "some"}
    assert [form["material_1"], form["material_2"]] == ["stable litter", "leaves"]
    fields = buttons(near.get("/mix", params=form).text)["Built at Bay 2"]
    near.send("/do/work", **{name: value for name, value in fields.items() if name not in ("token", "back")})
    ((leaves, left, *_),) = rows_of(near.get("/mix").text)
    assert leaves == "leaves"
    used = float(re.search(r"leaves=([0-9.]+) lb", yard.works()[-1]["parts"])[1])
    assert float(left) == pytest.approx(1000 - used, abs=0.2)


def test_stock_of_which_nobody_knows_the_mass_leaves_the_amount_open(yard, near):
    deliver(yard, "leaves", "3", "bag")
    assert rows_of(near.get("/mix").text) == [("leaves", "", "", "", "In stock; estimated")]


def test_what_becomes_of_a_heap_that_lies_there_is_said_beforehand(near):
    text = near.get("/mix", params={**LITTER, **LEAVES}).text
    assert words_of(text).count("The heap that lies here ends after ") == 1, "only where a heap lies"
    after_its_button = text.split("Built at Bay 1")[1]
    assert "and another begins." in after_its_button.split("</form>")[0]


def test_building_where_a_heap_lies_is_asked_about_with_two_buttons(yard, near):
    fields = buttons(near.get("/mix", params={**LITTER, **LEAVES}).text)["Built at Bay 1"]
    fields = {name: value for name, value in fields.items() if name not in ("token", "back")}
    answer = near.send("/do/work", back="/place/p1", **fields)
    assert answer.status_code == 409
    assert "Not written down yet" in answer.text
    assert "Yes, write it down" in answer.text
    assert "Leave it out" in answer.text
    assert not yard.works()


@pytest.mark.parametrize(
    ("fields", "said", "field"),
    [
        ({"material_1": "moon dust"}, "Nothing is known of &#34;moon dust&#34;. Known are broiler litter", "material_1"),
        ({"material_1": "stable liter"}, "Did you mean &#34;stable litter&#34;?", "material_1"),
        ({"material_1": ""}, "800 of what? Name the material.", "material_1"),
        ({"amount_1": "much"}, "&#34;much lb&#34;", "amount_1"),
        ({"amount_1": ""}, "How much Stable Litter is there?", "amount_1"),
        ({"measure_1": "barrows"}, "nobody has said how much a barrow holds", "amount_1"),
        ({"use_1": "some"}, "Say of one material at least that all of it goes in.", "use_1"),
        ({"bay": "big"}, "The ground of a bay is length by width", "bay"),
        ({"moisture": "0.5"}, "Moisture lies between 20 and 85", "moisture"),
        ({"cn": "wet"}, "C/N is a number or two", "cn"),
        ({"cn": "60..80", "organic": "1"}, "The organic rule asks for C/N 25 to 40", "cn"),
    ],
)  # fmt: skip
def test_a_field_that_is_wrong_is_pointed_at_and_stays(near, fields, said, field):
    answer = near.get("/mix", params={**LITTER, **LEAVES, **fields})
    assert answer.status_code == 400
    text = answer.text
    assert said in text
    assert "--" not in words_of(text), "no word of the command line"
    marked = re.findall(r'name="(\w+)"[^>]*aria-invalid="true"', text)
    assert marked == [field]
    assert text.index('id="wrong"') < text.index('aria-invalid="true"')
    assert 'value="leaves"' in text
    assert "Is it built?" not in text


def test_a_material_that_stands_there_twice_is_told(near):
    answer = near.get("/mix", params={**LITTER, **LEAVES, "material_2": "stable litter"})
    assert answer.status_code == 400
    assert "stable litter is named twice" in answer.text


def test_what_does_not_fit_is_shown_and_cannot_be_written_down(near):
    asked = {"material_1": "coffee grounds", "amount_1": "200", "measure_1": "lb", "use_1": "all"}
    answer = near.get("/mix", params=asked)
    assert answer.status_code == 200
    said = words_of(answer.text)
    assert "No mix of these fits: too wet even so" in said
    assert "It would fit with" in said
    assert "A mix that does not fit is not written down here." in said
    assert buttons(answer.text) == {}


def test_a_heap_that_may_be_too_high_asks_for_its_ground_first(near):
    asked = {**LITTER, **LEAVES, "amount_1": "100000"}
    said = words_of(near.get("/mix", params=asked).text)
    assert "say the ground of its bay, and it can be written down" in said
    high = near.get("/mix", params={**asked, "bay": "6 x 6 ft"}).text
    assert "DO NOT BUILD IT SO HIGH" in high
    assert buttons(high) == {}
    assert "So high a heap is not written down" in high
    assert buttons(near.get("/mix", params={**asked, "bay": "60 x 20 ft"}).text)


def test_limits_that_were_asked_for_are_kept(near):
    text = near.get("/mix", params={**LITTER, **LEAVES, "material_3": "cardboard", "cn": "45", "frost": "1"}).text
    assert "C/N: 45 (" in text
    assert "in frost" in text
    assert '<input type="checkbox" name="frost" value="1" checked>' in text
    organic = near.get("/mix", params={**LITTER, **LEAVES, "organic": "1"}).text
    assert "a C/N of 25 to 35; it must lie within 40 to 65 % and 25 to 40" in organic


def test_without_the_solver_the_sheet_says_how_it_is_installed(yard, mixing, near, monkeypatch):
    monkeypatch.setattr(page_mixing, "lacks_solver", lambda: "Working out a mix needs the extra `mix`.")
    answer = near.get("/mix", params=LITTER)
    assert answer.status_code == 200
    assert "Working out a mix needs the extra mix." in answer.text, "as words, without the marks of code"
    assert "Work it out" not in answer.text
    assert "cannot work out mixes" in browser(page_of(yard)[0]).get("/mix").text


def test_a_guest_may_look_and_writes_nothing_down(yard, mixing, password):
    app, _ = page_of(yard, password_hash=password[1], link="http://yard.example:8460", mixing=mixing)
    keeper = signed_in(app, host="yard.example:8460")
    made = keeper.send("/do/guest", page="/people", name="The neighbours")
    guest = browser(app, host="yard.example:8460", address="192.0.2.9")
    assert "stable litter: 800 lb" not in guest.get("/mix", params=LITTER).text
    guest.get(re.search(r"/guest/[\w-]+", made.text)[0])
    text = guest.get("/mix", params={**LITTER, **LEAVES}).text
    assert "stable litter: 800 lb" in text
    assert buttons(text) == {}
    assert len(buttons(keeper.get("/mix", params={**LITTER, **LEAVES}).text)) == 2


def test_rows_that_say_nothing_are_left_out_and_there_is_always_room_for_more(near):
    asked = asked_of(
        {"material_3": "  leaves   of oak ", "amount_9": "5", f"material_{MOST_ROWS + 1}": "hay", "bay": "x" * 999}
    )
    assert [(row.number, row.material, row.amount) for row in asked.rows] == [(3, "leaves of oak", ""), (9, "", "5")]
    assert len(asked.bay) == 80
    text = near.get("/mix", params={**LITTER, "material_6": "leaves"}).text
    assert 'name="material_8"' in text
    assert 'name="material_9"' not in text


def test_what_stands_in_the_address_is_only_text(near):
    text = near.get(
        "/mix", params={"material_1": '"><script>alert(1)</script>', "amount_1": "<b>", "use_1": "all"}
    ).text
    assert "<script>alert" not in text
    assert "<b>" not in text


def test_containers_that_were_measured_come_first(yard, mixing):
    from dataclasses import replace

    from monitor.model.containers import Container

    yard.configuration = replace(yard.configuration, containers={"bag": Container(volume_ml=50_000)})
    assert list(mixing.units())[:2] == ["bags", "lb"]
    row = MixRow(number=1, material="stable litter", amount="30", measure="bags", whole=True)
    told = mixing.work_out(MixAsked(rows=(row,)), [300])
    assert told.parts[0].endswith("about 30 bags")
    assert len(told.drawn) == 1
    assert 'width="300"' in told.drawn[0]
