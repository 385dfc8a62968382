"""The sheet of the report: the month that was chosen, for keepers, safe whatever people write down."""

import csv
import io
import re

import pytest
from page_yard_for_tests import NOW

from monitor.model.events import EventKind
from monitor.model.times import DAY_MS


def words(text):
    return " ".join(re.sub(r"<[^>]+>", " ", text).split())


def deliver(yard, what="leaves", **more):
    payload = {"place": "yard", "kind": "delivery", "what": what, "amount": "40", "measure": "lb", "unit": "lb"}
    assert yard.put(EventKind.WORK, payload | more, again=True).at is not None


def test_the_last_whole_month_unless_another_is_chosen(yard, near):
    deliver(yard, source="the park")
    june = near.get("/report").text
    assert "<h1>Report, June 2026</h1>" in june
    assert "No delivery is written down." in june
    july = near.get("/report?month=2026-07").text
    assert "<h1>Report, July 2026, so far</h1>" in july
    assert "the park leaves 40 lb 100 %" in words(july)
    assert "the park leaves 40 lb 100 %" in words(near.get("/report?season=2026").text)


def test_the_months_beside_it_can_be_chosen_and_none_that_is_to_come(near):
    text = near.get("/report?month=2026-05").text
    links = re.findall(r'href="/report\?([^"]+)"', text)
    assert links == ["month=2026-04", "month=2026-05", "month=2026-06", "month=2026-07", "season=2026"]
    assert 'href="/report?month=2026-05" aria-current="true"' in text
    assert "month=2026-08" not in near.get("/report?month=2026-07").text


def test_beside_a_year_stands_the_year_before(near):
    links = re.findall(r'href="/report\?([^"]+)"', near.get("/report?season=2026").text)
    assert links == ["month=2026-06", "month=2026-07", "season=2025", "season=2026"]
    links = re.findall(r'href="/report\?([^"]+)"', near.get("/report?season=2025").text)
    assert links[-3:] == ["season=2024", "season=2025", "season=2026"]
    assert near.get("/report?season=2000").status_code == 200, "no report is older"


@pytest.mark.parametrize(
    "asked", ["month=2026-13", "month=x", "month=2027-01", "season=26", "season=2200", "month=%00"]
)
def test_another_time_is_the_last_whole_month_and_says_so(near, asked):
    answer = near.get(f"/report?{asked}")
    assert answer.status_code == 200
    assert "<h1>Report, June 2026</h1>" in answer.text
    assert "the last whole month is shown instead" in answer.text


def test_a_file_for_a_spreadsheet(yard, near):
    deliver(yard, source="=cmd()")
    answer = near.get("/report.csv?month=2026-07")
    assert answer.headers["content-type"] == "text/csv; charset=utf-8"
    assert answer.headers["content-disposition"] == 'attachment; filename="report-2026-07.csv"'
    rows = list(csv.DictReader(io.StringIO(answer.content.decode("utf-8-sig"))))
    (came,) = (row for row in rows if row["part"] == "taken in")
    assert (came["from"], came["amount"], came["unit"]) == ("'=cmd()", "40", "lb")


def test_no_word_breaks_out(yard, near):
    deliver(yard, what="<b>leaves</b>", source='"><script>x</script>')
    text = near.get("/report?month=2026-07").text
    assert "<b>leaves" not in text
    assert "<script>x" not in text


def test_a_day_on_which_nobody_looked(yard, near):
    yard.clock = NOW + 3 * DAY_MS
    deliver(yard)
    said = words(near.get("/report?month=2026-07").text)
    assert re.search(r"[0-9]+ of 6 days: 17 to 22 Jul", said), said
