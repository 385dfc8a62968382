import asyncio
import re
import shutil

import httpx
import pytest
from page_yard_for_tests import Marks, Papers, TestYard, page_of

from monitor.page import hash_password

PASSWORD = "three barrows of leaves"


class Browser:
    """A browser on this computer, or elsewhere; it keeps cookies, and finds the form token on the page like one."""

    def __init__(self, app, host, address):
        self.cookies = httpx.Cookies()
        self._app = app
        self._base = f"http://{host}"
        self._address = address

    def request(self, method, path, *, follow_redirects=True, **more):
        async def send():
            transport = httpx.ASGITransport(app=self._app, client=(self._address, 50000))
            async with httpx.AsyncClient(transport=transport, base_url=self._base, cookies=self.cookies) as client:
                answer = await client.request(method, path, follow_redirects=follow_redirects, **more)
                self.cookies = client.cookies
                return answer

        return asyncio.run(send())

    def get(self, path, **more):
        return self.request("GET", path, **more)

    def post(self, path, **more):
        return self.request("POST", path, **more)

    def put(self, path, **more):
        return self.request("PUT", path, **more)

    def token(self, path="/"):
        return re.search(r'name="token" value="([^"]+)"', self.get(path).text)[1]

    def send(self, path, *, page="/", **form):
        return self.post(path, data={"token": self.token(page), **form}, follow_redirects=False)


def browser(app, *, host="127.0.0.1:8460", address="127.0.0.1"):
    return Browser(app, host, address)


@pytest.fixture(scope="session")
def lived(tmp_path_factory):
    """The folder of a yard that has lived its three days; copied for each test."""
    folder = tmp_path_factory.mktemp("lived")
    TestYard(folder).close()
    return folder


@pytest.fixture
def yard(tmp_path, lived):
    shutil.copytree(lived, tmp_path, dirs_exist_ok=True)
    made = TestYard(tmp_path, lived=True)
    yield made
    made.close()


@pytest.fixture
def marks():
    return Marks()


@pytest.fixture
def papers():
    return Papers()


@pytest.fixture
def near(yard, marks, papers):
    app, _ = page_of(yard, marking=marks, certifying=papers)
    return browser(app)


@pytest.fixture(scope="session")
def password():
    return PASSWORD, hash_password(PASSWORD)


@pytest.fixture
def open_page(yard, password):
    """(a function that returns a browser elsewhere in the network, the house)."""
    app, house = page_of(yard, password_hash=password[1], link="http://yard.example:8460")

    def elsewhere(address="192.0.2.7", host="yard.example:8460"):
        return browser(app, host=host, address=address)

    return elsewhere, house, lambda: browser(app)
