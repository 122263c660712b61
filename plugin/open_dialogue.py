"""The dialogue of an algorithm, opened from a menu or the review."""


def open_dialogue(ident, parameters, canvas):
    """Open the host's dialogue of an algorithm, and come back once it is closed.

    As `processing.execAlgorithmDialog`, which asks the dialogue for its results afterwards: a
    dialogue that has run deletes itself when it is closed, and may be gone by then.

    Parameters
    ----------
    ident : str
    parameters : dict
        What is filled in.
    canvas : QgsMapCanvas
        Its tool comes back where the dialogue took another one.
    """
    import processing  # late: the Processing plugin may load after this one

    dialogue = processing.createAlgorithmDialog(ident, parameters)
    if dialogue is None:
        return
    former = canvas.mapTool()
    dialogue.show()
    dialogue.exec()
    if canvas.mapTool() != former:
        canvas.setMapTool(former)
