"""Makes foreign text safe to show: a terminal or a log prints it and never obeys it."""


def harmless(text: str) -> str:
    """Return a text as one line in which every character that does not print is written as an escape."""
    if text.isprintable():
        return text
    return "".join(sign if sign.isprintable() else sign.encode("unicode_escape").decode() for sign in text)
