"""Every text a person reads in the window can be translated: what the source itself tells."""

from __future__ import annotations

import ast
import re
from collections.abc import Iterator
from pathlib import Path

import pytest

ROOT = Path(__file__).resolve().parents[1]
FILES = sorted(
    path for path in (ROOT / "app").rglob("*.py") if not path.name.startswith(("cli", "__main__"))
)

#: call → which of its arguments a person reads
SHOWN = {
    **dict.fromkeys(
        [
            "setText",
            "setToolTip",
            "setWindowTitle",
            "setPlaceholderText",
            "setAccessibleName",
            "setTitle",
            "setAccessibleDescription",
            "setStatusTip",
            "setWhatsThis",
            "setSuffix",
            "setPrefix",
            "setLabelText",
            "setSpecialValueText",
            "setHeaderLabels",
            "setHorizontalHeaderLabels",
            "setHtml",
            "setPlainText",
            "set_text",
            "set_short",
            "told",
            "show_note",
            "words",
            "Heading",
            "Section",
            "tool",
            "QLabel",
            "QAction",
            "QPushButton",
            "QToolButton",
            "QCheckBox",
            "QRadioButton",
            "QGroupBox",
            "QMenu",
            "QListWidgetItem",
            "QTableWidgetItem",
            "QTreeWidgetItem",
            "addItem",
            "addItems",
            "addMenu",
            "addTab",
            "Choice",
            "LengthField",
            "NumberField",
            "SizeField",
            "TextField",
            "Canvas",
            "Sketch",
        ],
        (0,),
    ),
    "addAction": (0, 1),
    "setTabText": (1,),
    "setTabToolTip": (1,),
    "setItemText": (1,),
    "showText": (1,),
    "show_hover": (0,),
    "drawText": (0, 1, 2),
    "button": (0, 3),
    "say": (1,),
    "tell": (1,),
    "Spec": (1, 3, 4),
    "start": (0,),  # of a job: its title
    "confirm": (0, 1),
    "choose": (0, 2),
}
WORDS = re.compile(r"[^\W\d_]{2,}")


def name_of(call: ast.Call) -> str:
    f = call.func
    return f.attr if isinstance(f, ast.Attribute) else getattr(f, "id", "")


def bare(node: ast.expr) -> Iterator[ast.Constant]:
    """Pieces of text within an expression that pass no tr()."""
    if isinstance(node, ast.Constant):
        if isinstance(node.value, str) and WORDS.search(node.value):
            yield node
    elif isinstance(node, ast.JoinedStr):
        for value in node.values:
            yield from bare(value.value if isinstance(value, ast.FormattedValue) else value)
    elif isinstance(node, ast.BinOp):
        yield from bare(node.left)
        yield from bare(node.right)
    elif isinstance(node, ast.IfExp):
        yield from bare(node.body)
        yield from bare(node.orelse)
    elif isinstance(node, ast.BoolOp | ast.List | ast.Tuple):
        for value in node.values if isinstance(node, ast.BoolOp) else node.elts:
            yield from bare(value)
    elif isinstance(node, ast.GeneratorExp | ast.ListComp):
        yield from bare(node.elt)
    elif isinstance(node, ast.Call) and name_of(node) == "format":
        if isinstance(node.func, ast.Attribute):
            yield from bare(node.func.value)
    elif isinstance(node, ast.Call) and name_of(node) == "join":
        for value in node.args:
            yield from bare(value)


def untranslated(source: str) -> list[tuple[int, str]]:
    """(line, text) of every text that is shown, raised or put into tr() and no tool finds."""
    found: list[tuple[int, str]] = []
    for node in ast.walk(ast.parse(source)):
        if not isinstance(node, ast.Call):
            continue
        name = name_of(node)
        if name == "tr" and not (len(node.args) == 1 and isinstance(node.args[0], ast.Constant)):
            found.append((node.lineno, f"tr of no plain text: {ast.unparse(node)}"))
        shown: list[ast.expr] = []
        if name in SHOWN:
            shown = [node.args[i] for i in SHOWN[name] if i < len(node.args)]
        elif name.endswith("Error") and name not in ("ValueError", "RuntimeError", "KeyError"):
            shown = list(node.args)
        found += [(text.lineno, str(text.value)) for arg in shown for text in bare(arg)]
    return found


@pytest.mark.parametrize(
    ("source", "wrong"),
    [
        ('x.setText("Nothing here")', True),
        ('x.setText(tr("Nothing here"))', False),
        ('x.setText(f"{n} panels")', True),
        ("x.setText(f'{n} · {tr(\"panels\")}')", False),
        ('QLabel(tr("{n} panels").format(n=n))', False),
        ('QLabel("{n} panels".format(n=n))', True),
        ('QLabel(tr(f"{n} panels"))', True),
        ("QLabel(tr(name))", True),
        ('raise TooThinError("It is thin", where, tr("Widen it."))', True),
        ('x.setText("" if a else "several")', True),
        ('x.setText("5 × 3")', False),
    ],
)
def test_the_check_itself_sees_what_it_should(source: str, wrong: bool) -> None:
    assert bool(untranslated(source)) == wrong


#: no words of a language: names of units and products, and the one door for words of the core
ALLOWED = {"Seamwright", "tr of no plain text: tr(text)"}


@pytest.mark.parametrize("path", FILES, ids=lambda p: str(p.relative_to(ROOT)))
def test_every_text_that_is_shown_can_be_translated(path: Path) -> None:
    found = [
        f"{path.relative_to(ROOT)}:{line}: {text}"
        for line, text in untranslated(path.read_text(encoding="utf-8"))
        if text not in ALLOWED
    ]
    assert not found, "\n".join(found)


def names_of_walls() -> set[str]:
    """Every way the core calls a wall of a drawn joint, from its source."""
    source = (ROOT / "core/refit/moves.py").read_text(encoding="utf-8")
    calls = [n for n in ast.walk(ast.parse(source)) if isinstance(n, ast.Call)]
    named = [call.args[2] for call in calls if name_of(call) == "SideMove" and len(call.args) > 2]
    words = {text.value for node in named for text in bare(node)}
    ends = {f"{kind} end" for kind in ("tenon", "tooth")}  # put together from its kind
    return (words - {" end"}) | ends


def test_the_fixed_words_of_the_core_are_marked_for_translation_and_no_others() -> None:
    from app.core_words import fixed_words
    from app.widgets.help import LIBRARIES
    from core.joints import STYLES
    from core.joints.own import OwnTooth
    from core.reports.label_formats import LABEL_FORMATS
    from core.reports.ways import HEADS, MEANING

    shown = {*HEADS, MEANING, *LABEL_FORMATS, *LIBRARIES.values(), OwnTooth.when}
    for style in (*STYLES.values(), OwnTooth):
        shown |= {text for p in style.parameters for text in (p.label, p.help)}
    for style in STYLES.values():
        shown |= {style.title, style.when}
    shown |= names_of_walls()
    assert not shown - set(fixed_words()), "not marked"
    assert not set(fixed_words()) - shown, "nobody says so any more"
