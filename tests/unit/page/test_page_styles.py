"""Each sheet brings the styles and scripts that it needs, and the heavy sheet of a heap no more than those."""

import re

import pytest
from page_visitor import browser
from page_yard_for_tests import page_of

from monitor.page.server.addresses import SHOWN
from monitor.page.shared import static_files

FOR_ALL = ["page.css", "sheet.js", "kept.js"]


def brought(text):
    return re.findall(r'(?:href|src)="/static/([\w.]+\.(?:css|js))\?', text)


@pytest.fixture
def sheets(yard):
    near = browser(page_of(yard)[0])
    paths = ["/", "/place/p1", "/place/b1", *(path for path in SHOWN if "{" not in path and path != "/")]
    answers = {path: near.get(path) for path in paths}
    return {path: one.text for path, one in answers.items() if "text/html" in one.headers["content-type"]}, near


def test_the_yard_and_its_places_do_without_what_is_for_further_sheets(sheets):
    texts, _ = sheets
    assert len(texts) > 12
    assert brought(texts["/"]) == [*FOR_ALL, "yard.css"]
    assert brought(texts["/place/p1"]) == brought(texts["/place/b1"]) == [*FOR_ALL, "plot.js"]
    for path, text in texts.items():
        if path != "/" and not path.startswith("/place/") and brought(text):
            assert brought(text)[:4] == [*FOR_ALL, "further.css"], path


def test_no_sheet_lacks_the_style_of_a_class_that_it_has(sheets):
    texts, near = sheets
    styles = {name: near.get(f"/static/{name}").text for name in static_files.STYLES}
    named = {name: set(re.findall(r"\.([a-z][\w-]*)", text)) for name, text in styles.items()}
    for path, text in texts.items():
        classes = {one for found in re.findall(r'class="([^"]*)"', text) for one in found.split()}
        drawn = {one for one in classes if one.startswith("d-")}
        here = set().union(*(named[name] for name in brought(text) if name in named))
        if here:
            assert drawn <= here, path
            assert classes & (set().union(*named.values()) - here) == set(), path


def test_no_rule_for_paper_is_overruled_by_a_stylesheet_that_comes_after_it(sheets):
    _, near = sheets
    texts = {name: near.get(f"/static/{name}").text for name in static_files.STYLES}
    first = texts.pop("page.css")
    printed = set(re.findall(r"\.([a-z][\w-]*)", first[first.index("@page") :].split(":root{--ink")[0]))
    later = {one for text in texts.values() for one in re.findall(r"\.([a-z][\w-]*)", text)}
    # The later rules of these set nothing that paper sets too.
    assert printed & later <= {
        "scroll",
        "printed",
        "above",
        "hint",
        "whole",
        "ground",
        "fire",
        "wide",
        "middle",
        "narrow",
    }
