"""Goods in: receipts, lots, certificates, checks, release."""

from schemas.lots import (
    CertificateIn,
    DeliveryIn,
    ExtensionIn,
    IncomingCheckIn,
    LotOut,
    LotQuery,
    OpeningStockIn,
    SupplierCodeIn,
    SupplierCodeOut,
)
from service.api.base import Blueprint
from service.operations import lot_release, lots, receiving, supplier_codes

blp = Blueprint("lots", "Deliveries, opening stock, and the lots that they bring")

blp.ask("/supplier-codes", supplier_codes.read_supplier_code, SupplierCodeOut, SupplierCodeIn)
blp.write("/deliveries", receiving.receive_delivery, LotOut, DeliveryIn)
blp.write("/opening-stock", receiving.record_opening_stock, LotOut, OpeningStockIn)
blp.listing("/lots", lots.list_lots, LotOut, LotQuery)
blp.read("/lots/<code(L):lot>", lots.read_lot, LotOut)
blp.write("/lots/<code(L):lot>/certificates", lot_release.add_certificate, LotOut, CertificateIn)
blp.write("/lots/<code(L):lot>/checks", lot_release.record_incoming_check, LotOut, IncomingCheckIn)
blp.write("/lots/<code(L):lot>/release", lot_release.release_lot, LotOut)
blp.write("/lots/<code(L):lot>/rejection", lot_release.reject_lot, LotOut)
blp.write("/lots/<code(L):lot>/extension", lot_release.extend_lot, LotOut, ExtensionIn)
