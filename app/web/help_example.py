"""The one run that all worked examples of the help are about. Invented; a test works every number out from it anew."""

PROCEDURE = """\
procedure: lamp
title: Change the mast lamp
zero: Hatch open
crew: {EV1: {does: At the mast}, EV2: {does: At the cable}}
on_plan_within: 30 s
limits: {finish: 1:10, close_out: home}
rounds: [{round: gloves, asks: "Any damage?", who: EV1, every: 20 min}]
supplies: [{supply: battery, who: EV1, unit: "%", reserve: 20}]
tasks:
  - {task: out, title: Go out, who: [EV1, EV2], steps: [{do: Walk to the mast, takes: 10 min}]}
  - task: lamp
    title: Change the lamp
    who: EV1
    after: [out]
    steps:
      - {do: Take the old lamp out, takes: [12 min, 15 min, 24 min]}
      - {do: Put the new lamp in, takes: 15 min}
  - {task: wipe, title: Wipe the glass, who: EV1, may_put_off: true, worth: 2, steps: [{do: Wipe it, takes: 5 min}]}
  - {task: cable, title: Lay the cable, who: EV2, after: [out], steps: [{do: Lay it, takes: 12 min}]}
  - {task: paint, title: Paint the foot, who: EV2, may_put_off: true, worth: 3, steps: [{do: Paint it, takes: 12 min}]}
  - task: test
    title: Test the lamp
    who: [EV1, EV2]
    after: [lamp, cable]
    steps: [{do: Is it lit?, takes: 8 min}]
  - {task: home, title: Go home, who: [EV1, EV2], after: [test], steps: [{do: Walk home, takes: 10 min}]}
  - {task: coil, title: Coil the old cable, who: EV2, get_ahead: true, steps: [{do: Coil it, takes: 6 min}]}
  - {task: rake, title: Rake the path, who: EV2, get_ahead: true, steps: [{do: Rake it, takes: 3 min}]}
"""

SLOW = (("out/1", "0:10:00"), ("cable/1", "0:22:00"), ("lamp/1", "0:28:25"))
"""The marks of the run as most examples have it: the old lamp took longer."""

QUICK = (("out/1", "0:10:00"), ("lamp/1", "0:21:00"), ("cable/1", "0:22:00"))
"""The same run, had the old lamp come out sooner."""

NOW = "0:30:00"
"""Elapsed, in both."""

READINGS = (("0:00:00", 100.0), ("0:10:00", 88.0), ("0:20:00", 75.5), ("0:30:00", 63.0))
"""What EV1 called of the battery: elapsed, per cent."""

RUNS = ("13m 20s", "16m 05s", "17m 30s", "15m 10s", "19m 40s")
"""What the old lamp took in five past runs."""
