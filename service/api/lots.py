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
from service.operations.stock import lots, receiving
from service.operations.stock.lots import add_certificate, extend_lot, record_incoming_check, reject_lot, release_lot
from service.operations.stock.receiving import read_supplier_code

blp = Blueprint("lots", "Deliveries, opening stock, and the lots that they bring")

blp.ask("/supplier-codes", read_supplier_code, SupplierCodeOut, SupplierCodeIn)
blp.write("/deliveries", receiving.receive_delivery, LotOut, DeliveryIn)
blp.write("/opening-stock", receiving.record_opening_stock, LotOut, OpeningStockIn)
blp.listing("/lots", lots.list_lots, LotOut, LotQuery)
blp.read("/lots/<code(L):lot>", lots.read_lot, LotOut)
blp.write("/lots/<code(L):lot>/certificates", add_certificate, LotOut, CertificateIn)
blp.write("/lots/<code(L):lot>/checks", record_incoming_check, LotOut, IncomingCheckIn)
blp.write("/lots/<code(L):lot>/release", release_lot, LotOut)
blp.write("/lots/<code(L):lot>/rejection", reject_lot, LotOut)
blp.write("/lots/<code(L):lot>/extension", extend_lot, LotOut, ExtensionIn)
