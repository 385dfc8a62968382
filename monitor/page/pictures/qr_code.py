"""Draws QR codes: of a place's page for its label, of a guest link.

Source: ISO/IEC 18004 (QR code), through a kept library. Codes on a screen have error correction M; those of labels Q, which
bears a quarter of the squares lost, since labels in a yard get dirty.
"""

import io


def qr_code(address: str, words: str = "QR code of this link", *, mm: float = 0) -> str:
    """Return the QR code of an address as SVG without colours or styles.

    Args:
        address: The address.
        words: Its text alternative, safe for HTML.
        mm: Size of its squares together on paper, mm, for a label, with error correction Q; 0: for a screen.
    """
    rows = qr_rows(address, "q" if mm else "m")
    size = len(rows) + 8
    side = f"{mm * size / len(rows):.2f}mm" if mm else str(size * 4)
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
        f'<svg class="code" viewBox="0 0 {size} {size}" width="{side}" height="{side}" role="img" '
        f'aria-label="{words}" shape-rendering="crispEdges">'
        f'<rect class="code-paper" width="{size}" height="{size}"/><path class="code-ink" d="{path.getvalue()}"/></svg>'
    )


def qr_rows(address: str, correction: str = "m") -> list[bytes]:
    """Return the squares of the QR code of an address, row by row, 1 for dark; with error correction `m` or `q`."""
    import segno  # noqa: PLC0415 (only the labels need it)

    return [bytes(row) for row in segno.make(address, error=correction, micro=False).matrix]
