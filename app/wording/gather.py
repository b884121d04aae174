"""Gathers the sentences of the core for translation: ``python -m app.wording.gather``.

Writes app/wording/table.py anew. The source itself is read, so that no sentence is left out or
out of date; a test fails while the table is not what this would write.
"""

from __future__ import annotations

import ast
import json
import re
import subprocess
import sys
from collections.abc import Iterator
from dataclasses import replace
from pathlib import Path

from app.wording.source import Place, World, read_world, returns
from app.wording.template import Hole, Template, has_words, holds_words, numbered
from app.wording.texts import TEXT_FIELDS, Texts

TABLE = Path(__file__).with_name("table.py")
_FEW = 4  # letters, too few to know a sentence by
_WIDE = 84  # of a row of text in the table

# Paper stays English: of the reports only what the window shows.
_ON_PAPER = "core.reports."
_SHOWN_OF_REPORTS = ("core.reports.ways", "core.reports.alternatives")
# Calls that hand a sentence on through a parameter or a list: which argument it is.
_HANDED = {"tell": (2, "message"), "progress": (1, "text"), "note": (1, "message")}
# Counters of what a drawing held, by a word that is said.
_COUNTED = ("skipped", "counted")
_UNSAID = ("hidden",)  # told in a sentence of its own
# A field that is called as those for readers are and holds a code.
_CODES = {("TakenUnit", "why")}
# One that is called as names of the maker's own are and holds words.
_NAMES = {("Alternative", "name")}
# Functions whose texts the window shows as they are.
_SAID = ("explain_thickness", "piece_words", "use_words", "reach_problem")
_CODE = re.compile(r"[a-z]+(-[a-z]+)+")


def gathered() -> tuple[dict[str, list[Template]], list[str]]:
    """Templates by the module they were found in, and what joins parts of a list."""
    world = read_world()
    texts = Texts(world)
    found: dict[Template, str] = {}
    for node, place, many in _roots(world):
        for template in texts.elements(node, place) if many else texts.of(node, place):
            if has_words(template) or holds_words(template):
                found.setdefault(template, place.module.name)
    for template, module in texts.fragments.items():
        found.setdefault(template, module)
    found = {template: module for template, module in found.items() if not _thin(template)}
    merged: dict[str, tuple[Template, str]] = {}
    for template, module in found.items():
        template = numbered(template)
        key = "".join(p if isinstance(p, str) else "{}" for p in template)
        known = merged.get(key)
        merged[key] = (_widest(known[0], template), known[1]) if known else (template, module)
    rows: dict[str, list[Template]] = {}
    for template, module in merged.values():
        rows.setdefault(module, []).append(template)
    return rows, sorted(s for s in texts.separators if s.strip())


def _thin(template: Template) -> bool:
    """True for one like "{a} for {b}", which any sentence might be of."""
    said = "".join(part for part in template if isinstance(part, str))
    kinds = [part.kind for part in template if isinstance(part, Hole)]
    return (
        kinds.count("value") > 1
        and "words" not in kinds
        and sum(sign.isalpha() for sign in said) < _FEW
    )


def written(template: Template) -> str:
    """The template as a translator sees it."""
    return "".join(p if isinstance(p, str) else "{" + p.name + "}" for p in template)


def _widest(one: Template, two: Template) -> Template:
    """Two templates of the same words as one that takes what either takes."""
    rank = ["number", "value", "list", "words"]
    return tuple(
        replace(a, kind=max(a.kind, b.kind, key=rank.index))
        if isinstance(a, Hole) and isinstance(b, Hole)
        else a
        for a, b in zip(one, two, strict=True)
    )


def _roots(world: World) -> Iterator[tuple[ast.expr, Place, bool]]:
    """Every expression that gives a text a reader sees, and whether it is a list of them."""
    for name, calls in world.calls.items():
        for call, place in calls:
            on_paper = place.module.name.startswith(_ON_PAPER)
            shown = not on_paper or place.module.name in _SHOWN_OF_REPORTS
            if world.is_error(name):
                fields = [("what", "str"), ("where", "str"), ("remedy", "str")]
            elif shown and name in world.classes:
                fields = world.classes[name].fields
            elif shown and name == "replace":
                for word in call.keywords:
                    if word.arg in TEXT_FIELDS:
                        yield word.value, place, word.arg.endswith("s")
                continue
            elif shown and name in _HANDED:
                at, keyword = _HANDED[name]
                if at < len(call.args):
                    yield call.args[at], place, False
                for word in call.keywords:
                    if word.arg in (keyword, "remedy"):
                        yield word.value, place, False
                continue
            else:
                continue
            yield from _given(call, name, fields, place)
    for module in world.modules.values():
        for name in _SAID:
            for function in module.functions.get(name, ()):
                many = function.returns is not None and ast.unparse(function.returns) != "str"
                yield from ((text, Place(module, (function,)), many) for text in returns(function))
        if not module.name.startswith(_ON_PAPER):
            for node, functions in module.nodes:
                yield from ((text, Place(module, functions), False) for text in _aside(node))


def _aside(node: ast.AST) -> Iterator[ast.expr]:
    """Texts put by with a code beside them, and words by which something is counted."""
    if isinstance(node, ast.Tuple) and len(node.elts) == 2:
        code, text = node.elts
        if _is_code(code) and isinstance(text, ast.JoinedStr | ast.Constant | ast.BinOp):
            yield from () if _is_code(text) else (text,)
    elif isinstance(node, ast.Subscript):
        name = getattr(node.value, "attr", "") or getattr(node.value, "id", "")
        word = node.slice
        if name in _COUNTED and isinstance(word, ast.Constant) and word.value not in _UNSAID:
            yield word


def _is_code(node: ast.expr) -> bool:
    return isinstance(node, ast.Constant) and bool(_CODE.fullmatch(str(node.value)))


def _given(
    call: ast.Call, name: str, fields: list[tuple[str, str]], place: Place
) -> Iterator[tuple[ast.expr, Place, bool]]:
    """What a call gives for the fields of a class that a reader sees."""
    for k, (field, kind) in enumerate(fields):
        seen = field in TEXT_FIELDS and (name, field) not in _CODES
        if "str" not in kind or not (seen or (name, field) in _NAMES):
            continue
        many = "tuple" in kind or "list" in kind
        if k < len(call.args) and not any(isinstance(a, ast.Starred) for a in call.args):
            yield call.args[k], place, many
        for word in call.keywords:
            if word.arg == field:
                yield word.value, place, many


def source_of_table() -> str:
    """What app/wording/table.py is to hold, not yet laid out."""
    rows, separators = gathered()
    lines = [_HEAD, "JOINTS = ("]
    lines += [f"    tr({_quoted(text)})," for text in separators]
    lines += [")", "", "SENTENCES = ("]
    for module, templates in sorted(rows.items()):
        lines.append(f"    # {module}")
        for template in templates:
            holes = [p for p in template if isinstance(p, Hole)]
            named = ""
            for kind in ("words", "number", "list"):
                names = " ".join(hole.name for hole in holes if hole.kind == kind)
                named += f", {kind}={_quoted(names)}" if names else ""
            lines.append(f"    said(tr({_literal(written(template))}){named}),")
    return "\n".join([*lines, ")", ""])


_HEAD = '''"""Sentences of the core for the translation tool, written by app/wording/gather.py.

No hand edits: what is gathered next takes its place.

words: places that hold words or sentences of this table again. number: places for a number.
list: places for values with words of JOINTS between.
"""

from __future__ import annotations

from app.i18n import marked as tr
from app.wording.match import said
'''


def _quoted(text: str) -> str:
    return json.dumps(text, ensure_ascii=False)


def _literal(text: str) -> str:
    """A text as rows of the source that are not too long."""
    rows = [""]
    for word in re.findall(r"\S*\s*", text):
        if len(_quoted(rows[-1] + word)) > _WIDE and rows[-1]:
            rows.append("")
        rows[-1] += word
    return " ".join(_quoted(row) for row in rows)


def main() -> None:
    """Write the table anew."""
    TABLE.write_text(source_of_table(), encoding="utf-8")
    subprocess.run([sys.executable, "-m", "ruff", "format", "-q", str(TABLE)], check=True)


if __name__ == "__main__":
    main()
