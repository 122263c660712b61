"""Bundles: what is found in them is what a look at all finds, for far less work."""

from dataclasses import replace

import numpy as np
import pytest
from lineshapes import lines_of
from numpy.testing import assert_array_equal

from curbwright.shared.lines import rays as looked_up
from curbwright.shared.lines.bundles import Bundle, bundles
from curbwright.shared.lines.rays import Index, stations_along
from curbwright.shared.tuning import CROWDS, MATCHING


def walks(number, seed=1, turned=0.3, length=2.0):
    """Walks of a bend, some the other way, each with vertices of its own."""
    rng, made = np.random.default_rng(seed), []
    for turn in range(number):
        x = np.sort(np.append(rng.uniform(0, length, 8), (rng.normal(0, 0.2), length)))
        y = 0.2 * np.sin(x / 3) + rng.normal(0, 0.004) + 0.003 * np.sin(x + turn)
        c, s = np.cos(turned), np.sin(turned)
        one = np.column_stack([c * x - s * y, s * x + c * y])
        made.append(one[::-1] if turn % 3 == 2 else one)
    return made


def found(lines, other):
    """What stations meet, and distances, of lines against others."""
    lines, index = lines_of(*lines), Index(lines_of(*other))
    met = index.meet(stations_along(lines, 0.5), 2.0, most=CROWDS.most_met)
    places = lines.cut(0.25)
    return met, index.nearest(places.x, places.y, 2.0)


def star(number):
    """Lines through one point: a square of no direction."""
    turns = np.pi * np.arange(number) / number
    at = np.array([-3.0, 3.0, 9.0])
    return [np.column_stack([1 + at * np.cos(t), 1 + at * np.sin(t)]) for t in turns]


@pytest.mark.parametrize("other", [walks(135, 2), star(135)], ids=["walks", "star"])
def test_walks_meet_what_they_meet_without_bundles(other, monkeypatch):
    # so few rays go before it is known that there is a crowd
    monkeypatch.setattr(looked_up, "MATCHING", replace(MATCHING, first_block=200))
    met, near = found(walks(135), other)
    monkeypatch.setattr(looked_up, "bundles", lambda *given: iter(()))
    all_met, all_near = found(walks(135), other)
    for name, values in vars(all_met).items():
        assert_array_equal(getattr(met, name), values)
    np.testing.assert_allclose(near, all_near, rtol=0, atol=1e-12)


def test_what_walks_look_at_of_others_grows_with_their_number(monkeypatch):
    """Counted: segments that rays and places are compared with."""
    looked = []
    for owner, name in ((Bundle, "_in_boxes"), (Index, "_boxes")):
        whole = getattr(owner, name)

        def counted(own, *given, whole=whole):
            pairs = whole(own, *given)
            looked.append(len(pairs[0]))
            return pairs

        monkeypatch.setattr(owner, name, counted)
    monkeypatch.setattr(looked_up, "MATCHING", replace(MATCHING, first_block=100))
    sizes = []
    for number in (200, 400):
        looked.clear()
        found(walks(number), walks(number, 2))
        sizes.append(sum(looked))
    assert sizes[1] < 2.6 * sizes[0]


def test_each_place_lies_in_one_bundle_at_most_and_knows_all_that_is_close():
    lines = lines_of(*walks(160))
    index, places = Index(lines), lines.cut(0.5)
    held = list(bundles(index, places.x, places.y, lambda share: None))
    numbers = np.concatenate([one.place for one in held])
    assert len(numbers) == len(set(numbers.tolist())) > 100
    for one in held:
        assert (np.diff(one.aside) >= 0).all() and (np.diff(one.place) > 0).all()
        x, y = places.x[one.place], places.y[one.place]
        i, k = one.around(x, y, one.square, np.full(len(x), CROWDS.bundle_margin))
        close = set(zip(i.tolist(), k.tolist()))
        for place in range(0, len(x), 197):
            p = np.array([(x[place], y[place])])
            away = index._distance(
                np.repeat(p, len(index.start), axis=0), np.arange(len(index.start))
            )
            near = np.flatnonzero(away <= CROWDS.bundle_margin).tolist()
            assert near and close.issuperset((place, segment) for segment in near)
