"""The starter file of a procedure: every field with a comment, those that are not needed switched off.

A line that begins with ``##`` explains; one that begins with ``#`` and a blank is a field that is switched off, and
holds when these two signs are taken away. It writes no file.
"""

import json
from collections.abc import Sequence
from string import Template

DEFAULT_PEOPLE = ("EV1", "EV2", "GROUND")
"""Two outside and one on the ground. Our own choice."""


def starter(name: str, title: str, people: Sequence[str] = DEFAULT_PEOPLE) -> str:
    """The text of a starter file.

    Args:
        name: the procedure's id.
        people: designators, two or more. The first two do the work, the last answers, all but the last go out.
    """
    first, second, last = people[0], people[1], people[-1]
    outside = ", ".join(people[:-1] if len(people) > 2 else people)
    duties = ((each, _SAMPLE_DUTIES.get(each, "Say here what this one does")) for each in people)
    crew = "\n".join(f"  {each}: {{does: {duty}}}" for each, duty in duties)
    told = {"name": name, "title": json.dumps(title, ensure_ascii=False), "crew": crew, "outside": outside}
    return Template(_TEXT).substitute(told, first=first, second=second, last=last)


_SAMPLE_DUTIES = {"EV1": '"Outside, at the mast"', "EV2": '"Outside, along the wall"', "GROUND": "On the voice loop"}

_TEXT = """\
## A starter file, to be made your own. It is sound as it stands: check it, serve it, rehearse it, then change it.
## Everything in it is invented.
##
## A line that begins with ## explains what comes next. A line that begins with one # is a field that you may want:
## take the "# " away and it holds.
##
## Durations have a unit: 45 s, 8 min, 1 h 30 min. Elapsed times are h:mm or h:mm:ss since the clock was started.
## Indent with blanks, never with tabs. Put a text in quotes if it holds a colon and a blank, or a comma inside braces.

## The short name: letters, digits, - _ and . with no blanks. Another text under the same name is a new revision of it.
procedure: $name
## What people call it.
title: $title
## What it is for, in a sentence or two.
about: "Larkspur outpost: change the lamp on the north mast, and look at the cables along the wall."
## What starts the clock. All elapsed times count from here.
zero: Hatch open

## Who holds a list of steps: the designator that is used on the voice loop, and what that person or console does.
crew:
$crew

## finish: the hard limit, an elapsed time. close_out: the task that must always still fit before it.
limits:
  finish: 2:00
  close_out: come-in

## When some work can be done: any number of openings, each from when to when. A task or step names one by "within".
# windows:
#   daylight: [[0:05, 1:10], [1:25, 1:50]]

## Checks that come back: what is asked, of whom, how often.
# rounds:
#   - round: gloves
#     asks: "Gloves and tethers: any damage?"
#     who: [$first, $second]
#     every: 30 min

## What runs out: who carries it, its unit, and the reading that must not be reached.
# supplies:
#   - supply: battery
#     who: [$first, $second]
#     unit: "%"
#     reserve: 15

## All tools. What a task "needs" is among them.
# tools: [hex driver, camera]

## Optional tasks are offered while the team is at least so far ahead of plan. 0 s if it is not given.
# get_ahead: {least_lead: 2 min}

## A lead or a delay of at most this reads "on plan". 1 min if it is not given.
# on_plan_within: 2 min

## For the forecast: how short and how long a step may turn out that gives only one duration. This is what holds anyway.
# spread: [0.8, 1, 1.6]

## The work. Steps of one task follow one another; so do the tasks of one person, in the order of this file. All else
## runs in parallel, unless "after" says otherwise.
tasks:
  ## task: the short name by which others refer to it. title: what people call it. who: everyone it needs.
  - task: go-out
    title: Go out and set up
    who: [$outside]
    ## steps: do is what is read out, takes is how long: one duration, or the shortest, likely and longest.
    steps:
      - do: Leave the hatch; check each other's tethers
        takes: [4 min, 5 min, 9 min]
        ## Shown before the step, in this order. warning: a danger to people, which each acknowledges. caution: a
        ## danger to equipment or the work. note: what helps.
        warning: One tether hooked at all times.
        # caution: The lamp's glass breaks at a knock.
        # note: The bag hangs to the left of the hatch.
      - do: Carry the bag to the foot of the mast
        takes: 6 min

  - task: change-lamp
    title: Change the lamp
    who: [$first]
    ## What must be done before its first step: a task, a step (task/number), or with a wait {task: id, wait: 5 min}.
    after: [go-out]
    ## Where it is done.
    where: north mast
    ## The earliest start of its first step; the window of each of its steps; the tools that it takes.
    # not_before: 0:10
    # within: daylight
    # needs: [hex driver]
    steps:
      - do: Switch the lamp off and say so
        takes: 2 min
        ## hold: the step is complete only when each of these has answered "go".
        hold: {go: [$last]}
      - do: Loosen the four screws of the cover
        takes: 6 min
        ## count: so many like actions, each marked and timed.
        # count: 4
      - do: Put the new lamp in
        takes: 5 min
        ## record: values that are typed with the mark; from and to are the tolerance, and either may be left out.
        # record:
        #   turns: {unit: turn, from: 2, to: 4}
        ## confirm_by: the second person, without whose word it is not done.
        # confirm_by: $second
      - do: Switch it on
        takes: 1 min
        ## A step may have its own people, prerequisites, earliest start and window, where they differ from the task's.
        # who: [$last]
        # after: [{step: go-out/2, wait: 10 min}]
        # not_before: 0:20
        # within: daylight

  - task: look-at-cables
    title: Look at the cables
    who: [$second]
    after: [go-out]
    ## Work that may be left for another day, and what is lost by that, from 1 (little) to 9.
    # may_put_off: true
    # worth: 4
    steps:
      - {do: "Walk along the wall, and look at each clamp", takes: 12 min}

  ## Extra work outside the plan, offered only while there is time for it.
  # - task: photographs
  #   title: Photograph the mast
  #   who: [$second]
  #   after: [go-out]
  #   get_ahead: true
  #   steps:
  #     - {do: Take six photographs of the mast, takes: 4 min}

  - task: come-in
    title: Come in
    who: [$outside]
    after: [change-lamp, look-at-cables]
    steps:
      - do: Go back inside and shut the hatch
        takes: 8 min
"""
