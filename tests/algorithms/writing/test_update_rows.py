"""Who a change is put down to."""

from types import SimpleNamespace

from curbwright.algorithms.reading.decisions import Decisions
from curbwright.algorithms.writing.update_rows import UpdateRows

RULE = "clear case"


def decider(line, edge):
    """Of a change of line 1 by edge 2, which these accepted."""
    lines, edges = Decisions(), Decisions()
    if line:
        lines.add(1, "accept", line)
    if edge:
        edges.add(2, "accept", edge)
    basemap = SimpleNamespace(lines_decided=lines, edges_decided=edges, rule=RULE)
    row = SimpleNamespace(id=lambda: 1)
    return UpdateRows._decider(SimpleNamespace(basemap=basemap), [2], row)


def test_a_rule_decided_only_where_no_person_did():
    assert decider(RULE, None) == RULE
    assert decider(RULE, "Ada") == "Ada"
    assert decider("Grace", "Ada") == "Grace"
    assert decider(None, "Ada") == "Ada" and decider(None, None) is None
