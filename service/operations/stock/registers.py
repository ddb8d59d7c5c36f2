"""Suppliers, materials, places: what the shop knows before anything arrives."""

from collections.abc import Collection, Sequence
from dataclasses import dataclass
from typing import Annotated, Any, NotRequired, TypedDict

from labels.errors import UnknownHazard
from labels.hazards import hazard_block, statement
from schemas.words import CertificateType, FabricForm, Kind, MaterialKind, State
from service.operations.door.formerly import require_reason
from service.operations.door.operation import Work, operation
from service.operations.door.refusals import AlreadyThere, Unprocessable
from service.operations.door.rows import change_row, find_row
from service.operations.door.views import ItemRef, Page, page, ref
from service.operations.ledger import ledger
from service.operations.stock.peroxides import cautions_of, is_organic_peroxide
from service.records.items import Item
from service.records.materials import Material, Supplier


@dataclass(frozen=True, slots=True)
class SupplierView:
    id: int
    name: str
    approved: bool
    version: int


class HazardStatement(TypedDict):
    """An H-code and what it says."""

    code: str
    text: str


class CheckLimits(TypedDict):
    """One thing that incoming goods are checked for."""

    name: str
    low: NotRequired[float | None]
    high: NotRequired[float | None]
    unit: NotRequired[str | None]


class Bears(TypedDict):
    """What a material bears outside the range that it keeps at: up or down to this, for so many hours of its life."""

    temperature_c: float
    hours: float


class LifeRow(TypedDict):
    """How long a life lasts up to a temperature."""

    temperature_c: float
    hours: float


class OutTime(TypedDict):
    """Life out of the cold: to the start of cure, and of its tack to lay-up."""

    out: list[LifeRow]
    tack: list[LifeRow]


@dataclass(frozen=True, slots=True)
class Hazards:
    """Signal word and pictograms follow from the H-codes; nobody types them."""

    signal_word: str | None
    pictograms: tuple[str, ...]
    statements: tuple[HazardStatement, ...]


@dataclass(frozen=True, slots=True)
class MaterialView:
    """A material as its data sheet describes it.

    Attributes
    ----------
    organic_peroxide
        Marked as one, or by its hazard statements; it is a catalyst and nothing else.
    acetone
        Acetone, or a cleaner with acetone in it: never near an organic peroxide.
    emergency_c
        From here on a peroxide may decompose by itself.
    vented_container
        The supplier's vented type of container that it may be decanted into.
    least_stock_mg
        The least that is to be there, fit for use and reserved by nobody; a look over the stock tells of less, grams.
    least_stock_mm
        The same of what comes by the roll, millimetres.
    cautions
        What is said wherever it is told of; data sheet and local rules come first.
    """

    id: int
    name: str
    kind: MaterialKind
    supplier: int | None
    gtin: str | None
    density_g_ml: float | None
    shelf_life_days: int | None
    opened_life_days: int | None
    storage_low_c: float | None
    storage_high_c: float | None
    bears: tuple[Bears, ...]
    warm_up_hours: float | None
    tare_mg: int | None
    h_codes: tuple[str, ...]
    hazards: Hazards
    organic_peroxide: bool
    glove_advice: str | None
    incoming_checks: tuple[CheckLimits, ...]
    certificate_wanted: CertificateType | None
    form: FabricForm | None
    areal_weight_g_m2: float | None
    fibre: str | None
    width_mm: int | None
    out_time: OutTime | None
    face: bool | None
    release_coats: int | None
    release_pulls: int | None
    release_wait_min: int | None
    acetone: bool
    emergency_c: float | None
    vented_container: str | None
    least_stock_mg: int | None
    least_stock_mm: int | None
    cautions: tuple[str, ...]
    version: int


@operation
def add_supplier(work: Work, *, name: str, approved: bool) -> SupplierView:
    """Add a supplier."""
    _refuse_double(Supplier, name, "supplier")
    row = Supplier.create(name=name, approved=approved)
    work.note(supplier=row.id, name=name, approved=approved)
    return view_supplier(row)


@operation
def change_supplier(work: Work, *, supplier: int, version: int, **changes: Annotated[Any, Supplier]) -> SupplierView:
    """Change a supplier's name or approval."""
    row = find_row(Supplier, supplier, "supplier")
    if changes.get("name", row.name) != row.name:
        require_reason(work, f"the name of {row.name}")
    change_row(work, row, version, changes)
    return view_supplier(row)


def list_suppliers(*, after: int | None, limit: int) -> Page[SupplierView]:
    """List suppliers."""
    return page(Supplier.select(), Supplier.id, after=after, limit=limit, view=view_supplier)


def view_supplier(row: Supplier) -> SupplierView:
    return SupplierView(id=row.id, name=row.name, approved=row.approved, version=row.version)


@operation
def add_material(work: Work, *, name: str, kind: MaterialKind, **facts: Annotated[Any, Material]) -> MaterialView:
    """Add a material as its data sheet describes it."""
    _refuse_double(Material, name, "material")
    _check_material(kind, facts)
    _check_gtin(facts.get("gtin"))
    row = Material.create(name=name, kind=kind, **facts)
    work.note(material=row.id, name=name, kind=kind, facts=facts)
    return view_material(row)


@operation
def change_material(work: Work, *, material: int, version: int, **changes: Annotated[Any, Material]) -> MaterialView:
    """Change what is kept of a material; lots keep the dates that they were received with."""
    row = find_row(Material, material, "material")
    merged = {field: changes.get(field, getattr(row, field)) for field in Material._meta.fields}
    _check_material(MaterialKind(row.kind), merged)
    _check_gtin(changes.get("gtin"), but=row.id)
    require_reason(work, f"the card of {row.name}")
    change_row(work, row, version, changes)
    return view_material(row)


def _check_gtin(gtin: str | None, *, but: int | None = None) -> None:
    """Refuse an article number that no code carries (GS1 General Specifications, from memory), or another's."""
    if gtin is None:
        return
    from biip.checksums import gs1_standard_check_digit

    if gs1_standard_check_digit(gtin[:-1]) != int(gtin[-1]):
        raise Unprocessable(
            f"{gtin} was mistyped: its check digit does not fit, so that no scanned code would ever name it.",
            pointer="/gtin",
            way_out="Read the number on the packing again.",
        )
    known = Material.get_or_none(Material.gtin == gtin)
    if known is not None and known.id != but:
        raise AlreadyThere(
            f"{known.name} has the article number {gtin} already.",
            way_out="Read the number on the packing again, or take it from that material first.",
            pointer="/gtin",
            material=known.id,
        )


def _check_material(kind: MaterialKind, facts: dict[str, Any]) -> None:
    if facts.get("supplier") is not None:
        find_row(Supplier, facts["supplier"], "supplier", pointer="/supplier")
    fabric = ("form", "areal_weight_g_m2", "width_mm")
    if kind == MaterialKind.FABRIC and any(facts.get(name) is None for name in fabric):
        raise Unprocessable("A fabric needs its form, its areal weight and its width.", pointer="/form")
    if facts.get("least_stock_mg") is not None and facts.get("least_stock_mm") is not None:
        raise Unprocessable("Give the least by mass or by length, one of the two.", pointer="/least_stock_mm")
    low, high = facts.get("storage_low_c"), facts.get("storage_high_c")
    if (low is None) != (high is None) or (low is not None and high is not None and low >= high):
        raise Unprocessable(
            "Give both ends of the storage range, the lowest temperature below the highest.", pointer="/storage_low_c"
        )
    for number, one in enumerate(facts.get("bears") or ()):
        if low is None or high is None:
            raise Unprocessable("What it bears needs the range that it keeps at.", pointer="/storage_low_c")
        if low <= one["temperature_c"] <= high:
            raise Unprocessable(
                f"It keeps at {low:g} to {high:g} °C; what it bears lies outside of that.",
                pointer=f"/bears/{number}/temperature_c",
            )
    _check_hazards(facts.get("h_codes") or ())
    _check_peroxide(kind, facts)


def _check_hazards(h_codes: Sequence[str]) -> None:
    for number, written in enumerate(h_codes):
        try:
            statement(written)
        except UnknownHazard as unknown:
            raise Unprocessable(str(unknown), pointer=f"/h_codes/{number}") from None


def _check_peroxide(kind: MaterialKind, facts: dict[str, Any]) -> None:
    given = {name: facts.get(name) for name in ("organic_peroxide", "acetone", "h_codes") if facts.get(name)}
    peroxide = is_organic_peroxide(Material(kind=kind, **{"h_codes": [], **given}))
    if peroxide and (kind == MaterialKind.PROMOTER or facts.get("acetone")):
        raise Unprocessable("A promoter, or acetone, is no organic peroxide; look at the marks.", pointer="/kind")
    for name in ("emergency_c", "vented_container"):
        if facts.get(name) is not None and not peroxide:
            raise Unprocessable("This belongs to an organic peroxide; mark the material as one.", pointer=f"/{name}")


def read_material(material: int) -> MaterialView:
    """One material."""
    return view_material(find_row(Material, material, "material"))


def list_materials(
    *, after: int | None, limit: int, kind: MaterialKind | None = None, name: str | None = None
) -> Page[MaterialView]:
    """List materials, all or of one kind."""
    query = Material.select()
    if kind is not None:
        query = query.where(Material.kind == kind)
    if name is not None:
        query = query.where(Material.name == name)
    return page(query, Material.id, after=after, limit=limit, view=view_material)


def view_material(row: Material) -> MaterialView:
    block = hazard_block(tuple(row.h_codes))
    plain = {
        name: getattr(row, name)
        for name in MaterialView.__slots__
        if name not in ("supplier", "h_codes", "hazards", "organic_peroxide", "incoming_checks", "cautions", "bears")
    }
    return MaterialView(
        **plain,
        supplier=row.supplier_id,
        h_codes=tuple(row.h_codes),
        hazards=Hazards(
            signal_word=block.signal_word,
            pictograms=tuple(block.pictograms),
            statements=tuple({"code": code, "text": text} for code, text in block.statements),
        ),
        organic_peroxide=is_organic_peroxide(row),
        incoming_checks=tuple(row.incoming_checks),
        cautions=cautions_of(row),
        bears=tuple(row.bears),
    )


@operation
def withdraw_item(work: Work, *, code: str) -> ItemRef:
    """Take a mould, a scale or a place out of use."""
    item = ledger.lock_one(work, code, Kind.MOULD, Kind.SCALE, Kind.PLACE)
    ledger.set_state(work, item, State.WITHDRAWN)
    return ref(item)


def _refuse_double(table: Any, name: str, what: str) -> None:
    known = table.get_or_none(table.name == name)
    if known is not None:
        way_out = "Use it, or give the new one another name."
        raise AlreadyThere(f"There is a {what} {name} already.", way_out=way_out, **{what: known.id})


def numbers_of(
    *, material: Collection[str], supplier: Collection[str], place: Collection[str]
) -> dict[str, dict[str, Any]]:
    """Numbers of the materials and suppliers, and codes of the places, that are called so; of those that there are."""
    found: dict[str, dict[str, Any]] = {"material": {}, "supplier": {}, "place": {}}
    if material:
        rows = Material.select(Material.name, Material.id).where(Material.name.in_(material))
        found["material"] = {row.name: row.id for row in rows}
    if supplier:
        found["supplier"] = {
            row.name: row.id for row in Supplier.select(Supplier.name, Supplier.id).where(Supplier.name.in_(supplier))
        }
    if place:
        places = Item.select(Item.name, Item.code).where((Item.kind == Kind.PLACE) & Item.name.in_(place))
        found["place"] = {row.name: row.code for row in places}
    return found
