"""Rules about cameras, their pictures and recognitions."""

from jobcheck.rules.base import Rule
from jobcheck.rules.cameras import cameras, controls, optics, pictures, recognitions, tuning, usb

RULES: tuple[Rule, ...] = (
    cameras.camera_missing,
    cameras.camera_device_ambiguous,
    cameras.camera_resolution_not_calibrated,
    cameras.camera_scale_contradicted,
    cameras.camera_calibration_old,
    controls.camera_controls_at_default,
    controls.camera_automatic_on,
    controls.camera_controls_missing,
    controls.camera_control_out_of_range,
    controls.camera_exposure_exceeds_frame,
    pictures.image_directions_wrong,
    pictures.picture_flickers,
    pictures.picture_wait_short,
    pictures.moving_picture_blurred,
    usb.usb_bandwidth_exceeded,
    recognitions.recognition_from_above,
    recognitions.recognition_light_missing,
    tuning.recognition_tuning_stale,
    recognitions.recognition_size_contradicts_outline,
    recognitions.recognition_too_tolerant,
    recognitions.recognition_threshold_out_of_range,
    recognitions.light_at_limit,
    optics.part_exceeds_field,
    optics.picture_too_coarse,
    optics.search_beyond_field,
    optics.scale_at_other_height,
)
