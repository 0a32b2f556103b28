"""What holds for the whole suite: the browser's tests come last, and no test fails because the machine is busy."""

import os

import pytest
from hypothesis import HealthCheck, settings

# lxml is here for the tests alone; without it, as Leadline is run, openpyxl reads by way of defusedxml.
os.environ["OPENPYXL_LXML"] = "False"

# The same examples on every machine, so that a red run is red for a change of ours; LEADLINE_EXPLORE=1 tries others.
settings.register_profile(
    "ours",
    deadline=None,
    suppress_health_check=[HealthCheck.too_slow],
    derandomize=os.environ.get("LEADLINE_EXPLORE", "") in ("", "0"),
)
settings.load_profile("ours")


def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    """Playwright's synchronous interface keeps an event loop running in this thread for as long as its browser lives.

    A test that starts a loop of its own cannot run beside it, so those come first. The order is otherwise kept.
    """
    items.sort(key=lambda item: item.get_closest_marker("browser") is not None)
