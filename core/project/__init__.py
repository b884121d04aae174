"""The document and its file."""

from core.project.model import (
    CutBy,
    Drawing,
    Grain,
    KeptLayout,
    Mark,
    Panel,
    Placed,
    Project,
    ReliefKind,
    SeamLine,
    SplitChoice,
    StyleChoice,
)

__all__ = [
    "CutBy",
    "Drawing",
    "Grain",
    "KeptLayout",
    "Mark",
    "Panel",
    "Placed",
    "Project",
    "ReliefKind",
    "SeamLine",
    "SplitChoice",
    "StyleChoice",
]
