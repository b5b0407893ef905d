"""The examples in the docstrings of the room run and are right."""

import doctest
import importlib
import pkgutil

import pytest

from drainscale import quantities

MODULES = [module.name for module in pkgutil.iter_modules(quantities.__path__)]


@pytest.mark.parametrize("name", MODULES)
def test_examples_of_the_module_run(name: str) -> None:
    module = importlib.import_module(f"drainscale.quantities.{name}")
    assert doctest.testmod(module).failed == 0


def test_there_are_examples_to_run() -> None:
    finder = doctest.DocTestFinder(exclude_empty=True)
    modules = (importlib.import_module(f"drainscale.quantities.{name}") for name in MODULES)
    examples = [test for module in modules for test in finder.find(module) if test.examples]
    assert len(examples) >= 10
