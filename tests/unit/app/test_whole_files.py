"""Files are written whole, and no link is followed on the way."""

import pytest

from monitor.app.console.whole_files import whole_file


def test_a_link_in_wait_under_the_passing_name_is_not_followed(tmp_path):
    victim = tmp_path / "victim"
    victim.write_bytes(b"keep me")
    (tmp_path / "x.csv.part").symlink_to(victim)
    with whole_file(tmp_path / "x.csv") as raw:
        raw.write(b"rows")
    assert victim.read_bytes() == b"keep me"
    assert (tmp_path / "x.csv").read_bytes() == b"rows"
    assert sorted(path.name for path in tmp_path.iterdir()) == ["victim", "x.csv"]


def test_a_link_in_the_place_itself_is_replaced_and_its_target_stays(tmp_path):
    victim = tmp_path / "victim"
    victim.write_bytes(b"keep me")
    (tmp_path / "x.csv").symlink_to(victim)
    with whole_file(tmp_path / "x.csv") as raw:
        raw.write(b"rows")
    assert victim.read_bytes() == b"keep me"


def test_what_fails_leaves_what_was_there(tmp_path):
    (tmp_path / "x.csv").write_bytes(b"before")

    def fails():
        with whole_file(tmp_path / "x.csv") as raw:
            raw.write(b"half")
            raise RuntimeError

    with pytest.raises(RuntimeError):
        fails()
    assert (tmp_path / "x.csv").read_bytes() == b"before"
    assert [path.name for path in tmp_path.iterdir()] == ["x.csv"]
