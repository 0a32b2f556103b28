"""Makes small procedures for tests, as the reader would make them from a file. It checks nothing."""

from dataclasses import replace

from app.core.checking import check
from app.core.procedure import Fault, Person, Procedure, Round, Step, Takes, Task


def step(do: str = "do it", takes: int = 60, **keys: object) -> Step:
    return replace(Step("", 0, do, Takes(takes)), **keys)  # type: ignore[arg-type]  # keys vary by test


def task(name: str, *steps: Step, **keys: object) -> Task:
    """A task whose steps are numbered, and carry what it says, as the reader makes them."""
    made = replace(Task(name, name, ()), **keys)  # type: ignore[arg-type]  # keys vary by test
    numbered = tuple(
        replace(
            each,
            task=name,
            number=number,
            who=each.who or made.who,
            within=each.within or made.within,
            after=(*(made.after if number == 1 else ()), *each.after),
        )
        for number, each in enumerate(steps or (step(),), 1)
    )
    return replace(made, steps=numbered)


def procedure(*tasks: Task, **keys: object) -> Procedure:
    crew = (Person("EV1"), Person("EV2"))
    watch = Round("watch", "All well?", ("EV1", "EV2"), 600)
    return replace(Procedure("p", "P", tasks, crew=crew, rounds=(watch,)), **keys)  # type: ignore[arg-type]


def only(checked: Procedure) -> Fault:
    (fault,) = check(checked)
    assert fault.what
    assert fault.remedy
    return fault


def path(checked: Procedure) -> tuple[str | int, ...]:
    fault = only(checked)
    assert not fault.remark
    return fault.path
