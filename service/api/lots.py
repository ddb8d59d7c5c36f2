"""Goods in: receipts, lots, certificates, checks, release."""

from schemas.lots import (
    CertificateIn,
    DeliveryIn,
    DeliveryNoteIn,
    ExtensionIn,
    IncomingCheckIn,
    LotQuery,
    OpeningStockIn,
    ReleasesIn,
    SupplierCodeIn,
)
from schemas.setting_up import DeliveriesIn
from service.api.base import Blueprint
from service.operations import setting_up
from service.operations.stock import lots, receiving
from service.operations.stock.extending import agree_extension, extend_lot
from service.operations.stock.lots import add_certificate, record_incoming_check, reject_lot, release_lot
from service.operations.stock.supplier_codes import read_supplier_code

blp = Blueprint("lots", "Deliveries, opening stock, and the lots that they bring")

blp.ask("/supplier-codes", read_supplier_code, SupplierCodeIn)
blp.write("/deliveries", receiving.receive_delivery, DeliveryIn)
blp.write("/deliveries/batch", setting_up.receive_deliveries, DeliveriesIn)
blp.write("/delivery-notes", receiving.receive_lots, DeliveryNoteIn)
blp.write("/opening-stock", receiving.record_opening_stock, OpeningStockIn)
blp.listing("/lots", lots.list_lots, LotQuery)
blp.read("/lots/<code(L):lot>", lots.read_lot)
blp.write("/lots/<code(L):lot>/certificates", add_certificate, CertificateIn)
blp.write("/lots/<code(L):lot>/checks", record_incoming_check, IncomingCheckIn)
blp.write("/lots/<code(L):lot>/release", release_lot)
blp.write("/lot-releases", lots.release_lots, ReleasesIn)
blp.write("/lots/<code(L):lot>/rejection", reject_lot)
blp.write("/lots/<code(L):lot>/extension", extend_lot, ExtensionIn)
blp.write("/lots/<code(L):lot>/extension/agreement", agree_extension)
