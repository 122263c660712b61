"""Both ways in which processes come to be."""

import pytest

from curbwright.shared.parallel import workers


@pytest.fixture(params=["forked", "each by itself"])
def start(request, monkeypatch):
    """How processes come to be."""
    if request.param == "forked" and not workers.FORKS:
        pytest.skip("processes are not forked on this system")
    monkeypatch.setattr(workers, "FORKS", request.param == "forked")
