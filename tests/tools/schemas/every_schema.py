"""Every schema of what `--json` prints, with its version; `docs/schemas/` holds them as files."""

import json
from pathlib import Path
from typing import Any

from tests.tools.schemas import record_shapes as record
from tests.tools.schemas import upkeep_shapes as upkeep
from tests.tools.schemas import yard_shapes as yard
from tests.tools.schemas.shapes import Shape

FOLDER = Path(__file__).parents[3] / "docs" / "schemas"
"""Where the files lie."""

LINES = frozenset({"log", "replay", "export", "listen", "label", "recipe"})
"""Commands that may print several lines, each a JSON value of its own."""

DECLARED: dict[str, tuple[int, Shape]] = {
    "bed": (1, yard.BED),
    "certify": (1, record.CERTIFY),
    "check": (1, upkeep.CHECK),
    "diary": (1, yard.DIARY),
    "export": (1, record.EXPORT),
    "feeding": (1, yard.FEEDING),
    "harvest": (1, yard.HARVEST),
    "import": (1, record.IMPORT),
    "label": (1, record.LABEL),
    "listen": (1, upkeep.LISTEN),
    "log": (1, record.LOG),
    "lots": (1, yard.LOTS),
    "lots give": (1, yard.LOTS_ENTRY),
    "lots make": (1, yard.LOTS_ENTRY),
    "lots recall": (1, yard.LOTS_RECALL),
    "lots test": (1, yard.LOTS_ENTRY),
    "lots trace": (1, yard.LOTS_TRACE),
    "pack": (1, upkeep.PACK),
    "recipe": (1, yard.RECIPE),
    "reload": (1, upkeep.RELOAD),
    "replay": (1, record.EFFECT),
    "report": (1, yard.EVERY_REPORT),
    "restore": (1, upkeep.RESTORE),
    "rules": (1, record.RULES),
    "status": (1, yard.STATUS),
    "stock": (1, yard.STOCK),
    "tune": (1, record.TUNE),
    "unpack": (1, upkeep.UNPACK),
    "verify": (1, record.VERIFY),
}
"""The version and the shape of each command's JSON, by the command's words.

Raise a version where a field goes or comes to mean something else.
"""


_SHARED = {"payload": record.PAYLOAD, "work": record.WORK}
"""Shapes that stand once in a file, since they are long and come again."""


def path_of(command: str) -> Path:
    """Return the file of a command's schema."""
    return FOLDER / f"{command.replace(' ', '-')}.json"


def schema_of(command: str) -> dict[str, Any]:
    """Return the whole schema of a command's JSON."""
    version, declared = DECLARED[command]
    used: dict[str, Shape] = {}
    shape = _referring(declared, used)
    each = " Each line is a value of its own." if command in LINES else ""
    return {
        "$schema": "https://json-schema.org/draft/2020-12/schema",
        "$id": f"urn:heaptender:{command.replace(' ', '-')}:{version}",
        "title": f"heaptender {command} --json, version {version}",
        **shape,
        "description": f"{shape['description']}{each}",
        **({"$defs": {name: used[name] for name in sorted(used)}} if used else {}),
    }


def _referring(value: Any, used: dict[str, Shape]) -> Any:
    """Return a part of a shape with a reference in place of each shared shape, which goes into `used`."""
    for name, shared in _SHARED.items():
        if value is shared:
            if name not in used:
                used[name] = {}
                used[name] = {key: _referring(inner, used) for key, inner in shared.items()}
            return {"$ref": f"#/$defs/{name}"}
    if isinstance(value, dict):
        return {key: _referring(inner, used) for key, inner in value.items()}
    return [_referring(inner, used) for inner in value] if isinstance(value, list) else value


def text_of(command: str) -> str:
    """Return the file of a command's schema as text."""
    return json.dumps(schema_of(command), ensure_ascii=False, indent=1) + "\n"


def table() -> str:
    """Return the commands with their schemas as the table of `docs/json.md`."""
    lines = ["| command | version | what it prints | schema |", "|---|---|---|---|"]
    for command, (version, _) in DECLARED.items():
        name = path_of(command).name
        lines.append(f"| `{command}` | {version} | {schema_of(command)['description']} | [{name}](schemas/{name}) |")
    return "\n".join(lines)
