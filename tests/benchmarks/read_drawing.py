"""How long reading takes: drawings of 20 000 entities made on the spot, and your own files.

Run by hand: ``python tests/benchmarks/read_drawing.py [FILE...]``. The aim is under 3 s on two
cores; the largest silence of the progress report shows whether a window would feel stuck.
"""

from __future__ import annotations

import argparse
import math
import random
import resource
import sys
import tempfile
import time
from pathlib import Path

import ezdxf

sys.path.insert(0, str(Path(__file__).parents[2]))

from core.outlines import read_outlines


def panels(folder: Path) -> Path:
    """2500 rectangles of lines with four holes each: 20 000 entities."""
    doc = ezdxf.new("R2010", units=4)
    msp = doc.modelspace()
    for k in range(2500):
        x, y = 300 * (k % 50), 250 * (k // 50)
        ring = [(x, y), (x + 250, y), (x + 250, y + 200), (x, y + 200)]
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
            msp.add_line(a, b)
        for dx, dy in ((30, 30), (220, 30), (30, 170), (220, 170)):
            msp.add_circle((x + dx, y + dy), 5)
    path = folder / "panels.dxf"
    doc.saveas(path)
    return path


def soup(folder: Path) -> Path:
    """20 000 shuffled lines and arcs of rounded panels, every tenth line drawn twice."""
    doc = ezdxf.new("R2010", units=4)
    msp = doc.modelspace()
    rng = random.Random(1)
    parts: list[tuple] = []
    for k in range(2400):
        x, y, r = 300 * (k % 50), 250 * (k // 50), 20
        parts += [
            ("line", (x + r, y), (x + 250 - r, y)),
            ("line", (x + 250, y + r), (x + 250, y + 200 - r)),
            ("line", (x + 250 - r, y + 200), (x + r, y + 200)),
            ("line", (x, y + 200 - r), (x, y + r)),
            ("arc", (x + r, y + r), 180, 270),
            ("arc", (x + 250 - r, y + r), 270, 360),
            ("arc", (x + 250 - r, y + 200 - r), 0, 90),
            ("arc", (x + r, y + 200 - r), 90, 180),
        ]
    parts += rng.sample(parts, 800)
    rng.shuffle(parts)
    for kind, a, b, *rest in parts:
        if kind == "line":
            msp.add_line(a, b)
        else:
            msp.add_arc(a, 20, b, rest[0])
    path = folder / "soup.dxf"
    doc.saveas(path)
    return path


def chords(folder: Path) -> Path:
    """Twenty curves of 1000 short lines each, as an exporter without arcs writes them."""
    doc = ezdxf.new("R2010", units=4)
    msp = doc.modelspace()
    for k in range(20):
        ring = [
            (
                1000 * k + (300 + 30 * math.sin(5 * t)) * math.cos(t),
                (300 + 30 * math.sin(5 * t)) * math.sin(t),
            )
            for t in (math.tau * i / 1000 for i in range(1000))
        ]
        for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
            msp.add_line(a, b)
    path = folder / "chords.dxf"
    doc.saveas(path)
    return path


def blocks(folder: Path) -> Path:
    """2500 inserts of a block of eight entities."""
    doc = ezdxf.new("R2010", units=4)
    block = doc.blocks.new("PANEL")
    ring = [(0, 0), (250, 0), (250, 200), (0, 200)]
    for a, b in zip(ring, [*ring[1:], ring[0]], strict=True):
        block.add_line(a, b)
    for dx, dy in ((30, 30), (220, 30), (30, 170), (220, 170)):
        block.add_circle((dx, dy), 5)
    for k in range(2500):
        doc.modelspace().add_blockref("PANEL", (300 * (k % 50), 250 * (k // 50)))
    path = folder / "blocks.dxf"
    doc.saveas(path)
    return path


def vectors(folder: Path) -> Path:
    """An SVG of 4000 rectangles, circles and curves."""
    body = "".join(
        f'<rect x="{300 * (k % 50)}" y="{250 * (k // 50)}" width="250" height="200"/>'
        f'<circle cx="{300 * (k % 50) + 50}" cy="{250 * (k // 50) + 50}" r="5"/>'
        f'<path d="M{300 * (k % 50) + 100} {250 * (k // 50) + 100} c20 -40 40 40 60 0 v40 h-60 z"/>'
        for k in range(1333)
    )
    path = folder / "vectors.svg"
    path.write_text(
        '<svg xmlns="http://www.w3.org/2000/svg" width="15000mm" height="7000mm" '
        f'viewBox="0 0 15000 7000"><g fill="none" stroke="black">{body}</g></svg>'
    )
    return path


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("files", nargs="*", type=Path)
    options = parser.parse_args()
    with tempfile.TemporaryDirectory() as folder:
        made = [make(Path(folder)) for make in (panels, soup, chords, blocks, vectors)]
        for path in options.files or made:
            beats: list[float] = []
            start, worked = time.perf_counter(), time.process_time()
            result = read_outlines(
                path, stop=lambda beats=beats: bool(beats.append(time.perf_counter()))
            )
            took, worked = time.perf_counter() - start, time.process_time() - worked
            silence = max(
                b - a for a, b in zip([start, *beats], [*beats, start + took], strict=True)
            )
            print(
                f"{path.name}: {took:.2f} s ({worked:.2f} s of work), "
                f"longest silence {silence:.2f} s, "
                f"{len(result.outlines)} outlines, {len(result.findings)} findings"
            )
    peak = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss / 1024
    print(f"peak memory {peak:.0f} MB")


if __name__ == "__main__":
    main()
