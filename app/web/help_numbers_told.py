"""The numbers of a plan as a whole and of what is told of runs, each with an example. A test works them out anew."""

from app.web.help_number import CPM, OUR, Number

_BOTH = (("lamp out later by", "3m 25s"), ("put off at 00:30:00", "Wipe the glass"))
"""What the examples of a debrief have in common."""

TOLD = (
    Number(
        "plan-finish",
        "Plan finish",
        "Bar, Home, Plan, On paper, Durations, Debrief",
        "the latest finish of all steps, each starting when what it waits for and its people are done, within its "
        "window, and lasting its likely time",
        (
            ("Go out, Take the old lamp out, Put the new lamp in", "10m + 15m + 15m"),
            ("Wipe the glass, Test the lamp, Go home", "5m + 8m + 10m"),
        ),
        "01:03:00",
        "Get-ahead items are not in it. The planned start and finish of each step come out of the same reckoning.",
        CPM,
    ),
    Number(
        "window-chance",
        "Chance of a window",
        "Lead board",
        "of all draws, in how many every step of the task that the projection puts into this opening lies whole "
        "within an opening and ends by the time this one closes, in whole per cent, never 0 or 100",
        (
            ("draws", "10,000"),
            ("were Paint it within a window", "00:15:00 to 00:36:00"),
            ("projected", "00:22:00 to 00:34:00"),
        ),
        "81 %",
        "It stands under the chance to finish in time. Of a step under way only its end counts.",
        OUR,
    ),
    Number(
        "won-lost",
        "Lead won, lost",
        "Debrief",
        "won: the sum of the changes of the team's lead above zero; lost: the sum of those below; "
        "won − lost = the lead at the end",
        _BOTH,
        "5m, 3m 25s",
        "5m − 3m 25s is 1m 35s ahead. Told to the second, whatever “on plan” is.",
        OUR,
    ),
    Number(
        "change",
        "Change of the lead",
        "Debrief",
        "of an entry: lead with it − lead without it, at its second; of what runs over: lead at the end of the "
        "stretch − lead at its beginning; all spells of one step are added",
        (
            ("planned to be done", "00:25:00"),
            ("marked", "00:28:25"),
            ("lead at 00:25:00", "0s"),
            ("lead at 00:28:25", "3m 25s behind"),
        ),
        "3m 25s lost, 00:25:00 to 00:28:25",
        "The changes add up to the lead at the end.",
        OUR,
    ),
    Number(
        "moved",
        "What it moved at once",
        "Debrief",
        "lead, finish and room in the second of the order with it in − the same without it",
        (
            ("order", "put off Wipe the glass"),
            ("team then", "3m 25s behind"),
            ("finish then", "01:06:25"),
            ("room then", "3m 35s"),
        ),
        "5m won: 1m 35s ahead, finish 01:01:25, room 8m 35s",
        "What was heard later is in neither. Empty where the order moved none of the three.",
        OUR,
    ),
    Number(
        "most-least",
        "Most, Least",
        "Debrief, Compare",
        "the largest and the smallest lead of the team from zero to the end, with the first time it was that",
        _BOTH,
        "most 1m 35s ahead, 00:30:00; least 3m 25s behind, 00:28:25",
        "The lead is looked at wherever its course turns, to the second.",
        OUR,
    ),
    Number(
        "least-median-most",
        "Least, median, most",
        "Compare",
        "the smallest; the middle one in order of size, of an even number the mean of the two in the middle, rounded "
        "to the whole second, a half to the even one; the largest. One figure where all are the same",
        (
            ("two runs took", "13m 20s, 16m 05s"),
            ("mean of the two", "14m 42.5s"),
        ),
        "13m 20s, 14m 42s, 16m 05s",
        "So are worked, waited, lead, against plan and took. Runs in which there is no such figure are left out.",
        "As for the median: Hyndman and Fan, 1996 (from memory). The rounding is Leadline's own rule.",
    ),
    Number(
        "to-plan",
        "To plan",
        "Durations",
        "median of the runs ÷ likely duration of the plan; median of the runs ÷ median of the plan's three points, "
        "both to two places",
        (
            ("median of five runs", "16m 05s"),
            ("likely", "15m"),
            ("median of 12m, 15m, 24m", "15m 46s"),
        ),
        "1.07 to likely, 1.02 to median",
        "Above 1 the runs took longer. The second is the fair one: of a plan that is right it is 1.",
        "Ratios: Leadline's own rule. The plan's median is that of the PERT-beta distribution: Malcolm and others, "
        "1959 (from memory).",
    ),
    Number(
        "took",
        "Took",
        "Debrief, Compare",
        "done − began; began is the recorded start, else when all that the step waited for was done (a star)",
        (
            ("began *", "00:10:00"),
            ("done", "00:28:25"),
            ("likely", "15m"),
        ),
        "18m 25s",
        "Without a recorded start a wait that nobody told of is in it.",
        OUR,
    ),
    Number(
        "work-by-plan",
        "Work by plan",
        "Debrief",
        "the sum of the likely durations of a person's steps in the plan",
        (("EV2's steps", "10m + 12m + 12m + 8m + 10m"),),
        "52m",
        "Get-ahead items that were taken, and steps that were added, are not in the plan.",
        OUR,
    ),
    Number(
        "hold-waited",
        "Waited, of a hold or poll",
        "Debrief",
        "last go − reached; of one person, their go − reached, at least 0; without a go, up to the end of what is told",
        (
            ("were Lay it a hold for EV1's go, reached", "00:10:00"),
            ("EV1 go", "00:20:00"),
        ),
        "10m",
        "A poll is counted from when it was called.",
        OUR,
    ),
)
"""The numbers of a plan, of a debrief and of runs beside each other."""
