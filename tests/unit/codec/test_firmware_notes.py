"""Every frame in firmware-notes/ is read as its page says, under the configuration of its page."""

import re
from pathlib import Path

import pytest

from monitor.codec import Admission, Decoded, Refused, decode_line, decode_senml
from monitor.configuration import load_text
from monitor.intake.topics import TopicTable
from monitor.proof.rules import rule_ids

FOLDER = Path(__file__).parents[3] / "firmware-notes"
PAGES = ("senml-over-mqtt.md", "lines-over-serial.md", "number-topics.md")
BLOCK = re.compile(r"^```(senml|line|topic)(?: refused=\"([^\"]+)\")?\n(.*?)^```$", re.DOTALL | re.MULTILINE)
CONFIGURATION = re.compile(r"^```toml\n(.*?)^```$", re.DOTALL | re.MULTILINE)
RECEIVED = 1_784_400_000_000  # later than every time in the frames


def configuration(page):
    text = (FOLDER / page).read_text(encoding="utf-8")
    return load_text(CONFIGURATION.search(text)[1], Path(page), {}, rules=rule_ids())


def frames():
    for page in PAGES:
        for form, refused, body in BLOCK.findall((FOLDER / page).read_text(encoding="utf-8")):
            for frame in body.splitlines():
                yield page, form, refused, frame


def decode(form, frame, loaded) -> Decoded:
    if form == "senml":
        return decode_senml(frame.encode(), RECEIVED)
    if form == "line":
        return decode_line(frame.encode(), RECEIVED)
    table = TopicTable(loaded.mqtt.subscriptions)
    topic, payload = frame.split(" ", 1)
    return table.decoder(topic)(payload.encode(), RECEIVED, False)


@pytest.mark.parametrize(("page", "form", "refused", "frame"), list(frames()))
def test_a_frame_is_read_as_its_page_says(page, form, refused, frame):
    loaded = configuration(page)
    door = Admission(loaded.settings)
    decoded = decode(form, frame, loaded)
    admitted = [door.admit(heard, RECEIVED) for heard in decoded.heard]
    reasons = [reject.reason for reject in decoded.rejects] + [
        one.reason for one in admitted if isinstance(one, Refused)
    ]
    assert reasons == ([refused] if refused else [])
    if not refused:
        assert admitted


def test_the_pages_show_both_kinds():
    found = list(frames())
    assert len(found) > 15
    assert {page for page, _, refused, _ in found if refused} == set(PAGES)
    assert {page for page, _, refused, _ in found if not refused} == set(PAGES)


def test_the_readme_links_every_page():
    text = (FOLDER / "README.md").read_text(encoding="utf-8")
    assert all(f"({path.name})" in text for path in FOLDER.glob("*.md") if path.name != "README.md")


def test_a_page_is_exact_about_values():
    loaded = configuration("senml-over-mqtt.md")
    door = Admission(loaded.settings)
    (wet,) = decode_senml(b'[{"n":"b1-m","u":"/","v":0.78}]', RECEIVED).heard
    assert door.admit(wet, RECEIVED)[1:] == ("b1-m", 78_000_000, "%")
    both = decode_senml(b'[{"bn":"p1-a","u":"Cel","v":57.25},{"u":"V","v":3.61}]', RECEIVED).heard
    assert [door.admit(one, RECEIVED).probe for one in both] == ["p1-a", "p1-bat"]
