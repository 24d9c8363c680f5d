"""Rules about cameras, their pictures and recognitions."""

from jobcheck.rules.base import Rule
from jobcheck.rules.cameras import cameras, controls, optics, pictures, recognitions, tuning, usb

RULES: tuple[Rule, ...] = (
    cameras.camera_missing,
    cameras.camera_device_ambiguous,
    cameras.camera_calibration_outdated,
    cameras.camera_scale_contradicted,
    controls.camera_controls_at_default,
    controls.camera_automatic_on,
    controls.camera_controls_missing,
    controls.camera_control_impossible,
    pictures.image_directions_wrong,
    pictures.picture_flickers,
    pictures.picture_in_motion,
    usb.usb_bandwidth_exceeded,
    recognitions.recognition_light_missing,
    tuning.recognition_tuning_stale,
    recognitions.recognition_size_contradicts_outline,
    recognitions.recognition_too_tolerant,
    recognitions.light_or_threshold_at_limit,
    optics.part_exceeds_field,
    optics.picture_too_coarse,
    optics.search_beyond_field,
    optics.scale_at_other_height,
)
