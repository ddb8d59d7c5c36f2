"""A pot that is spread out in a tray lives longer, but what it has lived in the cup stays lived (shop rules 24 and 26).

- :func:`tray_deadline_min`: minutes from first contact until a pot in a tray is to be used up.
"""

from service.formulas.ranges import within

__all__ = ["tray_deadline_min"]

MOST_MINUTES = 1e6


def tray_deadline_min(*, cup_life_min: float, tray_life_min: float, moved_after_min: float) -> float:
    """Minutes from first contact until a pot that was moved into a tray is to be used up.

    Formula: ``t + (1 - t/L_cup)*L_tray``, and ``L_cup`` where t has reached it. The share of its life that the mix has
    spent in the cup is spent; the rest runs by the tray's table. That is never later than the tray's life counted from
    first contact, as long as the tray's life is the longer one.

    Parameters
    ----------
    cup_life_min : float
        Life in the cup at the mass and temperature of the mix, L_cup [min].
    tray_life_min : float
        Life in the tray by its own table, L_tray [min].
    moved_after_min : float
        When it was moved, from first contact, t [min].

    Returns
    -------
    float
        Minutes from first contact [min].

    Raises
    ------
    OutOfRange
        If an argument is outside its range.

    Valid range
    -----------
    Lives above 0 and at most 1e6 min; moved after 0 to 1e6 min.

    Examples
    --------
    >>> tray_deadline_min(cup_life_min=30, tray_life_min=60, moved_after_min=10)
    50.0
    >>> tray_deadline_min(cup_life_min=30, tray_life_min=60, moved_after_min=40)
    30.0

    Source
    ------
    Common practice, no source: shares of life used up add to one, as in an equivalent age.
    """
    cup = within("cup_life_min", cup_life_min, 0, MOST_MINUTES, above=True, unit="min")
    tray = within("tray_life_min", tray_life_min, 0, MOST_MINUTES, above=True, unit="min")
    moved = within("moved_after_min", moved_after_min, 0, MOST_MINUTES, unit="min")
    if moved >= cup:
        return cup
    return moved + (1 - moved / cup) * tray
