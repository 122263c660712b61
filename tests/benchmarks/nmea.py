"""Seconds and peak memory of reading a log of NMEA sentences, beside pynmea2; nothing is asserted.

    .venv/bin/python tests/benchmarks/nmea.py            2 million, pynmea2 on 200,000 of them
    .venv/bin/python tests/benchmarks/nmea.py 200k 2M    several sizes, to see how it grows

Each reading runs in a process of its own, so that peaks do not mix. The log has GGA, GST, RMC and
GSA in turn at 10 Hz, with a binary frame and a broken checksum now and then. pynmea2 is given the
lines one by one, and what it cannot read is passed over.
"""

import argparse
import subprocess
import sys
import tempfile
import time
from pathlib import Path

import numpy as np
from measuring import load_clone, parse_size, peak

REFERENCE = 200_000  # sentences that pynmea2 is given


def with_checksums(bodies):
    """Sentences of bodies without ``$``, checksums reckoned all at once."""
    text = np.frombuffer("".join(bodies).encode() + b"\0", np.uint8)
    stops = np.cumsum([len(body) for body in bodies])
    before = np.concatenate([[0], np.bitwise_xor.accumulate(text)])
    sums = before[stops] ^ before[np.concatenate([[0], stops[:-1]])]
    return [f"${body}*{value:02X}\r\n" for body, value in zip(bodies, sums.tolist())]


def write_log(path, sentences, seed=1):
    """Write a log and return its size in MB."""
    rng = np.random.default_rng(seed)
    with open(path, "wb") as target:
        for first in range(0, sentences // 4, 50_000):
            bodies = []
            for number in range(first, min(first + 50_000, sentences // 4)):
                tenth = number % 864_000
                clock = (
                    f"{tenth // 36000:02}{tenth // 600 % 60:02}{tenth // 10 % 60:02}.{tenth % 10}0"
                )
                place = f"5556.{number % 10_000_000:07},N,00259.{number % 9_999_999:07},E"
                height = f"{3 + number % 100 / 1000:.3f},M,41.237,M"
                bodies += [
                    f"GNGGA,{clock},{place},4,18,0.7,{height},1.0,0123",
                    f"GNGST,{clock},0.012,0.011,0.008,35.0,0.010,0.009,0.0{10 + number % 90}",
                    f"GNRMC,{clock},A,{place},2.6,0.0,{13 + number // 864_000:02}0525,,,R",
                    "GNGSA,A,3,03,06,01,13,14,17,18,19,22,24,,,1.4,0.7,1.2",
                ]
            lines = with_checksums(bodies)
            for number in rng.integers(0, len(lines), len(lines) // 2000).tolist():
                lines[number] = lines[number].replace(",", ";", 1)
            frame = rng.integers(0, 256, 200, np.uint8).tobytes()
            blocks = [
                "".join(lines[start : start + 2000]).encode()
                for start in range(0, len(lines), 2000)
            ]
            target.write(frame.join(blocks))
    return Path(path).stat().st_size / 1e6


def writer(path, sentences):
    print(f"{sentences:,} sentences, {write_log(path, sentences):.0f} MB")


def ours(path, sentences):
    load_clone()
    from curbwright.shared.epochs import nmea

    before, looks, start = peak(), [], time.perf_counter()
    with open(path, "rb") as stream:
        log = nmea.read_log(stream, progress=lambda done: looks.append(time.perf_counter()))
    seconds = time.perf_counter() - start
    print(
        f"  array code {seconds:6.2f} s  {sentences / seconds / 1e6:5.2f} million sentences a"
        f" second  {peak():6.0f} MB ({before:.0f} before)  {len(log.epochs):,} epochs,"
        f" {len(log.rejected):,} rejected  longest wait between looks at cancel"
        f" {np.diff([start, *looks]).max():.2f} s"
    )


def reference(path, sentences):
    import pynmea2

    start, read = time.perf_counter(), 0
    with open(path, "rb") as stream:
        for line, _ in zip(stream, range(sentences)):
            try:
                sentence = pynmea2.parse(line.decode("latin-1"), check=True)
            except pynmea2.ParseError:
                continue
            if sentence.sentence_type == "GGA":
                read += (sentence.latitude, sentence.longitude, sentence.timestamp) is not None
    seconds = time.perf_counter() - start
    print(
        f"  pynmea2    {seconds:6.2f} s for {sentences:,}  {sentences / seconds / 1e6:5.2f} million"
        f" sentences a second  {read:,} positions"
    )


def main():
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("sizes", nargs="*", default=["2M"], help="sentences")
    parser.add_argument(
        "--as", dest="reader", choices=("writer", "ours", "reference"), help=argparse.SUPPRESS
    )
    parser.add_argument("--log", help=argparse.SUPPRESS)
    arguments = parser.parse_args()
    for size in map(parse_size, arguments.sizes):
        if arguments.reader:
            {"writer": writer, "ours": ours, "reference": reference}[arguments.reader](
                arguments.log, size
            )
            continue
        with tempfile.TemporaryDirectory() as folder:
            log = Path(folder) / "log.nmea"
            for reader, given in (
                ("writer", size),
                ("ours", size),
                ("reference", min(size, REFERENCE)),
            ):
                subprocess.run(
                    [sys.executable, __file__, str(given), "--as", reader, "--log", str(log)],
                    check=True,
                )


if __name__ == "__main__":
    main()
