"""Logs of NMEA 0183 sentences to a layer of epochs."""

from datetime import date
from pathlib import Path

import numpy as np
from qgis.core import (
    QgsCoordinateReferenceSystem,
    QgsFeature,
    QgsProcessing,
    QgsProcessingException,
    QgsProcessingParameterBoolean,
    QgsProcessingParameterDateTime,
    QgsProcessingParameterEnum,
    QgsProcessingParameterMultipleLayers,
    QgsProcessingParameters,
    QgsWkbTypes,
)
from qgis.PyQt.QtCore import QT_TRANSLATE_NOOP

from ..shared.epochs import nmea
from ..shared.epochs.nmea_dates import UndatedError
from .base.algorithm import Algorithm
from .host.feedback import ROWS_PER_LOOK
from .host.fields import NewField, fields_of
from .host.quotes import quoted
from .writing import sinks, styles
from .writing.targets import key_of, local_path

# RTK from multi-constellation receivers is younger; a count of weeks rolls over after 1024 of them
# (IS-GPS-200, 20.3.3.3.1.1)
LONG_AGO, ROLL_OVER = np.datetime64("2007-01-01"), np.timedelta64(7168, "D")
ELLIPSOIDAL, ORTHOMETRIC = "ellipsoidal", "orthometric"
# Z of the first is what EPSG:4979 says; of the second no CRS can be told, as every receiver has a
# geoid model of its own.
CRS = {ELLIPSOIDAL: "EPSG:4979", ORTHOMETRIC: "EPSG:4326"}

# No name of the date-time looks like a time to `roles`, so that the number is found: QGIS up to
# 3.36 drops the milliseconds of a date-time when it writes a file, and two fields that differ by
# them would stop the next step.
EPOCH_FIELDS = (
    NewField("capture", "QString", "Name of the file."),
    NewField("line", "LongLong", "Number of the line in it."),
    NewField("observed", "QDateTime", "Time of the epoch, UTC."),
    NewField(
        "unix_seconds",
        "Double",
        "The same as a number, which keeps its milliseconds in every version of QGIS; "
        "“Reconstruct edges” takes this one.",
        "s since 1970",
    ),
    NewField("fix_quality", "Int", "As in GGA; 4 is RTK fixed."),
    NewField("satellites", "Int", "As in GGA."),
    NewField("hdop", "Double", "As in GGA."),
    NewField("correction_age", "Double", "Age of the corrections, as in GGA.", "s"),
    NewField("station", "QString", "Reference station, as in GGA."),
    NewField("h_ellipsoidal", "Double", "Height above the ellipsoid.", "m"),
    NewField(
        "h_orthometric", "Double", "Height above mean sea level by the receiver's geoid model.", "m"
    ),
    NewField("geoid_separation", "Double", "Height of that geoid above the ellipsoid.", "m"),
    NewField("sigma_lat", "Double", "From GST of the same time, 1-sigma.", "m"),
    NewField("sigma_lon", "Double", "From GST of the same time, 1-sigma.", "m"),
    NewField(
        "sigma_h", "Double", "Radial: the root of the sum of the squares of both, 1-sigma.", "m"
    ),
    NewField("sigma_up", "Double", "From GST of the same time, 1-sigma.", "m"),
)
REJECTED_FIELDS = (
    NewField("capture", "QString", "Name of the file."),
    NewField("line", "LongLong", "Number of the line in it."),
    NewField("kind", "QString", "Type of the sentence."),
    NewField(
        "reason", "QString", "`checksum`, `no_checksum`, `cut_off`, `no_start`, `unreadable`."
    ),
    NewField("sentence", "QString", "Text of the sentence."),
)


class ReadNmeaLog(Algorithm):
    NAME = "readnmealog"
    TITLE = QT_TRANSLATE_NOOP("ReadNmeaLog", "Read NMEA log")
    SHORT_DESCRIPTION = QT_TRANSLATE_NOOP(
        "ReadNmeaLog",
        "NMEA 0183 logs of a receiver to a layer of epochs, the input of the steps that follow.",
    )
    TAGS = QT_TRANSLATE_NOOP(
        "ReadNmeaLog",
        "nmea,0183,log,gga,gst,rmc,zda,gnss,gps,rtk,epochs,import,receiver,survey,gps log",
    )
    HELP = QT_TRANSLATE_NOOP(
        "ReadNmeaLog",
        "Reads one or many logs of NMEA 0183 sentences from any receiver to one layer of"
        " epochs. Each GGA sentence is an epoch: time, WGS 84 position, both heights, fix"
        " quality, satellites, HDOP, age of the corrections and reference station. The GST"
        " sentence of the same time adds the 1-sigma of the receiver. Other sentences, binary"
        " frames and a logger's own text in between do no harm.\n\nGGA has no date. It is taken"
        " from the RMC or ZDA sentence nearest in time, before or after, in the same file;"
        " midnight is followed through logs of several days. A file that has neither needs"
        " “Date”.\n\nSentences with a wrong or missing checksum, cut off, or with a field that"
        " cannot be read are rejected, counted by reason, and listed with file, line and text"
        " on request. Every GGA is either an epoch or rejected; epochs without position, time"
        " or fix stay, with empty fields, and so do repeated ones: the next step screens them"
        " and says so. RMC alone makes no epoch: it has neither height nor fix quality. Such"
        " positions are counted in the log.\n\n“sigma_h” is the radial 1-sigma, the root of the"
        " summed squares of the latitude and longitude sigmas; the orientation of the error"
        " ellipse is not used, as receivers count it from different axes. “Reconstruct edges”"
        " finds all fields by itself, the time in “unix_seconds”, which keeps its milliseconds"
        " in every version of QGIS.\n\nWith corrections the coordinates are on the"
        " datum of the reference station, whatever the standard says, and the orthometric"
        " height follows the receiver's own geoid model. The position is that of what the"
        " receiver was told to reduce to: check the antenna height.",
    )
    FIELD_TABLES = {"OUTPUT": EPOCH_FIELDS, "REJECTED": REJECTED_FIELDS}

    INPUT, HEIGHT, DATE, WITHOUT_CHECKSUM, OUTPUT, REJECTED = (
        "INPUT",
        "HEIGHT",
        "DATE",
        "WITHOUT_CHECKSUM",
        "OUTPUT",
        "REJECTED",
    )
    SENTENCES, EPOCHS, REJECTED_SENTENCES = "SENTENCES", "EPOCHS", "REJECTED_SENTENCES"

    def add_inputs(self):
        """Layers that are read, and which field is what."""
        self.add(
            QgsProcessingParameterMultipleLayers(
                self.INPUT, self.tr("NMEA logs"), QgsProcessing.SourceType.TypeFile
            ),
            self.tr(
                "One or more files, of any name. The name of the file becomes the capture, with its"
                " folder where two files have the same name."
            ),
        )

    def add_settings(self):
        """Limits and choices."""
        self.add(
            QgsProcessingParameterEnum(
                self.HEIGHT,
                self.tr("Height in Z"),
                options=[ELLIPSOIDAL, ORTHOMETRIC],
                defaultValue=ELLIPSOIDAL,
                usesStaticStrings=True,
            ),
            self.tr(
                "ellipsoidal: height above the WGS 84 ellipsoid, altitude plus geoid separation, in"
                " EPSG:4979. orthometric: the receiver's altitude above its own geoid model, in"
                " EPSG:4326. Both stand in fields as well, in metres."
            ),
        )
        self.add(
            QgsProcessingParameterDateTime(
                self.DATE, self.tr("Date"), QgsProcessingParameterDateTime.Type.Date, None, True
            ),
            self.tr(
                "UTC date of the first time in a file. Used only for files in which neither RMC nor"
                " ZDA has a date."
            ),
        )
        self.add(
            QgsProcessingParameterBoolean(
                self.WITHOUT_CHECKSUM, self.tr("Accept sentences without checksum"), False
            ),
            self.tr(
                "Some loggers strip the checksums. Then nothing tells a damaged sentence from a"
                " right one: look at the result twice. A checksum that is there must be right"
                " either way."
            ),
            advanced=True,
        )

    def add_outputs(self):
        """What is written and returned."""
        self.add_sink(
            self.OUTPUT,
            self.tr("Epochs"),
            QgsProcessing.SourceType.TypeVectorPoint,
            self.tr(
                "One point for each GGA sentence, in the order of the files; without geometry where"
                " the receiver gave no position."
            ),
        )
        self.add_sink(
            self.REJECTED,
            self.tr("Rejected sentences"),
            QgsProcessing.SourceType.TypeVector,
            self.tr(
                "Table of the sentences that were not used: file, line, kind, reason (checksum,"
                " no_checksum, cut_off, no_start, unreadable), text."
            ),
            optional=True,
            shown=False,
        )
        self.add_numbers(
            (self.SENTENCES, self.tr("Sentences found")),
            (self.EPOCHS, self.tr("Epochs")),
            (self.REJECTED_SENTENCES, self.tr("Sentences rejected")),
        )

    def checkParameterValues(self, parameters, context):
        fine, message = super().checkParameterValues(parameters, context)
        if fine and not self.paths(parameters):
            return False, self.tr("“{}” is empty. Choose at least one file.").format(
                self.label(self.INPUT)
            )
        return fine, message

    def work(self, parameters, context, feedback):
        paths = self.paths(parameters)
        captures = dict(zip(paths, capture_names(paths)))
        day = QgsProcessingParameters.parameterAsDate(
            self.parameterDefinition(self.DATE), parameters, context
        )
        day = date(day.year(), day.month(), day.day()) if day.isValid() else None
        bare = self.parameterAsBoolean(parameters, self.WITHOUT_CHECKSUM, context)
        height = self.parameterAsEnumString(parameters, self.HEIGHT, context)
        logs = self._read(paths, captures, day, bare, self.progress(feedback, 0, 40))
        self._warn_of_copies(captures, logs, feedback)
        for path, log in logs.items():
            self._say(captures[path], log, feedback)
        self._refuse_if_empty(captures, logs)
        rows = [log.epochs for log in logs.values()]
        if height == ELLIPSOIDAL and any(
            (np.isfinite(epochs.altitude) & ~np.isfinite(epochs.separation)).any()
            for epochs in rows
        ):
            feedback.pushWarning(
                self.tr(
                    "Some epochs have no geoid separation, so no ellipsoidal height: their Z is"
                    " empty. Choose “{}” in “{}” for the altitude as the receiver wrote it."
                ).format(ORTHOMETRIC, self.label(self.HEIGHT))
            )
        results = {
            self.SENTENCES: sum(
                sum(log.sentences.values()) + len(log.rejected) for log in logs.values()
            ),
            self.EPOCHS: sum(map(len, rows)),
            self.REJECTED_SENTENCES: sum(len(log.rejected) for log in logs.values()),
        }
        destinations = {}
        self._write(
            captures,
            logs,
            height,
            parameters,
            context,
            destinations,
            self.progress(feedback, 40, 100),
        )
        return {**results, **destinations}

    # Reading

    def paths(self, parameters):
        """The files, each once, in the order given."""
        value = parameters.get(self.INPUT)
        found = []
        for item in value if isinstance(value, (list, tuple)) else [value]:
            text = str(item or "")
            # the command line joins several files by semicolons, which may stand in a name as well
            found += [text] if Path(text).is_file() else text.split(";")
        paths = {}
        for path in (Path(local_path(text.strip())) for text in found if text.strip()):
            paths.setdefault(key_of(path), path)
        return list(paths.values())

    def _read(self, paths, captures, day, bare, progress):
        logs, done = {}, 0
        for path in paths:
            if path.exists() and not path.is_file():
                raise QgsProcessingException(
                    self.tr(
                        "“{}” cannot be read: it is a folder or a device. Choose files in “{}”."
                    ).format(path, self.label(self.INPUT))
                )
        try:
            total = sum(path.stat().st_size for path in paths) or 1
            for path in paths:
                with open(path, "rb") as stream:
                    logs[path] = nmea.read_log(
                        stream, day, bare, lambda read, done=done: progress((done + read) / total)
                    )
                done += logs[path].size
        except OSError as error:
            raise QgsProcessingException(
                self.tr("“{}” cannot be read: {}. Choose files that are there in “{}”.").format(
                    error.filename, error.strerror, self.label(self.INPUT)
                )
            ) from error
        except UndatedError as error:
            raise QgsProcessingException(
                self.tr(
                    "Log “{}” has times and no date: no RMC and no ZDA sentence gives one. Give the"
                    " UTC date of its first epoch in “{}”."
                ).format(captures[path], self.label(self.DATE))
            ) from error
        return logs

    def _warn_of_copies(self, captures, logs, feedback):
        """Name logs that hold the epochs of another one: their edges would come twice."""
        seen = []
        for path, log in logs.items():
            first = next((one for one in seen if _same(logs[one].epochs, log.epochs)), None)
            seen.append(path)
            if first is not None:
                feedback.pushWarning(
                    self.tr(
                        "Log “{}” holds the same epochs as “{}”: edges made of both come twice."
                        " Give one of them alone."
                    ).format(captures[path], captures[first])
                )

    def _refuse_if_empty(self, captures, logs):
        if any(len(log.epochs) for log in logs.values()):
            return
        names = ", ".join(quoted(captures[path]) for path in logs)
        reasons = np.concatenate(
            [
                log.rejected.reason[log.rejected.kind == nmea.KINDS.index("GGA")]
                for log in logs.values()
            ]
        )
        if not reasons.size:
            raise QgsProcessingException(
                self.tr(
                    "There is no GGA sentence in {}, so there is no epoch to read. Have the"
                    " receiver write GGA (and GST and RMC or ZDA) as NMEA 0183 text; RMC alone has"
                    " neither height nor fix quality."
                ).format(names)
            )
        often = nmea.SentenceReason(int(np.bincount(reasons).argmax()))
        remedy = (
            self.tr("If the logger strips checksums, tick “{}”.").format(
                self.label(self.WITHOUT_CHECKSUM)
            )
            if often == nmea.SentenceReason.NO_CHECKSUM
            else self.tr(
                "The file is damaged, or it was changed by hand; use the log as the receiver"
                " wrote it."
            )
        )
        raise QgsProcessingException(
            self.tr("All {} GGA sentences in {} were rejected, most of them as “{}”. {}").format(
                reasons.size, names, nmea.SENTENCE_REASON_NAMES[often], remedy
            )
        )

    # Log

    def _say(self, capture, log, feedback):
        epochs, used = log.epochs, log.sentences
        feedback.pushInfo(
            self.tr(
                "Log “{}”: {} bytes, {} of them outside sentences. Used: {}. Others: {}."
            ).format(
                capture,
                log.size,
                log.rubbish,
                ", ".join(f"{used[kind]} {kind}" for kind in nmea.KINDS[1:]),
                used["other"],
            )
        )
        qualities, counts = np.unique(epochs.quality, return_counts=True)
        feedback.pushInfo(
            "    "
            + self.tr("Epochs: {}. Fix quality: {}.").format(
                len(epochs),
                ", ".join(
                    f"{quality if quality >= 0 else self.tr('empty')} × {count}"
                    for quality, count in zip(qualities.tolist(), counts.tolist())
                )
                or "–",
            )
        )
        if log.dated_by:
            feedback.pushInfo(
                "    "
                + self.tr("Date: {}.").format(
                    self.tr("as given")
                    if log.dated_by == "given"
                    else log.dated_by.replace(" and ", ", ")
                )
            )
        without = int(np.count_nonzero(~np.isfinite(epochs.sigma_horizontal)))
        if without:
            feedback.pushInfo(
                "    "
                + self.tr("Epochs without a sigma, as no GST has their time: {}.").format(without)
            )
        if log.unmatched:
            feedback.pushInfo(
                "    " + self.tr("GST without a GGA of the same time: {}.").format(log.unmatched)
            )
        self._warn(capture, log, feedback)

    def _warn(self, capture, log, feedback):
        """What was left out or rejected, and dates that are in doubt."""
        if log.redated:
            feedback.pushWarning(
                self.tr(
                    "Log “{}”: dates (RMC, ZDA) that do not go on with the time of day, as of a"
                    " receiver that has just been started: {}. They are taken as wrong: the"
                    " epochs run from {} to {}."
                ).format(capture, log.redated, *_first_and_last(log.epochs.seconds))
            )
        first, last = _first_and_last(log.epochs.seconds)
        if log.dated_by not in ("", "given") and first < LONG_AGO:
            feedback.pushWarning(
                self.tr(
                    "Log “{}”: the epochs run from {} to {}. Receivers whose count of weeks has"
                    " rolled over give dates that are 1024 weeks early; that would be {}. Check the"
                    " date."
                ).format(capture, first, last, first + ROLL_OVER)
            )
        if log.rmc_only:
            feedback.pushWarning(
                self.tr(
                    "Log “{}”: positions that stand in RMC alone: {}. They have neither height"
                    " nor fix quality and are left out."
                ).format(capture, log.rmc_only)
            )
        if len(log.rejected):
            reasons = np.bincount(
                log.rejected.reason, minlength=len(nmea.SENTENCE_REASON_NAMES)
            ).tolist()
            feedback.pushWarning(
                self.tr(
                    "Log “{}”: sentences rejected: {} ({}), of them GGA: {}. An output for “{}”"
                    " lists them."
                ).format(
                    capture,
                    len(log.rejected),
                    ", ".join(
                        f"{name} {count}"
                        for name, count in zip(nmea.SENTENCE_REASON_NAMES, reasons)
                        if count
                    ),
                    int(np.count_nonzero(log.rejected.kind == nmea.KINDS.index("GGA"))),
                    self.label(self.REJECTED),
                )
            )

    # Results

    def _write(self, captures, logs, height, parameters, context, destinations, progress):
        targets = [(self.OUTPUT, EPOCH_FIELDS, QgsWkbTypes.Type.PointZ, CRS[height], styles.EPOCHS)]
        if self.wanted(parameters, self.REJECTED):
            targets.append((self.REJECTED, REJECTED_FIELDS, QgsWkbTypes.Type.NoGeometry, "", None))
        writers, done = [], 0
        total = (
            sum(len(log.epochs) + (len(targets) - 1) * len(log.rejected) for log in logs.values())
            or 1
        )
        try:
            # all before anything is written: one that cannot be made stops the work
            for name, fields, kind, crs, style in targets:
                sink, destinations[name] = self.sink(
                    parameters,
                    name,
                    context,
                    fields_of(fields),
                    kind,
                    QgsCoordinateReferenceSystem(crs),
                    style,
                )
                writers.append(self.writer(sink, parameters, name))
                del sink
            for path, log in logs.items():
                for feature in _epoch_features(captures[path], log.epochs, height):
                    if done % ROWS_PER_LOOK == 0:
                        progress(done / total)
                    writers[0].add(feature)
                    done += 1
                for feature in (
                    _rejected_features(captures[path], path, log.rejected)
                    if len(writers) > 1
                    else ()
                ):
                    if done % ROWS_PER_LOOK == 0:
                        progress(done / total)
                    writers[1].add(feature)
                    done += 1
            for number in range(len(writers)):
                progress(done / total)
                writers[number].close()
        finally:
            writers.clear()  # closes the files, also where an exception holds this frame
        progress(1.0)


def _epoch_features(capture, epochs, height):
    """A feature for each epoch, made a block at a time."""
    fields = fields_of(EPOCH_FIELDS)
    for low in range(0, len(epochs), sinks.BLOCK):
        rows = slice(low, low + sinks.BLOCK)
        x, y, seconds = epochs.longitude[rows], epochs.latitude[rows], epochs.seconds[rows]
        ellipsoidal, orthometric = epochs.height[rows], epochs.altitude[rows]
        geometries = sinks.point_geometries(
            x, y, ellipsoidal if height == ELLIPSOIDAL else orthometric
        )
        columns = (
            epochs.line[rows].tolist(),
            sinks.utc_cells(seconds),
            sinks.cells(seconds),
            _counts(epochs.quality[rows]),
            _counts(epochs.satellites[rows]),
            sinks.cells(epochs.hdop[rows]),
            sinks.cells(epochs.age[rows]),
            [text.decode("ascii") or None for text in epochs.station[rows].tolist()],
            sinks.cells(ellipsoidal),
            sinks.cells(orthometric),
            sinks.cells(epochs.separation[rows]),
            sinks.cells(epochs.sigma_latitude[rows]),
            sinks.cells(epochs.sigma_longitude[rows]),
            sinks.cells(epochs.sigma_horizontal[rows]),
            sinks.cells(epochs.sigma_altitude[rows]),
        )
        for geometry, there, values in zip(geometries, np.isfinite(x + y).tolist(), zip(*columns)):
            feature = QgsFeature(fields)
            if there:
                feature.setGeometry(geometry)
            feature.setAttributes([capture, *values])
            yield feature


def _same(some, others):
    """True where two logs hold the same epochs."""
    return len(some) == len(others) > 0 and all(
        np.array_equal(getattr(some, name), getattr(others, name), equal_nan=True)
        for name in ("seconds", "latitude", "longitude", "altitude")
    )


def _first_and_last(seconds):
    """First and last time; the same where there is one alone."""
    known = seconds[np.isfinite(seconds)]
    if not len(known):
        return np.datetime64("NaT"), np.datetime64("NaT")
    return tuple(np.array([known.min(), known.max()]).astype("M8[s]"))


def _rejected_features(capture, path, rejected):
    fields = fields_of(REJECTED_FIELDS)
    with open(path, "rb") as stream:
        for values in zip(
            rejected.line.tolist(),
            sinks.text_cells(rejected.kind, nmea.KINDS),
            sinks.text_cells(rejected.reason, nmea.SENTENCE_REASON_NAMES),
            nmea.read_texts(stream, rejected),
        ):
            feature = QgsFeature(fields)
            feature.setAttributes([capture, *values])
            yield feature


def _counts(values):
    return [None if value < 0 else value for value in values.tolist()]


def capture_names(paths):
    """File names, with as many folders before them as it takes to tell them apart."""
    whole = [path.absolute().parts for path in paths]
    names = [parts[-1] for parts in whole]
    for depth in range(2, max(map(len, whole), default=0) + 1):
        twice = {name for name in names if names.count(name) > 1}
        if not twice:
            break
        names = [
            "/".join(parts[-depth:]) if name in twice else name for name, parts in zip(names, whole)
        ]
    return names
