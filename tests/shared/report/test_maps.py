"""The map on the first page: every line, told apart by more than colour, with the numbers of the
lists."""

import dataclasses
import re

import numpy as np
import pytest
import shapely
from comparisons import comparison
from reportpages import NASTY

from curbwright.shared.lines.comparison_results import STATUS_NAMES
from curbwright.shared.report import maps
from curbwright.shared.report.changes import find_changes
from curbwright.shared.report.page import identifier


def test_numbers_on_the_map_are_those_of_the_lists(plain):
    changes = find_changes(comparison())
    on_map = set(map(int, re.findall(r'font-weight="600" fill="#1b242c">(\d+)<', plain)))
    assert on_map == set(range(1, min(len(changes), maps.MOST_NUMBERS) + 1))
    listed = plain.split("<h2>Lines by status</h2>")[1]
    for place in range(len(changes)):
        row = changes.existing[place] if changes.existing[place] >= 0 else changes.edge[place]
        name = re.escape(identifier(f"{NASTY} {row}"))
        cells = rf'<th scope="row"[^>]*>{place + 1}</th><td[^>]*>{name}</td>'
        assert re.search(cells, listed)


def test_map_of_many_lines_keeps_their_shape():
    made = comparison(count=400)
    edges = made.edges
    rng = np.random.default_rng(5)
    # twenty times as many bent lines as the map has room for, on a square
    many = 8000
    x, y = rng.uniform(0.0, 3000.0, (2, many))
    shape = np.array([(0.0, 0.0), (6.0, 0.0), (12.0, 4.0), (18.0, 12.0), (24.0, 12.0)])
    flat = {
        "x": (x[:, None] + shape[:, 0]).ravel(),
        "y": (y[:, None] + shape[:, 1]).ravel(),
        "z": np.full(5 * many, np.nan),
    }
    lines = dataclasses.replace(
        edges,
        **flat,
        offsets=np.arange(0, 5 * many + 1, 5),
        line=np.arange(many) % edges.count,
        **({"scale": np.ones(edges.count)} if hasattr(edges, "scale") else {}),
    )
    svg, tolerance = maps.status_map(dataclasses.replace(made, edges=lines))
    # under half a millimetre on the map
    assert 0 < tolerance < 5 * 3000.0 / maps.HIGHEST
    assert svg.count("<path") >= 5 and len(svg) < 3e6


def test_lines_too_small_to_be_seen_are_dots():
    made = comparison(count=8)
    far = dataclasses.replace(
        made.existing,
        x=made.existing.x * 1.0,
        y=np.where(
            np.arange(len(made.existing.y)) < made.existing.offsets[1],
            made.existing.y - 4e6,
            made.existing.y,
        ),
    )
    svg, _ = maps.status_map(dataclasses.replace(made, existing=far))
    for path in re.findall(r'<path d="(M\d[^"]*)"', svg)[:-2]:
        assert not re.search(r"l(?:M|$)", path)  # each line has a step


def test_every_status_can_be_told_without_its_colour():
    looks = [style[1:] for style in maps.SCHEME.values()]
    assert len(set(looks)) == len(looks) == len(STATUS_NAMES)
    for style in maps.SCHEME.values():
        assert style[0] in maps.stroke(style)


def test_the_map_fits_its_page_whatever_the_shape_of_the_place():
    made = comparison(count=8)
    for wide, high in ((1.0, 1.0), (40.0, 1.0), (1.0, 40.0)):
        edges, existing = (
            dataclasses.replace(one, x=one.x * wide, y=one.y * high)
            for one in (made.edges, made.existing)
        )
        svg, tolerance = maps.status_map(dataclasses.replace(made, edges=edges, existing=existing))
        box = re.search(r'viewBox="([^"]+)"', svg).group(1)
        width, height = map(float, box.split()[2:])
        # below it lie scale and north
        assert width <= maps.WIDTH + 1 and height <= maps.HIGHEST + 111 and tolerance >= 0
        assert "nan" not in svg.lower() and svg.count("<path") > 3


def crowded(count):
    """Short lines a metre apart, and one far off that makes the scale."""
    shapes = [shapely.linestrings([[place, 0.0], [place, 3.0]]) for place in range(count)]
    return np.array([*shapes, shapely.linestrings([[0.0, 0.0], [400.0, 120.0]])])


def numbers_on(svg):
    """Number and place of each ring."""
    found = re.findall(r"translate\((-?\d+) (-?\d+)\)\">(?:<path[^>]*>)?<circle.*?>(\d+)<", svg)
    return {int(number): (int(x), int(y)) for x, y, number in found}


@pytest.mark.parametrize("count", [1, 5, 12])
def test_numbers_make_room_for_each_other(count):
    shapes = crowded(count)
    numbers = [(place + 1, shapes[place : place + 1]) for place in range(count)]
    svg, _ = maps.line_map([(maps.BEHIND, shapes)], numbers, "map")
    places = numbers_on(svg)
    assert set(places) == set(range(1, count + 1))
    xy = np.array(list(places.values()), float)
    gaps = np.hypot(*(xy[:, None] - xy[None]).T)[np.triu_indices(count, 1)]
    assert (gaps >= maps.APART - 1).all()
    assert (xy[:, 0] > 0).all() and (xy[:, 0] < maps.WIDTH).all()
    leader = 'stroke="#c8553d" stroke-width="3"'  # to what a number beside its line stands for
    assert (leader in svg) == (count > 1)


def test_points_have_marks_of_their_own_and_numbers_stand_at_them():
    xy = np.array([[0.0, 0.0], [10.0, 5.0], [20.0, 0.0]])
    numbers = [(1, shapely.points(xy[1:2]))]
    svg, _ = maps.line_map([], numbers, "map", [("point", xy[:2]), ("outlier", xy[2:])])
    assert svg.count(maps.MARKS["point"]) == 2 and svg.count(maps.MARKS["outlier"]) == 1
    assert set(numbers_on(svg)) == {1}
    assert len(set(maps.MARKS.values())) == len(maps.MARKS)


def test_nothing_to_draw_is_no_map():
    assert maps.line_map([], [], "map") == ("", 0.0)
