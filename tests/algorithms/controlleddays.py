"""Capture days with spot points on control points."""

import numpy as np
from walkedlayers import START, layer_of, walk

UTM = "EPSG:32632"


def spot(place, day=0, seed=7, epochs=12, shift=(0.0, 0.0, 0.0)):
    """Epochs of somebody who stands still."""
    noise = np.random.default_rng(seed).normal(0, 0.004, (3, epochs))
    x, y, z = np.array(place)[:, None] + np.array(shift)[:, None] + noise
    return [
        {
            "x": float(x[i]),
            "y": float(y[i]),
            "z": float(z[i]),
            "seconds": START + 86400.0 * day + 5000.0 + 100.0 * seed + i,
            "fix": 4,
            "h_acc": 0.008,
            "capture": f"spot {seed}",
        }
        for i in range(epochs)
    ]


KNOWN = ((-20.0, 5.0, 4.0), (-30.0, 60.0, 5.0), (-50.0, 20.0, 4.5))
KNOWN_SHIFT = (0.31, -0.12, 0.2)  # base of the second day


def a_day(day, shift):
    rows = [{**row, "seconds": row["seconds"] + 86400.0 * day} for row in walk(seed=day + 1)]
    for number, place in enumerate(KNOWN):
        rows += spot(place, day, 10 * day + number + 20, shift=shift)
    return rows


def control_points(crs=UTM):
    points = layer_of(
        [dict(zip(("x", "y", "z"), place)) for place in KNOWN],
        fields=(("name", "string"),),
        values=lambda row: ["point"],
        name="control",
    )
    if crs == UTM:
        return points
    import processing

    return processing.run(
        "native:reprojectlayer", {"INPUT": points, "TARGET_CRS": crs, "OUTPUT": "memory:"}
    )["OUTPUT"]
