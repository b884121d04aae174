"""Files from which nothing can be had are refused with a sentence, quickly, whatever they hold."""

from __future__ import annotations

import gzip
import io
import zipfile
from pathlib import Path

import ezdxf
import pytest
from drawing_corpus import as_bytes, doc, svg

from core.errors import UnreadableDrawing
from core.outlines import limits, read_outlines


def refused(path: Path, *, match: str) -> UnreadableDrawing:
    with pytest.raises(UnreadableDrawing, match=match) as caught:
        read_outlines(path)
    assert caught.value.where == str(path)
    assert caught.value.remedy
    return caught.value


def zipped() -> bytes:
    stream = io.BytesIO()
    with zipfile.ZipFile(stream, "w") as pack:
        pack.writestr("a.txt", "a")
    return stream.getvalue()


@pytest.mark.parametrize(
    ("name", "data", "says"),
    [
        ("empty.dxf", b"", "empty"),
        ("blank.dxf", b" \r\n\n", "empty"),
        ("zeros.dxf", bytes(1000), "empty"),
        ("picture.dxf", b"\x89PNG\r\n\x1a\n" + bytes(range(256)), "PNG picture"),
        ("photo.svg", b"\xff\xd8\xff\xe0" + bytes(100), "JPEG picture"),
        ("paper.dxf", b"%PDF-1.7\n...", "a PDF"),
        ("pack.dxf", zipped(), "ZIP archive"),
        ("other.dxf", b"AC1032" + bytes(100), "DWG drawing"),
        ("noise.dxf", bytes((k * 73 + 41) % 251 for k in range(5000)), "neither DXF nor SVG"),
        ("letter.dxf", b"Dear maker,\nplease find enclosed\n", "neither DXF nor SVG"),
        ("page.svg", b"<!DOCTYPE html><html><body>no</body></html>", "web page"),
        ("data.svg", b"<data><a/></data>", "XML file without a drawing"),
        ("odd.svg", b'<data xmlns:svg="x"><svg:svg/></data>', "not a drawing"),
        ("broken.svg", b"<svg", "XML cannot be read"),
        ("words.dxf", b"SECTION of the story\nwithout any tags\n", "no line to cut|not a DXF"),
        ("half.svgz", gzip.compress(b"<svg/>" * 1000, mtime=0)[:40], "damaged|XML|no line"),
    ],
)
def test_what_is_no_drawing_is_named(name: str, data: bytes, says: str, tmp_path: Path) -> None:
    path = tmp_path / name
    path.write_bytes(data)
    refused(path, match=says)


def test_a_missing_file_and_a_folder_are_named(tmp_path: Path) -> None:
    refused(tmp_path / "nothing.dxf", match="no such file")
    refused(tmp_path, match="folder")


def test_a_name_no_file_can_have_is_refused() -> None:
    with pytest.raises(UnreadableDrawing):
        read_outlines("a\0b.dxf")


def test_a_drawing_without_lines_says_what_it_holds(tmp_path: Path) -> None:
    made = doc()
    made.modelspace().add_text("only words", height=5)
    made.modelspace().add_solid([(0, 0), (1, 0), (0, 1)])
    made.paperspace().add_line((0, 0), (5, 5))
    path = tmp_path / "words.dxf"
    path.write_bytes(as_bytes(made))
    error = refused(path, match="no line to cut")
    for told in ("1 × SOLID", "1 × text", "paper space"):
        assert told in error.what


def test_an_empty_svg_says_so(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_bytes(svg("<text>words</text>"))
    refused(path, match="no line to cut")


def test_a_packed_svg_is_unpacked(tmp_path: Path) -> None:
    path = tmp_path / "a.svgz"
    path.write_bytes(
        gzip.compress(svg('<rect width="60" height="40" fill="none" stroke="black"/>'))
    )
    assert len(read_outlines(path).outlines) == 1


def test_a_packed_file_that_unfolds_without_end_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "a.svgz"
    path.write_bytes(gzip.compress(bytes(limits.MAX_FILE_BYTES + 1000)))
    refused(path, match="too large")


def test_a_file_above_the_size_bound_is_refused_unread(tmp_path: Path) -> None:
    path = tmp_path / "huge.dxf"
    with open(path, "wb") as stream:
        stream.truncate(limits.MAX_FILE_BYTES + 1)
    refused(path, match="too large")


@pytest.mark.parametrize(
    "dtd",
    [
        '<!ENTITY a "lol"><!ENTITY b "&a;&a;&a;&a;&a;&a;&a;&a;"><!ENTITY c "&b;&b;&b;&b;&b;">',
        '<!ENTITY a SYSTEM "file:///etc/hostname">',
        '<!ENTITY % p "x">',
        '<!ENTITY a "&#38;b;"><!ENTITY b "x">',
    ],
)
def test_xml_entities_that_unfold_or_reach_out_are_refused(dtd: str, tmp_path: Path) -> None:
    path = tmp_path / "bomb.svg"
    body = svg("<text>&a;</text>").decode()
    path.write_text(f'<?xml version="1.0"?><!DOCTYPE svg [{dtd}]>{body}')
    refused(path, match="XML entities")


def test_one_long_entity_used_often_is_refused(tmp_path: Path) -> None:
    path = tmp_path / "bomb.svg"
    body = svg("<text>" + "&a;" * 5000 + "</text>").decode()
    path.write_text(f'<!DOCTYPE svg [<!ENTITY a "{"x" * 5000}">]>{body}')
    refused(path, match="unfold to too much")


def test_references_that_multiply_are_refused(tmp_path: Path) -> None:
    """Twelve levels of ten uses each would draw 10¹² shapes."""
    body = '<g id="l0"><rect width="1" height="1"/></g>'
    for level in range(1, 13):
        uses = f'<use href="#l{level - 1}"/>' * 10
        body += f'<g id="l{level}">{uses}</g>'
    path = tmp_path / "bomb.svg"
    path.write_bytes(svg(f"<defs>{body}</defs><use href='#l12'/>"))
    refused(path, match="unfolds to more than")


def test_groups_nested_a_thousand_deep_are_refused(tmp_path: Path) -> None:
    path = tmp_path / "deep.svg"
    path.write_bytes(svg("<g>" * 5000 + "<rect/>" + "</g>" * 5000))
    refused(path, match="nested too deeply")


def test_blocks_that_multiply_are_refused(tmp_path: Path) -> None:
    """Twelve levels of ten inserts each would draw 10¹² lines."""
    made = doc()
    made.blocks.new("L0").add_line((0, 0), (1, 1))
    for level in range(1, 13):
        block = made.blocks.new(f"L{level}")
        for k in range(10):
            block.add_blockref(f"L{level - 1}", (k, 0))
    made.modelspace().add_blockref("L12", (0, 0))
    path = tmp_path / "bomb.dxf"
    path.write_bytes(as_bytes(made))
    refused(path, match="more than 200 000 shapes")


def test_a_block_repeated_a_billion_times_is_refused(tmp_path: Path) -> None:
    made = doc()
    made.blocks.new("P").add_line((0, 0), (1, 1))
    made.modelspace().add_blockref(
        "P", (0, 0), dxfattribs={"row_count": 32000, "column_count": 32000}
    )
    path = tmp_path / "bomb.dxf"
    path.write_bytes(as_bytes(made))
    refused(path, match="more than 200 000 shapes")


def test_a_block_that_holds_itself_is_left_out(tmp_path: Path) -> None:
    made = doc()
    block = made.blocks.new("SNAKE")
    block.add_lwpolyline([(0, 0), (60, 0), (60, 40)], close=True)
    block.add_blockref("SNAKE", (0.0, 0.0))
    made.modelspace().add_blockref("SNAKE", (0, 0))
    path = tmp_path / "snake.dxf"
    path.write_bytes(as_bytes(made))
    result = read_outlines(path)
    assert len(result.outlines) == 1
    assert "kind-skipped" in {f.code for f in result.findings}


def test_shapes_heaped_on_one_spot_are_refused(tmp_path: Path) -> None:
    made = doc()
    msp = made.modelspace()
    for k in range(4000):
        msp.add_circle((0, 0), 50 + k / 100)
    path = tmp_path / "heap.dxf"
    path.write_bytes(as_bytes(made))
    refused(path, match="on top of each other")


def test_more_shapes_than_the_bound_are_refused_unparsed(tmp_path: Path) -> None:
    line = b"  0\nLINE\n  8\n0\n 10\n0\n 20\n0\n 11\n5\n 21\n5\n"
    path = tmp_path / "many.dxf"
    path.write_bytes(
        b"  0\nSECTION\n  2\nENTITIES\n"
        + line * (limits.MAX_SHAPES + 1)
        + b"  0\nENDSEC\n  0\nEOF\n"
    )
    refused(path, match="more than 200 000 shapes")


def test_an_old_release_is_named(tmp_path: Path) -> None:
    path = tmp_path / "old.dxf"
    path.write_text(
        "  0\nSECTION\n  2\nHEADER\n  9\n$ACADVER\n  1\nAC1002\n  0\nENDSEC\n  0\nEOF\n"
    )
    refused(path, match="very old release")


def test_a_page_of_unequal_stretch_is_read_stretched(tmp_path: Path) -> None:
    path = tmp_path / "a.svg"
    path.write_bytes(
        svg(
            '<rect width="50" height="50" fill="none" stroke="black"/>',
            'width="200mm" height="100mm" viewBox="0 0 100 100" preserveAspectRatio="none"',
        )
    )
    (outline,) = read_outlines(path).outlines
    assert outline.region.bounds == pytest.approx((0, 50, 100, 100))


def test_huge_and_tiny_numbers_give_a_finding_or_a_sentence(tmp_path: Path) -> None:
    for factor in (1e-12, 1e12, 1e90, 1e200):
        made = ezdxf.new("R2010", units=4)
        made.modelspace().add_lwpolyline(
            [(0, 0), (600 * factor, 0), (600 * factor, 400 * factor)], close=True
        )
        made.modelspace().add_circle((0, 0), factor)
        path = tmp_path / "numbers.dxf"
        path.write_bytes(as_bytes(made))
        try:
            assert read_outlines(path).findings
        except UnreadableDrawing as error:
            assert error.remedy


def test_curves_through_points_that_are_no_numbers_do_not_hang(tmp_path: Path) -> None:
    # A transform whose parts overflow and cancel makes control points of no value at all; a
    # library that halves a curve until it is flat would halve such a one for ever.
    overflowing = svg(
        '<g transform="matrix(1e308 -1e308 1e308 1e308 -1e308 0)">'
        '<path d="M0 0 C10 10 20 -10 30 0 z" fill="none" stroke="black"/></g>'
        '<rect x="10" y="10" width="500" height="300" fill="none" stroke="black"/>'
    )
    path = tmp_path / "overflow.svg"
    path.write_bytes(overflowing)
    result = read_outlines(path)
    assert len(result.outlines) == 1
    assert "shape-broken" in {f.code for f in result.findings}
    made = doc()
    msp = made.modelspace()
    msp.add_lwpolyline([(0, 0), (500, 0), (500, 300), (0, 300)], close=True)
    msp.add_open_spline([(0, 0), (7777.5, 100), (200, 0), (300, 50)], degree=3)
    path = tmp_path / "spline.dxf"
    path.write_bytes(as_bytes(made).replace(b"7777.5", b"nan"))
    result = read_outlines(path)
    assert len(result.outlines) == 1
