"""The worklist with its filters and its progress."""

from qgis.core import QgsApplication
from qgis.PyQt.QtCore import QItemSelectionModel, Qt, pyqtSignal
from qgis.PyQt.QtWidgets import (
    QAbstractItemView,
    QComboBox,
    QGridLayout,
    QHBoxLayout,
    QHeaderView,
    QLabel,
    QMenu,
    QProgressBar,
    QSizePolicy,
    QToolButton,
    QVBoxLayout,
    QWidget,
)

from ...shared.review.worklist import Kind
from . import words
from .tables import plain_table
from .words import tr
from .worklist_model import DECISION, SCALE, Filter, WorklistModel

WIDTHS = {0: 26, 1: 64, 2: 150, 3: 100, 4: 62, 5: 90, 6: 84, 7: 160}  # pixels at 96 dpi
LEAST_FILTER = 56  # pixels at 96 dpi that a filter has at least: its arrow and some letters
ROW = 1.35  # heights of a line of text


class ListView(QWidget):
    """Filters, table and progress.

    Signals
    -------
    current : int
        Row of the review that is looked at, -1 for none.
    """

    current = pyqtSignal(int)

    def __init__(self, parent=None):
        super().__init__(parent)
        self.model = WorklistModel(self)
        self._make_filters()
        self._make_table()
        self.bar = QProgressBar(self)
        self.bar.setAccessibleName(tr("Progress of the review"))
        self.bar.setTextVisible(False)  # themes may write it dark on dark
        self.bar.setMaximumHeight(int(0.8 * self.fontMetrics().height()))
        self.said = QLabel(self)
        progress = QHBoxLayout()
        progress.addWidget(self.said)
        progress.addWidget(self.bar, 1)
        layout = QVBoxLayout(self)
        layout.setContentsMargins(0, 0, 0, 0)
        layout.setSpacing(3)
        layout.addLayout(self._filters)
        layout.addWidget(self.table, 1)
        layout.addLayout(progress)
        self.show_progress()

    def _make_filters(self):
        self.days, self.captures, self.states = (QComboBox(self) for _ in range(3))
        self._make_kinds()
        self.states.addItem(tr("All states"), None)
        self.states.addItem(tr("Undecided"), False)
        self.states.addItem(tr("Decided"), True)
        self._fill(self.days, tr("All days"), [])
        self._fill(self.captures, tr("All captures"), [])
        self.all = QToolButton(self)
        self.all.setAutoRaise(True)
        self.all.setIcon(QgsApplication.getThemeIcon("mActionFilter2.svg"))
        self.all.setToolTip(tr("Show all that deserves a look"))
        self.all.setAccessibleName(self.all.toolTip())
        self.all.clicked.connect(self.clear_filter)
        self._filters = QGridLayout()
        self._filters.setSpacing(3)
        self._filters.addWidget(self.kinds, 0, 0)
        self.kinds.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
        self._filters.addWidget(self.states, 0, 1)
        self._filters.addWidget(self.days, 0, 2)
        self._filters.addWidget(self.captures, 0, 3)
        self._filters.addWidget(self.all, 0, 4)
        for box, name in ((self.days, tr("Day")), (self.captures, tr("Capture")),
                          (self.states, tr("Decided or not"))):  # fmt: skip
            box.setAccessibleName(name)
            box.setToolTip(name)
        for box in (self.days, self.captures, self.states):
            box.setSizePolicy(QSizePolicy.Policy.Expanding, QSizePolicy.Policy.Fixed)
            box.setMinimumContentsLength(6)
            box.setSizeAdjustPolicy(
                QComboBox.SizeAdjustPolicy.AdjustToMinimumContentsLengthWithIcon
            )
        least = int(LEAST_FILTER * self.logicalDpiX() / 96)
        for one in (self.kinds, self.days, self.captures, self.states):
            one.setMinimumWidth(least)  # else four of them make the window wider than a screen
        for box in (self.days, self.captures, self.states):
            box.currentIndexChanged.connect(lambda place: self.apply_filter())

    def _make_kinds(self):
        """A button that opens the list of reasons."""
        self.kinds = QToolButton(self)
        self.kinds.setPopupMode(QToolButton.ToolButtonPopupMode.InstantPopup)
        self.kinds.setToolButtonStyle(Qt.ToolButtonStyle.ToolButtonTextOnly)
        self.kinds.setToolTip(tr("Reasons shown"))
        menu, self.kind_choices = QMenu(self.kinds), {}
        for kind in [*(one for one in Kind if one), Kind.NOTHING]:
            choice = menu.addAction(words.reason(kind))
            choice.setCheckable(True)
            choice.setChecked(kind != Kind.NOTHING)
            choice.toggled.connect(lambda checked: self.apply_filter())
            self.kind_choices[kind] = choice
        self.kinds.setMenu(menu)
        self._name_kinds()

    def _name_kinds(self):
        shown = [kind for kind, choice in self.kind_choices.items() if choice.isChecked()]
        listed = [kind for kind in self.kind_choices if kind != Kind.NOTHING]
        if len(shown) == len(self.kind_choices):
            text = tr("All lines")
        elif shown == listed:
            text = tr("All reasons")
        elif len(shown) == 1:
            text = words.reason(shown[0])
        else:
            text = tr("{} reasons").format(len(shown))
        self.kinds.setText(text)
        self.kinds.setAccessibleName(tr("Reasons shown: {}").format(text))

    def show_kinds(self, kinds):
        """Show lines with these reasons alone."""
        for kind, choice in self.kind_choices.items():
            choice.blockSignals(True)
            choice.setChecked(kind in kinds)
            choice.blockSignals(False)
        self.apply_filter()

    def _make_table(self):
        self.table = plain_table(self, self.model, tr("Worklist"), ROW)
        self.table.setSelectionMode(QAbstractItemView.SelectionMode.ExtendedSelection)
        header = self.table.horizontalHeader()
        header.setSectionResizeMode(QHeaderView.ResizeMode.Interactive)
        header.setHighlightSections(False)
        header.setSortIndicator(SCALE, Qt.SortOrder.DescendingOrder)
        self.table.setSortingEnabled(True)
        scale = self.logicalDpiX() / 96
        for column, width in WIDTHS.items():
            self.table.setColumnWidth(column, int(width * scale))
        self.table.selectionModel().currentRowChanged.connect(self._current)
        self._following = True

    @staticmethod
    def _fill(box, title, values):
        """Choices of a filter; the one that was chosen stays where it is still there."""
        chosen = box.currentData()
        box.blockSignals(True)
        box.clear()
        box.addItem(title, None)
        for value in values:
            box.addItem(value, value)
        box.setCurrentIndex(max(box.findData(chosen), 0) if chosen is not None else 0)
        box.blockSignals(False)

    # contents

    def set_review(self, review):
        """Take another review; what was looked at stays where it is still there."""
        former = self._key(self.row())
        self._following = False
        self.model.set_review(review)
        days, captures = self.model.choices()
        self._fill(self.days, tr("All days"), days)
        self._fill(self.captures, tr("All captures"), captures)
        self.model.set_filter(self.wanted())
        self._following = True
        self.show_progress()
        row = next(
            (one for one in range(len(review or ())) if former and self._key(one) == former), -1
        )
        if not self.look_at(row):
            self.first()

    def _key(self, row):
        """What a line is known by from one reading to the next."""
        review = self.model.review
        if review is None or not 0 <= row < len(review):
            return None
        return int(review.what[row]), int(review.fid[row]), review.label[row]

    def wanted(self):
        """The filter as it is set."""
        kinds = {kind for kind, choice in self.kind_choices.items() if choice.isChecked()}
        return Filter(
            kinds if len(kinds) < len(Kind) else None,
            self.days.currentData(),
            self.captures.currentData(),
            self.states.currentData(),
        )

    def apply_filter(self):
        """Show what passes the filter as it is set."""
        row = self.row()
        self._name_kinds()
        self._following = False
        self.model.set_filter(self.wanted())
        self._following = True
        if not self.look_at(row):
            self.first()

    def clear_filter(self):
        """Show all that deserves a look."""
        for box in (self.days, self.captures, self.states):
            box.blockSignals(True)
            box.setCurrentIndex(0)
            box.blockSignals(False)
        self.show_kinds([kind for kind in Kind if kind != Kind.NOTHING])

    def show_progress(self, unsaved=False):
        """Say how far the review is, and whether some of it is not saved yet."""
        done, total = self.model.progress()
        self.bar.setMaximum(max(total, 1))
        self.bar.setValue(done)
        text = tr("{} of {} decided").format(done, total) if total else tr("nothing to decide")
        self.said.setText(tr("{}, not saved yet").format(text) if unsaved else text)

    # moving

    def row(self):
        """Row of the review that is looked at, -1 for none."""
        index = self.table.currentIndex()
        return self.model.row_at(index.row()) if index.isValid() else -1

    def rows(self):
        """Rows of the review that are selected, in the order of the table."""
        places = sorted(index.row() for index in self.table.selectionModel().selectedRows())
        return [self.model.row_at(place) for place in places]

    def look_at(self, row, reveal=False):
        """Go to a row of the review; False where the filter hides it."""
        place = self.model.place_of(row)
        if place < 0 and reveal and 0 <= row < len(self.model.review or ()):
            self._show_all_of(row)
            place = self.model.place_of(row)
        if place < 0:
            return False
        self._go(place)
        return True

    def _show_all_of(self, row):
        """Widen the filter so that a row is shown."""
        self.clear_filter()
        if self.model.place_of(row) < 0:
            self.kind_choices[Kind(int(self.model.review.found.kind[row]))].setChecked(True)

    def _go(self, place):
        index = self.model.index(place, DECISION)
        flags = QItemSelectionModel.SelectionFlag
        self.table.selectionModel().setCurrentIndex(index, flags.ClearAndSelect | flags.Rows)
        self.table.scrollTo(index)

    def first(self):
        """Go to the first row."""
        if self.model.rowCount():
            self._go(0)
        else:
            self.current.emit(-1)

    def step(self, step):
        """Go some rows on or back."""
        index = self.table.currentIndex()
        if self.model.rowCount():
            place = index.row() + step if index.isValid() else 0
            self._go(min(max(place, 0), self.model.rowCount() - 1))

    def next_undecided(self):
        """Go to the next row that is not decided yet; stay at the last one where all are."""
        done, start = self.model.decided(), self.table.currentIndex().row()
        last = max((index.row() for index in self.table.selectionModel().selectedRows()),
                   default=start)  # fmt: skip
        for place in (*range(last + 1, self.model.rowCount()), *range(max(start, 0))):
            if not done[self.model.row_at(place)]:
                self._go(place)
                return
        if self.model.rowCount():
            self._go(min(last + 1, self.model.rowCount() - 1))

    def _current(self, index, former=None):
        if self._following:
            self.current.emit(self.model.row_at(index.row()) if index.isValid() else -1)
