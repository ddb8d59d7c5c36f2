"""What happened at the yard besides the work: one thing that did harm, and some that did none."""

from datetime import date, timedelta
from typing import Any

from schemas.defects import DefectKind
from schemas.words import LabelSize, PermissionKind, PieceFound, PriceBasis, Purpose, ReceiptKind, Unit
from service.demo.cast import CURRENCY, HOUR_MINOR, PRODUCTS
from service.demo.days import Diary
from service.demo.yard import Yard
from service.operations.costs.pricing import give_prices, set_hourly_rate
from service.operations.door.people import change_site
from service.operations.door.refusals import NotFit
from service.operations.ledger.labelling import issue_label
from service.operations.ledger.permitting import ask_permission, open_flags, sign_permission
from service.operations.ledger.recalling import follow_recall, open_recall
from service.operations.parts.inspecting import open_nonconformance
from service.operations.pots.starting import start_mix
from service.records.items import Item
from service.records.materials import Lot, Receipt

_ORIGIN = "https://heron-yard.example"

# Parts (two a working day, from 0) made from the old can after its life; the first three are good still.
OLD_CAN_PARTS = (95, 100, 107, 115, 121, 126, 133, 139, 145)
_GOOD_STILL = 3

# Part -> what was odd about it. None of these did harm.
ODDITIES: dict[int, dict[str, Any]] = {
    22: {"off_pct": -2.9},
    38: {"late_by": timedelta(hours=3, minutes=10)},
    60: {"cure_gap_min": 25},
    74: {"skip_why": "the first can is under the pump, its tap is being mended"},
}


def permit(yard: Yard, day: date) -> None:
    """The can's 180 days are over: the scales say no, the lead asks for a permit after a test pot, quality signs."""
    resin = yard.shelf["resin"][0].code
    try:
        start_mix(
            yard.act("ida", yard.at(day, "07:50")),
            resin_mg=220_000,
            containers=[{"container": resin}, {"container": yard.old_can}],
            system=yard.systems["laminating"],
            purpose=Purpose.WET_OUT,
            scale=yard.scale,
        )
    except NotFit:
        pass
    else:
        raise RuntimeError("a can past its life was not refused")
    asked = ask_permission(
        yard.act("marit", yard.at(day, "07:56"), why="test pot of 100 g gelled after 41 min at 23 °C, as when new"),
        kind=PermissionKind.DEVIATION_PERMIT,
        item=yard.old_can,
        reasons=["open-too-long"],
        until=yard.at(day + timedelta(days=60), "18:00"),
    )
    sign_permission(
        yard.act("sunniva", yard.at(day, "08:05")),
        permission=asked.id,
        permitted=True,
        remark="use it up beside the new cans",
    )
    yard.old_can_aside = True


def tell_oddities(yard: Yard, diary: Diary, day: date) -> None:
    """A pot off its ratio holds its part; whoever weighed it asks for a concession and quality signs it."""
    for job in diary.by_day[day]:
        if "off_pct" not in ODDITIES.get(job.number, {}):
            continue
        ids = [i.id for i in Item.select(Item.id).where(Item.code.in_(job.pots))]
        for flag in open_flags(ids):
            asked = ask_permission(
                yard.act("ida", yard.at(day, "16:20"), why="2.9 % under; the spare cup of this pot is hard as ever"),
                kind=PermissionKind.CONCESSION,
                item=flag.item.code,
                reasons=[flag.kind],
            )
            sign_permission(
                yard.act("sunniva", yard.at(day, "16:40")),
                permission=asked.id,
                permitted=True,
                remark="inner skin, not loaded",
            )


def failures(yard: Yard, diary: Diary, days: list[date]) -> str:
    """Six customers ring up; gives back the code of the part that this is mostly told about."""
    bad = [job for job in diary.jobs if job.number in OLD_CAN_PARTS[_GOOD_STILL:]]
    last = days[-1]
    for number, job in enumerate(bad):
        reported = max(last - timedelta(days=len(bad) - number), job.day + timedelta(days=7))
        open_nonconformance(
            yard.act("sunniva", yard.at(min(reported, last), "10:00", 7 * number)),
            item=job.code,
            found="soft behind the gel coat, gives under the thumb",
            in_service=True,
            failed=True,
            defects=[
                {"kind": DefectKind.SOFT, "zone": "floor", "size_mm": 120.0 + 25 * number, "limit_mm": None,
                 "accepted": False, "remark": None}
            ],
        )  # fmt: skip
    _call_it_back(yard, [job.code for job in bad], last)
    return bad[-2].code


def _call_it_back(yard: Yard, bad: list[str], day: date) -> None:
    """All that was made of the old can after its life, held at once; the can and two parts are found, the rest is not.

    It stands open: whoever tries the workshop out can go on with it, and a second person can close it.
    """
    recall = open_recall(
        yard.act("sunniva", yard.at(day, "16:00")),
        item=yard.old_can,
        reason="parts made with this hardener came back soft",
        since=yard.at(yard.old_can_good_until + timedelta(days=1), "00:00"),
        papers=False,
    )
    told = (
        ("ida", yard.old_can, PieceFound.FOUND, "in the yellow bin, lid taped"),
        ("sunniva", bad[0], PieceFound.RETURNED, None),
        ("sunniva", bad[1], PieceFound.RETURNED, "with the van from the first customer"),
    )
    for minute, (who, item, found, remark) in enumerate(told):
        act = yard.act(who, yard.at(day, "16:10", 5 * minute))
        follow_recall(act, recall=recall.id, item=item, found=found, remark=remark)


def reckon(yard: Yard, days: list[date]) -> None:
    """From the last day on the yard wants to know what a part costs: prices of all that came, and of an hour.

    Nobody has found the peel ply's invoice, so that what is not known shows as well.
    """
    at = yard.at(days[-1], "16:25")
    setting = yard.act("henrik", at, why="what a part costs is asked for from now on")
    change_site(setting, version=1, currency=CURRENCY)
    lead = yard.act("marit", at)
    set_hourly_rate(lead, minor=HOUR_MINOR, since=days[0])
    costs = {yard.materials[key]: product.minor for key, product in PRODUCTS.items()}
    came = Receipt.select(Receipt.id, Lot.material, Item.unit).join(Lot).join(Item)
    rows = came.where(Receipt.kind != ReceiptKind.MADE).order_by(Receipt.id).tuples()
    prices = [
        {
            "receipt": receipt,
            "basis": PriceBasis.KILOGRAM if unit == Unit.MILLIGRAM else PriceBasis.METRE,
            "minor": costs[material],
        }
        for receipt, material, unit in rows
        if costs[material]
    ]
    give_prices(lead, prices=prices)


def after_the_day(yard: Yard, diary: Diary, failed: str) -> dict[str, str]:
    """Labels worth looking at, and the links to them and to all that tells why the part failed."""
    at = yard.at(diary.jobs[-1].day, "16:30")
    job = next(j for j in diary.jobs if j.code == failed)
    fresh, resin = _fresh_can(yard), yard.usable("resin")[0].code
    # What somebody new needs in print: both cans of a pot, the old can, the scale, and a pot that was.
    for code in (fresh, resin, yard.old_can, yard.scale, job.pots[2]):
        issue_label(yard.act("ida", at), code=code, size=LabelSize.LARGE, origin=_ORIGIN)
    return {
        "container_page": f"/I/{fresh}",
        "expired_container_page": f"/I/{yard.old_can}",
        "partner_container_page": f"/I/{resin}",
        "weigh_page": f"/I/{fresh}/weigh",
        "board_page": "/board",
        "container_label": f"/v1/items/{fresh}/labels/1.pdf",
        "partner_container_label": f"/v1/items/{resin}/labels/1.pdf",
        "expired_container_label": f"/v1/items/{yard.old_can}/labels/1.pdf",
        "scale_label": f"/v1/items/{yard.scale}/labels/1.pdf",
        "pot_label": f"/v1/items/{job.pots[2]}/labels/1.pdf",
        "part_label": f"/v1/items/{failed}/labels/1.pdf",
        "failed_part_trace": f"/v1/items/{failed}/trace",
        "failed_part_report": f"/v1/parts/{failed}/investigation.pdf",
        "failed_part_record": f"/v1/parts/{failed}/record.pdf",
        "recall_page": "/recalls/1",
        "recall_list": "/v1/recalls/1/pick-up-list.pdf",
        "recall_letters": "/v1/recalls/1/letters.pdf",
        "api_documentation": "/docs",
    }


def _fresh_can(yard: Yard) -> str:
    return next(can.code for can in yard.shelf["slow"] if can.code != yard.old_can)
