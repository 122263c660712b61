"""What stands where a run puts its results, and is not its own, is neither emptied nor replaced."""

import pytest
from qgis.core import QgsProcessingException
from walkedlayers import layer_of, run, walk

from curbwright.algorithms.batch.result_folder import OWN_PAGE, ResultFolder

pytestmark = pytest.mark.usefixtures("provider")


def refused(folder, *pieces):
    with pytest.raises(QgsProcessingException) as raised, ResultFolder(folder):
        pass
    for piece in (*pieces, "Move it away, or choose another folder"):
        assert piece in str(raised.value)


def held(folder):
    return {
        str(path.relative_to(folder)): path.read_bytes()
        for path in folder.rglob("*")
        if path.is_file()
    }


def test_a_hidden_folder_that_is_a_link_is_not_emptied(tmp_path):
    (tmp_path / "mine").mkdir()
    (tmp_path / "mine" / "survey.gpkg").write_text("mine")
    (tmp_path / "out").mkdir()
    (tmp_path / "out" / ".curbwright").symlink_to(tmp_path / "mine", target_is_directory=True)
    refused(tmp_path / "out", "is a link to another folder")
    with pytest.raises(QgsProcessingException, match="is a link to another folder"):
        run("processcaptures", {"LAYERS": [layer_of(walk())], "FOLDER": str(tmp_path / "out")})
    assert (tmp_path / "mine" / "survey.gpkg").read_text() == "mine"


@pytest.mark.parametrize("name", ["report.html", "curbwright.gpkg"])
def test_a_folder_called_like_a_result_is_not_replaced(tmp_path, name):
    (tmp_path / name).mkdir()
    (tmp_path / name / "mine.txt").write_text("mine")
    refused(tmp_path, name, "is a folder")
    assert held(tmp_path) == {f"{name}/mine.txt": b"mine"}


def test_a_page_that_no_run_wrote_is_not_replaced(tmp_path):
    page = tmp_path / "report.html"
    page.write_text("<!DOCTYPE html><title>mine</title>")
    refused(tmp_path, "is a page that no run of this algorithm wrote")
    page.write_bytes(b"<!DOCTYPE html>" + OWN_PAGE + b">")
    with ResultFolder(tmp_path):
        pass


@pytest.mark.usefixtures("without_figures", "without_styles")
def test_the_report_of_a_run_tells_whose_it_is(tmp_path):
    given = {"LAYERS": [layer_of(walk(captures=1))], "FOLDER": str(tmp_path)}
    for _ in range(2):
        run("processcaptures", {**given, "LOAD_RESULTS": False})
        assert OWN_PAGE in (tmp_path / "report.html").read_bytes()
        (tmp_path / "curbwright.gpkg").unlink()  # the report alone is known as well


def test_what_others_put_into_the_hidden_folder_stays(tmp_path):
    work = tmp_path / ".curbwright"
    (work / "notes").mkdir(parents=True)
    (work / "notes" / "mine.txt").write_text("mine")
    (work / "curbwright.gpkg").write_text("left by a run that was killed")
    with ResultFolder(tmp_path):
        pass
    assert held(tmp_path) == {".curbwright/notes/mine.txt": b"mine"}
    (work / "notes" / "mine.txt").unlink()
    (work / "notes").rmdir()
    with ResultFolder(tmp_path):
        pass
    assert not work.exists()


@pytest.mark.usefixtures("without_figures", "without_styles")
def test_names_with_quotation_marks_do_not_stop_the_batch(tmp_path):
    layer = layer_of(
        walk(captures=1),
        fields=(("time", "string"), ("fix", "integer"), ("h_acc", "double"), ('we"ird', "string")),
    )
    given = {"LAYERS": [layer], "FOLDER": str(tmp_path), "LOAD_RESULTS": False}
    for _ in range(2):
        assert run("processcaptures", given)["EDGES"] >= 1


@pytest.mark.usefixtures("without_figures", "without_styles")
def test_results_are_not_read_and_replaced_in_one_run(tmp_path):
    given = {"LAYERS": [layer_of(walk(captures=1))], "FOLDER": str(tmp_path), "LOAD_RESULTS": False}
    run("processcaptures", given)
    before = held(tmp_path)
    for name in ("kept", "edges"):
        given["LAYERS"] = [f"{tmp_path}/curbwright.gpkg|layername={name}"]
        with pytest.raises(QgsProcessingException, match="“Folder for the results” would be writ"):
            run("processcaptures", given)
    assert held(tmp_path) == before
