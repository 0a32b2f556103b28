"""Each number of a screen that the help explains, with an example worked out."""

from app.web.help_number import Number
from app.web.help_numbers_ahead import AHEAD
from app.web.help_numbers_run import OF_A_RUN
from app.web.help_numbers_told import TOLD

NUMBERS: tuple[Number, ...] = (*OF_A_RUN, *AHEAD, *TOLD)
