"""How sure a result is, on its page: the budget, the check beside it, what replicates say."""

from __future__ import annotations

import re

from django.test import Client

from labbook.actions.standardizations import put_forward
from labbook.models import Run

from ..conftest import Laboratory, completed, standardized
from .conftest import HTMX


def test_the_result_names_its_largest_uncertainty(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    completed(open_run, laboratory)
    html = group.get(f"/runs/{open_run.pk}/result/").content.decode()
    assert "Uncertainty budget" in html
    assert re.search(r"The largest contribution is [^<]+ of the variance", html)
    assert "fuse wire" in html and "default of the field" in html


def test_the_budget_is_checked_by_monte_carlo_on_request(
    laboratory: Laboratory, group: Client, open_run: Run
) -> None:
    completed(open_run, laboratory)
    address = f"/runs/{open_run.pk}/monte-carlo/"
    part = group.post(address, headers=HTMX).content.decode()
    assert "by Monte Carlo" in part and "<html" not in part
    found = re.search(r"of the budget \((?:<[^>]+>)*\s*([+−]?)(\d+\.\d)", part)
    assert found is not None
    # JCGM 101 against JCGM 100: within 3 %, and 3 % more for 4,000 trials of the check itself.
    assert float(found[2]) < 6.0


def test_without_a_rise_there_is_nothing_to_check(group: Client, open_run: Run) -> None:
    response = group.post(f"/runs/{open_run.pk}/monte-carlo/")
    assert response.status_code == 409
    assert "Nothing to check" in response.content.decode()


def test_replicates_that_scatter_more_than_the_budget_are_talked_about(
    laboratory: Laboratory, assistant: Client
) -> None:
    found = put_forward(standardized(laboratory, (2.5, 2.53, 2.47)), by=laboratory.group)
    html = assistant.get(f"/standardizations/{found.pk}/").content.decode()
    assert "scatter more than the budget explains" in html
    assert "Three values span" in html
    assert "Uncertainty budget of the mean" in html
