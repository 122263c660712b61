"""Cross-sections as people write them."""

import pytest

from curbwright.shared.lines.cross_section import parse_section


@pytest.mark.parametrize(
    ("text", "expected"),
    [
        (
            "face: 0.02 -0.15; back of curb:-0.15 0",
            [("face", 0.02, -0.15), ("back of curb", -0.15, 0.0)],
        ),
        (
            " lip : +0,50 −0,12 \n flow line: .02 m -.15 m;",
            [("lip", 0.5, -0.12), ("flow line", 0.02, -0.15)],
        ),
    ],
)
def test_section(text, expected):
    assert [(part.name, part.offset, part.height) for part in parse_section(text)] == expected


@pytest.mark.parametrize(
    ("text", "message"),
    [
        ("", "empty"),
        (" ; ", "empty"),
        ("0.02 -0.15", "“0.02 -0.15” is not"),
        ("face: 0.02", "“face: 0.02” is not"),
        ("face: a b", "is not"),
        (": 1 2", "has no name"),
        ("a: 1 2; A: 2 3", "“A” is there twice"),
        ("a: 500 -150", "more than 100 m"),
        ("a: 0.02 -0.15 3", "is not"),
    ],
)
def test_sections_that_cannot_be_read(text, message):
    with pytest.raises(ValueError, match=message):
        parse_section(text)
