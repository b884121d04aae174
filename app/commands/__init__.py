"""Everything that can change the document, one module per group; each change is a value."""

from app.commands.base import (
    DRAWINGS,
    EVERYTHING,
    LAYOUT,
    OUTPUT,
    PANELS,
    PROJECT,
    SEAMS,
    SHOP,
    Command,
    Edit,
    Together,
)
from app.commands.layout import RemoveLayout, SetLayout, SetPlaced, ShowLayout
from app.commands.output import SetOutput
from app.commands.panels import AddPanels, Adopt, RemovePanels, ReplacePanels, SetPanels
from app.commands.project import SetProject
from app.commands.shop import RenameMaterial, SetShop, SetShopList, SetShopPart

__all__ = [
    "DRAWINGS",
    "EVERYTHING",
    "LAYOUT",
    "OUTPUT",
    "PANELS",
    "PROJECT",
    "SEAMS",
    "SHOP",
    "AddPanels",
    "Adopt",
    "Command",
    "Edit",
    "RemoveLayout",
    "RemovePanels",
    "RenameMaterial",
    "ReplacePanels",
    "SetLayout",
    "SetOutput",
    "SetPanels",
    "SetPlaced",
    "SetProject",
    "SetShop",
    "SetShopList",
    "SetShopPart",
    "ShowLayout",
    "Together",
]
