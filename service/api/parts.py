"""Parts from their start to their shipment, and what is found wrong with anything."""

from schemas.inspection import (
    DecisionIn,
    InspectionIn,
    NonconformanceIn,
    NonconformanceOut,
    NonconformanceQuery,
    ReleaseCheckOut,
    ReleaseIn,
    ShipmentIn,
)
from schemas.part_steps import PartStepIn
from schemas.parts import (
    CloseIn,
    DemouldIn,
    FitIn,
    LayKitIn,
    LayPlyIn,
    PartIn,
    PartOut,
    PartQuery,
    PartRowOut,
    PartScrapIn,
    TrimIn,
    UseIn,
)
from service.api.base import Blueprint
from service.operations import inspecting, laying, nonconformances, part_steps, part_views, parts, releasing

blp = Blueprint("parts", "Parts: laid up, demoulded, inspected, released, shipped")

_PART = "/parts/<code(P):part>"

blp.listing("/parts", part_views.list_parts, PartRowOut, PartQuery)
blp.write("/parts", parts.start_part, PartOut, PartIn)
blp.read(_PART, part_views.read_part, PartOut)
blp.write(f"{_PART}/kits", laying.lay_kit, PartOut, LayKitIn)
blp.write(f"{_PART}/plies", laying.lay_ply, PartOut, LayPlyIn)
blp.write(f"{_PART}/uses", laying.use_on_part, PartOut, UseIn)
blp.write(f"{_PART}/steps", part_steps.record_part_step, PartOut, PartStepIn)
blp.write(f"{_PART}/closing", laying.close_lay_up, PartOut, CloseIn)
blp.write(f"{_PART}/components", parts.bond_part, PartOut, FitIn)
blp.write(f"{_PART}/demoulding", part_steps.demould, PartOut, DemouldIn)
blp.write(f"{_PART}/trimming", part_steps.trim, PartOut, TrimIn)
blp.write(f"{_PART}/scrapping", parts.scrap_part, PartOut, PartScrapIn)
blp.write(f"{_PART}/inspections", inspecting.inspect_part, PartOut, InspectionIn)
blp.read(f"{_PART}/release", releasing.check_release, ReleaseCheckOut)
blp.write(f"{_PART}/release", releasing.release_part, PartOut, ReleaseIn)
blp.write(f"{_PART}/shipment", releasing.ship_part, PartOut, ShipmentIn)
blp.listing("/nonconformances", nonconformances.list_nonconformances, NonconformanceOut, NonconformanceQuery)
blp.write("/nonconformances", inspecting.open_nonconformance, NonconformanceOut, NonconformanceIn)
blp.read("/nonconformances/<number:nonconformance>", nonconformances.read_nonconformance, NonconformanceOut)
blp.write(
    "/nonconformances/<number:nonconformance>/decision", inspecting.decide_nonconformance, NonconformanceOut, DecisionIn
)
