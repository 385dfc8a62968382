"""`tune`, `label` and `replay --set` as a person types them."""

import csv
import json
import re
import tomllib
import xml.etree.ElementTree as ET
from datetime import datetime
from pathlib import Path
from types import SimpleNamespace
from zoneinfo import ZoneInfo

import pytest
from click.testing import CliRunner

from monitor.app.command import heaptender
from monitor.app.console.time_words import parse_when
from monitor.app.tuning_report.tuning_words import verdict_words
from monitor.configuration import difference, edited, read_range
from monitor.model.errors import ConfigurationError, MisuseError
from monitor.model.settings import Bin, Pile, Settings
from monitor.model.times import show_time
from monitor.tuning import Kind, Score

MIN = 60_000
HOUR = 60 * MIN
DAY = 24 * HOUR
T0 = 1_775_433_600_000  # 2026-04-06T00:00:00Z, a Monday

YARD = """# ours
[site]
name = "Tern Hollow allotments"
time_zone = "UTC"
temperature_unit = "degF"

[bins.b1]
name = "Wall bin"      # in the sun

[bins.b1.thresholds]   # tried by hand
overheating = "85 degF"   # as it came

[probes.b1-t]
place = "b1"

[bins.b2]

"""
WEEKS = 12
HOT_DAYS = tuple(range(6, WEEKS * 7, 8))
"""Days on which the bin passes 83 °F (28.5 °C) at noon, three hours before it harms these worms; never 85 °F."""
WARM_DAYS = tuple(range(2, WEEKS * 7, 8))
"""Days on which it reaches 81 °F (27.3 °C), which does no harm."""


def celsius(time):
    day, hour = divmod((time - T0) // HOUR, 24)
    peak = 29.0 if day in HOT_DAYS else 27.3 if day in WARM_DAYS else 24.0
    return peak if 12 <= hour < 18 else 21.0


@pytest.fixture(scope="module")
def folder(tmp_path_factory):
    folder = tmp_path_factory.mktemp("yard")
    (folder / "heaptender.toml").write_text(YARD, encoding="utf-8")
    with (folder / "readings.csv").open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["time", "probe", "quantity", "value", "unit"])
        for time in range(T0, T0 + WEEKS * 7 * DAY, 30 * MIN):
            rows.writerow([show_time(time), "b1-t", "temperature", f"{celsius(time):.1f}", "Cel"])
    with (folder / "labels.csv").open("w", encoding="utf-8", newline="") as out:
        rows = csv.writer(out)
        rows.writerow(["place", "start", "end", "kind", "note"])
        for day in HOT_DAYS:
            start = T0 + day * DAY + 15 * HOUR
            rows.writerow(["b1", show_time(start), show_time(start + 4 * HOUR), "trouble", "too hot: on the lid"])
    (folder / "few.csv").write_text("".join((folder / "labels.csv").read_text().splitlines(True)[:4]), encoding="utf-8")
    return folder


def call(folder, *words, text=None):
    config = ("--config", str(folder / "heaptender.toml"))
    return invoke([*words, *config], text)


def invoke(words, text=None):
    """Run a command as `main` does; `exit_code` is what it would leave with."""
    run = CliRunner().invoke(heaptender, words, input=text, catch_exceptions=False, standalone_mode=False)
    run.exit_code = run.return_value or 0
    return run


def tune(folder, *words, labels="labels.csv"):
    files = [str(folder / "readings.csv"), *([str(folder / labels)] if labels else [])]
    return call(folder, "tune", *files, "--place", "b1", "--workers", "1", *words)


VARY = ("--vary", "overheating=81..85 degF:1")
ONE = ("--vary", "overheating=83..83 degF")


@pytest.fixture(scope="module")
def answer(folder):
    run = tune(folder, *VARY, "--json")
    assert run.exit_code == 0, run.output
    return json.loads(run.stdout)


def test_the_setting_that_catches_all_without_needless_messages_is_found(answer):
    assert (answer["kind"], answer["why"], answer["better"]) == ("chosen", None, True)
    best = next(row for row in answer["rows"] if row["suggested"])
    now = next(row for row in answer["rows"] if row["today"])
    assert best["settings"]["overheating"] in ("82 degF", "83 degF", "84 degF")
    assert best["caught"] == best["troubles"] > 3
    assert best["needless"] == 0
    assert best["median_warning_s"] == pytest.approx(3 * 3600, abs=1800)
    assert (now["settings"], now["caught"]) == ({"overheating": "85 degF"}, 0)
    assert best["choosing"]["troubles"] + best["troubles"] == len(HOT_DAYS)


def test_a_set_that_cries_on_warm_days_has_its_needless_messages_counted(folder):
    run = tune(folder, "--vary", "overheating=81..81 degF", "--json")
    low = next(row for row in json.loads(run.stdout)["rows"] if not row["today"])
    assert low["settings"] == {"overheating": "81 degF"}
    assert low["needless"] == pytest.approx(len(WARM_DAYS) / 2, abs=2)


def test_the_answer_is_in_plain_words(folder):
    run = tune(folder, *VARY)
    assert run.exit_code == 0
    assert "Wall bin, 6 Apr 2026 to 28 Jun 2026 (12 weeks): 4 other settings of overheating tried." in run.stdout
    assert re.search(
        r"\* 1\. overheating 8[234] °F: caught (\d) of \1, [23] h( \d+ min)? before, no needless message\.", run.stdout
    )
    assert re.search(r"today's, overheating 85 °F: caught 0 of \d, no needless message\.", run.stdout)
    assert re.search(r"Take row 1: on weeks it was not chosen on it caught \d more troubles than today's\.", run.stdout)
    assert len(run.stdout.splitlines()) <= 16


def test_workers_and_order_of_files_change_nothing(folder, answer):
    files = [str(folder / "labels.csv"), str(folder / "readings.csv")]
    run = call(folder, "tune", *files, "--place", "b1", "--workers", "2", *VARY, "--json")
    assert json.loads(run.stdout) == answer


@pytest.mark.parametrize(
    ("labels", "why"), [(None, "no trouble is labelled in this record"), ("few.csv", "only 3 troubles are labelled")]
)
def test_with_few_labels_there_are_counts_and_the_reason(folder, labels, why):
    run = tune(folder, "--vary", "overheating=81..84 degF:3", labels=labels)
    assert run.exit_code == 0
    assert why in run.stdout
    assert "caught" not in run.stdout
    assert f"overheating 81 °F: {len(HOT_DAYS) + len(WARM_DAYS)} messages (overheating" in run.stdout
    assert "Nothing was chosen." in run.stdout


def test_where_only_counts_are_told_each_row_says_how_far_its_messages_moved(folder, tmp_path):
    (tmp_path / "83.toml").write_text(YARD.replace('"85 degF"', '"83 degF"'), encoding="utf-8")
    words = ["tune", str(folder / "readings.csv"), "--workers", "1", "--config", str(tmp_path / "83.toml")]
    words += ["--vary", "bins.b1.overheating_dwell=20..80m:60"]
    today, other = invoke(words).stdout.splitlines()[3:5]
    # A step of 8 °C is believed when a second reading bears it out, 30 min on: after 20 min it rings then, after 80 min at 80.
    assert "beside" not in today
    assert f", beside today's {len(HOT_DAYS)} later (by 50 min), in alarm" in other
    rows = json.loads(invoke([*words, "--json"]).stdout)["rows"]
    assert [row["moved_s"] for row in rows] == [[0] * len(HOT_DAYS), [3000] * len(HOT_DAYS)]


def test_one_of_the_settings_that_were_left_out_is_named_with_what_is_wrong_with_it(folder):
    said = call(
        folder, "tune", str(folder / "readings.csv"), "--place", "b1", "--vary", "overheating=80..85 degF:1"
    ).stdout
    assert '1 left out (overheating: "80 degF" is not above warm, which is "80 degF").' in said


def test_a_default_is_not_written_down(folder, tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(YARD, encoding="utf-8")
    words = ["tune", str(folder / "readings.csv"), "--config", str(own), "--workers", "1", "--write", "--yes"]
    run = invoke([*words, "--vary", "bins.b1.overheating_dwell=20..40m:20", "--take", "1"])
    assert (run.exit_code, own.read_text(encoding="utf-8")) == (0, YARD)
    assert "that is in force already" in run.stderr


def test_a_whole_key_says_which_place_is_tuned(folder):
    words = ["tune", str(folder / "readings.csv"), "--workers", "1"]
    with pytest.raises(MisuseError, match="Say which place is meant"):
        call(folder, *words, "--vary", "overheating=83..83 degF")
    run = call(folder, *words, "--vary", "bins.b1.overheating=83..83 degF")
    assert run.exit_code == 0
    assert run.stdout.startswith("Wall bin, ")


def test_the_report_is_one_file_that_needs_no_other(folder, tmp_path):
    run = tune(folder, *ONE, "--out", str(tmp_path / "new" / "b1.html"))
    assert run.exit_code == 0, run.output
    page = (tmp_path / "new" / "b1.html").read_text(encoding="utf-8")
    assert page.count("<svg ") == 2
    assert not re.search(r"<script|src=|href=|url\((?!.data:font)|@import", page)
    assert "too hot: on the lid" in page
    heads = re.findall(r'<th scope="col">([^<]+)</th>', page)
    assert heads[:2] == ["Row", "Overheating"]
    assert "Caught" in heads or "Messages" in heads
    rows = re.findall(r"<tr[^>]*>\s*<th scope=\"row\">(\d+)</th>(.*?)</tr>", page, re.DOTALL)
    assert [number for number, _ in rows] == [str(number) for number in range(1, len(rows) + 1)]
    assert all(cells.count("<td") == len(heads) - 1 for _, cells in rows), "a value under each head"
    assert re.search(r"<td>8[\d.]* °F", rows[0][1])
    assert "prefers-color-scheme:dark" in page, "by night as well"
    assert "var(--ink)" in page
    run = tune(folder, *ONE, "--out", str(tmp_path / "b1.svg"))
    root = ET.parse(tmp_path / "b1.svg").getroot()
    assert root.tag.endswith("svg")
    assert len([one for one in root if one.tag.endswith("svg")]) == 2
    run = tune(folder, *ONE, "--out", str(tmp_path))
    assert (tmp_path / "tuning-b1.html").exists()


def test_the_report_says_what_its_marks_mean(folder, tmp_path):
    tune(folder, *VARY, "--out", str(tmp_path / "b1.html"))
    text = (tmp_path / "b1.html").read_text(encoding="utf-8")
    assert re.findall(r"<figcaption>(Each circle|Brackets)", text) == ["Each circle", "Brackets"]


def test_writing_keeps_every_remark_and_changes_one_line(folder, tmp_path):
    own = tmp_path / "own.toml"
    own.write_text(YARD, encoding="utf-8")
    files = [str(folder / "readings.csv"), str(folder / "labels.csv"), "--place", "b1", "--workers", "1", *ONE]
    run = invoke(["tune", *files, "--write", "--yes", "--config", str(own)])
    assert run.exit_code == 0, run.output
    after = own.read_text(encoding="utf-8")
    changed = [line for line in difference(YARD, after, "x").splitlines() if re.match(r"[-+] *\w", line)]
    assert changed[0] == '-overheating = "85 degF"   # as it came'
    assert re.fullmatch(r'\+overheating = "83 degF"   # as it came', changed[1])
    assert len(changed) == 2
    assert changed[1] in run.stderr
    again = invoke(["tune", *files, "--write", "--yes", "--config", str(own)])
    assert again.exit_code == 1  # nothing beats what was written
    assert own.read_text(encoding="utf-8") == after
    third = invoke(["tune", *files, "--write", "--take", "1", "--yes", "--config", str(own)])
    assert third.exit_code == 0
    assert "there is nothing to write" in third.stderr


def test_nothing_is_written_where_nobody_can_be_asked_or_somebody_says_no(folder, tmp_path, monkeypatch):
    own = tmp_path / "own.toml"
    own.write_text(YARD, encoding="utf-8")
    words = ["tune", str(folder / "readings.csv"), str(folder / "labels.csv"), "--place", "b1", "--workers", "1", *ONE]
    with pytest.raises(MisuseError, match="--yes"):
        invoke([*words, "--write", "--config", str(own)])
    monkeypatch.setattr("monitor.app.tuning_run.tuning_write.refuse_unasked", lambda yes: None)
    run = invoke([*words, "--write", "--config", str(own)], text="n\n")
    assert run.exit_code == 1
    assert own.read_text(encoding="utf-8") == YARD
    run = invoke([*words, "--write", "--config", str(own)], text="y\n")
    assert run.exit_code == 0
    assert own.read_text(encoding="utf-8") != YARD


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("--vary", "overheating=80..90"), '"80" has no unit'),
        (("--vary", "overheting=80..90degF"), 'did you mean "overheating"?'),
        (("--vary", "bins.b2.overheating=80..90degF"), 'one place is tuned at a time, here "b1"'),
        (("--vary", "overheating=91..95degF"), 'overheating, which is "95 degF"'),
        (("--vary", "overheating=80..81degF", "--vary", "bins.b1.overheating=80..81degF"), "varied twice"),
        (("--early", "soon"), "--early: 'soon'"),
        (("--out", "b1.pdf"), "ending in .html or .svg"),
        (("--take", "1"), "--take goes with --write"),
        (("--place", "b7"), 'There is no pile or bin "b7"'),
        (("--vary", "overheating=81..85degF") * 9, "9 thresholds at once; 8 is the most"),
    ],
)
def test_what_cannot_be_meant_is_said_in_a_sentence(folder, words, told):
    with pytest.raises(MisuseError) as fault:
        tune(folder, *words)
    assert told in str(fault.value)


def test_label_writes_lists_and_takes_back(tmp_path):
    (tmp_path / "heaptender.toml").write_text(YARD, encoding="utf-8")
    run = call(
        tmp_path, "label", "b1", "2026-05-03 11:00", "2026-05-03 20:00", "trouble", "--note", "too hot, they say"
    )
    assert run.stdout == "Labelled: Wall bin (b1), 2026-05-03 11:00 (Sunday) for 9 h: trouble, too hot, they say.\n"
    run = call(tmp_path, "label", "b1", "2026-05-03 11:00", "2026-05-03 20:00", "trouble", "--note", "too hot")
    assert run.stdout.startswith("Labelled anew: Wall bin (b1), 2026-05-03 11:00 (Sunday) for 9 h: trouble, too hot.")
    call(tmp_path, "label", "b1", "2026-05-03 11:00", "2026-05-03 20:00", "trouble", "--note", "too hot, they say")
    run = call(tmp_path, "label", "b1", "2026-05-10", "2026-05-20", "fine", "--json")
    assert json.loads(run.stdout)["kind"] == "fine"
    assert "That was labelled already" in call(tmp_path, "label", "b1", "2026-05-10", "2026-05-20", "fine").stdout
    assert "Any message" in call(tmp_path, "label", "b2", "2026-05-10", "2026-05-20", "trouble", "--note", "odd").stdout
    text = (tmp_path / "data" / "labels.csv").read_text(encoding="utf-8")
    assert text.splitlines()[0] == "place,start,end,kind,note"
    assert 'b1,2026-05-03T11:00:00.000Z,2026-05-03T20:00:00.000Z,trouble,"too hot, they say"' in text
    inside = call(tmp_path, "label", "b1", "2026-05-12", "2026-05-13", "trouble", "--note", "too wet").stdout
    assert "where trouble and fine overlap, the trouble counts" in inside
    call(tmp_path, "label", "b1", "2026-05-12", "--undo")
    listed = call(tmp_path, "label", "b1").stdout.splitlines()
    assert len(listed) == 2
    as_listed = listed[0].split(", ")[1].split(" (")[0]
    assert call(tmp_path, "label", "b1", as_listed, "--undo").exit_code == 0
    assert call(tmp_path, "label", "b1", "2026-05-03 11:00", "--undo").exit_code == 1
    assert len(json.loads(call(tmp_path, "label", "--json").stdout)) == 2


@pytest.mark.parametrize(
    ("words", "told"),
    [
        (("b9", "2026-05-01", "2026-05-02", "fine"), 'there is no pile or bin "b9"'),
        (("b1", "2026-05-01", "2026-05-02"), "A label is PLACE START END"),
        (("b1", "2026-05-02", "2026-05-01", "fine"), "the earlier time goes first"),
        (("b1", "2026-05-01", "2026-05-02", "good"), '"good" is no kind of label'),
        (("b1", "2026-05-01", "2126-05-01", "fine"), "lies in the future"),
        (("b1", "noonish", "2026-05-01", "fine"), "START: 'noonish' is no time"),
        (("--note", "x"), "--note goes with a new label"),
    ],
)
def test_a_label_that_cannot_be_meant_is_refused(tmp_path, words, told):
    (tmp_path / "heaptender.toml").write_text(YARD, encoding="utf-8")
    with pytest.raises(MisuseError) as fault:
        call(tmp_path, "label", *words)
    assert told in str(fault.value)
    assert not (tmp_path / "data" / "labels.csv").exists()


def test_labels_that_are_not_understood_are_not_written_over(tmp_path):
    (tmp_path / "heaptender.toml").write_text(YARD, encoding="utf-8")
    (tmp_path / "data").mkdir()
    path = tmp_path / "data" / "labels.csv"
    path.write_text("place,start,end,kind,note\nb1,soon,later,fine,\n", encoding="utf-8")
    with pytest.raises(MisuseError, match="line 2"):
        call(tmp_path, "label", "b1", "2026-05-01", "2026-05-02", "fine")
    assert "soon" in path.read_text(encoding="utf-8")


def test_an_empty_file_of_labels_is_none_and_impossible_times_are_said(tmp_path):
    (tmp_path / "heaptender.toml").write_text(YARD, encoding="utf-8")
    (tmp_path / "data").mkdir()
    path = tmp_path / "data" / "labels.csv"
    path.write_text("", encoding="utf-8")
    assert call(tmp_path, "label", "b1", "2026-05-01", "2026-05-02", "fine").exit_code == 0
    rows = "b1,0001-01-01T00:00:00Z,9999-12-31T00:00:00Z,fine,\n"
    path.write_text("place,start,end,kind,note\n" + rows, encoding="utf-8")
    with pytest.raises(MisuseError, match="between the years 2000 and 2100"):
        call(tmp_path, "label")


def test_columns_of_somebodys_own_are_not_lost(tmp_path):
    (tmp_path / "heaptender.toml").write_text(YARD, encoding="utf-8")
    (tmp_path / "data").mkdir()
    path = tmp_path / "data" / "labels.csv"
    text = "place;start;end;kind;note;who\nb1;2026-05-01T00:00:00Z;2026-05-02T00:00:00Z;fine;;Ann\n"
    path.write_text(text, encoding="utf-8")
    with pytest.raises(MisuseError, match=r"columns of your own \(who\)"):
        call(tmp_path, "label", "b1", "2026-05-03", "2026-05-04", "fine")
    assert path.read_text(encoding="utf-8") == text


def test_a_label_said_again_with_another_note_gets_that_note(tmp_path):
    (tmp_path / "heaptender.toml").write_text(YARD, encoding="utf-8")
    words = ("label", "b1", "2026-05-01", "2026-05-02", "trouble", "--note")
    call(tmp_path, *words, "too hot")
    assert "Labelled" in call(tmp_path, *words, "too wet").stdout
    [label] = json.loads(call(tmp_path, "label", "--json").stdout)
    assert label["note"] == "too wet"


@pytest.mark.parametrize(
    ("line", "told"),
    [
        ("b1,2026-05-02T00:00:00Z,2026-05-01T00:00:00Z,trouble,too hot\n", "the end is before the start"),
        (
            "b01,2026-05-01T00:00:00Z,2026-05-02T00:00:00Z,trouble,too hot\n",
            "1 label is of b01, which is no pile or bin",
        ),
    ],
)
def test_nothing_is_written_that_rests_on_half_of_the_labels(folder, tmp_path, line, told):
    labels = tmp_path / "labels.csv"
    labels.write_text((folder / "labels.csv").read_text(encoding="utf-8") + line, encoding="utf-8")
    own = tmp_path / "own.toml"
    own.write_text(YARD, encoding="utf-8")
    words = ["tune", str(folder / "readings.csv"), str(labels), "--place", "b1", "--workers", "1", *VARY]
    run = invoke([*words, "--config", str(own)])
    assert run.exit_code == 0
    assert told in run.stderr
    with pytest.raises(MisuseError, match="put them right"):
        invoke([*words, "--write", "--yes", "--config", str(own)])
    assert own.read_text(encoding="utf-8") == YARD


def test_labels_of_the_yard_count_for_files_too_and_those_outside_are_said(folder, tmp_path):
    (tmp_path / "heaptender.toml").write_text(YARD, encoding="utf-8")
    (tmp_path / "data").mkdir()
    text = (folder / "labels.csv").read_text(encoding="utf-8")
    text += "b1,2025-05-01T00:00:00Z,2025-05-02T00:00:00Z,trouble,too hot\n"
    (tmp_path / "data" / "labels.csv").write_text(text, encoding="utf-8")
    run = call(tmp_path, "tune", str(folder / "readings.csv"), "--place", "b1", "--workers", "1", *VARY)
    assert "labelled troubles; the figures below" in run.stdout
    assert "1 label is before or after the record, and not counted." in run.stderr


def test_each_trouble_is_told(folder):
    run = tune(folder, *VARY)
    lines = run.stdout.splitlines()
    begin = lines.index("Trouble by trouble, on the weeks to check on:")
    told = lines[begin + 1 : lines.index("", begin)]
    assert len(told) == json.loads(tune(folder, *VARY, "--json").stdout)["rows"][0]["troubles"]
    assert all("too hot: on the lid: today's settings never told of it; row 1 told " in line for line in told), told


def test_an_alarm_that_would_fall_silent_is_named_and_few_troubles_are_said():
    def row(caught, by_alarm, *, today=False):
        figures = Score(
            troubles=3, caught=caught, median_ms=HOUR, worst_ms=HOUR, needless=0, judged_ms=90 * DAY, unjudged=0, messages=1,
            alarm_ms=0, span_ms=90 * DAY,
        )  # fmt: skip
        return SimpleNamespace(score=figures, judged=SimpleNamespace(by_alarm=by_alarm), today=today)

    now = row(1, {"overheating": 2, "too-wet": 7}, today=True)
    for by_alarm, mute in (({"overheating": 4}, True), ({"overheating": 4, "too-wet": 1}, False)):
        found = SimpleNamespace(kind=Kind.CHOSEN, best=row(2, by_alarm), now=now)
        words = verdict_words(found, 10)
        assert words.startswith("Take row 1: on weeks it was not chosen on it caught 1 more trouble")
        assert ("it never tells of too wet (7 messages by today's)" in words) is mute
        assert "3 troubles to check on are few" in words


def test_a_picture_is_an_svg_file(folder, tmp_path):
    words = ("replay", str(folder / "readings.csv"), "--set", 'bins.b1.overheating="83 degF"')
    with pytest.raises(MisuseError, match=r"ending in \.svg"):
        call(folder, *words, "--picture", str(tmp_path / "x.png"))
    assert not (tmp_path / "x.png").exists()


def test_replay_tells_both_runs_side_by_side(folder, tmp_path):
    picture = tmp_path / "both.svg"
    change = ("--set", "bins.b1.overheating=82 degF")
    files = ("replay", str(folder / "readings.csv"))
    run = call(folder, *files, "--until", show_time(T0 + 10 * DAY), *change, "--picture", str(picture))
    assert run.exit_code == 0, run.output
    lines = run.stdout.splitlines()
    assert lines[0] == "Changed: Wall bin, overheating 82 °F instead of 85 °F."
    assert "new" in run.stdout
    assert "Wall bin: overheating" in run.stdout
    assert "overheating 82 °F instead of 85 °F" in lines[3]
    assert lines[-1] == "1 new, 0 messages stay as they are."
    ET.parse(picture)
    same = call(folder, *files, "--until", show_time(T0 + 10 * DAY), "--set", "bins.b1.overheating=85 degF")
    assert same.stdout.startswith("Changed: nothing.\nNothing people hear of changes")
    with pytest.raises(MisuseError, match="--picture goes with --set"):
        call(folder, *files, "--picture", str(picture))


AT = round(datetime(2026, 7, 22, 9, tzinfo=ZoneInfo("America/New_York")).timestamp() * 1000)  # a Wednesday


@pytest.mark.parametrize(
    ("text", "when"),
    [
        ("now", "2026-07-22 09:00"),
        ("Sunday 14:05", "2026-07-19 14:05"),
        ("wed 8:00", "2026-07-22 08:00"),
        ("thu 8:00", "2026-07-16 08:00"),
        ("2026-01-02 14:05", "2026-01-02 14:05"),
        ("2026-01-02T14:05", "2026-01-02 14:05"),
        ("yesterday 18:00", "2026-07-21 18:00"),
    ],
)
def test_times_as_people_type_them(text, when):
    at = parse_when(text, AT, "America/New_York", "--at")
    assert f"{datetime.fromtimestamp(at / 1000, ZoneInfo('America/New_York')):%Y-%m-%d %H:%M}" == when


@pytest.mark.parametrize("text", ["someday 14:05", "s 14:05", "2026-13-02 14:05", "sunday", "25:00"])
def test_what_is_no_time_is_refused(text):
    with pytest.raises(MisuseError, match="is no time"):
        parse_when(text, AT, "America/New_York", "--at")


WHERE = ("bins", "b1", "thresholds", "overheating")


@pytest.mark.parametrize(
    "text",
    [
        YARD,
        YARD.replace("\n", "\r\n"),
        '[bins.b1]\nname = "x"  # n\n\n[site]\nname = "y"\n',
        'bins = { b1 = { name = "x" } } # one line\n[site]\nname = "y"\n',
        '[bins]\nb1.name = "x" # dotted\n',
        "",
    ],
)
def test_a_value_is_put_in_and_nothing_else_changes(text):
    after = edited(text, {WHERE: "82.5 degF"})
    wanted = tomllib.loads(text)
    wanted.setdefault("bins", {}).setdefault("b1", {}).setdefault("thresholds", {})["overheating"] = "82.5 degF"
    assert tomllib.loads(after) == wanted
    assert re.findall("#.*", after) == re.findall("#.*", text)
    assert ("\r\n" in after) == ("\r\n" in text)


def test_what_is_no_toml_is_not_changed():
    with pytest.raises(ConfigurationError, match="mend it first"):
        edited("[bins", {WHERE: "1 K"})
    with pytest.raises(ConfigurationError, match="is no table"):
        edited("bins = 3", {WHERE: "1 K"})


PLACES = Settings(bins={"b1": Bin(name="x")}, piles={"p1": Pile(name="y")})


@pytest.mark.parametrize(
    ("text", "first", "last", "count"),
    [
        ("bins.b1.thresholds.overheating=80..90degF:0.5", "80 degF", "90 degF", 21),
        ("overheating = 26 to 32 °C by 1", "26 °C", "32 °C", 7),
        ("overheating_dwell=5..60 min:5", "5m", "60m", 12),
        ("too_wet=80..88%", "80 %", "88 %", 11),
        ("piles.p1.hot=150..165degF:2.5", "150 degF", "165 degF", 7),
        ("too_wet_dwell=1h..12h", "1h", "12h", 11),
        ("cold=-1..1degC:0.5", "-1 degC", "1 degC", 5),
    ],
)
def test_ranges_as_people_write_them(text, first, last, count):
    found = read_range(text, PLACES, None if text.startswith("piles") else "b1")
    assert (found.texts[0], found.texts[-1], len(found.texts)) == (first, last, count)
    assert list(found.values) == sorted(found.values)
    assert found.text(found.values[0]) == first


def test_a_threshold_that_moves_no_date_is_said_in_one_line():
    demo = Path(__file__).parents[3] / "demo-data"
    ranges = ("--vary", "hold=50..56degC", "--vary", "hold_dwell=10..120m")
    words = ("tune", str(demo / "bay1-heats-up.readings.csv"), "--config", str(demo / "bay1-heats-up.toml"), *ranges)
    run = CliRunner().invoke(heaptender, [*words, "--sets", "6", "--workers", "1"])
    assert run.exit_code == 0, run.output
    lines = run.stdout.splitlines()
    assert (
        "  1. today's, hold 131 °F for 1 h: 0 messages, in alarm 0 % of the time; 6 more settings the very same."
        in lines
    )
    assert "Nothing that was tried would have sent anything else." in lines
    still = "every date as today (the batch goes by the temperature of its rule, us-112-54-turned)."
    assert lines[-1] == f"  hold 122 °F to 132.8 °F: {still}"
    assert (
        sum(
            "hold dwell" in line
            for line in lines[lines.index("How the phases move, one threshold at a time, some values of each:") :]
        )
        == 5
    )


def test_where_no_condition_is_known_the_picture_has_no_band(tmp_path):
    (tmp_path / "heaptender.toml").write_text(YARD, encoding="utf-8")
    hand = call(tmp_path, "log", "reading", "b1", "84", "degF")
    assert hand.exit_code == 0, hand.output
    picture = tmp_path / "new" / "both.svg"
    run = call(tmp_path, "replay", "--set", "bins.b1.overheating=82 degF", "--picture", str(picture))
    assert run.exit_code == 0, run.output
    ET.parse(picture)
    with pytest.raises(MisuseError, match=r"no readings of a probe in Wall bin \(b1\), only readings by hand"):
        call(tmp_path, "tune", "--place", "b1")


def test_what_a_recording_is_not_is_said(folder, tmp_path):
    with pytest.raises(MisuseError, match="holds labels, which are for"):
        call(folder, "replay", str(folder / "labels.csv"))
    rows = ["time,probe,quantity,value,unit", "2026-05-01T00:00:00Z,p9-core,temperature,50,Cel"]
    other = tmp_path / "other.csv"
    other.write_text("\n".join(rows), encoding="utf-8")
    said = call(folder, "replay", str(other)).stderr
    assert "knows no probe named p9-core: what it said does nothing. Is it the right --config?" in said
