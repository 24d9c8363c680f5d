"""Edits by span of lists of other shapes: the cell is written as the list is."""

import pytest

from jobcheck.sources.edits.replacing import EditRefused
from tests.lists.test_gerber import R301, layer
from tests.sources.test_edits_lists import JOB, PLACED, edited, job, shop


def declared(**said) -> bytes:
    block = ", ".join(f"{key}: {value}" for key, value in said.items())
    return job().replace(b"units: mm", block.encode() or b"side: top")


@pytest.mark.parametrize(
    ("text", "said", "asked", "old", "new"),
    [
        ("ref;x (mm);y (mm)\nR1;1,25;2,5\n", {"decimal": '","'}, {"R1__x": 1.5}, "1,25", "1,5"),
        ("ref\tx (mil)\ty (mil)\nR1\t100\t200\n", {}, {"R1__x": 5.08}, "100", "200"),
        ("ref,x,y\nR1,1mm,2mm\n", {}, {"R1__x": 1.5}, "1mm", "1.5mm"),
        ("ref,x,y\nR1,1,2\n", {"units": "mm", "origin_mm": "[10, 5]"}, {"R1__x": 12}, ",1,", ",2,"),
        ("ref;x [mm];y [mm];part\nR1;1;2;a\n", {}, {"R1__part": "b;c"}, ";a", ';"b;c"'),
        ("Title, once\nref,x (mm),y (mm)\nR1,1,2\n", {}, {"R1__y": 3}, "1,2", "1,3"),
        ("ref,x (mm),y (mm),side\nR1,1,2,T\n", {}, {"R1__side": "bottom"}, ",T", ",BOTTOM"),
    ],
)
def test_a_cell_is_written_as_the_list_is(text, said, asked, old, new):
    before = shop(placements=text, job=declared(**said))
    after = edited(before, **{f"placements__{path}": value for path, value in asked.items()})
    assert after[PLACED].lower() == text.replace(old, new, 1).lower() or after[PLACED] == (
        text.replace(old, new.title(), 1)
    )


def test_a_row_is_added_with_the_delimiter_of_the_list():
    text = "Title\nref;x (mm);y (mm);note\nR1;1,5;2;a\n"
    before = shop(placements=text, job=declared())
    after = edited(before, placements__R2={"x": 3.25, "y": 4, "side": "top"})
    assert after == {PLACED: text + "R2;3,25;4;\n"}


@pytest.mark.parametrize(
    "text", ["Ref X(mm) Y(mm)\nR1 1.5 2\n", "Ref   X(mm)   Y(mm)\nR1    1.5     2\n"]
)
def test_aligned_text_is_not_edited_cell_by_cell(text):
    before = shop(placements=text, job=declared())
    with pytest.raises(EditRefused, match="not a delimited list"):
        edited(before, placements__R1__x=3)


def test_a_component_layer_is_not_edited():
    text = declared().replace(b"placements.csv", b"placements.csv, format: gerber-x3")
    text = text.replace(b", zero: A, bottom: as-placed", b"")
    before = shop(placements=layer(R301), job=text)
    assert "R301" in before.shop.plain["jobs"]["first-board"]["placements"]
    with pytest.raises(EditRefused, match="not a delimited list"):
        edited(before, placements__R301__x=3)
    assert JOB in before.places.held


def test_another_encoding_is_kept():
    text = "ref;x (mm);y (mm);note\nR1;1;2;µ\n".encode("cp1252")
    before = shop(placements=text, job=declared(encoding="windows-1252"))
    from jobcheck.sources.edits.edits import Edit, edit_shop

    path = ("jobs", "first-board", "placements", "R1", "x")
    after = edit_shop(before, [Edit(path, 3)]).files
    assert after == {PLACED: text.replace(b"R1;1;", b"R1;3;")}
