"""What a paper form calls the fields of the acts that it stands in for: words for who writes with a pencil.

A field without words is not asked on paper: it has a meaning only in the conversation with a page or a program.
"""

from collections.abc import Mapping

_AIR = "was that the air’s? yes / no"

# Schema -> field -> its words. A field of an object is named "outer.inner".
WORDS: Mapping[str, Mapping[str, str | None]] = {
    "DeliveryIn": {
        "expires_on": "use by, day", "expires_month": "or use by, month", "made_on": "or made on",
        "no_expiry": "or no date at all? yes / no", "material": "material", "supplier": "supplier",
        "delivery_note": "delivery note", "place": "stands in (code)", "makers_lot": "maker’s lot number",
        "unknown_because": "or no lot number, because", "containers.count": "how many containers",
        "containers.net_g": "each holds, g", "containers.length_mm": "or each is long, mm",
        "containers.pieces": "or pieces in each", "containers.gross_g": "weighed with its can, g",
        "supplier_code": "code on the goods", "transport_out.hours": "out of the cold on the way, h",
        "transport_out.temperature_c": "warmest there, °C", "confirmed": None,
    },
    "IncomingCheckIn": {
        "name": "what was looked at", "result": "what was found", "value": "measured, if a number",
        "passed": "passed? yes / no",
    },
    "MixIn": {
        "system": "resin system", "hardener": "hardener", "purpose": "for: gel coat, resin coat, wet-out, bonding",
        "total_g": "resin and hardener together, g", "resin_g": "or resin alone, g",
        "hardener_g": "or hardener alone, g",
        "containers.container": "can of resin, can of hardener (codes)", "containers.mass_g": "from each can, g",
        "scale": "scale (code)",
        "hardener_scale": "hardener on scale (code)", "promoter_scale": "promoter on scale (code)",
        "zeroed": "zeroed before each can? yes / no", "separate_cups": "each in its own cup? yes / no",
        "temperature_c": "resin, °C", "temperature_of_air": _AIR, "parts": "for part (code)",
        "plan.need_g": None, "plan.wet_out_rate_g_min": None, "plan.working_share": None, "plan.number": "pot number",
        "plan.of": "of how many", "confirmed": None, "despite_reservation": None,
    },
    "PourIn": {
        "container": "from can (code)", "scale": "scale (code)", "reading_g": "the scale shows, g",
        "reading_ml": "or the measure shows, ml", "density_g_ml": "then its density, g/ml",
        "zeroed": "zeroed just before? yes / no", "source": None, "correction": "to put the ratio right? yes / no",
        "read_back_g": "read once more, g", "read_back_ml": "or once more, ml", "confirmed": None, "again": None,
        "despite_reservation": None,
        "emptied_cup_g": "emptied cup then shows, g",
    },
    "ContactIn": {"contact_at": "hardener met resin at", "temperature_c": "mix, °C", "temperature_of_air": _AIR},
    "StirringIn": {
        "started_at": "from", "ended_at": "until", "scraped": "sides and bottom scraped? yes / no",
        "second_cup": "then into a second cup? yes / no", "before_contact": "promoter, before the catalyst? yes / no",
    },
    "ApplicationIn": {
        "parts.part": "on part (code)", "parts.mass_g": "of it, g", "parts.zone": "where", "purpose": "for",
        "read_back_g": "read once more, g", "again": None,
    },
    "ClosingIn": {
        "left_g": "left in the cup, g", "gross_g": "or cup and what is left, g", "cup_g": "and the empty cup, g",
        "all_used": "or all used? yes / no", "left_estimated": "estimated? yes / no", "loss_g": "lost, g",
        "cup_kept": "cup kept for the morning? yes / no", "parts.part": "where it went: part (code)",
        "parts.mass_g": "of it, g", "parts.zone": "where", "read_back_g": "read once more, g", "again": None,
    },
    "CupCheckIn": {"hard": "hard? yes / no", "hardness": "hardness", "hardness_scale": "on which scale"},
    "KitIn": {
        "design": "design", "cuts.roll": "roll (code)", "cuts.length_mm": "cut off, mm", "cuts.waste_mm": "waste, mm",
        "cuts.offcut_mm": "offcut kept, mm", "cuts.plies": "plies", "mass_g": "kit weighed, g", "number": "kit number",
        "of": "of how many", "part": "for part of an order (code)", "despite_reservation": None,
    },
    "PartIn": {
        "design": None, "part_number": "part number", "revision": "revision", "mould": "mould (code)",
        "order": "order", "customer": "customer", "confirmed": None,
    },
    "LayKitIn": {"kit": "kit (code)", "backers_counted": "backing films counted"},
    "LayPlyIn": {
        "number": "ply", "source": "kit, roll or core (code)", "angle_deg": "angle, °", "face": "face: up / down",
        "zone": "where", "length_mm": "cut off, mm", "mass_g": "core, g", "pieces": "or pieces", "confirmed": None,
        "despite_reservation": None,
    },
    "UseIn": {
        "container": "container (code)", "purpose": "for", "mass_g": "how much, g", "pieces": "or pieces",
        "confirmed": None, "despite_reservation": None,
    },
    "FitIn": {"component": "part that was fitted (code)"},
    "PartStepIn": {
        "kind": "tack, thickness, climate, films, bag, drop, vacuum, mass, note",
        "result": "tack: lifts / marks / dry", "temperature_c": "gel coat, °C", "thickness_mm": "thickness, mm",
        "air_c": "air, °C", "humidity_pct": "humidity, %", "surface_c": "surface, °C", "least_margin_k": None,
        "counted": "films counted", "expected": "of how many", "start_mbar": "drop: from, mbar", "end_mbar": "to, mbar",
        "minutes": "in, min", "gauge": "gauge", "least_mbar": "vacuum: least, mbar",
        "until_gel": "until it had gelled? yes / no", "mass_g": "part weighs, g", "zone": "where",
    },
    "CloseIn": {},
    "DemouldIn": {"temperature_c": "part, °C", "damage": "damage"},
    "TrimIn": {"mass_g": "part after it, g", "trimmed_off_g": "cut off, g"},
    "InspectionIn": {
        "accepted": "accepted? yes / no", "measurements.name": "measured: what", "measurements.value": "value",
        "measurements.unit": "unit", "measurements.low": "at least", "measurements.high": "at most",
        "samples.zone": "sample from", "samples.density_g_cm3": "its density, g/cm³",
        "samples.fibre_mass_fraction": "its fibre by mass, %", "samples.most_voids_pct": "voids allowed, %",
        "defects.kind": "defect: what", "defects.zone": "where", "defects.size_mm": "how large, mm",
        "defects.limit_mm": "allowed, mm", "defects.remark": "about it", "defects.accepted": "may stay? yes / no",
    },
    "CureIn": {
        "schedule": "schedule", "parts": "parts (codes)", "post_cure": "post-cure? yes / no", "place": "in (code)",
    },
    "ThermometerIn": {"low_c": "lowest, °C", "high_c": "highest, °C", "reset_at": "set back at"},
}  # fmt: skip
