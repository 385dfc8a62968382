"""A mix in a real browser: from the materials to the heap in the log in four taps, by keyboard alone, and without a script."""

import pytest
from page_browser import SIZES

pytest.importorskip("playwright", reason="playwright is not installed")
from playwright.sync_api import expect

expect.set_options(timeout=30_000)

pytestmark = pytest.mark.io


def fill(page):
    """Fill in another mix than what is in stock, which the rows offer."""
    for field in ("Material", "Amount"):
        for row in page.get_by_label(field, exact=True).all():
            row.fill("")
    page.get_by_label("goes in").nth(1).select_option("as needed")
    page.get_by_label("Material", exact=True).nth(0).fill("stable litter")
    page.get_by_label("Amount").nth(0).fill("800")
    page.get_by_label("Material", exact=True).nth(1).fill("leaves")


def answered_only(one, status):
    """Forget that the browser notes an answer that is no 200; nothing else may have gone wrong."""
    assert [fault for fault in one.faults if status not in fault] == []
    one.faults.clear()


@pytest.mark.parametrize("size", SIZES)
def test_from_materials_to_the_heap_in_the_log_in_four_taps(visit, size):
    one = visit(size)
    page = one.go("/")
    page.get_by_role("link", name="Mix a heap").click()
    fill(page)
    page.get_by_role("button", name="Work it out").click()
    heading = page.get_by_role("heading", name="The mix")
    expect(heading).to_be_in_viewport()
    expect(page.locator(".mix-parts")).to_contain_text("leaves: ")
    assert page.locator(".mix-drawn svg:visible").count() == 1
    # No pile of the demo is empty, so one fold and one question stand between: they are two of the four taps.
    page.get_by_text("Where a heap lies already").click()
    page.get_by_role("button", name="Built at").first.click()
    expect(page.locator("#question")).to_contain_text("Not written down yet")
    answered_only(one, "409 (Conflict)")
    page.get_by_role("button", name="Yes, write it down").click()
    expect(page.locator(".done")).to_contain_text("Written down: built")
    expect(page.locator(".done")).to_contain_text("800 lb of stable litter, 181.8 lb of leaves")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".done")).to_contain_text("Taken back: built")


def test_a_mix_is_asked_for_by_keyboard_and_stays_when_the_sheet_is_renewed(visit):
    page = visit("desk").go("/mix")
    fill(page)
    page.get_by_label("Material", exact=True).nth(1).press("Enter")
    expect(page.get_by_role("heading", name="The mix")).to_be_visible()
    page.evaluate("sheet.renew()")
    page.wait_for_timeout(1_000)
    expect(page.locator(".mix-parts")).to_contain_text("stable litter: 800 lb")
    expect(page.get_by_label("Material", exact=True).nth(1)).to_have_value("leaves")


def test_a_mix_is_asked_for_without_a_script(visit):
    one = visit("phone", script=False)
    page = one.go("/mix")
    fill(page)
    page.get_by_role("button", name="Work it out").click()
    expect(page.locator(".mix-parts")).to_contain_text("stable litter: 800 lb")
    page.get_by_label("Material", exact=True).nth(1).fill("moon dust")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("alert")).to_contain_text('Nothing is known of "moon dust"')
    answered_only(one, "400 (Bad Request)")
