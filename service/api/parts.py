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
from service.operations.parts import findings, inspecting, laying, releasing, starting, steps, view

blp = Blueprint("parts", "Parts: laid up, demoulded, inspected, released, shipped")

_PART = "/parts/<code(P):part>"

blp.listing("/parts", view.list_parts, PartRowOut, PartQuery)
blp.write("/parts", starting.start_part, PartOut, PartIn)
blp.read(_PART, view.read_part, PartOut)
blp.write(f"{_PART}/kits", laying.lay_kit, PartOut, LayKitIn)
blp.write(f"{_PART}/plies", laying.lay_ply, PartOut, LayPlyIn)
blp.write(f"{_PART}/uses", laying.use_on_part, PartOut, UseIn)
blp.write(f"{_PART}/steps", steps.record_part_step, PartOut, PartStepIn)
blp.write(f"{_PART}/closing", laying.close_lay_up, PartOut, CloseIn)
blp.write(f"{_PART}/components", starting.bond_part, PartOut, FitIn)
blp.write(f"{_PART}/demoulding", steps.demould, PartOut, DemouldIn)
blp.write(f"{_PART}/trimming", steps.trim, PartOut, TrimIn)
blp.write(f"{_PART}/scrapping", starting.scrap_part, PartOut, PartScrapIn)
blp.write(f"{_PART}/inspections", inspecting.inspect_part, PartOut, InspectionIn)
blp.read(f"{_PART}/release", releasing.check_release, ReleaseCheckOut)
blp.write(f"{_PART}/release", releasing.release_part, PartOut, ReleaseIn)
blp.write(f"{_PART}/shipment", releasing.ship_part, PartOut, ShipmentIn)
blp.listing("/nonconformances", findings.list_nonconformances, NonconformanceOut, NonconformanceQuery)
blp.write("/nonconformances", inspecting.open_nonconformance, NonconformanceOut, NonconformanceIn)
blp.read("/nonconformances/<number:nonconformance>", findings.read_nonconformance, NonconformanceOut)
blp.write(
    "/nonconformances/<number:nonconformance>/decision", inspecting.decide_nonconformance, NonconformanceOut, DecisionIn
)
