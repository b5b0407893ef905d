"""The examples in the docstrings of the room run and are right."""

import doctest
import importlib

import pytest


@pytest.mark.parametrize("name", ["machine", "gate_book", "cues", "cautions"])
def test_examples_of_the_module_run(name: str) -> None:
    module = importlib.import_module(f"drainscale.procedure.{name}")
    result = doctest.testmod(module)
    assert result.attempted > 0
    assert result.failed == 0
