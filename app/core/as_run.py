"""A run as it was performed, step by step, beside its plan. It reads a situation and decides nothing."""

from dataclasses import dataclass

from app.core.procedure import Designator, StepId, TaskId
from app.core.situation import Situation, StepState


@dataclass(frozen=True, slots=True)
class AsRunStep:
    """A step of the revision, or one that the run added. All times are elapsed seconds, all durations seconds.

    Attributes:
        plan_start_s, plan_finish_s: of the nominal timeline; None for get-ahead items and added steps.
        takes_s: the likely duration of the file.
        start_s: of a done step when it was begun: the start that was recorded, else the latest of what it waited for
            and its people's finish before (see `passes.project`; `debrief_again` has what was taken back and done
            again). Of a step under way when it began. Else None.
        finish_s: when it was done; None while it is not.
        start_known: whether the start was recorded, and not worked out.
        state: where it stands; None for a get-ahead item that was not taken.
        by: who signed its mark; empty while it is not done.
    """

    id: StepId
    task: TaskId
    task_title: str
    do: str
    who: tuple[Designator, ...]
    plan_start_s: int | None
    plan_finish_s: int | None
    takes_s: int
    start_s: int | None
    finish_s: int | None
    start_known: bool
    state: StepState | None
    by: str

    @property
    def took_s(self) -> int | None:
        """From its start to its mark; None while it is not done."""
        return None if self.finish_s is None or self.start_s is None else self.finish_s - self.start_s

    @property
    def finish_shift_s(self) -> int | None:
        """By how much it was done later than planned; below 0 earlier. None where there is no plan or no mark."""
        return None if self.finish_s is None or self.plan_finish_s is None else self.finish_s - self.plan_finish_s


def in_words(do: str) -> str:
    """What a step says, however it is broken into lines: steps of two revisions or runs are told by it."""
    return " ".join(do.split())


def as_run(situation: Situation) -> tuple[AsRunStep, ...]:
    """Every step of the revision in file order, then those that were added, as they stand in this situation."""
    return tuple(_step(situation, number) for number in range(len(situation.network.steps)))


def _step(situation: Situation, number: int) -> AsRunStep:
    step, facts = situation.network.steps[number], situation.facts
    state = situation.states[number]
    plan_start_s, plan_finish_s = _planned(situation, number)
    shown = state in (StepState.DONE, StepState.UNDER_WAY)
    mark = situation.state.done.get(step.id)
    return AsRunStep(
        id=step.id,
        task=step.task,
        task_title=situation.procedure.task(step.task).title,
        do=step.do,
        who=step.who,
        plan_start_s=plan_start_s,
        plan_finish_s=plan_finish_s,
        takes_s=step.takes.likely_s,
        start_s=situation.projection.start_s[number] if shown else None,
        finish_s=facts.done.get(number),
        start_known=number in facts.started,
        state=state,
        by="" if mark is None else mark.by,
    )


def _planned(situation: Situation, number: int) -> tuple[int | None, int | None]:
    """Only nominal steps have a plan: a get-ahead item stands outside the timeline."""
    if number >= len(situation.plan.start_s) or not situation.network.nominal[number]:
        return None, None
    return situation.plan.start_s[number], situation.plan.finish_s[number]
