"""Edits by span of lists, and of shops whose entries stand in several files."""

import pytest

from jobcheck.shop.values import MISSING
from jobcheck.sources.edits.edits import Edit, edit_shop
from jobcheck.sources.edits.replacing import EditRefused
from jobcheck.sources.shop_reader import Reading, read_shop
from jobcheck.sources.state.state import HeldFiles, State
from tests.support.edited import STARTER, starter

PLACED = "jobs/first-board/placements.csv"
BILL = "jobs/first-board/bill.csv"
JOB = "jobs/first-board/job.yaml"


def shop(**other: str | bytes | None) -> Reading:
    """Read the starter shop with other files by the last part of their names."""
    files = {name: held.data for name, held in starter().places.held.items()}
    for given, data in other.items():
        name = next((n for n in files if n.rpartition("/")[2].startswith(given)), f"{given}.yaml")
        if data is None:
            del files[name]
        else:
            files[name] = data if isinstance(data, bytes) else data.encode()
    return read_shop(State("now", HeldFiles(files), STARTER.name))


def job(units: str = "mm", **other: str) -> bytes:
    return (STARTER / JOB).read_bytes().replace(b"units: mm", f"units: {units}".encode())


def edited(before: Reading, good: Reading | None = None, **values) -> dict[str, str]:
    """Edit paths below the first job, `__` for the dots; return the files that change."""
    edits = [
        Edit(("jobs", "first-board", *path.split("__")), value) for path, value in values.items()
    ]
    return {name: data.decode() for name, data in edit_shop(before, edits, good).files.items()}


LIST = (
    "Ref,X , Y,rotation,part,Side,fitted,note\n"
    "R1, 1.0 ,2.0,0,10k-0603,Top,Yes,a\n"
    "R2,3,4,90,10k-0603,Top,No,\n"
)


@pytest.mark.parametrize(
    ("asked", "old", "new"),
    [
        ({"R1__x": 1.5}, " 1.0 ", " 1.5 "),
        ({"R1__x": 1}, "", ""),
        ({"R2__y": -0.25}, "3,4,", "3,-0.25,"),
        ({"R2__rotation": 45}, ",90,", ",45,"),
        ({"R1__rotation": 0.5}, ",0,", ",0.5,"),
        ({"R1__part": "a,b"}, "0,10k-0603", '0,"a,b"'),
        ({"R1__part": 'a"b'}, "0,10k-0603", '0,"a""b"'),
        ({"R2__side": "bottom"}, "90,10k-0603,Top", "90,10k-0603,Bottom"),
        ({"R1__fitted": False}, "Yes", "No"),
        ({"R2__fitted": True}, ",No,", ",Yes,"),
        ({"R1__fitted": MISSING}, "Yes", ""),
        ({"R1": MISSING}, "R1, 1.0 ,2.0,0,10k-0603,Top,Yes,a\n", ""),
        ({"R2": MISSING}, "R2,3,4,90,10k-0603,Top,No,\n", ""),
    ],
)
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_a_cell_changes_and_nothing_else(asked, old, new, newline):
    text = LIST.replace("\n", newline)
    before = shop(placements=text)
    after = edited(before, **{f"placements__{path}": value for path, value in asked.items()})
    old, new = old.replace("\n", newline), new.replace("\n", newline)
    assert after.get(PLACED, text) == text.replace(old, new, 1)


@pytest.mark.parametrize(
    ("cell", "asked", "after"),
    [
        ('"10k-0603"', "a", '"a"'),
        ('"10k-0603"', MISSING, ""),
        ('"a,b"', "c", '"c"'),
        ("", "c", "c"),
        ("a", " b", '" b"'),
    ],
)
def test_quotes_are_kept_and_put_where_needed(cell, asked, after):
    text = 'ref,x,y,part\n"R1",1,2,{}\n'
    before = shop(placements=text.format(cell))
    if asked == " b":
        with pytest.raises(EditRefused, match="it would read as b"):
            edited(before, placements__R1__part=asked)
    else:
        result = edited(before, placements__R1__part=asked)
        assert result == {PLACED: text.format(after)}


@pytest.mark.parametrize(
    ("units", "asked", "cell"),
    [
        ("mil", 25.4, "1000"),
        ("mil", 2.5654, "101"),
        ("mil", 10, "393.7008"),
        ("inch", 12.7, "0.5"),
        ("inch", 10, "0.3937008"),
        ("mm", 0.1, "0.1"),
    ],
)
def test_positions_are_written_in_the_units_of_the_list(units, asked, cell):
    text = "ref,x,y\nR1,{},2\n"
    before = shop(placements=text.format(7), job=job(units))
    assert edited(before, placements__R1__x=asked) == {PLACED: text.format(cell)}


def test_units_that_were_lost_come_back_without_touching_the_list():
    text = "ref,x,y\nR1,1000,2000\n"
    good = shop(placements=text, job=job("mil"))
    before = shop(placements=text, job=job("mm"))
    after = edited(
        before,
        good,
        placements__units="mil",
        placements__R1__x=25.4,
        placements__R1__y=50.8,
    )
    assert after == {JOB: job("mil").decode()}
    with pytest.raises(EditRefused, match=r"would change .*placements\.R1\.x as well"):
        edited(before, good, placements__units="mil")


def test_restoring_copies_the_recorded_cell():
    good = shop(placements="ref,x,y,fitted\nR1,1.500,2,y\n")
    before = shop(placements="ref,fitted,x,y\nR1,no,7,2\n")
    after = edited(before, good, placements__R1__x=1.5, placements__R1__fitted=True)
    assert after == {PLACED: "ref,fitted,x,y\nR1,y,1.500,2\n"}


GOOD = "ref,x,y,part,note\nR1,1.0,2,a,\nR2,3.0,4,a,it's\nR3,5.0,6,b,\nR4,7.0,8,b,\n"


@pytest.mark.parametrize(
    "lost",
    ["R1,1.0,2,a,\n", "R2,3.0,4,a,it's\n", "R4,7.0,8,b,\n", "R2,3.0,4,a,it's\nR3,5.0,6,b,\n"],
)
@pytest.mark.parametrize("has_final_newline", [True, False])
@pytest.mark.parametrize("newline", ["\n", "\r\n"])
def test_rows_that_were_lost_are_put_back_where_they_stood(lost, newline, has_final_newline):
    texts = [GOOD, GOOD.replace(lost, "")]
    if not has_final_newline:
        texts = [text.removesuffix("\n") for text in texts]
    whole, part = (text.replace("\n", newline) for text in texts)
    good = shop(placements=whole)
    assert good.shop is not None
    rows = good.shop.plain["jobs"]["first-board"]["placements"]
    asked = {f"placements__{name}": rows[name] for name in ("R1", "R2", "R3", "R4")}
    assert edited(shop(placements=part), good, **asked) == {PLACED: whole}


def test_a_row_for_other_columns_is_composed():
    good = shop(placements=GOOD)
    text = "part,y,x,ref,rotation\na,2,1,R1,0\n"
    after = edited(shop(placements=text), good, placements__R2={"x": 3, "y": 4, "part": "a"})
    assert after == {PLACED: text + "a,4,3.0,R2,\n"}


def test_a_column_that_is_not_there_is_told():
    before = shop(placements="ref,x,y\nR1,1,2\n")
    with pytest.raises(EditRefused, match=r"placements.csv has no column for side"):
        edited(before, placements__R1__side="top")
    with pytest.raises(EditRefused, match=r"has no column for part"):
        edited(before, placements__R2={"x": 1, "y": 2, "part": "a"})


def test_a_reference_that_stands_twice_is_not_taken_out_half():
    before = shop(placements="ref,x,y\nR1,1,2\nR1,3,4\n")
    with pytest.raises(EditRefused, match=r"R1\S* cannot be written: it would read as"):
        edited(before, placements__R1=MISSING)


# bills: several references in one cell

BILLED = 'ref,part\n"R1, R2, R3",a\nC1;C2,b\n'


@pytest.mark.parametrize(
    ("asked", "after"),
    [
        ({"R1__part": "c", "R2__part": "c", "R3__part": "c"}, BILLED.replace(",a", ",c")),
        ({"R2__part": "c"}, 'ref,part\n"R1, R3",a\nR2,c\nC1;C2,b\n'),
        ({"C1__part": "c"}, 'ref,part\n"R1, R2, R3",a\nC2,b\nC1,c\n'),
        ({"C1__part": "c", "C2__part": "d"}, 'ref,part\n"R1, R2, R3",a\nC1,c\nC2,d\n'),
        ({"R1": MISSING, "R2": MISSING, "R3": MISSING}, "ref,part\nC1;C2,b\n"),
        ({"C2": MISSING}, 'ref,part\n"R1, R2, R3",a\nC1,b\n'),
        ({"C2": MISSING, "C1__part": "c"}, 'ref,part\n"R1, R2, R3",a\nC1,c\n'),
        ({"D1": {"part": "d"}}, BILLED + "D1,d\n"),
    ],
)
def test_references_that_share_a_row_part_where_they_must(asked, after):
    asked = {f"bill__{path}": value for path, value in asked.items()}
    assert edited(shop(bill=BILLED), **asked) == {BILL: after}


def test_a_preview_names_each_reference():
    before = shop(bill=BILLED)
    edits = [Edit(("jobs", "first-board", "bill", name, "part"), "c") for name in ("C1", "C2")]
    lines = edit_shop(before, edits).lines
    assert [(line.line, line.before, line.after) for line in lines] == [
        (3, "C1 part: b", "C1 part: c"),
        (3, "C2 part: b", "C2 part: c"),
    ]


# several files


def test_a_file_that_is_gone_is_put_back_as_a_whole():
    good = starter()
    assert good.shop is not None
    for lost in (PLACED, BILL):
        before = shop(**{lost.rpartition("/")[2].removesuffix(".csv"): None})
        block = lost.rpartition("/")[2].removesuffix(".csv")
        value = good.shop.plain["jobs"]["first-board"][block]
        result = edit_shop(before, [Edit(("jobs", "first-board", block), value)], good)
        assert result.files == {lost: good.places.held[lost].data}
        assert result.lines[0].after == "the whole file, as recorded"


def test_a_job_that_is_gone_is_put_back_lists_first():
    good = starter()
    assert good.shop is not None
    before = shop(job=None, placements=None, bill=None)
    edit = Edit(("jobs", "first-board"), good.shop.plain["jobs"]["first-board"])
    files = edit_shop(before, [edit], good).files
    assert list(files)[-1] == JOB
    assert files == {name: good.places.held[name].data for name in (JOB, PLACED, BILL)}
    with pytest.raises(EditRefused, match="no record has them"):
        edit_shop(before, [edit])


def test_no_file_is_deleted():
    with pytest.raises(EditRefused, match=r"its own file, .*job.yaml; no file is deleted"):
        edit_shop(starter(), [Edit(("jobs", "first-board"), MISSING)])


def test_a_file_that_is_not_understood_is_not_replaced():
    good = starter()
    assert good.shop is not None
    before = shop(placements="ref,x\n")
    value = good.shop.plain["jobs"]["first-board"]["placements"]
    with pytest.raises(EditRefused, match="exists, but is not a readable part of the shop"):
        edited(before, good, placements=value)


def two_feeder_files(first: str, second: str) -> Reading:
    root = (STARTER / "shop.yaml").read_text().replace("[feeders.yaml]", "[one.yaml, two.yaml]")
    head = "describes: feeders\nedition: 1\n"
    return shop(shop=root, feeders=None, one=head + first, two=head + second)


def test_an_entry_goes_back_into_the_file_that_it_was_recorded_in():
    one, two = "feeders:\n  a: {slot: 1}\n", "feeders:\n  b: {slot: 2}\n  c: {slot: 3}\n"
    good = two_feeder_files(one, two)
    before = two_feeder_files(one, two.replace("  b: {slot: 2}\n", ""))
    result = edit_shop(before, [Edit(("feeders", "b"), {"slot": 2})], good)
    assert result.files == {"two.yaml": good.places.held["two.yaml"].data}
    before = two_feeder_files(one, "")
    edits = [Edit(("feeders", "b"), {"slot": 2}), Edit(("feeders", "c"), {"slot": 3})]
    result = edit_shop(before, edits, good)
    assert result.files == {"two.yaml": good.places.held["two.yaml"].data}
    before = two_feeder_files("", "")
    edits = [Edit(("feeders",), {"a": {"slot": 1}, "b": {"slot": 2}, "c": {"slot": 3}})]
    result = edit_shop(before, edits, good)
    assert result.files == {n: good.places.held[n].data for n in ("one.yaml", "two.yaml")}


def test_a_whole_file_of_feeders_comes_back():
    one, two = "feeders:\n  a: {slot: 1}\n", "feeders:\n  b: {slot: 2}\n"
    good = two_feeder_files(one, two)
    files = {name: held.data for name, held in good.places.held.items() if name != "two.yaml"}
    before = read_shop(State("now", HeldFiles(files), STARTER.name))
    result = edit_shop(before, [Edit(("feeders", "b"), {"slot": 2})], good)
    assert result.files == {"two.yaml": good.places.held["two.yaml"].data}


def test_without_a_record_an_entry_goes_where_its_kind_stands():
    result = edit_shop(starter(), [Edit(("outlines", "new"), {"terminals": 2})])
    assert list(result.files) == ["parts.yaml"]
    assert b"\n  new: {terminals: 2}\n\n# `jobcheck retuned" in result.files["parts.yaml"]
