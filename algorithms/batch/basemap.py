"""The existing lines brought up to date by the edges of a run, with what people decided on."""

from qgis.core import QgsFeature, QgsVectorLayer

from ..host.feedback import looked_through
from ..host.fields import is_null
from ..host.figures import translate
from ..reading.decisions import DECIDED_BY, DECISION, Decisions
from . import gathering, run_state

NO, ACCEPTED, CLEAR_TOO = range(3)  # choices of `UPDATE_BASEMAP`
UPDATED, CHANGES, HELD = "updated", "changes", "held"
LAYERS = {"UPDATED": UPDATED, "CHANGES": CHANGES, "HELD": HELD}  # by output
EDGES, MERGED, PASSES, COMPARISON, STATUS = (
    "edges", "merged", "passes", "comparison", "existing_status",
)  # fmt: skip
# parameters of `updatebasemap` that a batch has as well, beside those of the comparison
OF_UPDATE = ("RETIRE", "ADD_NEW", "BLEND", "FOLLOW", "FIELD_MAP", "KEY_FIELD", "LIFECYCLE")
OF_BOTH = ("MAX_OFFSET", "EXISTING_SIGMA", "REMOVE_SHIFT", "AREA", "REACH")


def tr(text):
    return translate("BatchBasemap", text)


class BasemapUpdate:
    """One update, from the results as they stand in the new GeoPackage: what people changed in the
    last ones is in there already.

    Parameters
    ----------
    run : Run
    path : path
        The new GeoPackage.

    Attributes
    ----------
    made : dict of str to tuple
        Fields, geometry type, features and CRS of each layer.
    numbers : dict of str to int
        What the algorithm returned.
    """

    def __init__(self, run, path):
        self.run, self.path = run, path
        self.edges_name = MERGED if MERGED in run.made else EDGES
        self.made, self.numbers = {}, {}

    def work(self, algorithm, clear_rule, stage):
        """Run the algorithm.

        Parameters
        ----------
        algorithm : UpdateBasemap
            One that writes into parts.
        clear_rule : ClearRule or None
        stage : Stage

        Returns
        -------
        str
            What came of it, in words.
        """
        run, parts = self.run, algorithm.collect_parts()
        edges, fids = self._edges()
        algorithm.places = run.places()
        algorithm.clear_rule, algorithm.edge_keys = clear_rule, fids
        algorithm.edges_decided = self._decided_edges(edges, fids)
        algorithm.lines_decided = self._decided(STATUS, "line_id")

        given = {
            name: run.parameters[name] for name in (*OF_BOTH, *OF_UPDATE) if name in run.parameters
        }
        parameters = {
            **given,
            "EXISTING": run.parameters["EXISTING"],
            "EDGES": edges,
            "NEEDS_DECISION": True,
            **dict.fromkeys(LAYERS, "memory:"),
        }
        algorithm.begin(parameters, run.context, stage)
        self.numbers = algorithm.work(parameters, run.context, stage)
        for output, name in LAYERS.items():
            part = parts[output]
            fields = algorithm.database_fields(part.fields, output, stage)
            self.made[name] = fields, part.geometry_type, part.rows, part.crs
        return self._words(clear_rule)

    def _words(self, clear_rule):
        said = [
            (tr("replaced"), "REPLACED"), (tr("replaced in part"), "PARTLY"),
            (tr("added"), "ADDED"), (tr("retired"), "RETIRED"), (tr("followed"), "FOLLOWED"),
            (tr("shifted"), "SHIFTED"), (tr("unchanged"), "UNCHANGED"),
        ]  # fmt: skip
        taken = (
            tr("what was accepted, and what is clear")
            if clear_rule is not None
            else tr("what was accepted")
        )
        return tr("taken over: {}. {}; held back for a person: {}").format(
            taken,
            ", ".join(f"{word} {self.numbers[key]}" for word, key in said),
            self.numbers["HELD_BACK"],
        )

    def _edges(self):
        """The edges as they stand in the file, in a layer in memory, and their ids in the file by
        those in memory."""
        layer = QgsVectorLayer(f"{self.path}|layername={self.edges_name}", "edges", "ogr")
        fields, kind, crs = layer.fields(), layer.wkbType(), layer.crs()
        feedback = self.run.feedback
        rows = [QgsFeature(row) for row in looked_through(layer.getFeatures(), feedback)]
        del layer  # lets the file go
        memory, ids = gathering.memory_layer(self.edges_name, fields, kind, rows, crs, feedback)
        return memory, dict(zip(ids, (row.id() for row in rows)))

    def _decided_edges(self, edges, fids):
        """Decisions on edges made elsewhere than in their own rows: by feature id in memory."""
        ids, found = {}, Decisions()
        for row in edges.getFeatures():
            if not is_null(row["edge_id"]):
                ids.setdefault(row["edge_id"], []).append(row.id())
        compared = self._decided(COMPARISON, "edge_id")
        walked = self._decided_walks() if self.edges_name == MERGED else Decisions()
        for decisions in (compared, walked):
            for number, word in decisions.words.items():
                for ident in ids.get(number, ()):
                    found.add(ident, word, decisions.by[number])
        return found

    def _decided_walks(self):
        """Decisions on edges as walked, by the edge that they were merged to: what is held or
        rejected of one of them holds for all, what is accepted must be accepted of all."""
        walks, of_edge = self._decided(EDGES, None), {}
        for row in run_state.rows_of(self.path, PASSES):
            if row.values.get("edge_id") is not None:
                of_edge.setdefault(row.values["edge_id"], set()).add(row.values["source_id"])
        found = Decisions()
        for edge, sources in of_edge.items():
            words = [walks.words.get(source, "") for source in sources]
            for source, word in zip(sources, words):
                if word != "accept" or all(other == "accept" for other in words):
                    found.add(edge, word, walks.by.get(source, ""))
        return found

    def _decided(self, layer, key):
        """Decisions in a layer of the file, by the values of a field, or by row without one."""
        from ...shared.lines.update_decisions import DECISIONS  # late: it needs shapely

        found, unknown = Decisions(), []
        for row in run_state.rows_of(self.path, layer):
            said = str(row.values.get(DECISION) or "").strip()
            ident = row.fid if key is None else row.values.get(key)
            if said.lower() not in DECISIONS:
                unknown.append(said)
            elif ident is not None:
                found.add(ident, said.lower(), row.values.get(DECIDED_BY) or "")
        if unknown:
            self.run.feedback.pushWarning(
                tr(
                    "“{0}”: rows whose decision is none of the words {2}: {1}, for example “{3}”."
                    " They wait for a person."
                ).format(layer, len(unknown), ", ".join(DECISIONS[1:]), unknown[0])
            )
        return found
