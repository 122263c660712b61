"""The folder of the results: written next to the former one, and put in its place when it is
complete."""

import errno
import json
import os
import shutil
import uuid
from pathlib import Path

try:
    import fcntl
except ImportError:  # Windows
    fcntl = None  # type: ignore[assignment]

SUMMARY = "run.json"
# marks a summary as written by this command
KIND = "edges from partitioned epochs"
DATA = ("edges", "gaps", "epochs")
LOCK = "lock"
# errors of file systems without locks: there, two runs at once are not prevented
NO_LOCKS = (errno.ENOSYS, errno.ENOLCK, errno.ENOTSUP)


class Results:
    """Results of one run; a context manager.

    New results are written to a hidden folder next to the old ones, which are moved away and
    deleted only when the new ones are complete. The next run clears what a killed run left behind;
    if it was killed between the two moves, the old results are put back. Each run has a subfolder
    of its own, so that workers still busy for an abandoned run find theirs gone.

    Parameters
    ----------
    folder : path
        Must be missing, empty, or hold only the results of a run.

    Raises
    ------
    ValueError
        If it holds anything else, or another run is writing it.
    """

    def __init__(self, folder):
        self.folder = Path(os.path.abspath(folder))
        self.work = self.folder.with_name(f".{self.folder.name}.unfinished")
        self.data = self.work / uuid.uuid4().hex
        self._former = self.folder.with_name(f".{self.folder.name}.former")
        self._lock = None

    def __enter__(self):
        self.work.mkdir(parents=True, exist_ok=True)
        self._lock = (self.work / LOCK).open("a")
        try:
            if fcntl is not None:
                fcntl.flock(self._lock, fcntl.LOCK_EX | fcntl.LOCK_NB)
        except BlockingIOError as error:
            self._lock.close()
            raise ValueError(
                f"another run is writing “{self.folder}”. Wait for it, or choose another folder"
            ) from error
        except OSError as error:
            if error.errno not in NO_LOCKS:
                self._lock.close()
                raise
        try:
            if self._former.exists() and not self.folder.exists():
                self._former.rename(self.folder)
            self._refuse_what_is_not_ours()
            for path in self.work.iterdir():
                if path.name != LOCK:
                    shutil.rmtree(path) if path.is_dir() else path.unlink()
            shutil.rmtree(self._former, ignore_errors=True)
            self.data.mkdir()
        except BaseException:
            self.__exit__()
            raise
        return self

    def __exit__(self, *_):
        self._lock.close()
        shutil.rmtree(self.work, ignore_errors=True)

    def _refuse_what_is_not_ours(self):
        """Raise ValueError if the folder holds files that no run wrote."""
        if not self.folder.exists():
            return
        if not self.folder.is_dir():
            raise ValueError(f"“{self.folder}” is a file. Choose a folder for the results")
        there = {
            path.relative_to(self.folder).as_posix()
            for path in self.folder.rglob("*")
            if not path.is_dir()
        }
        try:
            summary = json.loads((self.folder / SUMMARY).read_text(encoding="utf-8"))
            ours = (
                {
                    SUMMARY,
                    *(f"{data}/{part['file']}" for data in DATA for part in summary["partitions"]),
                }
                if summary["kind"] == KIND
                else set()
            )
        except (OSError, ValueError, KeyError, TypeError):
            ours = set()
        strange = sorted(there - ours)
        if strange:
            raise ValueError(
                f"“{self.folder}” holds “{strange[0]}”, which no run wrote. Move it away, or choose"
                " another folder"
            )

    def make_folders(self, names):
        """Make the folders of files with the paths `names`, for each kind of data."""
        for folder in {str((self.data / data / name).parent) for data in DATA for name in names}:
            Path(folder).mkdir(parents=True, exist_ok=True)

    def complete(self, summary):
        """Write the summary and replace the former results by the new ones."""
        for data in DATA:
            if not any(path.is_file() for path in (self.data / data).rglob("*")):
                shutil.rmtree(self.data / data)
        text = json.dumps({"kind": KIND, **summary}, indent=1, ensure_ascii=False)
        (self.data / SUMMARY).write_text(text + "\n", encoding="utf-8")
        if self.folder.exists():
            self.folder.rename(self._former)
        self.data.rename(self.folder)
        shutil.rmtree(self._former, ignore_errors=True)
