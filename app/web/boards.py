"""The pages of a run, made of parts: the same parts fill the page, answer a press, and follow a change."""

from collections.abc import Mapping
from dataclasses import dataclass, field, replace
from typing import TYPE_CHECKING

from app.core.choices import offers
from app.core.custody import not_back_words
from app.core.events import Logged
from app.core.heads import head_of
from app.core.situation import Situation
from app.core.turn_back import limit_s, turn_back
from app.service.rights import allows
from app.service.values import identity
from app.web.keys import new_key
from app.web.live_parts import ON_DESK_ABOVE, ON_DESK_BELOW, ON_LEAD, ON_LIST_ABOVE, ON_LIST_BELOW, live_parts
from app.web.orders import KEPT
from app.web.render import Part, Renderer
from app.web.replay_parts import Seeking, replay_address, replay_parts
from app.web.trainer_parts import trainer_parts
from app.web.views.ahead import ahead, outlook_figures
from app.web.views.bar import Bar, bar
from app.web.views.desk import desk
from app.web.views.figures import figures, offer_figures
from app.web.views.flags import steps_now
from app.web.views.handover import handover
from app.web.views.lead_board import lead_board
from app.web.views.lead_chart import lead_chart
from app.web.views.list_asks import asks
from app.web.views.log import Search, log_page
from app.web.views.my_list import my_list
from app.web.views.plan_page import plan_page
from app.web.views.replan import replan
from app.web.views.trying import trying
from app.web.withheld import seen

if TYPE_CHECKING:
    from app.core.lead_so_far import LeadPoint
    from app.core.outlook import Comparison, Outlook

WITH_PAST = ("desk", "lead", "list", "handover")
"""The pages that can be shown as they stood."""


class NoSuchPage(LookupError):
    """A run has no page of this name."""


@dataclass(frozen=True, slots=True)
class Notice:
    """What an order was answered with. `order` is there when the lead may order it all the same."""

    text: str
    tone: str
    order: "OrderForm | None" = None


@dataclass(frozen=True, slots=True)
class OrderForm:
    """The refused mark, ready to be ordered with a reason."""

    step: str
    at: str
    values_typed: tuple[tuple[str, str], ...]
    key: str


@dataclass(frozen=True, slots=True)
class Board:
    """A page of a run: its bar and its parts.

    `page` is ``desk``, ``lead``, ``list/EV1``, ``log``, ``handover`` or ``plan``. `of`: the run's `identity`.
    `keeps`: the orders that a station keeps while the server is away. `replay`: the parts of its bar, of a past moment.
    """

    page: str
    address: str
    title: str
    bar: Bar
    bar_part: Part
    notice_part: Part
    parts: tuple[Part, ...]
    live: bool
    of: str
    keeps: str
    replay: tuple[Part, ...] = ()

    @property
    def all_parts(self) -> tuple[Part, ...]:
        return (self.bar_part, self.notice_part, *self.parts, *self.replay)


@dataclass(frozen=True, slots=True)
class Looking:
    """What the Lead board looks at besides: the way so far, what is ahead, what is tried (`refusal`: why it can't)."""

    points: "tuple[LeadPoint, ...]"
    outlook: "Outlook"
    said: tuple[str, ...] = ()
    tried: "Comparison | None" = None
    refusal: str = ""


@dataclass(frozen=True, slots=True)
class Shown:
    """What a board is made from.

    `past`: the situation is of an earlier moment, and nothing can be pressed; nor in an imported run, whose `origin` is
    told in words. `looking` is there for the Lead board,
    `search` for the Log. `may`: the right of whoever looks; the buttons that need a higher one are left out.
    `seeking`: what Replay can go to, at a past moment.
    """

    run: int
    situation: Situation
    log: list[Logged]
    past: bool
    revision_text: str
    looking: Looking | None = None
    search: Search = field(default_factory=Search)
    may: str = "watch"
    seeking: Seeking | None = None
    origin: str = ""


TITLES = {
    "desk": "Desk",
    "lead": "Lead board",
    "log": "Log",
    "handover": "Handover",
    "trainer": "Trainer",
    "plan": "Plan",
}


def board(renderer: Renderer, shown: Shown, page: str, notice: Notice | None = None) -> Board:
    """Raises NoSuchPage for an unknown page, or the list of somebody who is not of the crew."""
    top = replace(bar(shown.run, shown.situation, page, shown.past), origin=shown.origin)
    live = not shown.past
    values = figures(shown.situation)
    return Board(
        page=page,
        address=f"/runs/{shown.run}/{page}",
        title=TITLES.get(page, page.removeprefix("list/")),
        bar=top,
        bar_part=renderer.part(
            "bar", "_bar.html", bar=top, page=page, figures=values, replay=_into_replay(shown, page)
        ),
        notice_part=renderer.part("notice", "_notice.html", notice=notice, **_common(shown, page, values)),
        parts=_parts(renderer, shown, page, values),
        live=live,
        of=identity(shown.situation.state),
        keeps=" ".join(KEPT) if live else "",
        replay=replay_parts(renderer, shown.seeking, shown.situation.at_s) if shown.seeking else (),
    )


def _into_replay(shown: Shown, page: str) -> str:
    """The address of the link into Replay; empty where one is in it."""
    if shown.past:
        return ""
    return replay_address(shown.run, page, page.split("/")[0] in WITH_PAST, shown.situation, shown.log)


def _parts(renderer: Renderer, shown: Shown, page: str, values: Mapping[str, str]) -> tuple[Part, ...]:
    match page.split("/", 1):
        case ["desk"]:
            return _desk_parts(renderer, shown, values)
        case ["lead"] if shown.looking is not None:
            return _lead_parts(renderer, shown, shown.looking, values)
        case ["list", person] if person in shown.situation.network.crew:
            return _list_parts(renderer, shown, person, values)
        case ["trainer"] if allows(shown.may, "train"):
            return trainer_parts(renderer, shown.situation, _common(shown, page, values))
        case ["log"]:
            log = seen(shown.log, shown.situation.state, shown.may)
            found = log_page(shown.situation, log, new_key, shown.search, head_of(shown.log))
            return (renderer.part("log", "_log.html", log=found, **_common(shown, page, values)),)
        case ["handover"]:
            told = handover(shown.situation, shown.log, new_key)
            return (renderer.part("handover", "_handover.html", told=told, **_common(shown, page, values)),)
        case ["plan"]:
            found_plan = plan_page(shown.situation.prepared.base, shown.situation.state.revision, shown.revision_text)
            return (renderer.part("plan", "_plan.html", plan=found_plan),)
        case _:
            raise NoSuchPage(page)


def _common(shown: Shown, page: str, values: Mapping[str, str]) -> dict[str, object]:
    over = shown.situation.state.ended_s is not None or bool(shown.origin)
    going_on = not shown.past and not over
    return {
        "run": shown.run,
        "page": page,
        "figures": values,
        "going_on": going_on,
        "can_press": going_on and allows(shown.may, "mark"),
        "can_lead": going_on and allows(shown.may, "lead"),
    }


def _desk_parts(renderer: Renderer, shown: Shown, values: Mapping[str, str]) -> tuple[Part, ...]:
    common = _common(shown, "desk", values)
    found = desk(shown.situation, new_key)
    return (
        *live_parts(renderer, shown.situation, ON_DESK_ABOVE, common),
        renderer.part("desk-axis", "_desk_axis.html", line=found.line),
        *(
            renderer.part(f"band-{place}", "_band.html", band=each, **common)
            for place, each in enumerate(found.bands, 1)
        ),
        *live_parts(renderer, shown.situation, ON_DESK_BELOW, common),
        renderer.part(
            "desk-end",
            "_desk_end.html",
            key=new_key(),
            key_end=new_key(),
            crew=shown.situation.network.crew,
            steps=steps_now(shown.situation),
            out=not_back_words(shown.situation),
            **common,
        ),
    )


def _lead_parts(renderer: Renderer, shown: Shown, looking: Looking, values: Mapping[str, str]) -> tuple[Part, ...]:
    situation = shown.situation
    offered = offers(situation)
    told = {**offer_figures(situation, offered), **outlook_figures(looking.outlook, situation.at_s)}
    common = _common(shown, "lead", {**values, **told})
    turning = turn_back(situation)
    common |= {
        "board": lead_board(situation, offered, new_key),
        "ahead": ahead(looking.outlook, new_key),
        "trying": trying(situation, looking.said, looking.tried, looking.refusal, new_key, shown.past),
        "replan": replan(situation, new_key),
        "chart": lead_chart(
            situation,
            looking.points,
            looking.outlook.forecast,
            None if turning is None else turning.by_s,
            limit_s(situation),
        ),
    }
    names = ("figures", "chart", "people", "waits", "offers", "put_off", "what_if", "chain", "replan")
    parts = tuple(renderer.part(f"lead-{name}", f"_lead_{name}.html", **common) for name in names)
    return (*parts, *live_parts(renderer, situation, ON_LEAD, common))


def _list_parts(renderer: Renderer, shown: Shown, person: str, values: Mapping[str, str]) -> tuple[Part, ...]:
    found = my_list(shown.situation, person, new_key)
    common = _common(shown, f"list/{person}", values)
    return (
        renderer.part("list-people", "_list_people.html", mine=found, **common),
        renderer.part("list-now", "_band.html", band=found.band, **common),
        renderer.part(
            "list-asks", "_list_asks.html", mine=found, asked=asks(shown.situation, person, new_key), **common
        ),
        *live_parts(renderer, shown.situation, ON_LIST_ABOVE, common, person),
        renderer.part("list-steps", "_list_steps.html", mine=found, **common),
        *live_parts(renderer, shown.situation, ON_LIST_BELOW, common, person),
    )
