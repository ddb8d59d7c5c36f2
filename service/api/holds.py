"""Holds, permits and concessions."""

from schemas.holds import HoldIn, HoldOut, HoldQuery, LookBackIn, LookBackOut
from schemas.permissions import PermissionIn, PermissionOut, PermissionQuery, SignatureIn
from service.api.base import Blueprint
from service.operations.ledger import holding, permitting

blp = Blueprint("holds", "Holds, deviation permits and concessions")

blp.listing("/holds", holding.list_holds, HoldOut, HoldQuery)
blp.write("/holds", holding.place_hold, HoldOut, HoldIn)
blp.read("/holds/<number:hold>", holding.read_hold, HoldOut)
blp.write("/holds/<number:hold>/lifting", holding.lift_hold, HoldOut)
blp.write("/look-backs", holding.look_back, LookBackOut, LookBackIn)
blp.listing("/permissions", permitting.list_permissions, PermissionOut, PermissionQuery)
blp.write("/permissions", permitting.ask_permission, PermissionOut, PermissionIn)
blp.read("/permissions/<number:permission>", permitting.read_permission, PermissionOut)
blp.write("/permissions/<number:permission>/signature", permitting.sign_permission, PermissionOut, SignatureIn)
