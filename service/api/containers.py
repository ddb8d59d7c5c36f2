"""Cans, drums, bottles, jugs and rolls."""

from schemas.containers import ContainerOut, ContainerQuery, DecantIn, ScrapIn, WeighBackIn
from schemas.items import ItemOut, MoveIn
from service.api.base import Blueprint
from service.operations import container_views, containers

blp = Blueprint("containers", "Cans, drums, bottles, jugs and rolls")

blp.listing("/containers", container_views.list_containers, ContainerOut, ContainerQuery)
blp.read("/containers/<code(C):container>", container_views.read_container, ContainerOut)
blp.write("/containers/<code(C):container>/opening", containers.open_container, ContainerOut)
blp.write("/containers/<code(C):container>/decants", containers.decant, ContainerOut, DecantIn)
blp.write("/containers/<code(C):container>/weighings", containers.weigh_back, ContainerOut, WeighBackIn)
blp.write("/containers/<code(C):container>/scrapping", containers.scrap_container, ContainerOut, ScrapIn)
blp.write("/items/<code(C,K,M,P,T,S):code>/moves", containers.move_item, ItemOut, MoveIn)
