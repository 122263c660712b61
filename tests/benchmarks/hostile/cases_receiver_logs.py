"""NMEA logs as they come from memory cards, terminals, and broken cables."""

import gzip
import math
import random

from frame import RIGHT, case
from truths import opened

LAT, LON = 55.9, 9.0  # degrees
STEP = 1.2 / 111_320.0  # degrees a second to the north
DATE = "040526"
START = 36000  # s of the day


def sentence(body):
    check = 0
    for letter in body:
        check ^= ord(letter)
    return f"${body}*{check:02X}"


def angle(value, digits, decimals=7):
    degrees, minutes = divmod(abs(value) * 60.0, 60.0)
    return f"{int(degrees):0{digits}d}{minutes:0{decimals + 3}.{decimals}f}"


def clock(i, decimals=2):
    seconds = (START + i) % 86400
    hours, rest = divmod(seconds, 3600)
    minutes, rest = divmod(rest, 60)
    tail = f".{0:0{decimals}d}" if decimals else ""
    return f"{int(hours):02d}{int(minutes):02d}{int(rest):02d}{tail}"


def gga(
    i,
    talker="GN",
    lat=None,
    lon=LON,
    fix="4",
    height="40.000",
    geoid="41.237",
    time=None,
    decimals=7,
):
    lat = LAT + i * STEP if lat is None else lat
    return sentence(
        f"{talker}GGA,{clock(i) if time is None else time},"
        f"{angle(lat, 2, decimals)},{'N' if lat >= 0 else 'S'},"
        f"{angle(lon, 3, decimals)},{'E' if lon >= 0 else 'W'},"
        f"{fix},25,0.5,{height},M,{geoid},M,1.0,0042"
    )


def rmc(i, date=DATE, time=None):
    return sentence(
        f"GNRMC,{clock(i) if time is None else time},A,5554.0000,N,00900.0000,E,2.3,0.0,{date},,,R"
    )


def gst(i, sigma="0.0060"):
    return sentence(f"GNGST,{clock(i)},0.006,{sigma},{sigma},0.0,{sigma},{sigma},0.0100")


def log_file(path, lines, end="\r\n"):
    path.write_bytes(end.join(lines).encode("latin-1") + end.encode())
    return path


def dated(count=20, **how):
    """Lines of `count` epochs, each with a date."""
    return [line for i in range(count) for line in (gga(i, **how), gst(i), rmc(i))]


def read(box, *paths, **how):
    return box.run(
        "readnmealog",
        INPUT=[str(one) for one in paths],
        **{"OUTPUT": "memory:", "REJECTED": "memory:", **how},
    )


def counted(box, outcome, epochs, rejected=0):
    box.done(outcome)
    box.right(outcome["EPOCHS"] == epochs, f"{outcome['EPOCHS']} epochs of {epochs}")
    found = outcome["REJECTED_SENTENCES"]
    return box.right(found == rejected, f"{found} sentences rejected of {rejected}")


def seconds(outcome):
    return [one["unix_seconds"] for one in opened(outcome["OUTPUT"]).getFeatures()]


def places(outcome):
    found = []
    for one in opened(outcome["OUTPUT"]).getFeatures():
        vertex = next(one.geometry().vertices(), None)
        found.append(None if vertex is None else (vertex.x(), vertex.y(), vertex.z()))
    return found


BEGIN = 1777888800.0  # 2026-05-04T10:00:00Z


def in_time(box, outcome, begin=BEGIN, step=1.0):
    found = seconds(outcome)
    wrong = [t for i, t in enumerate(found) if t is None or abs(t - begin - i * step) > 0.001]
    return box.right(not wrong, f"times {wrong[:3]} instead of {begin}...")


@case("logs of receivers", each=("\r\n", "\n", "\r", "\r\r\n", "\n\n", "\x00\r\n", " \r\n"))
def line_ends(box, end):
    outcome = read(box, log_file(box.folder / "a.nmea", dated(), end))
    counted(box, outcome, 20)
    return in_time(box, outcome)


@case("logs of receivers")
def mixed_line_ends(box):
    ends = ["\r\n", "\n", "\r"]
    text = "".join(line + ends[i % 3] for i, line in enumerate(dated()))
    (box.folder / "a.nmea").write_text(text, newline="")
    outcome = read(box, box.folder / "a.nmea")
    counted(box, outcome, 20)
    return in_time(box, outcome)


@case("logs of receivers", each=(1, 5, 20, 40, 60))
def last_line_cut(box, short):
    path = log_file(box.folder / "a.nmea", [*dated(), gga(20)])
    path.write_bytes(path.read_bytes()[: -2 - short])
    return counted(box, read(box, path), 20, 1)


@case("logs of receivers")
def every_checksum_wrong(box):
    lines = [line[:-2] + ("00" if line[-2:] != "00" else "01") for line in dated()]
    return box.refused(read(box, log_file(box.folder / "a.nmea", lines)), "checksum")


@case("logs of receivers", each=(False, True))
def no_checksums(box, taken):
    lines = [line[:-3] for line in dated()]
    outcome = read(box, log_file(box.folder / "a.nmea", lines), WITHOUT_CHECKSUM=taken)
    if taken:
        return counted(box, outcome, 20)
    return box.refused(outcome, "checksum", "WITHOUT_CHECKSUM|Without|without")


@case("logs of receivers")
def lower_case_checksums(box):
    lines = [line[:-2] + line[-2:].lower() for line in dated()]
    return counted(box, read(box, log_file(box.folder / "a.nmea", lines)), 20)


@case("logs of receivers", each=(1, 2, 3))
def binary_in_between(box, seed):
    """Frames between the sentences: bytes of any value, also ones that look like line ends."""
    source = random.Random(seed)  # noqa: S311 (no secret)
    data = b""
    for line in dated():
        size = source.choice((0, 0, 17, 200))
        frame = bytes(source.choice([b for b in range(256) if b != 36]) for _ in range(size))
        data += (b"\xb5b" + frame + b"\r\n" if size else b"") + line.encode() + b"\r\n"
    (box.folder / "a.ubx").write_bytes(data)
    outcome = read(box, box.folder / "a.ubx")
    counted(box, outcome, 20, outcome["REJECTED_SENTENCES"] if outcome.results else 0)
    return in_time(box, outcome)


@case(
    "logs of receivers", each=("", "\n" * 1000, "\x00" * 4096, "hello\nworld\n", "$\n$$\n*\n$*00\n")
)
def nothing_in_it(box, text):
    (box.folder / "a.nmea").write_text(text)
    return box.refused(read(box, box.folder / "a.nmea"), "a\\.nmea", "GGA|sentence|NMEA")


@case("logs of receivers", limit=30)
def one_line_of_64_megabytes(box):
    (box.folder / "a.nmea").write_bytes(b"$GNGGA," + b"1" * (64 << 20))
    return box.refused(read(box, box.folder / "a.nmea"), "a\\.nmea", "GGA|sentence|NMEA")


@case("logs of receivers", limit=30)
def long_line_among_good_ones(box):
    path = log_file(box.folder / "a.nmea", dated())
    path.write_bytes(path.read_bytes() + b"$GNGGA," + b"," * (8 << 20) + b"*00\r\n")
    outcome = read(box, path)
    return counted(box, outcome, 20, 1)


@case("logs of receivers")
def packed(box):
    path = box.folder / "a.nmea.gz"
    path.write_bytes(gzip.compress("\r\n".join(dated()).encode()))
    outcome = read(box, path)
    if outcome.error is None:
        return counted(box, outcome, 20)
    return box.refused(outcome, "a\\.nmea\\.gz", "gz|pack|compress|sentence|NMEA")


@case("logs of receivers", each=("utf-16", "utf-8-sig", "utf-32"))
def text_of_another_code(box, code):
    path = box.folder / "a.nmea"
    path.write_bytes(("\r\n".join(dated()) + "\r\n").encode(code))
    outcome = read(box, path)
    if outcome.error:
        return box.refused(outcome, "a\\.nmea")
    return counted(box, outcome, 20)


@case("logs of receivers", each=("missing", "folder", "unreadable", "dangling"))
def path_without_a_log(box, what):
    path = box.folder / "a.nmea"
    if what == "folder":
        path.mkdir()
    elif what == "unreadable":
        import os

        if os.geteuid() == 0:
            box.skip("root reads all")
        log_file(path, dated()).chmod(0)
    elif what == "dangling":
        path.symlink_to(box.folder / "gone")
    return box.refused(read(box, path), "a\\.nmea")


@case("logs of receivers")
def good_log_and_a_missing_one(box):
    path = log_file(box.folder / "a.nmea", dated())
    outcome = read(box, path, box.folder / "gone.nmea")
    return box.refused(outcome, "gone\\.nmea")


@case("logs of receivers")
def same_log_twice(box):
    """Epochs must not be doubled in silence."""
    path = log_file(box.folder / "a.nmea", dated())
    outcome = read(box, path, path)
    if outcome.error:
        return box.refused(outcome, "a\\.nmea", "twice")
    if outcome["EPOCHS"] == 20:
        return RIGHT
    return box.warned(outcome, "a\\.nmea", "twice|same")


@case("logs of receivers")
def copy_of_the_same_log(box):
    path = log_file(box.folder / "a.nmea", dated())
    copy = log_file(box.folder / "copy.nmea", dated())
    outcome = read(box, path, copy)
    if outcome.error:
        return box.refused(outcome, "copy\\.nmea")
    if outcome["EPOCHS"] == 20:
        return RIGHT
    return box.warned(outcome, "copy\\.nmea")


@case("logs of receivers")
def no_date_at_all(box):
    path = log_file(box.folder / "a.nmea", [gga(i) for i in range(20)])
    return box.refused(read(box, path), "a\\.nmea", "DATE|date")


@case("logs of receivers")
def midnight_without_dates(box):
    """The date given is that of the first epoch; the day goes on at midnight."""
    lines = [gga(i, time=clock(86400 - START - 10 + i)) for i in range(20)]
    outcome = read(box, log_file(box.folder / "a.nmea", lines), DATE="2026-05-04")
    counted(box, outcome, 20)
    return in_time(box, outcome, BEGIN - 36000 + 86400 - 10)


@case("logs of receivers", each=("180906", "000000", "320526", "", "abcdef", "0405", "060180"))
def date_that_cannot_be(box, date):
    """In the first sentences (a cold start, a roll-over); good ones follow."""
    lines = [line for i in range(20) for line in (gga(i), rmc(i, date if i < 5 else DATE))]
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    counted(box, outcome, 20, outcome["REJECTED_SENTENCES"] if outcome.results else 0)
    return in_time(box, outcome)


@case("logs of receivers")
def every_date_19_6_years_late(box):
    """A receiver that lost 1,024 weeks: nothing in the log contradicts it but what day it is."""
    lines = [line for i in range(20) for line in (gga(i), rmc(i, "180906"))]
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    box.done(outcome)
    if "2006" in outcome.text:
        return RIGHT
    return box.warned(outcome, "2006|week|roll")


@case("logs of receivers", each=("GP", "GL", "GA", "GB", "GQ", "GI", "BD", "II", "XX"))
def talker(box, name):
    lines = [line for i in range(20) for line in (gga(i, talker=name), rmc(i))]
    return counted(box, read(box, log_file(box.folder / "a.nmea", lines)), 20)


@case("logs of receivers")
def two_talkers_at_once(box):
    """The same epoch told by two talkers is one epoch, or is said to be two."""
    lines = [line for i in range(20) for line in (gga(i, talker="GN"), gga(i, talker="GP"), rmc(i))]
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    box.done(outcome)
    after = box.run("screenepochs", INPUT=outcome["OUTPUT"], OUTPUT="memory:", REJECTED="memory:")
    box.done(after)
    reasons = [one["reason"] for one in opened(after["REJECTED"]).getFeatures()]
    return box.right(reasons.count("repeat") == 20, f"{after['EPOCHS_KEPT']} kept, {reasons}")


@case("logs of receivers", each=((1, 1), (-1, 1), (1, -1), (-1, -1)))
def hemispheres(box, north, east):
    lines = [
        line
        for i in range(20)
        for line in (gga(i, lat=north * (33.5 + i * STEP), lon=east * 70.25), rmc(i))
    ]
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    counted(box, outcome, 20)
    wrong = [
        p
        for i, p in enumerate(places(outcome))
        if abs(p[0] - east * 70.25) > 1e-8 or abs(p[1] - north * (33.5 + i * STEP)) > 1e-8
    ]
    return box.right(not wrong, f"{wrong[:2]}")


@case("logs of receivers", each=(4, 5, 8, 10, 15))
def decimals_of_minutes(box, decimals):
    """As many as there are: 4 of a minute are 0.19 m, too coarse for the purpose, and said."""
    lines = [line for i in range(20) for line in (gga(i, decimals=decimals), rmc(i))]
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    counted(box, outcome, 20)
    limit = 0.51 * 10.0**-decimals / 60.0 + 1e-12
    worst = max(abs(p[1] - LAT - i * STEP) for i, p in enumerate(places(outcome)))
    box.right(worst <= limit, f"{worst} degrees off")
    after = box.run("screenepochs", INPUT=outcome["OUTPUT"], OUTPUT="memory:")
    return box.warned(after, "decimal|rounded") if decimals < 5 else RIGHT


@case("logs of receivers", each=("", "0.000"))
def geoid_separation(box, geoid):
    """Missing: no ellipsoidal height can be told, and none may be made up."""
    lines = [line for i in range(20) for line in (gga(i, geoid=geoid), rmc(i))]
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    box.done(outcome)
    heights = {p[2] for p in places(outcome)}
    if geoid:
        return box.right(heights == {40.0}, f"{heights}")
    box.right(all(math.isnan(z) or z == 0 for z in heights) or heights == set(), f"{heights}")
    return box.warned(outcome, "height|geoid|separation")


@case("logs of receivers", each=("", "nan", "1e5", "-", "99999.9", "-9999"))
def height_that_is_none(box, height):
    lines = [
        line for i in range(20) for line in (gga(i, height=height if i == 7 else "40.0"), rmc(i))
    ]
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    box.done(outcome)
    box.right(outcome["EPOCHS"] + outcome["REJECTED_SENTENCES"] >= 20, f"{outcome.results}")
    return RIGHT


@case("logs of receivers", each=("", "0", "9", "A", "44", "-1"))
def quality_that_is_none(box, fix):
    lines = [line for i in range(40) for line in (gga(i, fix=fix if i % 4 == 3 else "4"), rmc(i))]
    outcome = read(box, log_file(box.folder / "a.nmea", lines), OUTPUT=str(box.folder / "a.gpkg"))
    box.done(outcome)
    box.right(outcome["EPOCHS"] + outcome["REJECTED_SENTENCES"] == 40, f"{outcome.results}")
    after = box.run("screenepochs", INPUT=outcome["OUTPUT"], OUTPUT="memory:", REJECTED="memory:")
    box.done(after)
    return box.right(after["EPOCHS_KEPT"] <= 30, f"{after['EPOCHS_KEPT']} kept")


@case(
    "logs of receivers",
    each=(
        "246060.00",
        "250000.00",
        "-10000.00",
        "10000",
        "1000000.00",
        "100000.123456",
        "10:00:00",
        "",
        "235960.00",
    ),
)
def time_that_is_odd(box, time):
    lines = [line for i in range(20) for line in (gga(i, time=time if i == 7 else None), rmc(i))]
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    box.done(outcome)
    box.right(outcome["EPOCHS"] + outcome["REJECTED_SENTENCES"] >= 20, f"{outcome.results}")
    good = [t for t in seconds(outcome) if isinstance(t, float)]
    off = [t for t in good if not BEGIN - 1 <= t <= BEGIN + 21 and "2359" not in time]
    return box.right(not off, f"{off[:3]}")


@case("logs of receivers", each=("9100.0000000", "-5500.0", "abc", "", "5554.0000000.1", "5560.5"))
def latitude_that_is_none(box, text):
    lines = []
    for i in range(20):
        body = gga(i)[1:-3].split(",")
        if i == 7:
            body[2] = text
        lines += [sentence(",".join(body)), rmc(i)]
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    box.done(outcome)
    box.right(outcome["EPOCHS"] + outcome["REJECTED_SENTENCES"] == 20, f"{outcome.results}")
    wrong = [p for p in places(outcome) if p is not None and abs(p[1] - LAT) > 0.01]
    return box.right(not wrong, f"{wrong[:2]}")


@case("logs of receivers", each=(0, 1, 5, 14))
def fields_missing(box, count):
    lines = dated()
    body = gga(7)[1:-3].split(",")
    lines[21] = sentence(",".join(body[:count]))
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    box.done(outcome)
    return box.right(19 <= outcome["EPOCHS"] <= 20, f"{outcome.results}")


@case("logs of receivers", each=("0.0", "-0.006", "", "nan", "99.9", "6.0"))
def sigma_that_is_odd(box, sigma):
    lines = [
        line for i in range(20) for line in (gga(i), gst(i, sigma if i == 7 else "0.0060"), rmc(i))
    ]
    outcome = read(box, log_file(box.folder / "a.nmea", lines), OUTPUT=str(box.folder / "a.gpkg"))
    counted(box, outcome, 20, outcome["REJECTED_SENTENCES"] if outcome.results else 0)
    after = box.run("screenepochs", INPUT=outcome["OUTPUT"], OUTPUT="memory:", REJECTED="memory:")
    box.done(after)
    if sigma == "-0.006" and outcome["REJECTED_SENTENCES"] == 1:
        return RIGHT  # the GST is rejected, its epoch has no sigma
    if sigma in ("99.9", "6.0", "-0.006"):
        return box.right(after["EPOCHS_KEPT"] <= 19, f"{after['EPOCHS_KEPT']} kept")
    return RIGHT


@case("logs of receivers")
def zda_alone(box):
    lines = []
    for i in range(20):
        lines += [gga(i), sentence(f"GNZDA,{clock(i)},04,05,2026,00,00")]
    outcome = read(box, log_file(box.folder / "a.nmea", lines))
    counted(box, outcome, 20)
    return in_time(box, outcome)


@case("logs of receivers")
def rmc_alone(box):
    path = log_file(box.folder / "a.nmea", [rmc(i) for i in range(20)])
    return box.refused(read(box, path), "a\\.nmea", "GGA")


@case("logs of receivers")
def prompt_before_each_sentence(box):
    """A terminal's time stamps before each line."""
    lines = [f"[10:00:{i % 60:02d}.123] {line}" for i, line in enumerate(dated())]
    return counted(box, read(box, log_file(box.folder / "a.txt", lines)), 20)


@case("logs of receivers")
def two_sentences_in_a_line(box):
    lines = dated()
    joined = [a + b for a, b in zip(lines[::2], lines[1::2])]
    return counted(box, read(box, log_file(box.folder / "a.nmea", joined)), 20)


@case("logs of receivers")
def log_into_itself(box):
    path = log_file(box.folder / "a.csv", dated())
    box.guard(path)
    return box.refused(read(box, path, OUTPUT=str(path)), "a\\.csv")


@case("logs of receivers")
def two_days_in_one_log(box):
    """Switched on again the next morning: the second day has its own date."""
    second = [line for i in range(20) for line in (gga(i), rmc(i, "050526"))]
    outcome = read(box, log_file(box.folder / "a.nmea", [*dated(), *second]))
    counted(box, outcome, 40)
    found = seconds(outcome)
    want = [BEGIN + i for i in range(20)] + [BEGIN + 86400 + i for i in range(20)]
    return box.right(all(abs(a - b) < 0.001 for a, b in zip(found, want)), f"{found[18:22]}")


@case("logs of receivers", each=("latin", "unicode", "long", "blank", "quote"))
def name_of_the_log(box, kind):
    name = {
        "latin": "stra\u00dfe.nmea",
        "unicode": "\u9053\u8def \u2713.nmea",
        "long": "n" * 200 + ".nmea",
        "blank": " a b .nmea",
        "quote": 'it\'s "a" log;.nmea',
    }
    path = log_file(box.folder / name[kind], dated())
    outcome = read(box, path)
    counted(box, outcome, 20)
    return in_time(box, outcome)
