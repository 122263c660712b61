"""A row of widgets that goes on beneath where the panel is too narrow for it."""

from qgis.PyQt.QtCore import QPoint, QRect, QSize, Qt
from qgis.PyQt.QtWidgets import QLayout


class FlowLayout(QLayout):
    """Widgets one after the other, each as wide as it wants to be, in as many rows as they need."""

    def __init__(self, parent=None):
        super().__init__(parent)
        self.items = []
        self.setContentsMargins(0, 0, 0, 0)

    def addItem(self, item):
        self.items.append(item)

    def count(self):
        return len(self.items)

    def itemAt(self, place):
        return self.items[place] if 0 <= place < len(self.items) else None

    def takeAt(self, place):
        return self.items.pop(place) if 0 <= place < len(self.items) else None

    def expandingDirections(self):
        return Qt.Orientation(0)

    def hasHeightForWidth(self):
        return True

    def heightForWidth(self, width):
        rows = self._rows(width)
        return rows[-1][1].bottom() + 1 if rows else 0

    def sizeHint(self):
        wide = sum(item.sizeHint().width() for item in self._shown())
        return QSize(wide, self.heightForWidth(wide))

    def minimumSize(self):
        hints = [item.sizeHint() for item in self._shown()]
        return QSize(
            max((hint.width() for hint in hints), default=0),
            max((hint.height() for hint in hints), default=0),
        )

    def setGeometry(self, rect):
        super().setGeometry(rect)
        for item, place in self._rows(rect.width()):
            item.setGeometry(place.translated(rect.topLeft()))

    def _shown(self):
        return [item for item in self.items if not item.isEmpty()]

    def _rows(self, width):
        """Each item with its place, from the top left corner of the layout."""
        out, left, top, height = [], 0, 0, 0
        for item in self._shown():
            hint = item.sizeHint()
            if left and left + hint.width() > width:
                left, top, height = 0, top + height, 0
            out.append((item, QRect(QPoint(left, top), hint)))
            left, height = left + hint.width(), max(height, hint.height())
        return out
