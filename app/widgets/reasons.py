"""What cannot be pressed says why in its tooltip."""

from __future__ import annotations

from PySide6.QtWidgets import QWidget

_PLAIN = "plain-tip"


def set_able(widget: QWidget, able: bool, why: str) -> None:
    """Enable a widget, or disable it and add why to what its tooltip says anyway."""
    said = widget.property(_PLAIN)
    if said is None:
        said = widget.toolTip()
        widget.setProperty(_PLAIN, said)
    widget.setEnabled(able)
    widget.setToolTip(said if able else f"{said}\n{why}".strip())
    widget.setAccessibleDescription("" if able else why)
