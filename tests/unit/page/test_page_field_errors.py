"""A refused form points at the one field that is wrong: marked, tied to the reason, focused, with what was typed in it."""

import re

import pytest

FORMS = [
    (
        "/do/work",
        {"place": "p1", "form": "watered", "kind": "watered", "amount": "lots", "measure": "gal"},
        "amount",
        "lots",
    ),
    (
        "/do/work",
        {"place": "p1", "form": "watered", "kind": "watered", "when": "2031-01-01T10:00"},
        "when",
        "2031-01-01T10:00",
    ),
    ("/do/work", {"place": "p1", "form": "added", "kind": "added", "by": "?", "by_other": " "}, "by_other", " "),
    ("/do/work", {"place": "p1", "form": "note", "kind": "note", "note": " "}, "note", None),
    ("/do/work", {"place": "p1", "form": "other", "kind": ""}, "kind", None),
    ("/do/work", {"place": "p1", "form": "other", "kind": "moved", "to": ""}, "to", None),
    ("/do/work", {"place": "b1", "form": "harvested", "kind": "harvested", "moisture": "wet"}, "moisture", "wet"),
    ("/do/work", {"place": "yard", "form": "delivery", "kind": "delivery", "what": ""}, "what", ""),
    ("/do/reading", {"place": "p1", "form": "reading", "value": "hot"}, "value", "hot"),
    ("/do/reading", {"place": "p2", "form": "reading", "value_1": "131", "value_2": "hot"}, "value_2", "hot"),
    ("/do/reading", {"place": "p2", "form": "reading"}, "value_1", ""),
    (
        "/do/mark",
        {"place": "p1", "form": "mark", "kind": "fine", "from": "2026-07-20T10:00", "to": "2026-07-20T09:00"},
        "from",
        "2026-07-20T10:00",
    ),
    ("/do/round", {"when": "soon"}, "when", "soon"),
    ("/do/round", {"by": "?", "by_other": "", "value:p1:": "131"}, "by_other", ""),
]


@pytest.mark.parametrize(
    ("path", "form", "name", "typed"), FORMS, ids=[f"{path[4:]} {name}" for path, _, name, _ in FORMS]
)
def test_the_wrong_field_is_tied_to_the_reason(near, yard, path, form, name, typed):
    before = len(yard.put_in)
    answer = near.send(path, **form)
    assert answer.status_code == 400
    assert len(yard.put_in) == before
    marked = re.findall(r'<(?:input|select|textarea)[^>]*aria-invalid="true"[^>]*>', answer.text)
    assert len(marked) == 1, "one field, and no more"
    (field,) = marked
    assert f'name="{name}"' in field
    assert 'aria-describedby="wrong"' in field
    assert "autofocus" in field, "so that the focus goes there with and without JavaScript"
    assert typed is None or f'value="{typed}"' in field
    assert answer.text.count("autofocus") == 1
    reason = re.findall(r'<p class="wrong" role="alert" id="wrong"[^>]*>([^<]+)</p>', answer.text)
    assert len(reason) == 1
    assert reason[0].strip()


def test_a_wrong_password_is_tied_to_its_field(open_page):
    elsewhere, _, _ = open_page
    answer = elsewhere("192.0.2.44").send("/enter", page="/enter", password="not this one, friend")
    field = re.search(r'<input type="password"[^>]*>', answer.text)[0]
    assert 'aria-invalid="true" aria-describedby="wrong"' in field
    assert "autofocus" in field
