"""The review panel can be translated: none of its words stays in English where every text is
marked."""

from markedtexts import marking, unmarked
from qgis.PyQt.QtCore import Qt
from qgis.PyQt.QtWidgets import (
    QAbstractButton,
    QComboBox,
    QLabel,
    QLineEdit,
    QTableView,
    QWidget,
)

KNOWN = {"Shift", "walk"}  # a key; a capture


def words_of(panel):
    """All that a panel shows in its own words, with hints."""
    told = [panel.windowTitle()]
    for widget in panel.findChildren(QWidget):
        told.append(widget.toolTip())
        told += [action.text() for action in widget.actions()]
        if isinstance(widget, (QLabel, QAbstractButton)):
            told.append(widget.text())
        if isinstance(widget, QLineEdit):
            told.append(widget.placeholderText())
        if isinstance(widget, QComboBox):
            told += [widget.itemText(place) for place in range(widget.count())]
        if isinstance(widget, QTableView) and widget.model() is not None:
            model = widget.model()
            across = Qt.Orientation.Horizontal
            told += [
                str(model.headerData(place, across) or "") for place in range(model.columnCount())
            ]
    return [text for text in told if text]


def test_no_word_of_the_panel_stays_in_english(window, results, hand):
    from curbwright.plugin.review.controller import ReviewController

    with marking():
        controller = ReviewController(window)
        controller.show()
        with hand.signals(controller.session.opened, controller.session.evidence_read):
            controller.open_folder(results)
        told = words_of(controller.panel)
        controller.close()
    assert len(told) > 30
    assert {text for text in told if unmarked(text, KNOWN)} == set()
