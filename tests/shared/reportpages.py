"""Pages of reports, for the tests of their parts: with texts that no page may take as they are."""

import re
from html.parser import HTMLParser

import numpy as np
from comparisons import comparison

from curbwright.shared.lines.check_points import assess_lines, assess_points
from curbwright.shared.lines.point_pairs import BEYOND_END, NO_PARTNER, USED
from curbwright.shared.report import (
    CheckContext,
    ReportContext,
    write_check_report,
    write_report,
)

NASTY = '<script>alert("1")</script> & "quay"'


def written(tmp_path, result=None, name="report.html", **more):
    result = comparison() if result is None else result
    count = max(result.edge_statistics.status.size, result.existing_statistics.status.size)
    names = tuple(f"{NASTY} {row}" for row in range(count))
    values = {
        "edges": NASTY,
        "existing": "legacy",
        "edge_labels": names,
        "existing_labels": names,
        "edge_crs": "EPSG:32631",
        "existing_crs": "EPSG:32631",
        "made": "2026-05-04 10:00",
        "notes": (NASTY,),
    }
    path = tmp_path / name
    write_report(str(path), result, ReportContext(**{**values, **more}))
    return path.read_text(encoding="utf-8")


def checked(tmp_path, lines=False, count=40, name="check.html"):
    rng = np.random.default_rng(4)
    east, north, up = rng.normal(0.0, 0.02, (3, count))
    state = np.full(count, USED)
    state[:2] = BEYOND_END, NO_PARTNER
    used = state == USED
    accuracy = (
        assess_lines(east[used], up[used])
        if lines
        else assess_points(east[used], north[used], up[used])
    )
    path = tmp_path / name
    write_check_report(
        path,
        accuracy,
        CheckContext(
            tested=NASTY,
            check=NASTY,
            crs=NASTY,
            check_crs=NASTY,
            made="2026-05-04 10:00",
            search_distance=1.0,
            labels=tuple(f"{NASTY} {row}" for row in range(count)),
            state=state,
            tested_ids=(NASTY, None, *[NASTY] * (count - 2)),
            d_east=east,
            d_north=north,
            d_up=up,
            offset=east,
            outlier=np.arange(count) == 5,
        ),
    )
    return path.read_text(encoding="utf-8")


class Nesting(HTMLParser):
    """Follows the elements of a page: what is still open, what closed out of turn, all ids and what
    refers to them."""

    EMPTY = {"meta", "br", "link", "img", "hr", "input"}

    def __init__(self, page):
        super().__init__()
        self.open, self.wrong, self.ids, self.used, self.tags = [], [], [], set(), set()
        self.feed(page)
        self.close()

    def handle_starttag(self, tag, attrs):
        self.handle_startendtag(tag, attrs)
        if tag not in self.EMPTY:
            self.open.append(tag)

    def handle_startendtag(self, tag, attrs):
        self.tags.add(tag)
        for name, value in attrs:
            if name == "id":
                self.ids.append(value)
            if name.startswith("on"):
                self.wrong.append(name)
            self.used.update(re.findall(r"url\(#([^)]+)\)", value or ""))
            if name in ("href", "src"):
                self.used.add(value.lstrip("#"))

    def handle_endtag(self, tag):
        if not self.open or self.open.pop() != tag:
            self.wrong.append(tag)
