"""How long a review takes to open, to filter and to draw.

.venv/bin/python tests/benchmarks/review.py [--edges 20000] [--epochs 20000]
"""

import argparse
import os
import sys
import tempfile
import time
from pathlib import Path

os.environ.setdefault("QT_QPA_PLATFORM", "offscreen")
sys.path.insert(0, str(Path(__file__).parents[1]))


def best(function, times=3):
    """Least seconds of some calls, and least seconds of the processor, in words."""
    taken = []
    for _ in range(times):
        start, busy = time.perf_counter(), time.process_time()
        function()
        taken.append((time.perf_counter() - start, time.process_time() - busy))
    wall, processor = (min(some) for some in zip(*taken))
    return f"{wall:.2f} s ({processor:.2f} s of the processor)"


def main():
    """Print a table."""
    parser = argparse.ArgumentParser(description=__doc__.splitlines()[0])
    parser.add_argument("--edges", type=int, default=20_000)
    parser.add_argument("--epochs", type=int, default=20_000)
    given = parser.parse_args()

    import clone  # noqa: F401 (imports the clone as `curbwright`)
    import numpy as np
    from qgis.core import QgsApplication, QgsProject
    from qgis.PyQt.QtCore import QRectF
    from qgis.PyQt.QtGui import QPainter, QPixmap
    from qgis.PyQt.QtTest import QTest
    from reviewresults import make_results

    application = QgsApplication([], True)
    application.initQgis()
    from curbwright.algorithms.review.line_evidence import EpochTable, LineEvidence
    from curbwright.plugin.review.evidence_plot import EvidencePlot
    from curbwright.plugin.review.list_view import ListView
    from curbwright.plugin.review.session import Session
    from curbwright.shared.review import evidence as ground
    from curbwright.shared.review.worklist import Kind

    with tempfile.TemporaryDirectory() as folder:
        make_results(Path(folder), given.edges)
        view, session, rows = ListView(), Session(), []
        session.opened.connect(view.set_review)
        session.opened.connect(lambda review: rows.append(len(review)))

        def opening():
            rows.clear()
            session.open_folder(folder)
            while not rows:
                QTest.qWait(1)

        seconds = best(opening)
        print(f"open {given.edges:,} edges, list shown: {seconds}")
        seconds = best(lambda: (view.show_kinds([Kind.MOVED]), view.clear_filter()))
        print(f"filter and back: {seconds}")
        session.close()
        QgsProject.instance().clear()
    rng, count = np.random.default_rng(1), given.epochs
    line = np.linspace(0, 1.2 * count, 400)
    axis = ground.make_axis(line, np.zeros(400), np.sin(line / 50), [0, 400])
    at = np.sort(rng.uniform(0, axis.length, count))
    seconds = best(lambda: ground.project(axis, at, rng.normal(0, 0.01, count)))
    print(f"project {count:,} epochs on 400 vertices: {seconds}")
    word = rng.choice(["single", "standing", "doubtful", "spike"], count, p=[0.9, 0.05, 0.03, 0.02])
    empty = np.zeros(0)
    shown = LineEvidence(
        0, axis, line, np.zeros(400), None,
        ground.Epochs(word != "spike", word.astype(object), at, rng.normal(0, 0.01, count),
                      np.zeros(count), np.sin(at / 50) + rng.normal(0, 0.02, count),
                      np.arange(count)),
        EpochTable(empty, empty, empty, empty, [""] * count, [""] * count, empty),
        ground.steady_band(axis, 0.005, 0.01),
        ground.Offsets(empty, empty, empty, np.zeros(0, bool)),
    )  # fmt: skip
    plot = EvidencePlot()
    plot.resize(430, 300)
    plot.set_evidence(shown)
    picture = QPixmap(430, 300)

    def draw():
        painter = QPainter(picture)
        plot.drawing.draw(painter, QRectF(0, 0, 430, 300), plot.palette())
        painter.end()

    print(f"draw {count:,} epochs: {best(draw)}")


if __name__ == "__main__":
    main()
