"""The simulated basemaps hold the truth that they state."""

import numpy as np
import pytest
import shapely
from numpy.testing import assert_array_equal

from curbwright.sample_project import basemaps


def geometries(layer):
    xy = np.column_stack([layer.x, layer.y])
    return [
        shapely.multilinestrings(
            [
                shapely.linestrings(xy[layer.offsets[p] : layer.offsets[p + 1]])
                for p in np.flatnonzero(layer.line == row)
            ]
        )
        for row in range(len(layer))
    ]


@pytest.mark.parametrize("seed", range(3))
def test_status_is_what_the_geometry_says(seed):
    made = basemaps.make_basemap(np.random.default_rng(seed), 60, shift=(0.0, 0.0))
    edges, existing = geometries(made.edges), geometries(made.existing)
    of_source = {
        source: row for row, source in enumerate(made.existing.source.tolist()) if source >= 0
    }
    for row, (status, source) in enumerate(zip(made.edges.status, made.edges.source.tolist())):
        assert (source not in of_source) == (status == basemaps.ONLY_NEW)
        if source not in of_source:
            continue
        mate = of_source[source]
        assert made.existing.status[mate] == status
        apart = shapely.hausdorff_distance(edges[row], existing[mate], densify=0.05)
        assert (apart < 0.25) == (status == basemaps.AGREES)
    gone = [existing[row] for row, source in enumerate(made.existing.source.tolist()) if source < 0]
    assert gone and all(
        shapely.distance(line, shapely.geometrycollections(edges)) > 3 for line in gone
    )
    assert {
        made.existing.status[row]
        for row, source in enumerate(made.existing.source.tolist())
        if source < 0
    } == {basemaps.ONLY_EXISTING}


def test_shares_and_repeatability():
    one, two = (basemaps.make_basemap(np.random.default_rng(4), 100) for _ in range(2))
    assert_array_equal(one.existing.x, two.existing.x)
    assert (
        one.edges.status.count(basemaps.DISPLACED)
        == one.edges.status.count(basemaps.ONLY_NEW)
        == round(0.1 * len(one.edges))
    )
    assert one.existing.status.count(basemaps.ONLY_EXISTING) > 0
    # some of several parts
    assert len(np.unique(one.existing.line[np.flatnonzero(np.diff(one.existing.line) == 0)])) > 0
    assert set(one.edges.kind) == set(basemaps.KINDS)
