"""What an edge has beyond the lines that it runs along is added, joined to them."""

import pytest
import shapely
from lineshapes import dense, layer
from numpy.testing import assert_allclose
from updates import FRONT, names, plan, updated


@pytest.mark.parametrize("aside", [0.0, 0.05, 0.6])
@pytest.mark.parametrize("way", [1, -1])
def test_an_edge_that_goes_on_beyond_its_line_is_added_from_there(aside, way):
    """In place, a little aside (not displaced), and displaced."""
    existing = layer(FRONT)
    edges = layer(dense([[0, aside], [90, aside]])[::way])
    found = plan(existing, edges)
    assert names(found) == (["replaced"] if aside > 0.5 else ["unchanged"])
    (added,) = found.added
    (front,) = updated(existing, found)
    xy = added.xyz[::way, :2]
    assert_allclose(xy[[0, -1]], [front[-1], [90, aside]], atol=1e-9)
    assert shapely.LineString(xy).length == pytest.approx(30, abs=0.01)
    again = plan(layer(front, added.xyz[:, :2]), edges)
    assert set(names(again)) == {"unchanged"} and not again.added


def test_an_edge_that_turns_off_its_line_is_added_from_where_it_does():
    existing = layer(FRONT)
    found = plan(existing, layer(dense([[0, 0.02], [30, 0.02], [30, 25]])))
    (added,) = found.added
    assert shapely.LineString(FRONT).distance(shapely.Point(added.xyz[0, :2])) < 1e-9
    assert_allclose(added.xyz[[0, -1], :2], [[30, 0], [30, 25]], atol=0.6)
    assert not plan(existing, layer(dense([[0, 0.02], [30, 0.02], [30, 1.5]]))).added


def test_what_goes_on_across_another_line_is_held():
    existing = layer(FRONT, [[80, -10], [80, 10]])
    edges = layer(dense([[0, 0], [100, 0]]), dense([[80, -10], [80, 10]]))
    found = plan(existing, edges)
    assert names(found) == ["unchanged", "unchanged"] and not found.added
    assert [(held.existing, held.edge) for held in found.held] == [(-1, 0)]
    assert "cross" in found.held[0].why
