"""The pace of the machine that bounds in seconds are held to: measured, never faster than promised, and bounded."""

import pytest

from tests import pace


@pytest.mark.parametrize(("reference_s", "slower"), [(0.3, 1.0), (0.65, 1.0), (1.3, 2.0), (2.6, 4.0), (60.0, 4.0)])
def test_a_bound_grows_with_the_reference_and_no_further_than_fourfold(
    monkeypatch: pytest.MonkeyPatch, reference_s: float, slower: float
) -> None:
    assert pace.slower(reference_s) == pytest.approx(slower)
    monkeypatch.setattr(pace, "reference_s", lambda: reference_s)
    assert pace.within(1.99 * slower, 2.0)
    assert not pace.within(2.01 * slower, 2.0)
    assert pace.again_within(lambda: 1.99 * slower, 2.0)
    assert not pace.again_within(lambda: 2.01 * slower, 2.0)


def test_what_keeps_the_plain_bound_is_not_timed_against_anything(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.delattr(pace, "reference_s")
    assert pace.within(1.99, 2.0)


def test_the_reference_is_really_measured(monkeypatch: pytest.MonkeyPatch) -> None:
    """One that imports nothing takes less of the processor, one that spins as long as it spins."""
    really = pace.reference_s()
    monkeypatch.setattr(pace, "_TIMED", "import time; print(time.process_time())")
    assert pace.reference_s() < really
    spun = f"import time\nwhile time.process_time() < {really + 1}: pass\nprint(time.process_time())"
    monkeypatch.setattr(pace, "_TIMED", spun)
    assert pace.reference_s() >= really + 1
