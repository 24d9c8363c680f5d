"""IPC-2581: what is read of it, what is refused, and how other formats are named."""

import pytest

from jobcheck.commands.import_reading import Request, read_files
from jobcheck.findings import CallRefused
from jobcheck.sources.lists.ipc2581 import read_ipc2581
from jobcheck.sources.lists.options import ListOptions
from jobcheck.text import NotUnderstood

FILE = """\
<?xml version="1.0" encoding="UTF-8"?>
<IPC-2581 revision="B" xmlns="http://webstds.ipc.org/2581">
 <Bom name="logger"><BomItem OEMDesignNumberRef="a"><RefDes name="R2" populate="false"/></BomItem>
 </Bom>
 <Ecad><CadHeader units="INCH"/>
  <CadData>
   <Layer name="COMP_TOP" side="TOP"/><Layer name="COMP_BOT" side="BOTTOM"/>
   <Step name="board">
    <Package name="SOIC-8_3.9x4.9mm" height="0.0689">
     <Pin number="1"><Location x="-0.1" y="0.075"/></Pin>
     <Pin number="2"><Location x="-0.1" y="0.025"/></Pin>
    </Package>
    <Component refDes="U1" packageRef="SOIC-8_3.9x4.9mm" part="timer" layerRef="COMP_TOP">
     <Xform rotation="90"/><Location x="1.0" y="0.5"/>
    </Component>
    <Component refDes="R2" packageRef="R_0603" part="10k" layerRef="COMP_BOT">
     <Location x="2.0" y="0.5"/>
    </Component>
    <Component refDes="J1" packageRef="HDR" part="plug" layerRef="COMP_TOP" mountType="THMT">
     <Location x="2.5" y="0.5"/>
    </Component>
   </Step>
  </CadData>
 </Ecad>
</IPC-2581>
"""


def read(text=FILE):
    return read_ipc2581(text.encode(), "board.xml", ListOptions())


def test_components_are_read():
    rows = read().rows
    # pin 1 at (-0.1, 0.075) inch turned by 90: (-0.075, -0.1) from the centre
    assert rows["U1"] == {
        "x": 25.4,
        "y": 12.7,
        "rotation": 90,
        "side": "top",
        "pin1_x": 23.495,
        "pin1_y": 10.16,
    }
    assert rows["R2"] == {"x": 50.8, "y": 12.7, "rotation": 0, "side": "bottom", "fitted": False}
    assert rows["J1"]["fitted"] is False


def test_a_package_gives_height_and_terminals():
    named = read().named["U1"]
    assert (named.value, named.footprint, named.terminals) == ("timer", "SOIC-8_3.9x4.9mm", 2)
    assert named.height_mm == pytest.approx(1.75, abs=0.001)


@pytest.mark.parametrize(
    ("old", "new", "says", "line"),
    [
        ('units="INCH"', 'units="FURLONG"', "No CadHeader names the units", 1),
        ('layerRef="COMP_BOT"', 'layerRef="INNER"', "Component R2 has no reference, place", 16),
        ('x="2.0"', 'x="two"', "'two' is not a number", 16),
        ("</IPC-2581>", "", "is not XML", 26),
    ],
)
def test_what_is_refused(old, new, says, line):
    assert old in FILE
    with pytest.raises(NotUnderstood) as caught:
        read(FILE.replace(old, new))
    assert says in caught.value.fault.message
    assert caught.value.fault.place.line == line


def test_an_entity_reads_no_other_file():
    text = (
        FILE.replace(
            "<IPC-2581 ", '<!DOCTYPE a [<!ENTITY e SYSTEM "file:///etc/hostname">]>\n<IPC-2581 ', 1
        )
        .replace('part="timer"', 'part="timer"')
        .replace("<Step", "&e;<Step")
    )
    assert set(read(text).rows) == {"U1", "R2", "J1"}


@pytest.mark.parametrize(
    ("data", "says"),
    [
        (b"PK\x03\x04\x14\x00", "is a spreadsheet or an archive"),
        (b"%PDF-1.7\n", "is a PDF"),
        (b"UNITS=MM\nCMP 0 10.5 8.25 90.0 N R1 10k ;\n", "is a component file of ODB++"),
        (b"<design><part/></design>", "is XML of a kind that is not read"),
        (b"%FSLAX46Y46*%\n%MOMM*%\nM02*\n", "is a Gerber layer without components"),
        (b"M48\nMETRIC\n", "is a drill file"),
    ],
)
def test_other_formats_are_named(tmp_path, data, says):
    (tmp_path / "file.dat").write_bytes(data)
    with pytest.raises(CallRefused, match=says.replace("+", r"\+")):
        read_files(Request(tmp_path / "file.dat", "job"))
