"""A report printed by the host: the same page as the HTML file, as PDF.

Browsers print the page by its own style sheet; no host is sure to carry one. So the page is laid
out here, with the host's engine for single texts and tables: works in any thread, without a window.
"""

import re
from pathlib import Path

from qgis.PyQt.QtCore import QLocale, QMarginsF, QRectF, Qt
from qgis.PyQt.QtGui import (
    QColor,
    QFont,
    QFontDatabase,
    QGuiApplication,
    QPageSize,
    QPainter,
    QPdfWriter,
)

from ..host.figures import translate

BEGUN = 0.16  # of a page: so much of a table, at least, stands below its heading
DOTS = 600  # an inch
LEFT, RIGHT, TOP, BOTTOM = 16.0, 14.0, 16.0, 18.0  # margins as in the page's style, mm
FOOT = 9.0  # of the running title above the lower edge, mm


def tr(text):
    return translate("Printing", text)


class PrintError(Exception):
    """The page cannot be printed here; the text says why."""


def usual_paper():
    """The paper of the user's country: Letter in the United States, else A4."""
    if QLocale().measurementSystem() == QLocale.MeasurementSystem.ImperialUSSystem:
        return QPageSize(QPageSize.PageSizeId.Letter)
    return QPageSize(QPageSize.PageSizeId.A4)


def print_report(source, target, paper=None, progress=lambda share: None):
    """Print a report.

    Parameters
    ----------
    source : path
        A page that `shared.report` wrote.
    target : path
        The PDF; written over where it is there.
    paper : QPageSize, optional
        The usual one of the user's country by default.
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    int
        Number of pages.

    Raises
    ------
    PrintError
        Where the host cannot print, or the file is not whole.
    """
    if not isinstance(QGuiApplication.instance(), QGuiApplication):
        raise PrintError(tr("this host runs without anything that draws"))
    if not _fonts():
        raise PrintError(tr("this host has no fonts"))
    try:
        from .page_boxes import read_page
    except ImportError as error:  # the module for SVG, which not every host carries
        raise PrintError(tr("this QGIS lacks the module that draws SVG (QtSvg)")) from error
    markup = Path(source).read_text(encoding="utf-8")
    writer = QPdfWriter(str(target))
    writer.setResolution(DOTS)
    writer.setPageSize(paper or usual_paper())
    writer.setPageMargins(QMarginsF(0, 0, 0, 0))
    body, pictures = read_page(markup)
    sheet = Sheet(writer, pictures)
    title = re.search(r"<title>(.*?)</title>", markup, re.DOTALL)
    writer.setTitle(title[1] if title else "")
    writer.setCreator("Curbwright")
    pages = paginate(boxes_of(sheet, body, progress), sheet.room)
    words = _running_words(markup)
    painter = QPainter()
    if not painter.begin(writer):
        raise PrintError(tr("the file cannot be written"))
    try:
        for number, page in enumerate(pages, start=1):
            done = 0.5 + 0.5 * number / len(pages)
            if number > 1 and not writer.newPage():
                raise PrintError(tr("the file cannot be written"))
            for box, y in page:
                progress(done)  # a figure alone may take half a second
                box.draw(painter, sheet.left, sheet.top + y)
            sheet.draw_foot(painter, words, number, len(pages))
    finally:
        painter.end()
    _check(target)
    return len(pages)


def _fonts():
    """Names of the fonts of the host."""
    try:
        return QFontDatabase().families()
    except TypeError:  # Qt 6 makes no object of it
        return QFontDatabase.families()


def _running_words(markup):
    """Title, and the words around the numbers of the page, as the page's own style has them."""
    found = re.search(
        r'@bottom-left \{ content: "(.*?)";.*?content: "(.*?)" counter\(page\) "(.*?)"',
        markup,
        re.DOTALL,
    )
    return [
        re.sub(r"\\([0-9a-f]+) ", lambda code: chr(int(code[1], 16)), part)
        for part in found.groups()
    ]


def _check(target):
    """A PDF that is whole begins and ends as one."""
    path = Path(target)
    content = path.read_bytes() if path.is_file() else b""
    if not content.startswith(b"%PDF") or b"%%EOF" not in content[-64:]:
        raise PrintError(tr("the file is not whole"))


class Sheet:
    """Paper of a writer: what a millimetre is, where things may stand.

    Parameters
    ----------
    writer : QPdfWriter
    pictures : list of QSvgRenderer
    """

    def __init__(self, writer, pictures):
        self.writer, self.pictures = writer, pictures
        self.unit = writer.logicalDpiX() / 25.4
        self.left, self.top = LEFT * self.unit, TOP * self.unit
        self.width = writer.width() - (LEFT + RIGHT) * self.unit
        self.room = writer.height() - (TOP + BOTTOM) * self.unit

    def mm(self, value):
        """Millimetres in dots."""
        return value * self.unit

    def scaled(self, pixels):
        """Pixels of the text engine in dots."""
        return pixels * self.writer.logicalDpiY() / 96.0

    def document(self, markup, width):
        """A text laid out for this paper."""
        from .page_boxes import document_of

        return document_of(markup, width, self.writer, self.pictures)

    def draw_foot(self, painter, words, number, count):
        """The running title and the number of the page."""
        font = QFont("DejaVu Sans")
        font.setPointSizeF(7.5)
        title, page, of = words
        painter.setFont(font)
        painter.setPen(QColor("#3c4a57"))
        high = self.mm(6)
        frame = QRectF(self.left, self.writer.height() - self.mm(FOOT) - high, self.width, high)
        numbers = f"{page}{number}{of}{count}"
        painter.drawText(frame, Qt.AlignmentFlag.AlignRight, numbers)
        metrics = painter.fontMetrics()
        room = self.width - metrics.horizontalAdvance(numbers) - self.mm(6)
        short = metrics.elidedText(title, Qt.TextElideMode.ElideRight, int(room))
        painter.drawText(frame, Qt.AlignmentFlag.AlignLeft, short)


def paginate(boxes, room):
    """Share boxes out among pages.

    Parameters
    ----------
    boxes : list of Box
    room : float
        Height of a page.

    Returns
    -------
    list of list of (Box, float)
        The boxes of each page, and how far from its top they stand.
    """
    from .page_boxes import NewPage

    pages, y = [[]], 0.0
    waiting = list(boxes)[::-1]
    while waiting:
        box = waiting.pop()
        if isinstance(box, NewPage):
            if pages[-1]:
                pages.append([])
                y = 0.0
            continue
        gap = box.gap if pages[-1] else 0.0
        if y + gap + box.height + _kept(box, waiting, room) <= room:
            pages[-1].append((box, y + gap))
            y += gap + box.height
            continue
        parts = box.split(room - y - gap)
        if parts:
            pages[-1].append((parts[0], y + gap))
            waiting.append(parts[1])
        elif pages[-1]:
            waiting.append(box)
        else:
            pages[-1].append((box, 0.0))  # higher than a page: cut off rather than never printed
            if not waiting:
                break
        pages.append([])
        y = 0.0
    return [page for page in pages if page]


def _kept(box, waiting, room):
    """Height of what must stand on the page of a box, below it."""
    height, place = 0.0, len(waiting)
    while box.keep_with_next and place:
        place -= 1
        box = waiting[place]
        part = box.split(BEGUN * room) if box.height > BEGUN * room else None
        height += box.gap + (part[0].height if part else box.height)
    return height


def boxes_of(sheet, body, progress):
    """What stands on a page, as boxes one below the other.

    Parameters
    ----------
    sheet : Sheet
    body : Node
    progress : callable
        Called with the share that is done; may raise.

    Returns
    -------
    list of Box
    """
    from .page_layout import Layout

    layout = Layout(sheet)
    made = []
    for element in body.elements():
        made += layout.of(element, sheet.width)
        progress(0.25)
    return made
