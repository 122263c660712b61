"""The height of a curb along its edge: top minus the flow line next to it, station by station."""

from dataclasses import dataclass

import numpy as np

from ..arrays.ragged import group_max, group_min, group_sum, stretch_starts
from ..tuning import CROWDS
from .rays import Index, stations_along

NO_HEIGHT, WITHIN, LOW, HIGH = range(4)
STATE_NAMES = ("no_height", "within", "low", "high")


@dataclass(frozen=True)
class CurbHeights:
    """Heights at stations along the top, in its order; arrays of shape (n,).

    Attributes
    ----------
    top, flow : ndarray of int
        Line of each layer.
    chainage, flow_chainage : ndarray of float
        Along both, metres.
    x, y, z : ndarray of float
        Station on the top, metres.
    height : ndarray of float
        Top minus flow line, metres; NaN if either has no height.
    distance : ndarray of float
        From the top to the flow line in plan, + to the right of the top, metres.
    sigma : ndarray of float
        1-sigma of the height, metres.
    state : ndarray of int
        Place in `STATE_NAMES`.
    certain : ndarray of bool
        True where the height lies outside the range by more than its uncertainty explains.
    stations : ndarray of int, shape (lines,)
        Number of stations of each top, including those without a flow line next to them.
    """

    top: np.ndarray
    flow: np.ndarray
    chainage: np.ndarray
    flow_chainage: np.ndarray
    x: np.ndarray
    y: np.ndarray
    z: np.ndarray
    height: np.ndarray
    distance: np.ndarray
    sigma: np.ndarray
    state: np.ndarray
    certain: np.ndarray
    stations: np.ndarray

    def __len__(self):
        return len(self.top)


@dataclass(frozen=True)
class HeightRange:
    """The range of curb heights that are as they should be.

    Attributes
    ----------
    low, high : float
        Metres.
    quantile : float
        A height this many sigmas outside the range is certain to be outside.

    Raises
    ------
    ValueError
        If `low` is not less than `high`.
    """

    low: float
    high: float
    quantile: float = 1.9600  # two-sided 95 % of the normal distribution

    def __post_init__(self):
        if not self.low < self.high:
            raise ValueError(f"low must be less than high, got {self.low} and {self.high}")

    def state(self, height):
        """Place in `STATE_NAMES` of each height, shape (n,)."""
        with np.errstate(invalid="ignore"):
            return np.select(
                [np.isnan(height), height < self.low, height > self.high],
                [NO_HEIGHT, LOW, HIGH],
                WITHIN,
            )

    def beyond(self, height, sigma):
        """Mask of the heights outside the range by more than their uncertainty explains."""
        with np.errstate(invalid="ignore"):
            outside = np.maximum(self.low - height, height - self.high)
            return np.isin(self.state(height), (LOW, HIGH)) & (outside > self.quantile * sigma)


def measure_heights(
    tops, flows, nominal, sigmas, spacing=1.0, reach=0.6, progress=lambda share: None
):
    """Measure the height of a curb.

    Parameters
    ----------
    tops, flows : Lines
        In one frame.
    nominal : HeightRange
    sigmas : pair of array_like of float, shape (lines,)
        1-sigma of the heights of each top and of each flow line, metres.
    spacing : float
        Greatest distance between stations, metres.
    reach : float
        Greatest horizontal distance of the flow line, metres. Of several the nearest counts.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    CurbHeights

    Raises
    ------
    ValueError
        If the spacing or the reach is none, or there is not one sigma to a line.
    """
    if not (spacing > 0 and reach > 0):
        raise ValueError(f"spacing and reach must be greater than 0 m, got {spacing} and {reach}")
    sigma_top, sigma_flow = (np.asarray(sigma, float) for sigma in sigmas)
    if sigma_top.shape != (len(tops),) or sigma_flow.shape != (len(flows),):
        raise ValueError(f"there must be a sigma for each of {len(tops)} and {len(flows)} lines")
    rays = stations_along(tops, spacing)
    index, most = Index(flows), CROWDS.most_met  # the nearest of them is among so many
    found = index.meet(rays, reach, lambda share: progress(0.9 * share), most=most)
    nearest, distance = _nearest_flow(tops, rays, found)
    station, part = found.station[nearest], found.part[nearest]
    top, flow = tops.line[rays.part[station]], flows.line[part]
    height = rays.z[station] - found.z[nearest]
    sigma = np.hypot(sigma_top[top], sigma_flow[flow])
    starts, flow_starts = tops.part_start(), flows.part_start()
    progress(1.0)
    return CurbHeights(
        top=top,
        flow=flow,
        chainage=(starts[rays.part[station]] + rays.chainage[station]) / tops.scale[top],
        flow_chainage=(flow_starts[part] + found.chainage[nearest]) / flows.scale[flow],
        x=rays.x[station],
        y=rays.y[station],
        z=rays.z[station],
        height=height,
        distance=distance,
        sigma=sigma,
        state=nominal.state(height),
        certain=nominal.beyond(height, sigma),
        stations=np.bincount(tops.line[rays.part], minlength=len(tops)),
    )


def _nearest_flow(tops, rays, found):
    """Row of the nearest candidate of each station, and its offset on the ground, metres."""
    offset = found.offset / tops.scale[tops.line[rays.part[found.station]]]
    order = np.lexsort((found.chainage, found.part, np.abs(offset), found.station))
    order = order[stretch_starts(found.station[order])]
    return order, offset[order]


@dataclass(frozen=True)
class HeightStatistics:
    """Statistics of each top; arrays of shape (lines,).

    `measured`: number of stations with a height; `outside`: of those outside the range; `certain`:
    of those certain to be. `distance`, `sigma`: means. All others are of the height. Metres, NaN
    where nothing was measured.
    """

    measured: np.ndarray
    outside: np.ndarray
    certain: np.ndarray
    mean: np.ndarray
    least: np.ndarray
    greatest: np.ndarray
    sd: np.ndarray
    distance: np.ndarray
    sigma: np.ndarray


def height_statistics(heights):
    """Statistics of each top from its stations.

    Parameters
    ----------
    heights : CurbHeights

    Returns
    -------
    HeightStatistics
    """
    lines = len(heights.stations)
    there = np.isfinite(heights.height)
    top, height = heights.top[there], heights.height[there]
    offsets = np.searchsorted(top, np.arange(lines + 1))  # stations come top by top
    number = np.diff(offsets)

    def mean(values):
        with np.errstate(invalid="ignore"):
            return group_sum(values, offsets) / number

    middle = mean(height)
    spread = height - middle[top]
    with np.errstate(invalid="ignore", divide="ignore"):
        sd = np.sqrt(np.where(number > 1, group_sum(spread**2, offsets) / (number - 1), np.nan))
    outside = np.isin(heights.state[there], (LOW, HIGH)).astype(np.int64)
    return HeightStatistics(
        measured=number,
        outside=group_sum(outside, offsets),
        certain=group_sum(heights.certain[there].astype(np.int64), offsets),
        mean=middle,
        least=group_min(height, offsets, np.nan),
        greatest=group_max(height, offsets, np.nan),
        sd=sd,
        distance=mean(heights.distance[there]),
        sigma=mean(heights.sigma[there]),
    )
