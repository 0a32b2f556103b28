"""What holds for the whole suite: the browser's tests come last."""

import pytest


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Playwright's synchronous interface keeps an event loop running in this thread for as long as its browser lives.

    A test that starts a loop of its own cannot run beside it, so those come first. The order is otherwise kept.
    """
    items.sort(key=lambda item: item.get_closest_marker("browser") is not None)
