from __future__ import annotations

import warnings
from types import ModuleType

import pytest


@pytest.fixture(scope="session")
def colour_science() -> ModuleType:
    """The colour-science package, which warns on import of what it misses."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import colour
    return colour
