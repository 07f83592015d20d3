"""What is known of a job's fields."""

# What a revision takes over from the one that it corrects.
CARRIED = (
    "unit_id", "technician_id", "day", "started_at", "substance", "charge_min_mg", "charge_max_mg", "complaint",
    "identified_as", "identified_how", "purity_percent", "system_opened", "repairs", "leak_method", "leak_detector",
    "leak_result", "parts", "compressor_drained_ul", "accumulator_drained_ul", "static_said", "static_pa",
    "evacuation_started", "evacuation_ended", "vacuum_said", "vacuum_pa", "hold_started", "hold_ended",
    "hold_start_said", "hold_start_pa", "hold_end_said", "hold_end_pa", "ambient_c", "vent_c", "humidity_percent",
    "low_side_said", "high_side_said", "note", "reasons",
)  # fmt: skip


EDITABLE = frozenset(CARRIED) - {"unit_id", "technician_id", "started_at"} | {"correction_note", "unit", "technician"}
