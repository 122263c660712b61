"""Elements of a report's page as boxes: what a browser makes of the style sheet, in millimetres."""

from qgis.PyQt.QtGui import QColor

from .page_boxes import (
    INK,
    PALE,
    WHOLE_ROWS,
    Beside,
    Box,
    Flow,
    NewPage,
    PictureBox,
    Rule,
    Stack,
    TextBox,
    inner,
)

CELL = 4  # padding of the cells of tables, pixels
MANY = 8  # columns; of more the letters are smaller
# of a table of many columns: letters that fit anyway; letters of a long name, and their width, mm
SHORT, NAME, NAME_WIDTH = 8, 36, 33.0
PIXELS = 96 / 25.4  # of the engine for texts, to a millimetre
SINGLE = 110.0  # width of a figure that stands alone, mm


class Layout:
    """Makes boxes for the elements of a page.

    Parameters
    ----------
    sheet : Sheet
    """

    def __init__(self, sheet):
        self.sheet = sheet

    def of(self, node, width):
        """Boxes of an element.

        Parameters
        ----------
        node : Node
        width : float
            Dots.

        Returns
        -------
        list of Box
        """
        if node.tag == "div" and node.kinds:
            return getattr(self, f"_{node.kinds[0]}")(node, width)
        if node.tag in ("div", "main", "section"):
            return self._below(node, width)
        return getattr(self, f"_{node.tag}")(node, width)

    def _below(self, node, width):
        return [box for child in node.elements() for box in self.of(child, width)]

    def _text(self, markup, width, gap=1.6, keep=False):
        box = TextBox(self.sheet, markup, width)
        box.gap, box.keep_with_next = self.sheet.mm(gap), keep
        return box

    # Elements

    def _header(self, node, width):
        parts = {child.tag: inner(child) for child in node.elements()}
        rule = Rule(width, self.sheet.mm(1.0), QColor(INK))
        rule.gap = self.sheet.mm(2.0)
        return [
            self._text(f"<h1>{parts['h1']}</h1>", width),
            self._text(f'<p class="subtitle">{parts["p"]}</p>', width, 1.0),
            rule,
        ]

    def _h2(self, node, width):
        part = "part" in node.kinds
        size = ' style="font-size: 14pt"' if part else ""
        heading = self._text(f"<h2{size}>{inner(node)}</h2>", width, 8.0 if part else 4.5, True)
        if part:
            return [heading]
        rule = Rule(width, self.sheet.mm(0.2), QColor("#9aa6b2"))
        rule.gap, rule.keep_with_next = self.sheet.mm(0.7), True
        return [heading, rule]

    def _h3(self, node, width):
        return [self._text(f"<h3>{inner(node)}</h3>", width, 3.5, True)]

    def _p(self, node, width):
        kind = "note" if "note" in node.kinds else "small" if "ids" in node.kinds else ""
        return [self._text(f'<p class="{kind}">{inner(node)}</p>', width)]

    def _ul(self, node, width):
        indent = self.sheet.mm(4.5)
        made = []
        for item in node.elements():
            box = Stack([self._text(f"<p>{inner(item)}</p>", width - indent)])
            bullet = self._text("<p>•</p>", indent)
            made.append(Beside([bullet, box], indent))
            made[-1].gap = self.sheet.mm(1.4)
        return made

    def _figure(self, node, width):
        sheet, parts = self.sheet, []
        if "single" in node.kinds:
            width = min(width, sheet.mm(SINGLE))
        for child in node.elements():
            if child.tag == "img":
                parts.append(PictureBox(sheet.pictures[int(child.picture)], width))
            else:
                parts += self._caption(child, width)
        figure = Stack(parts)
        figure.gap = sheet.mm(2.5)
        return [figure]

    def _caption(self, node, width):
        """The legend, if there is one, and what is said below it."""
        keys = [child for child in node.elements() if "keys" in child.kinds]
        parts = [self._legend(key, width) for key in keys]
        if keys:
            rest = (child for child in node.children if child not in keys)
            node.children = [child for child in rest if getattr(child, "tag", "") != "br"]
        return [*parts, self._text(f'<p class="caption">{inner(node)}</p>', width, 1.0)]

    def _legend(self, node, width):
        samples = []
        for child in node.elements():
            sample = self._text(f'<p class="caption">{inner(child)}</p>', width)
            sample.width = sample.document.idealWidth()
            samples.append(sample)
        legend = Flow(samples, width, self.sheet.mm(4.0))
        legend.gap = self.sheet.mm(1.0)
        return legend

    def _table(self, node, width):
        if "block" in node.kinds:
            return [self._block(node, width)]
        rows = [row.elements() for row in node.find("tr")]
        headed = any(True for _ in node.find("thead"))
        lines = []
        for place, (row, cells) in enumerate(zip(node.find("tr"), rows)):
            head = headed and place == 0
            kinds = ["wide"] * (len(cells) > MANY) + ["sum"] * ("sum" in row.kinds)
            made = "".join(self._cell(cell, head, kinds) for cell in cells)
            lines.append(f"<thead><tr>{made}</tr></thead>" if head else f"<tr>{made}</tr>")
        narrow = "narrow" in node.kinds
        if headed and len(rows[0]) > MANY:
            lines[0] = self._with_widths(rows, lines[0])
        if "facts" in node.kinds and lines:
            lines[0] = lines[0].replace("<th", '<th width="33%"', 1)
        markup = (
            f'<table width="{50 if narrow else 100}%" cellspacing="0" cellpadding="{CELL}">'
            f"{''.join(lines)}</table>"
        )
        kept = WHOLE_ROWS if "keep" in node.kinds else len(rows)
        box = TextBox(self.sheet, markup, width, max(kept, 1), headed)
        box.gap = self.sheet.mm(1.6)
        return [box]

    @staticmethod
    def _with_widths(rows, head):
        """The head of a table of many columns with room for names of lines, which the host's engine
        else breaks into single words."""
        cells = head.split("<th ")
        for place in range(len(rows[0])):
            named = [
                "".join(child for child in span.children if isinstance(child, str))
                for row in rows[1:]
                for span in row[place].find("span")
                if "id" in span.kinds
            ]
            longest = max(map(len, named), default=0)
            if longest > SHORT:
                pixels = min(longest, NAME) * NAME_WIDTH / NAME * PIXELS
                cells[place + 1] = f'width="{pixels:.0f}" {cells[place + 1]}'
        return "<th ".join(cells)

    def _cell(self, cell, head, kinds):
        kinds = ["n"] * ("n" in cell.kinds) + ["head"] * head + kinds
        align = ' align="right"' if "n" in cell.kinds else ""
        words = inner(cell)
        if "n" in cell.kinds and not head:
            words = words.replace(" ", "\N{NO-BREAK SPACE}")
        return f'<{cell.tag} class="{" ".join(kinds)}"{align}>{words}</{cell.tag}>'

    def _block(self, node, width):
        """The title block: framed cells with a small label."""
        rows = [[inner(cell) for cell in row.elements()] for row in node.find("tr")]
        block = _TitleBlock(self.sheet, rows, width)
        block.gap = self.sheet.mm(3.5)
        return block

    # Divisions, by their kind

    def _first(self, node, width):
        return [*self._below(node, width), NewPage()]

    def _lead(self, node, width):
        inset = self.sheet.mm(4.5)
        rule = QColor(INK), self.sheet.mm(1.4), inset
        lead = Stack(self._below(node, width - inset), rule)
        lead.gap = self.sheet.mm(1.6)
        return [lead]

    def _end(self, node, width):
        end = Stack(self._below(node, width))
        end.gap = self.sheet.mm(1.4)
        return [end]

    def _pair(self, node, width):
        gap = self.sheet.mm(4.0)
        half = (width - gap) / 2
        stacks = [Stack(self.of(child, half)) for child in node.elements()]
        made = []
        for place in range(0, len(stacks), 2):
            made.append(Beside(stacks[place : place + 2], half + gap))
            made[-1].gap = self.sheet.mm(2.5)
        return made

    def _sign(self, node, width):
        gap, sheet = self.sheet.mm(8.0), self.sheet
        half = (width - gap) / 2
        lines = []
        for child in node.elements():
            rule = Rule(half, sheet.mm(0.25), QColor("#1b242c"))
            words = self._text(f'<p class="small">{inner(child)}</p>', half, 1.0)
            lines.append(Stack([rule, words]))
        made = []
        for place in range(0, len(lines), 2):
            made.append(Beside(lines[place : place + 2], half + gap))
            made[-1].gap = sheet.mm(9.0 if place else 13.0)
        return made


class _TitleBlock(Box):
    """Cells in frames, the last column wider."""

    SHARES = 0.305, 0.305, 0.39

    def __init__(self, sheet, rows, width):
        self.sheet, self.width = sheet, width
        self.cells = [
            [
                TextBox(sheet, self._markup(cell), share * width - sheet.mm(3.2))
                for cell, share in zip(row, self.SHARES)
            ]
            for row in rows
        ]
        self.heights = [
            max(sheet.mm(9.0), *(cell.height + sheet.mm(1.4) for cell in row)) for row in self.cells
        ]
        self.height = sum(self.heights)

    @staticmethod
    def _markup(cell):
        label, value = cell.split("</small>", 1)
        label = label.replace("<small>", "")
        return (
            f'<p style="font-size: 7pt; color: #3c4a57">{label}</p>'
            f'<p style="font-size: 8.5pt">{value}</p>'
        )

    def draw(self, painter, x, y):
        thin, mm = self.sheet.mm(0.2), self.sheet.mm
        for row, high in zip(self.cells, self.heights):
            left = x
            for cell, share in zip(row, self.SHARES):
                wide = share * self.width
                for part in (
                    Rule(wide, thin, QColor(PALE)),
                    Rule(thin, high, QColor(PALE)),
                ):
                    part.draw(painter, left, y)
                cell.draw(painter, left + mm(1.6), y + mm(0.6))
                left += wide
            Rule(thin, high, QColor(PALE)).draw(painter, left - thin, y)
            y += high
        Rule(self.width, thin, QColor(PALE)).draw(painter, x, y - thin)
