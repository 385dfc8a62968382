"""The page in a real browser, on the demo's yard, on a phone and on a desk: the main jobs, and nothing from outside."""

import re

import pytest
from daemon_process import DaemonProcess, toml
from page_browser import SIZES, Visit

from monitor.page.sheets.all_sheets import SHEETS as ALL

pytest.importorskip("playwright", reason="playwright is not installed")
from playwright.sync_api import expect

expect.set_options(timeout=30_000)

pytestmark = pytest.mark.io

NAMED = [sheet.path for sheet in ALL if sheet.name]


@pytest.mark.parametrize("size", SIZES)
def test_one_glance_says_what_needs_doing(visit, size):
    page = visit(size).go("/")
    expect(page.get_by_role("heading", name="Today", exact=True)).to_be_visible()
    todo = page.locator(".today-sheet")
    expect(todo.locator(".item").first).to_be_visible()
    expect(todo).to_contain_text("No word from it since")
    expect(todo).to_contain_text("Check its battery")
    # Three things can be read without scrolling: where, the deed and why.
    seen = page.locator(".item .why").nth(2).bounding_box()
    assert seen["y"] + seen["height"] < SIZES[size]["height"] - 48
    assert page.locator(".today-sheet").bounding_box()["y"] < page.locator(".ground").last.bounding_box()["y"]
    assert page.locator(".ground").count() == 6
    # Nothing sticks out sideways.
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size]["width"]
    page.locator(".item h3 a").first.click()
    expect(page.locator("main h1")).to_be_visible()
    assert "/place/" in page.url


def test_the_desk_shows_every_place_at_once(visit):
    page = visit("desk").go("/")
    box = page.locator(".ground").last.bounding_box()
    assert box["y"] + box["height"] <= 900


@pytest.mark.parametrize("size", SIZES)
def test_a_turning_is_logged_and_taken_back(visit, size):
    page = visit(size).go("/place/p1")
    page.get_by_role("button", name="Turning now").click()
    expect(page.locator(".done")).to_contain_text("Written down: turned")
    expect(page.locator(".probes")).to_contain_text("outside")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".done")).to_contain_text("Taken back: turned")
    expect(page.get_by_role("button", name="All probes are back in")).to_have_count(0)


@pytest.mark.parametrize("size", SIZES)
def test_watering_takes_two_taps(visit, size):
    page = visit(size).go("/place/p2")
    page.get_by_text("Watered …").click()
    page.locator(".quick[open] button.main").click()
    expect(page.locator(".done")).to_contain_text("Written down: watered 60 L")
    # Taken back, so that the other size is not asked whether it was watered twice.
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".done")).to_contain_text("Taken back: watered 60 L")


def test_a_name_a_hand_reading_and_a_remark(visit):
    page = visit("phone").go("/people")
    page.get_by_label("Name beside what you write down").fill("Ann")
    page.get_by_role("button", name="Keep it").click()
    page.goto(page.url.replace("/people", "/place/p2"))
    page.get_by_text("Read by hand …").click()
    page.get_by_label("Thermometer shows").fill("141")
    page.locator(".quick[open] button.main").click()
    expect(page.locator(".done")).to_contain_text("141 °F by hand")
    expect(page.locator(".entries").first).to_contain_text("141 °F by hand, Ann")
    page.get_by_role("button", name="Undo").click()
    expect(page.locator(".done")).to_contain_text("Taken back: 141 °F by hand")
    expect(page.locator(".log")).not_to_contain_text("141 °F by hand")
    page.get_by_text("Remark …").click()
    page.get_by_label("What you saw").fill("steam, <b>no</b> smell")
    page.locator(".quick[open] button.main").click()
    expect(page.locator(".entries").first).to_contain_text("steam, <b>no</b> smell, Ann")


@pytest.mark.parametrize(("size", "place"), [("phone", "b3"), ("desk", "b2")])
def test_an_alarm_is_seen_and_put_off(visit, size, place):
    page = visit(size).go(f"/place/{place}")
    need = page.locator(".item").first
    need.get_by_role("button", name="I'll see to it").click()
    expect(page.locator(".item").first).to_contain_text("has been on it since")
    page.locator(".item").first.get_by_text("Put off …").click()
    page.locator(".item").first.get_by_role("button", name="07:00").click()
    expect(page.locator(".item").first).to_contain_text("Put off until")


@pytest.mark.parametrize("size", SIZES)
def test_a_plot_is_read_and_looked_at_closer(visit, size):
    page = visit(size, touch=size == "phone").go("/place/p2")
    sheet = page.locator(f".plot-sheet.{'wide' if size == 'desk' else 'narrow'}").first
    sheet.scroll_into_view_if_needed()
    box = sheet.bounding_box()
    middle = (box["x"] + box["width"] / 2, box["y"] + box["height"] / 2)
    page.mouse.move(*middle)
    if size == "phone":
        page.mouse.down()
    told = page.locator(".plot .reader").first
    expect(told).to_be_visible()
    expect(told).to_have_text(re.compile(r"Jul.*24 in \d+(\.\d)? °F.*air"))
    if size == "desk":
        page.mouse.down()
    page.mouse.move(middle[0] + box["width"] / 4, middle[1], steps=4)
    page.mouse.up()
    page.wait_for_url(re.compile(r"from=\d+&to=\d+"))
    expect(page.locator(".plot-sheet svg").first).to_be_attached()
    # The table behind it, for those who cannot use the plot.
    page.get_by_text("The values as a table").click()
    expect(page.locator("table")).to_contain_text("°F")


class Glass:
    """The first plot of a place on a phone, under one or two fingers."""

    def __init__(self, one, path):
        self.touch = one.fingers()
        self.page = one.go(path)
        self.sheet = self.page.locator(".plot-sheet.narrow").first
        self.sheet.evaluate("one => one.scrollIntoView({block: 'center'})")
        svg = self.sheet.locator("svg").first
        box = svg.bounding_box()
        self.t0, self.t1, x0, x1 = (float(svg.get_attribute(f"data-{name}")) for name in ("t0", "t1", "x0", "x1"))
        scale = box["width"] / float(svg.get_attribute("viewBox").split()[2])
        self.left, self.right = box["x"] + x0 * scale, box["x"] + x1 * scale
        self.y = box["y"] + box["height"] / 2
        self.told = self.page.locator(".plot .reader").first

    def x(self, share):
        return self.left + share * (self.right - self.left)

    def at(self, share):
        return self.t0 + share * (self.t1 - self.t0)

    def shows(self, start, end):
        """Wait for another stretch of time, and hold it against what it should be, to 2 % of the old one."""
        self.page.wait_for_url(re.compile(r"from=-?\d+&to=\d+"))
        found = [int(one) for one in re.findall(r"=(-?\d+)", self.page.url)]
        assert found == pytest.approx([start, end], abs=0.02 * (self.t1 - self.t0))


def test_a_finger_reads_values_and_scrolls(visit):
    glass = Glass(visit("phone", touch=True), "/place/p2?span=3days")
    glass.touch("touchStart", (glass.x(0.5), glass.y))
    expect(glass.told).to_have_text(re.compile(r"24 in \d+(\.\d)? °F.*air"))
    first = glass.told.text_content()
    glass.touch("touchMove", (glass.x(0.55), glass.y))
    expect(glass.told).not_to_have_text(first)
    glass.touch("touchMove", (glass.x(0.5), glass.y))
    glass.touch("touchEnd")
    expect(glass.told).to_be_visible()
    # Up and down is the sheet's: it scrolls, and the stretch of time stays.
    before = glass.page.evaluate("scrollY")
    glass.touch("touchStart", (glass.x(0.5), glass.y))
    for step in range(1, 9):
        glass.touch("touchMove", (glass.x(0.5), glass.y - 20 * step))
    glass.touch("touchEnd")
    glass.page.wait_for_function(f"Math.abs(scrollY - {before}) > 40")
    assert glass.page.url.endswith("span=3days")


def test_a_finger_across_the_plot_looks_closer(visit):
    glass = Glass(visit("phone", touch=True), "/place/p2?span=3days")
    glass.touch("touchStart", (glass.x(0.3), glass.y))
    for share in (0.4, 0.5, 0.6, 0.7):
        glass.touch("touchMove", (glass.x(share), glass.y + 3))
    expect(glass.sheet.locator(".stretch")).to_be_visible()
    glass.touch("touchEnd")
    glass.shows(glass.at(0.3), glass.at(0.7))


@pytest.mark.parametrize("upright", [0.0, 0.6, 3.0])
def test_two_fingers_pulled_apart_look_closer(visit, upright):
    glass = Glass(visit("phone", touch=True), "/place/p2?span=3days")
    middle = glass.x(0.5)

    def two(apart):
        across = apart / (1 + upright**2) ** 0.5 / 2
        return (middle - across, glass.y - across * upright), (middle + across, glass.y + across * upright)

    glass.touch("touchStart", two(50)[0])
    glass.touch("touchStart", *two(50))
    for apart in (65, 80, 90, 100):
        glass.touch("touchMove", *two(apart))
    expect(glass.told).to_contain_text("let go to see it")
    glass.touch("touchEnd")
    glass.shows(glass.at(0.25), glass.at(0.75))


def test_two_fingers_pushed_together_look_wider(visit):
    glass = Glass(visit("phone", touch=True), "/place/p2?span=3days")
    middle = glass.x(0.5)
    glass.touch("touchStart", (middle - 60, glass.y), (middle + 60, glass.y))
    for apart in (50, 40, 30):
        glass.touch("touchMove", (middle - apart, glass.y), (middle + apart, glass.y))
    glass.touch("touchEnd")
    glass.shows(glass.at(-0.5), glass.at(1.5))


def test_a_stretch_is_marked(visit):
    page = visit("desk").go("/place/b1")
    page.get_by_text("Stretches marked as trouble or fine").click()
    page.get_by_role("button", name="This was trouble").click()
    expect(page.locator(".done")).to_contain_text("Marked as trouble")
    expect(page.locator(".marks summary")).to_contain_text("(1)")


def test_a_certificate_is_made_and_opened(visit):
    one = visit("desk")
    page = one.go("/place/p3")
    page.set_default_timeout(150_000)
    page.get_by_role("button", name="Make a certificate").click(no_wait_after=True)
    expect(page.locator(".done")).to_contain_text("Certificate made: met", timeout=150_000)
    link = page.locator(".papers a").first.get_attribute("href")
    answer = one.context.request.get(one.base + link)
    assert answer.headers["content-type"] == "application/pdf"
    assert answer.body().startswith(b"%PDF")


def test_labels_are_printed_without_the_rest(visit):
    page = visit("desk").go("/labels")
    page.emulate_media(media="print")
    expect(page.locator(".labels .code")).to_have_count(6)
    expect(page.locator(".labels .code").first).to_be_visible()
    expect(page.locator(".head")).not_to_be_visible()
    assert page.pdf(format="A4").startswith(b"%PDF")


@pytest.mark.parametrize("size", SIZES)
def test_it_is_read_without_scripts(visit, size):
    page = visit(size, script=False).go("/")
    expect(page.locator(".today-sheet")).to_contain_text("Check its battery")
    page.locator(".ground h3 a").first.click()
    expect(page.locator("main h1")).to_be_visible()
    expect(page.locator(".plot svg").first).to_be_attached()


def test_it_stays_up_to_date_by_itself(visit):
    watching, acting = visit("desk"), visit("phone")
    page = watching.go("/place/p2")
    other = acting.go("/place/p2")
    other.get_by_text("Remark …").click()
    other.get_by_label("What you saw").fill("somebody else wrote this")
    other.locator(".quick[open] button.main").click()
    expect(page.locator(".entries").first).to_contain_text("somebody else wrote this", timeout=30_000)


def test_the_yard_is_lost_and_found_again(browser, tmp_path, free_port):
    port = free_port()
    text = toml(None, piles=[("p1", 1)], more=f"[page]\nport = {port}")
    daemon = DaemonProcess(tmp_path, text).start()
    one = Visit(browser, f"http://127.0.0.1:{port}", "phone")
    try:
        daemon.says("The page is at")
        page = one.go("/")
        expect(page.locator("#lost")).to_be_hidden()
        daemon.end()
        expect(page.locator("#lost")).to_be_visible(timeout=40_000)
        expect(page.locator("#lost")).to_have_text(
            re.compile(r"This is how it stood on \w{3} \d+ \w{3} \d{4}, \d\d:\d\d")
        )
        daemon.start()
        daemon.says("The page is at")
        expect(page.locator("#lost")).to_be_hidden(timeout=40_000)
    finally:
        one.close()
        daemon.close()


def test_the_longest_and_worst_names_do_no_harm(browser, tmp_path, free_port):
    port = free_port()
    worst = "W" * 200
    right_to_left = "\u05d0\u05d1\u05d2\u202e <b onclick=alert(1)>" + "long" * 40
    more = f"""[page]\nport = {port}
[bins.b1]\nname = "{worst}"
[bins.b2]\nname = "{right_to_left}"
[probes.{"p" * 60}]\nplace = "b1"\nrole = "bedding"
"""
    daemon = DaemonProcess(tmp_path, toml(None, piles=[("p1", 1)], more=more)).start()
    one = Visit(browser, f"http://127.0.0.1:{port}", "phone")
    try:
        daemon.says("The page is at")
        for path in (*NAMED, "/place/b1", "/place/b2", "/place/p1"):
            page = one.go(path)
            page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
            assert page.evaluate("document.documentElement.scrollWidth") <= 390, path
            assert page.locator("[onclick]").count() == 0
        assert one.faults == []
    finally:
        one.close()
        daemon.close()
