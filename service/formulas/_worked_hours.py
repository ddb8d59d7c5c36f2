"""How long a shop worked between two times: what is counted of a lay-up that was left over night."""

from datetime import datetime, timedelta

from service.formulas._mould_days import Hours


def worked_minutes(begun: datetime, ended: datetime, hours: Hours) -> int:
    """Whole minutes between two times of the shop's clock in which the shop worked, rounded to the nearest.

    >>> from datetime import time
    >>> day = Hours(opens=time(8), closes=time(16))
    >>> worked_minutes(datetime(2026, 11, 2, 15), datetime(2026, 11, 3, 9, 30), day)
    150
    """
    seconds, day = 0.0, begun.date()
    while day <= ended.date():
        if day.weekday() in hours.weekdays and day not in hours.closed:
            first = max(begun, datetime.combine(day, hours.opens))
            last = min(ended, datetime.combine(day, hours.closes))
            seconds += max(0.0, (last - first).total_seconds())
        day += timedelta(days=1)
    return round(seconds / 60)
