"""The command: what it says, and what it returns."""

import subprocess
import sys
from importlib.util import find_spec
from pathlib import Path

import pytest

pytest.importorskip("pyarrow", reason="bash setup.sh cluster")
pytest.importorskip("pyproj", reason="bash setup.sh cluster")

from epochfiles import table_of, walks, write

from curbwright.shared.partitions.command import main

# looked for only: it takes a second to load
pytestmark = pytest.mark.skipif(find_spec("distributed") is None, reason="bash setup.sh cluster")
FOLDER = Path(__file__).resolve().parents[3] / "shared" / "partitions"


@pytest.mark.one_host
@pytest.mark.parametrize("workers", ["0", pytest.param("1", marks=pytest.mark.long)])
def test_the_documented_command_runs(tmp_path, workers):
    write(tmp_path / "in", {"a.parquet": table_of(walks(1))})
    done = subprocess.run(
        [
            sys.executable,
            FOLDER,
            tmp_path / "in",
            tmp_path / "out",
            "--workers",
            workers,
            "--tolerance",
            "0.02",
        ],
        capture_output=True,
        text=True,
    )
    assert done.returncode == 0, done.stderr
    assert (tmp_path / "out" / "edges" / "a.parquet").exists()
    assert '"tolerance": 0.02' in (tmp_path / "out" / "run.json").read_text()
    assert "kept" in done.stderr
    assert "Traceback" not in done.stderr


def test_what_is_missing_is_named_with_the_remedy(tmp_path):
    (tmp_path / "pyarrow.py").write_text(
        "raise ModuleNotFoundError(\"No module named 'pyarrow'\", name='pyarrow')\n"
    )
    done = subprocess.run(
        [sys.executable, FOLDER, "in", "out"],
        capture_output=True,
        text=True,
        env={"PYTHONPATH": str(tmp_path)},
    )
    assert done.returncode == 2
    assert "pyarrow" in done.stderr
    assert "bash setup.sh cluster" in done.stderr
    assert "Traceback" not in done.stderr


def test_columns_and_errors_go_through(tmp_path, capsys):
    table = table_of(walks(1))
    renamed = table.rename_columns(["geometry", *"abcdef"]).replace_schema_metadata(
        table.schema.metadata
    )
    write(tmp_path / "in", {"a.parquet": renamed})
    names = [
        "--time",
        "a",
        "--capture",
        "b",
        "--capture",
        "c",
        "--fix",
        "c",
        "--h-accuracy",
        "",
        "--workers",
        "0",
    ]
    assert main([str(tmp_path / "in"), str(tmp_path / "out"), *names]) == 0
    assert "b and c" in capsys.readouterr().err
    assert main([str(tmp_path / "in"), str(tmp_path / "out"), "--workers", "0"]) == 1
    assert "--time" in capsys.readouterr().err


@pytest.mark.parametrize(
    "wrong", [["--tolerance", "0"], ["--workers", "-1"], ["--curve-model", "clothoid"]]
)
def test_settings_out_of_range_are_refused(wrong, tmp_path, capsys):
    with pytest.raises(SystemExit) as end:
        main([str(tmp_path), str(tmp_path / "out"), *wrong])
    assert end.value.code == 2
    assert wrong[0].lstrip("-").split("-")[0] in capsys.readouterr().err
