"""Who and what there is at Heron Yard: people, suppliers, materials, systems, designs. All of it is invented."""

from dataclasses import dataclass
from typing import Any

from schemas.words import MaterialKind, Role

SITE, ZONE = "Heron Yard", "Europe/Copenhagen"

# Five people; the owner looks after the service and lays up as well.
PEOPLE: dict[str, tuple[str, tuple[Role, ...]]] = {
    "ida": ("Ida Holm", (Role.LAMINATOR,)),
    "marit": ("Marit Vik", (Role.LEAD,)),
    "sunniva": ("Sunniva Dahl", (Role.QUALITY,)),
}
# Who else decides for quality: whoever opened a nonconformance or a recall does not end it as well.
SECOND, SECOND_NAME, SECOND_SECRET = "second quality", "Tove Brandt", "538264"
OWNER = "Henrik Moe"
# What an hour of work costs, in cents.
HOUR_MINOR = 5200
CURRENCY = "EUR"
# With what they sign. Said here and printed, since nothing at this yard is a secret.
SECRETS: dict[str, str] = {
    Role.LAMINATOR: "274918",
    Role.LEAD: "630452",
    Role.QUALITY: "815307",
    Role.ADMINISTRATOR: "492160",
}

SUPPLIERS = ("Fenwick Resins", "Brook Weavers", "Lantern Coatings", "Tidewater Stores")

_EPOXY = ["H315", "H317", "H319", "H411"]
_AMINE = ["H302", "H314", "H317", "H412"]


@dataclass(frozen=True, slots=True)
class Product:
    """A material, how it is packed, how little of it may be left before more is ordered, and what it costs.

    ``minor`` is in cents, for a kilogram or a metre; 0 where nobody has looked the price up yet.
    """

    name: str
    kind: MaterialKind
    supplier: int
    facts: dict[str, Any]
    pack: int
    packs: int
    reorder_below: int
    prefix: str
    minor: int


PRODUCTS: dict[str, Product] = {
    "resin": Product(
        "Alder 10 resin", MaterialKind.RESIN, 0,
        {"density_g_ml": 1.13, "shelf_life_days": 730, "storage_low_c": 10.0, "storage_high_c": 30.0,
         "h_codes": _EPOXY, "tare_mg": 420_000, "glove_advice": "nitrile, changed often"},
        5_000_000, 1, 3_000_000, "A10", 1490,
    ),
    "slow": Product(
        "Alder 32 slow hardener", MaterialKind.HARDENER, 0,
        {"density_g_ml": 0.95, "shelf_life_days": 730, "opened_life_days": 180, "storage_low_c": 10.0,
         "storage_high_c": 30.0, "h_codes": _AMINE, "tare_mg": 250_000, "glove_advice": "nitrile, changed often"},
        2_500_000, 1, 1_200_000, "A32", 2380,
    ),
    "gel": Product(
        "Alder G5 gel coat, white", MaterialKind.GEL_COAT, 2,
        {"density_g_ml": 1.32, "shelf_life_days": 365, "storage_low_c": 10.0, "storage_high_c": 30.0,
         "h_codes": _EPOXY, "tare_mg": 300_000},
        5_000_000, 1, 2_000_000, "G5", 1860,
    ),
    "gelhard": Product(
        "Alder G15 gel coat hardener", MaterialKind.GEL_COAT_HARDENER, 2,
        {"density_g_ml": 0.98, "shelf_life_days": 540, "opened_life_days": 270, "storage_low_c": 10.0,
         "storage_high_c": 30.0, "h_codes": _AMINE, "tare_mg": 120_000},
        1_000_000, 1, 350_000, "G15", 2940,
    ),
    "twill": Product(
        "Carbon twill 0/90 160 g/m²", MaterialKind.FABRIC, 1,
        {"form": "woven", "areal_weight_g_m2": 160.0, "fibre": "carbon", "width_mm": 1270, "face": False},
        20_000, 1, 5_000, "T8", 3120,
    ),
    "biax": Product(
        "Carbon ±45 300 g/m²", MaterialKind.FABRIC, 1,
        {"form": "multiaxial", "areal_weight_g_m2": 300.0, "fibre": "carbon", "width_mm": 1270, "face": True},
        20_000, 1, 5_000, "B3", 2750,
    ),
    "wax": Product(
        "Wader release wax", MaterialKind.RELEASE_AGENT, 3,
        {"shelf_life_days": 730, "release_coats": 2, "release_wait_min": 30, "h_codes": ["H226", "H336"]},
        1_000_000, 1, 0, "W", 2600,
    ),
    "cleaner": Product(
        "Wader tool cleaner", MaterialKind.CLEANER, 3,
        {"h_codes": ["H225", "H319", "H336", "EUH066"]},
        5_000_000, 1, 0, "TC", 940,
    ),
    "flock": Product(
        "Cotton flock", MaterialKind.FILLER, 3, {}, 2_000_000, 1, 300_000, "CF", 1180,
    ),
    "white": Product(
        "White pigment paste", MaterialKind.PIGMENT, 2, {"shelf_life_days": 1095}, 500_000, 1, 60_000, "WP", 3400,
    ),
    "peel": Product(
        "Peel ply 85 g/m²", MaterialKind.CONSUMABLE, 3, {}, 60_000, 1, 0, "PP", 0,
    ),
}  # fmt: skip

_FILM = [{"temperature_c": t, "life_min": m} for t, m in ((15.0, 190.0), (20.0, 130.0), (25.0, 90.0), (30.0, 62.0))]


def _cup(minutes_at_20: float) -> list[dict[str, float]]:
    """A table of cup life that halves for every 10 K and falls with mass, as the invented data sheet has it."""
    return [
        {"mass_g": mass, "temperature_c": t, "life_min": round(minutes_at_20 * share * 2 ** ((20 - t) / 10), 1)}
        for mass, share in ((100.0, 1.0), (300.0, 0.72), (500.0, 0.6))
        for t in (15.0, 20.0, 25.0, 30.0)
    ]


LAMINATING: dict[str, Any] = {
    "name": "Alder 10",
    "data_sheet": "Alder 10 data sheet, revision 6",
    "tolerance": {"kind": "percent of ratio", "value": 2.0, "source": "Alder 10 data sheet, revision 6"},
    "largest_pot_mg": 500_000,
    "stir_min": 2.0,
    "work_low_c": 16.0,
    "work_high_c": 28.0,
    "work_high_humidity_pct": 75.0,
}
LAMINATING_HARDENER: dict[str, Any] = {
    "speed": "slow", "parts_by_weight": 30.0, "cup_life": _cup(95), "film_life": _FILM,
}  # fmt: skip
GEL: dict[str, Any] = {
    "name": "Alder G5",
    "data_sheet": "Alder G5 data sheet, revision 3",
    "tolerance": {"kind": "percent of ratio", "value": 3.0, "source": "Alder G5 data sheet, revision 3"},
    "largest_pot_mg": 600_000,
    "stir_min": 2.0,
}
GEL_HARDENER: dict[str, Any] = {
    "speed": "standard", "parts_by_weight": 15.0, "cup_life": _cup(70), "film_life": _FILM,
}  # fmt: skip

SCHEDULE: dict[str, Any] = {
    "name": "Overnight at 55 °C",
    "source": "Alder 10 data sheet, revision 6",
    "stages": [
        {
            "name": "55 °C",
            "low_c": 50.0,
            "high_c": 60.0,
            "minimum_min": 360.0,
            "over_c": 65.0,
            "air_over_c": None,
            "heating_limit_k_min": 1.0,
            "may_be_split": True,
        }
    ],
    "longest_interval_min": 5.0,
    "evidence": "part probe",
    "start_within_min": 720,
    "demould_below_c": 35.0,
}


@dataclass(frozen=True, slots=True)
class Body:
    """A design of the yard: its number, name, and how much larger than the smallest it is."""

    part_number: str
    name: str
    size: float


BODIES = (
    Body("HY-114", "Tricycle body, left", 1.0),
    Body("HY-115", "Tricycle body, right", 1.0),
    Body("HY-120", "Cargo lid", 0.8),
    Body("HY-131", "Nose fairing", 0.7),
)
# Of the smallest body: area of one ply, and the length that it takes off the roll.
PLY_M2, PLY_MM = 0.62, 700
# What the four plies weigh on that area, in grams.
KIT_G = 2 * (160 + 300) * PLY_M2
CUSTOMERS = ("Quayside Couriers", "Lindholt Bakery", "Three Bridges Post", "Orchard Rounds")
