"""What the user can choose."""

from dataclasses import dataclass

CURVE_MODELS = ("automatic", "elements", "spline")


@dataclass(frozen=True)
class Settings:
    """What the user can choose. Lengths in metres, times in seconds, angles in degrees.

    `curve_model` is one of `CURVE_MODELS`; with a `station_spacing` of 0 there are no stations.

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

    def __post_init__(self):
        if self.curve_model not in CURVE_MODELS:
            raise ValueError(
                f"curve_model must be one of {', '.join(CURVE_MODELS)}, got {self.curve_model!r}"
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
