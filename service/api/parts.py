"""Parts from their start to their shipment, and what is found wrong with anything."""

from schemas.parts import (
    CloseIn,
    DecisionIn,
    DemouldIn,
    FitIn,
    InspectionIn,
    LayKitIn,
    LayPlyIn,
    NonconformanceIn,
    NonconformanceQuery,
    PartIn,
    PartQuery,
    PartScrapIn,
    PartStepIn,
    ReleaseIn,
    ShipmentIn,
    TrimIn,
    UseIn,
)
from schemas.setting_up import PartsIn
from service.api.base import Blueprint
from service.operations import setting_up
from service.operations.parts import findings, flagged, inspecting, laying, releasing, starting, steps, view

blp = Blueprint("parts", "Parts: laid up, demoulded, inspected, released, shipped")

_PART = "/parts/<code(P):part>"

blp.listing("/parts", view.list_parts, PartQuery)
blp.write("/parts", starting.start_part, PartIn)
blp.write("/parts/batch", setting_up.start_parts, PartsIn)
blp.read(_PART, view.read_part)
blp.listing(f"{_PART}/flags", flagged.list_part_flags)
blp.write(f"{_PART}/kits", laying.lay_kit, LayKitIn)
blp.write(f"{_PART}/plies", laying.lay_ply, LayPlyIn)
blp.write(f"{_PART}/uses", laying.use_on_part, UseIn)
blp.write(f"{_PART}/steps", steps.record_part_step, PartStepIn)
blp.write(f"{_PART}/closing", laying.close_lay_up, CloseIn)
blp.write(f"{_PART}/components", starting.bond_part, FitIn)
blp.write(f"{_PART}/demoulding", steps.demould, DemouldIn)
blp.write(f"{_PART}/trimming", steps.trim, TrimIn)
blp.write(f"{_PART}/scrapping", starting.scrap_part, PartScrapIn)
blp.write(f"{_PART}/inspections", inspecting.inspect_part, InspectionIn)
blp.read(f"{_PART}/release", releasing.check_release, right="read_work")
blp.write(f"{_PART}/release", releasing.release_part, ReleaseIn)
blp.write(f"{_PART}/shipment", releasing.ship_part, ShipmentIn)
blp.listing("/nonconformances", findings.list_nonconformances, NonconformanceQuery, right="read_work")
blp.write("/nonconformances", inspecting.open_nonconformance, NonconformanceIn)
blp.read("/nonconformances/<number:nonconformance>", findings.read_nonconformance, right="read_work")
blp.write("/nonconformances/<number:nonconformance>/decision", inspecting.decide_nonconformance, DecisionIn)
