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
