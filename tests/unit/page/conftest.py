import shutil

import pytest
from page_visitor import PASSWORD, browser, signed_in
from page_yard_for_tests import Marks, Papers, TestYard, page_of

from monitor.page import hash_password
from monitor.page.visitors import passwords


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
    """A password and its hash, which says itself that it is cheap: hundreds of tests sign in."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(passwords, "_N", 2)
        return PASSWORD, hash_password(PASSWORD)


@pytest.fixture
def open_page(yard, password):
    """(returns a browser elsewhere in the network, the page, returns a keeper who has signed in)."""
    app, page = page_of(yard, password_hash=password[1], link="http://yard.example:8460")

    def elsewhere(address="192.0.2.7", host="yard.example:8460"):
        return browser(app, host=host, address=address)

    return elsewhere, page, lambda: signed_in(app, host="yard.example:8460")
