"""The shape of an order that the API reads, as a pydantic model: which fields it may carry, and how each is meant."""

from typing import Annotated, Literal

from pydantic import Field, StrictBool, StrictInt

from app.web.schemas import At, Count, Id, Name, Number, Signed, Text


class Order(Signed):
    """Any other order. Which fields it needs follows from `do`: for example `revise` a `step` and what it `takes`."""

    do: Literal[
        "undo",
        "reopen",
        "start",
        "note",
        "go",
        "no-go",
        "not-needed",
        "put-off",
        "put-back",
        "take",
        "put-off-set",
        "put-back-set",
        "take-set",
        "give-back",
        "revise",
        "reorder",
        "swap",
        "add-step",
        "what-if",
        "end",
        "acknowledge",
        "count",
        "accept",
        "confirm",
        "correct",
        "poll",
        "poll-go",
        "poll-no-go",
        "close-poll",
        "round-good",
        "round-bad",
        "reading",
        "tool",
        "flag",
        "clear-flag",
        "strike",
        "hand-over",
        "clock",
        "players",
        "inject",
        "draw-trouble",
        "drop-inject",
        "inject-done",
    ]
    at: At | None = None
    step: Id | None = None
    task: Id | None = None
    person: Name | None = None
    reason: Text = ""
    takes: Annotated[str, Field(max_length=60)] | StrictInt | None = Field(
        None, description="`revise`, `add-step`: a duration, or whole seconds as a number.", examples=["8 min", 480]
    )
    tasks: list[Id] = Field(
        default_factory=list,
        description="`reorder`: unbegun tasks of `person`, in their new order. `put-off-set`, `put-back-set`, "
        "`take-set`: the tasks.",
        max_length=500,
    )
    other: Id | None = Field(None, description="`swap`: the task that changes places with `task`.")
    text: Text = Field("", description="`add-step`: what is to be done.")
    who: list[Name] = Field(
        default_factory=list,
        description="`add-step`: who does it. `poll`: who are asked. `players`: whom simulated people play.",
        max_length=50,
    )
    before: Id | None = Field(
        None, description="`add-step`: the task it comes before; right after what was begun if left out."
    )
    after: list[Id] = Field(
        default_factory=list, description="`add-step`: tasks or steps (`task/number`) it waits for.", max_length=50
    )
    changes: list[Annotated[str, Field(max_length=200)]] = Field(
        default_factory=list,
        description="`what-if`: changes as `GET /api/runs/{run}/what-if` tries them, now to be made.",
        max_length=10,
    )
    number: Count = Field(0, description="`count`: the number of the action, from 1. `draw-trouble`: how many.")
    poll: Name | None = Field(None, description="`poll-go`, `poll-no-go`, `close-poll`: the poll's id, as `poll-1`.")
    round: Name | None = Field(None, description="`round-good`, `round-bad`: the round's name.")
    supply: Name | None = Field(None, description="`reading`: the supply's name.")
    value: Number | None = Field(
        None, description="`reading`: what the gauge shows, in the supply's unit. `inject`: what is read wrongly."
    )
    values: dict[Name, Number] = Field(
        default_factory=dict, description="`count`, `correct`: recorded values by name.", max_length=50
    )
    readings: dict[Name, Number] = Field(
        default_factory=dict, description="`round-good`, `round-bad`: gauges read with it, by supply.", max_length=50
    )
    tool: Name | None = Field(None, description="`tool`: its name.")
    how: Literal["taken", "handed", "left", "stowed", "lost", "found", "left outside"] | None = Field(
        None, description="`tool`: what became of it."
    )
    where: Text = Field("", description="`tool`: the place.")
    flag: Count = Field(0, description="`clear-flag`: the seq of the event that raised it.")
    entry: Count = Field(0, description="`strike`: the seq of a reading or an answer at a round.")
    to: Name | None = Field(None, description="`hand-over`: who takes over.")
    anew: StrictBool = Field(False, description="`reading`: the supply was exchanged or filled.")
    heard: StrictBool = Field(False, description="It was said on the voice loop, and is entered by somebody else.")
    rate: Number | None = Field(
        None, description="`clock`: how many times as fast as the world's the rehearsal's clock goes; 0 stops it."
    )
    set_to: At | None = Field(
        None,
        description="`clock`: elapsed from now on, not earlier than now. `inject`: when it begins; now if left out.",
    )
    seed: Count = Field(0, description="`players`, `draw-trouble`: what is drawn.")
    what: Literal["delay", "failed step", "wrong reading", "lost tool", "no-go"] | None = Field(
        None, description="`inject`: the kind of trouble."
    )
    name: Name | None = Field(None, description="`inject`: which recorded value of the step is wrong.")
    inject: Name | None = Field(None, description="`drop-inject`, `inject-done`: its id, as `inject-1`.")
