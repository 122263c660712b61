"""A comparison made by hand, to test the report without the matching."""

import numpy as np

from curbwright.shared.lines.comparison_results import (
    AGREES,
    DISPLACED,
    ONLY_EXISTING,
    ONLY_NEW,
    PARTLY,
    Comparison,
    ComparisonSettings,
    LineStatistics,
    StationOffsets,
)
from curbwright.shared.lines.lines import Lines
from curbwright.shared.lines.offsets import LayerStatistics
from curbwright.shared.lines.shift_results import Shift
from curbwright.shared.lines.simple_buffer import BufferOverlay

LIMIT = 0.2


def lines_of(shapes):
    shapes = [np.asarray(shape, float).reshape(-1, 2) for shape in shapes]
    xy = np.concatenate(shapes) if shapes else np.zeros((0, 2))
    used = np.array([row for row, shape in enumerate(shapes) if len(shape)], np.int64)
    offsets = np.concatenate([[0], np.cumsum([len(shapes[row]) for row in used])]).astype(np.int64)
    return Lines(
        xy[:, 0],
        xy[:, 1],
        np.full(len(xy), np.nan),
        offsets,
        used,
        len(shapes),
        np.full(len(shapes), 0.01),
    )


def statistics_of(status, length, offsets, partner):
    """`offsets` holds an array of offsets for each line; `partner` the row that it lies along."""
    count = len(status)
    matched = np.array([len(one) > 0 for one in offsets], bool)

    def of(function):
        return np.array([function(one) if len(one) else np.nan for one in offsets], float).reshape(
            count
        )

    return LineStatistics(
        np.array(status, np.uint8),
        np.array(length, float),
        np.where(matched, length, 0.0),
        np.where(matched, 1.0, 0.0),
        of(lambda one: np.mean(np.abs(one) > LIMIT)),
        np.array([len(one) for one in offsets], np.int64).reshape(count),
        of(np.mean),
        of(np.median),
        of(np.std),
        of(lambda one: np.sqrt(np.mean(one**2))),
        of(lambda one: np.percentile(np.abs(one), 95)),
        of(lambda one: np.abs(one).max()),
        of(lambda one: np.abs(one).max()),
        np.full(count, np.nan),
        np.full(count, np.nan),
        np.full(count, 0.01),
        np.full(count, LIMIT),
        partner,
        matched.astype(np.int64),
        np.ones(count),
        of(lambda one: abs(np.mean(one))),
        np.where(matched, 90.0, np.nan),
    )


def partner_of(count, row, other):
    """Row of the other layer that each line lies along, -1 for none."""
    partner = np.full(count, -1)
    partner[row.astype(int)] = other.astype(int)
    return partner


def layer_of(offsets, weight):
    if not len(offsets):
        return LayerStatistics(0, 0.0, *(np.nan,) * 11)
    mean, absolute = np.average(offsets, weights=weight), np.abs(offsets)
    return LayerStatistics(
        len(offsets),
        float(weight.sum()),
        mean,
        float(np.median(offsets)),
        float(np.std(offsets)),
        float(np.sqrt(np.average(offsets**2, weights=weight))),
        float(np.percentile(absolute, 95)),
        float(absolute.max()),
        float(absolute.max()),
        np.nan,
        np.nan,
        float(np.average(absolute, weights=weight)),
        1.4826 * float(np.median(absolute)),
    )


def comparison(count=24, seed=1, removed=True, significant=True, empty=False, **more):
    """Rows of parallel lines, every fourth of another status; the shift is (0.3, -0.2) m."""
    rng = np.random.default_rng(seed)
    edges, existing, of_edge, of_existing, edge_status, existing_status = [], [], [], [], [], []
    stations = {name: [] for name in ("existing", "edge", "chainage", "offset", "before")}
    for number in range(0 if empty else count):
        x = np.linspace(0.0, 40.0, 41)
        wave = 2.0 * np.sin(x / 9.0 + number)
        y = 6.0 * number + wave
        status = (AGREES, AGREES, DISPLACED, AGREES, ONLY_NEW, ONLY_EXISTING, AGREES, PARTLY)[
            number % 8
        ]
        offset = rng.normal(0.0, 0.03, len(x))
        if status == DISPLACED:
            offset = offset + 1.2
        if status == PARTLY:
            offset = offset + np.linspace(-0.1, 0.9, len(x))
        if status != ONLY_NEW:
            existing.append(np.column_stack([x + 0.3, y - 0.2]))
            existing_status.append(status)
        if status != ONLY_EXISTING:
            edges.append(
                np.column_stack([x, y - (offset if status in (DISPLACED, PARTLY) else 0 * offset)])
            )
            edge_status.append(status)
        if status == ONLY_NEW:
            of_edge.append(np.zeros(0))
        elif status == ONLY_EXISTING:
            of_existing.append(np.zeros(0))
        else:
            of_edge.append(offset)
            of_existing.append(offset)
            stations["existing"].append(np.full(len(x), len(existing) - 1))
            stations["edge"].append(np.full(len(x), len(edges) - 1))
            stations["chainage"].append(x)
            stations["offset"].append(offset)
            stations["before"].append(offset - 0.2 + 0.3 * np.sin(np.gradient(y)))
    flat = {
        name: np.concatenate(values) if values else np.zeros(0) for name, values in stations.items()
    }
    size = len(flat["offset"])
    judged = flat["offset"] if removed else flat["before"]
    one = np.ones(size)
    made = StationOffsets(
        flat["existing"].astype(int),
        flat["edge"].astype(int),
        np.zeros(size, int),
        flat["chainage"],
        flat["chainage"],
        judged,
        flat["before"],
        np.full(size, np.nan),
        LIMIT * one,
        np.abs(judged) > LIMIT,
        one,
        *np.zeros((3, size)),
        np.zeros(size),
        -one,
    )
    edge_length, existing_length = np.full(len(edges), 41.0), np.full(len(existing), 41.0)
    shift = Shift(
        model="translation",
        east=0.3,
        north=-0.2,
        rotation=0.0,
        scale=1.0,
        sigma_east=0.004,
        sigma_north=0.005,
        sigma_rotation=np.nan,
        sigma_scale=np.nan,
        significant=significant,
        determined=True,
        undetermined_azimuth=np.nan,
        across=np.nan,
        sigma_across=np.nan,
        known=np.array([0.3, -0.2]),
        origin=(0.0, 0.0),
        statistic=640.2,
        critical=3.3,
        degrees=(2, 30),
        confidence=0.95,
        used_length=600.0,
        offered_length=800.0,
        used_lines=20,
        noise=0.03,
        reason="nothing is matched" if empty else "",
    )
    x = np.linspace(0.0, 2.0, 41)
    overlay = BufferOverlay(2.0, 0.91, 0.88, x, np.minimum(1.0, x), np.minimum(1.0, x), 0.4, 0.5)
    values = {
        "settings": ComparisonSettings(remove_shift=removed),
        "edges": lines_of(edges),
        "existing": lines_of(existing),
        "edge_statistics": statistics_of(
            edge_status,
            edge_length,
            of_edge,
            partner_of(len(edges), flat["edge"], flat["existing"]),
        ),
        "existing_statistics": statistics_of(
            existing_status,
            existing_length,
            of_existing,
            partner_of(len(existing), flat["existing"], flat["edge"]),
        ),
        "stations": made,
        "layer": layer_of(judged, one),
        "before": layer_of(flat["before"], one),
        "after": layer_of(flat["offset"], one),
        "shift": shift,
        "shift_removed": removed,
        "buffer": overlay,
        "edge_length": float(edge_length.sum()),
        "existing_length": float(existing_length.sum()),
        "edge_matched_share": 0.9,
        "existing_matched_share": 0.8,
        "visited_length": float(existing_length.sum()),
        "displaced_with_shift": (9, 8),
        "displaced_without_shift": (2, 3),
    }
    values.update(more)
    return Comparison(**values)
