"""What the user can choose, and what is refused."""

import numpy as np
import pytest

from curbwright.shared.epochs.settings import CURVE_MODELS, OccupationSettings, Settings


@pytest.mark.parametrize("name", CURVE_MODELS)
def test_every_curve_model_is_accepted(name):
    assert Settings(curve_model=name).curve_model == name


@pytest.mark.parametrize(
    "wrong",
    [
        {"curve_model": "bezier"},
        {"max_time_gap": -1.0},
        {"max_distance_gap": np.nan},
        {"min_length": -0.1},
        {"station_spacing": -1.0},
        {"max_h_accuracy": 0.0},
        {"tolerance": np.nan},
        {"corner_angle": 0.0},
        {"corner_angle": 180.5},
    ],
)
def test_values_out_of_range_are_refused_by_name(wrong):
    (name,) = wrong
    with pytest.raises(ValueError, match=f"^{name} must be"):
        Settings(**wrong)


def test_limits_of_the_ranges_are_accepted():
    settings = Settings(max_time_gap=0.0, min_length=0.0, station_spacing=0.0, corner_angle=180.0)
    assert settings.corner_angle == 180.0


@pytest.mark.parametrize(
    ("name", "value"),
    [
        ("max_h_accuracy", 0.0),
        ("radius", -1.0),
        ("radius", np.nan),
        ("max_time_gap", -1.0),
        ("min_dwell", np.nan),
        ("min_epochs", 1),
    ],
)
def test_values_out_of_range_for_spot_points_are_refused_by_name(name, value):
    with pytest.raises(ValueError, match=name):
        OccupationSettings(**{name: value})
