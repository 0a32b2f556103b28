"""Finished runs of the small procedure for tests of what is told afterwards. It asserts nothing of its own."""

from tests.web.site import Site


def finished(site: Site, slow_s: int = 0, put_off: bool = True, text: bytes | None = None) -> int:
    """A rehearsal of SMALL from zero to its end, in which raising the mast takes so much longer. Its number.

    Plan: rig 0:00 to 0:15, wire 0:15 to 0:27, paint 0:15 to 0:25.
    """
    began_s = site.clock.at_s
    run = site.start() if text is None else site.start(text)

    def at(elapsed_s: int) -> None:
        site.clock.at_s = began_s + elapsed_s

    at(240)
    site.done(run, "rig/1")
    at(600)
    site.order(run, "note", step="rig/2", reason="The guy rope was frozen.")
    at(900 + slow_s)
    site.done(run, "rig/2")
    if put_off:
        site.order(run, "put-off", task="paint", reason="rain")
    at(1500 + slow_s)
    site.done(run, "wire/1")
    at(1560 + slow_s)
    site.order(run, "go", step="wire/2", person="EV1")
    at(1680 + slow_s)
    site.order(run, "go", step="wire/2", person="EV2")
    site.done(run, "wire/2")
    at(1700 + slow_s)
    answer = site.order(run, "end", reason="lamp lit")
    assert answer.status_code == 303
    return run
