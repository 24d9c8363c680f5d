"""The machine: axes, cameras, spindles, nozzles, rack, feeder rows and events."""

from typing import Annotated, Literal

from pydantic import Field, field_validator

from jobcheck.schema.controls import present_name
from jobcheck.schema.fields import Described, derived, measurement, note, setting
from jobcheck.schema.values import (
    Day,
    Key,
    Limits2,
    Mark,
    PixelPair,
    Point,
    Point3,
    PositivePair,
)

Direction = Literal["+x", "-x", "+y", "-y"]
ControlName = Annotated[str, Field(pattern=r"^[a-z0-9_]+$")]


class Travel(Described):
    """How far each axis goes."""

    x: Limits2 = measurement("Limits of the head along x, mm.", unit="mm", examples=[[0, 510]])
    y: Limits2 = measurement("Limits of the head along y, mm.", unit="mm", examples=[[0, 360]])
    z: Limits2 = measurement(
        "Limits of the nozzle's lower end, mm; z is up.", unit="mm", examples=[[-30, 0]]
    )


class Motion(Described):
    """Speeds, accelerations and waits that the controller is set to."""

    xy_mm_s: float = setting("Speed in the plane, mm/s.", unit="mm/s", gt=0)
    xy_mm_s2: float = setting("Acceleration in the plane, mm/s².", unit="mm/s2", gt=0)
    z_mm_s: float = setting("Speed up and down, mm/s.", unit="mm/s", gt=0)
    z_mm_s2: float = setting("Acceleration up and down, mm/s².", unit="mm/s2", gt=0)
    rotation_deg_s: float = setting("Speed of turning, degrees/s.", unit="deg/s", gt=0)
    rotation_deg_s2: float = setting("Acceleration of turning, degrees/s².", unit="deg/s2", gt=0)
    pick_wait_ms: float | None = setting(
        "Wait on the part before it is lifted, ms.",
        None,
        unit="ms",
        ge=0,
        changed="the vacuum has another time to build up at the pick",
    )
    place_wait_ms: float | None = setting(
        "Wait on the board before the tip is lifted, ms.",
        None,
        unit="ms",
        ge=0,
        changed="parts have another time to settle in the paste",
    )
    vent_ms: float | None = setting(
        "Wait until the vacuum in the tip has vented, ms.",
        None,
        unit="ms",
        ge=0,
        changed="parts have another time to let go of the nozzle",
    )
    picture_wait_ms: float | None = setting(
        "Wait between the end of a move and the picture, ms.",
        None,
        unit="ms",
        ge=0,
        changed="pictures may be taken before the head is still",
    )


class HomeMark(Mark):
    """The fiducial on the machine bed that sets zero."""

    camera: str = setting("The downward camera that looks for it.", names="cameras")
    search_radius_mm: float = setting("How far around it is searched, mm.", unit="mm", gt=0)


class RejectBin(Point):
    """Where a part that failed is dropped."""

    size_mm: PositivePair | None = measurement("Opening along x and y, mm.", None, unit="mm")
    top_z: float | None = measurement("Height of its rim, mm.", None, unit="mm")


class ImageDirections(Described):
    """Where the picture's right and up point on the machine, flips included."""

    right: Direction = setting("Machine direction of the picture's right.", fingerprint=True)
    up: Direction = setting("Machine direction of the picture's up.", fingerprint=True)
    mirrored: bool = setting(
        "Whether a mirror or the software mirrors it, apart from the flips of the camera's "
        "controls.",
        False,
        fingerprint=True,
    )
    turn_deg: float | None = measurement(
        "Measured angle from the machine's +x to the picture's right, degrees counter-clockwise.",
        None,
        unit="deg",
    )


class Device(Described):
    """How one camera is distinguished from another."""

    usb_id: str | None = setting("Vendor and product number, quoted.", None, examples=["fff0:0002"])
    serial: str | None = setting("Serial number as the device reports it.", None)
    host: str | None = setting("Its USB host controller.", None, examples=["usb1"])
    port: str | None = setting("The port it is plugged into.", None, examples=["1-1.2"])
    usb_speed: Literal["high", "super"] | None = setting(
        "Speed of its USB link: high is 480 Mbit/s of USB 2, super that of USB 3.", None
    )


class Scale(Described):
    """Size of one pixel at one height."""

    x: float = measurement("Width of a pixel on the part, mm.", unit="mm", gt=0)
    y: float = measurement("Height of a pixel on the part, mm.", unit="mm", gt=0)
    at_z: float | None = measurement("Height at which it was measured, mm.", None, unit="mm")
    measured: Day | None = note("The day on which it was measured.")


class Calibration(Described):
    """When the camera was calibrated, and at which resolution."""

    date: Day = measurement("The day of the calibration.")
    resolution_px: PixelPair = measurement("Columns and rows it was done at, px.", unit="px")


class Light(Described):
    """The camera's lighting channel."""

    channel: str = setting("Name of the channel on the machine.", examples=["ring-up"])
    percent: float = setting("Brightness, percent of full.", unit="percent", ge=0, le=100)


class ReportedControl(Described):
    """Range and default of a control, as the device reports them."""

    min: int = note("Least value.", ...)
    max: int = note("Greatest value.", ...)
    step: int = note("Step between values.", 1, ge=1)
    default: int | None = note("The value after power-up.")
    menu: dict[Annotated[str, Field(pattern=r"^\d+$")], str] = note(
        "The meaning of each value of a menu control.", {}
    )


class Camera(Described):
    """A camera and everything that its pictures depend on."""

    aim: Literal["down", "up"] = setting(
        "Where it points.", changed="the camera is used for other pictures"
    )
    position: Point3 | None = measurement(
        "Where a fixed camera's axis and focal plane are; a camera on the head has none.",
        None,
        changed="its measurements are off by the difference, if it has not moved",
    )
    image: ImageDirections | None = setting(
        "Where the picture's right and up point.",
        None,
        changed="pictures are corrected by another angle",
    )
    device: Device | None = setting(
        "How it is distinguished from other cameras.",
        None,
        changed="another device may be taken for it",
    )
    resolution_px: PixelPair | None = setting(
        "Columns and rows, px.", None, unit="px", fingerprint=True, examples=[[1280, 720]]
    )
    pixel_format: str | None = setting(
        "A V4L2 four-character code.", None, fingerprint=True, examples=["YUYV"]
    )
    frame_rate_hz: float | None = setting(
        "Pictures a second.",
        None,
        unit="Hz",
        gt=0,
        changed="pictures come at another rate, exposed for another time",
    )
    mm_per_pixel: Scale | None = measurement(
        "Size of one pixel.",
        None,
        unit="mm",
        changed="shifts that it measures are corrected by another amount",
    )
    field_mm: PositivePair | None = measurement(
        "Width and height of what the whole picture shows, measured with a ruler, mm.",
        None,
        unit="mm",
        changed="its scale is checked against another field",
    )
    calibrated: Calibration | None = measurement(
        "Its last calibration.", None, changed="the age of its calibration counts from another day"
    )
    light: Light | None = setting(
        "Its lighting.",
        None,
        changed="pictures are lit otherwise where no recognition has its own light",
    )
    room_light: bool = setting(
        "Whether room lamps, which flicker with the mains, light its picture too.",
        False,
        changed="its exposure is checked against the flicker of room lamps",
    )
    moving_mm_s: float | None = setting(
        "Speed at which pictures are taken in motion, mm/s; none if they are taken at rest.",
        None,
        unit="mm/s",
        gt=0,
        changed="its pictures may be smeared by another length",
    )
    controls: dict[ControlName, int] | None = setting(
        "Device controls by their V4L2 or USB Video Class name, in the units of that control. "
        "Each has a whole number: `gain: ~` is no value; leave a control out to describe none.",
        None,
        fingerprint=True,
        examples=[{"auto_exposure": 1, "exposure_time_absolute": 100}],
    )
    reported: dict[ControlName, ReportedControl] = note(
        "Range and default of each control, as the device reports them.",
        {},
        changed="its controls are checked against other ranges and defaults",
    )
    seen: Day | None = note("The day on which the device's own listing was last compared.")
    derived: dict[str, str] = derived()

    @field_validator("controls")
    @classmethod
    def _named_once(cls, controls: dict[str, int] | None) -> dict[str, int] | None:
        """Refuse one control under its present and an older name."""
        for name in controls or {}:
            present = present_name(name)
            if present != name and present in (controls or {}):
                raise ValueError(f"{name} is the older name of {present}: one control is set twice")
        return controls


class Spindle(Described):
    """A turning vacuum axis on the head."""

    offset_from_camera: Point = measurement("Tool point minus head position, mm.", unit="mm")
    rotation: Limits2 = measurement(
        "How far it turns, degrees.", [-180, 180], unit="deg", examples=[[-180, 180]]
    )
    tip_eccentricity_mm: float | None = measurement(
        "Radius of the circle that the tip draws when it turns, mm.", None, unit="mm", ge=0
    )
    carries: str | None = setting("The nozzle on it at the start.", None, names="nozzles")
    diameter_mm: float | None = measurement(
        "Diameter of the spindle above its nozzle, mm.", None, unit="mm", gt=0
    )
    measured: Day | None = note("The day on which its range and eccentricity were measured.")


class Nozzle(Described):
    """A changeable tip."""

    tip_outer_mm: float = measurement("Outer diameter of the tip, mm.", unit="mm", gt=0)
    bore_mm: float = measurement("Diameter of the bore, mm.", unit="mm", gt=0)
    length_mm: float | None = measurement("Length below the spindle, mm.", None, unit="mm", gt=0)
    empty_kpa: float | None = setting(
        "Gauge pressure that shows an empty tip, kPa; vacuum is negative.", None, unit="kPa", le=0
    )
    held_kpa: float | None = setting(
        "Gauge pressure that shows a held part, kPa; vacuum is negative.", None, unit="kPa", le=0
    )
    measured: Day | None = note("The day on which its sizes and thresholds were measured.")


class RackApproach(Described):
    """The move of the head into a rack place."""

    direction: Direction = setting("Direction of the move.")
    distance_mm: float = setting("Length of the move, mm.", unit="mm", gt=0)


class RackPlace(Point3):
    """A place in which a nozzle is parked."""

    nozzle: str | None = setting("The nozzle that belongs here.", None, names="nozzles")
    approach: RackApproach | None = setting("The move of the head into it.", None)


class Vacuum(Described):
    """The vacuum supply."""

    pump_kpa: float = measurement("Gauge pressure of the pump, kPa; negative.", unit="kPa", le=0)
    measured: Day | None = note("The day on which it was measured.")


class FeederRow(Described):
    """A row of slots for feeders."""

    slots: int = setting("Number of slots, the first is 1.", gt=0, le=1000)
    first: Point3 = measurement("Pick position of slot 1, mm.", unit="mm")
    step: Point = measurement("From one slot to the next, mm.", unit="mm")
    feed_direction: float = setting(
        "Direction in which pockets move, machine frame, degrees counter-clockwise from +x.",
        unit="deg",
    )


class Obstacle(Described):
    """A fixed thing inside the travel."""

    x: Limits2 = measurement("Its extent along x, mm.", unit="mm")
    y: Limits2 = measurement("Its extent along y, mm.", unit="mm")
    top_z: float = measurement("Height of its top, mm.", unit="mm")


class Approach(Described):
    """The last move before a position, always from the same side."""

    direction: list[Direction] = setting("Directions of the last move.", min_length=1)
    distance_mm: float = setting("Length of the last move, mm.", unit="mm", gt=0)


class Reversal(Described):
    """Lost motion of each axis when it reverses (ISO 230 reversal value)."""

    x: float | None = measurement("Along x, mm.", None, unit="mm", ge=0)
    y: float | None = measurement("Along y, mm.", None, unit="mm", ge=0)
    rotation: float | None = measurement("Of turning, degrees.", None, unit="deg", ge=0)
    measured: Day | None = note("The day on which it was measured.")


class Repeats(Described):
    """How closely the machine comes back to a place, from a log of repeated measurements."""

    x_mm: float | None = measurement("Standard deviation along x, mm.", None, unit="mm", ge=0)
    y_mm: float | None = measurement("Standard deviation along y, mm.", None, unit="mm", ge=0)
    pose_mm: float | None = measurement(
        "Pose repeatability RP of ISO 9283, mm.", None, unit="mm", ge=0
    )
    samples: int | None = note("How many measurements it is from.", gt=0)
    measured: Day | None = note("The day of the last measurement.")


class Drift(Described):
    """A cycle in which the machine drifts, peak to peak."""

    x_mm: float | None = measurement("Along x, peak to peak, mm.", None, unit="mm", ge=0)
    y_mm: float | None = measurement("Along y, peak to peak, mm.", None, unit="mm", ge=0)
    period_s: float | None = measurement("Its period, s.", None, unit="s", gt=0)
    measured: Day | None = note("The day on which it was measured.")


class Event(Described):
    """Something that was done to the machine."""

    date: Day = note("The day on which it was done.", ...)
    touched: list[str] = note(
        "What it touched: axes (`x`, `y`, `z`, `rotation`) or paths such as `cameras.up`.",
        [],
        examples=[["x", "y"], ["cameras.up"]],
    )
    note: str | None = note("What was done.")


class Machine(Described):
    """One placement machine, whatever controller runs it."""

    describes: Literal["machine"] = note("The kind of this document.", ...)
    edition: Literal[1] = note("The edition of the description.", ...)
    travel: Travel = measurement(
        "Axis limits.", changed="places near the end of the travel may be out of reach"
    )
    traverse_z: float = measurement("Travelling height of the nozzle's lower end, mm.", unit="mm")
    derived: dict[str, str] = derived()
    rest: Point | None = measurement(
        "Where the head waits.", None, changed="the head waits at another place"
    )
    mains_hz: Literal[50, 60] | None = setting(
        "Mains frequency, Hz: lamps flicker at twice this.",
        None,
        unit="Hz",
        changed="exposures are checked against another flicker",
    )
    motion: Motion | None = setting(
        "Speeds, accelerations and waits.",
        None,
        changed="moves take another time; faster ones may shift parts on the nozzle",
    )
    approach: Approach | None = setting("How every position is approached.", None)
    reversal: Reversal | None = measurement("Lost motion of each axis.", None)
    repeatability: Repeats | None = measurement(
        "How closely it comes back to a place.",
        None,
        changed="the capability of jobs is computed from another spread",
    )
    drift: Drift | None = measurement(
        "The cycle in which it drifts.",
        None,
        changed="the drift of a run is computed from another cycle",
    )
    squareness_deg: float | None = measurement(
        "Angle between the axes minus 90, degrees.", None, unit="deg"
    )
    home_mark: HomeMark | None = measurement(
        "The fiducial that sets zero.", None, changed="every place is measured from another zero"
    )
    reject_bin: RejectBin | None = measurement(
        "Where a failed part is dropped.",
        None,
        changed="parts that are not found are dropped at another place",
    )
    cameras: dict[Key, Camera] = setting(
        "Cameras by name.", {}, changed="its pictures may be others"
    )
    spindles: dict[Key, Spindle] = setting("Spindles by name.", {})
    nozzles: dict[Key, Nozzle] = setting("Nozzles by name.", {})
    rack: dict[Key, RackPlace] = setting("Rack places by name.", {})
    vacuum: Vacuum | None = measurement(
        "The vacuum supply.", None, changed="parts are held with another force"
    )
    feeder_rows: dict[Key, FeederRow] = setting("Feeder rows by name.", {})
    obstacles: dict[Key, Obstacle] = measurement(
        "Fixed things inside the travel, by name.",
        {},
        changed="moves pass it with another clearance",
    )
    events: dict[Key, Event] = note("What was done to the machine, by a name with its date.", {})
