"""The shift of a whole layer of lines, as it is found."""

from dataclasses import dataclass

import numpy as np

MODELS = ("translation", "rigid", "similarity")


@dataclass(frozen=True)
class Shift:
    """Position of the existing layer relative to the edges: what brings the edges onto it.

    Attributes
    ----------
    model : str
        One of `MODELS`.
    east, north : float
        Metres, at `origin`. NaN where that component is undetermined; see `known`.
    rotation, scale : float
        Radians counter-clockwise about `origin`; a factor (1 for none). 0 and 1 where the model has
        none, NaN where undetermined.
    sigma_east, sigma_north, sigma_rotation, sigma_scale : float
        1-sigma; lines, not stations, count as independent. NaN if the model lacks the parameter or
        it is undetermined.
    significant : bool
        True if the shift as a whole is more than chance at `confidence`.
    determined : bool
        True if the lines determine every parameter of the model.
    undetermined_azimuth : float
        If all lines run one way: that direction, in which the shift does not show, degrees
        clockwise from north, 0 to 180. NaN otherwise.
    across, sigma_across : float
        In that case the component that shows, + to the right of that direction, and its 1-sigma;
        NaN otherwise.
    known : ndarray of float, shape (4,)
        East, north (metres), rotation (radians) and scale (less 1) as far as they are determined, 0
        for what is not. This is what is removed.
    origin : tuple of float
        Fixed point of rotation and scale, local frame.
    statistic, critical : float
        Test value (Wald, over degrees of freedom, F distributed) and its limit at `confidence`.
    degrees : tuple of int
        Degrees of freedom: determined parameters; independent lines less these.
    confidence : float
    used_length, offered_length : float
        Length of existing line at stations with a weight of a half or more, and at all stations,
        metres.
    used_lines : int
        Number of lines with such a weight.
    noise : float
        Robust 1-sigma of the offsets less the shift, metres; NaN without offsets.
    reason : str
        Why there is no estimate; empty if there is one.
    """

    model: str
    east: float
    north: float
    rotation: float
    scale: float
    sigma_east: float
    sigma_north: float
    sigma_rotation: float
    sigma_scale: float
    significant: bool
    determined: bool
    undetermined_azimuth: float
    across: float
    sigma_across: float
    known: np.ndarray
    origin: tuple
    statistic: float
    critical: float
    degrees: tuple
    confidence: float
    used_length: float
    offered_length: float
    used_lines: int
    noise: float
    reason: str = ""

    def move(self, x, y):
        """Positions of the edges moved onto the existing layer, as far as the shift is known.

        Parameters
        ----------
        x, y : ndarray of float, shape (n,)
            Local frame, metres.

        Returns
        -------
        x, y : ndarray of float, shape (n,)
        """
        east, north, rotation, scale = self.known
        dx, dy = x - self.origin[0], y - self.origin[1]
        cos, sin = (1 + scale) * np.cos(rotation), (1 + scale) * np.sin(rotation)
        return (
            self.origin[0] + east + cos * dx - sin * dy,
            self.origin[1] + north + sin * dx + cos * dy,
        )

    def across_lines(self, east, north, x, y):
        """Component of the shift along unit vectors at positions, which is what it adds to offsets;
        all of shape (n,), metres."""
        to_x, to_y = self.move(x, y)
        return (to_x - x) * east + (to_y - y) * north


def no_shift(model, reason, confidence, offered=0.0):
    """A `Shift` without a result, and why.

    Parameters
    ----------
    model : str
        One of `MODELS`.
    reason : str
    confidence : float
    offered : float
        Length of existing line at all stations, metres.

    Returns
    -------
    Shift
    """
    nan = np.nan
    rotation, scale = {"translation": (0.0, 1.0), "rigid": (nan, 1.0), "similarity": (nan, nan)}[
        model
    ]
    return Shift(
        model=model,
        east=nan,
        north=nan,
        rotation=rotation,
        scale=scale,
        sigma_east=nan,
        sigma_north=nan,
        sigma_rotation=nan,
        sigma_scale=nan,
        significant=False,
        determined=False,
        undetermined_azimuth=nan,
        across=nan,
        sigma_across=nan,
        known=np.zeros(4),
        origin=(0.0, 0.0),
        statistic=nan,
        critical=nan,
        degrees=(0, 0),
        confidence=confidence,
        used_length=0.0,
        offered_length=offered,
        used_lines=0,
        noise=nan,
        reason=reason,
    )
