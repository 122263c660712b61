"""The shift of a whole layer of lines, from offsets that are only seen across each line."""
from dataclasses import dataclass

import numpy as np

MODELS = ("translation", "rigid", "similarity")


@dataclass(frozen=True)
class Shift:
    """Where the existing layer lies as seen from the edges: what is added to the edges to come onto the existing lines.

    Attributes
    ----------
    model : str
        One of `MODELS`.
    east, north : float
        Metres, at `origin`. NaN where that component is undetermined; see `known`.
    rotation, scale : float
        Radians counter-clockwise about `origin`; a factor (1 for none). 0 and 1 where the model has none, NaN where undetermined.
    sigma_east, sigma_north, sigma_rotation, sigma_scale : float
        1-sigma; lines, not stations, count as independent. NaN where the model has none or nothing is determined.
    significant : bool
        True where the whole is more than chance at `confidence`.
    determined : bool
        True where every parameter of the model can be told from the lines.
    undetermined_azimuth : float
        Where lines all run one way: that direction, degrees clockwise from north, 0 to 180; along it nothing is seen. NaN else.
    across : float
        In that case: the component that is seen, + to the right of that direction; NaN else. `sigma_across` belongs to it.
    known : ndarray of float, shape (2,)
        East and north of the component that is determined, 0 along the other; zeros where nothing is. This is what is removed.
    origin : tuple of float
        Point that rotation and scale leave alone, local frame.
    statistic, critical : float
        Test value (Wald, over degrees of freedom, F distributed) and its limit at `confidence`.
    degrees : tuple of int
        Degrees of freedom of the two: parameters that are determined; lines used less those.
    confidence : float
    used_length, offered_length : float
        Metres of existing line whose stations had a weight of at least a half, and of all that were offered.
    used_lines : int
    noise : float
        Robust 1-sigma of the offsets once the shift is out, metres; NaN where nothing was offered.
    reason : str
        Why nothing could be told; empty where something could.
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
    degrees: tuple
    critical: float
    confidence: float
    used_length: float
    offered_length: float
    used_lines: int
    noise: float
    reason: str = ""
