"""Folders that the database account can reach."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture
def place() -> Iterator[Path]:
    """A folder that goes away, which an account that root drops to may pass through."""
    yield from _open_folder()


@pytest.fixture(scope="module")
def shared_place() -> Iterator[Path]:
    """The same for all tests of a module.  pytest's own temporary folders are closed to other accounts."""
    yield from _open_folder()


def _open_folder() -> Iterator[Path]:
    with tempfile.TemporaryDirectory(prefix="kennel-test-") as name:
        folder = Path(name)
        folder.chmod(0o711)
        yield folder
