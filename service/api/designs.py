"""Designs, moulds and kits: what is to be built, in what, and of which cut cloth."""

from schemas.designs import (
    CuttingQuery,
    DesignChange,
    DesignIn,
    DesignQuery,
    KitIn,
    KitQuery,
    MirrorIn,
    MouldIn,
    MouldQuery,
    MouldSettingIn,
    TreatmentIn,
)
from service.api.base import Blueprint
from service.operations.parts import cutting, designs, kits, laminate, mirroring, moulds

blp = Blueprint("designs", "Designs, moulds and kits")

blp.listing("/designs", designs.list_designs, DesignQuery)
blp.write("/designs", designs.add_design, DesignIn)
blp.read("/designs/<number:design>", designs.read_design)
blp.edit("/designs/<number:design>", designs.change_design, DesignChange)
blp.write("/designs/<number:design>/approval", designs.approve_design)
blp.read("/designs/<number:design>/cutting", cutting.read_cutting, CuttingQuery)
blp.read("/designs/<number:design>/laminate", laminate.read_laminate)
blp.write("/designs/<number:design>/mirror", mirroring.mirror_design, MirrorIn)
blp.listing("/moulds", moulds.list_moulds, MouldQuery, right="read_work")
blp.write("/moulds", moulds.add_mould, MouldIn)
blp.read("/moulds/<code(T):mould>", moulds.read_mould, right="read_work")
blp.write("/moulds/<code(T):mould>/treatments", moulds.treat_mould, TreatmentIn)
blp.write("/moulds/<code(T):mould>/settings", moulds.set_up_mould, MouldSettingIn)
blp.listing("/moulds/<code(T):mould>/treatments", moulds.list_treatments, right="read_work")
blp.listing("/kits", kits.list_kits, KitQuery, right="read_work")
blp.write("/kits", kits.cut_kit, KitIn)
blp.read("/kits/<code(K):kit>", kits.read_kit, right="read_work")
