"""A working day at the yard: two parts are laid, yesterday's two are demoulded, looked at and released."""

from dataclasses import dataclass, field
from datetime import date, datetime, timedelta
from typing import Any

from schemas.words import LabelSize, Purpose, StepKind, TreatmentKind
from service.demo.cast import BODIES, CUSTOMERS, KIT_G, PLY_MM, SCHEDULE
from service.demo.pots import Pot, mix
from service.demo.yard import Yard
from service.operations.cures.curing import end_cure, import_cure_log, start_cure
from service.operations.ledger.labelling import issue_label
from service.operations.parts.inspecting import inspect_part
from service.operations.parts.kits import cut_kit
from service.operations.parts.laying import close_lay_up, lay_kit
from service.operations.parts.moulds import treat_mould
from service.operations.parts.releasing import release_part, ship_part
from service.operations.parts.starting import start_part
from service.operations.parts.steps import demould, record_part_step, trim
from service.operations.pots.closing import check_cup
from service.operations.pots.scales import check_scale

_ORIGIN = "https://heron-yard.example"
# Days between the lay-up and the van.
_SHIPPED_AFTER = 4


@dataclass
class Job:
    """A part on its way through the yard."""

    number: int
    code: str
    body: int
    mould: str
    day: date
    kit_g: float
    resin_g: float
    pots: list[str] = field(default_factory=list)
    cure: str = ""
    old_can: bool = False
    held: bool = False


@dataclass
class Diary:
    """All parts so far, by day."""

    jobs: list[Job] = field(default_factory=list)
    by_day: dict[date, list[Job]] = field(default_factory=dict)


def lay_day(yard: Yard, diary: Diary, index: int, day: date, oddities: dict[int, dict[str, Any]]) -> None:
    """Lay two parts, the second after the first, and put both into the oven."""
    air = 20.5 + yard.near(0, 0.8) + (1.5 if index % 11 == 3 else 0)
    today = []
    for turn in range(2):
        number = index * 2 + turn
        odd = oddities.get(number, {})
        begin = yard.at(day, "08:30" if turn == 0 else "12:15")
        today.append(_lay(yard, number, turn, begin, day, air, odd))
    diary.jobs += today
    diary.by_day[day] = today
    cure = start_cure(
        yard.act("henrik", yard.at(day, "16:10")),
        schedule=SCHEDULE["name"],
        parts=[job.code for job in today],
        place=yard.places["oven"],
    )
    for job in today:
        job.cure = cure.code


def _lay(yard: Yard, number: int, turn: int, begin: datetime, day: date, air: float, odd: dict[str, Any]) -> Job:
    body = number % len(BODIES)
    if "skip_why" in odd and len(yard.usable("resin")) < 2:
        yard.receive("resin", day, "07:10")
    design, mould = yard.designs[body], yard.moulds[body]
    size = BODIES[body].size
    who = "ida" if turn == 0 else "henrik"
    kit_g = yard.near(KIT_G * size, 6)
    kit = _kit(yard, design, size, kit_g, begin)
    part = start_part(
        yard.act(who, begin + timedelta(minutes=25)),
        design=design,
        mould=mould,
        order=f"HY-{2600 + number}",
        customer=CUSTOMERS[number % len(CUSTOMERS)],
    )
    job = Job(number, part.code, body, mould, day, kit_g, 0.0, old_can=bool(odd.get("old_can")))
    hardener = yard.old_can if odd.get("old_can") else None
    # The smallest body is wetted out with one pot.
    in_two = number % 4 != 3
    wet_out_g = (286 if in_two else 461) * size
    plan = [
        (30, Pot("gel", Purpose.GEL_COAT, 300 * size)),
        (78, Pot("laminating", Purpose.RESIN_COAT, 95 * size + 16, hardener_can=hardener)),
        (96, Pot("laminating", Purpose.WET_OUT, wet_out_g, hardener_can=hardener, late_by=odd.get("late_by"))),
    ]
    if in_two:
        plan.append(
            (
                122,
                Pot(
                    "laminating",
                    Purpose.WET_OUT,
                    175 * size,
                    hardener_can=hardener,
                    hardener_off_pct=odd.get("off_pct", 0.0),
                    skip_why=odd.get("skip_why"),
                ),
            )
        )
    for minutes, pot in plan:
        at = begin + timedelta(minutes=minutes)
        job.pots.append(mix(yard, who, at, pot, part.code, air + yard.near(0.4, 0.3)))
        job.resin_g += pot.total_g * 0.97
        if pot.purpose == Purpose.GEL_COAT:
            _gel_coat_checked(yard, who, part.code, at, air)
        if pot.purpose == Purpose.WET_OUT and minutes < 100:
            lay_kit(yard.act(who, at + timedelta(minutes=24)), part=part.code, kit=kit, backers_counted=4)
    close_lay_up(yard.act(who, begin + timedelta(minutes=165)), part=part.code)
    return job


def _kit(yard: Yard, design: int, size: float, kit_g: float, begin: datetime) -> str:
    length = round(2 * PLY_MM * size)
    cuts = [
        {"roll": _roll(yard, "twill", length + 120), "length_mm": length, "waste_mm": 120, "plies": [1, 4]},
        {"roll": _roll(yard, "biax", length + 120), "length_mm": length, "waste_mm": 120, "plies": [2, 3]},
    ]
    kit = cut_kit(yard.act("ida", begin), design=design, cuts=cuts, mass_mg=round(kit_g) * 1000)
    yard.settle([str(cut["roll"]) for cut in cuts])
    return kit.code


def _roll(yard: Yard, key: str, length: int) -> str:
    """The first roll that still has the length in one piece."""
    return next(can.code for can in yard.shelf[key] if can.left >= length)


def _gel_coat_checked(yard: Yard, who: str, part: str, at: datetime, air: float) -> None:
    record_part_step(
        yard.act(who, at + timedelta(minutes=20)),
        part=part,
        kind=StepKind.GEL_COAT_THICKNESS,
        facts={"thickness_mm": round(yard.near(0.52, 0.03), 2)},
    )
    record_part_step(
        yard.act(who, at + timedelta(minutes=44)),
        part=part,
        kind=StepKind.TACK_TEST,
        facts={"result": "marks", "temperature_c": round(air, 1)},
    )


def morning_after(yard: Yard, diary: Diary, index: int, today: date, yesterday: date, oddities: dict[int, Any]) -> None:
    """The oven is cold: its log is read, cups are checked, parts come out, are trimmed, inspected and released."""
    jobs = diary.by_day[yesterday]
    odd: dict[str, Any] = {key: value for job in jobs for key, value in oddities.get(job.number, {}).items()}
    began = yard.at(yesterday, "16:15")
    import_cure_log(
        yard.act("henrik", yard.at(today, "07:20")),
        cure=jobs[0].cure,
        logger=yard.logger,
        content=oven_log(yard, began, yard.at(today, "07:20"), odd.get("cure_gap_min", 0)),
        part_probes=["Part 1", "Part 2"],
        stands_for=[("Part 1", jobs[0].code), ("Part 2", jobs[1].code)],
        air_probes=["Air"],
        name=f"oven-{yesterday:%Y-%m-%d}.csv",
    )
    end_cure(yard.act("henrik", yard.at(today, "07:25")), cure=jobs[0].cure)
    for turn, job in enumerate(jobs):
        _checked_out(yard, job, turn, today)


def _checked_out(yard: Yard, job: Job, turn: int, today: date) -> None:
    late_days = max(0, (job.day - yard.old_can_good_until).days) if job.old_can else 0
    for number, pot in enumerate(job.pots):
        # The cup of the first wet-out is the one that is kept for the needle.
        if number in (0, 2):
            hardness = round(yard.near(84 - (0.17 * late_days if number else 0), 0.7), 1)
            check_cup(
                yard.act("ida", yard.at(today, "07:40", turn * 5 + number)),
                mix=pot,
                hard=True,
                hardness=hardness,
                hardness_scale="Shore D",
            )
    demould(
        yard.act("henrik", yard.at(today, "07:55", turn * 12)),
        part=job.code,
        temperature_c=round(yard.near(24, 1.5), 1),
    )
    treat_mould(yard.act("henrik", yard.at(today, "08:05", turn * 12)), mould=job.mould, kind=TreatmentKind.CLEANING,
                container=yard.shelf["cleaner"][0].code)  # fmt: skip
    treat_mould(
        yard.act("henrik", yard.at(today, "08:10", turn * 12)),
        mould=job.mould,
        kind=TreatmentKind.RELEASE_COAT,
        container=yard.shelf["wax"][0].code,
        coats=2,
    )
    made = job.kit_g + job.resin_g
    off = made * yard.near(0.055, 0.004)
    trim(
        yard.act("ida", yard.at(today, "10:30", turn * 20)),
        part=job.code,
        mass_mg=round(made - off) * 1000,
        trimmed_off_mg=round(off) * 1000,
    )
    inspect_part(
        yard.act("marit", yard.at(today, "13:30", turn * 10)),
        part=job.code,
        accepted=True,
        measurements=[
            {"name": "hardness behind the gel coat, Shore D", "value": round(yard.near(83 - 0.15 * late_days, 0.6), 1),
             "unit": "", "low": 75.0, "high": None},
            {"name": "thickness", "value": round(yard.near(1.62, 0.04), 2), "unit": "mm", "low": 1.4, "high": 1.9},
        ],
    )  # fmt: skip


def release_and_ship(yard: Yard, diary: Diary, today: date, days: list[date]) -> None:
    """Quality releases what was inspected yesterday; the van takes what was released some days ago."""
    where = days.index(today)
    for back, step in ((2, _release), (_SHIPPED_AFTER, _ship)):
        if where >= back:
            for job in diary.by_day[days[where - back]]:
                if not job.held:
                    step(yard, job, today)


def _release(yard: Yard, job: Job, today: date) -> None:
    release_part(yard.act("sunniva", yard.at(today, "14:00", job.number % 2 * 5)), part=job.code, reviewed=True)
    issue_label(
        yard.act("sunniva", yard.at(today, "14:02", job.number % 2 * 5)),
        code=job.code,
        size=LabelSize.LARGE,
        origin=_ORIGIN,
    )


def _ship(yard: Yard, job: Job, today: date) -> None:
    ship_part(
        yard.act("marit", yard.at(today, "15:00", job.number % 2 * 5)),
        part=job.code,
        document=f"DN-HY-{3100 + job.number}",
        shipped_on=today,
    )


def weekly(yard: Yard, day: date) -> None:
    """On the first day of the week the scale shows what it is worth."""
    reading = 1_000_000 + yard.dice.choice([-100, 0, 0, 0, 100])
    check_scale(
        yard.act("marit", yard.at(day, "07:00")),
        scale=yard.scale,
        weight="F1 1 kg, no. 4",
        nominal_mg=1_000_000,
        reading_mg=reading,
        limit_mg=300,
    )


def oven_log(yard: Yard, began: datetime, ended: datetime, gap_min: int) -> bytes:
    """What the oven's logger writes until it is read: title lines, semicolons, decimal commas, lost samples."""
    from zoneinfo import ZoneInfo

    lines = ["Oven 1;Heron Yard", "serial;H-0107", "Date;Time;Part 1 (°C);Part 2 (°C);Air (°C)"]
    soak = 55.5 + yard.near(0, 0.5)
    gap_from = 4 * 60
    for step in range(0, round((ended - began) / timedelta(minutes=1)) + 1, 5):
        if gap_from <= step < gap_from + gap_min:
            continue
        at = (began + timedelta(minutes=step)).astimezone(ZoneInfo("Europe/Copenhagen"))
        aim = min(soak, 21 + 0.45 * step) if step < 10 * 60 else max(23.0, soak - 0.2 * (step - 600))
        values = [aim + yard.near(0, 0.25), aim - 1.2 + yard.near(0, 0.25), aim + 3.5 + yard.near(0, 0.6)]
        lines.append(f"{at:%d.%m.%Y;%H:%M:%S};" + ";".join(f"{v:.1f}".replace(".", ",") for v in values))
    return ("\r\n".join(lines) + "\r\n").encode("utf-8")
