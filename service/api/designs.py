"""Designs, moulds and kits: what is to be built, in what, and of which cut cloth."""

from schemas.designs import DesignChange, DesignIn, DesignOut, DesignQuery
from schemas.kits import KitIn, KitOut, KitQuery
from schemas.laminates import CuttingOut, CuttingQuery, LaminateOut, MirrorIn
from schemas.moulds import MouldIn, MouldOut, MouldQuery, TreatmentIn
from service.api.base import Blueprint
from service.operations.parts import cutting, designs, kits, laminate, moulds

blp = Blueprint("designs", "Designs, moulds and kits")

blp.listing("/designs", designs.list_designs, DesignOut, DesignQuery)
blp.write("/designs", designs.add_design, DesignOut, DesignIn)
blp.read("/designs/<number:design>", designs.read_design, DesignOut)
blp.edit("/designs/<number:design>", designs.change_design, DesignOut, DesignChange)
blp.write("/designs/<number:design>/approval", designs.approve_design, DesignOut)
blp.read("/designs/<number:design>/cutting", cutting.read_cutting, CuttingOut, CuttingQuery)
blp.read("/designs/<number:design>/laminate", laminate.read_laminate, LaminateOut)
blp.write("/designs/<number:design>/mirror", laminate.mirror_design, DesignOut, MirrorIn)
blp.listing("/moulds", moulds.list_moulds, MouldOut, MouldQuery)
blp.write("/moulds", moulds.add_mould, MouldOut, MouldIn)
blp.read("/moulds/<code(T):mould>", moulds.read_mould, MouldOut)
blp.write("/moulds/<code(T):mould>/treatments", moulds.treat_mould, MouldOut, TreatmentIn)
blp.listing("/kits", kits.list_kits, KitOut, KitQuery)
blp.write("/kits", kits.cut_kit, KitOut, KitIn)
blp.read("/kits/<code(K):kit>", kits.read_kit, KitOut)
