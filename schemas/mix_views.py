"""Pots: what goes out."""

import marshmallow as ma

from schemas.base import Out
from schemas.fields import Grams, Moment
from schemas.items import HoldRef


class PourPlanOut(Out):
    component = ma.fields.String()
    container = ma.fields.String()
    amount_g = Grams()
    settled = ma.fields.Boolean(metadata={"description": "Poured, or given back: nothing is reserved any more."})


class JobPlanOut(Out):
    """What the planner said when the pot was started as one of a job: by the facts of that moment."""

    number = ma.fields.Integer()
    of = ma.fields.Integer()
    need_g = Grams(metadata={"description": "Mixed resin that the whole job takes."})
    still_needed_g = Grams(metadata={"description": "What of it is not mixed yet, this pot counted."})
    wet_out_rate_g_min = ma.fields.Float()
    working_share = ma.fields.Float()
    temperature_c = ma.fields.Float()
    possible = ma.fields.Boolean()
    pots = ma.fields.Integer(metadata={"description": "How many the rest of the job takes, this one counted."})
    pot_g = Grams(allow_none=True, metadata={"description": "How large each would be."})
    largest_workable_g = Grams(metadata={"description": "What can be wetted out in its share of the pot life."})
    smallest_honest_g = Grams(metadata={"description": "What the scales can still judge."})
    agrees = ma.fields.Boolean(metadata={"description": "Whether this pot is of the planned size."})
    sentences = ma.fields.List(ma.fields.String())
    sentence = ma.fields.String()


class ScaleInUseOut(Out):
    component = ma.fields.String()
    scale = ma.fields.String()
    name = ma.fields.String()
    interval_g = Grams()
    repeatability_g = Grams(metadata={"description": "0 where it is not known."})


class PotScalesOut(Out):
    """What the scales of the pot can know of its ratio."""

    scales = ma.fields.List(ma.fields.Nested(ScaleInUseOut))
    uncertainty_pct = ma.fields.Float(metadata={"description": "Of the ratio, k = 2."})
    third_of_tolerance_pct = ma.fields.Float(metadata={"description": "What the uncertainty may be at most."})
    smallest_honest_g = Grams(metadata={"description": "The smallest pot for which it is, from one can of each."})
    honest = ma.fields.Boolean()
    weighed = ma.fields.Boolean(metadata={"description": "By the readings; else by what is planned."})
    sentence = ma.fields.String()


class HeatOut(Out):
    rise_k = ma.fields.Float(allow_none=True, metadata={"description": "If no heat escaped: an upper bound."})
    source = ma.fields.String(metadata={"description": "Where the constants of the system come from."})
    sentence = ma.fields.String()


class WatchOut(Out):
    """What to do with a cup that has mixed resin in it. The safety data sheet and local rules come first."""

    level = ma.fields.String(
        allow_none=True, metadata={"description": "spread out, act now, keep away, or in a tray already."}
    )
    sentence = ma.fields.String()
    left_g = Grams()
    age_min = ma.fields.Float(allow_none=True, metadata={"description": "Since first contact."})
    age_share = ma.fields.Float(allow_none=True, metadata={"description": "Of the pot life; above 1 it is over."})
    age_of_shortest = ma.fields.Boolean(
        metadata={"description": "Counted against the table's shortest life: the temperature is not known."}
    )
    heat = ma.fields.Nested(
        HeatOut, allow_none=True, metadata={"description": "Only where the system's constants say it."}
    )


class NextPourOut(Out):
    component = ma.fields.String()
    container = ma.fields.String()
    scale = ma.fields.String()
    target_g = Grams()
    scale_reading_if_not_zeroed_g = Grams(allow_none=True)
    tolerance_from_g = Grams(allow_none=True)
    tolerance_to_g = Grams(allow_none=True)
    accepted_from_g = Grams(
        allow_none=True, metadata={"description": "Tolerance less uncertainty, rounded inward to the scale's step."}
    )
    accepted_to_g = Grams(allow_none=True)
    sentence = ma.fields.String()


class PourOut(Out):
    component = ma.fields.String()
    container = ma.fields.String()
    lot = ma.fields.String()
    scale = ma.fields.String()
    net_g = Grams()
    reading_g = Grams()
    zeroed = ma.fields.Boolean()
    before_g = Grams()
    emptied_cup_g = Grams(allow_none=True)
    source = ma.fields.String(metadata={"description": "typed or captured."})
    target_g = Grams(allow_none=True)
    correction = ma.fields.Boolean()
    taken_back = ma.fields.Boolean()
    occurred_at = Moment()
    by = ma.fields.String()


class JudgementOut(Out):
    deviation_pct = ma.fields.Float(metadata={"description": "Above zero: more hardener than stated."})
    uncertainty_pct = ma.fields.Float(metadata={"description": "What the scales can know of the ratio, k = 2."})
    tolerance_pct = ma.fields.Float()
    verdict = ma.fields.String(metadata={"description": "within, near the limit, or outside."})
    sentence = ma.fields.String()


class MixCorrectionOut(Out):
    add = ma.fields.String(metadata={"description": "resin or hardener."})
    add_g = Grams()
    total_g = Grams()
    scale_reading_if_not_zeroed_g = Grams(allow_none=True)
    possible = ma.fields.String(metadata={"description": "yes, no, or ask where something is not known."})
    why_not = ma.fields.List(ma.fields.String())
    life_min = ma.fields.Float(
        allow_none=True, metadata={"description": "From the same first contact, shortened for the new mass."}
    )
    use_before = Moment(allow_none=True)
    over_after = Moment(allow_none=True)
    sentence = ma.fields.String()


class CupClockOut(Out):
    contact_at = Moment(allow_none=True)
    temperature_c = ma.fields.Float(allow_none=True)
    temperature_of_air = ma.fields.Boolean()
    life_min = ma.fields.Float(allow_none=True)
    use_before = Moment(allow_none=True)
    over_after = Moment(
        allow_none=True, metadata={"description": "Where the table gives no figure: from then on it is surely over."}
    )
    over = ma.fields.Boolean()
    in_tray_at = Moment(allow_none=True)
    bound = ma.fields.String(
        allow_none=True,
        metadata={"description": "exact, shorter than, at least (held at the edge), or rule of thumb."},
    )
    note = ma.fields.String(allow_none=True)


class StirringOut(Out):
    needed_min = ma.fields.Float(allow_none=True)
    done_min = ma.fields.Float()
    scraped = ma.fields.Boolean()
    second_cup = ma.fields.Boolean()
    enough = ma.fields.Boolean(allow_none=True)
    times = ma.fields.Integer()


class FillerOut(Out):
    container = ma.fields.String()
    mass_g = Grams()
    percent_of_resin = ma.fields.Float(allow_none=True)
    percent_of_mix = ma.fields.Float(allow_none=True)
    occurred_at = Moment()


class ApplicationOut(Out):
    part = ma.fields.String()
    mass_g = Grams(allow_none=True, metadata={"description": "Nothing while it is not known."})
    estimated = ma.fields.Boolean()
    purpose = ma.fields.String(allow_none=True)
    zone = ma.fields.String(allow_none=True)
    occurred_at = Moment()


class MixClosingOut(Out):
    applied_g = Grams()
    left_g = Grams()
    loss_g = Grams()
    left_estimated = ma.fields.Boolean()
    loss_estimated = ma.fields.Boolean()
    cup_kept = ma.fields.Boolean()


class CupCheckOut(Out):
    hard = ma.fields.Boolean()
    hardness = ma.fields.Float(allow_none=True)
    hardness_scale = ma.fields.String(allow_none=True)
    occurred_at = Moment()
    by = ma.fields.String()


class MixFlagOut(Out):
    id = ma.fields.Integer()
    kind = ma.fields.String()
    sentence = ma.fields.String()
    stops = ma.fields.Boolean(
        metadata={"description": "Needs a signed permission before release; else it is looked at."}
    )
    answered = ma.fields.String(
        allow_none=True, metadata={"description": "Decision of the permission that answers it."}
    )
    occurred_at = Moment()


class MixOut(Out):
    EXAMPLE = {
        "code": "M011793",
        "name": "Alder 10 with Alder 32 slow hardener",
        "state": "weighing",
        "purpose": "wet-out",
        "system": 1,
        "hardener": 2,
        "ratio": 0.3,
        "tolerance_pct": 2,
        "planned_g": 500,
        "resin_g": 384.6,
        "hardener_g": 0,
        "next": {
            "component": "hardener",
            "container": "C000018",
            "scale": "S00001K",
            "target_g": 115.38,
            "scale_reading_if_not_zeroed_g": 499.98,
            "accepted_from_g": 113.4,
            "accepted_to_g": 117.3,
            "sentence": "Add 115.38 g of hardener from C000018. The scale will read 499.98 g if you did not zero.",
        },
        "judgement": None,
        "version": 4,
    }
    code = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    purpose = ma.fields.String()
    system = ma.fields.Integer()
    system_name = ma.fields.String()
    system_revision = ma.fields.Integer()
    hardener = ma.fields.Integer()
    hardener_name = ma.fields.String()
    speed = ma.fields.String()
    frozen = ma.fields.Integer(metadata={"description": "Document with the frozen copy of the resin system."})
    frozen_sha256 = ma.fields.String()
    ratio = ma.fields.Float()
    tolerance_pct = ma.fields.Float()
    planned_g = Grams()
    separate_cups = ma.fields.Boolean()
    started_at = Moment()
    started_by = ma.fields.String()
    resin_g = Grams()
    hardener_g = Grams()
    fillers_g = Grams()
    left_g = Grams(metadata={"description": "What the pot still holds by the book."})
    plan = ma.fields.List(ma.fields.Nested(PourPlanOut))
    job_plan = ma.fields.Nested(JobPlanOut, allow_none=True)
    scales = ma.fields.Nested(PotScalesOut)
    next = ma.fields.Nested(NextPourOut, allow_none=True)
    pours = ma.fields.List(ma.fields.Nested(PourOut))
    judgement = ma.fields.Nested(JudgementOut, allow_none=True)
    correction = ma.fields.Nested(MixCorrectionOut, allow_none=True)
    clock = ma.fields.Nested(CupClockOut)
    watch = ma.fields.Nested(WatchOut, allow_none=True, metadata={"description": "While it is open."})
    stirring = ma.fields.Nested(StirringOut)
    fillers = ma.fields.List(ma.fields.Nested(FillerOut))
    applications = ma.fields.List(ma.fields.Nested(ApplicationOut))
    parts = ma.fields.List(ma.fields.String(), metadata={"description": "What it was meant for when it was started."})
    skipped = ma.fields.List(ma.fields.String(), metadata={"description": "Cans that should have been used up first."})
    skipped_why = ma.fields.String(allow_none=True)
    notices = ma.fields.List(ma.fields.String())
    closing = ma.fields.Nested(MixClosingOut, allow_none=True)
    cup_checks = ma.fields.List(ma.fields.Nested(CupCheckOut))
    flags = ma.fields.List(ma.fields.Nested(MixFlagOut))
    holds = ma.fields.List(ma.fields.Nested(HoldRef))
    version = ma.fields.Integer()


class MixRowOut(Out):
    EXAMPLE = {
        "code": "M011793",
        "name": "Alder 10 with Alder 32 slow hardener",
        "state": "running",
        "purpose": "wet-out",
        "planned_g": 500,
        "left_g": 500,
        "use_before": "2026-11-03T09:44:00Z",
        "deviation_pct": 0.4,
        "verdict": "within",
        "holds": 0,
        "version": 7,
    }
    code = ma.fields.String()
    name = ma.fields.String()
    state = ma.fields.String()
    purpose = ma.fields.String()
    system = ma.fields.Integer()
    planned_g = Grams()
    left_g = Grams()
    started_at = Moment()
    started_by = ma.fields.String()
    use_before = Moment(allow_none=True)
    deviation_pct = ma.fields.Float(allow_none=True)
    verdict = ma.fields.String(allow_none=True)
    holds = ma.fields.Integer()
    version = ma.fields.Integer()
