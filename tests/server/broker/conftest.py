"""Passwords of the tests are hashed with little work: nobody guesses here."""

from tests.server.api.conftest import quick_passwords  # noqa: F401 - a fixture
