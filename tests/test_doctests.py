"""Every example in a docstring is run: documentation that lies fails."""

import doctest
import importlib
import pkgutil

import pytest

import defectmap

MODULES = [info.name for info in pkgutil.walk_packages(defectmap.__path__, "defectmap.")]
# `__main__` runs the program when imported; alembic runs migrations and Streamlit runs pages.
RUN_NOT_IMPORTED = ("__main__", "migrations", "pages")


@pytest.mark.parametrize("name", [m for m in MODULES if not any(part in m for part in RUN_NOT_IMPORTED)])
def test_examples_are_true(name: str) -> None:
    outcome = doctest.testmod(importlib.import_module(name))
    assert outcome.failed == 0
