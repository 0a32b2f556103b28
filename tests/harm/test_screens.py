"""The trial of the screens itself: a server that forgets some of them is found out by it."""

from tests.harm.screens import cut_screens

DEAF = ("tests.harm.deaf", "serve")


def test_a_server_that_forgets_some_of_its_screens_is_found_out() -> None:
    found = cut_screens(1, 10, program=DEAF, within_s=2)
    assert found["missed"] > 0
    assert found["broken"]
