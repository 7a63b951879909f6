"""What the browser tests share."""

import pytest

from browsers import browser


@pytest.fixture(scope="module")
def chromium():
    """Give a browser; tests that ask for it are skipped where there is none."""
    with browser() as opened:
        yield opened
