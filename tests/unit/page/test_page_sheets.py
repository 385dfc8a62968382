"""What the sheets show: needs first, the worst place first, hostile names harmless, nothing from outside."""

import gzip
import re
from html.parser import HTMLParser
from pathlib import Path

import numpy as np
import pytest
from page_visitor import signed_in
from page_yard_for_tests import TestYard, page_of

from monitor.model.events import EventKind
from monitor.model.readings import is_hand
from monitor.page.shared import static_files
from monitor.page.sheets.all_sheets import SHEETS


class Elements(HTMLParser):
    """Collects what a browser would make of a text."""

    def __init__(self):
        super().__init__()
        self.elements, self.attributes = [], []

    def handle_starttag(self, tag, attrs):
        self.elements.append(tag)
        self.attributes += [name for name, _ in attrs]


NAMED = [sheet.path for sheet in SHEETS if sheet.name]
HOSTILE = "<script>alert(1)</script>\"'&\u202e\u2028" + "x" * 500


def test_the_yard_says_what_needs_doing_before_it_shows_the_places(near):
    text = near.get("/").text
    assert "WORMS IN DANGER" in text
    assert text.index(">Today<") < text.index(">Plan<")
    assert re.findall(r'class="whole" href="/place/(\w+)"', text) == ["p1", "p2", "b1"]
    assert "Shade it now" in text


def test_a_pile_shows_its_rule_its_plot_and_a_table(near):
    text = near.get("/place/p1").text
    assert "Produce safety, turned composting" in text
    assert "2 of 15 days, 0 of 5 turnings" in text, "as of now, not as of the last change"
    assert text.count('data-line="24 in"') >= 2
    assert 'data-line="air"' in text
    assert "<caption" in text
    assert "140 °F" in text


def test_a_bin_shows_heat_and_moisture(near):
    text = near.get("/place/b1").text
    assert 'data-line="b1-m"' in text
    assert "93.2 °F" in text
    assert "72 % moisture" in text


def test_an_empty_pile_says_so(near):
    assert "empty" in near.get("/place/p2").text


@pytest.mark.parametrize("path", ["/place/nowhere", "/nothing", "/static/../keys.py", "/certificate/none"])
def test_what_is_not_there_is_told_in_a_sentence(near, path):
    answer = near.get(path)
    assert answer.status_code == 404
    assert "Traceback" not in answer.text


@pytest.mark.parametrize("path", [*NAMED, "/away?since=2026-07-18T10:00"])
def test_the_other_sheets_open(near, path):
    assert near.get(path).status_code == 200


@pytest.mark.parametrize("span", ["span=day", "span=2weeks", "from=1&to=2", "from=x&to=y", "from=9999999999999&to=1",
                                  "from=2026-07-18T10:00&to=2026-07-19T10:00"])  # fmt: skip
def test_any_span_is_shown_or_quietly_replaced(near, span):
    assert near.get(f"/place/p1?{span}").status_code == 200


def test_the_navigation_names_every_sheet_that_has_a_name(near):
    text = near.get("/").text
    for sheet in SHEETS:
        assert (f'<li><a href="{sheet.path}"' in text) is bool(sheet.name)
        assert not sheet.name or f">{sheet.name}</a></li>" in text


def test_a_label_leads_to_its_place(yard, password):
    app, _ = page_of(yard, link="http://yard.example:8460", password_hash=password[1])
    text = signed_in(app, host="yard.example:8460").get("/labels").text
    assert "http://yard.example:8460/place/p1" in text
    assert text.count('class="code"') == 3
    assert "cannot follow" not in text


def test_a_label_is_50_mm_large_and_bears_a_quarter_of_its_squares_lost(near):
    text = near.get("/labels").text
    found = re.findall(r'class="code" viewBox="0 0 (\d+) \1" width="([\d.]+)mm" height="\2mm"', text)
    assert len(found) == 3
    for squares, mm in found:
        # Four bare squares on either side belong to the code (ISO/IEC 18004), 50 mm are its own.
        assert float(mm) * (int(squares) - 8) / int(squares) == pytest.approx(50, abs=0.02)
    import segno

    address = re.search(r'class="address">([^<]+)<', text)[1]
    assert segno.make(address, error="q", micro=False).error in ("Q", "H")
    assert segno.make(address, error="q", micro=False).symbol_size(border=4)[0] == int(found[0][0])
    assert text.count("Scan, then write down") == 3


def test_a_slip_is_reached_from_its_place_and_has_its_depths(near):
    assert 'href="/slip/p1"' in near.get("/place/p1").text
    text = near.get("/slip/p1").text
    assert ">Bay 1</text>" in text
    assert ">24 in</text>" in text
    assert "Smoke or a smell" in text
    bed = near.get("/slip/b1").text
    assert ">Squeeze</text>" in bed
    assert near.get("/slip/nowhere").status_code == 404


def test_labels_that_lead_to_this_computer_alone_say_so(near):
    assert "a phone cannot follow them" in near.get("/labels").text


def test_hostile_names_and_notes_are_only_text(tmp_path):
    from page_visitor import browser

    yard = TestYard(tmp_path, pile_name='"<img src=x onerror=alert(1)>\\u202e\'&"')
    try:
        yard.put(EventKind.WORK, {"time": yard.clock, "place": "p1", "kind": "note", "note": HOSTILE, "by": HOSTILE})
        app, _ = page_of(yard)
        client = browser(app)
        client.post("/name", data={"token": client.token(), "name": HOSTILE})
        for path in (*NAMED, "/place/p1"):
            text = client.get(path).text
            assert "<img" not in text
            assert "<script>alert" not in text
            assert "\u202e" not in text
            parsed = Elements()
            parsed.feed(text)
            assert not [name for name in parsed.attributes if name.startswith("on")]
            assert "img" not in parsed.elements
    finally:
        yard.close()


@pytest.mark.parametrize("path", [*NAMED, "/place/p1", "/place/b1"])
def test_nothing_comes_from_outside_and_nothing_is_inline(near, path):
    text = near.get(path).text
    assert not re.search(r'(?:src|href|action)="(?:https?:)?//', text)
    assert "style=" not in text
    assert "<style" not in text
    assert not re.search(r"<script(?! src=)", text)


def test_what_stands_still_is_dated(yard, near):
    yard.fresh = False
    assert "The daemon does not answer now" in near.get("/").text


def test_files_keep_their_name_only_while_they_stay_the_same(near):
    path = re.search(r'href="(/static/page\.css\?\w+)"', near.get("/").text)[1]
    answer = near.get(path)
    assert "immutable" in answer.headers["cache-control"]
    assert "--ink" in answer.text


def test_every_style_is_served_and_what_is_for_readers_is_not(near):
    served = "".join(near.get(f"/static/{name}").text for name in static_files.STYLES)
    files = sorted((Path(static_files.__file__).parents[1] / "styles").glob("*.css"))
    assert sorted(one for names in static_files.STYLES.values() for one in names) == [file.stem for file in files]
    bare = [re.sub(r"/\*.*?\*/|\s|;(?=\s*\})", "", file.read_text(), flags=re.DOTALL) for file in files]
    assert all(style in re.sub(r"\s", "", served) for style in bare)
    assert "/*" not in served.split("--ink:")[0]


def test_the_first_view_is_small(near):
    text = near.get("/").text
    files = re.findall(r'"(/static/[^"]+)"', text)
    assert len(text.encode()) + sum(len(near.get(path).content) for path in files) < 62_000


def test_the_yards_sheet_goes_over_the_wire_in_27_kb(near):
    text = near.get("/").text
    files = re.findall(r'"(/static/[^"]+\.(?:css|js)[^"]*)"', text)
    assert [re.sub(r".*/|\?.*", "", one) for one in files] == ["page.css", "sheet.js", "kept.js", "yard.css"]
    packed = sum(len(gzip.compress(one, 6)) for one in (text.encode(), *(near.get(path).content for path in files)))
    assert packed < 27_000


def ragged(rng):
    """Readings that leap as far as they can, with a pause now and then."""
    keep = rng.random(100_000) > 0.3
    return keep, rng.integers(0, 70_000, 100_000)


def strolling(rng):
    """Readings like those that the benchmark of the page has: a stroll, one step a minute."""
    keep = np.zeros(100_000, bool)
    keep[::23] = True
    steps = np.where(keep, rng.integers(-1, 2, 100_000), 0)
    return keep, 25_000 + (steps.cumsum() % 320) * 62


@pytest.mark.parametrize(("sent", "most"), [(ragged, 145_000), (strolling, 107_000)])
def test_the_sheet_of_a_place_is_small_whatever_its_probes_sent(near, monkeypatch, sent, most):
    from monitor.page.pictures import place_plots
    from monitor.page.pictures.plot_series import PlotSeries

    rng = np.random.default_rng(1)

    def read(look, probe, start, end, *more):
        if is_hand(probe) and sent is strolling:
            return real(look, probe, start, end, *more)
        time = np.linspace(start, end, 100_000).astype(np.int64)
        keep, milli = sent(rng)
        return PlotSeries(probe, real(look, probe, start, end, *more).quantity, time[keep], milli[keep])

    real = place_plots.series_within
    monkeypatch.setattr(place_plots, "series_within", read)
    text = near.get("/place/p1").text
    files = re.findall(r'(?:href|src|data-photo)="(/static/[^"]+\.(?:css|js)[^"]*)"', text)
    assert len(files) == 5
    assert text.count('data-line="24 in"') == 3
    # Ours (issue 14): three days of a heap with everything that it needs, as it was before there were three drawings of a plot.
    assert len(text.encode()) + sum(len(near.get(path).content) for path in files) < most


def test_a_pile_shows_where_it_is_on_its_way(near):
    text = near.get("/place/p1").text
    way = text[text.index('class="way"') :].split("</ol>")[0]
    words = re.findall(r"<span>([^<]+)</span>", way)
    assert words == ["heating", "holding", "cooling", "cool enough for worms"]
    assert 'aria-current="step"><span>holding' in way


def test_the_yard_counts_who_watches_what(near):
    text = near.get("/").text
    assert re.search(r'id="watched">\d place\w? \w+', text), text


def test_each_sheet_says_how_to_work_safely(near):
    heap, bed = near.get("/place/p1").text, near.get("/place/b1").text
    assert "Working safely" in heap
    assert "never reach into a hot heap" in heap
    assert "Dung of the two weeks after worming" in bed
    assert "Local codes, your permit and the fire service come before anything said here." in bed


def test_the_days_that_did_not_count_are_told_with_their_reason(near):
    assert 'href="/days/p1"' in near.get("/place/p1").text
    text = near.get("/days/p1").text
    assert "1 of 2 days count" in text
    assert "below 131 °F from 10:00 to 11:00" in text
    assert near.get("/days/p2").status_code == 404, "nothing lies there"
    assert near.get("/days/b1").status_code == 404


def test_no_word_in_the_picture_of_a_bin_is_cut(yard, near):
    yard.read(("b1-t", 21.0, "Cel"), ("b1-m", 70.0, "%"))
    for path in ("/", "/place/b1"):
        text = near.get(path).text
        cut = [one for one in re.findall(r"<text[^>]*>([^<]*)</text>", text) if "…" in one]
        assert cut == [], path
