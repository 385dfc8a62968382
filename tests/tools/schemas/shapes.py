"""The words in which the schemas are declared: each makes a piece of JSON Schema, and none comes without a description."""

from collections.abc import Iterable, Mapping
from dataclasses import fields
from enum import Enum
from typing import Any

Shape = dict[str, Any]

_UTC = r"^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\d\.\d{3}Z$"
"""The form of every instant; schemas alone do not look at `format`."""


def text(said: str) -> Shape:
    """Return the shape of a text."""
    return {"description": said, "type": "string"}


def word(said: str, words: Iterable[str | Enum]) -> Shape:
    """Return the shape of a word out of a list, such as an enumeration of the program."""
    return {"description": said, "enum": [one.value if isinstance(one, Enum) else one for one in words]}


def yes(said: str) -> Shape:
    """Return the shape of a yes or no; the words begin with `Whether`."""
    return {"description": said, "type": "boolean"}


def count(said: str) -> Shape:
    """Return the shape of a number of things, 0 or more."""
    return {"description": said, "type": "integer", "minimum": 0}


def whole(said: str, unit: str) -> Shape:
    """Return the shape of a whole number with its unit."""
    return {"description": f"{said}, {unit}.", "type": "integer"}


def number(said: str, unit: str) -> Shape:
    """Return the shape of a number with its unit."""
    return {"description": f"{said}, {unit}.", "type": "number"}


def time(said: str) -> Shape:
    """Return the shape of an instant."""
    return {"description": f"{said}, RFC 3339 in UTC.", "type": "string", "format": "date-time", "pattern": _UTC}


def day(said: str) -> Shape:
    """Return the shape of a local date."""
    return {"description": f"{said}, a local date such as 2026-07-19.", "type": "string", "format": "date"}


def nothing(said: str) -> Shape:
    """Return the shape of what is always null here."""
    return {"description": said, "type": "null"}


def anything(said: str) -> Shape:
    """Return the shape of what is described elsewhere, as the words say."""
    return {"description": said}


def perhaps(shape: Shape, why_not: str) -> Shape:
    """Return a shape that may be null.

    Args:
        shape: The shape otherwise.
        why_not: When it is null, as the end of a sentence: `null if nobody knows`.
    """
    found = shape | {"description": f"{shape['description']} {why_not[:1].upper()}{why_not[1:]}."}
    if "enum" in shape:
        return found | {"enum": [*shape["enum"], None]}
    return found | {"type": [shape["type"], "null"]}


def rows(said: str, item: Shape) -> Shape:
    """Return the shape of a list."""
    return {"description": said, "type": "array", "items": item}


def pair(said: str, item: Shape) -> Shape:
    """Return the shape of a list of two."""
    return rows(said, item) | {"minItems": 2, "maxItems": 2}


def thing(said: str, properties: Mapping[str, Shape], more: Shape | None = None) -> Shape:
    """Return the shape of an object.

    Args:
        said: Its description.
        properties: Its properties by name; a name with `?` at its end may be missing.
        more: The shape of properties of any other name; None: there are no others.
    """
    return {
        "description": said,
        "type": "object",
        "properties": {name.removesuffix("?"): shape for name, shape in properties.items()},
        "required": [name for name in properties if not name.endswith("?")],
        "additionalProperties": False if more is None else more,
    }


def by_name(said: str, value: Shape, names: Iterable[str | Enum] = ()) -> Shape:
    """Return the shape of an object that is a table.

    Args:
        said: Its description, which says what its names are.
        value: The shape of each value.
        names: All names that there are; empty: any.
    """
    shape = {"description": said, "type": "object", "additionalProperties": value}
    if known := [one.value if isinstance(one, Enum) else one for one in names]:
        shape["propertyNames"] = {"enum": known}
    return shape


def either(said: str, *shapes: Shape) -> Shape:
    """Return the shape of what has one of several shapes."""
    return {"description": said, "anyOf": list(shapes)}


def said_of(declared: type) -> dict[str, str]:
    """Return what the docstring of a dataclass says about each of its fields."""
    entries: list[str] = []
    for line in (declared.__doc__ or "").partition("Attributes:")[2].splitlines():
        if line.startswith(" " * 8) and line[8:9].strip():
            entries.append(line.strip())
        elif line.strip():
            entries[-1] += f" {line.strip()}"
    said = {}
    for names, _, words in (one.partition(": ") for one in entries):
        said |= dict.fromkeys(names.split(", "), words)
    return {one.name: said[one.name] for one in fields(declared)}
