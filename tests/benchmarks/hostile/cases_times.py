"""Times: two walkers under one name, clocks that jump, numbers that are dates, logs with wrong
dates."""

import numpy as np
from frame import case
from walkedlayers import START, iso, layer_of, table

TIMES, WALKERS, LOGS, CAPTURES = "times", "walkers and clocks", "dates of logs", "captures"
DATED = f"{np.datetime64(int(START), 's')}"[:10]


def straight(n=120, y=0.0, start=START, capture="quay", seed=1, step=1.2):
    noise = np.random.default_rng(seed).normal(0, 0.006, (3, n))
    return [
        {"x": step * i + noise[0, i], "y": y + noise[1, i], "z": 4 + noise[2, i],
         "seconds": start + i, "fix": 4, "h_acc": 0.01, "capture": capture}
        for i in range(n)
    ]  # fmt: skip


def timed(rows, kind, write, name="time"):
    return layer_of(
        rows,
        fields=((name, kind), ("fix", "integer"), ("capture", "string")),
        values=lambda row: [write(row["seconds"]), row["fix"], row["capture"]],
    )


def edges_of(box, layer, **parameters):
    outcome = box.run("reconstructedges", INPUT=layer, OUTPUT="memory:", **parameters)
    return outcome, [] if outcome.error else table(outcome["OUTPUT"])


def one_straight(box, edges, length=142.8):
    good = len(edges) == 1 and abs(edges[0]["length"] - length) < 1
    return box.right(good, f"{[row['length'] for row in edges]}")


def digits(form):
    return lambda seconds: np.datetime64(int(seconds), "s").astype(object).strftime(form)


# how a time is written, and whether the date must come out
WRITTEN = {
    "yyyymmddhhmmss": ("string", digits("%Y%m%d%H%M%S"), True),
    "yyyymmddhhmmss number": ("double", lambda s: float(digits("%Y%m%d%H%M%S")(s)), True),
    "yyyymmddhhmmss whole": ("int8", lambda s: int(digits("%Y%m%d%H%M%S")(s)), True),
    "yyyymmddhhmmssfff": ("string", lambda s: digits("%Y%m%d%H%M%S")(s) + "000", True),
    "yyyymmddThhmmssZ": ("string", lambda s: digits("%Y%m%dT%H%M%S")(s) + "Z", True),
    "ticks since 1601": ("int8", lambda s: int(s) * 10**7 + 116444736000000000, True),
    "ticks since 1601 text": ("string", lambda s: str(int(s) * 10**7 + 116444736000000000), True),
    "ticks since 1": ("int8", lambda s: int(s) * 10**7 + 621355968000000000, True),
    "nanoseconds": ("int8", lambda s: int(s) * 10**9, True),
    "microseconds": ("double", lambda s: s * 1e6, True),
    "milliseconds": ("double", lambda s: s * 1e3, True),
    "milliseconds text": ("string", lambda s: str(int(s * 1e3)), True),
    "spreadsheet days": ("double", lambda s: s / 86400 + 25569, True),
    "spreadsheet days text": ("string", lambda s: repr(s / 86400 + 25569), True),
    "modified Julian days": ("double", lambda s: s / 86400 + 40587, True),
    "Julian days": ("double", lambda s: s / 86400 + 2440587.5, True),
    "days since 1970": ("double", lambda s: s / 86400, True),
    "parts of a day": ("double", lambda s: s / 86400 % 1, False),
    "days of the year": ("double", lambda s: s / 86400 % 365, False),
    "hhmmss": ("integer", lambda s: int(digits("%H%M%S")(s)), False),
    "hhmmss text": ("string", digits("%H%M%S"), False),
    "hhmmss.s": ("double", lambda s: float(digits("%H%M%S")(s)) + 0.5, False),
    "seconds of the day": ("double", lambda s: s % 86400, False),
    "seconds of the week": ("double", lambda s: s % 604800, False),
    "receiver seconds": ("double", lambda s: s - START + 17.25, False),
    "zone": ("string", lambda s: iso(s + 7200, "+02:00"), True),
    "dotted": ("string", digits("%d.%m.%Y %H:%M:%S"), True),
    "comma": ("string", lambda s: iso(s, "Z").replace(".", ","), True),
}


@case(TIMES, each=tuple(WRITTEN))
def times_written_as(box, form):
    kind, write, dated = WRITTEN[form]
    outcome, edges = edges_of(box, timed(straight(), kind, write))
    box.done(outcome)
    one_straight(box, edges)
    return box.right(not dated or DATED in outcome.text, outcome.text)


@case(TIMES, each=("hhmmss", "seconds of the day", "parts of a day"))
def a_day_that_begins_anew(box, form):
    kind, write, _ = WRITTEN[form]
    rows = straight(start=START - START % 86400 + 86340)
    outcome, edges = edges_of(box, timed(rows, kind, write))
    box.done(outcome)
    return one_straight(box, edges)


@case(TIMES, each=("ticks since 1970", "days that could be two dates"))
def numbers_that_could_be_two_dates(box, what):
    write = (lambda s: int(s) * 10**7) if what[0] == "t" else (lambda s: s / 86400 + 30000.0)
    layer = timed(straight(), "int8" if what[0] == "t" else "double", write)
    return box.refused(edges_of(box, layer, TIME_FIELD="time")[0], "“time”", "can be read")


@case(TIMES, each=("gps_seconds", "gps_time"))
def seconds_of_gps(box, name):
    outcome, edges = edges_of(box, timed(straight(), "double", lambda s: s - 315964800, name))
    one_straight(box, edges)
    return box.warned(outcome, name, "1980-01-06", DATED)


WILD = {
    "nought": 0.0, "1e18": 1e18, "-1e300": -1e300, "infinite": float("inf"), "-1": -1.0,
    "milliseconds": START * 1000, "GPS origin": 315964800.0, "year 9999": 253402300799.0,
}  # fmt: skip


@case(TIMES, each=tuple(WILD))
def one_wild_number_among_good_ones(box, what):
    layer = timed(straight(), "double", lambda s: WILD[what] if s == START + 60 else s)
    outcome, edges = edges_of(box, layer)
    one_straight(box, edges)
    return box.warned(outcome, "cannot be read|no time")


@case(
    TIMES,
    each=(
        "0001-01-01T00:00:00Z",
        "9999-12-31T23:59:59Z",
        "1970-01-01T00:00:00Z",
        "?",
        "1980-01-06T00:00:00Z",
    ),
)
def one_wild_text_among_good_ones(box, text):
    layer = timed(straight(), "string", lambda s: text if s == START + 60 else iso(s))
    outcome, edges = edges_of(box, layer)
    one_straight(box, edges)
    return box.warned(outcome, r"Times in field “time”.*: 1\.")


@case(TIMES, each=("date", "text", "number"))
def dates_without_a_time_of_day(box, kind):
    from qgis.PyQt.QtCore import QDate

    write = {
        "date": lambda s: QDate(2026, 5, 4),
        "text": lambda s: "2026-05-04",
        "number": lambda s: 20260504,
    }[kind]
    layer = timed(straight(), {"date": "date", "text": "string", "number": "integer"}[kind], write)
    outcome, _ = edges_of(box, layer, TIME_FIELD="time")
    if kind == "number":
        return box.refused(outcome, "“Time”", "repeat")
    return box.refused(outcome, "“time”", "without a time of day")


# walkers and clocks


def splits(box, layer, several, length):
    outcome, edges = edges_of(box, layer)
    box.warned(outcome, "at the same time", "quay")
    good = len(edges) == several and all(abs(row["length"] - length) < 2 for row in edges)
    return box.right(good, f"{[row['length'] for row in edges]}")


@case(
    WALKERS,
    each=tuple(
        (apart, later, order)
        for apart in (5.0, 12.0, 200.0)
        for later in (0.0, 0.5, 7.3)
        for order in ("after each other", "by time", "shuffled")
    ),
)
def two_walkers_under_one_name(box, apart, later, order):
    rows = straight() + straight(y=apart, start=START + later, seed=2)
    if order == "by time":
        rows.sort(key=lambda row: row["seconds"])
    elif order == "shuffled":
        np.random.default_rng(3).shuffle(rows)
    return splits(box, layer_of(rows), 2, 142.8)


@case(WALKERS, each=(3, 4))
def more_walkers_under_one_name(box, several):
    rows = [row for k in range(several) for row in straight(y=15.0 * k, seed=k)]
    return splits(box, layer_of(rows), several, 142.8)


@case(WALKERS, each=(5.0, 15.0, 40.0))
def a_clock_set_back(box, back):
    rows = straight()
    for row in rows[60:]:
        row["seconds"] -= back
    return splits(box, layer_of(rows), 2, 71)


@case(WALKERS, each=(20.0, 3600.0, 86400.0))
def a_clock_set_forward(box, forward):
    rows = straight()
    for row in rows[60:]:
        row["seconds"] += forward
    outcome, edges = edges_of(box, layer_of(rows))
    box.done(outcome)
    total = sum(row["length"] for row in edges)
    return box.right(140 < total < 144, f"{[row['length'] for row in edges]}")


@case(WALKERS, each=("reversed", "shuffled", "every other first"))
def one_walk_in_any_order_of_rows(box, order):
    rows = straight()
    if order == "reversed":
        rows.reverse()
    elif order == "shuffled":
        np.random.default_rng(3).shuffle(rows)
    else:
        rows = rows[::2] + rows[1::2]
    outcome, edges = edges_of(box, layer_of(rows))
    box.right("at the same time" not in outcome.text, outcome.text)
    return one_straight(box, edges)


# captures


@case(CAPTURES, each=(2, 3))
def few_epochs_in_each_capture(box, few):
    rows = straight(120, step=1.2)
    for number, row in enumerate(rows):
        row["x"] += 40.0 * (number // few)
        row["seconds"] += 60.0 * (number // few)
        row["capture"] = f"walk {number // few}"
    outcome, edges = edges_of(box, layer_of(rows))
    box.done(outcome)
    return box.right(all(row["length"] < 5 for row in edges), f"{[row['length'] for row in edges]}")


@case(CAPTURES)
def one_epoch_in_each_capture(box):
    rows = straight(120)
    for number, row in enumerate(rows):
        row.update(x=30.0 * number, seconds=START + 60.0 * number, capture=f"walk {number}")
    outcome, _ = edges_of(box, layer_of(rows))
    return box.warned(outcome, "“capture” has a name of captures", "nobody walks so fast")


@case(CAPTURES)
def a_number_of_each_epoch_is_no_capture(box):
    rows = straight(120)
    for number, row in enumerate(rows):
        row["capture"] = str(number)
    outcome, edges = edges_of(box, layer_of(rows))
    one_straight(box, edges)
    return box.warned(outcome, "“capture”", "not taken")


@case(CAPTURES, each=(0.98, 0.995))
def a_long_straight_with_noise_that_wanders(box, memory):
    rows, rng, wander = straight(900), np.random.default_rng(7), 0.0
    for row in rows:
        wander = memory * wander + rng.normal(0, 0.002)
        row["y"] += wander
    outcome, edges = edges_of(box, layer_of(rows), DOUBTFUL=1)
    box.done(outcome)
    return box.right(len(edges) == 1, f"{len(edges)} edges")


@case(CAPTURES, each=("", " ", " capture ", "capture; ", ["capture", ""], [" capture"]))
def blanks_in_a_list_of_fields(box, given):
    outcome, edges = edges_of(box, layer_of(straight()), CAPTURE_FIELDS=given)
    box.done(outcome)
    return one_straight(box, edges)


# logs


def log_of(box, days, first=36000, n=90):
    """Epochs of a log once a second, each with a dated RMC."""
    from nmealogs import gga, rmc  # which needs the package

    path, pieces = box.folder / "day.nmea", []
    for number in range(n):
        tod = (first + number) % 86400
        clock = f"{tod // 3600:02}{tod // 60 % 60:02}{tod % 60:02}.00"
        day = np.datetime64("2025-05-14") + int(days[number])
        pieces.append(gga(clock))
        pieces.append(rmc(clock, day.astype(object).strftime("%d%m%y")))
    path.write_bytes(b"".join(pieces))
    outcome = box.run("readnmealog", INPUT=[str(path)], OUTPUT="memory:")
    box.done(outcome)
    return outcome, np.array([row["unix_seconds"] for row in table(outcome["OUTPUT"])])


@case(
    LOGS,
    each=(
        ("cold start", -9000),
        ("GPS origin", -16565),
        ("roll-over", -7168),
        ("year 2000", -9265),
    ),
)
def a_date_that_is_wrong_at_first(box, what, days):
    outcome, seconds = log_of(box, [days] * 30 + [0] * 60)
    box.right((np.diff(seconds) == 1).all(), f"{seconds[[0, -1]]}")
    return box.warned(outcome, r"dates.*: 30\.", "2025-05-14")


@case(LOGS, each=(1, -1, 365, -7168))
def a_date_that_jumps_for_a_moment(box, jump):
    days = np.zeros(90, int)
    days[[20, 21, 50]] = jump
    outcome, seconds = log_of(box, days)
    box.right((np.diff(seconds) == 1).all(), "times jump")
    return box.warned(outcome, r"dates.*: 3\.")


@case(LOGS, each=(1, 3, 10))
def a_date_that_is_late_at_midnight(box, late):
    days = (np.arange(90) >= 30 + late).astype(int)
    outcome, seconds = log_of(box, days, first=86370)
    box.right((np.diff(seconds) == 1).all(), "times jump")
    return box.warned(outcome, rf"dates.*: {late}\.")


@case(LOGS)
def midnight_in_a_good_log(box):
    outcome, seconds = log_of(box, (np.arange(90) >= 30).astype(int), first=86370)
    return box.right((np.diff(seconds) == 1).all() and not outcome.log.warnings, outcome.text)


@case(LOGS)
def a_whole_log_after_the_roll_over(box):
    outcome, _ = log_of(box, [-7168] * 90)
    return box.warned(outcome, "1024 weeks", "2025-05-14")
