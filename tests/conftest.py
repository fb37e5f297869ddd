"""Options and fixtures shared by all tests."""

from collections.abc import Callable
from pathlib import Path

import pytest

TESTS = Path(__file__).parent


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption(
        "--update-golden", action="store_true", help="rewrite tests/golden"
    )


@pytest.fixture
def golden(request: pytest.FixtureRequest) -> Callable[[str, str], None]:
    """Compare text with the file of that name in tests/golden."""

    def compare(name: str, text: str) -> None:
        path = TESTS / "golden" / name
        if request.config.getoption("--update-golden"):
            path.write_text(text, "utf-8")
        assert text == path.read_text("utf-8")

    return compare
