"""Below the engine nobody reads `values` by a string: they are typed, and plain JSON only where it is written and read."""

import ast

from source import trees

ROOMS = ("engine/", "piles/", "alarms/", "bins/")


def is_values(node):
    """Return whether a node is a name or an attribute `values`."""
    return (isinstance(node, ast.Name) and node.id == "values") or (
        isinstance(node, ast.Attribute) and node.attr == "values"
    )


def by_string(tree):
    """Return the lines that read or write an entry of `values` by a string."""
    for one in ast.walk(tree):
        match one:
            case ast.Subscript(value=read, slice=ast.Constant(value=str())) if is_values(read):
                yield one.lineno
            case ast.Call(func=ast.Attribute(value=read, attr="get"), args=[ast.Constant(value=str()), *_]) if (
                is_values(read)
            ):
                yield one.lineno


def test_values_are_read_by_their_fields():
    found = {path: [*by_string(tree)] for path, tree in trees().items() if path.startswith(ROOMS)}
    assert {path: lines for path, lines in found.items() if lines} == {}, "give them a type (`model.alarm_values`)"


def test_the_rule_sees_each_way_to_read_by_a_string():
    told = 'values["value"]\nrecord.values.get("limit")\nvalues.get("why", "")\nvalues["by"] = 1\n'
    free = 'values[0]\nline.values[key]\nline.values.get(key)\nother["value"]\nfound.values()\n'
    assert sorted(by_string(ast.parse(told + free))) == [1, 2, 3, 4]
