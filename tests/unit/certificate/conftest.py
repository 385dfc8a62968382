"""Certificates that several tests look at are made once."""

import certificate_scenes as scenes
import pytest
from certificate_papers import plain


@pytest.fixture(scope="session")
def keys(tmp_path_factory):
    """Return the folder with the yard's key."""
    return tmp_path_factory.mktemp("yard") / "keys"


@pytest.fixture(scope="session")
def met(keys):
    """Return the certificate of a heap that meets its rule, its readings an hour apart so that it is small."""
    return scenes.certificate(keys, scenes.small())


@pytest.fixture(scope="session")
def issued(keys):
    """Return a function that makes the certificate of a case."""
    return lambda case: scenes.certificate(keys, case)


@pytest.fixture(scope="session")
def short(issued):
    """Return the certificate of a heap that was hot for 100 h, as small as can be."""
    return issued(plain())
