"""Who comes in, in a real browser: the password, links in messages, guests, and what is refused; nothing keeps anybody out."""

import pytest
from page_browser import Visit
from page_yard_for_tests import TestYard

pytest.importorskip("playwright", reason="playwright is not installed")
from playwright.sync_api import expect

from monitor.model.effects import EffectKind
from monitor.model.words import AlarmState
from monitor.page import PageServer, PageSettings, SeenLink, hash_password, seen_address

expect.set_options(timeout=30_000)

pytestmark = pytest.mark.io

PASSWORD = "three barrows of leaves"
KEY = "b1/worms-in-danger"
RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]


@pytest.fixture
def yard(tmp_path):
    made = TestYard(tmp_path)
    yield made
    made.close()


@pytest.fixture
def page_at(yard, free_port):
    """The page as a phone in the yard reaches it, by a name; gives (address, server)."""
    port = free_port()
    base = f"http://yard.example:{port}"
    settings = PageSettings(
        folder=yard.folder, port=port, link=base, hosts=("yard.example",), password_hash=hash_password(PASSWORD)
    )
    server = PageServer(settings, yard, yard)
    server.start()
    yield base, server
    server.stop(5)


@pytest.fixture
def visit(browser, page_at, axe):
    """Opens a visit; `look` holds the sheet it is on against the accessibility checker, and its width."""
    made = []

    def open_one(size, **more):
        one = Visit(browser, page_at[0], size, **more)
        made.append(one)

        def look():
            one.page.evaluate(axe)
            found = one.page.evaluate(f"axe.run(document, {{runOnly: {RULES}}})")["violations"]
            assert [(wrong["id"], wrong["nodes"][0]["html"]) for wrong in found if wrong["impact"] != "minor"] == []
            assert one.page.evaluate("document.documentElement.scrollWidth <= innerWidth")

        one.look = look
        return one

    yield open_one
    for one in made:
        one.close()


@pytest.mark.parametrize(("size", "dark"), [("phone", False), ("desk", True)])
def test_the_password_opens_the_sheet_that_was_meant(visit, size, dark):
    one = visit(size, dark=dark)
    page = one.go("/place/p1")
    expect(page.get_by_role("heading", name="Who is there?")).to_be_visible()
    one.look()
    page.get_by_label("Your name").fill("Ann")
    field = page.get_by_label("The yard's password")
    field.fill("leaves")
    # Whoever types with muddy gloves may look at it; it is hidden until then.
    expect(field).to_have_attribute("type", "password")
    page.get_by_label("Show what I type").check()
    expect(field).to_have_attribute("type", "text")
    one.look()
    page.get_by_label("Show what I type").uncheck()
    expect(field).to_have_attribute("type", "password")
    page.get_by_role("button", name="Come in").click()
    expect(page.get_by_role("alert")).to_contain_text("not the password")
    expect(page.get_by_label("The yard's password")).to_be_focused()
    expect(page.get_by_label("Your name")).to_have_value("Ann")
    one.look()
    page.get_by_label("The yard's password").fill(PASSWORD)
    page.keyboard.press("Enter")
    expect(page.get_by_role("heading", name="Bay 1", exact=True)).to_be_visible()
    expect(page.locator(".foot")).to_contain_text("You write as Ann")


@pytest.mark.parametrize(("size", "dark"), [("phone", True), ("desk", False)])
def test_a_link_in_a_message_says_seen_once(visit, yard, page_at, size, dark):
    with yard.look() as look:
        told = [
            e for e in look.effects(0, yard.clock) if e.draft.kind is EffectKind.NOTICE and e.draft.values.get("keys")
        ]
    address = seen_address(page_at[0], page_at[1].page.key, SeenLink(told[-1].at, "ann"))
    one = visit(size, dark=dark)
    page = one.go(address.removeprefix(page_at[0]))
    expect(page.locator(".letter")).to_contain_text("WORMS IN DANGER")
    assert page.get_by_role("button", name="I'll see to it").bounding_box()["height"] >= 44
    one.look()
    page.get_by_role("button", name="I'll see to it").click()
    expect(page.get_by_role("status").last).to_contain_text("Ann is on it")
    assert yard.alarms[KEY].state is AlarmState.ACKNOWLEDGED
    one.look()
    page.goto(address)
    expect(page.locator(".letter")).to_contain_text("somebody has answered it already")
    expect(page.get_by_role("button", name="I'll see to it")).to_have_count(0)
    # It lets nobody in: onward lies the password.
    page.get_by_role("link", name="Open it on the page").click()
    expect(page.get_by_role("heading", name="Who is there?")).to_be_visible()
    page.goto(address[:-3])
    expect(page.get_by_role("heading", name="The link has ended")).to_be_visible()
    one.look()


@pytest.mark.parametrize("size", ["phone", "desk"])
def test_a_guest_looks_until_the_link_is_withdrawn(visit, page_at, size):
    keeper, guest = visit("desk"), visit(size)
    page = keeper.go("/enter?next=/people")
    page.get_by_label("The yard's password").fill(PASSWORD)
    page.get_by_role("button", name="Come in").click()
    page.get_by_label("For whom").fill("The neighbours")
    page.get_by_role("button", name="Make a guest link").click()
    expect(page.locator(".given .code")).to_be_visible()
    keeper.look()
    link = page.locator(".made").text_content()
    seen = guest.go(link.removeprefix(page_at[0]))
    expect(seen.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    expect(seen.locator(".foot")).to_contain_text("You may look")
    guest.look()
    seen.goto(page_at[0] + "/place/p1")
    expect(seen.locator(".write")).to_have_count(0)
    guest.look()
    page.get_by_role("button", name="Withdraw the link of The neighbours").click()
    expect(page.locator(".guests")).to_have_count(0)
    seen.goto(page_at[0] + "/place/p1")
    expect(seen.get_by_role("alert")).to_contain_text("not in force any more")
    guest.look()
    seen.goto(link)
    expect(seen.get_by_role("heading", name="The link has ended")).to_be_visible()


def test_what_is_refused_says_what_to_do_next(visit, page_at, yard):
    one = visit("phone")
    page = one.go("/enter?next=/place/p1")
    page.get_by_label("The yard's password").fill(PASSWORD)
    page.get_by_role("button", name="Come in").click()
    expect(page.locator(".write")).to_be_visible()
    page.evaluate("document.querySelectorAll('input[name=token]').forEach((one) => { one.value = 'stale'; })")
    # Sent as a browser without scripts does; the page's own script fetches a token of now and sends it once more.
    page.locator("form", has=page.get_by_role("button", name="Turning now")).evaluate("one => one.submit()")
    expect(page.get_by_role("alert")).to_contain_text("opened too long ago")
    one.look()
    page.get_by_role("link", name="Open it again").click()
    expect(page.get_by_role("heading", name="Bay 1", exact=True)).to_be_visible()
    assert yard.put_in == []
    page.evaluate("document.querySelectorAll('input[name=token]').forEach((one) => { one.value = 'stale'; })")
    page.get_by_role("button", name="Turning now").click()
    expect(page.locator(".done")).to_contain_text("Written down: turned")
    assert len(yard.works()) == 1
    page.goto(page_at[0].replace("yard.example", "rebound.example"))
    expect(page.get_by_role("heading", name="Wrong name")).to_be_visible()
    expect(page.get_by_role("alert")).to_contain_text("rebound.example")
    # What was wrong stands where it was typed, in sight.
    page.goto(page_at[0] + "/place/p1")
    page.get_by_text("Read by hand …").click()
    page.get_by_label("Thermometer shows").fill("warm")
    page.locator(".quick[open] button.main").click()
    expect(page.locator(".quick[open] .wrong")).to_be_in_viewport()
    expect(page.get_by_label("Thermometer shows")).to_be_focused()
    one.look()
