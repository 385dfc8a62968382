"""Checks the merged tables against the shape of `config_document` and turns the errors into sentences.

Rules: a faulty value is noted and removed, so that the same run can check the rest; a table whose required key is
missing or faulty is removed whole; items of a list keep their numbers in later sentences.
"""

from typing import Any, get_args

from pydantic import BaseModel, ValidationError
from pydantic_core import ErrorDetails

from monitor.configuration import quantities
from monitor.configuration.config_document import FAULT, Document
from monitor.configuration.config_problems import KeyPath, Problems, show_path, suggestion
from monitor.configuration.thresholds import keys_of
from monitor.model.thresholds import BinThresholds, PileThresholds

_EXPECTED = {
    "string_type": ("a text", "write a text in quotes"),
    "int_type": ("a whole number", "write digits only, without quotes"),
    "int_parsing": ("a whole number", "write digits only, without quotes"),
    "int_from_float": ("a whole number", "write digits only, without quotes"),
    "bool_type": ("true or false", "write true or false"),
    "bool_parsing": ("true or false", "write true or false"),
    "list_type": ("a list", 'write a list, such as ["one", "two"]'),
    "tuple_type": ("a pair", 'write pairs, such as [["0.4 degC", "0 degC"]]'),
    "dict_type": ("a table", "write its keys under a [table] of their own"),
    "model_type": ("a table", "write its keys under a [table] of their own"),
    "model_attributes_type": ("a table", "write its keys under a [table] of their own"),
}


def _model_at(path: KeyPath) -> type[BaseModel] | None:
    """Return the model of the table at a path, or None if that table has no fixed keys."""
    found: Any = Document
    for part in path:
        if isinstance(found, type) and issubclass(found, BaseModel):
            fields = {field.alias or name: field for name, field in found.model_fields.items()}
            found = fields[str(part)].annotation if part in fields else None
            members = [arg for arg in get_args(found) if arg is not type(None)]
            found = members[0] if len(members) == 1 and type(None) in get_args(found) else found
        else:  # dict[str, Part] or list[Part]
            found = get_args(found)[-1] if get_args(found) else None
    return found if isinstance(found, type) and issubclass(found, BaseModel) else None


def _keys(model: type[BaseModel]) -> list[str]:
    return [field.alias or name for name, field in model.model_fields.items()]


def _unknown(path: KeyPath) -> tuple[str, str]:
    """Return the two halves of the sentence about an unknown key: the fault, and the right place or the nearest known key."""
    key = str(path[-1])
    model = _model_at(path[:-1])
    wrong = "this key is unknown" if len(path) > 1 else "this section is unknown"
    thresholds = {"piles": PileThresholds, "bins": BinThresholds}.get(str(path[0]))
    if thresholds is not None and len(path) == 3 and key in keys_of(thresholds):
        return wrong, f"it is a threshold: write it under [{path[0]}.{path[1]}.thresholds]"
    known = _keys(model) if model is not None else []
    if len(path) == 1:
        return wrong, suggestion(key, known, noun="section")
    return wrong, suggestion(key, known, noun="key")


def _sentence(error: ErrorDetails, path: KeyPath) -> tuple[str, str]:
    """Return (fault, what would be right) for one error of the validator."""
    kind, value, context = error["type"], error["input"], error.get("ctx", {})
    if kind == FAULT:
        return str(context["wrong"]), str(context["right"])
    if kind == "extra_forbidden":
        return _unknown(path)
    if kind == "missing":
        return _missing(path)
    if kind == "list_type" and isinstance(value, dict):
        return "it is written as one table", f"write [[{show_path(path)}]], with double brackets, before each"
    if kind in _EXPECTED:
        expected, right = _EXPECTED[kind]
        return f"{quantities.show(value)} is not {expected}", right
    if kind in {"greater_than_equal", "less_than_equal"}:
        limit, word = (context["ge"], "below") if "ge" in context else (context["le"], "above")
        return (
            f"{quantities.show(value)} is {word} {limit}",
            f"write {limit} or {'more' if word == 'below' else 'less'}",
        )
    if kind in {"too_short", "too_long"}:
        least, most = context.get("min_length"), context.get("max_length")
        limit_text = f"write {least} or more" if least is not None else f"write {most} or fewer"
        return f"it holds {context.get('actual_length')} items", limit_text
    return f"{quantities.show(value)} does not fit here ({error['msg']})", "docs/configuration.md shows the form"


def _missing(path: KeyPath) -> tuple[str, str]:
    if isinstance(path[-1], int):
        return "it is one value", 'a point is a pair, what the probe showed and what is right: ["0.4 degC", "0 degC"]'
    return "it is missing", f"every {_noun(path)} has one"


def _noun(path: KeyPath) -> str:
    words = {"piles": "pile", "bins": "bin", "probes": "probe", "serial": "serial port", "contacts": "contact"}
    if "subscriptions" in path:
        return "subscription"
    if "calibration" in path:
        return "calibration"
    return words.get(str(path[0]), f"[{path[0]}]")


def _clean_location(location: KeyPath, document: Any) -> KeyPath:
    """Return the part of a validator's location that names keys of the document (unions add words of their own)."""
    path: KeyPath = ()
    found = document
    for part in location:
        inside = (isinstance(found, dict) and part in found) or (
            isinstance(found, list) and isinstance(part, int) and part < len(found)
        )
        if inside:
            found = found[part]
            path = (*path, part)
        elif isinstance(found, dict) and part == location[-1]:
            return (*path, part)
    return path


def _smallest(path: KeyPath, *, missing: bool) -> KeyPath:
    """Return the smallest part whose removal leaves the rest in shape."""
    cut = path[:-1] if missing else path
    while len(cut) > 1 and isinstance(cut[-1], int) and isinstance(cut[-2], int):
        cut = cut[:-2]  # half a pair makes no sense, so remove the pair's list
    while _required(cut):
        cut = cut[:-1]
    return cut


def _take_out(document: dict[str, Any], cut: KeyPath) -> None:
    holder: Any = document
    for part in cut[:-1]:
        holder = holder[part]
    if isinstance(cut[-1], int):
        del holder[cut[-1]]
    else:
        holder.pop(cut[-1], None)


def _scrubbed(value: Any, path: KeyPath, problems: Problems) -> Any:
    """Return a copy without NUL characters, which no path, topic or name can hold."""
    if isinstance(value, dict):
        return {key: _scrubbed(inner, (*path, key), problems) for key, inner in value.items()}
    if isinstance(value, list):
        return [_scrubbed(inner, (*path, index), problems) for index, inner in enumerate(value)]
    if isinstance(value, str) and "\0" in value:
        problems.add(path, "it holds a NUL character", "take it out")
        return value.replace("\0", "")
    return value


def shaped(tables: dict[str, Any], problems: Problems) -> Document:
    """Return the document of merged tables; faults are noted and left out of it."""
    rest = _scrubbed(tables, (), problems)
    # Each round removes at least one value or table, so the document itself bounds the number of rounds.
    for _ in range(1000):
        try:
            return Document(**rest)
        except ValidationError as error:
            cuts: set[KeyPath] = set()
            for detail in error.errors():
                path = _clean_location(detail["loc"], rest)
                problems.add(path, *_sentence(detail, path))
                cut = _smallest(path, missing=detail["type"] == "missing")
                if not cut:
                    return Document()
                cuts.add(cut)
            outer = _outermost(cuts)
            originals = [problems.original(cut) for cut in outer]
            for cut in outer:
                _take_out(rest, cut)
            for original in originals:
                if isinstance(original[-1], int):
                    problems.gone.setdefault(original[:-1], set()).add(original[-1])
    return Document()


def _outermost(cuts: set[KeyPath]) -> list[KeyPath]:
    """Return the cuts that no other cut contains, later items of a list first, so that the earlier items keep their numbers."""
    outer = [cut for cut in cuts if not any(cut[:length] in cuts for length in range(1, len(cut)))]
    return sorted(outer, key=lambda cut: [str(part).zfill(9) for part in cut], reverse=True)


def _required(path: KeyPath) -> bool:
    model = _model_at(path[:-1])
    if model is None:
        return False
    fields = {field.alias or name: field for name, field in model.model_fields.items()}
    return path[-1] in fields and fields[str(path[-1])].is_required()
