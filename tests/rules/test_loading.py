"""What a check by the graph alone must not load: the solver, and the libraries that only it needs."""

from __future__ import annotations

import subprocess
import sys

from loopwright.rules import themes
from loopwright.rules.registry import all_rules

CODE = """
import sys
from loopwright.rules.registry import all_rules
first = list(all_rules())
assert not {"networkx", "loopwright.engineering.steady", "pint", "jinja2"} & set(sys.modules), "heavy modules"
whole = all_rules(computed=True)
assert set(first) < set(whole) and all(not whole[slug].computed for slug in first)
print(*whole)
"""


def test_a_check_by_the_graph_loads_no_solver():
    done = subprocess.run([sys.executable, "-c", CODE], capture_output=True, text=True)
    assert done.returncode == 0, done.stderr
    assert done.stdout.split() == list(all_rules(computed=True)), "in one order, whichever was asked for first"


def test_modules_that_solve_the_flow_hold_nothing_else():
    where = {slug: rule.check.__module__.rpartition(".")[2] for slug, rule in all_rules().items()}
    assert not set(where.values()) & set(themes.SOLVING)
