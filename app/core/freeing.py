"""When a step is free to begin because what it waited for was put off or is not needed. It moves nothing.

Until then it waited, so it cannot have been under way before: without this, a step whose people stand idle would be
taken to have begun when they last finished, and putting off would seem to win the time for which they stood idle.
"""

from dataclasses import replace

from app.core.network import Network
from app.core.passes import Facts


def with_freed(network: Network, facts: Facts) -> Facts:
    """The facts with `freed_s` of each open step that a removed step stood before: by a prerequisite, at any distance
    through removed ones, or in the list of one of its people, with no open step between."""
    if not facts.removed:
        return replace(facts, freed_s={}) if facts.freed_s else facts
    found: dict[int, int] = {}
    for step in network.order:
        if step not in facts.done and step not in facts.removed:
            found[step] = _by_prerequisites(network, facts, step)
    for one_list in network.lists:
        _by_list(facts, one_list, found)
    return replace(facts, freed_s={step: freed_s for step, freed_s in found.items() if freed_s})


def _by_prerequisites(network: Network, facts: Facts, step: int) -> int:
    removed = [earlier for earlier, _ in network.before[step] if earlier in facts.removed]
    return max(
        (max(facts.removed_s.get(each, 0), _by_prerequisites(network, facts, each)) for each in removed), default=0
    )


def _by_list(facts: Facts, one_list: tuple[int, ...], found: dict[int, int]) -> None:
    since = 0
    for step in one_list:
        if step in facts.removed:
            since = max(since, facts.removed_s.get(step, 0))
        elif step in found:
            found[step] = max(found[step], since)
            since = 0
