"""What is worked out of a design: its cuts off the roll, its thickness, its need of resin, its mirror image."""

from schemas.base import ActIn, QueryIn
from schemas.fields import Text, Whole, Word
from schemas.words import MirrorAbout


class MirrorIn(ActIn):
    EXAMPLE = {"part_number": "HY-205", "revision": "A", "name": "Tiller blade, starboard half", "about": "centreline"}
    part_number = Text(required=True, longest=40)
    revision = Text(required=True, longest=10)
    name = Text(required=True, longest=80)
    about = Word(
        MirrorAbout,
        required=True,
        metadata={
            "description": "centreline: the other hand, angles with the other sign, templates turned over. midplane: "
            "the plies and after them their mirror image, which makes the laminate symmetric; its need of resin is new."
        },
    )


class CuttingQuery(QueryIn):
    gap_mm = Whole(0, 1000, load_default=10, metadata={"description": "Between neighbouring pieces, for the knife."})
