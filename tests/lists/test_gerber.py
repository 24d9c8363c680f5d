"""Component layers: the specification's example, what they may say otherwise, and an oracle."""

import pathlib
import warnings

import pytest

from jobcheck.sources.lists.gerber import read_component_layer
from jobcheck.sources.lists.options import ListOptions
from jobcheck.text import NotUnderstood
from jobcheck.trade.polarity import PIN1_AT_ZERO, board_angle, pin1_faces

LAYERS = pathlib.Path(__file__).parent / "layers"
NONE = ListOptions()


def layer(body: str, header: str = "", side: str = "L1,Top") -> bytes:
    """A layer with the usual apertures: D10 the component, D12 pin 1, D13 other pins."""
    return (
        f"%TF.FileFunction,Component,{side}*%\n"
        + (header or "%FSLAX46Y46*%\n%MOMM*%\n%LPD*%\n")
        + "%TA.AperFunction,ComponentMain*%\n%ADD10C,0.3*%\n"
        + "%TA.AperFunction,ComponentOutline,Courtyard*%\n%ADD11C,0.1*%\n"
        + "%TA.AperFunction,ComponentPin*%\n%ADD12P,0.36X4X0.0*%\n%ADD13C,0.1*%\n%TD*%\n"
        + body
        + "M02*\n"
    ).encode()


R301 = """\
D10*
%TO.C,R301*%
%TO.CFtp,R_0805_2012Metric*%
%TO.CVal,4K7*%
%TO.CMnt,SMD*%
%TO.CRot,-90*%
X218250000Y-73000000D03*
D11*
X219250000Y-71310000D02*
X217250000Y-71310000D01*
X217250000Y-74690000D01*
D12*
%TO.P,R301,1*%
X218250000Y-72045000D03*
D13*
%TO.P,R301,2*%
X218250000Y-73955000D03*
%TD*%
"""
"""Values of the worked example of the Gerber Layer Format Specification, 6.9."""


def test_the_worked_example_of_the_specification():
    read = read_component_layer(layer(R301), "top.gbr", NONE)
    assert read.rows == {
        "R301": {
            "x": 218.25,
            "y": -73.0,
            "rotation": -90,
            "side": "top",
            "pin1_x": 218.25,
            "pin1_y": -72.045,
        }
    }
    named = read.named["R301"]
    assert (named.value, named.footprint, named.terminals) == ("4K7", "R_0805_2012Metric", 2)


def test_undoing_the_rotation_of_the_example_puts_pin_1_on_the_left():
    row = read_component_layer(layer(R301), "top.gbr", NONE).rows["R301"]
    assert row["x"] == row["pin1_x"]
    assert row["pin1_y"] > row["y"]  # it faces 90 degrees on the board
    assert pin1_faces(PIN1_AT_ZERO["left"], board_angle(row["rotation"], 0)) == 90


@pytest.mark.parametrize(
    ("column", "text"),
    [
        ("reference", "R301"),
        ("x", "X218250000Y-73000000D03"),
        ("rotation", "-90"),
        ("part", "4K7"),
        ("pin1_y", "X218250000Y-72045000D03"),
    ],
)
def test_every_value_has_its_place(column, text):
    data = layer(R301)
    place = read_component_layer(data, "top.gbr", NONE).cells.place("R301", column)
    assert place is not None
    assert data[place.start : place.end].decode() == text
    assert data.decode().splitlines()[place.line - 1][place.column - 1 :].startswith(text)


@pytest.mark.parametrize(
    ("header", "coordinate", "mm"),
    [
        ("%FSLAX46Y46*%%MOMM*%", "X1500000Y0", 1.5),
        ("%FSLAX25Y25*%%MOIN*%", "X100000Y0", 25.4),
        ("%FSLAX36Y36*%%MOIN*%", "X500000Y0", 12.7),
        ("%FSLAX33Y33*%\nG04 a comment*\nG71*", "X2500Y0", 2.5),
    ],
)
def test_units_and_the_format_of_coordinates(header, coordinate, mm):
    body = f"D10*%TO.C,R1*%%TO.CRot,0*%{coordinate}D03*%TD*%"
    assert read_component_layer(layer(body, header), "a.gbr", NONE).rows["R1"]["x"] == mm


def test_a_position_may_leave_out_the_axis_that_stays():
    body = "D10*%TO.C,R1*%%TO.CRot,0*%X1000000Y2000000D03*%TO.C,R2*%X3000000D03*"
    rows = read_component_layer(layer(body), "a.gbr", NONE).rows
    assert [(row["x"], row["y"]) for row in rows.values()] == [(1, 2), (3, 2)]


@pytest.mark.parametrize(
    ("field", "value"),
    [
        ('"100n, 50 V"', "100n, 50 V"),
        (r"100n\u002C 50 V", "100n, 50 V"),
        (r"10\u00B5", "10µ"),
        ("100n", "100n"),
    ],
)
def test_commas_in_values(field, value):
    body = f"D10*%TO.C,C1*%%TO.CVal,{field}*%%TO.CRot,0*%X0Y0D03*"
    assert read_component_layer(layer(body), "a.gbr", NONE).named["C1"].value == value


def test_attributes_in_comments():
    """The older form, which readers without attributes step over."""
    text = layer(R301).decode().replace("%TO.", "G04 #@! TO.").replace("%TF.", "G04 #@! TF.")
    text = text.replace("*%\n%TO", "*\n%TO").replace("%TD*%", "G04 #@! TD*")
    text = "\n".join(
        line[:-1] if line.startswith("G04 #@! ") and line.endswith("%") else line
        for line in text.splitlines()
    )
    read = read_component_layer(text.encode(), "a.gbr", NONE)
    assert read.rows == read_component_layer(layer(R301), "a.gbr", NONE).rows


def test_height_mount_and_fiducials():
    body = (
        "D10*%TO.C,J1*%%TO.CMnt,TH*%%TO.CHgt,8.5*%%TO.CRot,0*%X0Y0D03*%TD*%"
        "%TO.C,FID1*%%TO.CMnt,Fiducial*%%TO.CRot,0*%X1000000Y0D03*%TD*%"
    )
    read = read_component_layer(layer(body), "a.gbr", NONE)
    assert read.rows["J1"]["fitted"] is False
    assert read.named["J1"].height_mm == 8.5
    assert list(read.rows) == ["J1"]
    assert list(read.fiducials) == ["FID1"]


def test_the_bottom_and_another_origin():
    data = layer(R301, side="L4,Bot")
    read = read_component_layer(data, "a.gbr", ListOptions(origin_mm=(-200, 100)))
    row = read.rows["R301"]
    assert (row["x"], row["y"], row["side"]) == (18.25, 27.0, "bottom")
    assert row["pin1_y"] == 27.955


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"%TF.FileFunction,Copper,L1,Top*%\nM02*\n", "of Copper, not of components"),
        (b"%FSLAX46Y46*%\n%MOMM*%\nM02*\n", "not a component layer"),
        (b"", "not a component layer"),
        (layer(R301)[:-5], "is incomplete"),
        (layer(R301)[:500], "is incomplete"),
        (layer("D10*%TO.C,R1*%X0Y0D03*"), "no rotation"),
        (layer("D10*%TO.CRot,0*%X0Y0D03*"), "no reference"),
        (layer("D10*%TO.C,R1*%%TO.CRot,up*%X0Y0D03*"), "'up' is not a rotation"),
        (layer("%SRX2Y1I10J0*%D10*%TO.C,R1*%%TO.CRot,0*%X0Y0D03*"), "repeats"),
        (layer("", "%FSTAX46Y46*%%MOMM*%"), "format FSTAX46Y46"),
        (layer("D10*%TO.C,R1*%%TO.CRot,0*%X0Y0D03*", "%FSLAX46Y46*%"), "The unit"),
    ],
)
def test_what_is_refused(data, says):
    with pytest.raises(NotUnderstood) as caught:
        read_component_layer(data, "a.gbr", NONE)
    assert says in caught.value.fault.message


@pytest.mark.parametrize("file", sorted(LAYERS.glob("*.gbr")), ids=lambda file: file.stem)
def test_against_another_reader(file):
    """Positions, rotations, pins and names as `gerbonara` has them."""
    ours = read_component_layer(file.read_bytes(), file.name, NONE)
    theirs = _oracle(file)
    assert set(theirs) == set(ours.rows) | set(ours.fiducials)
    for reference, row in {**ours.rows, **ours.fiducials}.items():
        x, y, attributes, pins = theirs[reference]
        assert (row["x"], row["y"]) == pytest.approx((x, y), abs=1e-6)
        assert row["rotation"] == pytest.approx(float(attributes[".CRot"][0]))
        if "1" in pins:
            assert (row["pin1_x"], row["pin1_y"]) == pytest.approx(pins["1"], abs=1e-6)
        if reference in ours.named:
            assert ours.named[reference].value == ",".join(attributes.get(".CVal", ()))
            assert ours.named[reference].footprint == ",".join(attributes.get(".CFtp", ()))


def _oracle(file):
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        import gerbonara
        from gerbonara.utils import MM

        read = gerbonara.GerberFile.open(file)
    found: dict = {}
    pins: dict = {}
    for flash in (one for one in read.objects if type(one).__name__ == "Flash"):
        function = dict(flash.aperture.attrs).get(".AperFunction", ("",))[0]
        at = MM(flash.x, flash.unit), MM(flash.y, flash.unit)
        if function == "ComponentMain":
            found[flash.attrs[".C"][0]] = (*at, dict(flash.attrs))
        elif function == "ComponentPin":
            reference, pin = flash.attrs[".P"][:2]
            pins.setdefault(reference, {})[pin] = at
    return {name: (*entry, pins.get(name, {})) for name, entry in found.items()}
