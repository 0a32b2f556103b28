"""Open flags, and for the Lead board the steps that wait for the lead or a second person. It carries nothing out."""

from collections.abc import Iterator
from dataclasses import dataclass

from app.core.procedure import Designator, Step, StepId
from app.core.progress import Called
from app.core.situation import Situation, StepState
from app.core.times import clock
from app.core.watch import Flag
from app.core.words_live import outside, value_words
from app.web.keys import NewKey
from app.web.views.step_progress import tolerance_words, value_phrases


@dataclass(frozen=True, slots=True)
class FlagRow:
    """`about`: the run, a person, a step, or a round with a bad answer."""

    seq: int
    at: str
    by: str
    about: str
    text: str
    key: str


@dataclass(frozen=True, slots=True)
class CallRow:
    """A step that was called complete and waits.

    Attributes:
        said: when and by whom it was called, with its values. out: those out of tolerance that were not accepted,
            each with its tolerance; empty when the lead is not waited for.
        confirms: the second person whose word is missing; None when it is not.
    """

    step: StepId
    who: str
    text: str
    said: str
    out: tuple[str, ...]
    confirms: Designator | None
    key: str
    key_confirm: str


@dataclass(frozen=True, slots=True)
class Flags:
    """`steps`: what a new flag can be about: the steps that somebody is at, and how they are called."""

    flags: tuple[FlagRow, ...]
    calls: tuple[CallRow, ...]
    crew: tuple[Designator, ...]
    steps: tuple[tuple[StepId, str], ...]
    key: str


def flags(situation: Situation, person: Designator | None, new_key: NewKey) -> Flags:
    """`person`: only what is about them; None for all."""
    standing = [flag for flag in situation.state.watch.flags.values() if person in (None, flag.person)]
    return Flags(
        flags=tuple(_flag(situation, flag, new_key) for flag in standing),
        calls=tuple(_calls(situation, new_key)),
        crew=situation.network.crew,
        steps=steps_now(situation),
        key=new_key(),
    )


def _flag(situation: Situation, flag: Flag, new_key: NewKey) -> FlagRow:
    return FlagRow(flag.seq, clock(flag.at_s), flag.by, about_words(situation, flag), flag.text, new_key())


def about_words(situation: Situation, flag: Flag) -> str:
    """``EV1, round gloves-and-suit``, ``“Shut valve V1” (shut-valves/2)``, or ``the run``."""
    said = [flag.person] if flag.person else []
    if flag.step:
        said.append(f"“{situation.step(flag.step).do}” ({flag.step})")
    if flag.round:
        said.append(f"round {flag.round} answered bad")
    return ", ".join(said) or "the run"


def _calls(situation: Situation, new_key: NewKey) -> Iterator[CallRow]:
    for step_id, call in sorted(situation.state.progress.called.items(), key=lambda each: each[1].at_s):
        if not situation.is_open(situation.network.index[step_id]):
            continue
        step = situation.step(step_id)
        out = _not_accepted(step, call)
        confirms = step.confirm_by if call.confirmed_s is None else None
        if out or confirms:
            yield CallRow(
                step=step_id,
                who=" and ".join(step.who) or "Nobody",
                text=step.do,
                said=called_words(step, call),
                out=out,
                confirms=confirms,
                key=new_key(),
                key_confirm=new_key(),
            )


def called_words(step: Step, call: Called) -> str:
    """``Called complete 01:02:03 by Ines: turns 14.5``, and what was answered since."""
    values = value_phrases(step, call.values)
    said = [f"Called complete {clock(call.at_s)} by {call.by}{f': {values}' if values else ''}"]
    if call.accepted is not None and call.accepted_s is not None:
        said.append(f"the lead accepted the values {clock(call.accepted_s)}: {call.accepted}")
    if call.confirmed_s is not None:
        said.append(f"{step.confirm_by} confirmed {clock(call.confirmed_s)}")
    return "; ".join(said)


def _not_accepted(step: Step, call: Called) -> tuple[str, ...]:
    if call.accepted is not None:
        return ()
    given, asked = dict(call.values), {value.name: value for value in step.record}
    return tuple(
        f"{value_words(step, name, given[name])} is OUT OF TOLERANCE ({tolerance_words(asked[name])})"
        for name in outside(step, call.values)
    )


def steps_now(situation: Situation) -> tuple[tuple[StepId, str], ...]:
    """The steps next in somebody's list, those under way, and those called, in file order."""
    wanted = {view.next for view in situation.crew} | set(situation.state.progress.called)
    return tuple(
        (step.id, step.do)
        for number, step in enumerate(situation.network.steps)
        if step.id in wanted or situation.states[number] is StepState.UNDER_WAY
    )
