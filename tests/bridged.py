"""Makes examples/bridged anew: `python -m tests.bridged`.

Its description is that of examples/soil-logger; its controller is invented. The controller's files
are written here from the values of the description, as untidily as such files are: several units,
words, texts of three numbers, another encoding. Run it after any change to examples/soil-logger.
"""

import json
import re
import shutil
import tempfile
from datetime import date
from pathlib import Path as FilePath
from typing import Any

from jobcheck.commands.keep import keep
from jobcheck.sources.shop_reader import read_shop
from jobcheck.sources.state.state import folder_state
from tests.support.workshop import workshop

EXAMPLES = FilePath(__file__).parent.parent / "examples"
CLEAN, BRIDGED = EXAMPLES / "soil-logger", EXAMPLES / "bridged"
BRIDGE = FilePath(__file__).parent / "bridged.yaml"
OWN_LINES = """\
bridge: bridge.yaml         # where each value lives in the controller's files
"""
FLICKER = {0: "none", 1: "50Hz", 2: "60Hz"}
WHO = {1: "hand", 3: "device"}


def number(value: float) -> str:
    """Write a number of thousandths as a whole one."""
    scaled = round(value * 1000)
    assert abs(scaled - value * 1000) < 1e-6, value
    return str(scaled)


def optics(plain: dict[str, Any]) -> bytes:
    """Return the cameras as the controller keeps them: XML, micrometres, words, texts."""
    eyes = "\n".join(_eye(name, plain["cameras"][name]) for name in ("head", "up"))
    rings = "\n".join(
        f'    <ring no="{n}" chip="pwm{n}" full-at="{900 + 7 * n}" lit="no" />' for n in range(1, 9)
    )
    return f"""<?xml version="1.0" encoding="UTF-8" standalone="yes"?>
<!DOCTYPE bench-optics>
<!-- Saved by the bench when it is switched off. Hand edits survive if it is not running. -->
<bench-optics saved="2026-10-05T19:02:11+02:00" by='bench &quot;back room&quot;'>
  <rings>
{rings}
  </rings>

{eyes}

  <eye tag="door" faces="in">
    <!-- watches the lid; nothing is measured with it -->
    <wire vid="fff0" pid="0009"/><picture wide="320" high="240" coding="MJPG"/>
    <shutter who="device"/>
  </eye>
  <notes><![CDATA[lens of the lower eye swapped 2026-10-01 & tightened <again> on 2026-10-02]]></notes>
</bench-optics>
""".encode()


def _eye(name: str, camera: dict[str, Any]) -> str:
    controls = camera["controls"]
    device, scale = camera["device"], camera["mm_per_pixel"]
    faces = {"down": "floor", "up": "ceiling"}[camera["aim"]]
    position = camera.get("position")
    place = [
        f"    <stands>  {number(position['x'])} {number(position['y'])} {number(position['z'])} "
        "</stands>   <!-- um -->"
        for position in [position]
        if position
    ]
    vendor, product = device["usb_id"].split(":")
    wide, high = camera["resolution_px"]
    tone = (
        f"    <tone bright=\"{controls['brightness']:+d}\"  contrast='{controls['contrast']}'"
        + (f" sharp='{controls['sharpness']}'" if "sharpness" in controls else "")
        + (f" gamma='{controls['gamma']}'" if "gamma" in controls else "")
        + f' lamps="{FLICKER[controls["power_line_frequency"]]}"/>'
    )
    focus = [
        "    <sharpen>\n"
        f"      <self>{'yes' if controls['focus_automatic_continuous'] else 'no'}</self>\n"
        f"      <step>{controls['focus_absolute']}</step>\n"
        "    </sharpen>"
        for _ in [0]
        if "focus_absolute" in controls
    ]
    lines = [
        f'  <eye tag="{ {"head": "upper", "up": "lower"}[name] }" faces="{faces}">',
        f"    <wire vid='{vendor}' pid='{product}' unit=\"{device['serial']}\"/>",
        f'    <picture wide="{wide}" high="{high}" coding="{camera["pixel_format"]}"'
        f' rate="{camera["frame_rate_hz"]}.0"/>',
        *place,
        f"    <dot>{scale['x'] * 1000:.1f} x {scale['y'] * 1000:.1f}</dot>",
        f'    <lamp ring="{camera["light"]["channel"]}" level="{camera["light"]["percent"] * 10}"/>',
        f'    <shutter who="{WHO[controls["auto_exposure"]]}" slows="'
        f'{"yes" if controls["exposure_dynamic_framerate"] else "no"}"'
        f' us="{controls["exposure_time_absolute"] * 100}"/>',
        f"    <amplify>{controls['gain']}</amplify>",
        f'    <tint self="{"yes" if controls["white_balance_automatic"] else "no"}" kelvin="'
        f'{controls["white_balance_temperature"]}" />',
        tone,
        *focus,
        "  </eye>",
    ]
    return "\n".join(lines)


def shelf(plain: dict[str, Any]) -> bytes:
    """Return the feeders as the controller keeps them: JSON, a list in no order of interest."""
    lanes = []
    for place, (name, feeder) in enumerate(plain["feeders"].items()):
        pick = feeder["pick"]
        lanes.append(
            {
                "tag": f"lane {name}",
                "on": True,
                "takes": feeder.get("part"),
                "grab": {
                    "at": [pick["x"], pick["y"]],
                    "depth": -pick["z"],
                    "turn": pick.get("rotation", 0),
                },
                "left": feeder.get("remaining"),
                "tries": 2 + place % 2,
                "seen": {"ok": 400 + 37 * place, "missed": place % 5},
            }
        )
    lanes.append({"tag": "spare", "on": False, "takes": None, "grab": {}, "tries": 0})
    held = {
        "format": 4,
        "unit": "mm \u00b5",
        "saved": "2026-10-05T19:02:12+02:00",
        "lanes": lanes,
        "history": [{"at": f"2026-09-{day:02}", "swaps": day % 4} for day in range(1, 31)],
    }
    text = json.dumps(held, indent="\t", ensure_ascii=True)
    # the controller writes short lists and objects on one line, and lanes without a blank line
    text = re.sub(r"\[\s+(-?[\d.]+),\s+(-?[\d.]+)\s+\]", r"[ \1,\2 ]", text)
    text = re.sub(r"\{\s+(\"ok\": \d+),\s+(\"missed\": \d+)\s+\}", r"{\1, \2}", text)
    return (text + "\n").encode()


def axes(plain: dict[str, Any]) -> bytes:
    """Return the axes as the controller keeps them: INI, Windows line ends and encoding."""
    travel, motion, reversal = plain["travel"], plain["motion"], plain["reversal"]
    mark, home_z = plain["home_mark"], plain["traverse_z"]
    lines = [
        "; axes of the bench, lengths in mm unless it says \u00b5m",
        "machine=bench 2",
        "",
        "[axis x]",
        f"least = {travel['x'][0]}",
        f"most  = {travel['x'][1]}.00   ; the switch stands at {travel['x'][1] + 2}",
        f"lost_motion_um = {number(reversal['x'])}",
        "steps_per_mm = 80",
        "[axis y]",
        f"least = {travel['y'][0]}",
        f"most  = {travel['y'][1]}.00",
        f"lost_motion_um = {number(reversal['y'])}",
        "steps_per_mm = 80 # both motors",
        "",
        "[axis z]",
        "; counts down from the top",
        f"least: {-travel['z'][1]}",
        f"most: {-travel['z'][0]}",
        f"cruise: {-home_z}",
        "[axis turn]",
        f"lost_motion = {reversal['rotation']}",
        "",
        "[speeds]",
        f"plane_mm_min={motion['xy_mm_s'] * 60}",
        f"plane_m_s2={motion['xy_mm_s2'] / 1000}",
        f"down_mm_min={motion['z_mm_s'] * 60}",
        f"turn_deg_s={motion['rotation_deg_s']}",
        "",
        "[home]",
        f'mark = "{mark["x"]}; {mark["y"]}"',
        f'search = "{mark["search_radius_mm"]}"',
        f"square_mdeg = {number(plain['squareness_deg'])}",
        "",
        "[log]",
        "level=info",
        r"folder = C:\bench\log",
        "",
    ]
    return "\r\n".join(lines).encode("windows-1252")


def make(folder: FilePath) -> None:
    """Make the example in a folder that is not there yet."""
    shutil.copytree(
        CLEAN, folder, ignore=shutil.ignore_patterns("known-good", "README.md", "first-article.csv")
    )
    root = folder / "shop.yaml"
    text = root.read_text(encoding="utf-8").replace("limits:", f"{OWN_LINES}limits:", 1)
    root.write_bytes(text.encode())
    shop = read_shop(folder_state(CLEAN)).shop
    assert shop is not None
    (folder / "bridge.yaml").write_bytes(BRIDGE.read_bytes())
    (folder / "controller").mkdir()
    made = {"optics.xml": optics, "shelf.json": shelf, "axes.ini": axes}
    for name, written in made.items():
        (folder / "controller" / name).write_bytes(written(dict(shop.plain)))
    with workshop():
        kept = keep(
            folder,
            "bridged",
            date(2026, 10, 5),
            note="the first run after the map was written; all looked at",
            on_purpose=(),
        )
    assert kept.record, [finding.message for finding in kept.errors]


def main() -> None:
    """Make the example in a temporary folder and put it in its place."""
    with tempfile.TemporaryDirectory() as place:
        folder = FilePath(place) / BRIDGED.name
        make(folder)
        shutil.rmtree(BRIDGED, ignore_errors=True)
        shutil.copytree(folder, BRIDGED)


if __name__ == "__main__":
    main()
