"""Sentences and logs for the tests of the NMEA reader."""

import io

import numpy as np

from curbwright.shared.epochs.nmea import checksum, read_log


def sentence(body, end="\r\n"):
    return f"${body}*{checksum(body.encode())}{end}".encode()


def gga(
    clock,
    latitude="5556.7758383,N",
    longitude="00300.2734080,E",
    quality=4,
    rest="25,0.5,4.2212,M,41.237,M,1.0,0042",
    talker="GN",
):
    return sentence(f"{talker}GGA,{clock},{latitude},{longitude},{quality},{rest}")


def rmc(clock, day, status="A", position="5556.7758383,N,00300.2734080,E", talker="GN"):
    return sentence(f"{talker}RMC,{clock},{status},{position},,,{day},,,R")


def zda(clock, day):
    return sentence(f"GNZDA,{clock},{day},00,00")


def gst(clock, sigmas="0.010,0.009,0.016", talker="GN"):
    return sentence(f"{talker}GST,{clock},0.012,0.011,0.008,35.0,{sigmas}")


def read(*pieces, **options):
    return read_log(io.BytesIO(b"".join(pieces)), **options)


def unix(text):
    """Seconds since 1970 of a UTC time such as ``2025-05-14T07:02:27.00``."""
    return float((np.datetime64(text) - np.datetime64(0, "ms")) / np.timedelta64(1, "s"))


def random_log(rng, epochs=200, damage=0.1):
    """A log with frames, damage and lost bytes, and how often ``GGA,`` stands in it."""
    pieces = []
    for number in range(epochs):
        clock = f"{number // 3600 % 24:02}{number // 60 % 60:02}{number % 60:02}"
        clock += f".{rng.integers(0, 100):02}"
        place = f"{rng.integers(0, 90):02}{rng.integers(0, 60):02}.{rng.integers(0, 10**7):07}"
        place += f",{'NS'[rng.integers(2)]}"
        across = f"{rng.integers(0, 180):03}{rng.integers(0, 60):02}.{rng.integers(0, 10**5):05}"
        across += f",{'EW'[rng.integers(2)]}"
        talker = ("GP", "GN", "GL", "GA", "GB")[rng.integers(5)]
        rest = f"{rng.integers(4, 30):02},{rng.uniform(0.4, 9):.2f}"
        rest += f",{rng.normal(0, 300):.4f},M,{rng.normal(0, 40):.3f},M"
        rest += f",{rng.uniform(0, 9):.1f},{rng.integers(0, 1023):04}"
        pieces.append(gga(clock, place, across, rng.integers(0, 9), rest, talker))
        pieces.append(
            gst(clock, ",".join(f"{value:.4f}" for value in rng.uniform(0.001, 3.0, 3)), talker)
        )
        pieces.append(
            sentence(
                "GPGSV,3,1,11,03,03,111,00,04,15,270,00,06,01,010,00,13,06,292,00",
                ["\r\n", "\n"][rng.integers(2)],
            )
        )
        if rng.random() < 0.2:
            pieces.append(rng.integers(0, 256, rng.integers(1, 400), np.uint8).tobytes())
        if rng.random() < 0.1:
            pieces.append(b"2025-05-14 07:02:27.123 > ")
    for number in np.flatnonzero(rng.random(len(pieces)) < damage).tolist():
        piece = bytearray(pieces[number])
        at = int(rng.integers(len(piece)))
        if rng.random() < 0.3:
            del piece[at:]
        elif rng.random() < 0.3:
            del piece[at]
        else:
            piece[at] ^= int(rng.integers(1, 256))
        pieces[number] = bytes(piece)
    return rmc("000000.00", "140525") + b"".join(pieces)
