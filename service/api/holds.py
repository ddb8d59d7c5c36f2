"""Holds, permits and concessions."""

from schemas.holds import HoldIn, HoldQuery, LookBackIn, PermissionIn, PermissionQuery, SignatureIn, WithdrawalIn
from service.api.base import Blueprint
from service.operations.ledger import holding, permitting

blp = Blueprint("holds", "Holds, deviation permits and concessions", right="read_work")

blp.listing("/holds", holding.list_holds, HoldQuery)
blp.write("/holds", holding.place_hold, HoldIn)
blp.read("/holds/<number:hold>", holding.read_hold)
blp.write("/holds/<number:hold>/lifting", holding.lift_hold)
blp.write("/look-backs", holding.look_back, LookBackIn)
blp.listing("/permissions", permitting.list_permissions, PermissionQuery)
blp.write("/permissions", permitting.ask_permission, PermissionIn)
blp.read("/permissions/<number:permission>", permitting.read_permission)
blp.write("/permissions/<number:permission>/signature", permitting.sign_permission, SignatureIn)
blp.write("/permissions/<number:permission>/withdrawal", permitting.withdraw_permission, WithdrawalIn)
