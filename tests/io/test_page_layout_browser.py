"""The page on small screens, with large letters, in a reader's own colours, and on paper."""

import re
import subprocess

import pytest
from page_browser import Visit

from monitor.page.sheets.all_sheets import SHEETS as ALL

pytest.importorskip("playwright", reason="playwright is not installed")

pytestmark = pytest.mark.io

MIX = "/mix?material_1=stable+litter&amount_1=800&measure_1=lb&use_1=all&material_2=leaves&material_3=sawdust&bay=5+x+5+ft"
SHEETS = [*(sheet.path for sheet in ALL if sheet.name), "/place/p2", "/place/b1", "/days/p2", "/round", "/slip/p2", MIX]


def context(browser, width, height=844, **more):
    made = browser.new_context(viewport={"width": width, "height": height}, **more)
    return made, made.new_page()


def sideways(page):
    """Return what sticks out of a sheet sideways, folds open."""
    page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
    return page.evaluate(
        "[...document.querySelectorAll('body *')].filter(one => one.getBoundingClientRect().right > innerWidth + 1"
        " && !one.closest('.scroll, .skip')).map(one => one.outerHTML.slice(0, 90)).slice(0, 3)"
    )


NARROW_AND_LARGE = (
    (320, "100%"), (320, "106.25%"), (320, "212.5%"), (390, "200%"), (390, "212.5%"), (640, "212.5%"),
    (768, "106.25%"), (768, "212.5%"), (844, "106.25%"), (960, "106.25%"), (1280, "212.5%"),
)  # fmt: skip
"""Widths of the window, CSS px, with the size of the text."""


@pytest.mark.parametrize("path", SHEETS)
def test_nothing_sticks_out(browser, demo, path):
    # WCAG 2.2, 1.4.10 (320 px wide) and 1.4.4 (text twice as large).
    made, page = context(browser, 320)
    page.goto(demo + path)
    wrong = {}
    for width, root in NARROW_AND_LARGE:
        page.set_viewport_size({"width": width, "height": 844})
        page.evaluate(f"document.documentElement.style.fontSize = '{root}'")
        found = sideways(page)
        if found or page.evaluate("document.documentElement.scrollWidth") > width:
            wrong[width, root] = found
    made.close()
    assert wrong == {}


def test_letters_follow_the_readers_own_size(browser, demo):
    assert re.search(r"html ?\{[^}]*font: ?([\d.]+%)/", page_css(browser, demo)), "in shares of the reader's own size"


def page_css(browser, demo):
    made, page = context(browser, 390)
    page.goto(demo + "/")
    css = page.evaluate("fetch(document.querySelector('link[rel=stylesheet]').href).then(one => one.text())")
    made.close()
    return css


SMALLEST_PX = 12
"""No letter that is read is smaller, CSS px, however wide the window; ours, WCAG names no size."""
LETTERS = """() => [...document.querySelectorAll('svg text')].filter(one => one.getBoundingClientRect().width).map(one => {
    const { a, b, c, d } = one.getScreenCTM();
    return [parseFloat(getComputedStyle(one).fontSize) * Math.sqrt(Math.abs(a * d - b * c)), one.textContent];
})"""


def test_letters_in_pictures_stay_readable(browser, demo):
    made, page = context(browser, 320)
    seen, small = 0, {}
    for path in (*SHEETS, "/place/p1", "/place/p3", "/place/b2"):
        page.goto(demo + path)
        if not page.locator("svg text").count():
            continue
        page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
        for width in (320, 390, 460, 520, 767, 768, 844, 959, 960, 1024, 1280, 1440):
            page.set_viewport_size({"width": width, "height": 844})
            letters = page.evaluate(LETTERS)
            seen += len(letters)
            below = sorted((round(size, 1), words) for size, words in letters if size < SMALLEST_PX - 0.05)
            if below:
                small[path, width] = below[:3]
            plots = page.evaluate(
                "[...document.querySelectorAll('.plot, .place-head .drawn')].map(one =>"
                " [...one.querySelectorAll('svg')].filter(svg => svg.getBoundingClientRect().width).length)"
            )
            assert set(plots) <= {1}, "each picture is shown once"
    made.close()
    assert small == {}
    assert seen > 3_000, "letters were looked at"


def test_full_marks_are_told_from_empty_ones_without_backgrounds(browser, demo):
    made, page = context(browser, 390, forced_colors="active")
    page.goto(demo + "/place/p2")
    full, empty = (
        page.evaluate(f"getComputedStyle(document.querySelector('.tally {one}')).borderLeftWidth")
        for one in (".full", "i:not(.full)")
    )
    page.goto(demo + "/")
    # Marks made here: which places are well depends on what other tests wrote down before.
    act, well = (
        page.evaluate(
            "one => { const mark = document.createElement('span'); mark.className = `ground ${one}`;"
            " mark.innerHTML = '<i></i>';"
            " document.querySelector('.grounds').append(mark);"
            " return getComputedStyle(mark.firstChild).borderTopWidth; }",
            one,
        )
        for one in ("act", "well")
    )
    made.close()
    assert float(full.removesuffix("px")) > 3 * float(empty.removesuffix("px"))
    assert float(act.removesuffix("px")) > 3 * float(well.removesuffix("px"))


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("size", ["A4", "Letter"])
def test_paper_says_whose_and_when_and_carries_nothing_to_press(browser, demo, tmp_path, dark, size):
    made, page = context(browser, 390, color_scheme="dark" if dark else "light")
    texts = {}
    for path in ("/place/p2", "/before", "/labels", "/slip/p2", "/"):
        page.goto(demo + path)
        file = tmp_path / "sheet.pdf"
        page.pdf(path=str(file), format=size, print_background=False)
        texts[path] = subprocess.run(
            ["pdftotext", "-layout", str(file), "-"], capture_output=True, text=True, check=True, timeout=60
        ).stdout
    page.emulate_media(media="print")
    ink = page.evaluate("getComputedStyle(document.documentElement).getPropertyValue('--ink').trim()")
    shown = page.evaluate(
        "[...document.querySelectorAll('button')].filter(one => one.getBoundingClientRect().width).length"
    )
    made.close()
    place = texts["/place/p2"]
    *leaves, rest = place.split("\f")
    assert rest == ""
    for number, leaf in enumerate(leaves, 1):
        assert re.search(
            r"Bay 2, Tern Hollow allotments\. +As it stood on \w+ \d+ Jul 2026, \d\d:\d\d, yard time\.", leaf
        )
        assert f"{number} of {len(leaves)}" in leaf
    assert re.search(r"^Tern Hollow allotments\. +As it stood on", texts["/"].strip()), (
        "the yard's sheet, without its count"
    )
    for words in ("Turning now", "Touch the plot", "Taken out", "2 weeks", "Hold still"):
        assert words not in place, words
    *leaves, rest = texts["/before"].split("\f")
    assert rest == ""
    assert all(len(one.split()) > 10 for one in leaves), f"no blank page after the last: {leaves[-1]}"
    for path, words in (("/labels", "Scan,"), ("/slip/p2", "Seen, and done")):
        assert texts[path].count("\f") == 1, "one page"
        assert words in texts[path]
        assert "As it stood" not in texts[path], "it is cut out or hung up"
    assert ink == "#26241f", "the ink of the day, whatever the screen's"
    assert shown == 0


def test_what_is_filled_on_a_screen_is_read_on_paper(browser, demo):
    made, page = context(browser, 390, color_scheme="dark")
    page.goto(demo + "/")
    page.emulate_media(media="print")
    inks = page.evaluate(
        "() => { const some = document.createElement('div'); document.querySelector('main').append(some);"
        " some.innerHTML = '<p class=\"item fire\">x</p><p class=tide><span class=is-late><b>T</b></span>'"
        " + '<span class=is-done><b>T</b></span></p>';"
        " return ['.fire', '.is-late > b', '.is-done > b'].map(one => getComputedStyle(some.querySelector(one)))"
        ".map(one => [one.color, one.backgroundColor, parseFloat(one.borderTopWidth) > 2]); }"
    )
    made.close()
    assert inks == [["rgb(0, 0, 0)", "rgba(0, 0, 0, 0)", True]] * 3


def test_the_margin_is_no_background_so_that_contrast_can_be_judged(browser, demo):
    one = Visit(browser, demo, "phone")
    page = one.go("/")
    assert page.evaluate("getComputedStyle(document.body).backgroundImage") == "none"
    one.close()


def test_every_ring_says_in_words_what_it_means(browser, demo):
    made, page = context(browser, 390)
    page.goto(demo + "/")
    rings = page.evaluate(
        "[...document.querySelectorAll('.ground')].map(one => [one.className.split(' ')[1],"
        " one.querySelector('h3').textContent.trim()])"
    )
    made.close()
    assert rings
    for look, words in rings:
        assert (", " in words) == (look != "well"), (look, words)


def test_on_a_phone_the_sheets_names_lie_at_the_thumb_and_hide_nothing(browser, demo):
    made, page = context(browser, 390)
    for path in ("/", "/diary", "/people"):
        page.goto(demo + path)
        bar = page.locator("nav.sheets").bounding_box()
        assert bar["y"] > 0.9 * 844 - 44
        assert bar["height"] < 60, "one row, however many sheets there are"
        assert page.locator(".head").bounding_box()["height"] < 60, "the sheet begins at the top"
        box = page.locator("nav.sheets [aria-current]").bounding_box()
        assert 0 <= box["x"] < 390, "the sheet that is shown is named in sight"
        # WCAG 2.2, 2.4.11: nothing that has the focus lies wholly under the bar.
        hidden = page.evaluate(
            "() => { const bar = document.querySelector('nav.sheets');"
            " const all = [...document.querySelectorAll('main a, main button, main summary')];"
            " return all.filter(one => one.checkVisibility()).filter(one => { one.focus();"
            " const box = one.getBoundingClientRect();"
            " return box.height && box.top >= bar.getBoundingClientRect().top - 4; }).length }"
        )
        assert hidden == 0, path
    made.close()


def test_on_a_desk_the_sheets_names_stand_at_the_top(browser, demo):
    made, page = context(browser, 1440)
    page.goto(demo + "/")
    assert page.locator("nav.sheets").bounding_box()["y"] < 60
    made.close()
