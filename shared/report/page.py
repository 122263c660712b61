"""The page: style, tables, numbers, and everything that all reports share.

Whatever comes from the data must go through `text` on its way into the page.
"""

import html
import math
from dataclasses import dataclass
from pathlib import Path

from ..language import localised, marked, number, tr, whole
from .page_style import STYLE

# Whatever gets into the page, it may only show itself: no scripts, pictures, fonts, frames, forms
# or connections (W3C, Content Security Policy Level 3). Its styles are inline.
POLICY = "default-src 'none'; style-src 'unsafe-inline'; base-uri 'none'; form-action 'none'"
GREATEST = 5  # greatest changes or errors on the first page
LIST_LIMIT = 100  # rows of a list that are printed
WHOLE_ROWS = 12  # a table of more rows may be broken between two pages
WHOLE_FACTS = 18  # likewise a table of facts
MANY = 8  # a table of more columns has smaller letters
WITH_SIGNATURE = 2  # cautions that stay on the page of the signature
POINTS = (  # of the compass, clockwise from north
    marked("N"),
    marked("NE"),
    marked("E"),
    marked("SE"),
    marked("S"),
    marked("SW"),
    marked("W"),
    marked("NW"),
)

CAUTIONS = (
    marked(
        "This is a comparison of mapping grade. It is not a boundary survey, not a legal"
        " description and not an as-built certificate."
    ),
    marked(
        "It is not for stake-out. Who sets out or builds from these lines needs a licensed surveyor"
        " or engineer who takes responsibility for them under local law."
    ),
    marked(
        "In many places measuring for others is licensed practice: laws, codes and the road owner's"
        " rules where the work was done go before anything on this page."
    ),
    marked(
        "The uncertainty stated is that of the fit and of the receiver's noise. A wrong base"
        " position or antenna height, a pole out of plumb or a datum mixed up moves all lines"
        " alike. Only check points from an independent survey show it."
    ),
)


@dataclass(frozen=True)
class TitleBlock:
    """The project on the first page. Texts may hold anything: they are escaped. Empty ones are left
    to be filled in by hand.

    Attributes
    ----------
    project, area, author, revision : str
    captured : str
        Dates of the work in the field.
    """

    project: str = ""
    area: str = ""
    author: str = ""
    revision: str = ""
    captured: str = ""


BLANK = TitleBlock()


def text(value):
    """Text from the data, safe inside an element and inside an attribute; control characters become
    spaces.

    Parameters
    ----------
    value : object

    Returns
    -------
    str
        Markup.
    """
    value = "".join(one if one.isprintable() else " " for one in str(value))
    return html.escape(value, quote=True)


def percent(value, decimals=0):
    """A share as printed, a dash for none.

    Parameters
    ----------
    value : float or None
        0 to 1.
    decimals : int

    Returns
    -------
    str
    """
    if value is None or not math.isfinite(value):
        return "–"
    return localised(f"{100 * value:.{decimals}f}") + " %"


def towards(azimuth):
    """A direction in words and degrees.

    Parameters
    ----------
    azimuth : float
        Degrees from north towards east.

    Returns
    -------
    str
        Such as “SE (143°)”; a dash for no direction.
    """
    if not math.isfinite(azimuth):
        return "–"
    point = tr(POINTS[round(azimuth / 45) % 8])
    return f"{point}\N{NO-BREAK SPACE}({number(round(azimuth) % 360, 0)}°)"


def displacement(east, north):
    """A displacement as a distance and a direction.

    Parameters
    ----------
    east, north : float
        Metres.

    Returns
    -------
    distance, direction : str
        Metres; such as “SE (143°)”.
    """
    azimuth = math.degrees(math.atan2(east, north)) % 360
    return number(math.hypot(east, north)), towards(azimuth)


def unbroken(markup):
    """Markup that is never broken, however narrow its column.

    Parameters
    ----------
    markup : str

    Returns
    -------
    str
        Markup.
    """
    return f'<span class="one">{markup}</span>'


def words(value):
    """A text that may be broken only between words.

    Parameters
    ----------
    value : object
        Text.

    Returns
    -------
    str
        Markup.
    """
    return f'<span class="words">{text(value)}</span>'


def identifier(value):
    """The name of a line, in a column wide enough to keep most words whole.

    Parameters
    ----------
    value : object
        Text from the data.

    Returns
    -------
    str
        Markup.
    """
    return f'<span class="id">{text(value)}</span>'


def table(head, rows, numeric=(), kind=None, total=False):
    """A table; cells are markup already.

    Parameters
    ----------
    head : sequence of str
        Empty for a table of facts, whose first column is a heading.
    rows : sequence of sequence of str
    numeric : collection of int
        Columns set to the right.
    kind : str, optional
        Class of the table; by default a short table is kept on one page.
    total : bool
        The last row is a sum.

    Returns
    -------
    str
        Markup.
    """

    def cells(row, tag):
        made = []
        for place, cell in enumerate(row):
            name = "th" if tag == "th" or place == 0 else "td"
            scope = ' scope="col"' if tag == "th" else ' scope="row"' if name == "th" else ""
            kind = ' class="n"' if place in numeric else ' class="one"' if cell.isdigit() else ""
            made.append(f"<{name}{scope}{kind}>{cell}</{name}>")
        return "".join(made)

    if kind is None:
        kind = "keep" if len(rows) <= WHOLE_ROWS else ""
    if len(head) > MANY:
        kind = f"{kind} many".strip()
    parts = [f'<table class="{kind}">' if kind else "<table>"]
    if head:
        parts.append(f"<thead><tr>{cells(head, 'th')}</tr></thead>")
    parts.append("<tbody>")
    last = len(rows) - 1
    for place, row in enumerate(rows):
        mark = ' class="sum"' if total and place == last else ""
        parts.append(f"<tr{mark}>{cells(row, 'td')}</tr>")
    parts.append("</tbody></table>")
    return "\n".join(parts)


def facts(pairs):
    """A table of headings and values, both markup.

    Parameters
    ----------
    pairs : sequence of (str, str)

    Returns
    -------
    str
        Markup.
    """
    return table((), pairs, kind="facts keep" if len(pairs) <= WHOLE_FACTS else "facts")


def paragraphs(sentences, kind=""):
    """A paragraph of each sentence.

    Parameters
    ----------
    sentences : iterable of str
        Markup.
    kind : str
        Class of the paragraphs.

    Returns
    -------
    str
        Markup.
    """
    mark = f' class="{kind}"' if kind else ""
    return "\n".join(f"<p{mark}>{sentence}</p>" for sentence in sentences)


def bullets(sentences):
    """A list of sentences.

    Parameters
    ----------
    sentences : iterable of str
        Markup.

    Returns
    -------
    str
        Markup.
    """
    return "<ul>\n" + "\n".join(f"<li>{sentence}</li>" for sentence in sentences) + "\n</ul>"


def section(title, *parts):
    """A section with its heading; empty if it has no parts.

    Parameters
    ----------
    title : str
    *parts : str
        Markup; empty ones are left out.

    Returns
    -------
    str
        Markup.
    """
    body = "\n".join(part for part in parts if part)
    return f"<section>\n<h2>{title}</h2>\n{body}\n</section>" if body else ""


def figure(svg, caption, kind=""):
    """A figure with its caption.

    Parameters
    ----------
    svg, caption : str
        Markup.
    kind : str
        Class of the figure.

    Returns
    -------
    str
        Markup.
    """
    mark = f' class="{kind}"' if kind else ""
    return f"<figure{mark}>\n{svg}\n<figcaption>{caption}</figcaption>\n</figure>"


def capped(rows, what, limit=LIST_LIMIT):
    """The first rows of a list, and a sentence that says so if there are more.

    Parameters
    ----------
    rows : sequence
    what : str
        What the rows are, in the plural.
    limit : int

    Returns
    -------
    rows : sequence
    sentence : str
        Markup; empty if all rows are listed.
    """
    if len(rows) <= limit:
        return rows, ""
    said = tr("The first {} of {} {} are listed; the others stand in the layers.").format(
        limit, whole(len(rows)), what
    )
    return rows[:limit], f'<p class="note">{said}</p>'


def ending(extra=()):
    """Cautions and the place to sign, which is never alone on a page.

    Parameters
    ----------
    extra : sequence of str
        Cautions of this report, markup.

    Returns
    -------
    str
        Markup.
    """
    cautions = [*extra, *map(tr, CAUTIONS)]
    lines = (
        tr("Name"),
        tr("Date"),
        tr("Position, licence number where one is required"),
        tr("Signature"),
    )
    signed = "".join(f"<div>{line}</div>" for line in lines)
    looked = tr(
        "I have looked at the figures and lists of this report and at the data behind them."
    )
    return "\n".join(
        [
            section(tr("Cautions"), bullets(cautions[:-WITH_SIGNATURE])),
            '<div class="end">',
            bullets(cautions[-WITH_SIGNATURE:]),
            f"<section>\n<h2>{tr('Checked by')}</h2>",
            f"<p>{looked}</p>",
            f'<div class="sign">{signed}</div>',
            "</section>\n</div>",
        ]
    )


def first_page(*parts):
    """What the reader needs first, in print on a page of its own.

    Parameters
    ----------
    *parts : str
        Markup; empty ones are left out.

    Returns
    -------
    str
        Markup.
    """
    body = "\n".join(part for part in parts if part)
    return f'<div class="first">\n{body}\n</div>'


def appendix(*sections):
    """Sections for reference, at the end.

    Parameters
    ----------
    *sections : str
        Markup; empty ones are left out.

    Returns
    -------
    str
        Markup.
    """
    body = "\n".join(part for part in sections if part)
    return f'<h2 class="part">{tr("Appendix")}</h2>\n{body}' if body else ""


def title_block(block, made):
    """The table at the top of the first page.

    Parameters
    ----------
    block : TitleBlock
    made : str
        Date and time of the report.

    Returns
    -------
    str
        Markup.
    """
    rows = (
        (
            (tr("Project"), block.project),
            (tr("Area"), block.area),
            (tr("Captured"), block.captured),
        ),
        ((tr("Author"), block.author), (tr("Revision"), block.revision), (tr("Made"), made)),
    )
    cells = (
        "".join(f"<td><small>{label}</small>{text(value)}</td>" for label, value in row)
        for row in rows
    )
    return f'<table class="block">{"".join(f"<tr>{row}</tr>" for row in cells)}</table>'


def css_text(value):
    """A text as a string of the style sheet, with all but ASCII letters and digits escaped.

    Parameters
    ----------
    value : str

    Returns
    -------
    str
        With its quotes.
    """
    plain = (
        one if one.isascii() and one.isalnum() else f"\\{ord(one):x} "
        for one in str(value)
        if one.isprintable()
    )
    return f'"{"".join(plain)}"'


def write_page(path, title, subtitle, body, block=BLANK, made=""):
    """Write the whole file.

    Parameters
    ----------
    path : path
    title, subtitle, body : str
        Markup; the title is plain text, in the language of the page.
    block : TitleBlock
    made : str
        Date and time of the report, plain text.
    """
    running = " · ".join(part for part in (title, made, block.project, block.area) if part)
    style = STYLE.replace("RUNNING_TITLE", css_text(running))
    for name, words in zip(("PAGE_WORD", "OF_WORD"), tr("Page {} of {}").split("{}")):
        style = style.replace(name, css_text(words))
    page = (
        f'<!DOCTYPE html>\n<html lang="{tr("en")}">\n<head>\n<meta charset="utf-8">\n'
        f'<meta http-equiv="Content-Security-Policy" content="{POLICY}">\n'
        f"<title>{title}</title>\n"
        '<meta name="generator" content="Curbwright">\n'
        '<meta name="referrer" content="no-referrer">\n'
        '<meta name="viewport" content="width=device-width, initial-scale=1">\n'
        f"<style>{style}</style>\n</head>\n<body>\n<header>\n<h1>{title}</h1>\n"
        f"<p>{subtitle}</p>\n</header>\n<main>\n{title_block(block, made)}\n{body}\n</main>\n"
        "</body>\n</html>\n"
    )
    with Path(path).open("w", encoding="utf-8", newline="\n") as file:
        file.write(page)
