"""How the yard stands on a phone's home screen, and that strangers learn no name from it."""

import re

import pytest

from monitor.page.sheets.home_screen import short_name


def test_the_manifest_names_the_yard_and_its_icons_are_there(near):
    answer = near.get("/yard.webmanifest")
    assert answer.headers["content-type"] == "application/manifest+json"
    told = answer.json()
    assert (told["name"], told["short_name"]) == ("Tern Hollow allotments", "Tern Hollow")
    assert (told["start_url"], told["scope"], told["display"]) == ("/", "/", "minimal-ui")
    kinds = {one["type"]: near.get(one["src"]) for one in told["icons"]}
    assert {kind: one.headers["content-type"].partition(";")[0] for kind, one in kinds.items()} == {
        kind: kind for kind in kinds
    }
    assert all(one.status_code == 200 for one in kinds.values())


def test_an_icon_has_the_size_that_is_said_of_it(near):
    for one in near.get("/yard.webmanifest").json()["icons"]:
        if one["type"] == "image/png":
            data = near.get(one["src"]).content
            # PNG (ISO/IEC 15948): width and height are the first two fields of IHDR.
            width, height = (int.from_bytes(data[at : at + 4], "big") for at in (16, 20))
            assert f"{width}x{height}" == one["sizes"]


def test_a_sheet_leads_to_it_and_says_the_colours_of_its_paper(near):
    text = near.get("/").text
    assert 'rel="manifest" href="/yard.webmanifest" crossorigin="use-credentials"' in text
    colours = re.findall(r'name="theme-color" media="\(prefers-color-scheme: (\w+)\)" content="(#[0-9a-f]{6})"', text)
    css = near.get("/static/page.css").text
    assert [scheme for scheme, _ in colours] == ["light", "dark"]
    assert all(f"--paper:{colour}" in css.replace(" ", "") for _, colour in colours)


def test_strangers_get_no_manifest_and_no_name(open_page):
    stranger = open_page[0]()
    assert "Tern Hollow" not in stranger.get("/yard.webmanifest").text
    gate = stranger.get("/enter").text
    assert "webmanifest" not in gate
    assert "Tern Hollow" not in gate


@pytest.mark.parametrize(
    ("name", "short"),
    [("Tern Hollow allotments", "Tern Hollow"), ("Yard", "Yard"), ("Wurmkompostierung Nord", "Wurmkomposti")],
)
def test_a_name_below_an_icon_is_cut_at_a_word_where_it_can_be(name, short):
    assert short_name(name) == short
