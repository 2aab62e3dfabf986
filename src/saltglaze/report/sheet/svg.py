"""Writes a scene as SVG text: no scripts, no outside references, safe to inline."""

from __future__ import annotations

from html import escape

from saltglaze.report.sheet import palette
from saltglaze.report.sheet.scene import Box, Disc, Layer, Point, Poly, Scene, Shape, Style, Text

SCREEN_FONT = "system-ui, 'Segoe UI', 'Helvetica Neue', Arial, 'Noto Sans', sans-serif"
PRINT_FONT = "'Libertinus Serif', 'DejaVu Sans'"

HATCHES: dict[str, str] = {
    "hatch:diagonal": '<path d="M0 2L2 0M-.5 .5L.5 -.5M1.5 2.5L2.5 1.5" stroke="{ink}" '
    'stroke-width=".14"/>',
    "hatch:back": '<path d="M0 0L2 2M-.5 1.5L.5 2.5M1.5 -.5L2.5 .5" stroke="{ink}" '
    'stroke-width=".14"/>',
    "hatch:cross": '<path d="M0 2L2 0M0 0L2 2" stroke="{ink}" stroke-width=".13"/>',
    "hatch:dots": '<circle cx=".5" cy=".5" r=".16" fill="{ink}"/>'
    '<circle cx="1.5" cy="1.5" r=".16" fill="{ink}"/>',
    "hatch:upright": '<path d="M1 0V2" stroke="{ink}" stroke-width=".16"/>',
    "hatch:level": '<path d="M0 1H2" stroke="{ink}" stroke-width=".16"/>',
    "hatch:brick": '<path d="M0 0H2M0 1H2M.5 0V1M1.5 1V2" stroke="{ink}" '
    'stroke-width=".13" fill="none"/>',
    "hatch:waves": '<path d="M0 1Q.5 .4 1 1T2 1" stroke="{ink}" stroke-width=".14" fill="none"/>',
}
"""Two-millimetre tiles; ``{ink}`` is the line colour."""

_HATCH_INK = {"hatch:waves": palette.WATER}


def svg(scene: Scene, *, prefix: str = "s", font: str = SCREEN_FONT) -> str:
    """Return the scene as one SVG element.

    ``prefix`` keeps ids apart where several drawings stand in one page; ``font`` is the
    CSS font stack of the lettering.
    """
    clips = _clips(scene)
    hatches = sorted({fill for shape in scene.shapes if (fill := _hatch(shape))})
    parts = [
        f'<svg xmlns="http://www.w3.org/2000/svg" viewBox="0 0 {_n(scene.width)} '
        f'{_n(scene.height)}" width="{_n(scene.width)}mm" height="{_n(scene.height)}mm" '
        f'role="img" aria-labelledby="{prefix}-t {prefix}-d" font-family="{font}">',
        f'<title id="{prefix}-t">{escape(scene.title)}</title>',
        f'<desc id="{prefix}-d">{escape(scene.description)}</desc>',
        _definitions(prefix, hatches, clips),
    ]
    layer: Layer | None = None
    for shape in scene.shapes:
        if shape.layer != layer:
            parts.append("</g>" if layer is not None else "")
            layer = shape.layer
            parts.append(f'<g data-layer="{layer}">')
        parts.append(_drawn(shape, prefix, clips))
    parts.append("</g></svg>" if layer is not None else "</svg>")
    return "".join(parts)


def _clips(scene: Scene) -> dict[Box, int]:
    boxes: dict[Box, int] = {}
    for shape in scene.shapes:
        if shape.clip is not None:
            boxes.setdefault(shape.clip, len(boxes))
    return boxes


def _hatch(shape: Shape) -> str | None:
    if isinstance(shape, Text) or shape.style.fill not in HATCHES:
        return None
    return shape.style.fill


def _definitions(prefix: str, hatches: list[str], clips: dict[Box, int]) -> str:
    if not hatches and not clips:
        return ""
    parts = ["<defs>"]
    for name in hatches:
        tile = HATCHES[name].format(ink=_HATCH_INK.get(name, palette.SOFT))
        parts.append(
            f'<pattern id="{_id(prefix, name)}" width="2" height="2" '
            f'patternUnits="userSpaceOnUse">{tile}</pattern>'
        )
    for box, number in clips.items():
        parts.append(
            f'<clipPath id="{prefix}-c{number}"><rect x="{_n(box.left)}" y="{_n(box.top)}" '
            f'width="{_n(box.width)}" height="{_n(box.height)}"/></clipPath>'
        )
    return "".join([*parts, "</defs>"])


def _id(prefix: str, hatch: str) -> str:
    return f"{prefix}-{hatch.partition(':')[2]}"


def _drawn(shape: Shape, prefix: str, clips: dict[Box, int]) -> str:
    extra = f' clip-path="url(#{prefix}-c{clips[shape.clip]})"' if shape.clip else ""
    if shape.means:
        extra += f' data-means="{escape(shape.means)}"'
    if isinstance(shape, Text):
        return _lettered(shape, extra)
    paint = _paint(shape.style, prefix) + extra
    if isinstance(shape, Disc):
        x, y = shape.centre
        return f'<circle cx="{_n(x)}" cy="{_n(y)}" r="{_n(shape.radius)}"{paint}/>'
    return _poly(shape, paint)


def _poly(shape: Poly, paint: str) -> str:
    rings = [shape.points, *shape.holes]
    path = "".join(_ring(ring, shape.closed) for ring in rings if ring)
    rule = ' fill-rule="evenodd"' if shape.holes else ""
    return f'<path d="{path}"{paint}{rule}/>'


def _ring(points: tuple[Point, ...], closed: bool) -> str:
    body = "L".join(f"{_n(x)} {_n(y)}" for x, y in points)
    return f"M{body}{'Z' if closed else ''}"


def _paint(style: Style, prefix: str) -> str:
    fill = style.fill or "none"
    if fill in HATCHES:
        fill = f"url(#{_id(prefix, fill)})"
    text = f' fill="{fill}"'
    if style.stroke:
        text += f' stroke="{style.stroke}" stroke-width="{_n(style.width)}"'
        text += ' stroke-linejoin="round" stroke-linecap="round"'
    if style.dash:
        text += f' stroke-dasharray="{" ".join(_n(d) for d in style.dash)}"'
    if style.opacity < 1:
        text += f' opacity="{_n(style.opacity)}"'
    return text


def _lettered(shape: Text, extra: str) -> str:
    x, y = shape.at
    text = f'<text x="{_n(x)}" y="{_n(y)}" font-size="{_n(shape.size)}" fill="{shape.colour}"'
    if shape.anchor != "start":
        text += f' text-anchor="{shape.anchor}"'
    if shape.turn:
        text += f' transform="rotate({_n(-shape.turn)} {_n(x)} {_n(y)})"'
    if shape.bold:
        text += ' font-weight="700"'
    if shape.italic:
        text += ' font-style="italic"'
    body = f">{escape(shape.text)}</text>"
    if not shape.halo:
        return text + extra + body
    halo = (
        f' stroke="{palette.PAPER}" stroke-width="{_n(shape.size * 0.3)}" '
        'stroke-linejoin="round" aria-hidden="true"'
    )
    return text + halo + body + text + extra + body


def _n(value: float) -> str:
    """Return a number with at most three decimals, without trailing noughts."""
    return f"{value:.3f}".rstrip("0").rstrip(".") or "0"


__all__ = ["HATCHES", "PRINT_FONT", "SCREEN_FONT", "Style", "svg"]
