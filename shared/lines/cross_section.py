"""Cross-sections of a curb as people write them."""

import re
from dataclasses import dataclass

from ..tuning import PARALLELS

_NUMBER = r"[-+−]?(?:\d+[.,]?\d*|[.,]\d+)"
_ITEM = re.compile(
    rf"^\s*(?P<name>[^:;]*?)\s*:\s*(?P<offset>{_NUMBER})\s*m?\s+(?P<height>{_NUMBER})\s*m?\s*$"
)


@dataclass(frozen=True)
class SectionPart:
    """One line of a cross-section: `offset` metres, + to the right of the edge in its direction,
    and `height` metres, + above it."""

    name: str
    offset: float
    height: float


def parse_section(text):
    """Read a cross-section: ``name: offset height`` for each line, separated by semicolons or new
    lines.

    Parameters
    ----------
    text : str
        For example ``"flow line: 0.02 -0.15; back of curb: -0.15 0"``. A decimal comma counts as a
        point.

    Returns
    -------
    list of SectionPart

    Raises
    ------
    ValueError
        If there is no line, or one cannot be read, has no name, repeats a name or lies too far
        away.
    """
    parts, names = [], set()
    for item in re.split(r"[;\n]", text):
        if not item.strip():
            continue
        found = _ITEM.match(item)
        if found is None:
            raise ValueError(
                f"“{item.strip()}” is not “name: offset height”, for example “flow line: 0.02"
                " -0.15”"
            )
        name = found["name"]
        offset, height = (
            float(found[key].replace("−", "-").replace(",", ".")) for key in ("offset", "height")
        )
        if not name:
            raise ValueError(f"“{item.strip()}” has no name")
        if name.casefold() in names:
            raise ValueError(f"the name “{name}” is there twice")
        if max(abs(offset), abs(height)) > PARALLELS.max_offset:
            raise ValueError(
                f"“{item.strip()}” lies more than {PARALLELS.max_offset:.0f} m from the edge:"
                " offsets and heights are metres"
            )
        names.add(name.casefold())
        parts.append(SectionPart(name, offset, height))
    if not parts:
        raise ValueError("it is empty")
    return parts
