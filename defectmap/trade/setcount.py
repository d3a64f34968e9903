"""How many sets a step took: asked for in sets or in movements, so that nobody multiplies by six.

A set is one working of a section with one charge of product, four to six movements over it; removal is known
for a set. In the trade "pass" means one movement, in other mouths a set: so it is never asked for.
"""

from __future__ import annotations

import math

from defectmap.errors import JobError
from defectmap.trade.table_forms import Sets


def sets_of(table: Sets, *, usual: int, sets: int | None, movements: int | None, sure: bool = False) -> int:
    """The number of sets.

    Parameters
    ----------
    usual : int
        What the step takes where neither is given.
    sets, movements : int, optional
        Counted either way; movements are those over one section altogether.
    sure : bool, optional
        More sets than usual are meant as they stand.

    Raises
    ------
    JobError
        Both are given, a number is below 1, or more sets than usual may be movements.

    Examples
    --------
    >>> from defectmap.trade.table_forms import Range
    >>> four_to_six = Sets(movements=Range(low=4, high=6), usual_most=3)
    >>> sets_of(four_to_six, usual=1, sets=None, movements=6)
    1
    >>> sets_of(four_to_six, usual=1, sets=None, movements=10)
    2
    """
    if sets is not None and movements is not None:
        raise JobError("Give the sets or the movements over a section, not both.")
    low, high = table.movements.low, table.movements.high
    if movements is not None:
        if movements < 1:
            raise JobError(f"{movements} movements cannot be right; give 1 or more.")
        return math.ceil(movements / high)
    if sets is None:
        return usual
    if sets < 1:
        raise JobError(f"{sets} sets cannot be right; give 1 or more.")
    if sets > table.usual_most and not sure:
        raise JobError(
            f"{sets} sets are unusual: one set is {low:g} to {high:g} movements over a section. If you "
            "counted movements, give them as movements; if they are sets, say that you are sure."
        )
    return sets
