"""What follows the main job: repeat passes, tangents and arcs, comparison, places to revisit."""

from ..host.fields import is_null
from . import gathering, history
from .stage import Stage

OF_COMPARISON = (
    "MAX_OFFSET",
    "STATION_SPACING",
    "EXISTING_SIGMA",
    "REMOVE_SHIFT",
    "AREA",
    "REACH",
)
# parameters of `revisits` and the layer of the results that each takes
OF_REVISITS = {
    "EDGES": "edges",
    "GAPS": "gaps",
    "DISAGREEMENTS": "disagreements",
    "PASSES": "passes",
    "EXISTING_STATUS": "existing_status",
    "REJECTED": "rejected",
}


class Stages:
    """The stages that follow. Each runs an algorithm on the edges as they stand, merged ones where
    passes were merged, and leaves its layers in `run.made`.

    Parameters
    ----------
    run : Run

    Attributes
    ----------
    repeatability : dict
        Of each layer, from passes that were merged.
    compared : tuple or None
        Result and context of the comparison, for the report.
    existing_title, verdict : str
        Name of the layer compared with, and what came of it in a sentence.
    """

    def __init__(self, run):
        self.run, self.feedback, self.tr = run, run.feedback, run.tr
        self.algorithms = run.algorithm.STAGES
        self.repeatability, self.compared, self.edges = {}, None, None
        self.existing_title = self.verdict = ""

    def work(self):
        """Do those that are asked for; where one fails, the edges and the others are there all the
        same."""
        asked = self.run.asked
        if not asked.stages:
            return
        self._take_edges("edges", *self.run.made["edges"])
        step = (asked.stages_end - asked.layers_end) / len(asked.stages)
        for number, name in enumerate(asked.stages):
            start = asked.layers_end + number * step
            self.run.follow(name, Stage(self.feedback, start, start + step), getattr(self, name))

    def release(self):
        """Let go of layers and context."""
        self.edges = self.run = None

    def _take_edges(self, name, fields, kind, features):
        """Take edges as those that all else follows from."""
        self.edges, ids = gathering.memory_layer(
            name, fields, kind, features, self.run.crs, self.feedback
        )
        # which source layer each row comes from, by feature id and by edge_id
        labels = ["" if is_null(feature["layer"]) else feature["layer"] for feature in features]
        self.label_of_id = dict(zip(ids, labels))
        self.label_of_edge = dict(zip((feature["edge_id"] for feature in features), labels))

    def _follow(self, algorithm, stage, outputs, **parameters):
        """Run an algorithm; its results and its parts by the name of the output."""
        parts, context = algorithm.collect_parts(), self.run.context
        parameters = {**dict.fromkeys(outputs, "memory:"), **parameters}
        algorithm.begin(parameters, context, stage)
        return algorithm.work(parameters, context, stage), parts

    # Each returns what came of it, in words.

    def merge(self, stage):
        """Repeat passes."""
        numbers, parts = self._follow(
            self.algorithms["merge"](),
            stage,
            ("OUTPUT", "PASSES", "DISAGREEMENTS"),
            INPUT=self.edges,
        )
        labels = {}
        for row in parts["PASSES"].rows:
            if not is_null(row["edge_id"]):
                labels.setdefault(row["edge_id"], {})[self.label_of_id[row["source_id"]]] = None

        def of_pass(row):
            return self.label_of_id[row["source_id"]]

        def of_edge(row):
            return ", ".join(labels.get(row["edge_id"], ()))

        self.repeatability = history.repeatability_of(parts["PASSES"].rows, of_pass)
        self.run.gather("passes", parts["PASSES"], of_pass)
        self.run.gather("disagreements", parts["DISAGREEMENTS"], of_pass)
        self.run.gather("merged", parts["OUTPUT"], of_edge)
        self._take_edges("merged", *self.run.made["merged"])
        return self.tr("edges {}, of them merged from several walks {}; disagreements {}").format(
            numbers["EDGES"], numbers["MERGED"], len(parts["DISAGREEMENTS"].rows)
        )

    def fit(self, stage):
        """Tangents and arcs."""
        numbers, parts = self._follow(
            self.algorithms["fit"](),
            stage,
            ("OUTPUT", "ELEMENTS"),
            INPUT=self.edges,
            TOLERANCE=self.run.number("TOLERANCE"),
        )

        def of_edge(row):
            return self.label_of_edge.get(row["edge_id"])

        self.run.gather("alignments", parts["OUTPUT"])
        self.run.gather("elements", parts["ELEMENTS"], of_edge, carries_layer=False)
        return self.tr("tangents {}, arcs {}, corners {}").format(
            numbers["TANGENTS"], numbers["ARCS"], numbers["CORNERS"]
        )

    def compare(self, stage):
        """Comparison with existing lines."""
        given, algorithm = self.run.parameters, self.algorithms["compare"]()
        algorithm.places = self.run.places()
        _, parts = self._follow(
            algorithm,
            stage,
            ("OUTPUT", "EXISTING_STATUS", "STATIONS", "SUMMARY", "REPORT"),
            INPUT=self.edges,
            EXISTING=given[self.run.algorithm.EXISTING],
            **{name: given[name] for name in OF_COMPARISON if name in given},
        )
        title = algorithm.titles[1]

        def of_station(row):
            return self.label_of_id.get(row["edge_line_id"])

        self.run.gather("comparison", parts["OUTPUT"])
        self.run.gather("existing_status", parts["EXISTING_STATUS"], title, carries_layer=False)
        self.run.gather("stations", parts["STATIONS"], of_station, carries_layer=False)
        summary = parts["SUMMARY"]
        self.run.made["comparison_summary"] = summary.fields, summary.geometry_type, summary.rows
        self.compared, self.existing_title = algorithm.compared, title
        self.verdict = algorithm.verdict(self.compared[0])
        return ""  # the report has a part of its own on it

    def revisit(self, stage):
        """Places to revisit, from all that was found."""
        given, labels = self._lists_to_revisit()
        numbers, parts = self._follow(
            self.algorithms["revisit"](), stage, ("OUTPUT", "REASONS"), **given
        )

        def of_reason(row):
            return labels[row["layer"]].get(row["source_id"])

        of_place = {}
        for row in parts["REASONS"].rows:
            of_place.setdefault(row["order"], {})[of_reason(row)] = None

        def of_order(row):
            return ", ".join(label for label in of_place[row["order"]] if label)

        self.run.gather("revisits", parts["OUTPUT"], of_order, carries_layer=False)
        self.run.gather("revisit_reasons", parts["REASONS"], of_reason, carries_layer=False)
        return self.tr("places {}, findings {}").format(numbers["PLACES"], numbers["FOUND"])

    def _lists_to_revisit(self):
        """What tells of places to revisit: a layer for each parameter, whose rows have the numbers
        that they get in the GeoPackage, and of each layer the source layer of its rows."""
        given, labels, run = {}, {}, self.run
        timed = any(seconds is not None for seconds, _ in run.main.rejected_times)
        for parameter, name in OF_REVISITS.items():
            fields, kind, features = run.made.get(name, (None, None, ()))
            if not features and name != "edges":
                continue
            if name == "rejected" and not timed:
                continue
            given[parameter], ids = gathering.memory_layer(
                name, fields, kind, features, run.crs, self.feedback
            )
            labels[name] = dict(zip(ids, (feature["layer"] for feature in features)))
        return given, labels
