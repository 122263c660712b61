"""The Processing provider: one list of all algorithms."""
from pathlib import Path

from qgis.core import QgsProcessingProvider
from qgis.PyQt.QtGui import QIcon

from ..algorithms.averageoccupations import AverageOccupations
from ..algorithms.checkaccuracy import CheckAccuracy
from ..algorithms.compareedges import CompareEdges
from ..algorithms.curbheight import CurbHeight
from ..algorithms.estimateshift import EstimateShift
from ..algorithms.fitalignments import FitAlignments
from ..algorithms.joinedges import JoinEdges
from ..algorithms.mergepasses import MergePasses
from ..algorithms.offsetedges import OffsetEdges
from ..algorithms.processcaptures import ProcessCaptures
from ..algorithms.readnmealog import ReadNmeaLog
from ..algorithms.reconstructedges import ReconstructEdges
from ..algorithms.revisits import Revisits
from ..algorithms.screenepochs import ScreenEpochs

ALGORITHMS = (AverageOccupations, CheckAccuracy, CompareEdges, CurbHeight, EstimateShift, FitAlignments, JoinEdges, MergePasses, OffsetEdges, ProcessCaptures, ReadNmeaLog, ReconstructEdges, Revisits, ScreenEpochs)
ICON = Path(__file__).parent / "icons" / "curbwright.svg"


class CurbwrightProvider(QgsProcessingProvider):
    def id(self):
        return "curbwright"

    def name(self):
        return "Curbwright"

    def longName(self):
        return self.name()

    def icon(self):
        return QIcon(str(ICON))

    def svgIconPath(self):
        return str(ICON)

    def loadAlgorithms(self):
        for algorithm in ALGORITHMS:
            self.addAlgorithm(algorithm())
