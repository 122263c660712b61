"""Tables that a run writes about itself."""

import json
import uuid

import numpy as np
from qgis.core import QgsFeature

from ..host.fields import NewField, fields_of
from ..host.versions import versions
from ..writing import styles
from .result_folder import RESULT, RUN_LOG

# All layers that a run may write, as they stand in the group, with their styles.
RESULTS = {
    "revisits": styles.REVISITS,
    "superseded": None,
    "held": styles.HELD,
    "changes": styles.BASEMAP_CHANGES,
    "updated": styles.UPDATED,
    "repairs": styles.REPAIRS,
    "comparison": styles.COMPARED,
    "existing_status": styles.EXISTING_STATUS,
    "stations": styles.STATIONS,
    "disagreements": styles.DISAGREEMENTS,
    "alignments": styles.ALIGNMENTS,
    "elements": styles.ELEMENTS,
    "merged": styles.MERGED,
    "edges": styles.EDGES,
    "gaps": styles.GAPS,
    "rejected": styles.REJECTED,
    "kept": styles.KEPT,
    "passes": None,
    "revisit_reasons": None,
    "comparison_summary": None,
    "summary": None,
    "history": None,
    RUN_LOG: None,
}
SUMMARY_FIELDS = (
    NewField("layer", "QString", "The capture layer; empty for what concerns all."),
    NewField("stage", "QString", "`reconstruct`, or the step that followed."),
    NewField("state", "QString", "`done` or `failed`."),
    NewField("error", "QString", "Why it failed; empty where it did not."),
    NewField("epochs_read", "LongLong", "Epochs read."),
    NewField("epochs_kept", "LongLong", "Epochs kept."),
    NewField("epochs_rejected", "LongLong", "Epochs rejected."),
    NewField("edges", "LongLong", "Edges made."),
    NewField("gaps", "LongLong", "Gaps found."),
    NewField("length", "Double", "Total length of the edges on the ground.", "m"),
    NewField("warnings", "Int", "Number of warnings in the log."),
    NewField("seconds", "Double", "Time taken.", "s"),
)
LOG_FIELDS = (
    NewField(
        "section",
        "QString",
        "`run`, `version`, `parameter`, `layer`, `count`, or `control` for a day that is off.",
    ),
    NewField("name", "QString", "Name of the value."),
    NewField("value", "QString", "The value as text."),
)


def features_of(definitions, rows):
    """Rows of a table as features."""
    fields, features = fields_of(definitions), []
    for row in rows:
        feature = QgsFeature(fields)
        feature.setAttributes(list(row))
        features.append(feature)
    return features


def summary_rows(captures, stages):
    """Rows of `SUMMARY_FIELDS`: every capture layer, then every stage that followed."""
    rows = []
    for capture in captures:
        of = capture.numbers.get if not capture.error else {}.get
        rows.append(
            (
                capture.name,
                "reconstruct",
                "failed" if capture.error else "done",
                capture.error or None,
                of("EPOCHS_READ"),
                of("EPOCHS_KEPT"),
                of("EPOCHS_REJECTED"),
                of("EDGES"),
                None if capture.error else capture.gaps,
                of("LENGTH"),
                capture.warnings,
                round(capture.seconds, 3),
            )
        )
    for stage in stages:
        state = "failed" if stage.error else "done"
        head = None, stage.name, state, stage.error or None
        rows.append((*head, *(None,) * 6, stage.warnings, round(stage.seconds, 3)))
    return rows


def log_rows(run):
    """Rows of `LOG_FIELDS`: what is needed to repeat the result."""
    rows = [
        ("run", "algorithm", f"curbwright:{run.algorithm.name()}"),
        ("run", "id", uuid.uuid4().hex),  # two runs may begin in one minute
        ("run", "started", run.started),
        ("run", "finished", run.algorithm.now()),
        ("run", "crs", run.crs.authid() or run.crs.toWkt()),
    ]
    rows += [("version", *pair) for pair in versions()]
    rows += [("parameter", *pair) for pair in run.algorithm.settings]
    for capture in run.algorithm.captures:
        rows.append(
            (
                "layer",
                capture.name,
                capture.layer.source() if capture.layer is not None else str(capture.given),
            )
        )
    rows += [
        ("count", name, str(value))
        for name, value in (
            ("layers", len(run.algorithm.captures)),
            ("layers_failed", sum(bool(capture.error) for capture in run.algorithm.captures)),
            *(
                (
                    key.lower(),
                    sum(
                        capture.numbers.get(key, 0)
                        for capture in run.algorithm.captures
                        if not capture.error
                    ),
                )
                for key in ("EPOCHS_READ", "EPOCHS_KEPT", "EPOCHS_REJECTED")
            ),
            *((f"changes_{what}", number) for what, number in run.carried.counts.items()),
            ("changes_superseded", len(run.carried.superseded)),
            *(
                (f"basemap_{name.lower()}", number)
                for name, number in run.updated.items()
                if isinstance(number, int)
            ),
            *(
                (f"repairs_{state}", count)
                for state, count in sorted(run.main.repairs.counts().items())
            ),
            ("edges", run.main.edge_count),
            ("length", run.main.length),
        )
    ]
    rows += [("control", day.name, _as_json(day)) for day in run.days if day.wrong]
    return rows + [(RESULT, name, str(count)) for name, count in run.results]


def _as_json(day):
    """What control says of a day, for programs: metres, nothing where a number is unknown."""
    numbers = {
        "plan": float(np.hypot(day.east, day.north)),
        "east": day.east,
        "north": day.north,
        "up": day.up,
        "sigma": day.sigma,
        "sigma_up": day.sigma_up,
    }
    return json.dumps(
        {
            **{name: round(value, 4) for name, value in numbers.items() if np.isfinite(value)},
            "points": day.number,
            "layers": list(day.layers),
        },
        ensure_ascii=False,
    )
