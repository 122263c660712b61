"""Maps of lines and points as SVG, written without a plotting package."""

from dataclasses import dataclass

import numpy as np
import shapely

from ..arrays.ragged import group_index, stretch_starts
from ..language import localised, tr
from ..lines.comparison_results import (
    AGREES,
    DISPLACED,
    NOT_VISITED,
    ONLY_EXISTING,
    ONLY_NEW,
    PARTLY,
)
from .plots import round_step

# Colour, width (millimetres on the map), dash: they differ in width and dash as well, for print in
# grey. No round dots made of dashes without length: some printer drivers draw nothing.
SCHEME = {
    NOT_VISITED: ("#8c7aa8", 0.45, "0.5 1.2"),
    PARTLY: ("#8a6d00", 0.75, "3.2 0.9 0.8 0.9"),
    AGREES: ("#6b7a89", 0.35, ""),
    ONLY_NEW: ("#1d3557", 1.1, "1.1 1.1"),
    ONLY_EXISTING: ("#2b7f8c", 0.75, "2.6 1.3"),
    DISPLACED: ("#c8553d", 1.15, ""),
}
ORDER = tuple(SCHEME)  # of drawing, the most important on top
BEHIND = "#c3cbd3", 0.3, ""  # existing lines that have a counterpart
# tenths of a millimetre: the map shares the first page with the verdict and the greatest changes
WIDTH, HIGHEST = 1780.0, 520.0
# marks of points, which differ in their form
MARKS = {
    "point": '<circle r="9" fill="#1d3557"/>',
    "outlier": '<path d="M-14 -14L14 14M-14 14L14 -14" stroke="#c8553d" stroke-width="7"/>',
    "aside": '<circle r="9" fill="#fff" stroke="#6b7a89" stroke-width="4"/>',
}
MOST_NUMBERS = 30  # on the map; more would hide it
MOST_VERTICES = 150_000
COARSEST = 4.0  # tenths of a millimetre: maximum tolerance of simplified lines
# places for a number: along its line, the middle first; else around the middle
ALONG = np.array([0.5, 0.35, 0.65, 0.2, 0.8])
AROUND = np.concatenate(
    [
        far * np.column_stack([np.cos(turn), np.sin(turn)])
        for far in (75, 130, 185, 240)
        for turn in [np.arange(0, 2 * np.pi, 60 / far)]
    ]
)
APART = 54.0  # tenths of a millimetre between the centres of two numbers


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
    """A sample of a line for a legend or a table.

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


def geometries(lines):
    """The lines of a layer as shapes.

    Parameters
    ----------
    lines : Lines

    Returns
    -------
    shapes : ndarray of shapely geometries, shape (parts,)
        Parts of two or more vertices with a finite position.
    rows : ndarray of int, shape (parts,)
        Rows of the layer.
    """
    part = group_index(lines.offsets)
    xy = np.column_stack([lines.x, lines.y])
    good = np.isfinite(xy).all(axis=1)
    keep = np.bincount(part[good], minlength=len(lines.line)) >= 2
    good &= keep[part]
    number = np.cumsum(keep) - 1
    return shapely.linestrings(xy[good], indices=number[part[good]]), lines.line[keep]


def _path(shapes, place):
    """Path data of lines, in whole tenths of a millimetre and relative steps; lines too small to be
    seen become a dot."""
    xy, line = shapely.get_coordinates(shapes, return_index=True)
    if not len(xy):
        return ""
    at = np.rint(place(xy)).astype(int)
    first = stretch_starts(line)
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
    """The map of a comparison.

    Parameters
    ----------
    comparison : Comparison
    changes : Changes, optional
        They get their numbers on the map.

    Returns
    -------
    svg : str
        Empty if there is nothing to draw.
    tolerance : float
        Tolerance of the simplified lines, metres.
    """
    edges, edge_row = geometries(comparison.edges)
    existing, existing_row = geometries(comparison.existing)
    if not (len(edges) or len(existing)):
        return "", 0.0
    of_edge, of_existing = (
        comparison.edge_statistics.status[edge_row],
        comparison.existing_statistics.status[existing_row],
    )
    # the other existing lines show by the status of their edges
    of_their_own = ONLY_EXISTING, PARTLY, NOT_VISITED
    own = np.isin(of_existing, of_their_own)
    drawn = [(BEHIND, existing[~own])]
    for status in ORDER:
        shapes = [existing[of_existing == status]] if status in of_their_own else []
        drawn.append((SCHEME[status], np.concatenate([*shapes, edges[of_edge == status]])))
    numbers = []
    if changes is not None:
        numbers = _numbers(changes, (edges, edge_row), (existing, existing_row))
    return line_map(drawn, numbers, tr("Map of the comparison"))


def line_map(drawn, numbers, label, points=()):
    """A map of lines and points.

    Parameters
    ----------
    drawn : sequence of (tuple, ndarray of shapely geometries)
        Style and lines, those on top last; metres.
    numbers : sequence of (int, ndarray of shapely geometries)
        The most important first; each stands at the middle of the longest of its lines, or at its
        point.
    label : str
        What the map shows, for screen readers.
    points : sequence of (str, ndarray of float, shape (n, 2))
        Name of a mark of `MARKS`, and its places, metres.

    Returns
    -------
    svg : str
        Empty if there is nothing to draw.
    tolerance : float
        Tolerance of the simplified lines, metres.
    """
    everything = [*(shapes for _, shapes in drawn), *(shapely.points(xy) for _, xy in points)]
    everything = np.concatenate([np.zeros(0, object), *everything])
    if not len(everything):
        return "", 0.0
    place = _Place.of(everything)
    thin, tolerance = _simplified([shapes for _, shapes in drawn], place.unit)
    parts = [
        f'<svg role="img" aria-label="{label}" viewBox="0 0 {WIDTH:g} {place.height + 110:.0f}">'
    ]
    for (style, _), shapes in zip(drawn, thin):
        path = _path(shapes, place)
        if path:
            parts.append(f'<path d="{path}" {stroke(style)}/>')
    for mark, xy in points:
        parts += [
            f'<g transform="translate({x:.0f} {y:.0f})">{MARKS[mark]}</g>' for x, y in place(xy)
        ]
    parts += _placed(numbers, place)
    parts.append(_scale_and_north(place.unit, place.height))
    parts.append("</svg>")
    return "\n".join(parts), tolerance


def mark_key(mark):
    """A sample of a mark for a legend.

    Parameters
    ----------
    mark : str
        Of `MARKS`.

    Returns
    -------
    str
        SVG.
    """
    return (
        '<svg class="key" viewBox="0 0 130 30" aria-hidden="true"><g transform="translate(65 15)">'
        f"{MARKS[mark]}</g></svg>"
    )


def _numbers(changes, edges, existing):
    """Numbers of the first changes, each with the lines at which it may stand."""
    made = []
    for change in range(min(MOST_NUMBERS, len(changes))):
        side = edges if changes.edge[change] >= 0 else existing
        row = changes.edge[change] if side is edges else changes.existing[change]
        made.append((change + 1, side[0][side[1] == row]))
    return made


@dataclass(frozen=True)
class _Place:
    """Transforms metres to places on the map; `unit`: metres per tenth of a millimetre; `height`:
    of the map."""

    unit: float
    height: float
    left: float
    west: float
    north: float

    @classmethod
    def of(cls, shapes):
        """The transformation to a map that holds all shapes."""
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


def _simplified(groups, unit):
    """Groups of lines, simplified to no more vertices than a map can hold, and the tolerance in
    metres."""
    tolerance = 0.7 * unit
    while True:
        thin = [shapely.simplify(shapes, tolerance) for shapes in groups]
        number = sum(shapely.get_num_coordinates(shapes).sum() for shapes in thin)
        if number <= MOST_VERTICES or tolerance >= COARSEST * unit:
            return thin, tolerance
        tolerance = min(2 * tolerance, COARSEST * unit)


def _placed(numbers, place):
    """Numbers as SVG: on their lines where there is room, else beside them with a leader; the first
    ones choose first."""
    taken, made = np.zeros((0, 2)), []
    for number, shapes in numbers:
        if not len(shapes):
            continue
        longest = shapes[np.argmax(shapely.length(shapes))]
        along = longest
        if shapely.length(longest):
            along = shapely.line_interpolate_point(longest, ALONG, normalized=True)
        on_line = place(shapely.get_coordinates(along))
        beside = on_line[0] + AROUND
        middle = np.array([WIDTH, place.height]) / 2
        inside = (np.abs(beside - middle) < middle - 24).all(axis=1)
        choice = np.concatenate([on_line, beside[inside]])
        gap = np.hypot(*(choice[:, None] - taken[None]).T).min(axis=0, initial=np.inf)
        chosen = int(np.argmax(gap >= APART))  # without any room, the first place
        at, of = choice[chosen], choice[chosen if chosen < len(on_line) else 0]
        taken = np.concatenate([taken, [at]])
        made.append(_number(number, at, of))
    return made[::-1]


def _number(label, at, of):
    """A number in a ring, with a leader to its line if it does not stand on it."""
    (x, y), (left, top) = np.rint(at).astype(int).tolist(), np.rint(of - at).astype(int).tolist()
    leader = f'<path d="M0 0L{left} {top}" stroke="#c8553d" stroke-width="3"/>'
    return (
        f'<g transform="translate({x} {y})">{leader if left or top else ""}<circle r="24"'
        ' fill="#fff" stroke="#c8553d" stroke-width="4"/><text y="11" text-anchor="middle"'
        f' font-size="32" font-weight="600" fill="#1b242c">{label}</text></g>'
    )


def _scale_and_north(unit, height):
    """Scale bar and north arrow as SVG."""
    length = round_step(180 * unit)
    wide, y = length / unit, height + 60
    label = f"{length:g} m" if length < 1000 else f"{length / 1000:g} km"
    label = localised(label)
    bar = (
        f'<path d="M30 {y - 12:.0f}V{y:.0f}H{30 + wide:.0f}V{y - 12:.0f}M{30 + wide / 2:.0f}'
        f' {y:.0f}V{y - 8:.0f}" fill="none" stroke="#1b242c" stroke-width="4"/><text'
        f' x="{30 + wide / 2:.0f}" y="{y + 36:.0f}" text-anchor="middle" font-size="30"'
        f' fill="#1b242c">{label}</text>'
    )
    north = (
        f'<g transform="translate({WIDTH - 60:g} {y - 10:.0f})"><path d="M0 -52L16 16L0 4L-16 16Z"'
        ' fill="#1b242c"/><text y="48" text-anchor="middle" font-size="30"'
        f' fill="#1b242c">{tr("N")}</text></g>'
    )
    return bar + north
