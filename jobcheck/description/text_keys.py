"""Which keys of each kind of document hold text, so that `100n` and `0603` stay as written.

The models say the same, and a test compares both. It stands here too so that a document can be
read before the models are loaded.
"""

_SHOP = """
    because bridge describes disabled feeders jobs machine note parts
"""
_MACHINE = """
    aim camera carries channel describes direction host menu note nozzle pixel_format
    port right serial touched up usb_id usb_speed
"""
_PARTS = """
    camera case case_system describes light_channel maker_number moisture_level note
    nozzles outline pad1_at_zero pin1_at_zero pin1_means recognition tuned_under value
    zero
"""
_FEEDERS = """
    carrier describes lot maker_number measured_with note part pin1 row
"""
_JOB = """
    bottom decimal delimiter describes encoding file footprint format half_turned
    maker_number measured_with not_fitted note part reference side skip underside units
    value zero
"""
_BRIDGE = """
    apart at by delimiter describes encoding file key_column kind namespaces note off on
    unit
"""

TEXT_KEYS: dict[str, frozenset[str]] = {
    "shop": frozenset(_SHOP.split()),
    "machine": frozenset(_MACHINE.split()),
    "parts": frozenset(_PARTS.split()),
    "feeders": frozenset(_FEEDERS.split()),
    "job": frozenset(_JOB.split()),
    "bridge": frozenset(_BRIDGE.split()),
}
"""Kind -> keys whose plain scalars are taken as they are written.

A key that is text in one place and a number in another is not among them: there, text that looks
like a number must be quoted.
"""
