"""The accessibility checker finds nothing that keeps anybody out of a sheet: on a phone and on a desk, by day and by night."""

import pytest
from page_browser import SIZES, Visit

from monitor.page.sheets.all_sheets import SHEETS as ALL

pytest.importorskip("playwright", reason="playwright is not installed")

pytestmark = pytest.mark.io

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
NAMED = [sheet.path for sheet in ALL if sheet.name]
MIX = "/mix?material_1=stable+litter&amount_1=800&measure_1=lb&use_1=all&material_2=leaves&bay=5+x+5+ft"
SHEETS = [*NAMED, "/place/p2", "/place/b1", "/place/none", "/entry/1", "/entry/404", MIX, "/mix?material_1=moon+dust"]


@pytest.mark.parametrize("dark", [False, True], ids=["light", "dark"])
@pytest.mark.parametrize("size", SIZES)
def test_nothing_keeps_anybody_out(browser, demo, axe, size, dark):
    one = Visit(browser, demo, size, dark=dark)
    wrong = []
    # At night only the colours are others.
    asked = ["color-contrast"] if dark else RULES
    try:
        for path in SHEETS:
            page = one.go(path)
            page.evaluate(axe)
            page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
            found = page.evaluate(f"axe.run(document, {{runOnly: {asked}}})")
            wrong += [
                f"{path}: {one['id']} ({one['impact']}): {node['html'][:150]} {node['failureSummary'][:300]}"
                for one in found["violations"]
                if one["impact"] in ("serious", "critical")
                for node in one["nodes"][:2]
            ]
    finally:
        one.close()
    assert wrong == []


def heard(page):
    """Return what a screen reader goes through on a sheet, in order: (role, name)."""
    session = page.context.new_cdp_session(page)
    session.send("Accessibility.enable")
    nodes = session.send("Accessibility.getFullAXTree")["nodes"]
    by_id = {node["nodeId"]: node for node in nodes}
    told = []

    def walk(node):
        if not node.get("ignored"):
            told.append(tuple(" ".join(str(node.get(part, {}).get("value", "")).split()) for part in ("role", "name")))
        for child in node.get("childIds", []):
            if child in by_id:
                walk(by_id[child])

    walk(nodes[0])
    return told


def test_the_tree_alone_tells_what_needs_doing_and_offers_it(browser, demo):
    one = Visit(browser, demo, "phone")
    try:
        yard, heap = heard(one.go("/")), heard(one.go("/place/p2"))
    finally:
        one.close()
    assert next(name for role, name in yard if role == "link") == "To the sheet"
    parts = [name for role, name in yard if role == "heading" and name in {"Today", "Coming", "Plan"}]
    assert parts == ["Today", "Coming", "Plan"]
    # After the heading of each need, which says where, how soon and what to do, comes its button, which says where too.
    begun = yard.index(("heading", "Today"))
    until = yard.index(("heading", "Coming"))
    needs = [number for number in range(begun + 1, until) if yard[number][0] == "heading"]
    assert needs
    for number, end in zip(needs, [*needs[1:], until], strict=True):
        place, _, rest = yard[number][1].partition(" , ")
        assert rest.startswith(("today: ", "now: ", "a fire: "))
        assert any(role == "button" and name.startswith(f"{place}: ") for role, name in yard[number:end]), place
    # A plot is heard once, in words with its numbers, whichever of its drawings is shown.
    plots = [name for role, name in heap if role == "image" and "Temperature inside" in name]
    assert len(plots) == 1
    assert "24 in: " in plots[0]
    assert "last " in plots[0]
    assert all(name for role, name in (*yard, *heap) if role in {"button", "link", "textbox", "combobox", "image"})
