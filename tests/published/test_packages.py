"""Footprint names against published outlines and a reference library."""

import pytest

from jobcheck.trade.packages import is_through_hole, package_of

REFERENCE = [
    ("SOT-23", (1.3, 2.9), 3),
    ("SOT-23-5", (1.6, 2.9), 5),
    ("SOT-23-6", (1.6, 2.9), 6),
    ("SOT-89-3", (2.5, 4.5), 3),
    ("SOT-223", (3.7, 6.7), 4),
    ("SOT-363_SC-70-6", (1.35, 2.2), 6),
    ("SOT-353_SC-70-5", (1.35, 2.2), 5),
    ("SOT-323_SC-70", (1.35, 2.2), 3),
    ("SOT-416", (0.9, 1.8), 3),
    ("SOT-563", (1.3, 1.7), 6),
    ("TSOT-23-5", (1.6, 2.9), 5),
    ("SC-59", (1.7, 3.1), 3),
    ("SOT-143", (1.3, 2.9), 4),
    ("D_SOD-123", (2.8, 1.8), 2),
    ("D_SOD-323", (1.8, 1.4), 2),
    ("D_SOD-523", (1.3, 0.9), 2),
    ("D_SMA", (4.6, 3.0), 2),
    ("D_SMB", (4.6, 4.0), 2),
    ("D_SMC", (7.1, 6.2), 2),
    ("D_MiniMELF", (3.3, 1.6), 2),
    ("SOIC-8_3.9x4.9mm_P1.27mm", (3.9, 4.9), 8),
    ("SOIC-16W_7.5x10.3mm_P1.27mm", (7.5, 10.3), 16),
    ("TSSOP-16_4.4x5mm_P0.65mm", (4.4, 5.0), 16),
    ("MSOP-10_3x3mm_P0.5mm", (3.0, 3.0), 10),
    ("SSOP-28_5.3x10.2mm_P0.65mm", (5.3, 10.2), 28),
    ("QFN-32-1EP_5x5mm_P0.5mm_EP3.1x3.1mm", (5.0, 5.0), 33),
    ("LQFP-48_7x7mm_P0.5mm", (7.0, 7.0), 48),
    ("LQFP-100_14x14mm_P0.5mm", (14.0, 14.0), 100),
    ("TQFP-44_10x10mm_P0.8mm", (10.0, 10.0), 44),
    ("UFBGA-132_7x7mm_P0.5mm", (7.0, 7.0), 132),
    ("R_0603_1608Metric", (1.6, 0.825), 2),
    ("C_1206_3216Metric", (3.2, 1.6), 2),
    ("R_0201_0603Metric", (0.6, 0.3), 2),
    ("LED_0805_2012Metric", (2.0, 1.2), 2),
    ("CP_Elec_6.3x5.4", (6.6, 6.6), 2),
    ("CP_Elec_8x6.5", (8.3, 8.3), 2),
    ("CP_EIA-3216-18_Kemet-A", (3.2, 1.6), 2),
    ("CP_EIA-7343-31_Kemet-D", (7.3, 4.3), 2),
    ("Crystal_SMD_3225-4Pin_3.2x2.5mm", (3.2, 2.5), 4),
    ("DFN-8-1EP_3x3mm_P0.65mm_EP1.55x2.4mm", (3.0, 3.0), 9),
    ("LGA-16_3x3mm_P0.5mm", (3.0, 3.0), 16),
    ("WSON-8-1EP_6x5mm_P1.27mm_EP3.4x4mm", (6.0, 5.0), 9),
]
"""Body on the fabrication layer (mm) and numbered pads, in Debian's kicad-footprints 6.0.11-1.

Of its 2,726 surface-mount footprints that are no connectors, the names give 1,620 bodies; 10 differ
by more than 0.3 mm and a tenth, most of them by a slip in the footprint.
"""

FAR_MM = 0.4
"""A fabrication layer often draws the largest body, a family's table the nominal one."""


@pytest.mark.parametrize(("name", "body", "pads"), REFERENCE)
def test_a_name_gives_the_body_of_its_footprint(name, body, pads):
    package = package_of(name)
    assert package.terminals == pads
    for said, drawn in zip(sorted(package.body_mm or ()), sorted(body), strict=True):
        assert abs(said - drawn) <= max(FAR_MM, 0.1 * drawn)
    assert {"body_mm", "terminals"} <= package.sources.keys()


@pytest.mark.parametrize(
    ("name", "height", "source"),
    [
        ("SOIC-8_3.9x4.9mm_P1.27mm", 1.75, "JEDEC MS-012"),
        ("SOIC-16W_7.5x10.3mm_P1.27mm", 2.65, "JEDEC MS-013"),
        ("LQFP-64_10x10mm_P0.5mm", 1.6, "JEDEC MS-026"),
        ("TSSOP-20_4.4x6.5mm_P0.65mm", 1.2, "JEDEC MO-153"),
        ("SOT-23", 1.12, "JEDEC TO-236"),
        ("WQFN-16-1EP_3x3mm_P0.5mm", 0.8, "JEDEC JESD30"),
        ("CP_EIA-3528-21_Kemet-B", 2.1, "name of the footprint"),
        ("TANT-D", 2.8, "EIA-535BAAC"),
        ("CP_Elec_6.3x5.4", 5.4, "name of the footprint"),
    ],
)
def test_a_height_has_its_source(name, height, source):
    """JEDEC and EIA outlines, largest heights: from memory."""
    package = package_of(name)
    assert package.height_mm == height
    assert source in package.sources["height_mm"]


@pytest.mark.parametrize(
    ("name", "body", "height", "terminals", "pitch"),
    [
        ("SOIC127P600X175-8N", (3.9, 4.9), 1.75, 8, 1.27),
        ("SOP65P640X120-14N", (4.4, 5), 1.2, 14, 0.65),
        ("SOT95P280X145-5N", (1.6, 2.9), 1.45, 5, 0.95),
        ("QFN50P500X500X80-33N", (5, 5), 0.8, 33, 0.5),
        ("QFP50P900X900X160-48N", None, 1.6, 48, 0.5),
        ("CAPAE660X610N", (6.6, 6.6), 6.1, 2, None),
        ("RESC0603X26N", (0.6, 0.3), 0.26, 2, None),
        ("CAPC1608X90N", (1.6, 0.8), 0.9, 2, None),
        ("CAPMP3216X18N", (3.2, 1.6), 1.8, 2, None),
    ],
)
def test_names_of_ipc_7351(name, body, height, terminals, pitch):
    """IPC-7351 naming convention, from memory: lengths in hundredths, chips in tenths."""
    package = package_of(name)
    assert (package.body_mm, package.height_mm) == (body, height)
    assert (package.terminals, package.pitch_mm) == (terminals, pitch)


@pytest.mark.parametrize(
    "name",
    [
        "L_Maker_ABC-2010",
        "R_Array_Convex_4x0603",
        "Speaker_1206S",
        "PowerPAK_SO-8_Single",
        "BatteryHolder_1x12mm",
        "Anaren_0805_2012Metric-6",
        "D_SMA-SMB_Universal",
        "thing",
    ],
)
def test_a_number_that_is_no_case_gives_no_body(name):
    assert package_of(name).body_mm is None


@pytest.mark.parametrize(
    ("name", "expected"),
    [
        ("PinHeader_1x04_P2.54mm_Vertical", True),
        ("PinHeader_1x04_P2.54mm_Vertical_SMD_Pin1Left", False),
        ("DIP-8_W7.62mm", True),
        ("TO-220-3_Vertical", True),
        ("TO-252-2", False),
        ("TO-263-3_TabPin2", False),
        ("R_Axial_DIN0207_L6.3mm_D2.5mm_P10.16mm_Horizontal", True),
        ("CP_Radial_D5.0mm_P2.50mm", True),
        ("CP_Elec_6.3x5.4", False),
        ("LED_D5.0mm", True),
        ("LED_0603_1608Metric", False),
        ("SOIC-8_3.9x4.9mm_P1.27mm", False),
    ],
)
def test_through_hole_by_name(name, expected):
    """As the footprints' own attribute says, in the same library: 2,872 of its 6,408 are found,
    and none of its 5,376 surface-mount ones."""
    assert is_through_hole(name) is expected
