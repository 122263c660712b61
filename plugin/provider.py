"""The Processing provider: one list of all algorithms."""

from pathlib import Path

from qgis.core import Qgis, QgsMessageLog, QgsProcessingModelAlgorithm, QgsProcessingProvider
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
from ..algorithms.updatebasemap import UpdateBasemap

ALGORITHMS = (
    AverageOccupations,
    CheckAccuracy,
    CompareEdges,
    CurbHeight,
    EstimateShift,
    FitAlignments,
    JoinEdges,
    MergePasses,
    OffsetEdges,
    ProcessCaptures,
    ReadNmeaLog,
    ReconstructEdges,
    Revisits,
    ScreenEpochs,
    UpdateBasemap,
)
# as the job goes, for the menu: the toolbox of the host sorts by name
IN_ORDER = (
    (ProcessCaptures,),
    (ReadNmeaLog, ScreenEpochs, ReconstructEdges, AverageOccupations),
    (MergePasses, JoinEdges, FitAlignments, OffsetEdges, CurbHeight),
    (EstimateShift, CompareEdges, UpdateBasemap, CheckAccuracy, Revisits),
)
MODELS = sorted((Path(__file__).parent / "models").glob("*.model3"))
ICON = Path(__file__).parent / "icons" / "curbwright.svg"


class CurbwrightProvider(QgsProcessingProvider):
    """Curbwright among the providers of the Processing framework."""

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
        for path in MODELS:
            model = QgsProcessingModelAlgorithm()
            if model.fromFile(str(path)):
                self.addAlgorithm(model)
            else:
                QgsMessageLog.logMessage(
                    f"{path.name}: this version of QGIS cannot read the model.",
                    self.name(),
                    Qgis.MessageLevel.Warning,
                )
