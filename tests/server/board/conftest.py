"""One browser and one small server for all tests of the board."""

from collections.abc import Iterator

import pytest
from tests.server.board.browser import Browser, opened
from tests.server.board.fake import Fake


@pytest.fixture(scope="session")
def chromium() -> Iterator[Browser]:
    with opened() as browser:
        yield browser


@pytest.fixture(scope="session")
def fake_process() -> Iterator[Fake]:
    fake = Fake()
    fake.start()
    yield fake
    fake.kill()


@pytest.fixture
def fake(fake_process: Fake) -> Fake:
    fake_process.show(5.0)
    fake_process.answers(verdict="accepted", reason="")
    fake_process.silence(False)
    fake_process.asked()
    return fake_process


@pytest.fixture
def browser(chromium: Browser, fake: Fake) -> Browser:
    """The browser as it comes: a tablet, nothing remembered, and no complaint at the end."""
    chromium.size("tablet")
    chromium.forget(fake.url)
    chromium.complaints()
    return chromium
