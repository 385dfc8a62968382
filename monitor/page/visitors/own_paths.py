"""Where a form leads back to: never out of the page."""


def own_path(path: str) -> str:
    """Return a path of this page to go back to, or "/" where it leads elsewhere or only takes forms."""
    safe = (
        path.startswith("/") and not path.startswith(("//", "/\\", "/do/")) and "\\" not in path and path.isprintable()
    )
    return path if safe and len(path) < 300 else "/"
