"""The words that the shop and its records use, each once.

They are the trade's and the standards' own; the database holds them as they stand here.
"""

from enum import StrEnum

from schemas.words_of_building import BuildAnswer as BuildAnswer
from schemas.words_of_building import BuildConditionKind as BuildConditionKind
from schemas.words_of_building import Weekday as Weekday
from schemas.words_of_costs import PriceBasis as PriceBasis
from schemas.words_of_costs import WasteCause as WasteCause
from schemas.words_of_designs import FabricForm as FabricForm
from schemas.words_of_designs import Grain as Grain
from schemas.words_of_designs import MirrorAbout as MirrorAbout
from schemas.words_of_hooks import DeliveryState as DeliveryState
from schemas.words_of_hooks import HookEvent as HookEvent
from schemas.words_of_hooks import WarningKind as WarningKind
from schemas.words_of_lists import FollowedKind as FollowedKind
from schemas.words_of_lists import Sort as Sort
from schemas.words_of_orders import ExpectedEnd as ExpectedEnd
from schemas.words_of_orders import OrderState as OrderState
from schemas.words_of_orders import Referred as Referred
from schemas.words_of_orders import ReplacedBy as ReplacedBy
from schemas.words_of_orders import ReservationState as ReservationState
from schemas.words_of_papers import CertificateType as CertificateType
from schemas.words_of_papers import IssuedKind as IssuedKind
from schemas.words_of_papers import PieceFound as PieceFound
from schemas.words_of_people import Scope as Scope
from schemas.words_of_pots import PARTS_OF_A_RATIO as PARTS_OF_A_RATIO
from schemas.words_of_pots import Component as Component
from schemas.words_of_pots import CountedOn as CountedOn
from schemas.words_of_pots import CupState as CupState
from schemas.words_of_pots import ReadingSource as ReadingSource
from schemas.words_of_pots import ScaleForm as ScaleForm
from schemas.words_of_pots import SystemKind as SystemKind
from schemas.words_of_pots import ToleranceKind as ToleranceKind
from schemas.words_of_tables import ImportedTable as ImportedTable
from schemas.words_of_tables import RowFate as RowFate


class Role(StrEnum):
    LAMINATOR = "laminator"
    LEAD = "lead"
    QUALITY = "quality"
    INTEGRATOR = "integrator"
    ADMINISTRATOR = "administrator"


class Kind(StrEnum):
    """Kinds of item and the letter that opens their code."""

    LOT = "L"
    CONTAINER = "C"
    KIT = "K"
    MIX = "M"
    PART = "P"
    MOULD = "T"
    SCALE = "S"
    CURE = "R"
    PLACE = "A"
    BADGE = "B"


KIND_NAMES = {
    Kind.LOT: "lot",
    Kind.CONTAINER: "container",
    Kind.KIT: "kit",
    Kind.MIX: "mix",
    Kind.PART: "part",
    Kind.MOULD: "mould",
    Kind.SCALE: "scale",
    Kind.CURE: "cure",
    Kind.PLACE: "place",
    Kind.BADGE: "badge",
}


class Unit(StrEnum):
    MILLIGRAM = "mg"
    MILLIMETRE = "mm"
    PIECE = "piece"


class State(StrEnum):
    """Where an item stands in its life. Expired and on hold are not states: they are found out when asked."""

    # lot
    QUARANTINE = "quarantine"
    RELEASED = "released"
    REJECTED = "rejected"
    # container
    SEALED = "sealed"
    OPEN = "open"
    EMPTY = "empty"
    SCRAPPED = "scrapped"
    # kit
    CUT = "cut"
    LAID = "laid"
    # mix
    WEIGHING = "weighing"
    RUNNING = "running"
    CLOSED = "closed"
    DISCARDED = "discarded"
    ABANDONED = "abandoned"
    # part
    PLANNED = "planned"
    LAYING = "laying"
    LAID_UP = "laid up"
    CURING = "curing"
    CURED = "cured"
    DEMOULDED = "demoulded"
    TRIMMED = "trimmed"
    SHIPPED = "shipped"
    RETURNED = "returned"
    FITTED = "fitted"
    CANCELLED = "cancelled"
    # cure
    PASSED = "passed"
    FAILED = "failed"
    # mould, scale, place
    IN_USE = "in use"
    WITHDRAWN = "withdrawn"


class LotState(StrEnum):
    QUARANTINE = State.QUARANTINE
    RELEASED = State.RELEASED
    REJECTED = State.REJECTED


class ContainerState(StrEnum):
    SEALED = State.SEALED
    OPEN = State.OPEN
    EMPTY = State.EMPTY
    SCRAPPED = State.SCRAPPED


class KitState(StrEnum):
    CUT = State.CUT
    LAID = State.LAID
    SCRAPPED = State.SCRAPPED


class MixState(StrEnum):
    WEIGHING = State.WEIGHING
    RUNNING = State.RUNNING
    CLOSED = State.CLOSED
    DISCARDED = State.DISCARDED
    ABANDONED = State.ABANDONED


class PartState(StrEnum):
    PLANNED = State.PLANNED
    LAYING = State.LAYING
    LAID_UP = State.LAID_UP
    CURING = State.CURING
    CURED = State.CURED
    DEMOULDED = State.DEMOULDED
    TRIMMED = State.TRIMMED
    RELEASED = State.RELEASED
    SHIPPED = State.SHIPPED
    RETURNED = State.RETURNED
    FITTED = State.FITTED
    SCRAPPED = State.SCRAPPED
    CANCELLED = State.CANCELLED
    ABANDONED = State.ABANDONED


class CureState(StrEnum):
    RUNNING = State.RUNNING
    PASSED = State.PASSED
    FAILED = State.FAILED


class ToolState(StrEnum):
    """Of a mould, a scale, a place, a badge."""

    IN_USE = State.IN_USE
    WITHDRAWN = State.WITHDRAWN


class MaterialKind(StrEnum):
    RESIN = "resin"
    HARDENER = "hardener"
    GEL_COAT = "gel coat"
    GEL_COAT_HARDENER = "gel coat hardener"
    FABRIC = "fabric"
    CORE = "core"
    RELEASE_AGENT = "release agent"
    CLEANER = "cleaner"
    FILLER = "filler"
    PIGMENT = "pigment"
    ADHESIVE = "adhesive"
    CONSUMABLE = "consumable"
    CATALYST = "catalyst"
    PROMOTER = "promoter"


class Face(StrEnum):
    UP = "up"
    DOWN = "down"


class ReceiptKind(StrEnum):
    DELIVERY = "delivery"
    OPENING_STOCK = "opening stock"
    RETURN = "return"
    TRANSFER = "transfer"
    MADE = "made here"


class DateBasis(StrEnum):
    """How an expiry date came about."""

    SUPPLIER = "supplier's date"
    MONTH = "supplier's month"
    MADE_ON = "made on plus shelf life"
    ESTIMATED = "estimated"
    NONE = "no expiry"


class MovementKind(StrEnum):
    RECEIPT = "receipt"
    MADE = "made here"
    PACKING = "packing"
    DECANT = "decant"
    POUR = "pour"
    ADDITION = "addition"
    CUTTING = "cutting"
    OFFCUT = "offcut"
    WASTE = "waste"
    LAYING = "laying"
    APPLICATION = "application"
    TREATMENT = "treatment"
    BONDING = "bonding"
    CURE = "cure"
    LEFT = "left in cup"
    LOSS = "loss"
    SCRAP = "scrap"
    FOUND_MORE = "found more than booked"
    FOUND_LESS = "found less than booked"
    SHIPMENT = "shipment"
    RETURN = "return"


class Purpose(StrEnum):
    GEL_COAT = "gel coat"
    RESIN_COAT = "resin coat"
    WET_OUT = "wet-out"
    BONDING = "bonding"


class Verdict(StrEnum):
    WITHIN = "within"
    NEAR = "near the limit"
    OUTSIDE = "outside"


class Fitness(StrEnum):
    FIT = "fit"
    ASK = "ask"
    LEAVE = "leave"


class PermissionKind(StrEnum):
    DEVIATION_PERMIT = "deviation permit"
    CONCESSION = "concession"


class StorageDecision(StrEnum):
    """What quality decides about a time out of the range that a material keeps at."""

    USE = "use"
    SHORTEN = "shorten"
    RETEST = "retest"
    REJECT = "reject"


class Alone(StrEnum):
    """What a shop may have no second person for."""

    RELEASE = "release"
    PERMIT = "permit"
    DECISION = "decision"
    LIFTING = "lifting"
    APPROVAL = "approval"
    EXTENSION = "extension"


class Decision(StrEnum):
    ASKED = "asked"
    PERMITTED = "permitted"
    REFUSED = "refused"
    WITHDRAWN = "withdrawn"


class Disposition(StrEnum):
    USE_AS_IS = "use as is"
    REWORK = "rework"
    REPAIR = "repair"
    SCRAP = "scrap"


class ScrappedAs(StrEnum):
    """As what a part was scrapped: only what failed counts as a failure."""

    FAILED = "failed"
    TESTED = "tested"
    NOT_WANTED = "not wanted"


class Declaration(StrEnum):
    """Why an entry is corrected (the two reasons of the EPCIS error declaration)."""

    INCORRECT_DATA = "incorrect data"
    DID_NOT_OCCUR = "did not occur"


class CureResult(StrEnum):
    """What is found of a cure or of one of its stages."""

    PROVED = "proved"
    NOT_KNOWN = "not known"
    VIOLATED = "violated"


class Measure(StrEnum):
    """What a gauge of an oven or autoclave measures: below the pressure of the air, above it, or from zero."""

    VACUUM = "vacuum"
    PRESSURE = "pressure"
    ABSOLUTE = "absolute"


class Evidence(StrEnum):
    """How a cure is proved, the best first."""

    PART_PROBE = "part probe"
    AIR_LOG = "air log"
    MINIMUM_MAXIMUM = "minimum-maximum thermometer"
    DECLARED = "declared"


class TreatmentKind(StrEnum):
    """What is done to a mould between two pulls."""

    CLEANING = "cleaning"
    RELEASE_COAT = "release coat"
    REPAIR = "repair"


class StepKind(StrEnum):
    """Steps on a part that take nothing from stock."""

    TACK_TEST = "tack test"
    GEL_COAT_THICKNESS = "gel coat thickness"
    CLIMATE = "climate"
    BACKERS = "backers"
    BAG = "bag"
    DROP_TEST = "drop test"
    VACUUM = "vacuum"
    MASS = "mass"
    NOTE = "note"


class OwnStep(StrEnum):
    """Steps on a part that have an act of their own."""

    CLOSING = "closing"
    DEMOULDING = "demoulding"
    TRIMMING = "trimming"
    OUT_TIME = "out time"


class Tack(StrEnum):
    """What the gloved finger finds on a gel coat: it lifts off, it marks and nothing lifts, it leaves no mark."""

    LIFTS = "lifts"
    MARKS = "marks"
    DRY = "dry"


class LabelSize(StrEnum):
    ROLL_62 = "62"
    LARGE = "100x50"
    SMALL = "50x25"
