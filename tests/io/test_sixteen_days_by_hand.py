"""A yard without electronics: a batch kept for sixteen days with a dial thermometer, by the page on a phone.

The check value is that of the contract (yard-work §4): rounds daily at 13:00, 120 °F on the first day, then 145 °F; turned on
days 4, 7, 10, 13 and 16 at 14:00; 15 days and five turnings at 131 °F, 26 h between rounds: met on day 16 at 23:33:35.
"""

import json
import re
import subprocess
import sys
from datetime import UTC, datetime, timedelta

import pytest
from daemon_process import DaemonProcess, toml
from page_browser import Visit

pytest.importorskip("playwright", reason="playwright is not installed")
from playwright.sync_api import expect

expect.set_options(timeout=30_000)

pytestmark = pytest.mark.io
SPOTS = ("west", "middle", "east")
RULE = "us-112-54-turned"


@pytest.fixture
def phone(browser, tmp_path, free_port):
    """A daemon without any source, and a phone on its page."""
    port = free_port()
    bay = f'[piles.p1]\nname = "Bay 1"\nrule = "{RULE}"\nmethod = "turned"\nspots = {json.dumps(SPOTS)}\n'
    daemon = DaemonProcess(
        tmp_path, toml(None, more=f'{bay}[thresholds.pile]\nhand_gap = "26h"\n[page]\nport = {port}')
    )
    daemon.config.write_text(daemon.config.read_text().replace('"degC"', '"degF"'))
    daemon.start().says("The page is at")
    one = Visit(browser, f"http://127.0.0.1:{port}", "phone")
    yield daemon, one
    one.close()
    daemon.close()


def write_down(page, fold, at, fields):
    """Fill a form of the heap's sheet as a thumb does, and confirm that the day is long past if the page asks."""
    page.get_by_text(fold, exact=True).click()
    form = page.locator(".quick[open]")
    for label, text in fields.items():
        if label == "kind":
            form.locator('select[name="kind"]').select_option(text)
        else:
            form.get_by_label(label, exact=True).fill(text)
    form.get_by_text("When, who, a remark").click()
    form.get_by_label("When", exact=True).fill(f"{at:%Y-%m-%dT%H:%M}")
    who = form.locator('select[name="by"]')
    if "Ann" in who.locator("option").all_inner_texts():
        who.select_option("Ann")
    else:
        # Only the first time: from then on the record knows her.
        who.select_option(label="somebody else …")
        form.get_by_label("Somebody else's name").fill("Ann")
    form.locator("button.main").click()
    page.wait_for_selector(".done, #question")
    if page.locator("#question").count():
        page.locator("#question button.main").click()
    expect(page.locator(".done")).to_contain_text("Written down")
    page.goto(page.url.split("?")[0])


def certify(daemon, *words):
    done = subprocess.run(
        [sys.executable, "-m", "monitor", "certify", *map(str, words), "--json"],
        capture_output=True, text=True, timeout=120, cwd=daemon.folder, check=False,
    )  # fmt: skip
    assert "Traceback" not in done.stderr
    return json.loads(done.stdout)


def export(daemon, kind):
    file = daemon.folder / f"{kind}.csv"
    done = subprocess.run(
        [sys.executable, "-m", "monitor", "export", kind, "--out", str(file), "--config", str(daemon.config)],
        capture_output=True, text=True, timeout=120, check=False,
    )  # fmt: skip
    assert done.returncode == 0, done.stderr
    return file


def test_a_dial_thermometer_and_a_phone_make_a_certificate_that_files_agree_with(phone):
    daemon, one = phone
    first = datetime.now(UTC).replace(hour=13, minute=0, second=0, microsecond=0) - timedelta(days=20)
    page = one.go("/place/p1")
    write_down(page, "Other work …", first - timedelta(hours=1), {"kind": "built"})
    for day in range(1, 19):
        at = first + timedelta(days=day - 1)
        value = "120" if day == 1 else "145"
        write_down(
            page, "Read by hand …", at, {"west": str(int(value) + 2), "middle": value, "east": str(int(value) + 5)}
        )
        if day in (4, 7, 10, 13, 16):
            write_down(page, "Other work …", at + timedelta(hours=1), {"kind": "turned"})
    page.get_by_role("button", name="Make a certificate").click()
    paper = page.get_by_role("link", name=re.compile("Certificate of"))
    expect(paper).to_be_visible()
    got = page.request.get(one.base + paper.get_attribute("href"))
    assert got.ok
    assert got.body()[:5] == b"%PDF-"
    expect(page.locator(".papers")).to_contain_text(re.compile("met", re.IGNORECASE))
    page_told = certify(daemon, "--batch", "p1", "--config", daemon.config)
    assert page_told["verdict"] == "met"
    assert page_told["turnings"] == 5
    met = first + timedelta(days=15, hours=10, minutes=33, seconds=35)
    assert f"met at {met:%Y-%m-%dT%H:%M:%S}" in page_told["reasons"][0]
    files = certify(
        daemon, "--readings", export(daemon, "readings"), "--work", export(daemon, "work"), "--rule", RULE, "--method",
        "turned", "--pile", "p1", "--time-zone", "UTC", "--hand-gap", "26h",
    )  # fmt: skip
    for figure in (
        "verdict",
        "reasons",
        "intervals",
        "total_s",
        "turnings",
        "turnings_logged",
        "assumed_s",
        "heat_status",
    ):
        assert files[figure] == page_told[figure], figure
    assert all("409" in fault for fault in one.faults), "the browser itself says that a question was asked"
