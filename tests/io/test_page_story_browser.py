"""The demo's year in a real browser: stock, lots with their trees, a recall, labels of bags, diary, report, a mix."""

import re
import subprocess
import sys

import pytest
from code_reader import text_of_code
from demo_gate import PASSWORD, gated
from page_browser import SIZES, Visit

pytest.importorskip("playwright", reason="playwright is not installed")
from playwright.sync_api import expect

from monitor.simulate.season_yard import CASTINGS_LOT, COMPOST_LOT, HEAP_NAME, HELD_LOT

expect.set_options(timeout=30_000)

pytestmark = pytest.mark.io

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
SMALLEST_PX = 11
"""As in `test_page_layout_browser`."""
LETTERS = """() => {
    const seen = [...document.querySelectorAll('svg:not(.bags svg) text')].filter(one => one.getBoundingClientRect().width);
    return seen.map(one => {
        const { a, b, c, d } = one.getScreenCTM();
        return [parseFloat(getComputedStyle(one).fontSize) * Math.sqrt(Math.abs(a * d - b * c)), one.textContent];
    });
}"""
"""Sizes of all letters in pictures, without the labels: those are shown as large as they are on paper."""
LOT_SHEETS = [f"/lots/{lot}" for lot in (CASTINGS_LOT, COMPOST_LOT, HELD_LOT)]
SHEETS = [
    "/stock",
    *LOT_SHEETS,
    "/recall?what=d1",
    f"/bags/{CASTINGS_LOT}?for=all",
    "/diary",
    "/report?season=2026",
    "/mix",
]
GIVEN_TO = ("allotment 14", "the school garden")
NO_NAMES = (*GIVEN_TO, "the riding stable", "the cafe", "a breeder", "6 USD", "six pots", "three pots")
"""Who brought and got something, prices and remarks: nothing of it is for whoever scans a bag."""


@pytest.fixture(scope="module")
def base(tmp_path_factory):
    """The demo's record after its weekend, served by a name; gives the page's address."""
    from brokers import find_free_port

    folder = tmp_path_factory.mktemp("story")
    words = [sys.executable, "-m", "monitor", "demo", "--seconds", "8", "--folder", str(folder)]
    subprocess.run(words, check=True, capture_output=True, timeout=200)
    with gated(folder, find_free_port()) as address:
        yield address


@pytest.fixture(scope="module")
def key(browser, base):
    """What a browser keeps once a keeper has come in."""
    one = Visit(browser, base, "desk")
    page = one.go("/enter?next=/stock")
    page.get_by_label("Your name").fill("Yard keeper")
    page.get_by_label("The yard's password").fill(PASSWORD)
    page.get_by_role("button", name="Come in").click()
    expect(page.get_by_role("heading", name="Stock and lots")).to_be_visible()
    kept = one.context.cookies()
    one.close()
    return kept


@pytest.fixture
def visit(browser, base, key):
    """A function that opens a keeper's window, or with `known=False` a stranger's."""
    made = []

    def open_one(size, *, known=True, **more):
        one = Visit(browser, base, size, **more)
        if known:
            one.context.add_cookies(key)
        made.append(one)
        return one

    yield open_one
    for one in made:
        outside = [url for url in one.asked if not url.startswith((base, "data:"))]
        one.close()
        assert outside == []
        # A browser says of every plain address that is no loopback that this header does nothing there.
        assert [fault for fault in one.faults if "Cross-Origin-Opener-Policy" not in fault] == []


@pytest.mark.parametrize("size", SIZES)
@pytest.mark.parametrize("path", SHEETS)
def test_a_sheet_of_the_story_fits_is_readable_and_open_to_everybody(visit, axe, size, path):
    one = visit(size)
    page = one.go(path)
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size]["width"]
    small = [(px, words) for px, words in page.evaluate(LETTERS) if px < SMALLEST_PX - 0.05]
    assert small == []
    page.evaluate(axe)
    found = page.evaluate(f"axe.run(document, {{runOnly: {RULES}}})")["violations"]
    assert [(wrong["id"], wrong["nodes"][0]["html"]) for wrong in found if wrong["impact"] != "minor"] == []


@pytest.mark.parametrize("size", SIZES)
def test_the_lots_lead_from_the_stock_to_all_that_went_in(visit, size):
    page = visit(size).go("/stock")
    lots = page.locator("ul.lots > li")
    expect(lots).to_have_count(3)
    expect(lots.filter(has_text=HELD_LOT)).to_contain_text("Held back: bean test is not in.")
    expect(lots.filter(has_text=CASTINGS_LOT)).to_contain_text("Not held back. 6 lb of 20 lb left. Risk: herbicide")
    expect(lots.filter(has_text=COMPOST_LOT)).to_contain_text("All given out")
    page.get_by_role("link", name=CASTINGS_LOT).click()
    expect(page.locator("h1")).to_contain_text("Worm castings")
    expect(page.locator(".state")).to_have_text(
        f"Bedding heat treated (record {HEAP_NAME}); food and worms added later were not."
    )
    tree = page.locator(".tree svg:visible")
    expect(tree).to_have_count(1)
    for words in ("stable litter from", "leaves", "coffee grounds", "food scraps", HEAP_NAME):
        expect(tree).to_contain_text(words)
    expect(page.locator("section", has=page.locator("#durations"))).to_contain_text("For information only")
    expect(page.locator("section", has=page.locator("#given"))).to_contain_text("allotment 14: 6 lb for 6 USD")


@pytest.mark.parametrize("size", SIZES)
def test_two_taps_lead_from_a_lot_to_everybody_who_has_some_of_the_doubtful_load(visit, size):
    page = visit(size).go(f"/lots/{HELD_LOT}")
    page.get_by_role("link", name="Who has some of d1", exact=True).click()
    expect(page.locator("h1")).to_have_text("Who has some of d1, stable litter from the riding stable")
    expect(page.locator(".state")).to_have_text("Tell allotment 14, allotment 3, the school garden.")
    for lot in (CASTINGS_LOT, COMPOST_LOT, HELD_LOT):
        expect(page.get_by_role("link", name=lot)).to_be_visible()
    expect(page.locator("main")).not_to_contain_text("p3-2026-05-09")


def test_the_code_of_a_bag_opens_its_lot_for_a_stranger_without_a_name(visit, base, axe):
    keeper = visit("desk")
    page = keeper.go(f"/lots/{CASTINGS_LOT}")
    page.get_by_role("link", name="Labels for its bags").click()
    page.get_by_role("link", name="A code for anybody who has a bag").click()
    expect(page.locator(".bags li")).to_have_count(8)
    expect(page.locator(".bags li").first).to_contain_text("By the record it may carry: herbicide.")
    code = text_of_code(page.locator(".bags li").first.inner_html())
    assert code.startswith(f"{base}/bag/")
    stranger = visit("phone", known=False)
    sheet = stranger.go(code.removeprefix(base))
    expect(sheet.locator("h1")).to_contain_text(CASTINGS_LOT)
    expect(sheet.locator(".state")).to_contain_text(f"Bedding heat treated (record {HEAP_NAME})")
    expect(sheet.locator("#tests")).to_be_visible()
    expect(sheet.locator("main")).to_contain_text("bean test: passed")
    said = sheet.content()
    assert [name for name in NO_NAMES if name in said] == []
    assert sheet.evaluate("document.documentElement.scrollWidth") <= SIZES["phone"]["width"]
    sheet.evaluate(axe)
    found = sheet.evaluate(f"axe.run(document, {{runOnly: {RULES}}})")["violations"]
    assert [(wrong["id"], wrong["nodes"][0]["html"]) for wrong in found if wrong["impact"] != "minor"] == []


@pytest.mark.parametrize("size", SIZES)
def test_the_report_of_the_year_and_the_diary_tell_the_story(visit, size):
    one = visit(size)
    page = one.go("/report?season=2026")
    expect(page.locator("main")).to_contain_text("p3-2026-05-09")
    wide = "[...document.querySelectorAll('.report .scroll')].filter(one => one.scrollWidth > one.clientWidth).length"
    assert page.evaluate(wide) == 0, "no table is cut off"
    for words in ("the riding stable", "the park", "the cafe", "Harvested", "a school class, 24 children"):
        expect(page.locator("main")).to_contain_text(words)
    page = one.go("/diary")
    expect(page.locator("main")).to_contain_text("Bay 3: make its certificate.")
    expect(page.locator("main")).to_contain_text(re.compile(r"Bay 2: turn it\."))


@pytest.mark.parametrize("size", SIZES)
def test_what_is_in_stock_is_offered_for_the_next_heap(visit, size):
    page = visit(size).go("/mix")
    names = [row.input_value() for row in page.get_by_label("Material", exact=True).all()]
    assert names[:4] == ["stable litter", "food scraps", "coffee grounds", "leaves"]
    expect(page.locator("form.mix")).to_contain_text("RISK: wormer")
    page.get_by_role("button", name="Work it out").click()
    expect(page.get_by_role("heading", name="The mix")).to_be_in_viewport()
    expect(page.locator(".mix-parts")).to_contain_text("stable litter: 223")
