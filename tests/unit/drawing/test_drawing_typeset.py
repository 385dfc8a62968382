"""The typesetter of the certificate takes the printed form of every picture."""

import os
from pathlib import Path

import pytest
from drawing_samples import PICTURES

from monitor.drawing import Ink

try:
    import typst
except ImportError:
    if os.environ.get("CI") == "true":
        raise
    typst = None


@pytest.mark.skipif(typst is None, reason="typst is not installed")
def test_typst_embeds_every_printed_picture(tmp_path: Path):
    page = ["#set page(width: 20cm, height: auto)"]
    for count, draw in enumerate(PICTURES.values()):
        (tmp_path / f"{count}.svg").write_text(draw('north <b>&"', Ink.PRINT), encoding="utf-8")
        page.append(f'#image("{count}.svg", alt: "a picture")')
    (tmp_path / "page.typ").write_text("\n".join(page), encoding="utf-8")
    pdf = typst.compile(tmp_path / "page.typ", root=tmp_path, ignore_system_fonts=True)
    assert pdf.startswith(b"%PDF")
    # A word of a picture is text of the page, set in a typeface that typst carries.
    assert b"Libertinus" in pdf
