"""The sheet of paper for a round by hand."""

from monitor.model.settings import Bin, Pile, Settings, Site
from monitor.page.sheets.round_sheet import Row, rows_of


def test_each_spot_has_a_line_and_a_place_is_named_once():
    settings = Settings(
        site=Site(name="Yard"),
        piles={"p1": Pile(name="Bay 1", spots=("west", "east")), "p2": Pile(name="Bay 2")},
        bins={"b1": Bin(name="Bin 1", spots=("door",))},
    )
    assert rows_of(settings) == [
        Row("Bay 1", "west", bed=False),
        Row("", "east", bed=False),
        Row("Bay 2", "", bed=False),
        Row("Bin 1", "door", bed=True),
    ]


def test_the_sheet_is_reached_from_the_diary_and_explains_the_squeeze(near):
    assert 'href="/round"' in near.get("/diary").text
    sheet = near.get("/round").text
    assert "2 holds, no shine" in sheet
    assert "rotten eggs" in sheet
    assert "If it smokes or smells of burning" in sheet
    assert sheet.count("<tr>") > 2
