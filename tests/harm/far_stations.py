"""Stations that order over HTTP while the server is killed between: what they are told in the end is one truth too.

Each keeps an order's key until it is answered, so an order lasts from its first sending to its last answer.
"""

import random
import threading
import time
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import dataclass
from datetime import datetime
from itertools import count
from typing import Any, assert_never

from app.core.commands import GiveGo, GiveNoGo, MarkStep, RecordStart, ReopenStep, SetNotNeeded, UndoMark
from app.core.commands_live import AcceptValues, AcknowledgeWarning, ConfirmStep, CorrectMark, CountAction
from app.core.events import VERSION, Logged, event_from
from app.core.fold import fold
from app.core.procedure import Procedure
from app.core.state import State
from app.reading.procedure_reader import read_procedure
from app.web.keys import new_key
from tests.core.ledger import Ledger, StepOrder
from tests.harm.examined import examine
from tests.harm.sequential import Answered, violations
from tests.harm.server import Server, scratch
from tests.harm.stations import TEXT, an_order
from tests.harm.wire import Line, NoAnswer, start_run

AT_S = 3000
"""Every order is about this second, which has passed when the first is given: only their sequence then counts."""


def as_json(command: StepOrder) -> tuple[str, dict[str, Any]]:
    """Where the API takes the order, and what it is sent."""
    said: dict[str, Any] = {"step": command.step, "at": AT_S}
    match command:
        case MarkStep(_, values, because):
            return "marks", said | {"values": dict(values)} | ({"ordered_because": because} if because else {})
        case UndoMark():
            return "orders", {"step": command.step, "do": "undo"}
        case ReopenStep(_, reason):
            return "orders", {"step": command.step, "do": "reopen", "reason": reason}
        case CorrectMark(_, reason, values):
            return "orders", {"step": command.step, "do": "correct", "reason": reason, "values": dict(values)}
        case RecordStart():
            return "orders", said | {"do": "start"}
        case SetNotNeeded(_, reason):
            return "orders", said | {"do": "not-needed", "reason": reason}
        case AcceptValues(_, reason):
            return "orders", said | {"do": "accept", "reason": reason}
        case CountAction(_, number, values):
            return "orders", said | {"do": "count", "number": number, "values": dict(values)}
        case AcknowledgeWarning(_, person) | ConfirmStep(_, person):
            do = "acknowledge" if isinstance(command, AcknowledgeWarning) else "confirm"
            return "orders", said | {"do": do, "person": person}
        case GiveGo(_, person, reason) | GiveNoGo(_, person, reason):
            do = "go" if isinstance(command, GiveGo) else "no-go"
            return "orders", said | {"do": do, "person": person, "reason": reason}
        case _:
            assert_never(command)


class _Station(threading.Thread):
    """Reads the log, orders something that may fit it, and asks until it is told what became of that; and so on."""

    def __init__(
        self, port: int, run: int, procedure: Procedure, orders: int, seed: int, ticket: Iterator[int]
    ) -> None:
        super().__init__(daemon=True)
        self._line, self._at, self._procedure = Line(port), f"/api/runs/{run}", procedure
        self._orders, self._pick, self._ticket = orders, random.Random(seed), ticket
        self._seen = State()
        self.history: list[Answered] = []
        self.odd: list[str] = []
        self.unanswered = 0

    def run(self) -> None:
        with self._line:
            for _ in range(self._orders):
                with suppress(NoAnswer):
                    self._seen = state_of(self._line.done(f"{self._at}/events"))
                left = [each for each in self._procedure.steps if each.id not in self._seen.done]
                step = self._pick.choice(left[:3] if left and self._pick.random() < 0.7 else self._procedure.steps)
                self.history.append(self._told(an_order(self._pick, self._seen, step)))

    def _told(self, command: StepOrder) -> Answered:
        (path, said), key, sent = as_json(command), new_key(), next(self._ticket)
        while True:
            try:
                answer = self._line.post(f"{self._at}/{path}", said | {"key": key})
            except NoAnswer:
                self.unanswered += 1
                time.sleep(self._pick.uniform(0.01, 0.05))
                continue
            if answer.status == 200:
                seq, events = answer.json()["seq"], len(answer.json()["events"])
                return Answered(command, AT_S, sent, next(self._ticket), seq, seq - events + 1)
            if answer.status not in (409, 422):
                self.odd.append(f"{path}: {answer.status} {answer.text[:120]}")
            return Answered(command, AT_S, sent, next(self._ticket), refused=answer.text[:200])


def state_of(log: Sequence[dict[str, Any]]) -> State:
    """The state that the log of a run, as the API shows it, leads to."""
    return fold(
        Logged(
            each["seq"],
            each["at_s"],
            each["logged_s"],
            datetime.fromisoformat(each["logged_at"]),
            each["by"],
            each["station"],
            each["key"],
            event_from(each["kind"], VERSION, each["body"]),
        )
        for each in log
    )


@dataclass(frozen=True, slots=True)
class Told:
    """Of one history: what was answered, how often the server was killed and a try left unanswered, what is wrong."""

    history: Sequence[Answered]
    kills: int
    unanswered: int
    wrong: Sequence[str]


def history(stations: int, orders: int, seed: int = 20310504) -> Told:
    """Let so many stations give so many orders each over a server that is killed again and again."""
    pick, procedure = random.Random(seed), _procedure()
    with scratch() as folder:
        server = Server(folder, {"pair": TEXT.decode()})
        try:
            server.start()
            with Line(server.port) as line:
                run, ticket = start_run(line, "pair"), count()
            told = [_Station(server.port, run, procedure, orders, seed + one, ticket) for one in range(stations)]
            kills = _kill_while(told, server, pick)
            with Line(server.port) as line:
                state = state_of(line.done(f"/api/runs/{run}/events"))
        finally:
            server.kill()
        found = [answered for each in told for answered in each.history]
        wrong = violations(Ledger(procedure), found, state) + list(examine(server.data).faults)
    wrong += ["a station got no answer"] * (len(found) < stations * orders)
    wrong += [sentence for each in told for sentence in each.odd]
    return Told(found, kills, sum(each.unanswered for each in told), wrong)


def _procedure() -> Procedure:
    made = read_procedure(TEXT).procedure
    assert made is not None
    return made


def _kill_while(stations: Sequence[_Station], server: Server, pick: random.Random) -> int:
    """Kill and start it until the last station is done. Returns how often."""
    for each in stations:
        each.start()
    kills = 0
    while any(each.is_alive() for each in stations):
        time.sleep(pick.uniform(0.1, 0.6))
        server.kill()
        kills += 1
        server.start()
    return kills
