"""What to do next, for the band at the head of Home: one sentence for the state of things and the rights of who looks.

It reads what Home shows anyway, and orders nothing.
"""

from collections.abc import Sequence
from dataclasses import dataclass

from app.service.rights import allows
from app.web.pages_context import Contents, RunRow


@dataclass(frozen=True, slots=True)
class Way:
    """A link: its words and where it leads."""

    words: str
    to: str


@dataclass(frozen=True, slots=True)
class NextStep:
    """`said` is the sentence, `ways` the links, the likeliest first; `aside` is what else is worth doing once."""

    said: str
    ways: tuple[Way, ...] = ()
    aside: Way | None = None


def next_step(shelf: Contents, may: str, is_open: bool) -> NextStep:
    """What to do next.

    Args:
        may: the right of who looks (`service.rights`). is_open: there are no accounts.
    """
    going = [row for row in shelf.runs if row.state == "under way"]
    if going:
        return _going(going, may)
    aside = Way("Add people, so that each signs in and other machines can use this server", "/people")
    found = _before_a_run(shelf, may)
    return NextStep(found.said, found.ways, aside if is_open and shelf.procedures else None)


def _going(going: Sequence[RunRow], may: str) -> NextStep:
    newest = going[0]
    only = f"{_name(newest)} is under way: {newest.title}."
    many = f"{len(going)} runs are under way. The newest: {_name(newest)}, {newest.title}."
    desk, board = Way("Open the Desk", f"/runs/{newest.run}/desk"), Way("Lead board", f"/runs/{newest.run}/lead")
    ways = (desk, board) if allows(may, "mark") else (Way("Open the Lead board", board.to), Way("Desk", desk.to))
    return NextStep(only if len(going) == 1 else many, ways)


def _before_a_run(shelf: Contents, may: str) -> NextStep:
    leads = allows(may, "lead")
    if shelf.faulty:
        return NextStep(
            f"{shelf.faulty[0].name} was not loaded. Mend what is said of it, then "
            + ("add it again." if leads else "ask whoever leads to add it again."),
            (Way("See its faults", "#not-loaded"), *((Way("Add it again", "#add"),) if leads else ())),
        )
    if not shelf.procedures:
        return _nothing(leads)
    ended = [row for row in shelf.runs if row.state == "ended"]
    if ended:
        return _ended(ended[0], leads)
    start = "Look at a procedure's Plan, then start a rehearsal of it: a run to try it, which nobody goes outside for."
    look = Way("Look at the Plan", f"/procedures/{shelf.procedures[0].revision}")
    if leads:
        return NextStep(start, (Way("Choose a procedure", "#home-procedures"), look))
    return NextStep("No run is under way. Whoever may lead starts one; its pages are then here.", (look,))


def _nothing(leads: bool) -> NextStep:
    if leads:
        return NextStep(
            "No procedure is loaded. Add a file here; “leadline new NAME.yaml” writes one to begin with.",
            (Way("Add a procedure", "#add"), Way("Template of the table", "/procedures/template.xlsx")),
        )
    return NextStep("No procedure is loaded. Whoever may lead adds one; it is then listed here.")


def _ended(run: RunRow, leads: bool) -> NextStep:
    said = f"{_name(run)} has ended: {run.title}. See where time was won and lost"
    again = (Way("Start another", "#home-procedures"),) if leads else ()
    debrief = Way("Open its debrief", f"/runs/{run.run}/debrief")
    return NextStep(f"{said}, then start the next." if leads else f"{said}.", (debrief, *again))


def _name(run: RunRow) -> str:
    return f"Live run {run.run}" if run.kind == "live" else f"Rehearsal {run.run}"
