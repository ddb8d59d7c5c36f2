"""Cans, drums, bottles, jugs and rolls."""

from schemas.containers import ContainerQuery, DecantIn, MoveIn, ScrapIn, WeighBackIn
from service.api.base import Blueprint
from service.operations.stock import containers, weighing_back
from service.operations.stock.containers import list_containers, read_container

blp = Blueprint("containers", "Cans, drums, bottles, jugs and rolls")

blp.listing("/containers", list_containers, ContainerQuery)
blp.read("/containers/<code(C):container>", read_container)
blp.write("/containers/<code(C):container>/opening", containers.open_container)
blp.write("/containers/<code(C):container>/decants", containers.decant, DecantIn)
blp.write("/containers/<code(C):container>/weighings", weighing_back.weigh_back, WeighBackIn)
blp.write("/containers/<code(C):container>/scrapping", containers.scrap_container, ScrapIn)
blp.write("/items/<code(C,K,M,P,T,S):code>/moves", containers.move_item, MoveIn)
