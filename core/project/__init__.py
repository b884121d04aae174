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
    SawnSheet,
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
    "SawnSheet",
    "SeamLine",
    "SplitChoice",
    "StyleChoice",
]
