"""The accessibility checker finds nothing that keeps anybody out of a sheet: on a phone and on a desk, by day and by night."""

import pytest
from page_browser import SIZES, Visit

from monitor.page.sheets.all_sheets import SHEETS as ALL

pytest.importorskip("playwright", reason="playwright is not installed")

pytestmark = pytest.mark.io

RULES = ["wcag2a", "wcag2aa", "wcag21a", "wcag21aa", "wcag22aa", "best-practice"]
BY_WIDTH = ["color-contrast", "target-size", "scrollable-region-focusable", "meta-viewport", "link-in-text-block"]
"""The rules whose answer can be another on a wide sheet: the same words stand on it, in the same order."""
NAMED = [sheet.path for sheet in ALL if sheet.name]
MIX = "/mix?material_1=stable+litter&amount_1=800&measure_1=lb&use_1=all&material_2=leaves&bay=5+x+5+ft"
SHEETS = [*NAMED, "/place/p2", "/place/b1", "/place/none", "/entry/1", "/entry/404", MIX, "/mix?material_1=moon+dust"]


@pytest.mark.parametrize("path", SHEETS)
def test_nothing_keeps_anybody_out(browser, demo, axe, path):
    one = Visit(browser, demo, "phone")
    wrong = []
    try:
        page = one.go(path)
        page.evaluate(axe)
        page.evaluate("for (const one of document.querySelectorAll('details')) one.open = true")
        # At night only the colours are others.
        for size, dark, asked in (
            ("phone", False, RULES),
            ("desk", False, BY_WIDTH),
            ("desk", True, ["color-contrast"]),
            ("phone", True, ["color-contrast"]),
        ):
            page.set_viewport_size(SIZES[size])
            page.emulate_media(color_scheme="dark" if dark else "light")
            found = page.evaluate(f"axe.run(document, {{runOnly: {asked}}})")
            wrong += [
                f"{size}, {'night' if dark else 'day'}: {one['id']} ({one['impact']}): {node['html'][:150]} "
                f"{node['failureSummary'][:300]}"
                for one in found["violations"]
                if one["impact"] in ("serious", "critical")
                for node in one["nodes"][:2]
            ]
    finally:
        one.close()
    assert wrong == []
