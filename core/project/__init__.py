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
from core.project.output import LabelSheet, Output

__all__ = [
    "CutBy",
    "Drawing",
    "Grain",
    "KeptLayout",
    "LabelSheet",
    "Mark",
    "Output",
    "Panel",
    "Placed",
    "Project",
    "ReliefKind",
    "SawnSheet",
    "SeamLine",
    "SplitChoice",
    "StyleChoice",
]
