"""What holds for the whole suite: the browser's tests come last, and no test fails because the machine is busy."""

import os
from collections.abc import Iterator

import pytest
from hypothesis import HealthCheck, settings

from tests import postgres

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


UNTESTED = "PostgreSQL was not tested: "


@pytest.fixture(scope="session")
def postgres_cluster() -> postgres.Cluster:
    """This process's PostgreSQL. Without one the test is skipped, or fails where LEADLINE_POSTGRES=required."""
    why = postgres.why_not()
    if why and os.environ.get("LEADLINE_POSTGRES") == "required":
        pytest.fail(f"LEADLINE_POSTGRES=required, and {why}")
    if why:
        pytest.skip(UNTESTED + why)
    return postgres.cluster()


@pytest.fixture
def postgres_url(postgres_cluster: postgres.Cluster) -> Iterator[str]:
    """A new empty database, dropped at the end."""
    url = postgres_cluster.new_database()
    yield url
    postgres_cluster.drop_database(url)


def pytest_terminal_summary(terminalreporter: pytest.TerminalReporter) -> None:
    """Say in one line what was not tested for want of a PostgreSQL: a skipped test is easily overlooked."""
    skipped = [str(report.longrepr) for report in terminalreporter.stats.get("skipped", [])]
    untested = [words for words in skipped if UNTESTED in words]
    if untested:
        said = f"{UNTESTED}{postgres.why_not()} Tests skipped for it: {len(untested)}."
        terminalreporter.write_line(said, yellow=True, bold=True)
