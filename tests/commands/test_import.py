"""`jobcheck import`: what it recognises, what it asks, what it writes."""

import io
import json
import os
import shutil

import pytest

from jobcheck.cli.main import main
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import folder_state
from tests.lists.test_gerber import R301, layer
from tests.support.edited import STARTER

LIST = """\
First board, revision B
Designator;Val;Package;Mid X (mm);Mid Y (mm);Rotation;Layer;Notes
R1;10k;R_0603_1608Metric;10,5;8,25;-90;Top;
R2;10K;R_0603_1608Metric;14,5;8,25;90;Top;
C1;100n;C_0805_2012Metric;18,5;8,25;450;Top;
U9;magic;MSOP-10;20,5;12,25;0;Top;hello
R7;1k;R_0402_1005Metric;22,5;8,25;0;Top;
FID1;;Fiducial;5,5;5,5;0;Top;

Total;7
"""


@pytest.fixture
def shop(tmp_path):
    shutil.copytree(STARTER, tmp_path / "shop")
    return tmp_path / "shop"


def run(shop, *words: str, text: str | bytes = LIST, name: str = "list.csv") -> tuple[int, str]:
    file = shop.parent / name
    file.write_bytes(text if isinstance(text, bytes) else text.encode())
    out, err = io.StringIO(), io.StringIO()
    code = main(["import", str(file), "--shop", str(shop), *words], out, err)
    return code, out.getvalue() + err.getvalue()


def held(shop):
    """The bytes of every file."""
    return {
        os.path.relpath(file, shop): file.read_bytes() for file in shop.rglob("*") if file.is_file()
    }


def test_without_write_nothing_changes(shop):
    before = held(shop)
    code, said = run(shop, "--job", "second-board")
    assert code == 0
    assert held(shop) == before
    for line in (
        "list.csv: 5 placements, read as text delimited by semicolon, UTF-8.",
        "x          Mid X (mm)",
        "(unknown)  Notes       not used",
        "decimals    decimal comma",
        "positions   mm, as the row of names says",
        "fiducials   FID1: not placed",
        "line 10, after the table: Total;7",
        "Preview. Nothing has been written.",
    ):
        assert line in said


def test_a_declared_unit_is_said_to_be_declared(shop):
    words = ("--job", "second-board", "--units", "mil")
    code, said = run(shop, *words, text="ref,x,y,rot,side\nR1,1,2,0,top\n")
    assert code == 0
    assert "positions   mil, as declared\n" in said


def test_parts_are_found_and_unknown_ones_listed_once(shop):
    code, said = run(shop, "--job", "second-board", "--format", "json")
    assert code == 0
    data = json.loads(said)
    assert data["placements"]["R1"]["part"] == data["placements"]["R2"]["part"] == "10k-0603"
    assert data["placements"]["C1"]["part"] == "100n-0805"
    assert [entry["references"] for entry in data["unknown_parts"]] == [["U9"], ["R7"]]
    assert data["undecided_parts"] == []


def test_every_join_is_shown_with_its_reason(shop):
    _, said = run(shop, "--job", "second-board")
    assert "10k-0603   1     value 10k is equal, and R_0603_1608Metric is chip-0603" in said
    assert "100n-0805  1     value 100n is equal, and C_0805_2012Metric is chip-0805" in said


def test_a_light_emitting_diode_gets_a_polarised_outline_of_its_own(shop):
    text = "ref,value,package,x (mm),y (mm),rot\nD1,10k,R_0603,1,2,0\nR1,10k,R_0603,1,5,0\n"
    code, said = run(shop, "--job", "second-board", "--write", text=text)
    assert code == 0
    assert "not joined to 10k-0603: reference letter D means polarised" in said
    plain = read_shop(folder_state(shop)).shop.plain
    assert plain["parts"]["10k-R_0603"]["outline"] == "R_0603-polarised"
    assert plain["outlines"]["R_0603-polarised"]["polarised"] is True


def test_a_makers_number_beside_the_maker_is_kept_as_such(shop):
    head = "ref,value,package,Manufacturer,Part Number,x (mm),y (mm),rot\n"
    text = head + "U1,driver,QFN-9,Q,QX-1,1,2,0\n"
    run(shop, "--job", "second-board", "--write", text=text)
    plain = read_shop(folder_state(shop)).shop.plain
    assert "driver-QFN-9" not in plain["parts"]
    listed = (shop / "jobs/second-board/placements.csv").read_text()
    assert listed == (
        "reference,part,x,y,rotation,side,maker_number\nU1,driver-QFN-9,1,2,0,,QX-1\n"
    )
    run(shop, "--job", "third-board", "--write", text=text.replace("QFN-9", "QFN-9_2x2mm"))
    entry = read_shop(folder_state(shop)).shop.plain["parts"]["driver-QFN-9_2x2mm"]
    assert (entry["maker_number"], entry["value"]) == ("QX-1", "driver")


def test_a_new_job_is_written_with_what_is_known(shop):
    code, said = run(shop, "--job", "second-board", "--zero", "A", "--write")
    assert code == 0
    assert "Written and read back" in said
    job = (shop / "jobs/second-board/job.yaml").read_text()
    assert (
        "side: top\nboard:\n  size_mm: [28, 18]\n  derived: {size_mm: extents of the list}" in job
    )
    assert "\nplacements: {file: placements.csv, units: mm, zero: A}\n" in job
    assert (shop / "jobs/second-board/placements.csv").read_text().splitlines()[:4] == [
        "reference,part,x,y,rotation,side",
        "R1,10k-0603,10.5,8.25,-90,top",
        "R2,10k-0603,14.5,8.25,90,top",
        "C1,100n-0805,18.5,8.25,450,top",
    ]
    reading = read_shop(folder_state(shop))
    plain = reading.shop.plain
    assert plain["parts"]["1k-R_0402_1005Metric"] == {
        "outline": "R_0402_1005Metric",
        "value": "1k",
    }
    outline = dict(plain["outlines"]["R_0402_1005Metric"])
    derived = outline.pop("derived")
    assert outline == {"body_mm": [1.0, 0.5], "height_mm": 0.3, "terminals": 2, "polarised": False}
    assert derived.keys() == outline.keys()
    assert derived["height_mm"] == "nominal of the case, Fenghua RC series datasheet"
    assert len(plain["jobs"]["second-board"]["placements"]) == 5 + 3


def test_a_new_job_is_not_checked_until_it_has_a_seat(shop):
    run(shop, "--job", "second-board", "--zero", "A", "--write")
    reading = read_shop(folder_state(shop))
    assert reading.faults == ()
    assert reading.shop.drafts["second-board"].lacks == ("seat",)


def test_writing_again_writes_nothing(shop):
    run(shop, "--job", "second-board", "--write")
    before = held(shop)
    code, said = run(shop, "--job", "second-board", "--write")
    assert code == 0
    assert "nothing, all files have it already" in said
    assert held(shop) == before


def test_a_job_that_is_there_gets_its_list_replaced_and_nothing_else(shop):
    before = held(shop)
    text = "ref,part,x (mil),y (mil),rot,layer\nR1,10k-0603,400,320,0,T\n"
    code, _ = run(shop, "--job", "first-board", "--write", text=text)
    after = held(shop)
    assert code == 0
    changed = {name for name in after if after[name] != before.get(name)}
    assert changed == {"jobs/first-board/placements.csv"}
    assert after["jobs/first-board/placements.csv"] == (
        b"reference,part,x,y,rotation,side\nR1,10k-0603,10.16,8.128,0,top\n"
    )


@pytest.mark.parametrize(
    ("text", "words", "says"),
    [
        ("ref,x,y,rot,side\nR1,1,2,0,top\n", (), "--job second-board --units mm"),
        ("ref,x,y,rot\nR1,1mm,2mm,0\n", ("--column", "z=Z"), "z is not a meaning"),
        ("ref;x (mm);y (mm);rot\nR1;1,500;2,250;0\n", (), "--job second-board --decimal ,"),
        (
            "Ref,Pos X,Ref X,Y,rot\nR1,1mm,2mm,2mm,0\n",
            (),
            "--job second-board --column 'x=Pos X'",
        ),
        (
            "ref,value,x (mm),y (mm),rot\nR1,10µ,1,2,0\n".encode("latin-1"),
            (),
            "--job second-board --encoding windows-1252",
        ),
        ("ref,x (mm),y (mm),rot\nR1,1,2,0\nR1,3,4,0\n", (), "R1 is in lines 2, 3 of list.csv."),
        (
            "ref,x (mm),y (mm),rot\nU?,1,2,0\nR1,3,2,0\nR?,5,2,0\n",
            (),
            "References without a number, such as U?, are in lines 2, 4.",
        ),
        ("ref,x (inch),y (inch),rot\nR1,1,2,0\nR2,1000,2,0\n", (), "positions span 25,375 mm"),
        (
            "ref,value,x,y,rot\nR1,NC,1500,2,0\nR2,open,3,4,0\n",
            (),
            "--job second-board --units mil --not-fitted nc --not-fitted open",
        ),
        (
            "ref,x (mm),y (mm),rot\nR1,1,2,0\n",
            ("--part", "a=b"),
            "Part b, given for a, does not exist",
        ),
        ("ref,x (mm),y (mm),rot\nR1,1,2,0\n", ("--part", "a"), "a has no = between"),
        ("ref,x (mm),y (mm),rot\nR1,1,2,0\n", ("--job", "a/b"), "a/b cannot name a job"),
    ],
)
def test_what_is_refused_names_the_remedy(shop, text, words, says):
    before = held(shop)
    words = ("--job", "second-board", *words) if "--job" not in words else words
    code, said = run(shop, *words, "--write", text=text)
    assert code == 2
    assert says.replace(" ", "") in said.replace(" ", "").replace("\n", "")
    assert held(shop) == before


def test_a_word_that_was_asked_is_taken_as_answered(shop):
    text = "ref,value,x (mm),y (mm),rot\nR1,NC,1,2,0\nR2,open,3,4,0\n"
    words = ("--not-fitted", "NC", "--fitted", "open", "--format", "json")
    code, said = run(shop, "--job", "second-board", *words, text=text)
    assert code == 0, said
    rows = json.loads(said)["placements"]
    assert rows["R1"]["fitted"] is False
    assert "fitted" not in rows["R2"]


def test_rows_without_a_reference_are_counted_and_extents_shown(shop):
    text = "ref,part,x (mm),y (mm),rot\nR1,10k-0603,1,2,0\n,logo,3,4,0\nR2,10k-0603,5,6,0\n"
    code, said = run(shop, "--job", "first-board", text=text)
    assert code == 0, said
    assert "line 3, no reference: ,logo,3,4,0" in said
    assert "extents     x 1 to 5 mm, y 2 to 6 mm; the board is 40 x 30 mm" in said


def test_a_job_that_declares_another_form_is_not_overwritten(shop):
    job = shop / "jobs/first-board/job.yaml"
    job.write_text(job.read_text().replace("units: mm", "units: mil, side: top"))
    before = held(shop)
    code, said = run(shop, "--job", "first-board", "--write")
    assert code == 2
    assert "declares units, side of its list" in said
    assert held(shop) == before


BILL = """\
Item,Qty,Refs,Value,Footprint,MPN,DNP
1,2,"R1-R2",10 kOhm,0603,,
2,1,C1,,,SL-X1,
3,1,U9,magic,MSOP-10,SL-77,
4,1,R7,1k,R_0402,,DNP
5,1,J5,plug,,,
"""


def test_a_bill_names_parts_otherwise(shop):
    (shop.parent / "bill.csv").write_text(BILL)
    words = ("--job", "second-board", "--bill", str(shop.parent / "bill.csv"))
    code, said = run(shop, *words)
    assert code == 0
    assert "bill only   J5: not in the list" in said
    code, _ = run(shop, *words, "--write")
    assert code == 0
    plain = read_shop(folder_state(shop)).shop.plain
    assert plain["jobs"]["second-board"]["placements"]["R7"]["fitted"] is False
    assert plain["jobs"]["second-board"]["bill"]["R2"]["part"] == "10k-0603"
    assert plain["parts"]["magic-MSOP-10"]["maker_number"] == "SL-77"
    assert "1k-R_0402" not in plain["parts"]


def test_what_list_and_bill_contradict_is_asked(shop):
    (shop.parent / "bill.csv").write_text("Refs,Part\nR1,100n-0805\nR2,10k-0603\n")
    words = ("--job", "second-board", "--bill", str(shop.parent / "bill.csv"))
    before = held(shop)
    code, said = run(shop, *words, "--write")
    assert code == 2
    assert "list and bill name different parts" in said
    assert held(shop) == before
    code, said = run(shop, *words, "--part", "100n-0805=100n-0805", "--write")
    assert code == 0, said
    plain = read_shop(folder_state(shop)).shop.plain
    assert plain["jobs"]["second-board"]["placements"]["R1"]["part"] == "100n-0805"


def test_a_component_layer_with_its_conventions(shop):
    code, said = run(
        shop, "--job", "second-board", "--write", text=layer(R301), name="board-top.gbr"
    )
    assert code == 0, said
    job = (shop / "jobs/second-board/job.yaml").read_text()
    assert "zero: A, bottom: through-top-mirrored-y, bottom_positions: through-top" in job
    listed = (shop / "jobs/second-board/placements.csv").read_text()
    assert listed.splitlines()[0] == "reference,part,x,y,rotation,side,pin1_x,pin1_y"
    assert listed.splitlines()[1].endswith("218.25,-73,-90,top,218.25,-72.045")


def test_a_component_layer_is_used_directly(shop):
    (shop / "jobs/first-board/top.gbr").write_bytes(layer(R301))
    job = shop / "jobs/first-board/job.yaml"
    old = "placements: {file: placements.csv, units: mm, zero: A, bottom: as-placed}"
    assert old in job.read_text()
    new = "placements: {file: top.gbr, origin_mm: [-200, 90]}"
    job.write_text(job.read_text().replace(old, new))
    reading = read_shop(folder_state(shop))
    assert reading.faults == ()
    placements = reading.shop.jobs["first-board"].placements
    placed = placements.by_reference["R301"]
    assert (placed.x, placed.y, placed.pin1_y) == (18.25, 17.0, 17.955)
    assert (placements.zero, placements.bottom) == ("A", "through-top-mirrored-y")
    place = reading.places.of(("jobs", "first-board", "placements", "R301", "rotation"))
    assert (place.file, place.line) == ("jobs/first-board/top.gbr", 18)


def test_parts_are_told_by_value_and_outline_without_import(shop):
    (shop / "jobs/first-board/placements.csv").write_text(
        "ref,value,footprint,x,y,rot,side\nR1,10k,R_0603_1608Metric,1,2,0,top\n"
        "R2,22k,R_0603_1608Metric,3,4,0,top\n"
    )
    reading = read_shop(folder_state(shop))
    placed = reading.shop.jobs["first-board"].placements.by_reference
    assert (placed["R1"].part, placed["R2"].part) == ("10k-0603", "22k")
    place = reading.places.of(("jobs", "first-board", "placements", "R2", "part"))
    assert (place.line, place.column) == (3, 4)


BOTTOM = LIST.replace(";Top;", ";Bottom;")


def test_how_the_bottom_counts_is_declared_or_said_to_be_assumed(shop):
    code, said = run(shop, "--job", "second-board", text=BOTTOM)
    assert code == 2
    assert "Rotations on the bottom can be meant in three ways" in said
    assert "--job second-board --bottom as-placed --shop" in said
    assert "bottom_positions" in said
    words = ("--bottom", "as-placed", "--bottom-positions", "as-placed")
    code, said = run(shop, "--job", "second-board", "--write", *words, text=BOTTOM)
    assert code == 0, said
    job = (shop / "jobs/second-board/job.yaml").read_text()
    assert "bottom: as-placed, bottom_positions: as-placed" in job


def test_a_negated_x_with_an_origin_is_refused(shop):
    words = ("--bottom-positions", "x-negated", "--origin", "4", "2")
    code, said = run(shop, "--job", "second-board", *words, text=BOTTOM)
    assert code == 2
    assert "without --origin" in said


PADS = """\
ref,value,package,x (mm),y (mm),rot,side,Pad X (mm),Pad Y (mm)
D1,SF14,D_SMA,10,10,0,top,8,10
U1,TM,SOIC-14_3.9x8.65mm,20,10,90,top,16.2,7.3
D2,SF14,D_SMA,30,10,0,bottom,28,10
D3,SF14,D_SMA,30,20,90,bottom,30,18
U2,TM,SOIC-14_3.9x8.65mm,40,20,0,bottom,37.3,16.2
"""


def test_pads_show_pin_1_level_and_bottom(shop):
    """Pad 1 is left at 0: level A. On the bottom as seen through the top it is where a mirrored y
    puts it: 180 - r of the drawing, x mirrored back."""
    code, said = run(shop, "--job", "second-board", text=PADS)
    assert code == 0, said
    assert "zero A: 2 of 2 footprints with pad 1 agree" in said
    assert "bottom through-top-mirrored-y: 3 of 3 pads on the bottom agree" in said
    proposal = "--zero A --bottom through-top-mirrored-y --bottom-positions through-top"
    assert proposal in said
    code, _ = run(shop, "--job", "second-board", *proposal.split(), "--write", text=PADS)
    assert code == 0
    plain = read_shop(folder_state(shop)).shop.plain
    outline = plain["outlines"]["D_SMA"]
    assert (outline["pin1_at_zero"], outline["zero"]) == ("left", "A")
    assert outline["derived"]["pin1_at_zero"] == "pads of the list"
    assert plain["outlines"]["SOIC-14_3-9x8-65mm"]["pin1_at_zero"] == "upper_left"


def test_pads_that_disagree_propose_nothing(shop):
    text = PADS.replace(
        "U1,TM,SOIC-14_3.9x8.65mm,20,10,90,top,16.2,7.3", "U1,TM,S8,20,10,0,top,17,7"
    )
    _, said = run(shop, "--job", "second-board", text=text)
    said = " ".join(said.split())
    assert "zero is not known: 1 of 2 footprints with pad 1 are drawn at level A" in said
    assert "--zero" not in said


APART = """\
ref,value,package,x (mm),y (mm),rot
R1,10k,R_0603,10,10,0
J1,plug,PinHeader_1x04_P2.54mm_Vertical,20,10,0
TP1,TestPoint,TestPoint_Pad_D1.0mm,25,10,0
H1,MountingHole,MountingHole_3.2mm_M3,3,3,0
G1,Logo,Logo_10mm,30,10,0
FID1,Fiducial,Fiducial_1mm_Mask2mm,3,20,0
"""


def test_what_no_nozzle_places_is_set_apart(shop):
    words = ("--job", "second-board", "--format", "json")
    _, said = run(shop, *words, text=APART)
    data = json.loads(said)
    assert data["set_apart"] == {
        "through-hole": ["J1"],
        "test points": ["TP1"],
        "holes": ["H1"],
        "logos": ["G1"],
    }
    assert data["unknown_parts"] == []
    assert data["placements"]["J1"]["fitted"] is False
    _, said = run(shop, *words, "--fitted", "J1", text=APART)
    assert "fitted" not in json.loads(said)["placements"]["J1"]


def test_side_board_and_fiducials_are_proposed(shop):
    run(shop, "--job", "second-board", "--write", text=APART)
    job = read_shop(folder_state(shop)).shop.plain["jobs"]["second-board"]
    assert job["side"] == "top"
    assert job["board"]["size_mm"] == [33, 23]
    assert job["board"]["derived"] == {"size_mm": "extents of the list"}
    assert job["board"]["fiducials"] == {"FID1": {"x": 3, "y": 20, "diameter_mm": 1}}
    run(shop, "--job", "third-board", "--board", "40", "30", "--write", text=APART)
    board = read_shop(folder_state(shop)).shop.plain["jobs"]["third-board"]["board"]
    assert board["size_mm"] == [40, 30]
    assert "derived" not in board


def test_importing_again_shows_changes_harmful_first(shop):
    run(shop, "--job", "second-board", "--write")
    text = LIST.replace("14,5;8,25;90", "14,5;8,25;270").replace("18,5;8,25", "19;8,25")
    text = text.replace("R7;1k;R_0402_1005Metric;22,5;8,25;0;Top;\n", "R8;1k;R_0402;1;1;0;Top;\n")
    code, said = run(shop, "--job", "second-board", text=text)
    assert code == 0, said
    begin = said.index("Changes in second-board: 4")
    kinds = ["1 turned", "R2  90 becomes 270", "1 moved", "C1  18.5, 8.25 becomes 19, 8.25"]
    places = [said.index(words, begin) for words in (*kinds, "1 gone: R7", "1 new: R8")]
    assert places == sorted(places)


def test_a_bill_keeps_its_order_and_has_its_own_options(shop):
    bill = "Stelle,Teil\nC1,100n-0805\nR2,10k-0603\nR1,10k-0603\n"
    (shop.parent / "bill.csv").write_bytes(bill.encode())
    text = "ref,part,x,y,rot\nR1,10k-0603,1,2,0\nR2,10k-0603,5,2,0\nC1,100n-0805,9,2,0\n"
    words = ("--job", "second-board", "--bill", str(shop.parent / "bill.csv"), "--units", "mm")
    options = ("--bill-column", "reference=Stelle", "--bill-column", "part=Teil", "--write")
    code, said = run(shop, *words, *options, text=text)
    assert code == 0, said
    written = (shop / "jobs/second-board/bill.csv").read_text()
    assert written.splitlines() == [
        "reference,part,quantity",
        "C1,100n-0805,1",
        '"R1, R2",10k-0603,2',
    ]


def test_list_bill_and_words_are_asked_in_one_answer(shop):
    bill = "Refs,Part,Wert\nR1,10k-0603,10k\u00b5\n".encode("latin-1")
    (shop.parent / "bill.csv").write_bytes(bill)
    text = "ref,value,x,y,rot\nR1,NC,1,2,0\n"
    words = ("--job", "second-board", "--bill", str(shop.parent / "bill.csv"))
    code, said = run(shop, *words, text=text)
    assert code == 2
    assert "Open: 3 questions." in said
    for words_ in ("--units mm", "--bill-encoding windows-1252", "--not-fitted nc"):
        assert words_ in said
    assert said.count("jobcheck import") == 1
