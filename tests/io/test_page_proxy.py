"""The page behind a web server as docs/page.md shows it, and under connections that say nothing."""

import re
import shutil
import socket
import ssl
import subprocess
import time
from contextlib import suppress
from datetime import UTC, datetime, timedelta
from pathlib import Path

import httpx
import pytest
from page_browser import missing
from page_yard_for_tests import TestYard

from monitor.page import PageServer, PageSettings, hash_password
from monitor.page.server.client_connections import MOST_OF_THIS_COMPUTER

pytestmark = pytest.mark.io

PASSWORD = "three barrows of leaves"
DOCS = Path(__file__).parents[2] / "docs" / "page.md"
NGINX = shutil.which("nginx") or "/usr/sbin/nginx"


@pytest.fixture
def yard(tmp_path):
    made = TestYard(tmp_path / "yard")
    yield made
    made.close()


def certificate(folder):
    """Write a certificate for yard.example and its key."""
    from cryptography import x509
    from cryptography.hazmat.primitives import hashes, serialization
    from cryptography.hazmat.primitives.asymmetric import ec
    from cryptography.x509.oid import NameOID

    key = ec.generate_private_key(ec.SECP256R1())
    name = x509.Name([x509.NameAttribute(NameOID.COMMON_NAME, "yard.example")])
    now = datetime.now(UTC)
    made = (
        x509.CertificateBuilder()
        .subject_name(name)
        .issuer_name(name)
        .public_key(key.public_key())
        .serial_number(x509.random_serial_number())
        .not_valid_before(now - timedelta(days=1))
        .not_valid_after(now + timedelta(days=2))
        .add_extension(x509.SubjectAlternativeName([x509.DNSName("yard.example")]), critical=False)
        .sign(key, hashes.SHA256())
    )
    (folder / "yard.pem").write_bytes(made.public_bytes(serialization.Encoding.PEM))
    plain = serialization.NoEncryption()
    form = serialization.PrivateFormat.PKCS8
    (folder / "yard.key").write_bytes(key.private_bytes(serialization.Encoding.PEM, form, plain))


class Proxy:
    """A web server in front of the page."""

    def __init__(self, folder, port, server_block):
        self._folder = folder
        (folder / "nginx.conf").write_text(
            f"daemon off; master_process off; pid {folder}/nginx.pid; error_log {folder}/error.log;\n"
            f"events {{}}\nhttp {{ access_log off; client_body_temp_path {folder}/b; proxy_temp_path {folder}/p;\n"
            f"fastcgi_temp_path {folder}/f; uwsgi_temp_path {folder}/u; scgi_temp_path {folder}/s;\n{server_block}\n}}\n"
        )
        words = [NGINX, "-p", str(folder), "-c", str(folder / "nginx.conf"), "-e", str(folder / "error.log")]
        self._process = subprocess.Popen(words, stdout=subprocess.DEVNULL, stderr=subprocess.PIPE)
        end = time.monotonic() + 20
        while time.monotonic() < end:
            try:
                socket.create_connection(("127.0.0.1", port), 1).close()
                return
            except OSError:
                assert self._process.poll() is None, self._process.stderr.read().decode()
                time.sleep(0.05)
        raise AssertionError("the web server does not listen")

    def close(self):
        self._process.terminate()
        self._process.wait(10)
        self._process.stderr.close()


def example(port, page_port, folder):
    """Return the server block of the docs, with the ports and files of this test."""
    text = DOCS.read_text(encoding="utf-8")
    block = re.search(r"```nginx\n(.+?)```", text, re.DOTALL)[1]
    assert "proxy_pass http://127.0.0.1:8460;" in block
    block = block.replace("listen 443 ssl", f"listen 127.0.0.1:{port} ssl").replace(":8460", f":{page_port}")
    return block.replace("/etc/ssl/yard.pem", str(folder / "yard.pem")).replace(
        "/etc/ssl/yard.key", str(folder / "yard.key")
    )


def visitor(port, scheme="https"):
    """Return somebody who reaches yard.example through the web server, and believes its certificate."""
    known = ssl.create_default_context()
    known.check_hostname, known.verify_mode = False, ssl.CERT_NONE
    headers = {"host": f"yard.example:{port}"}
    return httpx.Client(base_url=f"{scheme}://127.0.0.1:{port}", headers=headers, verify=known, timeout=20)


def page(yard, link, page_port):
    settings = PageSettings(folder=yard.folder, port=page_port, link=link, password_hash=hash_password(PASSWORD))
    server = PageServer(settings, yard, yard)
    return server, server.start()


def token(text):
    return re.search(r'name="token" value="([^"]+)"', text)[1]


def test_the_documented_proxy_lets_in_who_knows_the_password_and_nobody_else(yard, tmp_path, free_port):
    if not Path(NGINX).exists():
        missing("nginx")
    port = free_port()
    certificate(tmp_path)
    server, page_port = page(yard, f"https://yard.example:{port}", free_port())
    proxy = Proxy(tmp_path, port, example(port, page_port, tmp_path))
    try:
        with visitor(port) as stranger:
            answer = stranger.get("/place/p1")
            assert (answer.status_code, answer.headers["location"]) == (303, "/enter?next=/place/p1")
            assert "Tern Hollow" not in answer.text
            assert stranger.post("/do/work", data={"place": "p1", "kind": "turned"}).status_code == 401
            cookie = answer.headers["set-cookie"]
            assert cookie.startswith("__Host-heaptender=")
            assert "; Secure" in cookie
            origin = {"origin": f"https://yard.example:{port}"}
            form = {"token": token(stranger.get("/enter").text), "password": PASSWORD, "name": "Ann"}
            assert stranger.post("/enter", data=form, headers=origin).status_code == 303
            assert "Tern Hollow" in stranger.get("/").text
            with stranger.stream("GET", "/live") as line:  # what changes is told at once, through the web server too
                assert "alive" in next(line.iter_text())
    finally:
        proxy.close()
        server.stop()


def test_a_bare_proxy_opens_nothing(yard, tmp_path, free_port):
    if not Path(NGINX).exists():
        missing("nginx")
    port = free_port()
    server, page_port = page(yard, f"http://yard.example:{port}", free_port())
    # Nothing but proxy_pass: the page is asked for by its own loopback name, and nothing says for whom.
    bare = f"server {{ listen 127.0.0.1:{port}; location / {{ proxy_pass http://127.0.0.1:{page_port}; }} }}"
    proxy = Proxy(tmp_path, port, bare)
    try:
        with visitor(port, "http") as stranger:
            answer = stranger.get("/")
            assert (answer.status_code, "/enter" in answer.headers["location"]) == (303, True)
            assert "Tern Hollow" not in answer.text
            assert stranger.post("/do/guest", data={"name": "x"}).status_code == 401
    finally:
        proxy.close()
        server.stop()


def test_a_bare_proxy_that_nobody_told_the_page_of_opens_nothing(yard, tmp_path, free_port):
    if not Path(NGINX).exists():
        missing("nginx")
    for password_hash, status in (("", 403), (hash_password(PASSWORD), 303)):
        port, page_port = free_port(), free_port()
        settings = PageSettings(folder=yard.folder, port=page_port, password_hash=password_hash)
        server = PageServer(settings, yard, yard)
        page_port = server.start()
        bare = f"server {{ listen 127.0.0.1:{port}; location / {{ proxy_pass http://127.0.0.1:{page_port}; }} }}"
        proxy = Proxy(tmp_path, port, bare)
        try:
            with visitor(port, "http") as stranger:
                answer = stranger.get("/")
                assert answer.status_code == status
                assert "Tern Hollow" not in answer.text
                assert stranger.post("/do/guest", data={"name": "x"}).status_code in (401, 403)
        finally:
            proxy.close()
            server.stop()


def sockets():
    """Return how many sockets this process holds; one that is closed meanwhile is not counted."""
    count = 0
    for fd in Path("/proc/self/fd").iterdir():
        with suppress(OSError):
            count += "socket" in str(fd.readlink())
    return count


def test_connections_that_say_nothing_do_not_close_the_page(yard, monkeypatch):
    monkeypatch.setattr("monitor.page.server.client_connections.REQUEST_S", 1.0)
    settings = PageSettings(folder=yard.folder, port=0, any_port=True)
    server = PageServer(settings, yard, yard)
    port = server.start()
    silent, before = [], sockets()
    try:
        for _ in range(300):
            one = socket.create_connection(("127.0.0.1", port), 5)
            silent.append(one)
        silent[0].sendall(b"GET / HT")  # a request that never ends is no request either
        # This side has one each; the page keeps its share for this computer, once its loop has come round.
        end = time.monotonic() + 30
        while sockets() > before + 300 + MOST_OF_THIS_COMPUTER:
            assert time.monotonic() < end, "the page keeps more than its share"
            time.sleep(0.05)
        while True:
            try:
                assert httpx.get(f"http://127.0.0.1:{port}/", timeout=5).status_code == 200
                break
            except httpx.TransportError:
                assert time.monotonic() < end, "the page never came back"
                time.sleep(0.2)
        silent[0].settimeout(5)
        with pytest.raises((ConnectionError, AssertionError)):
            assert silent[0].recv(1) != b""
    finally:
        for one in silent:
            one.close()
        server.stop()
