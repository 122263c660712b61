"""Decisions of a review as steps that can be undone, whatever else is done to their layers."""

from collections import namedtuple

from qgis.core import QgsProcessingException

from .words import tr

# one command of one layer: id, number of commands with it, its text
Command = namedtuple("Command", "layer index text")
READY, COVERED, GONE = range(3)


class Steps:
    """Undo and redo of what the review did, and of nothing else.

    A layer's own stack holds everybody's edits. A step is taken back only where its command is the
    last one of each of its layers.

    Parameters
    ----------
    project : QgsProject
    """

    def __init__(self, project):
        self.project = project
        self.done, self.undone = [], []

    def __len__(self):
        return len(self.done)

    def add(self, layers):
        """Take down a step: the last command of each of these layers."""
        commands = []
        for layer in layers:
            stack = layer.undoStack()
            commands.append(Command(layer.id(), stack.index(), stack.undoText()))
        self.done.append(tuple(commands))
        self.undone = []

    def forget(self, idents=None):
        """Leave out the steps of some layers; of all without a set of ids."""
        self.done, self.undone = (
            [
                step
                for step in steps
                if idents is not None and not any(one.layer in idents for one in step)
            ]
            for steps in (self.done, self.undone)
        )

    def undo(self, back=True):
        """Take the last step back, or make it again.

        Steps that the host's own undo has dealt with are passed over.

        Returns
        -------
        str
            What it was called; empty where there is none.

        Raises
        ------
        QgsProcessingException
            If other edits lie on top; the text names the layer. Nothing is changed then.
        """
        taken, given = (self.done, self.undone) if back else (self.undone, self.done)
        while taken:
            some = [(one, self._state(one, back)) for one in taken[-1]]
            for one, state in some:
                if state == COVERED:
                    raise QgsProcessingException(self._covered(one, back))
            step, ready = taken.pop(), [one for one, state in some if state == READY]
            if ready:
                for one in reversed(ready) if back else ready:
                    layer = self.project.mapLayer(one.layer)
                    (layer.undoStack().undo if back else layer.undoStack().redo)()
                    layer.triggerRepaint()
                given.append(step)
                return ready[-1].text
        return ""

    def _state(self, command, back):
        """Whether a command comes next, lies under others, or is not to be undone any more."""
        layer = self.project.mapLayer(command.layer)
        if layer is None or not layer.isEditable():
            return GONE
        stack = layer.undoStack()
        ahead = stack.index() - command.index if back else command.index - 1 - stack.index()
        if ahead < 0 or stack.text(command.index - 1) != command.text:
            return GONE
        return COVERED if ahead else READY

    def _covered(self, command, back):
        name = self.project.mapLayer(command.layer).name()
        if back:
            return tr(
                "“{}” was edited with other tools since the last decision. Undo those edits of the"
                " layer first, or choose the line and take its decision back."
            ).format(name)
        return tr(
            "Other edits of “{}” were undone as well. Redo those edits of the layer first."
        ).format(name)
