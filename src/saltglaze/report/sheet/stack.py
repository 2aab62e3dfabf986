"""Several sheets one above the other in one scene, for a single drawing file."""

from __future__ import annotations

from dataclasses import replace

from saltglaze.report.sheet.scene import Box, Disc, Poly, Scene, Shape, Text

_GAP = 8.0


def stacked(scenes: tuple[Scene, ...]) -> Scene:
    """Return one scene with all sheets below each other; a single sheet as it is."""
    if len(scenes) == 1:
        return scenes[0]
    shapes: list[Shape] = []
    down = 0.0
    for scene in scenes:
        shapes += [_lowered(shape, down) for shape in scene.shapes]
        down += scene.height + _GAP
    return Scene(
        max(s.width for s in scenes),
        down - _GAP,
        tuple(shapes),
        scenes[0].title,
        " ".join(s.description for s in scenes),
    )


def _lowered(shape: Shape, by: float) -> Shape:
    clip = (
        None
        if shape.clip is None
        else Box(shape.clip.left, shape.clip.top + by, shape.clip.right, shape.clip.bottom + by)
    )
    if isinstance(shape, Poly):
        points = tuple((x, y + by) for x, y in shape.points)
        holes = tuple(tuple((x, y + by) for x, y in ring) for ring in shape.holes)
        return replace(shape, points=points, holes=holes, clip=clip)
    if isinstance(shape, Disc):
        return replace(shape, centre=(shape.centre[0], shape.centre[1] + by), clip=clip)
    assert isinstance(shape, Text)
    return replace(shape, at=(shape.at[0], shape.at[1] + by), clip=clip)
