"""The map of the comparison, as SVG made by hand: it needs no plotting package."""

from dataclasses import dataclass

import numpy as np
import shapely

from ..lines.comparison import (
    AGREES,
    DISPLACED,
    NOT_VISITED,
    ONLY_EXISTING,
    ONLY_NEW,
    PARTLY,
)
from .plots import round_step

# Colour, width (millimetres on the map), dash: told apart by width and dash as well, so that grey
# print will do. Flat ends only: some printers' drivers make nothing of a dot that is a dash without
# length.
SCHEME = {
    NOT_VISITED: ("#8c7aa8", 0.45, "0.5 1.2"),
    PARTLY: ("#8a6d00", 0.75, "3.2 0.9 0.8 0.9"),
    AGREES: ("#6b7a89", 0.35, ""),
    ONLY_NEW: ("#1d3557", 1.1, "1.1 1.1"),
    ONLY_EXISTING: ("#2b7f8c", 0.75, "2.6 1.3"),
    DISPLACED: ("#c8553d", 1.15, ""),
}
ORDER = tuple(SCHEME)  # of drawing: what matters most lies on top
BEHIND = "#c3cbd3", 0.3, ""  # existing lines that have a counterpart
# tenths of a millimetre: the map shares the first page with the verdict and the greatest changes
WIDTH, HIGHEST = 1780.0, 660.0
MOST_NUMBERS = 30  # on the map; more would hide it
MOST_VERTICES = 150_000
COARSEST = 4.0  # tenths of a millimetre that lines may lie off, however many there are


def stroke(style):
    """Attributes of a path drawn in a style.

    Parameters
    ----------
    style : tuple of (str, float, str)
        Colour, width in millimetres, dashes in millimetres.

    Returns
    -------
    str
    """
    colour, width, dash = style
    parts = [f'stroke="{colour}" stroke-width="{10 * width:g}"']
    if dash:
        parts.append(
            'stroke-dasharray="' + " ".join(f"{10 * float(step):g}" for step in dash.split()) + '"'
        )
    return " ".join([*parts, 'fill="none" stroke-linejoin="round"'])


def key(style):
    """A piece of line for a legend or a table.

    Parameters
    ----------
    style : tuple of (str, float, str)
        As in `stroke`.

    Returns
    -------
    str
        SVG.
    """
    return (
        '<svg class="key" viewBox="0 0 130 30" aria-hidden="true"><path d="M5 15H125"'
        f" {stroke(style)}/></svg>"
    )


def _geometries(lines):
    """Parts of `matching.Lines` that are lines, and their rows."""
    usable = np.flatnonzero(np.diff(lines.offsets) >= 2)
    starts, counts = lines.offsets[usable], np.diff(lines.offsets)[usable]
    part = np.repeat(np.arange(len(usable)), counts)
    flat = (
        np.arange(len(part))
        - np.repeat(np.cumsum(counts) - counts, counts)
        + np.repeat(starts, counts)
    )
    xy = np.column_stack([lines.x, lines.y])[flat]
    good = np.isfinite(xy).all(axis=1)
    keep = np.bincount(part[good], minlength=len(usable)) >= 2
    good &= keep[part]
    number = np.cumsum(keep) - 1
    return shapely.linestrings(xy[good], indices=number[part[good]]), lines.line[usable][keep]


def _path(shapes, place):
    """Path data of lines; tenths of a millimetre, whole numbers in relative steps. What is too
    small to be seen becomes a dot."""
    xy, line = shapely.get_coordinates(shapes, return_index=True)
    if not len(xy):
        return ""
    at = np.rint(place(xy)).astype(int)
    first = np.append(True, line[1:] != line[:-1])
    step = np.diff(at, axis=0, prepend=at[:1])
    seen = np.bincount(line, (step.any(axis=1) & ~first).astype(float)) > 0
    step[np.flatnonzero(first)[~seen[line[first]]] + 1] = 3, 0
    text = []
    for start, (x, y), (dx, dy) in zip(first.tolist(), at.tolist(), step.tolist()):
        if start:
            text.append(f"M{x} {y}l")
        elif dx or dy:
            text.append(f"{dx} {dy} " if dy >= 0 else f"{dx}{dy} ")
    return "".join(text).rstrip().replace("l M", "M").replace(" M", "M")


def status_map(comparison, changes=None):
    """The map.

    Parameters
    ----------
    comparison : Comparison
    changes : Changes, optional
        Those that get their numbers on the map.

    Returns
    -------
    svg : str
        Empty where there is nothing to draw.
    tolerance : float
        Metres that lines may lie off for being drawn with fewer vertices.
    """
    edges, edge_row = _geometries(comparison.edges)
    existing, existing_row = _geometries(comparison.existing)
    if not (len(edges) or len(existing)):
        return "", 0.0
    place = _Place.of(np.concatenate([edges, existing]))
    thin_edges, thin_existing, tolerance = _simplified(edges, existing, place.unit)
    of_edge, of_existing = (
        comparison.edge_statistics.status[edge_row],
        comparison.existing_statistics.status[existing_row],
    )
    # the others show in the status of the edges
    of_their_own = ONLY_EXISTING, PARTLY, NOT_VISITED
    own = np.isin(of_existing, of_their_own)
    drawn = [(BEHIND, thin_existing[~own])]
    for status in ORDER:
        shapes = [thin_existing[of_existing == status]] if status in of_their_own else []
        drawn.append((SCHEME[status], np.concatenate([*shapes, thin_edges[of_edge == status]])))
    parts = [
        f'<svg role="img" aria-label="Map of the comparison" viewBox="0 0 {WIDTH:g}'
        f' {place.height + 110:.0f}">'
    ]
    for style, shapes in drawn:
        path = _path(shapes, place)
        if path:
            parts.append(f'<path d="{path}" {stroke(style)}/>')
    if changes is not None:
        parts += _numbers(changes, (edges, edge_row), (existing, existing_row), place)
    parts.append(_scale_and_north(place.unit, place.height))
    parts.append("</svg>")
    return "\n".join(parts), tolerance


def _numbers(changes, edges, existing, place):
    """Numbers of the greatest changes, the greatest on top."""
    made = []
    for change in range(min(MOST_NUMBERS, len(changes)))[::-1]:
        side = edges if changes.edge[change] >= 0 else existing
        row = changes.edge[change] if side is edges else changes.existing[change]
        here = np.flatnonzero(side[1] == row)
        if here.size:
            made.append(_number(change + 1, side[0][here], place))
    return made


@dataclass(frozen=True)
class _Place:
    """From metres to the map: `unit` metres to a tenth of a millimetre, `height` of the map."""

    unit: float
    height: float
    left: float
    west: float
    north: float

    @classmethod
    def of(cls, shapes):
        """The map that holds all shapes."""
        low, high = np.array(shapely.total_bounds(shapes)).reshape(2, 2)
        span = np.maximum(high - low, 1e-3)
        unit = max(span[0] / (WIDTH - 60), span[1] / (HIGHEST - 60))
        return cls(
            unit=unit,
            height=span[1] / unit + 60,
            left=(WIDTH - span[0] / unit) / 2,
            west=low[0],
            north=high[1],
        )

    def __call__(self, xy):
        """Places on the map, shape (n, 2), tenths of a millimetre."""
        return np.column_stack(
            [
                (xy[:, 0] - self.west) / self.unit + self.left,
                (self.north - xy[:, 1]) / self.unit + 30,
            ]
        )


def _simplified(edges, existing, unit):
    """Both layers with no more vertices than a map can hold, and the tolerance in metres."""
    tolerance = 0.7 * unit
    while True:
        thin = shapely.simplify(edges, tolerance), shapely.simplify(existing, tolerance)
        number = sum(shapely.get_num_coordinates(shapes).sum() for shapes in thin)
        if number <= MOST_VERTICES or tolerance >= COARSEST * unit:
            return (*thin, tolerance)
        tolerance = min(2 * tolerance, COARSEST * unit)


def _number(label, shapes, place):
    """A number in the middle of the longest of some shapes."""
    longest = shapes[np.argmax(shapely.length(shapes))]
    middle = shapely.line_interpolate_point(longest, 0.5, normalized=True)
    x, y = place(shapely.get_coordinates(middle))[0]
    return (
        f'<g transform="translate({x:.0f} {y:.0f})"><circle r="24" fill="#fff"'
        ' stroke="#c8553d" stroke-width="4"/><text y="11" text-anchor="middle"'
        f' font-size="32" font-weight="600" fill="#1b242c">{label}</text></g>'
    )


def _scale_and_north(unit, height):
    length = round_step(180 * unit)
    wide, y = length / unit, height + 60
    label = f"{length:g} m" if length < 1000 else f"{length / 1000:g} km"
    bar = (
        f'<path d="M30 {y - 12:.0f}V{y:.0f}H{30 + wide:.0f}V{y - 12:.0f}M{30 + wide / 2:.0f}'
        f' {y:.0f}V{y - 8:.0f}" fill="none" stroke="#1b242c" stroke-width="4"/><text'
        f' x="{30 + wide / 2:.0f}" y="{y + 36:.0f}" text-anchor="middle" font-size="30"'
        f' fill="#1b242c">{label}</text>'
    )
    north = (
        f'<g transform="translate({WIDTH - 60:g} {y - 10:.0f})"><path d="M0 -52L16 16L0 4L-16 16Z"'
        ' fill="#1b242c"/><text y="48" text-anchor="middle" font-size="30"'
        ' fill="#1b242c">N</text></g>'
    )
    return bar + north
