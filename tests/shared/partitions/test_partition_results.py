"""The folder of the results: whole, or as it was."""

import json

import pytest

from curbwright.shared.partitions.results import KIND, SUMMARY, Results

PARTS = {"partitions": [{"file": "a.parquet"}]}


def grown(folder, text):
    """Results of a run that wrote one file."""
    with Results(folder) as results:
        results.make_folders(["a.parquet"])
        (results.data / "edges" / "a.parquet").write_text(text)
        results.complete(PARTS)


def test_new_results_take_the_place_of_the_former_ones(tmp_path):
    for text in ("first", "second"):
        grown(tmp_path / "out", text)
        assert (tmp_path / "out" / "edges" / "a.parquet").read_text() == text
        assert [path.name for path in tmp_path.iterdir()] == ["out"]
    assert not (tmp_path / "out" / "gaps").exists()  # kinds of data without a file
    summary = json.loads((tmp_path / "out" / SUMMARY).read_text())
    assert summary == {"kind": KIND, **PARTS}


def test_a_run_that_is_given_up_leaves_the_former_results(tmp_path):
    grown(tmp_path / "out", "first")
    with Results(tmp_path / "out") as results:
        results.make_folders(["b/c.parquet"])
        assert (results.data / "epochs" / "b").is_dir()
    assert (tmp_path / "out" / "edges" / "a.parquet").read_text() == "first"
    assert [path.name for path in tmp_path.iterdir()] == ["out"]


@pytest.mark.parametrize(
    ("make", "told"),
    [
        (lambda folder: folder.write_text("a file"), "is a file"),
        (lambda folder: (folder.mkdir(), (folder / "mine.txt").touch()), "mine.txt"),
        (lambda folder: (folder.mkdir(), (folder / SUMMARY).write_text("{}")), SUMMARY),
    ],
    ids=["file", "strange", "summary of something else"],
)
def test_what_is_not_ours_is_refused(make, told, tmp_path):
    make(tmp_path / "out")
    with pytest.raises(ValueError, match=told), Results(tmp_path / "out"):
        pass
    assert [path.name for path in tmp_path.iterdir()] == ["out"]
