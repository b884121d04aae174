"""Pictures are as fine as the screen from 100 to 300 %, in a window of its own process."""

from __future__ import annotations

import json
import os
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[2]

# Qt takes the scale once, when it starts.
LOOK = """
import json, sys, time
from pathlib import Path
from PySide6.QtWidgets import QAbstractButton, QLabel, QListWidget
from app.main import application, make_window
from app.preferences import Preferences
from app.looks import apply_preferences
from core.project.file import load_project

app = application()
preferences = Preferences(None)
preferences.set("less_motion", True)
apply_preferences(preferences)
window = make_window(preferences, None)
window.resize(1000, 640)
window.show()
window.document.take(load_project(Path(sys.argv[1])), None)
until = time.monotonic() + 60
derived, jobs = window.context.derived, window.context.jobs
coarse = set()
ratio = window.devicePixelRatioF()
seen = 0
for stage in range(4):
    window.open_stage(stage)
    app.processEvents()
    while time.monotonic() < until and not (jobs.is_idle() and derived.is_current):
        app.processEvents()
        time.sleep(0.005)
    app.processEvents()
    for widget in window.findChildren(QAbstractButton):
        icon, size = widget.icon(), widget.iconSize()
        if widget.isVisible() and not icon.isNull():
            seen += 1
            image = icon.pixmap(size, ratio)
            if max(image.width() / size.width(), image.height() / size.height()) < ratio - 0.1:
                coarse.add(f"icon of {widget.text() or widget.toolTip()}: {image.size()}")
    pictures = [
        (f"picture on {type(label.parent()).__name__}", label.pixmap())
        for label in window.findChildren(QLabel)
        if label.isVisible() and not label.pixmap().isNull()
    ]
    for rows in window.findChildren(QListWidget):
        for i in range(rows.count() if rows.isVisible() else 0):
            icon = rows.item(i).icon()
            if not icon.isNull():
                image = icon.pixmap(rows.iconSize(), ratio)
                pictures.append((f"row {rows.item(i).text()}", image))
    for name, image in pictures:
        seen += 1
        if image.devicePixelRatio() < ratio - 0.01:
            coarse.add(f"{name}: {image.devicePixelRatio():g}")
print(json.dumps({"ratio": ratio, "seen": seen, "coarse": sorted(coarse)}))
window.document.close()
jobs.close()
sys.stdout.flush()
import os
os._exit(0)
"""


def test_every_icon_and_thumbnail_has_the_pixels_of_the_screen() -> None:
    scale = 3.0
    demo = ROOT / "demo_projects/studio_counter/studio_counter.json"
    done = subprocess.run(
        [sys.executable, "-c", LOOK, str(demo)],
        cwd=ROOT,
        env={**os.environ, "QT_QPA_PLATFORM": "offscreen", "QT_SCALE_FACTOR": str(scale)},
        capture_output=True,
        text=True,
        timeout=120,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    said = json.loads(done.stdout.splitlines()[-1])
    assert said["ratio"] == pytest.approx(scale)
    assert said["seen"] > 40
    assert not said["coarse"], "\n".join(said["coarse"])
