"""Suppliers, materials and places."""

from schemas.registers import (
    MaterialChange,
    MaterialIn,
    MaterialQuery,
    NameIn,
    PlaceSettingIn,
    StockWarningQuery,
    StockWatchIn,
    StorageReadingIn,
    StorageReviewIn,
    SupplierChange,
    SupplierIn,
)
from schemas.setting_up import ApprovalsIn, RegistersIn
from service.api.base import Blueprint
from service.operations import setting_up
from service.operations.stock import places, registers, watching

blp = Blueprint("registers", "Suppliers, materials and places")

blp.write("/registers", setting_up.add_registers, RegistersIn)
blp.write("/approvals", setting_up.approve_revisions, ApprovalsIn)
blp.listing("/suppliers", registers.list_suppliers)
blp.write("/suppliers", registers.add_supplier, SupplierIn)
blp.edit("/suppliers/<number:supplier>", registers.change_supplier, SupplierChange)
blp.listing("/materials", registers.list_materials, MaterialQuery)
blp.write("/materials", registers.add_material, MaterialIn)
blp.read("/materials/<number:material>", registers.read_material)
blp.edit("/materials/<number:material>", registers.change_material, MaterialChange)
blp.listing("/places", places.list_places)
blp.write("/places", places.add_place, NameIn)
blp.read("/places/<code(A):place>", places.read_place)
blp.write("/places/<code(A):place>/readings", places.record_storage_reading, StorageReadingIn)
blp.write("/places/<code(A):place>/settings", places.set_up_place, PlaceSettingIn)
blp.write("/places/<code(A):place>/reviews", places.review_storage, StorageReviewIn)
blp.write("/items/<code(T,S,A):code>/withdrawal", registers.withdraw_item)
blp.write("/stock-watches", watching.watch_stock, StockWatchIn)
blp.listing("/stock-warnings", watching.list_stock_warnings, StockWarningQuery)
