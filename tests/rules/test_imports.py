"""Imports go one way: no circle, and into another package by its face alone.

That rows import downwards only and neighbours never meet is checked by `lint-imports` (`pyproject.toml`); that nobody reaches
for another's private names, by ruff.
"""

from collections import defaultdict
from graphlib import CycleError, TopologicalSorter

import pytest
from source import imports, name_of, names, still_allowed, trees

FACELESS = {"model", "__main__"}
"""`model` is a vocabulary, each of its modules a face of its own."""

ROOMY = {"certificate", "proof"}
"""Packages whose rooms, too, are entered by their faces alone."""


def test_no_circle():
    graph = {name_of(path): {one for one, loaded in imports(path) if loaded} - {name_of(path)} for path in trees()}
    try:
        list(TopologicalSorter(graph).static_order())
    except CycleError as fault:
        raise AssertionError("a circle of imports: " + " <- ".join(fault.args[1])) from None


def inner_imports():
    """Return, by `package into package`, the modules that are imported past the other package's face."""
    found = defaultdict(set)
    for path in trees():
        package = path.split("/")[0].removesuffix(".py")
        for module, _ in imports(path):
            parts = module.split(".")
            is_face = names()[module].endswith("__init__.py")
            if len(parts) > 2 and parts[1] != package and not is_face and FACELESS.isdisjoint({package, parts[1]}):
                found[f"{package} into {parts[1]}"].add(".".join(parts[2:]))
    return dict(found)


def test_other_packages_are_imported_by_their_faces():
    allowed = still_allowed()["inner_imports"]
    more = {pair: sorted(found) for pair, found in inner_imports().items() if pair not in allowed}
    assert more == {}, "put the names on that package's face (`__init__.py`)"


def test_what_is_allowed_is_still_imported():
    gone = sorted(set(still_allowed()["inner_imports"]) - inner_imports().keys())
    assert gone == [], "take these out of still_allowed.toml"


def room_imports(package):
    """Return, by `room into room` of a package, the modules that are imported past the other room's face."""
    found = defaultdict(set)
    for path in trees():
        room = path.split("/")[1] if path.startswith(f"{package}/") and path.count("/") > 1 else None
        for module, _ in imports(path):
            parts = module.split(".")
            is_inner = parts[1:2] == [package] and len(parts) > 3 and not names()[module].endswith("__init__.py")
            if room is not None and is_inner and parts[2] != room:
                found[f"{room} into {parts[2]}"].add(".".join(parts[3:]))
    return dict(found)


@pytest.mark.parametrize("package", sorted(ROOMY))
def test_rooms_are_entered_by_their_faces(package):
    rooms = {path.split("/")[1] for path in trees() if path.startswith(f"{package}/") and path.count("/") > 1}
    assert len(rooms) > 1
    assert room_imports(package) == {}, "put the names on that room's face (`__init__.py`)"
