"""How the tables of the review look."""

from qgis.PyQt.QtWidgets import QAbstractItemView, QTableView


def plain_table(parent, model, title, height=1.5):
    """A table of whole rows without a grid, which Tab leaves.

    Parameters
    ----------
    parent : QWidget
    model : QAbstractItemModel
    title : str
        What readers of the screen call it.
    height : float
        Of a row, in heights of a line of text.

    Returns
    -------
    QTableView
    """
    table = QTableView(parent)
    table.setModel(model)
    table.setSelectionBehavior(QAbstractItemView.SelectionBehavior.SelectRows)
    table.setAlternatingRowColors(True)
    table.setShowGrid(False)
    table.setWordWrap(False)
    table.setTabKeyNavigation(False)
    table.verticalHeader().hide()
    table.verticalHeader().setDefaultSectionSize(int(height * parent.fontMetrics().height()))
    table.setAccessibleName(title)
    return table
