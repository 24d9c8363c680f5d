"""Bills: references in groups, and what parts they name."""

import pytest

from jobcheck.shop.paths import natural
from jobcheck.sources.lists.bill import read_bill
from jobcheck.sources.lists.options import ListOptions
from jobcheck.sources.lists.references import expand
from jobcheck.text import NotUnderstood


def bill(text: str, **columns: str):
    return read_bill(text.encode(), "bill.csv", ListOptions(columns=columns))


@pytest.mark.parametrize(
    ("cell", "references"),
    [
        ("R1", ["R1"]),
        ("R1, R4-R6", ["R1", "R4", "R5", "R6"]),
        ("R1;R2", ["R1", "R2"]),
        ("R1 R2 R10", ["R1", "R2", "R10"]),
        ("R4 - R6", ["R4", "R5", "R6"]),
        ("R4..R6,C1", ["R4", "R5", "R6", "C1"]),
        ("R08-R10", ["R08", "R09", "R10"]),
        ("R4–R6", ["R4", "R5", "R6"]),
        ("R1\nR2", ["R1", "R2"]),
        ("J 1", ["J 1"]),
        ("J1-A", ["J1-A"]),
        ("R1, ", ["R1"]),
        ("", []),
    ],
)
def test_references_in_groups(cell, references):
    assert expand(cell) == references


@pytest.mark.parametrize("cell", ["R9-R4", "R4-C9", "R1-R99999", "C1-3"])
def test_what_is_no_range_is_refused(cell):
    with pytest.raises(ValueError, match=cell.split("-")[0]):
        expand(cell)


def test_natural_order():
    assert sorted(["R10", "R2", "C1", "R1"], key=natural) == ["C1", "R1", "R2", "R10"]


def test_a_bill_names_the_parts_of_its_references():
    read = bill('reference,part,quantity\n"R1, R4-R6",10k-0603,4\nC1,100n-0805,1\n')
    assert {name: row["part"] for name, row in read.rows.items()} == {
        **dict.fromkeys(["R1", "R4", "R5", "R6"], "10k-0603"),
        "C1": "100n-0805",
    }
    assert read.cells.place("R5").line == 2
    assert read.cells.place("R5", "part").column == 13


def test_a_bill_that_names_no_parts_of_the_shop():
    read = bill(
        "Bill of the logger\n\n"
        "Item;Qty;References;Value;Footprint;Manufacturer Part Number;DNP\n"
        "1;2;R1,R2;10k;R_0603;SL-0206;\n"
        "2;1;R3;0R;R_0603;;DNP\n"
        "Total;3\n"
    )
    assert set(read.rows) == {"R1", "R2", "R3"}
    named = read.named["R2"]
    assert (named.value, named.footprint, named.maker_number) == ("10k", "R_0603", "SL-0206")
    assert read.rows["R3"]["fitted"] is False
    assert [row.why for row in read.skipped] == ["after the table"]


@pytest.mark.parametrize(
    ("text", "says"),
    [
        ("reference,quantity\nR1,1\n", "is recognised as part"),
        ("reference,part\n,10k\n", "no reference"),
        ("reference,part\nR9-R1,10k\n", "not a range"),
        ("reference,part,part\nR1,10k,4k7\n", "Several columns could be the part"),
        ("reference,part\nR1,10k,4k7\n", "has 3 cells"),
    ],
)
def test_what_is_refused(text, says):
    with pytest.raises(NotUnderstood) as caught:
        bill(text)
    assert says in caught.value.fault.message


def test_references_listed_twice_are_counted():
    assert {
        name: len(starts) for name, starts in bill("reference,part\nR1,a\nR1,b\n").repeated.items()
    } == {"R1": 2}
