"""Accounts of invented parts, as the pure side of the reports is given them."""

from datetime import UTC, date, datetime, timedelta
from typing import Any

from labels.codes import make, next_usable
from service.operations.parts.asked import AsDesigned
from service.operations.parts.trim import TrimFigures
from service.reports.reading.account import (
    Applied,
    CupChecked,
    DesignAccount,
    Mark,
    MaterialUsed,
    PartAccount,
    Permit,
    PotAccount,
    StirringDone,
    Weighing,
)
from service.reports.reading.cures import CureAccount, CureReason, CureStage

DAY = datetime(2026, 11, 3, 9, 0, tzinfo=UTC)
PART = make("P", 87)
RESIN, HARDENER = make("C", 291), make("C", 254)


def codes(kind: str, after: int, count: int) -> list[str]:
    """So many codes of a kind, with the numbers that are skipped left out."""
    found = []
    for _ in range(count):
        after = next_usable(kind, after)
        found.append(make(kind, after))
    return found


def weighing(component: str, net_mg: int, *, container: str | None = None, **more: Any) -> Weighing:
    known: dict[str, Any] = {
        "component": component,
        "container": container or (RESIN if component == "resin" else HARDENER),
        "material_name": "Alder 10 resin" if component == "resin" else "Alder 32 slow hardener",
        "scale": make("S", 18),
        "reading_mg": net_mg,
        "before_mg": 0,
        "zeroed": True,
        "emptied_cup_mg": None,
        "net_mg": net_mg,
        "target_mg": net_mg,
        "typed": False,
        "read_back": False,
        "correction": False,
        "taken_back": False,
        "late": False,
        "corrected": False,
        "occurred_at": DAY,
        "person_name": "Lin",
    }
    return Weighing(**{**known, **more})


def pot(number: int = 1180, *, purpose: str = "wet-out", deviation_pct: float = 0.4, **more: Any) -> PotAccount:
    """A pot in good order: within its ratio, stirred, applied in time, its cup hard."""
    size = abs(deviation_pct)
    known: dict[str, Any] = {
        "code": make("M", number),
        "name": "Alder 10 with Alder 32 slow hardener",
        "state": "closed",
        "purpose": purpose,
        "system": "Alder 10",
        "system_revision": 4,
        "hardener_name": "Alder 32 slow hardener",
        "frozen_sha256": "ab" * 32,
        "ratio": 0.3,
        "tolerance_pct": 2.0,
        "separate_cups": False,
        "started_at": DAY + timedelta(seconds=number),
        "contact_at": DAY,
        "temperature_c": 21.0,
        "temperature_of_air": False,
        "use_before": DAY + timedelta(minutes=40),
        "life_note": None,
        "resin_mg": 220_400,
        "hardener_mg": 66_100,
        "deviation_pct": deviation_pct,
        "uncertainty_pct": 0.2,
        "verdict": "outside" if size > 2.2 else "near the limit" if size > 1.8 else "within",
        "weighings": (weighing("resin", 220_400), weighing("hardener", 66_100)),
        "additions": (),
        "stirrings": (StirringDone(DAY, DAY + timedelta(minutes=3), True, False),),
        "applied": (Applied(PART, purpose, None, 270_000, False, DAY + timedelta(minutes=10)),),
        "cup_kept": True,
        "cup_checks": (CupChecked(True, 82.0, "Shore D", DAY + timedelta(days=1)),),
        "skipped": (),
        "skipped_why": None,
        "stir_min": 2.0,
    }
    return PotAccount(**{**known, **more})


def material(container: str = HARDENER, *, kind: str = "hardener", **more: Any) -> MaterialUsed:
    """A material in date, released, from a monitored place."""
    known: dict[str, Any] = {
        "container": container,
        "noun": f"{kind} can",
        "material_name": f"Alder 32 slow {kind}",
        "kind": kind,
        "lot": make("L", 71),
        "makers_lot": "26-0731",
        "lot_unknown_because": None,
        "date_basis": "supplier's date",
        "supplier_name": "Fenwick Resins",
        "used_in": (make("M", 1180),),
        "filled_from": (),
        "first_used_on": date(2026, 11, 3),
        "used_on": date(2026, 11, 3),
        "good_until": date(2027, 3, 31),
        "good_because": "supplier",
        "margin_days": 148,
        "opened_on": date(2026, 10, 1),
        "days_open": 33,
        "opened_life_days": None,
        "released_at": DAY - timedelta(days=60),
        "released_by": "Ida",
        "released_before_use": True,
        "certificates": (),
        "certificate_wanted": None,
        "storage_monitored": True,
        "blend": False,
    }
    return MaterialUsed(**{**known, **more})


def open_too_long(container: str = HARDENER, days: int = 215, limit: int = 180) -> MaterialUsed:
    opened = date(2026, 11, 3) - timedelta(days=days)
    return material(
        container,
        good_until=opened + timedelta(days=limit),
        good_because="opened",
        margin_days=limit - days,
        opened_on=opened,
        days_open=days,
        opened_life_days=limit,
    )


def cure(*, proved_min: float = 480, passed: bool = True, gaps: Any = (), **more: Any) -> CureAccount:
    stage = CureStage(
        name="post-cure",
        low_c=55,
        high_c=65,
        minimum_min=360,
        proved_min=proved_min,
        longest_min=proved_min,
        passed=passed,
        gaps=tuple(gaps),
        sentences=(),
        reasons=() if proved_min >= 360 else (CureReason("time", "Short.", value=proved_min, limit=360.0),),
    )
    known: dict[str, Any] = {
        "code": make("R", 41),
        "schedule": "Alder 10 with post-cure",
        "revision_number": 1,
        "post_cure": False,
        "place_name": "Oven 1",
        "started_at": DAY,
        "ended_at": DAY + timedelta(hours=10),
        "needed": "part probe",
        "evidence": "part probe",
        "passed": passed,
        "sentences": ("All stages are proved." if passed else "Not proved: post-cure.",),
        "stages": (stage,),
        "coldest_probe": "root",
        "logs": (),
        "statements": (),
    }
    return CureAccount(**{**known, **more})


def mark(item: str, kind: str, *, stops: bool = True, permit: int | None = None, **facts: Any) -> Mark:
    return Mark(item, kind, facts.pop("sentence", f"{kind}."), stops, facts, permit, DAY)


def concession(number: int = 4, *, item: str, decision: str = "permitted") -> Permit:
    signed = decision == "permitted"
    return Permit(
        id=number,
        kind="concession",
        item=item,
        reasons=("ratio-outside",),
        decision=decision,
        why="test cup hard",
        asked_by="Ida",
        asked_at=DAY,
        signed_by="Quinn" if signed else None,
        signed_at=DAY + timedelta(days=1) if signed else None,
        remark=None,
        withdrawn_by=None,
        withdrawn_at=None,
        withdrawn_because=None,
    )


def account(**more: Any) -> PartAccount:
    """A part on which nothing stands out."""
    design = DesignAccount("HY-114", "C", "Tricycle body, left", "cd" * 32, DAY, "Ida", None, (), (), ())
    known: dict[str, Any] = {
        "code": PART,
        "name": "Tricycle body, left",
        "state": "released",
        "design": design,
        "order": "4471",
        "customer": "Cargo Trikes",
        "mould_used": None,
        "place_name": None,
        "started_at": DAY,
        "started_by": "Lin",
        "laid_up_at": DAY + timedelta(hours=1),
        "demoulded_at": None,
        "released_at": DAY + timedelta(days=3),
        "released_by": "Ida",
        "shipped_at": None,
        "shipment": None,
        "scrapping": None,
        "mass_mg": 690_000,
        "as_designed": AsDesigned(needs=(), fibre_mass=None, sentences=(), found=()),
        "after_trim": TrimFigures(missing="The design gives no densities."),
        "on_hold": (),
        "laid": (),
        "missing_plies": (),
        "kits": (),
        "components": (),
        "pots": (pot(),),
        "materials": (material(),),
        "cures": (cure(),),
        "steps": (),
        "inspections": (),
        "defects": (),
        "nonconformances": (),
        "marks": (),
        "permits": (),
        "late": (),
        "corrected": (),
        "people": (),
        "tools": (),
        "labels": (),
        "acts": (),
        "signed": (),
        "scale_checks": (),
        "files": (),
        "loggers": (),
        "lifted_holds": (),
        "shop": "Heron Yard",
        "zone": "Europe/Copenhagen",
    }
    return PartAccount(**{**known, **more})
