"""The typeface is found, cut small and the same each time, kept and handed over; without it only the looks are missing."""

import threading
import time
from io import BytesIO

import pytest

from monitor.drawing.lettering import width_of
from monitor.typeface import CUTS, KeptCuts, face_rules, family_folder, family_version, kept_cuts, web_cuts
from monitor.typeface import __main__ as cutting
from monitor.typeface import family as where
from monitor.typeface.web_cuts import COMMON, LATIN, make_cut

pytest.importorskip("fontTools", reason="the library that cuts is not installed")


@pytest.fixture(autouse=True)
def _of_its_own(monkeypatch):
    """Let each test keep its cuts by itself, whatever the run shares."""
    monkeypatch.delenv(kept_cuts.VARIABLE, raising=False)


@pytest.fixture(scope="module")
def made():
    folder = family_folder()
    assert folder is not None, "the package of the typeface is a dependency of the tests"
    return {cut.name: make_cut(cut, folder) for cut in CUTS}


def test_all_cuts_together_are_small(made):
    # Ours (issue 14): at most 60 KB, kept by browsers for a year.
    assert sum(map(len, made.values())) <= 60_000
    assert all(data.startswith(b"wOF2") for data in made.values())


def opened(data):
    from fontTools.ttLib import TTFont

    return TTFont(BytesIO(data))


def test_each_cut_has_its_letters_its_weight_and_its_licence(made):
    for cut in CUTS:
        font = opened(made[cut.name])
        missing = [letter for letter in cut.letters if ord(letter) not in font.getBestCmap()]
        assert missing == [], cut.name
        assert font["OS/2"].usWeightClass == cut.weight
        assert "fvar" not in font, "one weight each"
        names = {record.nameID: str(record) for record in font["name"].names}
        assert "Copyright" in names[0]
        assert "Open Font License" in names[13], "the licence asks that it goes with every copy"
    assert set(COMMON) | set(LATIN) >= set("°FC→–…éüñçłš")


def test_the_same_versions_give_the_same_bytes(made):
    folder = family_folder()
    assert folder is not None
    assert make_cut(CUTS[2], folder) == made["italic"]


def test_figures_have_one_width_where_they_are_asked_to(made):
    assert "tnum" in {one.FeatureTag for one in opened(made["regular"])["GSUB"].table.FeatureList.FeatureRecord}


def singles(sub):
    """The substitutions of one glyph by another in a subtable."""
    return getattr(sub, "ExtSubTable", sub).mapping.items()


@pytest.mark.parametrize("name", ["regular", "bold"])
def test_widths_on_drawings_are_those_of_the_typeface_or_a_little_more(made, name):
    font = opened(made[name])
    cmap, widths = font.getBestCmap(), font["hmtx"]
    em = font["head"].unitsPerEm
    table = font["GSUB"].table
    (asked,) = {
        tuple(one.Feature.LookupListIndex) for one in table.FeatureList.FeatureRecord if one.FeatureTag == "tnum"
    }
    one_width = {old: new for at in asked for sub in table.LookupList.Lookup[at].SubTable for old, new in singles(sub)}
    for words in ("hold 131 °F", "danger all over 90", "Temperature inside, °F", "not measured below", "16 Jul, 09:30"):
        # Figures of one width, as everywhere on the page.
        glyphs = (one_width[cmap[ord(letter)]] if letter.isdigit() else cmap[ord(letter)] for letter in words)
        real = sum(widths[glyph][0] / em for glyph in glyphs)
        assert real <= width_of(words, 1) <= 1.12 * real, words


def test_cuts_are_kept_under_their_recipe_and_others_dropped(tmp_path):
    (tmp_path / "0-old").mkdir()
    kept = KeptCuts(tmp_path)
    assert kept.found() == {}
    kept.keep({cut.name: cut.name.encode() for cut in CUTS})
    assert kept.found() == {"regular": b"regular", "bold": b"bold", "italic": b"italic"}
    assert [one.name for one in tmp_path.iterdir()] == [web_cuts.recipe()]
    taken = []
    assert kept.give(taken.append) is None
    assert taken == [kept.found()]
    (tmp_path / web_cuts.recipe() / "bold.woff2").unlink()
    assert kept.found() == {}, "all or none"


def test_what_is_missing_is_made_by_a_child_and_then_handed_over(tmp_path):
    taken = []
    waiting = KeptCuts(tmp_path / "typeface").give(taken.append)
    assert waiting is not None
    waiting.join(240)
    assert [sorted(one) for one in taken] == [["bold", "italic", "regular"]]
    assert KeptCuts(tmp_path / "typeface").found() == taken[0]


def test_a_folder_that_cannot_be_written_costs_only_the_looks(tmp_path, caplog):
    (tmp_path / "file").write_text("in the way")
    taken = []
    with caplog.at_level("INFO", "heaptender.typeface"):
        waiting = KeptCuts(tmp_path / "file" / "typeface").give(taken.append)
        assert waiting is not None
        waiting.join(240)
    assert taken == []
    assert "the page is shown in the reader's own serif" in caplog.text


def test_without_the_package_nothing_is_made_and_nothing_is_said(tmp_path, monkeypatch, caplog):
    monkeypatch.setattr(where, "PACKAGE", "no_such_package_of_a_typeface")
    where.family_folder.cache_clear()
    try:
        assert family_folder() is None
        assert family_version() == ""
        assert KeptCuts(tmp_path).give(pytest.fail) is None
        assert KeptCuts(tmp_path).found() == {}
    finally:
        where.family_folder.cache_clear()
    assert caplog.text == ""


def test_without_the_library_that_cuts_likewise(tmp_path, monkeypatch):
    monkeypatch.setattr(kept_cuts, "recipe", lambda: "")
    assert KeptCuts(tmp_path).give(pytest.fail) is None


def test_the_rules_name_each_cut_and_what_stands_in():
    rules = face_rules({"regular": "/static/regular.woff2?1", "italic": "/static/italic.woff2?2"})
    assert rules.count("@font-face") == 2
    assert 'url("/static/italic.woff2?2") format("woff2");font-weight:400;font-style:italic;font-display:swap' in rules
    assert face_rules({}) == ':root{--face:"Literata",Georgia, "Noto Serif", "Iowan Old Style", serif}'


def test_where_a_folder_is_named_for_them_all_yards_share_the_cuts(tmp_path, monkeypatch):
    monkeypatch.setattr(kept_cuts, "recipe", lambda: "recipe")
    of_all = {kept_cuts.VARIABLE: str(tmp_path / "all")}
    KeptCuts(tmp_path / "one", of_all).keep({cut.name: b"cut" for cut in CUTS})
    assert KeptCuts(tmp_path / "other", of_all).found() == {cut.name: b"cut" for cut in CUTS}
    assert KeptCuts(tmp_path / "other", {}).found() == {}
    assert not (tmp_path / "one").exists()


def test_of_two_children_at_once_only_one_cuts(tmp_path, monkeypatch):
    made = []

    def cut(one, _source):
        made.append(one.name)
        time.sleep(0.05)
        return b"cut"

    monkeypatch.setattr(kept_cuts, "recipe", lambda: "recipe")
    monkeypatch.setattr(cutting, "family_folder", lambda: tmp_path)
    monkeypatch.setattr(cutting, "can_cut", lambda: True)
    monkeypatch.setattr(cutting, "make_cut", cut)
    monkeypatch.setattr(cutting.os, "nice", lambda _: 0)
    both = [threading.Thread(target=cutting.main, args=(tmp_path / "typeface",)) for _ in range(2)]
    for one in both:
        one.start()
    for one in both:
        one.join(20)
    assert sorted(made) == sorted(each.name for each in CUTS)
