"""A page's key that is empty or broken costs a message its button, and never the message."""

from types import SimpleNamespace

import pytest

from monitor.app.connections.deliveries import composer
from monitor.app.page_ports import page_service
from monitor.app.page_ports.page_service import notice_links
from monitor.configuration import load_text
from monitor.model.errors import UnavailableError
from monitor.page import load_key

YARD = '[site]\nname = "Tern Hollow"\n[bins.b1]\nname = "Wall bin"\n[page]\nlink = "http://192.0.2.7:8460"\n'
ROW = SimpleNamespace(
    id=1, at=1_793_577_600_000, contact="ann", channel="wire", notice="abcde", place="b1", occasion="new", priority=4,
    text="WORMS IN DANGER.", attempts=0, maybe_repeat=False, why="",
)  # fmt: skip


@pytest.fixture
def letters(tmp_path, monkeypatch):
    configuration = load_text(YARD, tmp_path / "heaptender.toml", {}, rules=set())
    monkeypatch.setattr(page_service, "_asks", lambda *_: True)
    links = notice_links(lambda: configuration, SimpleNamespace(engine=None))
    configuration.data.mkdir()
    return configuration.data, composer(lambda: configuration, lambda: "", links)


def test_a_key_that_a_power_cut_left_empty_is_made_anew(letters):
    folder, compose = letters
    (folder / "page.key").write_bytes(b"")
    assert "I'll see to it: http://192.0.2.7:8460/" in compose(ROW).body
    assert len((folder / "page.key").read_bytes()) == 32
    assert load_key(folder) == load_key(folder)


def test_a_broken_key_costs_the_button_alone(letters):
    folder, compose = letters
    (folder / "page.key").write_bytes(b"too short")
    body = compose(ROW).body
    assert "WORMS IN DANGER." in body
    assert "http://192.0.2.7:8460/" in body
    assert "seen it" not in body
    with pytest.raises(UnavailableError, match="too short"):
        load_key(folder)


def test_whatever_fails_about_links_and_head_the_message_goes(letters):
    def broken(*_):
        raise RuntimeError("the record cannot be read")

    folder, _ = letters
    configuration = load_text(YARD, folder.parent / "heaptender.toml", {}, rules=set())
    body = composer(lambda: configuration, broken, broken)(ROW).body
    assert "WORMS IN DANGER." in body
