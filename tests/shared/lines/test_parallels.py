"""Parallels: exact concentric arcs, clean corners, rings, heights; nothing nearer to its edge than
it should be."""

import numpy as np
import pytest
import shapely
from lineshapes import edges_of
from numpy.testing import assert_allclose, assert_array_equal

from curbwright.shared.lines.cross_section import SectionPart
from curbwright.shared.lines.parallels import derive_parallels, line_lengths


def section(*offsets):
    return [SectionPart(f"{offset}", offset, 0.0) for offset in offsets]


def one(shape, offset, **how):
    """The only parallel, as vertices."""
    made = derive_parallels(edges_of(shape), section(offset), **how)
    assert len(made) == 1
    return np.column_stack([made.x, made.y, made.z])


def geometries(made):
    return shapely.linestrings(
        np.column_stack([made.x, made.y]),
        indices=np.repeat(np.arange(len(made)), np.diff(made.offsets)),
    )


def thinned_arc(radius, degrees, tolerance=0.01):
    """Vertices on a circle round the origin whose chords lie within the tolerance: sagitta r (1 -
    cos(theta / 2))."""
    number = int(np.ceil(np.radians(degrees) / (2 * np.arccos(1 - tolerance / radius))))
    angle = np.linspace(0, np.radians(degrees), number + 1)
    return radius * np.column_stack([np.cos(angle), np.sin(angle)])


# Arcs


@pytest.mark.parametrize("radius", [0.8, 1.5, 6.0, 40.0])
@pytest.mark.parametrize("offset", [-0.5, -0.15, 0.02, 0.5, 2.0, 10.0])
def test_arcs_become_concentric_arcs(radius, offset):
    # counter-clockwise, so that the right is outside; vertices exactly on the circle of r + d,
    # chords within a quarter more than the tolerance
    xyz = one(thinned_arc(radius, 150), offset)
    assert_allclose(np.hypot(xyz[:, 0], xyz[:, 1]), radius + offset, atol=1e-9)
    middle = (xyz[1:, :2] + xyz[:-1, :2]) / 2
    assert radius + offset - np.hypot(*middle.T).min() <= 1.25 * 0.01 + 1e-9
    assert_allclose(
        xyz[[0, -1], :2], (1 + offset / radius) * thinned_arc(radius, 150)[[0, -1]], atol=1e-9
    )
    # mirrored in every respect
    other = one(thinned_arc(radius, 150)[::-1], -offset)
    assert_allclose(other[::-1], xyz, atol=1e-9)


def test_wide_arcs_get_the_vertices_that_they_need_and_no_more():
    arc = thinned_arc(1.5, 90)
    assert len(one(arc, -0.5)) == len(arc) and len(one(arc, 0.1)) == len(arc)
    assert len(one(arc, 10.0)) - 1 == 3 * (len(arc) - 1)  # sqrt(11.5 / 1.5 * 0.0094 / 0.0125) = 2.4


def test_an_arc_between_tangents_stays_smooth():
    # a return of 6 m: tangents of the parallel are parallel, its arc has 6.5 m
    arc = thinned_arc(6.0, 90)
    shape = np.concatenate([[(6.0, -20.0)], arc, [(-20.0, 6.0)]])
    xyz = one(shape, 0.5)
    assert_allclose(xyz[[0, 1], 0], 6.5, atol=0.002)
    inside = (xyz[:, 0] >= -1e-9) & (xyz[:, 1] >= -1e-9)
    assert_allclose(np.hypot(*xyz[inside, :2].T), 6.5, atol=0.002)
    step = np.diff(xyz[:, :2], axis=0)
    turn = np.diff(np.unwrap(np.arctan2(step[:, 1], step[:, 0])))
    assert (turn > -1e-9).all() and turn.max() < np.radians(8)


# Corners


def test_corners_are_mitred_outside_and_cut_inside():
    corner = [(0, 0), (10, 0), (10, 10)]
    assert_allclose(one(corner, 0.5)[:, :2], [(0, -0.5), (10.5, -0.5), (10.5, 10)], atol=1e-12)
    assert_allclose(one(corner, -0.5)[:, :2], [(0, 0.5), (9.5, 0.5), (9.5, 10)], atol=1e-12)


def test_sharp_corners_are_rounded_beyond_the_limit():
    sharp = [(0, 0), (10, 0), (0, 2)]
    xyz = one(sharp, 0.5)
    assert_allclose(np.hypot(*(xyz[1:-1, :2] - [10, 0]).T), 0.5, atol=1e-9)
    assert len(one(sharp, 0.5, mitre_limit=20.0)) == 3
    assert_allclose(
        np.hypot(*(one([(0, 0), (10, 0), (10, 10)], 0.5, mitre_limit=1.0)[1:-1, :2] - [10, 0]).T),
        0.5,
    )


def test_small_elements_vanish_without_loops():
    # a bay of 0.3 m by 0.4 m upwards: below it the parallel runs on straight, above it stands out
    # square
    bay = [(0, 0), (10, 0), (10, 0.3), (10.4, 0.3), (10.4, 0), (20, 0)]
    assert_allclose(one(bay, 0.5)[:, :2], [(0, -0.5), (20, -0.5)], atol=1e-9)
    assert_allclose(
        one(bay, -0.5)[:, :2],
        [(0, 0.5), (9.5, 0.5), (9.5, 0.8), (10.9, 0.8), (10.9, 0.5), (20, 0.5)],
        atol=1e-9,
    )


def test_an_arc_tighter_than_the_offset_vanishes():
    # a return of 0.3 m; 0.5 m inside of it the tangents meet square
    arc = thinned_arc(0.3, 90)
    xyz = one(np.concatenate([[(0.3, -10.0)], arc, [(-10.0, 0.3)]]), -0.5)
    assert_allclose(xyz[:, :2], [(-0.2, -10), (-0.2, -0.2), (-10, -0.2)], atol=0.004)


def test_what_is_left_of_nothing_is_told():
    made = derive_parallels(
        edges_of([(0, 0), (1, 0), (1, 1), (0, 1), (0, 0)], [(0, 5), (9, 5)]), section(-0.6, 0.1)
    )
    assert_array_equal(made.vanished, [[0, 0]])
    assert list(zip(made.edge.tolist(), made.part.tolist())) == [(0, 1), (1, 0), (1, 1)]


def test_a_neck_falls_apart_into_pieces():
    neck = [
        (0, 0),
        (10, 0),
        (10, 2),
        (12, 2),
        (12, 0),
        (22, 0),
        (22, 10),
        (12, 10),
        (12, 3),
        (10, 3),
        (10, 10),
        (0, 10),
        (0, 0),
    ]
    made = derive_parallels(edges_of(neck), section(-0.7))
    assert_array_equal(made.piece, [0, 1]) and made.closed.all()
    area = [
        shapely.area(shapely.polygons(shapely.get_coordinates(shape))) for shape in geometries(made)
    ]
    assert_allclose(area, (10 - 1.4) ** 2, rtol=1e-9)  # two squares of 10 m, 0.7 m in


# Rings


@pytest.mark.parametrize("turned", [False, True])
def test_rings_stay_closed_with_their_seam(turned):
    square = np.array([(5, 0), (10, 0), (10, 10), (0, 10), (0, 0), (5, 0)], float)
    square = square[::-1] if turned else square
    for offset in (0.5, -0.5):
        made = derive_parallels(edges_of(square), section(offset))
        # + to the right, which of a ring that runs clockwise is inside
        grown = (1 if turned else -1) * offset
        xy = np.column_stack([made.x, made.y])
        assert made.closed.all() and (xy[0] == xy[-1]).all()
        assert_allclose(xy[0], (5, grown), atol=1e-9)
        assert shapely.area(shapely.polygons(xy)) == pytest.approx((10 - 2 * grown) ** 2)
        assert shapely.is_ccw(shapely.linearrings(xy)) != turned


def test_a_ring_that_was_mended_keeps_its_seam_and_direction():
    ring = np.array(
        [
            (5, 0),
            (10, 0),
            (10, 4.8),
            (10.2, 4.8),
            (10.2, 5.2),
            (10, 5.2),
            (10, 10),
            (0, 10),
            (0, 0),
            (5, 0),
        ],
        float,
    )
    made = derive_parallels(edges_of(ring), section(-0.5))
    assert made.mended == 1 and made.closed.all()
    xy = np.column_stack([made.x, made.y])
    assert_allclose(xy[0], (5, 0.5), atol=1e-9)
    assert (
        (xy[0] == xy[-1]).all()
        and shapely.is_ccw(shapely.linearrings(xy))
        and shapely.area(shapely.polygons(xy)) == pytest.approx(81)
    )


# Heights, scale, sides


def test_heights_are_those_of_the_edge_beside():
    slope = np.array([(0, 0, 1.0), (10, 0, 1.5), (10, 10, 1.5)])
    made = derive_parallels(edges_of(slope), [SectionPart("flow", 0.5, -0.15)])
    assert_allclose(made.z, [0.85, 1.35, 1.35])
    bay = np.array(
        [(0, 0, 0), (10, 0, 1), (10, 0.3, 1), (10.4, 0.3, 1), (10.4, 0, 1), (20.4, 0, 0)], float
    )
    made = derive_parallels(
        edges_of(bay), [SectionPart("below", 0.5, 0.1), SectionPart("above", -0.5, 0.0)]
    )
    for number, lift in ((0, 0.1), (1, 0.0)):
        some = slice(*made.offsets[number : number + 2])
        near = shapely.line_locate_point(
            shapely.linestrings(bay[:, :2]), shapely.points(made.x[some], made.y[some])
        )
        assert_allclose(
            made.z[some], np.interp(near, [0, 10, 10.3, 10.7, 11, 21], bay[:, 2]) + lift, atol=1e-9
        )
    without = edges_of([(0, 0, np.nan), (9, 0, np.nan)])
    assert np.isnan(derive_parallels(without, section(1.0)).z).all()


def test_offset_nothing_lifts_the_edge():
    shape = np.array([(0, 0, 1.0), (10, 0, 1.5), (10, 10, 1.5)])
    made = derive_parallels(edges_of(shape), [SectionPart("foot", 0.0, -0.15)])
    assert_allclose(np.column_stack([made.x, made.y, made.z]), shape - [0, 0, 0.15])


def test_sides_and_scale():
    shapes = [[(0, 0), (10, 0)], [(0, 5), (10, 5)]]
    made = derive_parallels(
        edges_of(*shapes, scale=np.array([1.0, 2.0])), section(0.5), mirrored=[True, False]
    )
    assert_allclose(made.y, [0.5, 0.5, 4.0, 4.0])  # two metres of the frame to one on the ground


def test_repeated_vertices_do_no_harm():
    assert_allclose(
        one([(0, 0), (0, 0), (10, 0), (10, 0), (10.0001, 0), (10, 10), (10, 10)], 0.5)[:, :2],
        [(0, -0.5), (10.5, -0.5), (10.5, 10)],
        atol=1e-3,
    )


# Any lines


def wandering(seed, count=60):
    rng = np.random.default_rng(seed)
    shapes = []
    for number in range(count):
        heading = np.cumsum(
            np.where(
                rng.uniform(size=40) < 0.25, rng.uniform(-2.6, 2.6, 40), rng.normal(0, 0.15, 40)
            )
        )
        step = rng.uniform(0.1, 3.0, 40)
        xy = np.cumsum(np.column_stack([step * np.cos(heading), step * np.sin(heading)]), axis=0)
        shape = shapely.linestrings(xy)
        if shapely.is_simple(shape):
            shapes.append(
                np.concatenate([xy, xy[:1]])
                if number % 3 == 0 and shapely.is_simple(shapely.linearrings(xy))
                else xy
            )
    return shapes


@pytest.mark.parametrize("seed", range(3))
def test_any_line_gives_parallels_that_keep_their_distance(seed):
    shapes = wandering(seed)
    assert len(shapes) > 15
    offsets = (0.02, -0.15, 0.5, -1.0, 2.0)
    made = derive_parallels(edges_of(*shapes), section(*offsets))
    out = geometries(made)
    assert shapely.is_simple(out).all()
    given = shapely.linestrings(
        np.concatenate(shapes),
        indices=np.repeat(np.arange(len(shapes)), [len(shape) for shape in shapes]),
    )
    d = np.abs(np.array(offsets))[made.part]
    off = shapely.distance(out, given[made.edge])
    assert (off >= np.cos(np.radians(30)) * d - 0.0015).all()
    # every parallel is there, or told to have vanished
    there = set(zip(made.edge.tolist(), made.part.tolist())) | set(
        map(tuple, made.vanished.tolist())
    )
    assert len(there) == len(shapes) * len(offsets)
    # and lies on its side: of the straight piece nearest to its middle, or of both that meet there
    middles = shapely.line_interpolate_point(out, 0.5, normalized=True)
    for number, offset in enumerate(offsets):
        rows = np.flatnonzero(made.part == number)
        right = np.array(
            [side_of(shapes[edge], middle) for edge, middle in zip(made.edge[rows], middles[rows])]
        )
        assert (np.sign(right) == np.sign(offset)).all()
        # no farther than mitres reach, and hardly any middle is at one
        far = shapely.distance(middles[rows], given[made.edge[rows]]) / abs(offset)
        assert far.max() < 3.0 and np.mean(far < 1.2) > 0.9


def side_of(shape, point):
    """Distance of a point from the line through the nearest piece of a polyline, + to the right."""
    xy, at = np.asarray(shape)[:, :2], shapely.get_coordinates(point)[0]
    step = np.diff(xy, axis=0)
    share = np.clip(
        ((at - xy[:-1]) * step).sum(axis=1) / np.maximum((step**2).sum(axis=1), 1e-18), 0.0, 1.0
    )
    off = np.hypot(*(at - xy[:-1] - share[:, None] * step).T)
    # two pieces where a vertex is nearest: halfway between their directions
    near = off < off.min() + 1e-9
    way = (step[near] / np.hypot(*step[near].T)[:, None]).sum(axis=0)
    dx, dy = (at - xy[:-1] - share[:, None] * step)[np.argmin(off)]
    return (way[1] * dx - way[0] * dy) / np.hypot(*way)


@pytest.mark.parametrize("seed", range(2))
def test_straight_polylines_agree_with_geos(seed):
    # right-angled outlines, where GEOS's own mitred curve is exact
    rng, compared = np.random.default_rng(seed), 0
    for _ in range(20):
        step = rng.uniform(3, 9, 8)
        turn = np.cumsum(rng.choice([-1, 1], 8)) * np.pi / 2
        xy = np.cumsum(np.column_stack([step * np.cos(turn), step * np.sin(turn)]), axis=0)
        shape = shapely.linestrings(xy)
        if not shapely.is_simple(shape):
            continue
        for offset in (0.4, -0.4):
            made = derive_parallels(edges_of(xy), section(offset))
            if not made.mended:  # beside ends and necks GEOS leaves pieces out
                theirs = shapely.offset_curve(shape, -offset, join_style="mitre", mitre_limit=5.0)
                assert shapely.hausdorff_distance(geometries(made)[0], theirs) < 1e-6
                compared += 1
    assert compared > 15


def test_lengths():
    assert_allclose(
        line_lengths(np.array([0, 3, 3.0, 0, 1]), np.array([0, 0, 4.0, 0, 0]), np.array([0, 3, 5])),
        [7, 1],
    )


@pytest.mark.parametrize(
    ("how", "message"), [({"tolerance": 0.0}, "tolerance"), ({"mitre_limit": 0.5}, "mitre_limit")]
)
def test_bad_input_is_named(how, message):
    with pytest.raises(ValueError, match=message):
        derive_parallels(edges_of([(0, 0), (1, 0)]), section(0.1), **how)
    with pytest.raises(ValueError, match="1 edges have no length"):
        derive_parallels(edges_of([(0, 0), (0, 0)]), section(0.1))


def test_cancel():
    def look(share):
        raise RuntimeError

    with pytest.raises(RuntimeError):
        derive_parallels(edges_of([(0, 0), (1, 0)]), section(0.1), progress=look)


@pytest.mark.parametrize("offset", [0.5, -0.5])
def test_a_smooth_vertex_between_unequal_chords_moves_away_from_the_centre(offset):
    """The tangent there divides the deflection by the lengths of the chords, where the chords lie
    too far from the arc to stand for it."""
    angle = np.radians([-12.0, 0.0, 3.0])
    edge = edges_of(10 * np.column_stack([np.cos(angle), np.sin(angle)]))
    made = derive_parallels(edge, section(offset), tolerance=1e-6)
    assert_allclose([made.x[1], made.y[1]], [10 + offset, 0.0], atol=1e-3)
