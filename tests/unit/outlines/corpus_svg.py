"""Test drawings as SVG."""

from __future__ import annotations

from corpus_base import PI, Case, Want, svg, svg_case

_LINE = 'fill="none" stroke="black"'
_RECT = f'<rect x="100" y="50" width="600" height="400" {_LINE}/>'
# On a page 600 high, y 50…450 from the top is 150…550 from below.
_RECT_WANT = Want((100, 150, 700, 550), 240000)

SVG_CASES = (
    svg_case("svg-rect", _RECT, (_RECT_WANT,)),
    svg_case(
        "svg-inches",
        f'<rect x="1" y="1" width="20" height="10" {_LINE}/>',
        (Want((25.4, 25.4, 21 * 25.4, 11 * 25.4), 200 * 25.4**2),),
        head='width="24in" height="12in" viewBox="0 0 24 12"',
        unit="in",
    ),
    svg_case(
        "svg-fine-numbers",
        f'<rect x="10000" y="5000" width="60000" height="40000" {_LINE}/>',
        (_RECT_WANT,),
        head='width="900mm" height="600mm" viewBox="0 0 90000 60000"',
    ),
    svg_case(
        "svg-shifted-page",
        f'<rect x="0" y="0" width="600" height="400" {_LINE}/>',
        (Want((100, 150, 700, 550), 240000),),
        head='width="900mm" height="600mm" viewBox="-100 -50 900 600"',
    ),
    svg_case(
        "svg-pixels",
        f'<rect x="0" y="0" width="960" height="480" {_LINE}/>',
        (Want((0, 0, 254, 127), 254 * 127),),
        ("unit-doubtful",),
        head='width="960" height="480"',
        unit="px",
    ),
    svg_case(
        "svg-no-size",
        f'<rect x="0" y="0" width="960" height="480" {_LINE}/>',
        (Want((0, 0, 254, 127), 254 * 127),),
        ("unit-doubtful",),
        head='width="100%" viewBox="0 0 960 480"',
        unit="px",
    ),
    svg_case(
        "svg-shapes",
        f'<g {_LINE}><circle cx="150" cy="150" r="100" transform="rotate(20 150 150)"/>'
        '<ellipse cx="450" cy="150" rx="120" ry="60"/>'
        '<polygon points="600,50 800,50 800,250"/>'
        '<rect x="50" y="350" width="300" height="200" rx="40"/>'
        '<polyline points="400,350 600,350 600,550 400,550 400,350"/></g>',
        (
            Want((50, 350, 250, 550), PI * 10000),
            Want((330, 390, 570, 510), PI * 120 * 60),
            Want((600, 350, 800, 550), 20000),
            Want((50, 50, 350, 250), 60000 - (4 - PI) * 1600),
            Want((400, 50, 600, 250), 40000),
        ),
    ),
    svg_case(
        "svg-paths",
        f'<path {_LINE} d="M100 100 h300 a50 50 0 0 1 0 100 h-300 a50 50 0 0 1 0 -100 z"/>'
        # A quadratic curve with its chord: two thirds of its box.
        f'<path {_LINE} d="M500 400 Q700 0 900 400 Z"/>',
        (
            Want((50, 400, 450, 500), 300 * 100 + PI * 2500),
            Want((500, 200, 900, 400), 400 * 200 * 2 / 3),
        ),
    ),
    svg_case(
        "svg-transforms",
        f'<g transform="translate(300 300) rotate(90)" {_LINE}>'
        '<g transform="scale(2)"><rect x="0" y="0" width="100" height="50"/></g></g>'
        f'<rect width="100" height="50" transform="matrix(-1 0 0 1 700 100)" {_LINE}/>',
        # Turned by 90° clockwise on the page: 100 wide to the left, 200 down from (300, 300).
        (Want((200, 100, 300, 300), 20000), Want((600, 450, 700, 500), 5000)),
    ),
    svg_case(
        "svg-use-and-symbol",
        '<defs><g id="hole"><circle r="20"/></g></defs>'
        '<symbol id="tile" viewBox="0 0 10 20"><rect width="10" height="20"/></symbol>'
        f'<g {_LINE}><rect x="100" y="50" width="600" height="400"/>'
        '<use xlink:href="#hole" x="200" y="200"/>'
        '<use href="#hole" transform="translate(400 200)"/>'
        '<use href="#tile" x="720" y="100" width="100" height="200"/></g>',
        (
            Want((100, 150, 700, 550), 240000 - 2 * PI * 400, 2),
            Want((720, 300, 820, 500), 20000),
        ),
    ),
    svg_case(
        "svg-round-references",
        f'<g id="a">{_RECT}<use href="#b"/></g><g id="b"><use href="#a"/></g>',
        (_RECT_WANT,),
        ("kind-skipped",),
    ),
    svg_case(
        "svg-even-odd",
        '<path fill="black" fill-rule="evenodd" stroke="none" '
        'd="M100 100 h400 v400 h-400 z M200 200 h200 v200 h-200 z"/>',
        (Want((100, 100, 500, 500), 160000 - 40000, 1),),
    ),
    svg_case(
        "svg-nonzero-same-way",
        '<path fill="black" stroke="none" '
        'd="M100 100 h400 v400 h-400 z M200 200 h200 v200 h-200 z"/>',
        (Want((100, 100, 500, 500), 160000),),
        ("inner-line-hidden",),
    ),
    svg_case(
        "svg-nonzero-other-way",
        '<path fill="black" stroke="none" '
        'd="M100 100 h400 v400 h-400 z M200 200 v200 h200 v-200 z"/>',
        (Want((100, 100, 500, 500), 160000 - 40000, 1),),
    ),
    svg_case(
        "svg-layers",
        f'<g inkscape:label="Cut" {_LINE}>{_RECT}<text x="150" y="400" font-size="30">Rail</text>'
        f'</g><g inkscape:label="Pocket 4" {_LINE}><rect x="200" y="200" width="50" height="30"/>'
        f'</g><g id="do_not_cut" {_LINE}><circle cx="300" cy="300" r="30"/></g>',
        (Want((100, 150, 700, 550), 240000, name="Rail", features=("pocket",)),),
        ("depth-read", "layer-ignored"),
    ),
    svg_case(
        "svg-hidden",
        f"<style>.no {{ display: none }}</style>{_RECT}"
        f'<circle class="no" cx="200" cy="200" r="30" {_LINE}/>'
        f'<circle visibility="hidden" cx="300" cy="200" r="30" {_LINE}/>'
        f'<g display="none"><circle cx="400" cy="200" r="30" {_LINE}/></g>',
        (_RECT_WANT,),
        ("layer-hidden",),
    ),
    svg_case(
        "svg-clipped",
        f'<clipPath id="c"><rect width="10" height="10"/></clipPath><g clip-path="url(#c)">{_RECT}'
        "</g>",
        (_RECT_WANT,),
        ("clip-ignored",),
    ),
    svg_case(
        "svg-loose-lines",
        f'<g {_LINE}><line x1="100" y1="50" x2="700" y2="50"/><path d="M700 50 V450 H100"/>'
        '<line x1="100" y1="450" x2="100" y2="50"/></g>',
        (_RECT_WANT,),
    ),
    svg_case(
        "svg-bad-path",
        f'{_RECT}<path {_LINE} d="M 10 10 L nonsense 5 A 1"/><circle r="x"/>',
        (_RECT_WANT,),
    ),
    Case(
        "svg-entities",
        lambda: (
            b'<?xml version="1.0"?><!DOCTYPE svg [<!ENTITY ns "http://www.w3.org/2000/svg">]>'
            + svg(_RECT).replace(b"http://www.w3.org/2000/svg", b"&ns;")
        ),
        (_RECT_WANT,),
        suffix=".svg",
    ),
    Case(
        "svg-cut-off",
        lambda: svg(_RECT + _RECT.replace("100", "9")).rsplit(b"<rect", 1)[0] + b'<rect x="1',
        (_RECT_WANT,),
        ("ends-early",),
        suffix=".svg",
    ),
    Case(
        "svg-utf16",
        lambda: svg(_RECT).decode().encode("utf-16"),
        (_RECT_WANT,),
        suffix=".svg",
    ),
)
