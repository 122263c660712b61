"""Points of every encoding, and lines as WKB."""

import struct

import numpy as np
import pytest

pa = pytest.importorskip("pyarrow", reason="bash setup.sh cluster")

import shapely  # noqa: E402

from curbwright.shared.partitions.geoparquet import lines, points  # noqa: E402

PLACES = np.array([[1.5, 2.5, 3.5], [-4.0, 5.0, np.nan], [7.0, 8.0, 9.0]])


def blob(x, y, z=None, order="<", kind=None):
    """A point after OGC 06-103r4, part 8; type 1001 has Z."""
    kind = kind or (1 if z is None else 1001)
    return struct.pack(order + "BI", order == "<", kind) + struct.pack(
        order + "d" * (2 if z is None else 3), *(value for value in (x, y, z) if value is not None)
    )


def check(column, xyz, parts):
    x, y, z, found = points(
        column if isinstance(column, pa.ChunkedArray) else pa.chunked_array([column]), "WKB"
    )
    np.testing.assert_array_equal(np.column_stack([x, y, z]), xyz)
    assert found.tolist() == parts


@pytest.mark.parametrize("kind", [pa.binary(), pa.large_binary()])
@pytest.mark.parametrize("code", [1001, 0x80000001], ids=["ISO", "high bit"])
def test_points_with_heights(kind, code):
    check(pa.array([blob(*place, kind=code) for place in PLACES], kind), PLACES, [1, 1, 1])


def test_points_without_heights():
    check(
        pa.array([blob(*place[:2]) for place in PLACES]),
        np.column_stack([PLACES[:, :2], np.full(3, np.nan)]),
        [1, 1, 1],
    )


def test_pieces_of_a_column():
    whole = pa.array([blob(*place) for place in PLACES])
    check(whole.slice(1, 2), PLACES[1:], [1, 1])
    check(pa.chunked_array([whole.slice(2), whole.slice(0, 1)]), PLACES[[2, 0]], [1, 1])
    check(pa.chunked_array([], pa.binary()), np.zeros((0, 3)), [])


def test_null_empty_and_several_points_are_no_position():
    none = [np.nan] * 3
    several = shapely.to_wkb(shapely.multipoints([[0, 0], [1, 1]]))
    single = shapely.to_wkb(shapely.multipoints([[6.0, 7.0, 8.0]]), flavor="iso")
    blobs = [
        blob(*PLACES[0]),
        None,
        several,
        blob(np.nan, np.nan),
        single,
        blob(*PLACES[2], order=">"),
    ]
    check(pa.array(blobs), [PLACES[0], none, none, none, [6, 7, 8], PLACES[2]], [1, 0, 2, 0, 1, 1])
    check(pa.array([blob(np.nan, np.nan, np.nan), blob(*PLACES[0])]), [none, PLACES[0]], [0, 1])
    check(pa.array([None, None], pa.binary()), [none, none], [0, 0])


@pytest.mark.parametrize(
    ("blobs", "words"),
    [
        ([shapely.to_wkb(shapely.linestrings([[0, 0], [1, 1]]))], "LineString"),
        ([b"\x01\x02"], "cannot be read"),
    ],
)
def test_what_is_no_point_is_refused(blobs, words):
    with pytest.raises(ValueError, match=words):
        points(pa.chunked_array([pa.array(blobs)]), "WKB")


@pytest.mark.parametrize("names", ["xy", "xyz", "xyzm"])
def test_points_as_structs(names):
    """GeoParquet 1.1.0, native encodings: “point” is a struct of x, y and, where there are heights,
    z."""
    rows = [dict(zip(names, (*place, 0.0))) for place in PLACES.tolist()] + [None]
    x, y, z, parts = points(
        pa.chunked_array([pa.array(rows, pa.struct([(name, pa.float64()) for name in names]))]),
        "point",
    )
    np.testing.assert_array_equal(np.column_stack([x, y])[:3], PLACES[:, :2])
    np.testing.assert_array_equal(z[:3], PLACES[:, 2] if "z" in names else np.full(3, np.nan))
    assert parts.tolist() == [1, 1, 1, 0]


def test_lines_are_read_back_as_they_were():
    rng = np.random.default_rng(0)
    offsets = np.array([0, 2, 7, 9])
    x, y, z = rng.normal(0, 1e6, (3, 9))
    geometries = shapely.from_wkb(lines(x, y, z, offsets).to_numpy(zero_copy_only=False))
    coordinates, index = shapely.get_coordinates(geometries, include_z=True, return_index=True)
    np.testing.assert_array_equal(coordinates, np.column_stack([x, y, z]))
    assert np.bincount(index).tolist() == [2, 5, 2]
    assert len(lines(x[:0], y[:0], z[:0], np.array([0]))) == 0
