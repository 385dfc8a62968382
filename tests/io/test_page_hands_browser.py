"""The page in a reader's hands: it is renewed under them and takes nothing away; what is written while it is lost is kept."""

import re
import time

import pytest
from daemon_process import DaemonProcess, toml
from page_browser import Visit

pytest.importorskip("playwright", reason="playwright is not installed")
from playwright.sync_api import expect

from monitor.app.entries.hand_log import hand_log
from monitor.journal import open_reader

expect.set_options(timeout=30_000)

pytestmark = pytest.mark.io


def somebody_writes(visit, place, words):
    """Write a remark from another phone, so that every sheet that is open is renewed."""
    other = visit("phone").go(f"/place/{place}")
    other.get_by_text("Remark …").click()
    other.get_by_label("What you saw").fill(words)
    other.locator(".quick[open] button.main").click()
    expect(other.locator(".done")).to_contain_text("Written down")


def test_what_is_typed_stays_while_the_sheet_is_renewed(visit):
    page = visit("desk").go("/place/b1")
    page.get_by_text("Stretches marked as trouble or fine").click()
    field = page.locator(".marks form").last.get_by_label("Remark")
    field.fill("lid left open")
    page.locator("main h1").click()
    page.get_by_text("Read by hand …").click()
    somebody_writes(visit, "b1", "the sheet below is new")
    expect(page.locator(".entries").first).to_contain_text("the sheet below is new")
    assert field.input_value() == "lid left open"
    expect(page.locator(".marks")).to_have_attribute("open", "")
    expect(page.locator('.quick[data-key="reading"]')).to_have_attribute("open", "")


def test_what_was_said_of_an_entry_stays_at_the_top(visit):
    page = visit("phone").go("/place/b2")
    page.get_by_text("Remark …").click()
    page.get_by_label("What you saw").fill("mine")
    page.locator(".quick[open] button.main").click()
    expect(page.locator(".done")).to_contain_text("Written down")
    somebody_writes(visit, "b2", "somebody else's")
    expect(page.locator(".entries").first).to_contain_text("somebody else's")
    assert page.locator(".done").bounding_box()["y"] < page.locator("main h1").bounding_box()["y"]
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".done")).to_contain_text("Taken back: mine")
    expect(page.locator(".log")).not_to_contain_text("mine")


def test_a_selection_and_the_focus_stay(visit):
    page = visit("desk").go("/place/p2")
    page.get_by_text("The values as a table").click()
    page.evaluate("getSelection().selectAllChildren(document.querySelector('tbody tr:nth-child(2)'))")
    picked = page.evaluate("String(getSelection())")
    page.get_by_role("button", name="Taken out").first.evaluate("one => one.focus()")
    page.evaluate("window.kept = document.querySelector('.probe-list li')")
    somebody_writes(visit, "p2", "renewed beside a selection")
    expect(page.locator(".entries").first).to_contain_text("renewed beside a selection")
    assert page.evaluate("String(getSelection())") == picked
    assert page.evaluate("document.activeElement.textContent") == "Taken out"
    assert page.evaluate("window.kept.isConnected"), "the very same elements, so that nobody's place in them is lost"


def test_a_tap_counts_although_the_sheet_is_renewed_meanwhile(visit):
    page = visit("desk").go("/place/p2")
    box = page.get_by_text("Watered …").bounding_box()
    page.mouse.move(box["x"] + 10, box["y"] + 10)
    page.mouse.down()
    somebody_writes(visit, "p2", "while a finger is down")
    page.wait_for_timeout(4_000)
    page.mouse.up()
    expect(page.locator('.quick[data-key="watered"]')).to_have_attribute("open", "")
    expect(page.locator(".entries").first).to_contain_text("while a finger is down")
    expect(page.locator('.quick[data-key="watered"]')).to_have_attribute("open", "")


def test_the_sheet_can_be_held_still(visit):
    page = visit("desk").go("/place/p2")
    page.get_by_role("button", name="Hold still").click()
    somebody_writes(visit, "p2", "not seen yet")
    page.wait_for_timeout(5_000)
    expect(page.locator(".entries").first).not_to_contain_text("not seen yet")
    page.get_by_role("button", name="Held still; go on").click()
    expect(page.locator(".entries").first).to_contain_text("not seen yet")


def test_the_switch_that_holds_the_sheet_still_is_kept_in_the_browser(visit):
    page = visit("phone").go("/")
    page.get_by_role("button", name="Hold still").click()
    page.reload()
    expect(page.get_by_role("button", name="Held still; go on")).to_have_attribute("aria-pressed", "true")
    page.get_by_role("button", name="Held still; go on").click()
    page.reload()
    expect(page.get_by_role("button", name="Hold still")).to_be_visible()


def test_the_renewal_of_an_unchanged_sheet_sends_under_a_kilobyte(visit):
    page = visit("desk").go("/people")
    before = page.locator("[data-stand]").text_content()
    page.evaluate("window.first = document.querySelector('main').firstElementChild")
    sizes = []

    def note(answer):
        if answer.status == 304:
            told = answer.request.sizes()
            sizes.append(told["responseHeadersSize"] + told["responseBodySize"])

    page.on("response", note)
    for _ in range(2):
        page.evaluate("sheet.renew()")
        page.wait_for_timeout(1_500)
    assert sizes
    assert max(sizes) < 1_000
    assert page.evaluate("window.first === document.querySelector('main').firstElementChild"), "nothing was put in anew"
    assert page.locator("[data-stand]").text_content() >= before


def test_a_closer_look_throws_nobody_to_the_top(visit):
    page = visit("phone").go("/place/p2")
    page.locator("#over").scroll_into_view_if_needed()
    before = page.evaluate("scrollY")
    assert before > 300
    page.get_by_role("link", name="3 days").click()
    expect(page.get_by_role("link", name="3 days")).to_have_attribute("aria-current", "true")
    assert abs(page.evaluate("scrollY") - before) < 60
    assert page.url.endswith("/place/p2?span=3days")
    page.get_by_role("link", name="earlier").click()
    page.wait_for_url(re.compile("from="))
    assert abs(page.evaluate("scrollY") - before) < 60
    page.go_back()
    expect(page.get_by_role("link", name="3 days")).to_have_attribute("aria-current", "true")
    page.get_by_text("Another stretch of time").click()
    page.locator(".closer").get_by_role("button", name="Show").click()
    page.wait_for_url(re.compile("from="))
    # And what is written keeps the stretch of time.
    page.get_by_text("Remark …").click()
    page.get_by_label("What you saw").fill("seen from close by")
    page.locator(".quick[open] button.main").click()
    expect(page.locator(".done")).to_contain_text("Written down")
    assert "from=" in page.url
    assert "done=" not in page.url, "an undo is for once, not for a bookmark"
    expect(page.get_by_role("button", name="Undo")).to_be_visible()


def test_a_finger_reads_the_line_that_is_drawn_and_lets_go(visit):
    page = visit("desk").go("/place/p2?from=1783726325314&to=1783735902420")
    sheet = page.locator(".plot-sheet.wide").first
    sheet.scroll_into_view_if_needed()
    box = sheet.bounding_box()
    told = page.locator(".plot .reader").first
    for share in (0.1, 0.2, 0.35, 0.5, 0.65, 0.8):
        page.mouse.move(box["x"] + box["width"] * share, box["y"] + box["height"] / 2)
        expect(told).to_have_text(re.compile(r"4 in 1\d\d(\.\d)? °F; 14 in 1\d\d(\.\d)? °F; .*air \d\d"))
    height = told.bounding_box()["height"]
    expect(page.locator(".finger").first).to_be_visible()
    page.mouse.move(5, 5)
    expect(page.locator(".finger").first).to_be_hidden()
    expect(told).to_have_text(re.compile("Touch the plot"))
    assert told.bounding_box()["height"] == height, "nothing below it moves"


def test_the_arrow_keys_walk_along_a_plot_and_say_what_they_read(visit):
    page = visit("desk").go("/place/p2?from=1783726325314&to=1783735902420")
    sheet, told = page.locator(".plot-sheet.wide").first, page.locator(".plot .reader").first
    sheet.focus()
    read = set()
    for key in ("End", "ArrowLeft", "ArrowLeft", "Shift+ArrowLeft", "Home", "ArrowRight"):
        page.keyboard.press(key)
        expect(told).to_have_text(re.compile(r"24 in 1\d\d(\.\d)? °F; air \d\d"))
        read.add(told.text_content())
    assert len(read) == 6, "each key reads another instant"
    assert told.get_attribute("role") == "status", "it is said aloud"
    page.keyboard.press("Escape")
    expect(told).to_have_text(re.compile("Touch the plot"))


def test_a_mistake_is_put_right_where_it_was_made(visit):
    one = visit("phone")
    page = one.go("/place/p2?span=day")
    page.get_by_text("Read by hand …").click()
    page.get_by_label("Thermometer shows").fill("abc")
    with page.expect_response(re.compile("/do/reading")) as answer:
        page.locator(".quick[open] button.main").click()
    assert answer.value.status == 400
    field = page.get_by_label("Thermometer shows")
    expect(page.locator("#wrong")).to_be_visible()
    expect(field).to_have_attribute("aria-invalid", "true")
    expect(field).to_have_attribute("aria-describedby", "wrong")
    expect(field).to_be_focused()
    assert page.url.endswith("/place/p2?span=day")
    field.fill("84.5")
    page.locator(".quick[open] button.main").click()
    expect(page.locator(".done")).to_contain_text("Written down: 84.5 °F by hand")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".done")).to_contain_text("Taken back")
    # The browser itself says on its console that the first try was refused.
    assert len(one.faults) == 1
    assert "400" in one.faults.pop()


def test_other_work_begins_with_no_kind_so_that_nothing_is_logged_by_opening_it(visit):
    page = visit("phone").go("/place/p2")
    page.get_by_text("Other work …").click()
    page.locator(".quick[open] button.main").click()
    expect(page.locator('.quick[data-key="other"]')).to_have_attribute("open", "")
    assert page.url.endswith("/place/p2"), "it begins with no kind of work, so nothing was sent"


@pytest.fixture
def own(browser, tmp_path, free_port):
    """(a daemon of its own, a phone on its page)."""
    port = free_port()
    daemon = DaemonProcess(tmp_path, toml(None, piles=[("p1", 1)], more=f"[page]\nport = {port}")).start()
    one = Visit(browser, f"http://127.0.0.1:{port}", "phone")
    yield daemon, one
    one.close()
    daemon.close()


def test_what_is_written_while_the_yard_is_lost_is_kept_and_sent_once_at_its_own_time(own):
    daemon, one = own
    daemon.says("The page is at")
    page = one.go("/place/p1")
    page.get_by_text("Other work …").click()
    page.locator('select[name="kind"]').select_option("built")
    page.locator(".quick[open] button.main").click()
    expect(page.locator(".done")).to_contain_text("built")
    daemon.end()
    page.get_by_text("Read by hand …").click()
    page.get_by_label("Thermometer shows").fill("61.5")
    page.locator(".quick[open] button.main").click()
    pressed = time.time()
    waiting = page.locator("#kept")
    expect(waiting).to_contain_text("1 entry waits on this device")
    expect(waiting.locator("li")).to_contain_text("Place p1: by hand, 61.5")
    expect(waiting).to_contain_text("With none open, this browser sends nothing")
    # A second one, thought better of: one slip of the thumb throws nothing away.
    page.get_by_text("Remark …").click()
    page.get_by_label("What you saw").fill("never mind")
    page.locator(".quick[open] button.main").click()
    expect(waiting).to_contain_text("2 entries wait on this device")
    waiting.locator("li", has_text="never mind").get_by_role("button", name="Throw away").click()
    expect(waiting.locator("li")).to_have_count(2)
    waiting.get_by_role("button", name="Throw away for good").click()
    expect(waiting.locator("li")).to_have_count(1)
    waiting.get_by_role("button", name="Send now").click()
    expect(waiting.get_by_role("status")).to_contain_text("Still no word from the yard.")
    expect(page.locator('.quick[data-key="reading"]')).not_to_have_attribute("open", "")
    kept = page.evaluate("JSON.parse(localStorage.getItem('heaptender-kept'))")
    names = {name for entry in kept for name, _ in entry["fields"]}
    assert "value" in names
    assert "token" not in names, "nothing that opens or signs anything stays on the device"
    # Both lines stay at the top, one below the other.
    expect(page.locator("#lost")).to_be_visible()
    page.mouse.wheel(0, 600)
    page.wait_for_timeout(300)
    line, box = page.locator("#lost").bounding_box(), page.locator("#kept").bounding_box()
    assert line["y"] == pytest.approx(0, abs=1)
    assert box["y"] >= line["y"] + line["height"] - 1
    # What cannot wait is not kept, and says so.
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".not-sent")).to_contain_text("nothing was done")
    page.wait_for_timeout(3_000)
    daemon.start()
    daemon.says("The page is at")
    expect(page.locator("#kept")).to_be_hidden(timeout=60_000)
    expect(page.locator(".entries")).to_contain_text("61.5 °C by hand", timeout=30_000)
    page.reload()
    page.wait_for_timeout(1_500)
    assert page.locator(".entries li", has_text="61.5 °C by hand").count() == 1
    daemon.end()
    with open_reader(daemon.data) as store:
        (read,) = hand_log(store, "p1", 0)
    assert abs(read.time / 1000 - pressed) < 2.5, "when it was pressed, not when it was sent"


def test_a_round_s_whole_sheet_is_typed_in_at_once_and_what_waits_stays(visit):
    one = visit("phone")
    page = one.go("/round")
    page.get_by_text("Type in a sheet …").click()
    page.locator('input[name="value:b1:"]').fill("72")
    page.locator('select[name="squeeze:b1:"]').select_option("3")
    page.locator('input[name="value:p2:"]').fill("hot")
    page.locator('input[name="by:b1:"]').fill("BK")
    with page.expect_response(re.compile("/do/round")) as answer:
        page.get_by_role("button", name="Write it all down").click()
    assert answer.value.status == 400
    expect(page.locator("#question")).to_contain_text("1 line waits")
    expect(page.locator("#question")).to_contain_text("72 °F by hand")
    expect(page.locator('input[name="value:p2:"]')).to_have_value("hot")
    expect(page.locator('input[name="value:p2:"]')).to_have_attribute("aria-invalid", "true")
    expect(page.locator('input[name="value:b1:"]')).to_have_value("")
    page.locator('input[name="value:p2:"]').fill("141")
    page.get_by_role("button", name="Write it all down").click()
    expect(page.locator(".done")).to_contain_text("141 °F by hand")
    expect(page.locator('input[name="value:p2:"]')).to_have_value("")
    one.go("/place/b1")
    expect(page.locator(".log")).to_contain_text("72 °F by hand")
    expect(page.locator(".log")).to_contain_text("BK")
    # The browser itself says on its console that the first try was refused.
    assert len(one.faults) == 1
    assert "400" in one.faults.pop()


def test_what_waits_for_an_answer_stays_while_the_sheet_is_renewed(visit):
    one = visit("phone")
    page = one.go("/round")
    page.get_by_text("Type in a sheet …").click()
    page.locator('input[name="value:p2:"]').fill("hot")
    page.get_by_role("button", name="Write it all down").click()
    expect(page.locator("#question")).to_contain_text("1 line waits")
    with page.expect_response(lambda answer: answer.url.endswith("/round") and answer.request.method == "GET"):
        somebody_writes(visit, "b1", "somebody else's, while a line waits")
    page.wait_for_timeout(500)
    expect(page.locator("#question")).to_contain_text("1 line waits")
    expect(page.locator('input[name="value:p2:"]')).to_have_value("hot")
    one.faults.clear()  # the browser says on its console that the form was refused
    page = one.go("/place/b1")
    page.get_by_text("Other work …").click()
    page.locator('.quick[data-key="other"] select[name="kind"]').select_option("emptied")
    page.get_by_text("When, who, a remark").last.click()
    page.locator(".quick[open] input[name=when]").fill("2026-01-01T09:00")
    page.locator(".quick[open] button.main").click()
    expect(page.locator("#question")).to_contain_text("Is the day right?")
    with page.expect_response(lambda answer: answer.url.endswith("/place/b1") and answer.request.method == "GET"):
        somebody_writes(visit, "b1", "somebody else's, while a question waits")
    page.wait_for_timeout(500)
    expect(page.locator("#question")).to_contain_text("Is the day right?")
    one.faults.clear()


def test_an_entry_whose_answer_was_lost_is_written_down_once(own):
    daemon, one = own
    daemon.says("The page is at")
    page = one.go("/place/p1")
    lost = []

    def swallow(route):
        if not lost:
            # The yard takes it in; the phone never hears of it.
            lost.append(route.fetch().status)
            route.abort()
        else:
            route.continue_()

    page.route("**/do/work", swallow)
    page.get_by_text("Remark …").click()
    page.get_by_label("What you saw").fill("a fox at the bay")
    page.locator(".quick[open] button.main").click()
    expect(page.locator("#kept")).to_contain_text("1 entry waits on this device")
    page.get_by_role("button", name="Send now").click()
    expect(page.locator("#kept")).to_be_hidden()
    page.reload()
    assert page.locator(".entries li", has_text="a fox at the bay").count() == 1
    assert lost


def test_an_entry_is_mended_from_its_line_and_what_is_wrong_stands_at_its_field(visit):
    one = visit("phone")
    page = one.go("/place/b1")
    page.get_by_text("Fed …").click()
    page.locator('.quick[open] input[name="amount"]').fill("3")
    page.locator('.quick[open] select[name="measure"]').select_option("lb")
    page.locator(".quick[open] button.main").click()
    expect(page.locator(".done")).to_contain_text("fed 3 lb")
    page.locator(".entries a", has_text="fed 3 lb").first.click()
    expect(page.locator("h1")).to_contain_text("Entry")
    amount = page.get_by_label("How much")
    amount.fill("a handful")
    page.get_by_role("button", name="Put it right").click()
    expect(page.get_by_role("alert")).to_contain_text("a handful")
    expect(amount).to_be_focused()
    # Who hears the page gets the reason with the field itself.
    session = one.context.new_cdp_session(page)
    tree = session.send("Accessibility.getFullAXTree")["nodes"]
    field = next(
        node
        for node in tree
        if node["role"]["value"] == "textbox" and node["name"]["value"].startswith("How much") and not node["ignored"]
    )
    said = {one["name"]: one["value"].get("value") for one in field["properties"]}
    assert said["invalid"] == "true"
    assert "a handful" in field["description"]["value"]
    amount.fill("2")
    page.locator('.mend select[name="by"]').select_option("?")
    page.get_by_role("button", name="Put it right").click()
    name = page.get_by_label("Somebody else's name")
    expect(name).to_be_focused()
    name.fill("Bo")
    page.get_by_role("button", name="Put it right").click()
    expect(page.locator(".done")).to_contain_text("put right")
    line = page.locator(".entries li", has_text="fed 2 lb")
    expect(line).to_contain_text("Bo")
    line.get_by_role("link").click()
    page.get_by_role("button", name="Take it back").click()
    expect(page.locator(".done")).to_contain_text("taken back")
    expect(page.locator(".log")).not_to_contain_text("fed 2 lb")
    # The browser itself says on its console that two tries were refused.
    assert len(one.faults) == 2
    one.faults.clear()


def test_an_entry_is_mended_without_javascript(visit):
    one = visit("desk")
    one.go("/place/b2")
    plain = visit("desk", script=False)
    page = plain.go("/place/b2")
    page.get_by_text("Remark …").click()
    page.get_by_label("What you saw").fill("lid ajar")
    page.locator(".quick[open] button.main").click()
    page.locator(".entries a", has_text="lid ajar").click()
    page.get_by_label("What you saw").fill("lid was ajar all night")
    page.get_by_role("button", name="Put it right").click()
    assert "lid was ajar all night" in page.locator(".log").inner_text()
