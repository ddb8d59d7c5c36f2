"""The two reports on a part as documents. Masses are in grams, instants in RFC 3339.

What is told row by row (a pot, a material, a cure) is a plain object whose fields are named in its description; the
sentences, numbers and comparisons that other programs act on have schemas of their own.
"""

import marshmallow as ma

from schemas.base import Out
from schemas.fields import Moment

_POT = (
    "code, purpose, system, hardener, frozen_sha256, ratio, tolerance_pct, deviation_pct, uncertainty_pct, verdict, "
    "resin_g, hardener_g, contact_at, temperature_c, use_before, weighings (component, container, scale, reading_g, "
    "before_g, zeroed, net_g, target_g, typed, read_back, correction, taken_back, late, corrected, person), additions, "
    "stirrings, applied (part, purpose, zone, amount_g, estimated), cup_kept, cup_checks, job_plan (one line), scales "
    "(scales, uncertainty_pct, third_of_tolerance_pct, smallest_honest_g, honest, weighed, sentence)"
)
_MATERIAL = (
    "container, material, kind, lot, makers_lot, supplier, used_in, used_on, good_until and margin_days as on that "
    "day, good_because (supplier, retest, opened, none), opened_on, days_open, opened_life_days, released_at, "
    "released_before_use, certificates, storage_monitored"
)
_CURE = (
    "code, schedule, revision, post_cure, started_at, ended_at, needed, evidence, passed, sentences, stages (asked and "
    "proved minutes, gaps), logs, statements, model (how far its resin reacted by fitted constants of its own)"
)


def _rows(description: str) -> ma.fields.List:
    return ma.fields.List(ma.fields.Dict(), metadata={"description": description})


class FindingOut(Out):
    """One thing that stands out: the lead and what goes on from it make one sentence."""

    rank = ma.fields.String(
        metadata={"description": "out of limit, permitted, late, corrected, missing or not known, to be read."}
    )
    kind = ma.fields.String()
    lead = ma.fields.String()
    rest = ma.fields.String()
    items = ma.fields.List(ma.fields.String(), metadata={"description": "Codes, the one that it is about first."})
    permit = ma.fields.Integer(allow_none=True, metadata={"description": "The permit or concession that answers it."})
    numbers = ma.fields.Dict()
    weight = ma.fields.Float(metadata={"description": "How grave it is among those of its rank."})
    suspicious = ma.fields.Boolean(metadata={"description": "Stronger than chance would bring; never a cause."})


class CountOut(Out):
    parts = ma.fields.Integer()
    failed = ma.fields.Integer()


class PointOut(Out):
    part = ma.fields.String()
    days = ma.fields.Integer()
    failed = ma.fields.Boolean(allow_none=True, metadata={"description": "Nothing where it is not judged yet."})
    value = ma.fields.Float(allow_none=True)


class SplitOut(Out):
    """A container that was used beyond its limit, split at the limit day."""

    code = ma.fields.String()
    noun = ma.fields.String()
    material = ma.fields.String()
    because = ma.fields.String()
    limit_days = ma.fields.Integer()
    own_days = ma.fields.Integer()
    after = ma.fields.Nested(CountOut)
    before = ma.fields.Nested(CountOut)
    elsewhere = ma.fields.Nested(CountOut)
    undecided = ma.fields.Integer()
    p = ma.fields.Float()
    median_failed = ma.fields.Float(allow_none=True)
    median_good = ma.fields.Float(allow_none=True)
    p_ages = ma.fields.Float(allow_none=True)
    measured = ma.fields.String(allow_none=True)
    tau = ma.fields.Float(allow_none=True)
    p_trend = ma.fields.Float(allow_none=True)
    points = ma.fields.List(ma.fields.Nested(PointOut))
    sentence = ma.fields.String()


class SuspectOut(Out):
    kind = ma.fields.String()
    name = ma.fields.String()
    code = ma.fields.String(allow_none=True)
    cannot_separate = ma.fields.List(
        ma.fields.String(), metadata={"description": "Factors with the very same parts; no table tells them apart."}
    )
    exposed = ma.fields.Nested(CountOut)
    others = ma.fields.Nested(CountOut)
    apart = ma.fields.Nested(CountOut, metadata={"description": "Those of its parts that no stronger suspect has."})
    stands_alone = ma.fields.Boolean(metadata={"description": "Suspicious, and not only through a stronger one."})
    undecided = ma.fields.Integer()
    p = ma.fields.Float(metadata={"description": "Fisher's exact test, one-sided."})
    p_adjusted = ma.fields.Float(metadata={"description": "For all factors tried (Benjamini and Hochberg)."})
    odds_ratio = ma.fields.Float(allow_none=True, metadata={"description": "Nothing where it is infinite."})
    odds_low = ma.fields.Float()
    odds_high = ma.fields.Float(allow_none=True)
    parts = ma.fields.List(ma.fields.String())
    failed_parts = ma.fields.List(ma.fields.String())
    sentence = ma.fields.String()


class SuspectsOut(Out):
    """Suspects, never causes."""

    word = ma.fields.String()
    since = ma.fields.String(metadata={"format": "date"})
    until = ma.fields.String(metadata={"format": "date"})
    compared = ma.fields.Integer()
    failed = ma.fields.Integer()
    undecided = ma.fields.Integer()
    left_out = ma.fields.Integer(metadata={"description": "Failed in another way than this part."})
    tried = ma.fields.Integer()
    not_shared = ma.fields.Integer()
    shared_by_all = ma.fields.Integer()
    ranked = ma.fields.List(ma.fields.Nested(SuspectOut))
    splits = ma.fields.List(ma.fields.Nested(SplitOut))
    sentence = ma.fields.String()


class SharedOut(Out):
    """Something that went into this part and how the parts that share it stand, this one counted."""

    name = ma.fields.String()
    code = ma.fields.String()
    kind = ma.fields.String()
    parts = ma.fields.Integer()
    in_work = ma.fields.Integer()
    finished = ma.fields.Integer()
    shipped = ma.fields.Integer()
    scrapped = ma.fields.Integer()
    failed = ma.fields.Integer()
    suspicious = ma.fields.Boolean()
    others = ma.fields.List(ma.fields.String())


class SisterOut(Out):
    code = ma.fields.String()
    name = ma.fields.String()
    part_number = ma.fields.String()
    state = ma.fields.String()
    place = ma.fields.String(allow_none=True)
    customer = ma.fields.String(allow_none=True)
    started_at = ma.fields.String(metadata={"format": "date-time"})
    outcome = ma.fields.String(metadata={"description": "failed, failed otherwise, not yet judged, good."})


class ExposedOut(Out):
    sister = ma.fields.Nested(SisterOut)
    suspects = ma.fields.List(ma.fields.String())
    age = ma.fields.String(
        allow_none=True, metadata={"description": "How old the container was that was beyond its limit."}
    )


_FINDING = {
    "rank": "out of limit",
    "kind": "age",
    "lead": "Its hardener can had been open 215 days",
    "rest": "; the limit is 180. Of 7 parts made from it after day 180, 6 are soft; of 31 made from it before, none; "
    "of 112 sisters from other cans, one (p < 0.0001).",
    "items": ["C002543", "M011793"],
    "permit": None,
    "numbers": {"days_open": 215, "limit_days": 180},
    "weight": 1.19,
    "suspicious": True,
}


class InvestigationOut(Out):
    EXAMPLE = {
        "kind": "investigation report",
        "at": "2026-11-25T10:00:00Z",
        "part": {"code": "P00087K", "name": "Tricycle body, left", "state": "shipped"},
        "standing_out": [_FINDING],
        "compared_newest_only": False,
        "shared": [],
        "only_here": ["K000192"],
        "sisters": [],
        "pots_closed": [],
        "caution": ["It says what goes together, not what caused it: suspects, never causes."],
    }
    kind = ma.fields.String()
    at = ma.fields.String(metadata={"format": "date-time"})
    part = ma.fields.Dict(
        metadata={"description": "All that is on this part, as in its record, with the flags and the shop's own notes."}
    )
    standing_out = ma.fields.List(ma.fields.Nested(FindingOut), metadata={"description": "The gravest first."})
    suspects = ma.fields.Nested(SuspectsOut)
    compared_newest_only = ma.fields.Boolean()
    shared = ma.fields.List(ma.fields.Nested(SharedOut))
    only_here = ma.fields.List(ma.fields.String(), metadata={"description": "What no other part shares."})
    sisters = ma.fields.List(ma.fields.Nested(ExposedOut))
    pots_closed = _rows("How each pot ended: applied_g, left_g, loss_g, and what of it is estimated.")
    caution = ma.fields.List(ma.fields.String())


class SignatureOut(Out):
    meaning = ma.fields.String()
    name = ma.fields.String()
    at = Moment()


class PartRecordOut(Out):
    """The record of one part and of nothing else, in canonical JSON (RFC 8785)."""

    EXAMPLE = {
        "kind": "part record",
        "shop": "Heron Yard",
        "zone": "Europe/Copenhagen",
        "code": "P00087K",
        "name": "Tricycle body, left",
        "state": "shipped",
        "order": "4471",
        "customer": "Cargo Trikes",
        "on_hold": False,
        "mass_g": 690,
        "standing_out": [
            {
                **_FINDING,
                "rest": "; the limit is 180.",
                "numbers": {"days_open": 215, "limit_days": 180},
                "suspicious": False,
            }
        ],
        "signatures": [{"meaning": "released", "name": "Ida Holm", "at": "2026-11-06T12:00:00Z"}],
        "caution": [
            "This record does not replace the data sheet, approved data or licensed people where a part carries a life."
        ],
    }
    kind = ma.fields.String()
    shop = ma.fields.String()
    zone = ma.fields.String(metadata={"description": "The shop's time zone; days are days there."})
    code = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    design = ma.fields.Dict(
        metadata={
            "description": "part_number, revision, name, frozen_sha256, approved_by, plies, resin_need, schedule."
        }
    )
    order = ma.fields.String(allow_none=True)
    customer = ma.fields.String(allow_none=True)
    started_at = Moment()
    laid_up_at = Moment(allow_none=True)
    demoulded_at = Moment(allow_none=True)
    released_at = Moment(allow_none=True)
    released_by = ma.fields.String(allow_none=True)
    shipment = ma.fields.Dict(allow_none=True)
    on_hold = ma.fields.Boolean()
    mass_g = ma.fields.Float(allow_none=True)
    after_trim = ma.fields.Dict()
    standing_out = ma.fields.List(ma.fields.Nested(FindingOut))
    materials = _rows(_MATERIAL)
    pots = _rows(_POT)
    kits = _rows("code, cut_at, cut_by, mass_g, expected_g, weighed, cuts (roll, lot, length_mm), plies.")
    laid = _rows("Each ply as it was laid: number, source, angle_deg, face, zone, in_order, occurred_at, by.")
    missing_plies = ma.fields.List(ma.fields.Integer())
    components = _rows("Parts that were bonded into this one: code, name, state, released_at.")
    cures = _rows(_CURE)
    steps = _rows("kind, facts, passed, occurred_at, by.")
    inspections = _rows("accepted, remark, measurements (name, value, unit, low, high, within), occurred_at, by.")
    defects = _rows("kind, zone, size_mm, limit_mm, accepted, remark.")
    nonconformances = _rows("found, in_service, failed, opened_at, disposition, decided_by, decided_because.")
    permits = _rows("Permits and concessions: kind, item, reasons, why, asked_by, decision, signed_by, signed_at.")
    late = _rows("Entries made late: what, items, occurred_at, recorded_at, person.")
    corrected = _rows("Corrected entries: what, items, before, after, declared, why, by whom and when.")
    people = _rows("name, and what they did.")
    tools = _rows("Moulds, scales, ovens: code, name, roles.")
    signatures = ma.fields.List(ma.fields.Nested(SignatureOut))
    caution = ma.fields.List(ma.fields.String())
