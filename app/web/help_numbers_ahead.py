"""The numbers of what is ahead and of past runs, each with an example. `test_help_numbers.py` works them out anew."""

from app.web.help_number import CPM, OUR, Number

AHEAD = (
    Number(
        "chance",
        "Chance to finish in time",
        "Lead board",
        "of all draws, how many finish by the limit, in whole per cent, never 0 or 100",
        (
            ("draws", "10,000"),
            ("limit", "01:10:00"),
            ("projected finish", "01:06:25"),
        ),
        "46 %",
        "A draw gives each open step a duration between its optimistic and its pessimistic one, and each "
        "person a pace; then all is projected once. It is below what the projection suggests, because a step "
        "is more often late than early.",
        "PERT-beta durations: Malcolm, Roseboom, Clark and Fazar, “Application of a technique for research and "
        "development program evaluation”, Operations Research 7 (1959) 646-669 (from memory). How paces are "
        "learned is Leadline's own.",
    ),
    Number(
        "spread",
        "Half by, nine in ten by",
        "Lead board",
        "of all draws in order of their finish, the one in the middle, and the one below which nine in ten lie",
        (
            ("draws", "10,000"),
            ("plan finish", "01:03:00"),
        ),
        "half by 01:10:24, nine in ten by 01:16:25",
        "If you must promise a time, promise the second one.",
        "Quantiles of the draws.",
    ),
    Number(
        "gain",
        "Can win at most",
        "Lead board, critical chain",
        "finish − finish if the step were over at once",
        (
            ("first step of the chain", "Put the new lamp in"),
            ("it ends at", "00:43:25"),
            ("finish", "01:06:25"),
            ("finish if it were over at once", "00:53:00"),
        ),
        "13m 25s",
        "More can't be won on this step alone, because another chain then sets the finish.",
        CPM,
    ),
    Number(
        "wins",
        "Wins",
        "Lead board, putting off",
        "finish as it stands − finish without what is put off",
        (
            ("put off", "Wipe the glass"),
            ("finish as it stands", "01:06:25"),
            ("finish without it", "01:01:25"),
        ),
        "5m",
        "What waited for it moves up, but never before now.",
        OUR,
    ),
    Number(
        "worth",
        "Worth lost",
        "Lead board, putting off",
        "the sum of the worths, 1 to 9 in the procedure, of all that is put off",
        (
            ("Wipe the glass, worth", "2"),
            ("Paint the foot, worth", "3"),
            ("put off", "both"),
        ),
        "5",
        "Of the ways that win the same time, the one that loses the least is shown first.",
        OUR,
    ),
    Number(
        "put-off-chance",
        "Chance, with work put off",
        "Lead board, putting off",
        "of the same draws, with what is put off taking no time, how many finish by the limit",
        (
            ("chance as it stands", "46 %"),
            ("put off", "Wipe the glass"),
        ),
        "89 %",
        "The same draws are used, so the difference is the choice's and not luck's.",
        OUR,
    ),
    Number(
        "team-after",
        "Team after",
        "Lead board, get-ahead items",
        "plan finish − projected finish with the item in its best place in the list",
        (
            ("team lead now", "4m ahead"),
            ("item", "Coil the old cable, 6m, for EV2"),
            ("finish with it at its best place", "00:59:00"),
        ),
        "4m ahead",
        "An item is offered only if the team is still on time or ahead with it in.",
        OUR,
    ),
    Number(
        "best-together",
        "Best together",
        "Lead board, get-ahead items",
        "of all items that fit together, those that put back most worth, then have most get-ahead work, then "
        "leave the largest lead",
        (
            ("items that fit alone", "Coil the old cable, Rake the path"),
            ("get-ahead work in all", "9m"),
        ),
        "Coil the old cable and Rake the path; then the team is 2m ahead",
        "Two items that each fit alone need not fit together; these do.",
        OUR,
    ),
    Number(
        "mean",
        "Mean of a step",
        "Plan, forecast",
        "(optimistic + 4 × likely + pessimistic) ÷ 6",
        (
            ("optimistic", "12m"),
            ("likely", "15m"),
            ("pessimistic", "24m"),
        ),
        "16m",
        "Longer than the likely duration where the step can be much later but little earlier.",
        "As for the chance: Malcolm and others, 1959 (from memory).",
    ),
    Number(
        "median",
        "Median",
        "Durations, Compare",
        "the middle one in order of size; of an even number the mean of the two in the middle",
        (("five runs took", "13m 20s, 16m 05s, 17m 30s, 15m 10s, 19m 40s"),),
        "16m 05s",
        "Half of the runs took longer.",
        "Hyndman and Fan, “Sample quantiles in statistical packages”, The American Statistician 50 (1996) "
        "361-365, type 7 (from memory).",
    ),
    Number(
        "ten-to-ninety",
        "Ten to ninety",
        "Durations",
        "the 10th and the 90th percentile of the runs, between two of them on a straight line",
        (("five runs took", "13m 20s, 16m 05s, 17m 30s, 15m 10s, 19m 40s"),),
        "14m 04s to 18m 48s",
        "Eight in ten runs lie between.",
        "Hyndman and Fan, type 7 (from memory).",
    ),
    Number(
        "proposed",
        "Next plan",
        "Durations",
        "n runs weigh n ÷ (n + k) against the plan, on logarithms; k is how much the step varies from run to "
        "run over how far plans are off",
        (
            ("plan", "12m, 15m, 24m"),
            ("median of five runs", "16m 05s"),
            ("the runs weigh", "84 %"),
        ),
        "12m, 15m 15s, 25m",
        "Few runs change the plan a little, many a lot. It is a proposal: whoever plans ticks it or not.",
        "Bühlmann, “Experience rating and credibility”, ASTIN Bulletin 4 (1967) 199-207 (from memory).",
    ),
    Number(
        "worked",
        "Worked, waited",
        "Debrief, Compare",
        "worked: the time in which a step of theirs was on; waited: the rest, from their first start to their "
        "last finish",
        (
            ("EV2's first start", "00:00:00"),
            ("now, a step still on", "00:30:00"),
            ("waited", "0s"),
        ),
        "30m",
        "Two steps at one time count once.",
        OUR,
    ),
    Number(
        "against-plan",
        "Against plan, of a step or task",
        "Debrief, Compare",
        "done − planned finish",
        (
            ("planned to finish", "00:25:00"),
            ("done", "00:28:25"),
        ),
        "3m 25s later",
        "Of a step, how much later or earlier it was done than planned.",
        OUR,
    ),
)
