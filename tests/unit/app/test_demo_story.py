"""The demo's record tells a whole story, from the loads that came in to the bags, in the words of the commands."""

import json
from datetime import date
from pathlib import Path
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner

from monitor.app.command import heaptender
from monitor.app.daemon.demo import Demo
from monitor.app.seasons import Gathering, HeatLook, heaps_of
from monitor.app.stock import material_record
from monitor.app.yard.yard_view import yard_view
from monitor.configuration import load
from monitor.model.times import show_time
from monitor.proof.rules import rule_ids
from monitor.reports import Span
from monitor.simulate.season_yard import (
    ASKED_ALL,
    ASKED_BAY,
    ASKED_SOME,
    CASTINGS_LOT,
    COMPOST_LOT,
    HEAP_NAME,
    HELD_LOT,
    PARTS,
    WORKED_OUT,
)


@pytest.fixture(scope="module")
def file(tmp_path_factory):
    """The demo's configuration, with the record as it stands when the weekend begins."""
    folder = tmp_path_factory.mktemp("story")
    demo = Demo(folder, 60, lambda _: None)
    demo.prepare(lambda _done, _total: None)
    demo.daemon.end()
    return folder / "heaptender.toml"


@pytest.fixture
def said(file):
    """A function that calls a command on it: returns its exit code and what it said."""

    def call(*words):
        run = CliRunner().invoke(
            heaptender, [*words, "--config", str(file)], standalone_mode=False, catch_exceptions=False
        )
        return run.return_value or 0, run.output

    return call


def test_the_heaps_are_built_by_the_mix_that_was_worked_out(said):
    some = [word for one in ASKED_SOME for word in ("--some", one)]
    code, text = said("recipe", "--all", ASKED_ALL, *some, "--bay", ASKED_BAY, "--json")
    found = json.loads(text)
    assert (code, found["fits"]) == (0, True)
    leaves_lb = next(one["mass_kg"] for one in found["parts"] if one["material"] == "leaves") / 0.45359237
    assert round(leaves_lb / 32.0) == 47, "bags of 32 gal, by the density of the table"
    assert PARTS == "stable litter=24 barrow; leaves=47 bag; coffee grounds=1000 lb"
    assert f"C/N {found['cn']:.0f} and moisture {found['moisture']:.0f} %" in WORKED_OUT


def test_there_is_a_lot_of_each_state(said):
    lots = {one["lot"]: one for one in json.loads(said("lots", "--json")[1])}
    assert {name: one["status"] for name, one in lots.items()} == {
        COMPOST_LOT: "all given out", CASTINGS_LOT: "not held back", HELD_LOT: "held back",
    }  # fmt: skip
    assert 2 < lots[CASTINGS_LOT]["left_kg"] < 3
    assert {one["to"] for one in lots[CASTINGS_LOT]["given"]} == {"allotment 14", "the school garden"}
    _, text = said("lots")
    assert f"all inputs heat treated (record {HEAP_NAME})" in text
    assert f"bedding heat treated (record {HEAP_NAME}); food and worms added later were not" in text


def test_the_record_of_the_heap_says_that_it_was_met_and_the_report_says_the_same_day(said):
    code, text = said("certify", "--batch", HEAP_NAME)
    assert code == 0
    assert "met at 24 Sep 2025" in text
    _, report = said("report", "--season", "2025")
    assert f"24 Sep  {HEAP_NAME}" in report
    assert "Sent back on 5 Sep: leaves from the roadside" in report
    assert "stable litter   2680 lb ± 48.7 lb" in report, "barrows of which three were weighed"
    assert "leaves          about 1923 lb" in report, "bags are estimated"


def test_a_recall_of_the_doubtful_litter_names_everybody_and_every_lot(said):
    code, text = said("lots", "recall", "d1")
    assert code == 1
    assert "Tell allotment 14, allotment 3, the school garden." in text
    assert all(name in text for name in (COMPOST_LOT, CASTINGS_LOT, HELD_LOT))
    assert "p3-2026-05-09" not in text, "later heaps have none of it"
    _, label = said("lots", "label", CASTINGS_LOT)
    assert "By the record it may carry: herbicide." in label
    assert "Bean test against weed killer: passed, 20 Jun 2026." in label


def test_fines_that_were_screened_again_are_asked_about_by_their_new_name(said):
    _, text = said("harvest", "b2")
    name = text.split("What passed then is called ")[1].split(":")[0]
    assert "unknown amount" not in text, "a lot that was made of it did not go back into a bed"
    code, asked = said("lots", "make", name.removesuffix("/fines"))
    assert code == 1
    assert f"was screened again, and what passed then is {name};" in asked


def test_nothing_is_missing_in_stock_and_nothing_is_nameless(said):
    _, text = said("stock")
    assert "more was used" not in text
    assert [line.split(":")[0] for line in text.splitlines() if line[:1] != " "] == [
        "stable litter", "food scraps", "coffee grounds", "leaves",
    ]  # fmt: skip
    assert "risk: wormer" in text


def test_what_was_read_by_hand_of_the_autumns_heap_is_not_said_of_the_present_one(said):
    _, text = said("status")
    (line,) = [one for one in text.splitlines() if one.startswith("Bay 1:")]
    assert "p1-2026-07-15" in line
    assert "by hand" not in line


def test_the_configuration_of_the_weekend_is_not_touched_by_the_story():
    text = (Path(__file__).parents[3] / "demo-data" / "yard.toml").read_text(encoding="utf-8")
    assert "containers" not in text


@pytest.fixture(scope="module")
def season(file):
    """The year to the weekend, gathered as for the page: heaps by id, and bins by place."""
    configuration = load(file, {}, rules=rule_ids())
    zone = ZoneInfo(configuration.settings.site.time_zone)
    with yard_view(configuration) as view:
        look = HeatLook(view.last, 1e9)
        gathering = Gathering(view, configuration, material_record(view, configuration), look)
        span = Span(date(2025, 8, 1), date(2026, 7, 31), zone)
        lay = heaps_of(view, span, configuration.settings.piles)
        found = gathering.season(span, lay, list(configuration.settings.bins))
    assert look.left.heaps == {}
    return {one.batch: one for one in found.heaps}, {one.place: one for one in found.bins}


def test_the_season_has_the_heaps_figures_of_the_certificate_and_of_the_report(season, said):
    heaps, _ = season
    assert list(heaps) == ["p1-2026-07-15", "p2-2026-07-04", "p3-2026-05-09", HEAP_NAME], "those built last in front"
    for name, heap in heaps.items():
        found = json.loads(said("certify", "--batch", name, "--json")[1])
        assert (found["verdict"] == "met") == (heap.heat.met_at is not None), name
        assert found["heat_status"] == heap.heat.heat.value
        assert found["turnings_logged"] == len(heap.turned), "none of them lie less than 6 h apart"
        assert found["total_s"] == pytest.approx(heap.heat.held_ms / 1000, abs=1)
    reports = [json.loads(said("report", "--season", year, "--json")[1]) for year in ("2025", "2026")]
    assert {one["heap"]: one["time"] for report in reports for one in report["met"]} == {
        name: show_time(heap.heat.met_at) for name, heap in heaps.items() if heap.heat.met_at is not None
    }
    assert sum(report["turnings"] for report in reports) == sum(len(heap.turned) for heap in heaps.values())


def test_the_season_has_the_mix_and_the_rounds_of_the_heap_that_was_read_by_hand(season):
    heap = season[0][HEAP_NAME]
    assert f"{heap.carbon:.0f}" == "39", WORKED_OUT
    assert (heap.heat.steps, len(heap.heat.rounds)) == ([], 30)
    assert [one.kind.value for one in heap.became] == ["bed", "bed", "bed", "lot"]


def test_the_bins_of_the_season_were_fed_and_gave_what_the_report_says(season, said):
    _, bins = season
    reports = [json.loads(said("report", "--season", year, "--json")[1]) for year in ("2025", "2026")]
    for what, mine in (("fed", "fed_in_all"), ("harvested", "taken_in_all")):
        told = sum(one[what]["kg"] for one in reports)
        assert told == pytest.approx(sum(getattr(one, mine).known_g for one in bins.values()) / 1000, abs=0.01), what
    sunny = bins["b1"]
    assert sunny.hot, "the sunny bin had hot days"
    assert all(sunny.heat[day][1] >= sunny.limits.overheating_milli_c for day in sunny.hot)
    assert sunny.alarmed == [], "no alarm rings for readings out of a file"
