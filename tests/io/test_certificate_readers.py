"""Independent readers find a certificate's signature valid and its attachments whole: poppler's pdfsig and pdfdetach."""

import os
import shutil
import subprocess

import certificate_scenes as scenes
import pytest

from monitor.certificate.checking.container import open_container
from monitor.certificate.record.attached_rows import unpack

pytestmark = pytest.mark.io


def tool(name):
    found = shutil.which(name)
    if found is None:
        if os.environ.get("CI"):
            pytest.fail(f"{name} is not installed (apt install poppler-utils)")
        pytest.skip(f"{name} is not installed (apt install poppler-utils)")
    return found


def told(*command):
    done = subprocess.run(command, capture_output=True, check=False, timeout=60)
    assert done.returncode in {0, 2}, (
        done.stderr
    )  # pdfsig and pdfdetach -list answer 2 where there is something to list
    return done.stdout.decode("utf-8", "replace")


@pytest.fixture(scope="module", params=["small", "not_met", "not_proven", "by_hand", "long_and_hostile"])
def file(request, tmp_path_factory):
    folder = tmp_path_factory.mktemp(request.param)
    path = folder / "certificate.pdf"
    path.write_bytes(scenes.certificate(folder / "keys", getattr(scenes, request.param)()))
    return path


def test_pdfsig_finds_the_signature_valid_and_the_whole_document_signed(file):
    shown = told(tool("pdfsig"), "-nocert", str(file))
    assert shown.count("Signature #") == 1
    assert "Signature is Valid" in shown
    assert "Total document signed" in shown
    assert "ETSI.CAdES.detached" in shown
    assert "SHA-256" in shown


def test_pdfsig_finds_a_changed_page(file, tmp_path):
    changed = bytearray(file.read_bytes())
    changed[changed.find(b"/BaseFont") + 10] ^= 1
    other = tmp_path / "changed.pdf"
    other.write_bytes(changed)
    assert "Signature is Valid" not in told(tool("pdfsig"), "-nocert", str(other))


def test_pdfdetach_and_pypdf_take_out_both_attachments_byte_for_byte(file, tmp_path):
    from pypdf import PdfReader

    pdf = file.read_bytes()
    inside = open_container(pdf, scenes.place(pdf))
    told(tool("pdfdetach"), "-saveall", "-o", str(tmp_path), str(file))
    attached = PdfReader(file).attachments
    for name, wanted in (("certificate.json", inside.record), ("readings.csv.gz", inside.readings)):
        assert (tmp_path / name).read_bytes() == wanted
        assert attached[name] == [wanted]
    assert unpack(inside.readings).startswith(b"time,probe,quantity,value,unit")


def test_the_pages_can_be_drawn(file, tmp_path):
    told(tool("pdftoppm"), "-r", "20", "-png", str(file), str(tmp_path / "page"))
    assert list(tmp_path.glob("page*.png"))
