"""Lines by hand for the tests of matching, offsets and shift."""

import numpy as np
import shapely

from curbwright.shared.lines.lines import Lines


def lines_of(*shapes, sigma=None):
    """Lines from coordinate lists; a list of lists is a multi-part line, None a row without
    geometry."""
    parts, line = [], []
    for row, shape in enumerate(shapes):
        if shape is None:
            continue
        for part in shape if np.ndim(shape[0]) == 2 else [shape]:
            parts.append(np.asarray(part, float))
            line.append(row)
    flat = np.concatenate(parts) if parts else np.zeros((0, 2))
    z = flat[:, 2] if flat.shape[1] > 2 else None
    return Lines.from_columns(
        flat[:, 0],
        flat[:, 1],
        z,
        np.concatenate([[0], np.cumsum([len(part) for part in parts])]),
        line,
        len(shapes),
        sigma,
    )


def edges_of(*shapes, **columns):
    """Lines of one part each, at height 0 where they have none; `columns` as
    `Lines.from_columns` has them."""
    shapes = [np.asarray(shape, float) for shape in shapes]
    shapes = [
        shape if shape.shape[1] == 3 else np.column_stack([shape, np.zeros(len(shape))])
        for shape in shapes
    ]
    offsets = np.concatenate([[0], np.cumsum([len(shape) for shape in shapes])])
    return Lines.from_columns(*np.concatenate(shapes).T, offsets=offsets, **columns)


def shape_of(result, edge=0):
    """Vertices of an edge of a result that holds `x`, `y`, `z` and `offsets`."""
    some = slice(*result.offsets[edge : edge + 2])
    return np.column_stack([result.x, result.y, result.z])[some]


def straight(y, x=(0.0, 40.0), step=None, slope=0.0):
    at = np.array(x) if step is None else np.append(np.arange(x[0], x[1], step), x[1])
    return np.column_stack([at, y + slope * at])


def arc(radius, start, stop, number, centre=(0.0, 0.0)):
    angle = np.linspace(start, stop, number)
    return np.column_stack([centre[0] + radius * np.cos(angle), centre[1] + radius * np.sin(angle)])


def turn(radius, start, stop, step=0.3, centre=(0.0, 0.0)):
    """An arc from one direction to another one, degrees, with vertices about `step` metres
    apart."""
    number = max(int(abs(np.radians(stop - start)) * radius / step), 2) + 1
    return arc(radius, *np.radians([start, stop]), number, centre)


def mates(result):
    """Partner of each existing line."""
    return result.existing_statistics.partner.tolist()


def statuses(result):
    return result.edge_statistics.status.tolist(), result.existing_statistics.status.tolist()


def wiggle(rng, number=12):
    """A line that wanders, with vertices at uneven distances."""
    step = rng.uniform(0.5, 6, number)
    heading = rng.uniform(0, 6.3) + np.cumsum(rng.normal(0, 0.25, number))
    return rng.uniform(-20, 20, 2) + np.cumsum(
        np.column_stack([step * np.cos(heading), step * np.sin(heading)]), axis=0
    )


def layer(*lines, sigma=0.01):
    """Lines of one part each, all of one sigma, metres."""
    return lines_of(*lines, sigma=np.full(len(lines), sigma))


def dense(line, step=0.5):
    """The same line with vertices as a walk gives them."""
    return shapely.get_coordinates(shapely.segmentize(shapely.LineString(line), step))
