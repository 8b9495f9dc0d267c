"""Folders that the database account can reach."""

import tempfile
from collections.abc import Iterator
from pathlib import Path

import pytest


@pytest.fixture
def place() -> Iterator[Path]:
    """A folder that goes away, which an account that root drops to may pass through."""
    with tempfile.TemporaryDirectory(prefix="kennel-test-") as name:
        folder = Path(name)
        folder.chmod(0o711)
        yield folder
