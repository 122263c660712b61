"""Buttons go on in a second row where the panel is narrow."""

import pytest
from qgis.PyQt.QtWidgets import QAction, QToolButton, QWidget

from curbwright.plugin.review.flow import FlowLayout
from curbwright.plugin.review.repairs_bar import RepairsBar

pytestmark = pytest.mark.usefixtures("qgis_app")


def laid_out(width, count=5, hidden=()):
    """Places of buttons of 50 by 20 pixels in a widget of this width."""
    holder = QWidget()
    row, buttons = FlowLayout(holder), [QToolButton() for _ in range(count)]
    for number, button in enumerate(buttons):
        button.setFixedSize(50, 20)
        row.addWidget(button)
        button.setVisible(number not in hidden)
    holder.resize(width, row.heightForWidth(width))
    row.activate()
    return [
        (button.x(), button.y()) for number, button in enumerate(buttons) if number not in hidden
    ], holder.height()


def test_rows_are_as_wide_as_there_is_room():
    assert laid_out(250) == ([(0, 0), (50, 0), (100, 0), (150, 0), (200, 0)], 20)
    assert laid_out(249) == ([(0, 0), (50, 0), (100, 0), (150, 0), (0, 20)], 40)
    assert laid_out(120, 5, {1, 3}) == ([(0, 0), (50, 0), (0, 20)], 40)
    assert laid_out(30, 2) == ([(0, 0), (0, 20)], 40)  # never less than one in a row


class Panel(QWidget):
    def action(self, name, title, icon="", keys="", checkable=False, tip=""):
        made = QAction(title, self)
        made.setCheckable(checkable)
        return made


@pytest.mark.parametrize("width", [250, 430, 1200])
def test_all_repairs_can_be_reached(width):
    panel = Panel()
    bar = RepairsBar(panel, panel)
    bar.set_on(True)
    panel.resize(width, 300)
    bar.resize(width, bar.heightForWidth(width))
    panel.show()
    buttons = bar.tools.findChildren(QToolButton)
    assert [one.text() for one in buttons] == [
        "Leave out", "Take back", "Corner", "Smooth", "Break", "Bridge", "Stretch",
    ]  # fmt: skip
    for button in buttons:
        assert button.isVisible() and button.width() >= button.sizeHint().width()
        assert bar.tools.rect().contains(button.geometry())
    assert bar.rect().contains(bar.tools.geometry())
    assert bar.minimumSizeHint().height() >= bar.tools.geometry().bottom()  # covers nothing
