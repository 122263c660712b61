"""What the user can choose."""

from dataclasses import dataclass

CURVE_MODELS = ("automatic", "elements", "spline")
DOUBTFUL = ("keep", "leave_out")


@dataclass(frozen=True)
class Settings:
    """What the user can choose for edges.

    Attributes
    ----------
    max_h_accuracy : float
        Maximum reported horizontal 1-sigma of a usable epoch, metres.
    max_time_gap, max_distance_gap : float
        Longest pause in seconds and step in metres that do not break a line; 0: from the stream.
    corner_angle : float
        Minimum deflection of a corner, degrees.
    tolerance : float
        Maximum distance between the fitted curve and the line written, metres.
    min_length : float
        Minimum length of an edge, metres.
    curve_model : str
        One of `CURVE_MODELS`.
    station_spacing : float
        Distance of stations, metres; 0: no stations.
    doubtful : str
        One of `DOUBTFUL`: positions that nothing confirms are drawn and marked, or they are left
        out and break the line.

    Raises
    ------
    ValueError
        If a value is outside its range; the message names it.
    """

    max_h_accuracy: float = 0.05
    max_time_gap: float = 0.0
    max_distance_gap: float = 0.0
    corner_angle: float = 30.0
    tolerance: float = 0.01
    min_length: float = 0.5
    curve_model: str = "automatic"
    station_spacing: float = 0.0
    doubtful: str = "leave_out"

    def __post_init__(self):
        if self.curve_model not in CURVE_MODELS:
            raise ValueError(
                f"curve_model must be one of {', '.join(CURVE_MODELS)}, got {self.curve_model!r}"
            )
        if self.doubtful not in DOUBTFUL:
            raise ValueError(
                f"doubtful must be one of {', '.join(DOUBTFUL)}, got {self.doubtful!r}"
            )
        for name in ("max_time_gap", "max_distance_gap", "min_length", "station_spacing"):
            if not getattr(self, name) >= 0:  # written so that NaN fails too
                raise ValueError(f"{name} must be 0 or greater, got {getattr(self, name)}")
        for name in ("max_h_accuracy", "tolerance"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} must be greater than 0, got {getattr(self, name)}")
        if not 0 < self.corner_angle <= 180:
            raise ValueError(
                f"corner_angle must be over 0 and at most 180 degrees, got {self.corner_angle}"
            )

    @property
    def keeps_doubtful(self):
        """True if doubtful positions are drawn."""
        return self.doubtful == "keep"


@dataclass(frozen=True)
class OccupationSettings:
    """What the user can choose for spot points.

    Attributes
    ----------
    max_h_accuracy : float
        Maximum reported horizontal 1-sigma of a usable epoch, metres.
    min_epochs : int
        Minimum number of epochs of a point.
    radius : float
        Maximum distance of an epoch from the middle of its stop, metres.
    max_time_gap : float
        Longest pause that does not end a stop, seconds; 0: from the stream.
    min_dwell : float
        Minimum duration of a stop on a walk, seconds.

    Raises
    ------
    ValueError
        If a value is outside its range; the message names it.
    """

    max_h_accuracy: float = 0.05
    min_epochs: int = 2
    radius: float = 0.15
    max_time_gap: float = 0.0
    min_dwell: float = 5.0

    def __post_init__(self):
        for name in ("max_h_accuracy", "radius"):
            if not getattr(self, name) > 0:
                raise ValueError(f"{name} must be greater than 0, got {getattr(self, name)}")
        for name in ("max_time_gap", "min_dwell"):
            if not getattr(self, name) >= 0:
                raise ValueError(f"{name} must be 0 or greater, got {getattr(self, name)}")
        if not self.min_epochs >= 2:
            raise ValueError(f"min_epochs must be 2 or more, got {self.min_epochs}")
