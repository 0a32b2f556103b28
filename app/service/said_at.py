"""When an order was given, as it was said and as the server heard it. It reads no clock and knows no run."""

from dataclasses import dataclass

from app.core.commands import Refusal, moment
from app.core.times import clock

FAST_S = 30
"""A station's elapsed clock goes by the server's messages, so it is ahead only where this machine stood still for a
while, as a virtual one may. This much is taken as now. Our own bound."""


@dataclass(frozen=True, slots=True)
class SaidAt:
    """When an order was given: `at` as it was said, `pressed_s` where a station kept it; `sent` hashes the order."""

    at: str | int | None
    pressed_s: int | None
    sent: str

    def at_s(self, now_s: int, ruled: bool = False) -> int:
        """The elapsed second that the order is about; "now" is when it was pressed. `ruled`: the run's
        clock was ruled, so a station that did not hear of it may have counted on to what has not come.

        Raises:
            Refusal: it can't be read, or it had not come then (by more than a station's clock may be off).
        """
        pressed_s = now_s if self.pressed_s is None else self.pressed_s
        if pressed_s > now_s + FAST_S and not ruled:
            said, now = clock(pressed_s), clock(now_s)
            raise Refusal("future", f"The station says that it was pressed at {said}, and it is only {now} now.")
        at_s = moment(self.at, min(pressed_s, now_s))
        if pressed_s < at_s <= now_s:
            raise Refusal("future", f"{clock(at_s)} had not come yet when it was pressed, at {clock(pressed_s)}.")
        return at_s
