"""Certificates that several tests look at are made once."""

import certificate_scenes as scenes
import pytest


@pytest.fixture(scope="session")
def keys(tmp_path_factory):
    """Return the folder with the yard's key."""
    return tmp_path_factory.mktemp("yard") / "keys"


@pytest.fixture(scope="session")
def met(keys):
    """Return the certificate of a heap that meets its rule, its readings an hour apart so that it is small."""
    return scenes.certificate(keys, scenes.small())
