"""Every rule, written down one by one: the order here is the order of `jobcheck rules`."""

from jobcheck.rules import (
    bodies,
    camera_controls,
    cameras,
    carriers,
    corrections,
    edges,
    feeders,
    fiducials,
    heights,
    known_good,
    links,
    lists,
    motion,
    nozzles,
    optics,
    pads,
    parts,
    picks,
    pictures,
    placements,
    polarity,
    recognitions,
    spindles,
    tips,
    upkeep,
    usb,
    vacuum,
)
from jobcheck.rules.base import Rule

RULES: tuple[Rule, ...] = (
    # links
    links.name_unknown,
    links.entries_unused,
    links.event_touches_nothing,
    links.pattern_brings_nothing,
    # known-good
    known_good.camera_settings_lost,
    # cameras
    cameras.camera_missing,
    cameras.camera_device_shared,
    cameras.camera_device_ambiguous,
    cameras.camera_resolution_not_calibrated,
    cameras.camera_scale_uneven,
    cameras.camera_scale_contradicts_field,
    cameras.camera_calibration_old,
    # camera controls
    camera_controls.camera_controls_at_default,
    camera_controls.camera_automatic_on,
    camera_controls.camera_frame_rate_may_sink,
    camera_controls.camera_controls_missing,
    camera_controls.camera_control_out_of_range,
    camera_controls.camera_exposure_exceeds_frame,
    # pictures
    pictures.image_directions_on_one_axis,
    pictures.image_mirrored,
    pictures.image_turn_contradicted,
    pictures.exposure_beside_flicker,
    pictures.power_line_contradicts_mains,
    pictures.moving_picture_blurred,
    # usb
    usb.stream_exceeds_usb,
    usb.cameras_exceed_host,
    # recognitions
    recognitions.recognition_from_above,
    recognitions.recognition_light_missing,
    recognitions.recognition_tuning_stale,
    recognitions.recognition_never_stamped,
    recognitions.recognition_size_contradicts_outline,
    recognitions.recognition_threshold_out_of_range,
    # optics
    optics.part_exceeds_field,
    optics.feature_below_pixels,
    optics.pixel_coarse_for_shift,
    optics.scale_at_other_height,
    # parts
    parts.height_missing,
    parts.height_zero,
    parts.height_implausible,
    parts.chip_code_contradicts_body,
    parts.pin1_missing,
    # nozzles
    nozzles.nozzle_missing,
    nozzles.tip_wider_than_body,
    nozzles.nozzle_claimed_twice,
    nozzles.rack_places_coincide,
    nozzles.nozzle_out_of_rack,
    nozzles.carried_nozzle_without_place,
    # tips
    tips.bore_wider_than_tip,
    tips.tip_shows_beyond_body,
    tips.tip_eccentricity_exceeds_shift,
    # vacuum
    vacuum.part_too_heavy_for_nozzle,
    vacuum.vacuum_thresholds_not_apart,
    vacuum.vacuum_threshold_out_of_reach,
    vacuum.pressure_below_vacuum,
    # spindles
    spindles.spindles_too_near,
    spindles.nozzle_changes_many,
    # feeders
    feeders.feeder_slot_shared,
    feeders.feeder_covers_neighbour,
    feeders.feeder_slot_outside_row,
    feeders.part_without_feeder,
    feeders.feeder_stock_unknown,
    # picks
    picks.feeder_pick_off_slot,
    picks.feeder_pick_outside_travel,
    picks.pick_height_copied,
    # carriers
    carriers.tape_advance_contradicts_pitch,
    carriers.tape_width_not_standard,
    carriers.tape_pitch_not_standard,
    carriers.carrier_undescribed,
    carriers.carrier_contradicted,
    # polarity
    polarity.pick_rotation_half_turn,
    polarity.pick_rotation_quarter_turn,
    polarity.pick_rotation_off,
    polarity.tape_pin1_impossible,
    polarity.tape_pin1_unknown,
    polarity.reel_orientation_unseen,
    # pads
    pads.list_zero_contradicts_pads,
    pads.bottom_convention_contradicts_pads,
    pads.outline_drawing_contradicts_pads,
    pads.placement_turned_from_pads,
    # corrections
    corrections.polarity_errors_cancel,
    corrections.feeder_moved_across_rows,
    corrections.pick_rotation_outdated,
    # lists
    lists.reference_repeated,
    lists.placement_without_part,
    lists.side_without_placements,
    lists.bottom_convention_missing,
    lists.bill_item_not_placed,
    lists.placement_not_in_bill,
    lists.bill_contradicts_placements,
    # placements
    placements.placement_outside_board,
    placements.placements_in_other_unit,
    placements.placements_mirrored,
    placements.placements_origin_elsewhere,
    placements.rotation_unusual,
    # bodies
    bodies.bodies_overlap,
    bodies.bodies_too_close,
    bodies.body_over_hole,
    bodies.body_over_fiducial,
    # edges
    edges.body_beyond_edge,
    edges.overhang_over_panel,
    # fiducials
    fiducials.fiducials_too_few,
    fiducials.fiducial_outside_board,
    fiducials.fiducial_size_unusual,
    fiducials.fiducials_unequal,
    fiducials.fiducial_ring_narrow,
    fiducials.fiducial_near_edge,
    fiducials.fiducials_close_together,
    fiducials.fiducials_in_line,
    fiducials.fiducials_symmetric,
    fiducials.fiducial_look_alike,
    # heights
    heights.traverse_too_low,
    heights.obstacle_in_traverse,
    heights.height_outside_travel,
    heights.place_outside_travel,
    heights.obstacle_outside_travel,
    # motion
    motion.carried_part_strikes_fixture,
    motion.turn_beyond_spindle,
    motion.reject_bin_over_board,
    motion.approach_states_axis_twice,
    motion.approach_shorter_than_reversal,
    motion.height_measured_with_other_nozzle,
    # upkeep
    upkeep.acceptance_unused,
    upkeep.acceptance_run_out,
    upkeep.reason_missing,
    upkeep.rule_unknown,
)

BY_NAME: dict[str, Rule] = {rule.name: rule for rule in RULES}
