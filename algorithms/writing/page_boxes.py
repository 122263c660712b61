"""The page of a report as boxes that can be laid out on paper: texts, tables, pictures.

The host's text engine knows too little of CSS to print the page as a browser does. It draws single
texts and tables well, though; so each of them is a document of its own, and what the style sheet
says of pages, columns and figures is done here and in `printing`.
"""

import re
from html import escape
from html.parser import HTMLParser

from qgis.PyQt.QtCore import QRectF, QUrl
from qgis.PyQt.QtGui import QFont, QImage, QPainter, QTextDocument, QTextOption
from qgis.PyQt.QtSvg import QSvgRenderer

LONG = re.compile(r"\S{25,}")  # a word that may be broken, lest its column is as wide
EMPTY = {"br", "img", "meta"}
KEY_PIXELS = 49, 11  # of a piece of line in a text, at 96 dots an inch: 13 by 3 mm
KEY_SHARPNESS = 8
WHOLE_ROWS = 12  # a table of more rows may be broken between two pages, as in the page's own style
INK, RULE, PALE, GREY = "#1d3557", "#1d3557", "#c3cbd3", "#3c4a57"
STYLE = f"""
body {{ color: #1b242c; }}
h1 {{ font-size: 16pt; color: {INK}; margin: 0; }}
h2 {{ font-size: 12pt; color: {INK}; margin: 0; }}
h3 {{ font-size: 10pt; margin: 0; }}
p, li {{ margin: 0; }}
ul {{ margin: 0; -qt-list-indent: 0; }}
.subtitle, .note, .caption {{ color: {GREY}; }}
.note, .caption, .small {{ font-size: 8.5pt; }}
table {{ border-collapse: collapse; }}
td, th {{ font-size: 8.5pt; border-bottom: 0.6px solid {PALE}; text-align: left; }}
th {{ font-weight: 600; }}
th.head {{ border-bottom: 1.4px solid {RULE}; vertical-align: bottom; }}
td.n, th.n {{ text-align: right; }}
td.n {{ white-space: nowrap; }}
td.wide, th.wide {{ font-size: 7.5pt; }}
.sum {{ font-weight: 600; border-top: 1.4px solid {RULE}; }}
"""


class Node:
    """An element with its children, texts among them."""

    def __init__(self, tag, attributes):
        self.tag, self.kinds = tag, (attributes.get("class") or "").split()
        self.picture = attributes.get("data-picture")
        self.children = []

    def elements(self):
        """The children that are no texts."""
        return [child for child in self.children if isinstance(child, Node)]

    def find(self, tag):
        """All elements below of a kind, in their order."""
        for child in self.elements():
            if child.tag == tag:
                yield child
            yield from child.find(tag)


class _Tree(HTMLParser):
    def __init__(self, markup):
        super().__init__()
        self.root = Node("", {})
        self.path = [self.root]
        self.feed(markup)
        self.close()

    def handle_starttag(self, tag, attrs):
        node = Node(tag, dict(attrs))
        self.path[-1].children.append(node)
        if tag not in EMPTY:
            self.path.append(node)

    def handle_endtag(self, tag):
        if tag not in EMPTY:
            self.path.pop()

    def handle_data(self, data):
        self.path[-1].children.append(data)


def read_page(markup):
    """The body of a page as a tree, and its pictures.

    Parameters
    ----------
    markup : str
        A page that `shared.report` wrote.

    Returns
    -------
    body : Node
    pictures : list of QSvgRenderer
        By the number that stands in `Node.picture`.
    """
    body = markup.split("<body>", 1)[1].rsplit("</body>", 1)[0]
    pictures = []

    def taken(found):
        pictures.append(QSvgRenderer(_plain_svg(found[0]).encode("utf-8")))
        return f'<img data-picture="{len(pictures) - 1}">'

    body = re.sub(r"<svg\b.*?</svg>", taken, body, flags=re.DOTALL)
    return _Tree(body).root, pictures


def _plain_svg(svg):
    """SVG as the host's renderer knows it: with names of its vocabularies, links of the older kind,
    fonts in single properties, a plain tone where a pattern would be, and neither a style sheet nor
    paths that are not to be seen, of which Qt 6 makes frames in a PDF."""
    svg = svg.replace(
        "<svg ",
        '<svg xmlns="http://www.w3.org/2000/svg" xmlns:xlink="http://www.w3.org/1999/xlink" ',
        1,
    )
    svg = re.sub(r"<style\b.*?</style>", "", svg, flags=re.DOTALL)
    svg = re.sub(r'\shref="#', ' xlink:href="#', svg)
    svg = re.sub(r'<path[^>]*style="fill: none"\s*/>', "", svg)
    svg = re.sub(r"fill: ?url\(#[^)]*\)", "fill: #e4e8ec", svg)
    return re.sub(
        r"font: ?([\d.]+)px ([^;\"]+)",
        lambda found: (
            f"font-size: {found[1]}px; font-weight: 400;"
            f" font-family: {found[2].split(',')[0].strip()}"
        ),
        svg,
    )


class Box:
    """Something with a height that can be drawn; `rest` is what is left of it for the next page."""

    keep_with_next = False
    gap = 0.0  # above, unless at the top of a page

    def draw(self, painter, x, y):
        """Draw it with its upper left corner there."""

    def split(self, room):
        """The part that fits into a height and the rest; None where it may not be broken."""


class TextBox(Box):
    """A text, or a table with rows at which it may be broken."""

    def __init__(self, paper, markup, width, rows=0, headed=False):
        self.document = paper.document(markup, width)
        self.width = width
        self.top, self.bottom = 0.0, self.document.size().height()
        self.head, self.cuts = 0.0, []
        if rows:
            self._find_rows(paper, headed, rows)
        self.with_head = False

    def _find_rows(self, paper, headed, rows):
        """Tops of the rows, and the height of the head."""
        table = self.document.rootFrame().childFrames()[0]
        layout = self.document.documentLayout()
        padding = paper.scaled(table.format().cellPadding())
        tops = [
            min(
                layout.blockBoundingRect(
                    table.cellAt(row, column).firstCursorPosition().block()
                ).top()
                for column in range(table.columns())
            )
            - padding
            for row in range(table.rows())
        ]
        self.head = tops[1] if headed and len(tops) > 1 else 0.0
        if rows > WHOLE_ROWS:
            self.cuts = tops[1 + headed :]

    @property
    def height(self):
        return self.bottom - self.top + (self.head if self.with_head else 0.0)

    def split(self, room):
        room -= self.head if self.with_head else 0.0
        cuts = [cut for cut in self.cuts if self.top + self.head < cut < self.bottom]
        fitting = [cut for cut in cuts if cut - self.top <= room]
        # no row alone on either side
        fitting = fitting[1:] if cuts and fitting[:1] == cuts[:1] else fitting
        fitting = fitting[:-1] if fitting and fitting[-1] == cuts[-1] else fitting
        if not fitting:
            return None
        return self._part(self.top, fitting[-1]), self._part(fitting[-1], self.bottom)

    def _part(self, top, bottom):
        part = object.__new__(TextBox)
        part.__dict__.update(self.__dict__, top=top, bottom=bottom)
        part.with_head = bool(self.head) and top > 0
        part.gap = self.gap if top == self.top else 0.0
        return part

    def draw(self, painter, x, y):
        if self.with_head:
            self._slice(painter, x, y, 0.0, self.head)
            y += self.head
        self._slice(painter, x, y, self.top, self.bottom)

    def _slice(self, painter, x, y, top, bottom):
        painter.save()
        painter.translate(x, y - top)
        self.document.drawContents(painter, QRectF(0.0, top, self.width, bottom - top))
        painter.restore()


class PictureBox(Box):
    """A drawing with its proportions."""

    def __init__(self, renderer, width):
        self.renderer, self.width = renderer, width
        size = renderer.viewBoxF()
        self.height = width * size.height() / size.width() if size.width() else 0.0

    def draw(self, painter, x, y):
        self.renderer.render(painter, QRectF(x, y, self.width, self.height))


class Stack(Box):
    """Boxes below each other that stay together, with a rule at the left or above."""

    def __init__(self, boxes, rule=None):
        self.boxes, self.rule = boxes, rule  # rule: colour, width of a bar at the left
        self.height = sum(box.height + box.gap for box in boxes)
        self.height -= boxes[0].gap if boxes else 0.0

    def draw(self, painter, x, y):
        if self.rule:
            colour, wide, inset = self.rule
            painter.fillRect(QRectF(x, y, wide, self.height), colour)
            x += inset
        for place, box in enumerate(self.boxes):
            y += box.gap if place else 0.0
            box.draw(painter, x, y)
            y += box.height


class Beside(Box):
    """Boxes side by side."""

    def __init__(self, boxes, step):
        self.boxes, self.step = boxes, step
        self.height = max((box.height for box in boxes), default=0.0)

    def draw(self, painter, x, y):
        for place, box in enumerate(self.boxes):
            box.draw(painter, x + place * self.step, y)


class Flow(Box):
    """Short boxes one after the other, in as many lines as they need."""

    def __init__(self, boxes, width, apart):
        self.places, x, y = [], 0.0, 0.0
        high = max((box.height for box in boxes), default=0.0)
        for box in boxes:
            if x and x + box.width > width:
                x, y = 0.0, y + high
            self.places.append((box, x, y))
            x += box.width + apart
        self.height = y + high

    def draw(self, painter, x, y):
        for box, right, down in self.places:
            box.draw(painter, x + right, y + down)


class Rule(Box):
    """A line over the width."""

    def __init__(self, width, thick, colour):
        self.width, self.height, self.colour = width, thick, colour

    def draw(self, painter, x, y):
        painter.fillRect(QRectF(x, y, self.width, self.height), self.colour)


class NewPage(Box):
    """What follows begins a page."""

    height = 0.0


def document_of(markup, width, device, pictures):
    """A text laid out for a device.

    Parameters
    ----------
    markup : str
        Of the kinds that `STYLE` knows; pictures as ``<img src="picture:N">``.
    width : float
        Dots of the device.
    device : QPaintDevice
    pictures : list of QSvgRenderer

    Returns
    -------
    QTextDocument
    """
    document = QTextDocument()
    document.documentLayout().setPaintDevice(device)
    document.setDocumentMargin(0.0)
    wrapping = document.defaultTextOption()
    wrapping.setWrapMode(QTextOption.WrapMode.WordWrap)
    document.setDefaultTextOption(wrapping)
    font = QFont("DejaVu Sans")
    font.setStyleHint(QFont.StyleHint.SansSerif)
    font.setPointSizeF(9.2)
    document.setDefaultFont(font)
    document.setDefaultStyleSheet(STYLE)
    for number in map(int, re.findall(r'src="picture:(\d+)"', markup)):
        document.addResource(
            QTextDocument.ResourceType.ImageResource.value
            if hasattr(QTextDocument.ResourceType.ImageResource, "value")
            else QTextDocument.ResourceType.ImageResource,
            QUrl(f"picture:{number}"),
            _image(pictures[number]),
        )
    document.setHtml(f"<body>{markup}</body>")
    document.setTextWidth(width)
    return document


def _image(renderer):
    wide, high = (KEY_SHARPNESS * size for size in KEY_PIXELS)
    image = QImage(wide, high, QImage.Format.Format_ARGB32_Premultiplied)
    image.fill(0)
    painter = QPainter(image)
    renderer.render(painter)
    painter.end()
    return image


def inner(node):
    """What stands inside an element, as markup for the text engine.

    Parameters
    ----------
    node : Node

    Returns
    -------
    str
    """
    made = []
    for child in node.children:
        if not isinstance(child, Node):
            made.append(escape(LONG.sub(_breakable, child), quote=False))
        elif child.tag == "img":
            wide, high = KEY_PIXELS
            made.append(f'<img src="picture:{child.picture}" width="{wide}" height="{high}">')
        elif child.tag == "br":
            made.append("<br>")
        elif child.tag == "span":
            whole = {"id", "words"} & set(child.kinds)
            made.append(inner(child) if whole else _unbroken(inner(child)))
        else:
            made.append(f"<{child.tag}>{inner(child)}</{child.tag}>")
    return "".join(made)


def _breakable(found):
    word = found[0]
    return "\N{ZERO WIDTH SPACE}".join(word[at : at + 12] for at in range(0, len(word), 12))


def _unbroken(markup):
    """Markup whose words stay together."""
    parts = re.split(r"(<[^>]*>)", markup)
    return "".join(
        part if part.startswith("<") else part.replace(" ", "\N{NO-BREAK SPACE}") for part in parts
    )
