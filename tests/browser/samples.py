"""The procedures of the browser tests, all invented. Nothing but text."""

RELAY = """
procedure: relay
title: Relay box swap
about: Two people outside swap a relay box; a third watches.
zero: Door open
crew:
  ANA: {does: Left of the box}
  BEN: {does: Right of the box}
  CHI: {does: Inside the hut}
limits: {finish: 2:00, close_out: home}
tasks:
  - task: out
    title: Go out
    who: [ANA, BEN]
    steps:
      - {do: Open the door, takes: 5 min, warning: Tether first.}
      - {do: Walk to the box, takes: 5 min}
  - task: cut
    title: Cut the power
    who: CHI
    after: [out]
    steps:
      - do: Pull the breaker
        takes: 4 min
        record: {voltage: {unit: V, from: 0, to: 2}}
      - {do: Call it dead, takes: 1 min}
  - task: swap
    title: Swap the box
    who: ANA
    after: [cut]
    steps:
      - {do: Stop. Is the box free, takes: 2 min, hold: {go: [BEN, CHI]}}
      - {do: Lift the new box in, takes: 10 min, caution: Sharp edges.}
  - task: sweep
    title: Sweep the step
    who: BEN
    after: [out]
    may_put_off: true
    worth: 3
    steps:
      - {do: Sweep it clean, takes: 5 min}
  - task: home
    title: Come home
    who: [ANA, BEN]
    after: [swap]
    steps:
      - {do: Shut the door, takes: 5 min}
  - task: photo
    title: Photograph the rail
    who: BEN
    get_ahead: true
    after: [out]
    steps:
      - {do: Take six photographs, takes: 3 min}
"""

HOSTILE = """
procedure: hostile
title: "<script>window.ran = 1</script> & <b>bold</b>"
about: "<img src=x onerror='window.ran = 2'>. {{ 7777 * 7777 }}"
zero: "\\"><script>window.ran = 3</script>"
crew:
  ANA: {does: "<svg onload='window.ran = 4'>"}
  BEN: {does: "' onmouseover='window.ran = 5"}
tasks:
  - task: one
    title: "</title><script>window.ran = 6</script>"
    who: ANA
    where: "<iframe srcdoc='<script>parent.ran = 7</script>'>"
    steps:
      - do: "<img src=x onerror='window.ran = 8'> hx-get='/api/runs' <i hx-trigger=load hx-get=/>"
        takes: 5 min
        warning: "<a href='javascript:window.ran = 9'>press</a>"
        caution: "</p></section></main><script>window.ran = 10</script>"
        record: {"<input autofocus onfocus='window.ran = 11'>": {unit: "<b>", from: 0, to: 2}}
      - {do: "</template></hx-partial><script>window.ran = 12</script>", takes: 5 min}
  - task: two
    title: "<style>* { display: none !important }</style>"
    who: BEN
    may_put_off: true
    worth: 1
    steps:
      - {do: "<base href=//elsewhere.example/><meta http-equiv=refresh content=0>", takes: 5 min, hold: {go: [ANA]}}
  - task: three
    title: "<object data=x></object>"
    who: BEN
    get_ahead: true
    steps:
      - {do: "--><!-- <math><mi xlink:href=javascript:1>", takes: 1 min}
"""

SHELF = """
procedure: shelf
title: Shelf in the store room
about: Two people put up a shelf. There is time for more.
zero: Door unlocked
crew:
  ANA: {does: Ladder}
  BEN: {does: Floor}
limits: {finish: 2:00, close_out: home}
windows: {daylight: [[0:00, 1:30]]}
tasks:
  - {task: drill, title: Drill the holes, who: ANA, steps: [{do: Drill eight holes, takes: 20 min}]}
  - {task: paint, title: Paint the wall, who: ANA, within: daylight, may_put_off: true, worth: 4,
     steps: [{do: Paint it white, takes: 15 min}]}
  - {task: label, title: Label the wall, who: ANA, after: [paint], may_put_off: true, worth: 2,
     steps: [{do: Write the labels, takes: 5 min}]}
  - {task: saw, title: Saw the boards, who: BEN, steps: [{do: Saw four boards, takes: 10 min}]}
  - {task: dust, title: Dust the room, who: BEN, may_put_off: true, worth: 1, steps: [{do: Dust it, takes: 4 min}]}
  - {task: home, title: Lock up, who: [ANA, BEN], after: [drill, saw, label], steps: [{do: Lock up, takes: 5 min}]}
  - {task: count, title: Count the screws, who: BEN, get_ahead: true, steps: [{do: Count them, takes: 3 min}]}
  - {task: oil, title: Oil the hinge, who: BEN, get_ahead: true, steps: [{do: Oil it, takes: 2 min}]}
"""

RIG = """
procedure: rig
title: Rig the winch
about: Two people rig a winch; a third stands by. Every way in which a step comes to be done.
zero: Gate open
crew:
  ANA: {does: On the deck}
  BEN: {does: At the winch}
  CHI: {does: Stands by}
tools: [torque driver, camera]
tasks:
  - task: screws
    title: Fix the plate
    who: ANA
    needs: [torque driver]
    steps:
      - {do: Drive the eight screws, takes: 8 min, count: 8, record: {turns: {unit: turn, from: 14, to: 17}}}
      - {do: Wipe the plate, takes: 2 min}
  - task: wire
    title: Lay the wire
    who: BEN
    steps:
      - {do: Measure the pull, takes: 4 min, record: {pull: {unit: kN, from: 2, to: 4}}}
      - {do: Check each clamp, takes: 3 min, confirm_by: CHI}
  - task: watch
    title: Watch the drum
    who: CHI
    steps:
      - do: Say whether the drum is free
        takes: 5 min
        hold: {go: [ANA, BEN]}
  - task: lift
    title: Lift together
    who: [ANA, BEN]
    after: [screws, wire, watch]
    steps:
      - do: Lift the plate into the frame and let it hang on both hooks
        takes: 12 min
        warning: Nobody under the load. Hands off the wire when it is tight.
        caution: The frame bends if only one hook holds.
        note: The left hook is stiff in the cold.
        hold: {go: [ANA, CHI]}
        count: 4
        record:
          gap left: {unit: mm, from: 2, to: 6}
          gap right: {unit: mm, from: 2, to: 6}
          load: {unit: kN, to: 9}
        confirm_by: CHI
      - {do: Lower the hook, takes: 3 min}
"""

SHED = """
procedure: shed
title: Mend the shed
zero: Door open
crew:
  ANA: {does: Roof}
  BEN: {does: Floor}
limits: {finish: 3:00, close_out: home}
tools: [saw, file]
tasks:
  - {task: cut, title: Cut the beam, who: ANA, needs: [saw], steps: [{do: Saw through, takes: 15 min}]}
  - {task: trim, title: Trim the board, who: BEN, needs: [saw, file], steps: [{do: Trim it, takes: 15 min}]}
  - {task: home, title: Lock up, who: [ANA, BEN], after: [cut, trim], steps: [{do: Lock up, takes: 5 min}]}
"""

DIVE = """
procedure: dive
title: Look at the pier
zero: In the water
crew:
  ANA: {does: North side}
  BEN: {does: South side}
limits: {finish: 4:00, close_out: home}
rounds:
  - {round: cold, asks: Cold. Leaks, who: [ANA, BEN], every: 60 min}
supplies:
  - {supply: gas, who: [ANA, BEN], unit: bar, reserve: 50}
tasks:
  - {task: look, title: Look at the piles, who: ANA, steps: [{do: Look at them, takes: 90 min}]}
  - {task: film, title: Film the piles, who: BEN, steps: [{do: Film them, takes: 80 min}]}
  - {task: home, title: Come up, who: [ANA, BEN], after: [look, film], steps: [{do: Come up, takes: 10 min}]}
"""

PROCEDURES = {"relay": RELAY, "hostile": HOSTILE, "shelf": SHELF, "shed": SHED, "rig": RIG, "dive": DIVE}

WARNED = {"relay": (("out/1", "ANA"), ("out/1", "BEN"))}
"""Whose warnings stand before the steps that most tests mark; `Server.run` has them acknowledged."""
