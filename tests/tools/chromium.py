"""The browser of tests and pictures.

Debian's plain Chromium draws a window's own surface even where nobody sees it, which keeps a core busy beside the page. With
it, 45 tests of the page took 134 s of the processor; with the shell, which is the same engine without a window, 93 s.
"""

from typing import Any

CHROMIUM = "/usr/bin/chromium-headless-shell"
NAMES = ("yard.example", "rebound.example")
"""Names that lead to loopback: pages that are reached by name, not by an address of this computer."""


def launch(playwright: Any) -> Any:
    """Start the browser; the caller closes it."""
    rules = ", ".join(f"MAP {name} 127.0.0.1" for name in NAMES)
    return playwright.chromium.launch(executable_path=CHROMIUM, args=["--no-sandbox", f"--host-resolver-rules={rules}"])
