"""The note of the configuration file that the daemon has read."""

from monitor.app.yard.taken_file import FILE, TakenNote, digest_of, taken_file, taken_words


def noted(tmp_path):
    file = tmp_path / "heaptender.toml"
    file.write_text("one = 1\n")
    note = TakenNote(tmp_path, 17)
    note.taken(file, digest_of(file))
    return file, note


def test_the_note_is_that_of_the_daemon_that_runs_and_of_no_other_process(tmp_path):
    # A command holds the data folder for a moment only; the signal that asks a daemon to read its file would end it.
    noted(tmp_path)
    assert taken_file(tmp_path, 17).asked == 1
    assert taken_file(tmp_path, 18) is None
    assert taken_file(tmp_path, None) is None


def test_a_note_that_is_rubbish_or_of_another_version_is_none(tmp_path):
    noted(tmp_path)
    for rubbish in ("", "[]", "{}", '{"pid": 17}', '{"pid": 17, "refused": 3}', "\x00"):
        (tmp_path / FILE).write_text(rubbish)
        assert taken_file(tmp_path, 17) is None


def test_a_file_is_old_from_its_change_until_it_is_taken_or_refused(tmp_path):
    file, note = noted(tmp_path)
    assert taken_words(taken_file(tmp_path, 17), "Mon 07:52") == ""
    file.write_text("one = 2\n")
    assert taken_words(taken_file(tmp_path, 17), "Mon 07:52") == (
        "heaptender.toml was changed after the daemon read it (Mon 07:52): `heaptender reload` has it read again."
    )
    note.refused(["heaptender.toml, line 1: one: this key is unknown.", "Another fault."], digest_of(file))
    assert taken_file(tmp_path, 17).asked == 2
    assert taken_words(taken_file(tmp_path, 17), "Mon 07:52") == (
        "The daemon refused the changed heaptender.toml and keeps the one of Mon 07:52: "
        "heaptender.toml, line 1: one: this key is unknown and 1 more."
    )
    file.write_text("one = 1\n")
    assert taken_words(taken_file(tmp_path, 17), "Mon 07:52") == "", "changed back to what is in force"
    file.write_text("one = 2\n")
    note.taken(file, digest_of(file))
    assert taken_words(taken_file(tmp_path, 17), "Mon 07:52") == ""
    file.unlink()
    assert taken_words(taken_file(tmp_path, 17), "Mon 07:52") == "", "nobody can say of a lost file that it was changed"


def test_without_a_note_nothing_is_said():
    assert taken_words(None, "") == ""
