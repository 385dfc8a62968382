"""Writes the schemas of what `--json` prints, from their declarations, into `docs/schemas/`.

python -m tests.tools.schemas
"""

from jsonschema import Draft202012Validator

from tests.tools.schemas.every_schema import DECLARED, FOLDER, path_of, schema_of, text_of


def main() -> None:
    """Write every schema, and remove those of commands that are gone.

    Raises:
        SchemaError: A declaration makes no JSON Schema; nothing is written.
    """
    for command in DECLARED:
        Draft202012Validator.check_schema(schema_of(command))
    FOLDER.mkdir(exist_ok=True)
    for left in set(FOLDER.glob("*.json")) - {path_of(command) for command in DECLARED}:
        left.unlink()
    for command in DECLARED:
        path_of(command).write_text(text_of(command), encoding="utf-8")


if __name__ == "__main__":
    main()
