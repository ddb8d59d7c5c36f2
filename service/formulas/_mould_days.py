"""On which days parts are begun: moulds that are taken for so many hours, within the shop's hours of work."""

from collections.abc import Sequence
from dataclasses import dataclass
from datetime import date, datetime, time, timedelta

_LOOKED_AHEAD = 3660
"""Days within which a shop opens again."""


@dataclass(frozen=True, slots=True)
class Hours:
    """When the shop works: days of the week from Monday (0), from and until, and the days on which it is closed.

    All times are those of the shop's own clock; a night on which it is put back or forward counts as any other.
    """

    weekdays: frozenset[int] = frozenset(range(7))
    opens: time = time.min
    closes: time = time.max
    closed: frozenset[date] = frozenset()

    def at_work(self, at: datetime) -> datetime | None:
        """The first moment of work from ``at`` on; None if the shop does not open again within ten years."""
        day = at.date()
        for _ in range(_LOOKED_AHEAD):
            if day.weekday() in self.weekdays and day not in self.closed:
                begins = datetime.combine(day, self.opens)
                if at <= begins:
                    return begins
                if at <= datetime.combine(day, self.closes):
                    return at
            day += timedelta(days=1)
        return None


@dataclass(frozen=True, slots=True)
class Form:
    """A mould: from when it is free, the release on it, and how long a pull takes it; None where nobody knows.

    ``pulls`` is for how many pulls the release that is on lasts, 0 for none; one that is laid on anew takes
    ``wait_min`` and lasts for ``lasts``.
    """

    code: str
    free_at: datetime
    hours: float | None
    pulls: int = 0
    ready_at: datetime | None = None
    lasts: int = 1
    wait_min: int = 0


@dataclass(frozen=True, slots=True)
class Job:
    """One part to begin, not before its day and out of its mould by the end of ``due``."""

    key: int
    earliest: datetime
    due: date | None = None


@dataclass(frozen=True, slots=True)
class Begun:
    """When a part is begun and in which mould, when it is out of it, and whether that is too late.

    Nothing of what is not known: a mould whose hours nobody knows takes one part, and nobody knows until when.
    """

    key: int
    mould: str | None
    begins: datetime | None
    out: datetime | None
    late: bool | None


def plan_days(jobs: Sequence[Job], forms: Sequence[Form], hours: Hours) -> tuple[Begun, ...] | None:
    """Each part as early as its moulds allow, by due date; None if the shop does not open again.

    Where all may be begun from the same day on, none is late that another plan would have in time: parts that take
    the same mould alike are exchanged without loss (the earliest due date first,
    https://rbutterworth.nfshost.com/Scheduling/1.3-due/, read; Jackson's rule, 1955, from memory). Without moulds each
    is begun on its first day of work.
    """
    if jobs and hours.at_work(min(job.earliest for job in jobs)) is None:
        return None
    begun: list[Begun] = []
    free = {form.code: (form.free_at, form.pulls, form.ready_at) for form in forms}
    for job in sorted(jobs, key=lambda j: (j.due or date.max, j.earliest, j.key)):
        if not forms:
            first = hours.at_work(job.earliest)
            late = job.due is not None and (first is None or first.date() > job.due)
            begun.append(Begun(job.key, None, first, first, late))
            continue
        offers = [offer for form in forms if form.code in free and (offer := _offer(form, free[form.code], job, hours))]
        if not offers:
            begun.append(Begun(job.key, None, None, None, None))
            continue
        out, begins, form = min(
            offers, key=lambda offer: (offer[0] is None, offer[0] or offer[1], offer[1], offer[2].code)
        )
        if out is None:
            del free[form.code]
        else:
            free[form.code] = (out, (free[form.code][1] or form.lasts) - 1, None)
        late_too = (
            None if out is None and job.due is not None else out is not None and out.date() > (job.due or date.max)
        )
        begun.append(Begun(job.key, form.code, begins, out, late_too))
    return tuple(begun)


def _offer(
    form: Form, now: tuple[datetime, int, datetime | None], job: Job, hours: Hours
) -> tuple[datetime | None, datetime, Form] | None:
    """When a part could be begun in a mould, and when it would be out of it."""
    begins = _begins(form, now, job.earliest, hours)
    if begins is None:
        return None
    return (None if form.hours is None else hours.at_work(begins + timedelta(hours=form.hours)), begins, form)


def _begins(
    form: Form, now: tuple[datetime, int, datetime | None], earliest: datetime, hours: Hours
) -> datetime | None:
    """When the next part can be begun in a mould; a release that is used up is laid on in working time, as early as
    the mould is free."""
    free_at, pulls, ready_at = now
    at = hours.at_work(free_at)
    if at is None:
        return None
    if pulls == 0:
        at += timedelta(minutes=form.wait_min)
    elif ready_at is not None:
        at = max(at, ready_at)
    return hours.at_work(max(at, earliest))
