"""Entries of the log as sentences that say what they are about: the flag, the question, the entry that was struck."""

from collections.abc import Sequence

from app.core.events import Logged
from app.core.events_watch import EntryStruck, FlagCleared, PollAnswered, PollCalled, PollClosed
from app.core.procedure import Procedure
from app.core.words import sentence


class Teller:
    """Words the entries of one run's log."""

    def __init__(self, procedure: Procedure, log: Sequence[Logged]) -> None:
        self._procedure = procedure
        self._entries = {logged.seq: logged for logged in log}
        self._questions = {
            logged.event.poll: logged.event.question for logged in log if isinstance(logged.event, PollCalled)
        }

    def sentence(self, logged: Logged) -> str:
        """As `words.sentence`; after a dash, what the entry points to."""
        said = sentence(logged.event, self._procedure)
        about = self._about(logged)
        return f"{said} – {about}" if about else said

    def _about(self, logged: Logged) -> str:
        match logged.event:
            case FlagCleared(seq, _) | EntryStruck(seq, _) if seq in self._entries:
                return sentence(self._entries[seq].event, self._procedure)
            case PollAnswered(poll=poll) | PollClosed(poll=poll):
                return f"“{self._questions[poll]}”" if poll in self._questions else ""
            case _:
                return ""
