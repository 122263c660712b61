"""A dialogue that deletes itself when it is closed leaves no error."""

import processing
from qgis.PyQt import sip
from qgis.PyQt.QtCore import QTimer
from qgis.PyQt.QtWidgets import QDialog

from curbwright.plugin.open_dialogue import open_dialogue


class Canvas:
    tool = "pan"

    def mapTool(self):
        return self.tool

    def setMapTool(self, tool):
        self.tool = tool


def test_it_may_be_gone_when_it_is_closed(qgis_app, monkeypatch):
    asked, dialogue = [], QDialog()

    def made(*given):
        asked.append(given)
        return dialogue

    monkeypatch.setattr(processing, "createAlgorithmDialog", made)
    QTimer.singleShot(0, lambda: sip.delete(dialogue))  # as where it has run and is closed
    open_dialogue("curbwright:some", {"A": 1}, Canvas())
    assert asked == [("curbwright:some", {"A": 1})] and sip.isdeleted(dialogue)


def test_the_tool_of_the_map_comes_back(qgis_app, monkeypatch):
    canvas, dialogue = Canvas(), QDialog()
    monkeypatch.setattr(processing, "createAlgorithmDialog", lambda *given: dialogue)

    def pick():
        canvas.tool = "point"  # as the button that takes a point from the map
        dialogue.close()

    QTimer.singleShot(0, pick)
    open_dialogue("curbwright:some", {}, canvas)
    assert canvas.tool == "pan"


def test_an_algorithm_that_is_not_there_opens_nothing(monkeypatch):
    monkeypatch.setattr(processing, "createAlgorithmDialog", lambda *given: None)
    assert open_dialogue("curbwright:none", {}, Canvas()) is None
