"""What a list holds stands under its head: rows are joined by hand, and nothing else counts their cells."""

import re

import pytest

HEADS = re.compile(r'<th scope="col"')
CELLS = re.compile(r"<td\b|<th scope=\"row\"")


@pytest.mark.parametrize("address", ["/caseload/", "/overdue/", "/to-book/"])
def test_a_row_has_a_cell_for_each_head(clinic, lead, address):
    clinic.episode(surgery_on=None)
    clinic.episode(for_therapy=False)
    page = lead.get(address).content.decode()
    table = page[page.index("data-rows") :]
    head, _, body = table[: table.index("</table>")].partition("<tbody>")
    rows = [row for row in body.split("</tr>") if "who-is" in row]
    assert rows and {len(CELLS.findall(row)) for row in rows} == {len(HEADS.findall(head))}
