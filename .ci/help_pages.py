"""Write the help pages of the plugin, one for each algorithm, from plugin/help/*.md and from what
the algorithms say of themselves. ``.venv/bin/python .ci/help_pages.py`` writes plugin/help/*.html;
with ``--check`` it only tells whether a page is stale.

The figures of the tutorial, ``{{name}}``, are those that stood in the windows when its pictures
were taken (`tutorial_pictures.py`).

In the sources ``{NAME}`` is the label of a parameter and ``{=NAME}`` its default, so that a page
cannot name what the dialogue does not have.
"""

import html
import json
import re
import sys
from pathlib import Path

import markdown
from algorithms_readme import TYPES, default_of, order, start_host

ROOT = Path(__file__).resolve().parents[1]
FOLDER = ROOT / "plugin" / "help"
PICTURES = FOLDER / "pictures"
SEEN = PICTURES / "tutorial.json"
OTHER_PAGES = {
    "glossary": "Glossary",
    "tutorial": "From captures to a signed report",
    "changes": "Changes",
}
PAGE = """<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'self'; \
img-src 'self'">
<meta name="viewport" content="width=device-width, initial-scale=1">
<title>{title}</title>
<link rel="stylesheet" href="style.css">
</head>
<body>
<nav>{above}</nav>
<h1>{title}</h1>
{body}
</body>
</html>
"""


def to_html(source):
    """Markdown as HTML."""
    return markdown.markdown(source, extensions=["tables"], output_format="html")


def table(head, rows):
    """A table of plain texts; nothing where it has no rows."""
    if not rows:
        return ""

    def cells(row, tag):
        return "".join(f"<{tag}>{html.escape(str(cell))}</{tag}>" for cell in row)

    body = "".join(f"<tr>{cells(row, 'td')}</tr>\n" for row in rows)
    return (
        f"<table>\n<thead><tr>{cells(head, 'th')}</tr></thead>\n<tbody>\n{body}</tbody></table>\n"
    )


def filled(source, algorithm):
    """A source with the labels and defaults of its parameters."""

    def value(found):
        name = found.group(2)
        if algorithm.parameterDefinition(name) is None:
            raise SystemExit(f"{algorithm.name()}.md names {name}, which is no parameter.")
        if found.group(1):
            return str(default_of(algorithm.parameterDefinition(name)) or "none")
        return f"*{algorithm.label(name)}*"

    return re.sub(r"\{(=?)([A-Z_]+)\}", value, source)


def with_figures(source):
    """A source with the figures of the tutorial."""
    figures = json.loads(SEEN.read_text(encoding="utf-8"))["figures"]

    def value(found):
        if found.group(1) not in figures:
            raise SystemExit(f"{SEEN.name} has no figure {found.group(1)}.")
        return str(figures[found.group(1)])

    return re.sub(r"\{\{(\w+)\}\}", value, source)


def framed(page):
    """A page whose pictures have captions and lead to themselves in full size."""
    return re.sub(
        r'<p><img alt="([^"]*)" src="([^"]*)"></p>',
        r'<figure><a href="\2"><img src="\2" alt="\1"></a><figcaption>\1.</figcaption></figure>',
        page,
    )


def parameters_of(algorithm):
    """The parameters with their help, one paragraph each."""
    shown = [one for one in algorithm.parameterDefinitions() if not one.isDestination()]
    rows = [(one.description(), one.name(), one.help(), default_of(one) or "–") for one in shown]
    return table(("parameter", "name", "meaning", "default"), rows)


def outputs_of(algorithm):
    """What is written, and the fields of its rows."""
    parts = []
    for one in algorithm.parameterDefinitions():
        if not one.isDestination():
            continue
        fields = algorithm.FIELD_TABLES.get(one.name(), ())
        more = (
            " Every field of the source, then:"
            if one.name() in algorithm.WITH_SOURCE_FIELDS
            else ""
        )
        parts.append(
            f"<h3>{html.escape(one.description())}</h3>\n<p>{html.escape(one.help())}{more}</p>\n"
        )
        rows = [
            (field.name, TYPES[field.type_name], field.meaning, field.unit or "–")
            for field in fields
        ]
        parts.append(table(("field", "type", "meaning", "unit"), rows))
    return "".join(parts)


def picture_of(algorithm):
    """The picture of before and after, where there is one."""
    file = PICTURES / f"{algorithm.name()}.svg"
    if not file.is_file():
        return ""
    alt = "Before and after, on the sample project"
    caption = "Before and after, made by the algorithm on the sample project."
    image = f'<img src="pictures/{file.name}" alt="{alt}">'
    return f"<figure>{image}<figcaption>{caption}</figcaption></figure>\n"


def page_of(algorithm):
    """The whole page of one algorithm."""
    source = (FOLDER / f"{algorithm.name()}.md").read_text(encoding="utf-8")
    about = "".join(
        f"<p>{html.escape(part)}</p>\n" for part in algorithm.shortHelpString().split("\n") if part
    )
    body = (
        f'<p class="lead">{html.escape(algorithm.shortDescription())}</p>\n'
        + picture_of(algorithm)
        + to_html(filled(source, algorithm))
        + f"\n<h2>How it works</h2>\n{about}"
        + f"<h2>Parameters</h2>\n{parameters_of(algorithm)}"
        + f"<h2>What comes out</h2>\n{outputs_of(algorithm)}"
    )
    above = '<a href="index.html">Curbwright help</a>'
    return PAGE.format(title=html.escape(algorithm.displayName()), above=above, body=body)


def index(algorithms):
    """The page that leads to all others."""
    parts, group = [], None
    for algorithm in sorted(algorithms, key=order):
        if algorithm.group() != group:
            group = algorithm.group()
            parts.append(f"{'</ul>' if parts else ''}<h2>{html.escape(group)}</h2><ul>\n")
        name, about = (
            html.escape(algorithm.displayName()),
            html.escape(algorithm.shortDescription()),
        )
        parts.append(f'<li><a href="{algorithm.name()}.html">{name}</a>: {about}</li>\n')
    parts.append(
        '</ul><h2>Besides</h2><ul><li><a href="glossary.html">Glossary</a></li>\n'
        '<li><a href="changes.html">Changes</a></li></ul>'
    )
    # first, since who opens the help for the first time begins there
    parts.insert(
        0,
        '<p class="lead">Begin with the <a href="tutorial.html">tutorial</a>: ten minutes with the'
        " sample project, from captures to a signed report.</p>\n",
    )
    return PAGE.format(title="Curbwright help", above="", body="".join(parts))


def pages(algorithms):
    """All pages by the name of their file."""
    made = {"index.html": index(algorithms)}
    for algorithm in algorithms:
        made[f"{algorithm.name()}.html"] = page_of(algorithm)
    above = '<a href="index.html">Curbwright help</a>'
    for name, title in OTHER_PAGES.items():
        body = framed(to_html(with_figures((FOLDER / f"{name}.md").read_text(encoding="utf-8"))))
        made[f"{name}.html"] = PAGE.format(title=title, above=above, body=body)
    return made


def main():
    """Start the host, write or check the pages; 1 where one was stale and not written."""
    with start_host() as algorithms:
        made = pages(algorithms)
    stale = sorted(
        name
        for name, page in made.items()
        if not (FOLDER / name).is_file() or (FOLDER / name).read_text(encoding="utf-8") != page
    )
    if "--check" in sys.argv:
        print("\n".join(stale))
        return int(bool(stale))
    for name in stale:
        (FOLDER / name).write_text(made[name], encoding="utf-8")
    return 0


if __name__ == "__main__":
    sys.exit(main())
