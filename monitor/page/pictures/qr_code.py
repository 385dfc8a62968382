"""Draws QR codes: of a place's page for its label, of a guest link.

Source: ISO/IEC 18004 (QR code), through a kept library; error correction M, since labels in a yard get dirty.
"""

import io


def qr_code(address: str, words: str = "QR code of this link") -> str:
    """Return the QR code of an address as SVG without colours or styles; `words`, safe for HTML, are its text alternative."""
    rows = qr_rows(address)
    size = len(rows) + 8
    path = io.StringIO()
    for y, row in enumerate(rows):
        x = 0
        while x < len(row):
            run = x
            while run < len(row) and row[run]:
                run += 1
            if run > x:
                path.write(f"M{x + 4} {y + 4}h{run - x}v1h-{run - x}z")
            x = max(run, x + 1)
    return (
        f'<svg class="code" viewBox="0 0 {size} {size}" width="{size * 4}" height="{size * 4}" role="img" '
        f'aria-label="{words}" shape-rendering="crispEdges">'
        f'<rect class="code-paper" width="{size}" height="{size}"/><path class="code-ink" d="{path.getvalue()}"/></svg>'
    )


def qr_rows(address: str) -> list[bytes]:
    """Return the squares of the QR code of an address, row by row, 1 for dark."""
    import segno  # noqa: PLC0415 (only the labels need it)

    return [bytes(row) for row in segno.make(address, error="m", micro=False).matrix]
