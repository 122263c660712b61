"""The evidence of a line on a page, in black on white."""

from qgis.PyQt.QtCore import QRectF
from qgis.PyQt.QtGui import QColor, QPainter, QPalette


def draw_print(device, panel):
    """Draw title and plot of the chosen line.

    Parameters
    ----------
    device : QPagedPaintDevice
    panel : ReviewPanel

    Returns
    -------
    bool
        False where the printer or the file cannot be opened.
    """
    palette = QPalette(panel.palette())
    palette.setColor(QPalette.ColorRole.Base, QColor("white"))
    palette.setColor(QPalette.ColorRole.Text, QColor("black"))
    painter = QPainter()
    if not painter.begin(device):
        return False
    scale = device.logicalDpiX() / 96
    painter.scale(scale, scale)
    width, height = device.width() / scale, device.height() / scale
    title = QRectF(0, 0, width, 40)
    painter.drawText(title, panel.title.toolTip().replace("\n", "  "))
    plot = QRectF(0, 0, width, min(height - 60, 0.75 * width))
    painter.translate(0, 50)
    panel.plot.drawing.draw(painter, plot, palette)
    painter.end()
    return True
