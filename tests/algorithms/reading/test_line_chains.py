"""Streamed lines that begin where and when another one ended are one walk."""

from types import SimpleNamespace

import numpy as np
import pytest
from qgis.core import QgsFeature, QgsGeometry, QgsLineString, QgsProcessingException, QgsVectorLayer
from walkedlayers import ORIGIN, Log, layer_of, reconstruct, run, table, walk

from curbwright.algorithms.reading.line_chains import ids_of_walks


class Ids(SimpleNamespace):
    """Rows of which only the ids matter."""

    def __len__(self):
        return len(self.ids)


def lines(*some):
    """Rows, seconds, parts, x and y of lines given as (id, begin, end, x of the begin): 1 Hz, 1 m
    a second."""
    ids, seconds, x = [], [], []
    for ident, begin, end, where in some:
        steps = np.arange(abs(end - begin) + 1)
        seconds.append(begin + np.sign(end - begin) * steps)
        x.append(where + steps)
        ids.append(np.full(len(steps), ident))
    ids, seconds, x = (np.concatenate(one) for one in (ids, seconds, x))
    return (
        Ids(ids=ids),
        seconds.astype(float),
        np.zeros(len(ids), np.int64),
        x.astype(float),
        np.zeros(len(ids)),
    )


def walks_of(*some):
    rows, *rest = lines(*some)
    ids, joined = ids_of_walks(rows, *rest)
    found = {}
    for ident, own in zip(rows.ids.tolist(), ids.tolist()):
        found[ident] = own
    return found, joined


@pytest.mark.parametrize(
    ("some", "walks", "joined"),
    [
        # in the order of time, whatever the order of the rows; the vertex between may be shared
        ([(7, 0, 9, 0), (8, 10, 19, 10), (9, 19, 30, 19)], {7: 7, 8: 7, 9: 7}, 2),
        ([(9, 20, 30, 20), (7, 0, 9, 0), (8, 10, 19, 10)], {7: 7, 8: 7, 9: 7}, 2),
        # too late, or elsewhere
        ([(1, 0, 9, 0), (2, 14, 20, 10)], {1: 1, 2: 2}, 0),
        ([(1, 0, 9, 0), (2, 10, 20, 60)], {1: 1, 2: 2}, 0),
        # two receivers at the same time
        (
            [(1, 0, 9, 0), (2, 0, 9, 500), (3, 10, 19, 10), (4, 10, 19, 510)],
            {1: 1, 2: 2, 3: 1, 4: 2},
            2,
        ),
        # drawn against the walk: it ends at x = 20, where the other one begins
        ([(1, 10, 0, 20), (2, 11, 20, 20)], {1: 1, 2: 1}, 1),
        ([(1, 0, 9, 0)], {1: 1}, 0),
    ],
)
def test_what_goes_on_with_what(some, walks, joined):
    assert walks_of(*some) == (walks, joined)


def test_one_line_has_one_successor():
    found, joined = walks_of((1, 0, 9, 0), (2, 10, 19, 10), (3, 10, 19, 11))
    assert joined == 1 and found[2] == 1 and found[3] == 3


@pytest.mark.usefixtures("provider")
def test_a_walk_cut_into_features_is_the_walk_whole():
    rows = walk(captures=1)
    good = [row for row in rows if row.get("x") is not None]

    def layer(cuts):
        made = QgsVectorLayer("LineStringZM?crs=EPSG:32632", "cut", "memory")
        features = []
        for start, stop in zip(cuts, [*cuts[1:], len(good)]):
            some = good[start:stop]
            columns = (
                [ORIGIN[0] + row["x"] for row in some],
                [ORIGIN[1] + row["y"] for row in some],
                *([row[name] for row in some] for name in ("z", "seconds")),
            )
            feature = QgsFeature(made.fields())
            feature.setGeometry(QgsGeometry(QgsLineString(*columns)))
            features.append(feature)
        made.dataProvider().addFeatures(features)
        return made

    log = Log()
    cut, whole = (
        table(run("reconstructedges", {"INPUT": layer(cuts), "OUTPUT": "memory:"}, log)["OUTPUT"])
        for cuts in ([0, 20, 45], [0])
    )
    assert [row["length"] for row in cut] == [row["length"] for row in whole]
    assert {row["capture"] for row in cut} == {row["capture"] for row in whole}
    assert "go on with it as one walk: 2" in log.text


@pytest.mark.usefixtures("provider")
def test_slash_dates_of_a_layer():
    rows = walk(captures=1)

    def layer(day):
        def told(row):
            clock = f"{int(row['seconds']) % 3600 // 60:02d}:{row['seconds'] % 60:05.2f}"
            return [f"{day} 10:{clock}", row["fix"]]

        return layer_of(rows, fields=(("time", "string"), ("fix", "int")), values=told)

    log = Log()
    edges = table(reconstruct(layer("13/05/2026"), log)["OUTPUT"])
    assert edges and edges[0]["started"].date().toString("yyyy-MM-dd") == "2026-05-13"
    assert "day/month/year" in log.text
    with pytest.raises(QgsProcessingException, match="“quay walk”.*“time”.*day or the month first"):
        reconstruct(layer("04/05/2026"))
