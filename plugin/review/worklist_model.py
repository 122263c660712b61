"""The worklist as the host's tables show it: on arrays, filtered and sorted without a copy."""

from dataclasses import dataclass

import numpy as np
from qgis.PyQt.QtCore import QAbstractTableModel, QModelIndex, Qt
from qgis.PyQt.QtGui import QFont

from ...algorithms.host.figures import printed
from ...algorithms.review.reading import DAY, OLD
from ...shared.review.worklist import Kind
from . import words
from .words import tr

_RIGHT = Qt.AlignmentFlag.AlignRight | Qt.AlignmentFlag.AlignVCenter
RIGHT = int(getattr(_RIGHT, "value", _RIGHT))  # models hand over a number, in Qt 5 and Qt 6
DECISION, NUMBER, REASON, LINE, SCALE, CAPTURE, CAPTURED, REMARK = range(8)


@dataclass(frozen=True)
class Filter:
    """What of the list is shown; None for all."""

    kinds: object = None  # set of Kind
    day: object = None
    capture: object = None
    decided: object = None  # bool


class WorklistModel(QAbstractTableModel):
    """One row for each line that passes the filter, worst first."""

    def __init__(self, parent=None):
        super().__init__(parent)
        self.review, self.filter = None, Filter()
        self.shown = np.zeros(0, np.int64)  # rows of the review, in the order of the table
        self._place = np.zeros(0, np.int64)  # and back, -1 where hidden
        self.lost = np.zeros(0, bool)  # lines that somebody deleted meanwhile
        self._sorted_by = (SCALE, Qt.SortOrder.DescendingOrder)
        self._icons = {}
        self._codes = {}

    # contents

    def set_review(self, review):
        """Take another review, or None."""
        self.beginResetModel()
        self.review = review
        count = len(review) if review is not None else 0
        self.lost = np.zeros(count, bool)
        self._codes = {}
        self._arrange()
        self.endResetModel()

    def set_filter(self, wanted):
        """Show what passes a filter."""
        self.beginResetModel()
        self.filter = wanted
        self._arrange()
        self.endResetModel()

    def _arrange(self):
        if self.review is None:
            self.shown = self._place = np.zeros(0, np.int64)
            return
        order = self._order()
        self.shown = order[self.passes(self.filter)[order]]
        self._place = np.full(len(self.review), -1, np.int64)
        self._place[self.shown] = np.arange(len(self.shown))

    def _order(self):
        column, way = self._sorted_by
        worst = self.review.found.order
        if column == SCALE:
            return worst if way == Qt.SortOrder.DescendingOrder else worst[::-1]
        keys = self._key(column)[worst]
        order = np.argsort(keys, kind="stable")  # the worse first among equals
        if way == Qt.SortOrder.DescendingOrder:
            order = np.argsort(-np.unique(keys, return_inverse=True)[1], kind="stable")
        return worst[order]

    def _key(self, column):
        review = self.review
        if column == NUMBER:
            return np.nan_to_num(review.found.amount, nan=-1.0)
        if column == REASON:
            return review.found.kind
        texts = {
            DECISION: review.decision,
            LINE: review.label,
            CAPTURE: review.capture,
            CAPTURED: [", ".join(days) for days in review.days],
            REMARK: review.remark,
        }[column]
        return np.unique(np.array(texts, dtype=str), return_inverse=True)[1]

    def passes(self, wanted):
        """Which rows of the review pass a filter."""
        review = self.review
        fine = ~self.lost
        if wanted.kinds is not None:
            fine &= np.isin(review.found.kind, [int(kind) for kind in wanted.kinds])
        if wanted.day is not None:
            fine &= self._holds("days", wanted.day)
        if wanted.capture is not None:
            fine &= self._holds("captures", wanted.capture)
        if wanted.decided is not None:
            fine &= self.decided() == wanted.decided
        return fine

    def _holds(self, name, value):
        if name not in self._codes:
            lists = self.review.days
            if name == "captures":
                lists = [text.split(", ") for text in self.review.capture]
            self._codes[name] = lists
        return np.array([value in some for some in self._codes[name]], bool)

    def choices(self):
        """Days and captures that there are, sorted."""
        if self.review is None:
            return [], []
        days = sorted({day for some in self.review.days for day in some})
        captures = sorted({one for text in self.review.capture for one in text.split(", ") if one})
        return days, captures

    def listed(self):
        """Rows that deserve a look, whatever the filter."""
        return (self.review.found.kind != Kind.NOTHING) & ~self.lost

    def decided(self):
        """Which rows are decided; a day is where all its lines are."""
        done = np.array([bool(word) for word in self.review.decision], bool)
        for row, members in self.review.members.items():
            there = members[~self.lost[members]]
            done[row] = len(there) > 0 and bool(done[there].all())
        return done

    def progress(self):
        """Number decided and number in all, of what deserves a look."""
        if self.review is None:
            return 0, 0
        listed = self.listed()
        return int(np.count_nonzero(self.decided() & listed)), int(np.count_nonzero(listed))

    def changed(self, rows):
        """Have rows of the review drawn anew; the filter is not applied again, so that what was
        just decided does not vanish under the hand."""
        places = self._place[np.asarray(list(rows), np.int64)] if rows else []
        for place in [one for one in places if one >= 0] if len(places) < 200 else []:
            last = self.index(int(place), self.columnCount() - 1)
            self.dataChanged.emit(self.index(int(place), 0), last)
        if len(places) >= 200:
            self.dataChanged.emit(
                self.index(0, 0), self.index(self.rowCount() - 1, self.columnCount() - 1)
            )

    def row_at(self, place):
        """Row of the review at a place of the table."""
        return int(self.shown[place])

    def place_of(self, row):
        """Place of a row of the review in the table, -1 where it is hidden."""
        return int(self._place[row]) if 0 <= row < len(self._place) else -1

    # as Qt asks

    def rowCount(self, parent=QModelIndex()):  # noqa: B008 (Qt's signature)
        return 0 if parent.isValid() else len(self.shown)

    def columnCount(self, parent=QModelIndex()):  # noqa: B008
        return 0 if parent.isValid() else 8

    def headerData(self, section, orientation, role=Qt.ItemDataRole.DisplayRole):
        if orientation != Qt.Orientation.Horizontal:
            return None
        if role == Qt.ItemDataRole.DisplayRole:
            return (
                "", tr("Amount"), tr("Reason"), tr("Line"), tr("× limit"),
                tr("Capture"), tr("Day"), tr("Remark"),
            )[section]  # fmt: skip
        if role == Qt.ItemDataRole.ToolTipRole and section == DECISION:
            return tr("Decision")
        if role == Qt.ItemDataRole.ToolTipRole and section == SCALE:
            return tr(
                "How many times its limit the amount is: what puts unlike findings in one order."
            )
        return None

    def sort(self, column, order=Qt.SortOrder.AscendingOrder):
        self.beginResetModel()
        self._sorted_by = (column, order)
        self._arrange()
        self.endResetModel()

    def data(self, index, role=Qt.ItemDataRole.DisplayRole):
        if not index.isValid() or self.review is None:
            return None
        row, column = int(self.shown[index.row()]), index.column()
        if role == Qt.ItemDataRole.DisplayRole and column != DECISION:
            return self._text(row, column)
        if role == Qt.ItemDataRole.AccessibleTextRole:
            return self._text(row, column)
        if role == Qt.ItemDataRole.DecorationRole and column == DECISION:
            return self._icon(self._decision(row))
        if role == Qt.ItemDataRole.ToolTipRole:
            return self._tip(row)
        if role == Qt.ItemDataRole.TextAlignmentRole and column in (NUMBER, SCALE):
            return RIGHT
        if role == Qt.ItemDataRole.FontRole and self.review.what[row] == DAY:
            font = QFont()
            font.setBold(True)
            return font
        if role == Qt.ItemDataRole.UserRole:
            return row
        return None

    def _decision(self, row):
        """Decision of a row; a day has that of its lines, where they have one alone."""
        if row not in self.review.members:
            return self.review.decision[row]
        words_of = {self.review.decision[one] for one in self.review.members[row].tolist()}
        return words_of.pop() if len(words_of) == 1 else ""

    def _text(self, row, column):
        review, found = self.review, self.review.found
        if column == DECISION:
            decision = self._decision(row)
            return words.decided(decision) if decision else ""
        if column == NUMBER:
            return words.amount(int(found.kind[row]), float(found.amount[row]))
        if column == REASON:
            return words.reason(found.kind[row])
        if column == LINE:
            return self.title(row)
        if column == SCALE:
            return printed(f"{found.ratio[row]:.1f}") if found.kind[row] != Kind.NOTHING else ""
        if column == CAPTURE:
            return review.capture[row]
        if column == CAPTURED:
            return ", ".join(review.days[row])
        return review.remark[row]

    def title(self, row):
        """What a row is, in words."""
        what, label = self.review.what[row], self.review.label[row]
        if what == DAY:
            return tr("all of {}").format(label)
        return tr("existing {}").format(label) if what == OLD else tr("edge {}").format(label)

    def _tip(self, row):
        found = self.review.found
        kind = int(found.kind[row])
        head = " ".join(
            filter(None, (words.amount(kind, float(found.amount[row])), words.reason(kind)))
        )
        parts = [
            tr("{}: {}.").format(self.title(row), head),
            words.scale(kind, float(found.limit[row]), float(found.ratio[row]), found.others[row]),
            tr("Decision: {}.").format(words.decided(self._decision(row))),
        ]
        if self.review.remark[row]:
            parts.append(tr("Remark: {}").format(self.review.remark[row]))
        return "\n".join(parts)

    def _icon(self, decision):
        if decision not in words.DECISION_ICONS:
            return None
        if decision not in self._icons:
            self._icons[decision] = words.decision_icon(decision)
        return self._icons[decision]
