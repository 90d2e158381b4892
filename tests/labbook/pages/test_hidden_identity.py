"""What a correction is answered with tells nothing; staff's page and the reveal do."""

import re

from labbook.actions.samples import reveal_sample

from .conftest import HTMX, Afternoon

# The name, the formula written plainly or with lowered counts, M(C10H8) = 128.17 g/mol.
TELLS = re.compile(r"naphthalene|C10H8|C<sub>10|128\.1\d", re.IGNORECASE)


def test_no_answer_to_a_students_correction_tells(afternoon: Afternoon) -> None:
    client, run = afternoon.client("group"), afternoon.run
    for path, sent in (
        (f"/runs/{run.pk}/figures/water_ml/", {"water_ml": "1.5", "reason": "misread"}),
        (f"/runs/{run.pk}/bounds/", {"settled_at_s": "800"}),
        (f"/runs/{run.pk}/readings/strike/", {"first": "1", "reason": "bumped"}),
        ("/runs/open/", {"bench": "B1", "kind": "unknown", "sample": "U-1"}),
    ):
        for headers in ({}, HTMX):
            response = client.post(path, sent, headers=headers, follow=True)
            assert response.status_code == 200, path
            assert not TELLS.search(response.content.decode()), path


def test_staff_see_it_on_their_own_page(afternoon: Afternoon) -> None:
    assert TELLS.search(afternoon.client("assistant").get("/samples/").content.decode())


def test_after_the_reveal_the_result_shows_values_per_mole(afternoon: Afternoon) -> None:
    reveal_sample(afternoon.lab.sample, by=afternoon.lab.coordinator)
    shown = afternoon.client("group").get(f"/runs/{afternoon.run.pk}/result/").content.decode()
    assert TELLS.search(shown) and "Coleman &amp; Pilcher 1966" in shown
