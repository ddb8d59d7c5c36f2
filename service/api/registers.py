"""Suppliers, materials and places."""

from schemas.items import ItemOut, NameIn
from schemas.registers import (
    MaterialChange,
    MaterialIn,
    MaterialOut,
    MaterialQuery,
    StorageReadingIn,
    StorageReadingOut,
    SupplierChange,
    SupplierIn,
    SupplierOut,
)
from service.api.base import Blueprint
from service.operations.stock import registers

blp = Blueprint("registers", "Suppliers, materials and places")

blp.listing("/suppliers", registers.list_suppliers, SupplierOut)
blp.write("/suppliers", registers.add_supplier, SupplierOut, SupplierIn)
blp.edit("/suppliers/<number:supplier>", registers.change_supplier, SupplierOut, SupplierChange)
blp.listing("/materials", registers.list_materials, MaterialOut, MaterialQuery)
blp.write("/materials", registers.add_material, MaterialOut, MaterialIn)
blp.read("/materials/<number:material>", registers.read_material, MaterialOut)
blp.edit("/materials/<number:material>", registers.change_material, MaterialOut, MaterialChange)
blp.listing("/places", registers.list_places, ItemOut)
blp.write("/places", registers.add_place, ItemOut, NameIn)
blp.write("/places/<code(A):place>/readings", registers.record_storage_reading, StorageReadingOut, StorageReadingIn)
blp.write("/items/<code(T,S,A):code>/withdrawal", registers.withdraw_item, ItemOut)
