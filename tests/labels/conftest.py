"""Labels of an invented workshop, Heron Yard, and the eyes that look at them: a 203 dpi raster and a QR reader."""

from collections.abc import Callable
from datetime import UTC, date, datetime
from typing import Any

import pypdfium2
import pytest
import zxingcpp
from PIL import Image

from labels import codes
from labels import facts as f

ORIGIN = "https://potmark.heron-yard.example"
AMINE = ("H302", "H314", "H317", "H412")
DPI = 203

_SAMPLES: dict[str, tuple[type[f.Facts], dict[str, Any]]] = {
    "lot": (
        f.LotLabel,
        {
            "name": "Alder 10 resin",
            "lot": "26-0901",
            "net": "4 × 25 kg",
            "received_on": date(2026, 2, 10),
            "expires_on": date(2028, 1, 31),
            "storage": "15 to 25 °C",
            "quarantine": True,
        },
    ),
    "container": (
        f.ContainerLabel,
        {
            "name": "Alder 32 slow hardener",
            "lot": "26-0914",
            "noun": "can",
            "sequence": "can 2 of 4",
            "net": "5 kg",
            "expires_on": date(2027, 9, 30),
            "opened_life_days": 180,
            "storage": "15 to 25 °C",
            "ratio": "Alder 10 resin 100 : 30 by weight",
        },
    ),
    "kit": (
        f.KitLabel,
        {
            "name": "Rudder skin, port",
            "plies": "12 plies",
            "made_of": "Twill 2/2 carbon 200 g/m², lot W-88213",
            "purpose": "rudder skin, port",
            "cut_on": date(2026, 3, 2),
            "cut_by": "Ines",
        },
    ),
    "pot": (
        f.PotLabel,
        {
            "system": "Alder 10 resin",
            "hardener": "Alder 32 slow hardener 100 : 30",
            "mixed_at": datetime(2026, 3, 3, 14, 5, tzinfo=UTC),
            "use_before": datetime(2026, 3, 3, 14, 52, tzinfo=UTC),
            "mass": "412 g",
            "purpose": "rudder skin, port",
        },
    ),
    "hold": (
        f.HoldTag,
        {
            "name": "Alder 32 slow hardener",
            "reason": "A letter from the maker: wait for word.",
            "more": "and 1 more",
            "printed_on": date(2026, 3, 3),
        },
    ),
    "part": (
        f.PartLabel,
        {
            "name": "Rudder skin, port",
            "part_number": "HY-7-0310",
            "revision": "C",
            "laid_on": date(2026, 3, 3),
        },
    ),
    "mould": (
        f.MouldLabel,
        {"name": "Rudder mould, port", "release": "semi-permanent, 5 coats", "limit": "at most 80 °C"},
    ),
    "place": (f.PlaceLabel, {"name": "Peroxide cabinet", "range": "5 to 25 °C", "note": "peroxides only"}),
    "scale": (
        f.ScaleLabel,
        {"name": "Bench scale 2", "capacity": "6 kg × 0.1 g", "calibrated_until": date(2026, 10, 31)},
    ),
    "cure": (
        f.CureLabel,
        {
            "name": "Rudder skins, post-cure",
            "schedule": "16 h at 23 °C, then 15 h at 60 °C",
            "started_at": datetime(2026, 3, 3, 17, 30, tzinfo=UTC),
        },
    ),
}
CHEMICAL = ("lot", "container", "kit", "pot")


@pytest.fixture(params=list(_SAMPLES))
def kind(request: pytest.FixtureRequest) -> str:
    """Each kind of item in turn."""
    return str(request.param)


@pytest.fixture(params=CHEMICAL)
def chemical(request: pytest.FixtureRequest) -> str:
    """Each kind of item that can carry hazards."""
    return str(request.param)


@pytest.fixture
def make() -> Callable[..., Any]:
    """A label of a kind with the changes asked for."""

    def build(kind: str, *, number: int = 318, **changes: Any) -> f.Facts:
        made, plain = _SAMPLES[kind]
        letter = made.KIND or "C"
        code = codes.make(letter, codes.next_usable(letter, number - 1))
        return made(**{"code": code, "origin": ORIGIN, **plain, **changes})

    return build


@pytest.fixture
def raster() -> Callable[[bytes], Image.Image]:
    """The first page as a label printer sees it: one bit a dot at 203 dpi."""

    def draw(pdf: bytes) -> Image.Image:
        document = pypdfium2.PdfDocument(pdf)
        grey = document[0].render(scale=DPI / 72, grayscale=True).to_pil().convert("L")
        document.close()
        return grey.point(lambda value: 255 if value > 127 else 0)

    return draw


@pytest.fixture
def read() -> Callable[[Image.Image], str | None]:
    """What a QR reader makes of a picture."""

    def scan(picture: Image.Image) -> str | None:
        found = zxingcpp.read_barcodes(picture)
        return found[0].text if found else None

    return scan
