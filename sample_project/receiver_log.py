"""The log that a receiver would have written on one walk of the port, as NMEA 0183 sentences."""

from datetime import datetime, timezone

import numpy as np

from ..shared.epochs.nmea import checksum
from .simulation import FIXED, FLOAT

# the walk; the same epochs stand in the layer captures_plumb
EDGE, DAY = "roundabout north-west", 2
SEPARATION = 41.237  # m, of the geoid from the ellipsoid: invented
MODE = {FIXED: "R", FLOAT: "F"}


def sentence(body):
    """A sentence of its body, bytes."""
    return f"${body}*{checksum(body.encode())}\r\n".encode()


def angle(degrees, width, letters):
    """A latitude or longitude as ddmm.mmmmmmm and its letter; 1e-7 of a minute is 0.2 mm."""
    units = round(abs(degrees) * 60.0 * 1e7)
    whole, minutes = units // 600_000_000, units % 600_000_000 / 1e7
    return f"{whole:0{width}}{minutes:010.7f},{letters[int(degrees < 0)]}"


def log_of(walk, latitude, longitude, rng):
    """The log, bytes.

    Parameters
    ----------
    walk : Walk
    latitude, longitude : ndarray of float, shape (n,)
        Degrees, NaN where the walk has no position.
    rng : numpy.random.Generator

    Notes
    -----
    GGA, GST and RMC for each epoch, ZDA now and then, one frame of binary data, one ZDA spoilt in
    transmission, and a last line that breaks off where the receiver was switched off.
    """
    pieces = [sentence("GNTXT,01,01,02,Tern Ness is invented")]
    for row, seconds in enumerate(walk.seconds.tolist()):
        moment = (
            datetime.fromtimestamp(round(seconds, 2), timezone.utc)
            if np.isfinite(seconds)
            else None
        )
        clock = f"{moment:%H%M%S}.{moment.microsecond // 10000:02}" if moment else ""
        day = f"{moment:%d%m%y}" if moment else ""
        fix, there = int(walk.fix[row]), bool(np.isfinite(latitude[row]))
        place = (
            f"{angle(latitude[row], 2, 'NS')},{angle(longitude[row], 3, 'EW')}" if there else ",,,"
        )
        satellites = int(rng.integers(14, 27) if fix == FIXED else rng.integers(6, 14))
        height = f"{walk.z[row]:.4f},M,{SEPARATION},M" if there else ",,,"
        age = "1.0,0042" if there and fix in MODE else ","
        quality = f"{fix if there else 0},{satellites:02},{12.0 / satellites:.1f}"
        pieces.append(sentence(f"GNGGA,{clock},{place},{quality},{height},{age}"))
        sigma = walk.h_acc[row] / 2**0.5  # of each axis
        axes = f"{sigma:.4f},{sigma:.4f}"
        pieces.append(sentence(f"GNGST,{clock},,{axes},0.0,{axes},{walk.v_acc[row]:.4f}"))
        state, mode = ("A", MODE.get(fix, "A")) if there else ("V", "N")
        pieces.append(sentence(f"GNRMC,{clock},{state},{place},,,{day},,,{mode}"))
        if row % 30 == 0 and moment:
            time = sentence(f"GNZDA,{clock},{moment:%d,%m,%Y},00,00")
            pieces.append(time.replace(b"ZDA,", b"ZDA;") if row == 60 else time)
        if row == 40:
            pieces.append(b"\xb5\x00$" + rng.integers(0, 256, 60, np.uint8).tobytes())
    return b"".join(pieces) + b"$GNGGA,0"
