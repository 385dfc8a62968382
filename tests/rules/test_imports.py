"""Imports go one way: no circle, and into another package by its face alone.

That rows import downwards only and neighbours never meet is checked by `lint-imports` (`pyproject.toml`); that nobody reaches
for another's private names, by ruff.
"""

import ast
import re
from collections import defaultdict
from functools import cache
from graphlib import CycleError, TopologicalSorter

import pytest
from source import ROOT, imports, name_of, names, still_allowed, trees

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


def declared(tree):
    """Return the names that a module declares itself, on its first level or under an `if` there."""
    found = set()
    for one in (
        inner for outer in tree.body for inner in (outer, *getattr(outer, "body", ()), *getattr(outer, "orelse", ()))
    ):
        match one:
            case ast.FunctionDef(name=name) | ast.AsyncFunctionDef(name=name) | ast.ClassDef(name=name):
                found.add(name)
            case ast.Assign(targets=targets):
                found |= {name.id for target in targets for name in ast.walk(target) if isinstance(name, ast.Name)}
            case ast.AnnAssign(target=ast.Name(id=name)):
                found.add(name)
    return found


@cache
def taken():
    """Return, by module, the pairs (module, name) that it imports from the others."""
    return {
        name_of(path): {
            (one.module, alias.name)
            for one in ast.walk(tree)
            if isinstance(one, ast.ImportFrom) and (one.module or "").split(".")[0] == "monitor"
            for alias in one.names
        }
        for path, tree in trees().items()
    }


def test_names_are_taken_from_where_they_are_declared_or_from_a_face():
    own = {name_of(path): declared(tree) for path, tree in trees().items() if not path.endswith("__init__.py")}
    borrowed = {
        f"{module} from {source}: {name}"
        for module, found in taken().items()
        for source, name in found
        if source in own and name not in own[source]
    }
    assert sorted(borrowed) == []


FROM = re.compile(r"from (monitor[.\w]*) import (\([^)]*\)|[^\n]*)")


def test_a_face_shows_nothing_that_nobody_takes():
    tests = "\n".join(path.read_text(encoding="utf-8") for path in (ROOT / "tests").rglob("*.py"))
    wanted = {(module, name) for module, said in FROM.findall(tests) for name in re.findall(r"\w+", said)}
    wanted |= {one for found in taken().values() for one in found}
    faces = {name_of(path) for path in trees() if path.endswith("__init__.py")}
    idle = {f"{face}: {name}" for face in faces for _, name in taken()[face] if (face, name) not in wanted}
    assert sorted(idle) == []
