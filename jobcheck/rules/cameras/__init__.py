"""Rules about cameras, their pictures and recognitions."""

from jobcheck.rules.base import Rule
from jobcheck.rules.cameras import cameras, controls, optics, pictures, recognitions, tuning, usb

RULES: tuple[Rule, ...] = (
    cameras.camera_missing,
    cameras.camera_device_shared,
    cameras.camera_device_ambiguous,
    cameras.camera_resolution_not_calibrated,
    cameras.camera_scale_uneven,
    cameras.camera_scale_contradicts_field,
    cameras.camera_calibration_old,
    controls.camera_controls_at_default,
    controls.camera_automatic_on,
    controls.camera_frame_rate_may_sink,
    controls.camera_controls_missing,
    controls.camera_control_out_of_range,
    controls.camera_exposure_exceeds_frame,
    pictures.image_directions_on_one_axis,
    pictures.image_mirrored,
    pictures.image_turn_contradicted,
    pictures.exposure_beside_flicker,
    pictures.power_line_contradicts_mains,
    pictures.moving_picture_blurred,
    usb.stream_exceeds_usb,
    usb.cameras_exceed_host,
    recognitions.recognition_from_above,
    recognitions.recognition_light_missing,
    tuning.recognition_tuning_stale,
    recognitions.recognition_size_contradicts_outline,
    recognitions.recognition_threshold_out_of_range,
    optics.part_exceeds_field,
    optics.feature_below_pixels,
    optics.pixel_coarse_for_shift,
    optics.scale_at_other_height,
)
