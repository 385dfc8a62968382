"""Nouns behind numbers: `1 pile`, `2 piles`."""


def plural(number: int, one: str, many: str = "") -> str:
    """Return a number with its noun.

    Args:
        number: The number.
        one: The noun in the singular.
        many: The noun in the plural; "": `one` with an s.
    """
    return f"{number} {one if number == 1 else many or f'{one}s'}"
