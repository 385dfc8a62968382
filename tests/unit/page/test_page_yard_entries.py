"""The sheet of the whole yard: deliveries with their risks, stock that was counted, remarks, and its log."""

import re

SHEET = "/place/yard"


def send(near, **form):
    return near.send("/do/work", page=SHEET, place="yard", back=SHEET, **form)


def test_a_delivery_is_written_down_with_its_risks_and_taken_back(yard, near):
    answer = send(
        near, form="delivery", kind="delivery", what="leaves", amount="3", measure="yd³", source="a park",
        risk_plastic="1", risk_herbicide="1", refused="",
    )  # fmt: skip
    assert answer.status_code == 303
    assert answer.headers["location"].startswith(f"{SHEET}?done=")
    (work,) = yard.works()
    assert (work["place"], work["what"], work["unit"], work["risk"]) == ("yard", "leaves", "yd3", "herbicide,plastic")
    assert "refused" not in work
    text = near.get(answer.headers["location"]).text
    assert "Written down: delivered 3 yd³ of leaves from a park, risk of herbicide and plastic" in text
    assert '<option value="leaves">' in text, "the next delivery offers its name"
    token = re.search(r'name="done" value="([^"]+)"', text)[1]
    assert near.send("/do/undo", done=token, back=SHEET).status_code == 303
    assert "Nothing was written down" in near.get(SHEET).text


def test_what_is_missing_is_said_beside_its_form_and_the_rest_is_kept(yard, near):
    for form, field in (
        ({"what": "", "amount": "3", "measure": "yd³"}, "what"),
        ({"what": "leaves", "amount": "", "measure": "yd³"}, "amount"),
        ({"what": "leaves", "amount": "3", "measure": "yd³", "risk_none": "1", "risk_meat": "1"}, "risk_herbicide"),
    ):
        answer = send(near, form="delivery", kind="delivery", source="Hill stable", **form)
        assert answer.status_code == 400
        assert 'value="Hill stable"' in answer.text
        assert re.search(rf'name="{field}"[^>]*aria-invalid="true"', answer.text), field
        assert '<details class="quick" data-key="delivery" open>' in answer.text
    assert yard.works() == []


def test_the_same_delivery_is_asked_about_and_taken_when_confirmed(yard, near):
    form = {"form": "delivery", "kind": "delivery", "what": "leaves", "amount": "3", "measure": "yd³", "risk_meat": "1"}
    send(near, **form)
    asked = send(near, **form)
    assert asked.status_code == 409
    assert "already says, of " in asked.text
    assert 'name="risk_meat" value="1"' in asked.text
    assert 'action="/place/yard"' in asked.text
    assert send(near, **form, again="1").status_code == 303
    assert len(yard.works()) == 2


def test_remarks_say_what_they_are_about(yard, near):
    send(near, form="remark", kind="visitors", note="a school class")
    send(near, form="remark", kind="note", note="gate repaired")
    send(near, form="counted", kind="counted", what="leaves", amount="20", measure="bag")
    text = near.get(SHEET).text
    assert "visitors: a school class" in text
    assert "gate repaired" in text
    assert "counted 20 bags of leaves" in text or "counted 20 bag of leaves" in text
    assert send(near, form="remark", kind="weather", note=" ").status_code == 400


def test_work_on_heaps_is_not_done_to_the_yard_nor_read_there(yard, near):
    answer = send(near, kind="turned")
    assert answer.status_code == 400
    assert "is not done to the whole yard" in answer.text
    assert near.send("/do/reading", place="yard", value="131").status_code == 404
    assert near.send("/do/work", place="p1", kind="delivery", what="x", amount="2", measure="lb").status_code == 400
    assert yard.works() == []


def test_guests_do_not_see_names_of_suppliers(open_page):
    elsewhere, page, keeper = open_page
    assert keeper().get(SHEET).status_code == 200
    _, secret = page.guests.make("an inspector", "Ann", 0)
    guest = elsewhere()
    assert guest.get(f"/guest/{secret}").status_code == 200
    assert guest.get("/place/p1").status_code == 200
    assert guest.get(SHEET).status_code == 403


def test_an_absence_is_written_down_and_says_when_nobody_is_on_duty(yard, near):
    with yard.look() as look:
        contacts = list(look.engine.state.settings.contacts)
    assert contacts
    for contact in contacts:
        answer = send(near, form="away", kind="away", contact=contact, start="", end="2030-01-01T08:00")
        assert answer.status_code == 400, "longer than a year"
        answer = send(near, form="away", kind="away", contact=contact, start="2026-08-01T17:00", end="2026-08-03T08:00")
        assert answer.status_code == 303
    text = near.get(answer.headers["location"]).text
    assert "away from Sat 1 Aug 17:00 to Mon 3 Aug 08:00. Nobody is on duty from 1 Aug 17:00 to 3 Aug 08:00" in text
    assert '<p class="care">Nobody is on duty from 1 Aug 17:00' in near.get("/").text
    assert "Nobody is on duty from 1 Aug 17:00" not in near.get("/before").text, "more than a week ahead"
    refused = send(near, form="away", kind="away", contact=contacts[0], start="", end="2026-07-01T08:00")
    assert "That absence is over already" in refused.text
    assert 'name="end" required aria-invalid="true"' in refused.text


def test_a_forecast_is_written_down_for_the_day_that_the_form_offers(yard, near):
    offered = re.search(r'name="day" value="([^"]+)"', near.get(SHEET).text)[1]
    assert send(near, form="forecast", kind="weather", high="97", low="71", day="").status_code == 303
    (work,) = yard.works()
    assert (work["day"], work["high"], work["low"]) == (offered, "97 degF", "71 degF")
    assert ": high 97 °F, low 71 °F" in near.get(SHEET).text
    assert "tomorrow 97 °F, low 71 °F, typed in" in near.get("/").text, "the yard's head says it"


def test_a_forecast_that_cannot_be_is_refused_beside_its_field(yard, near):
    for field, form in (
        ("high", {"high": "150"}),
        ("low", {"high": "70", "low": "75"}),
        ("day", {"high": "97", "day": "2020-01-01"}),
    ):
        answer = send(near, form="forecast", kind="weather", **form)
        assert answer.status_code == 400
        assert re.search(rf'name="{field}"[^>]*aria-invalid="true"', answer.text), field
    assert yard.works() == []
