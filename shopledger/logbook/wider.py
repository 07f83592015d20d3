"""The files and columns of a log beyond those that a shop writes by hand: what `export_log` writes, so that nothing of
a shop is dropped. All are optional. Pure: no Django here.
"""

from jobs.drafts.fields import FIELDS

EVERY = ("document", "note")  # what any voucher may say of itself
MARKED = ("test_pressure", "stamped_most", "deposit", "label_says", "batch", "facility", "label_statement")
ITS_OWN = {"unit", "technician", "day", "substance", "charge_min_mg", "charge_max_mg", "correction_note"}
JOB = tuple(one.name for one in FIELDS if one.name not in ITS_OWN)
UNIT = (
    "kind",
    "exactly",
    "sealed",
    "dwelling",
    "leak_detection",
    "light_commercial",
    "use",
    "process_share_percent",
    "process_shutdown",
    "open_drive",
    "bound",
    "military",
    "below_minus_50",
    "exemption_proof",
    "installed_on",
    "retired_on",
    "name",
    "plate",
    "vin",
    "make",
    "model",
    "year",
    "refrigerant",
    "designed_for",
    "charge_min_mg",
    "charge_nominal_mg",
    "charge_max_mg",
    "label_confirmed",
    "oil",
    "oil_amount_ul",
    "high_voltage_compressor",
    "ports",
    "note",
)
FULL_CHARGE = ("from_day", "how", "mg", "range_least_mg", "range_most_mg", "reason")
LEAK_EVENT = (
    "kind",
    "day",
    "at",
    "passed",
    "all_leaks",
    "evacuated",
    "until",
    "released_mg",
    "cause",
    "places",
    "method",
    "parts",
    "note",
    "person_said",
    "certificate",
)
SCALE_CHECK = ("reference_mg", "as_found_mg", "as_left_mg", "reference", "note", "by")
MACHINE = (
    "make",
    "model",
    "serial",
    "made_on",
    "standards",
    "refrigerants",
    "does",
    "used_on",
    "statement_by",
    "statement_sent_on",
    "statement_to",
    "statement_copy",
    "note",
    "retired_on",
)

# file -> columns that its rows may have besides.
COLUMNS: dict[str, tuple[str, ...]] = {
    "shop.csv": ("currency", "usual_scale"),
    "opening.csv": (*MARKED, *EVERY, "received_by", "entry"),
    "receipts.csv": (*MARKED, "note", "entry"),
    "moves.csv": EVERY,
    "decants.csv": EVERY,
    "jobs.csv": ("certificate", *JOB),
    "job_lines.csv": ("time",),
    "regrades.csv": ("document", "machine", "standard"),
    "counts.csv": ("document",),
    "shipments.csv": ("by", "note", "goes", "entry", "sale_end", "sale_equipment", "sale_use", "sale_seen"),
    "losses.csv": ("document", "scale", "before", "after"),
    "retirements.csv": (*EVERY, "taken_by", "statement"),
}
# Files of their own; those of events stand behind the others of their moment.
REGISTER: dict[str, tuple[str, ...]] = {
    "customers.csv": ("customer*", "name*", "phone", "address", "note"),
    "premises.csv": ("premises*", "customer*", "name*", "address", "note"),
    "methods.csv": ("premises*", "method*", "from_day*", "reason"),
    "units.csv": ("unit*", "customer", "premises", *UNIT),
    "full_charges.csv": ("unit*", *FULL_CHARGE),
    "scale_checks.csv": ("scale*", "day*", *SCALE_CHECK),
    "machines.csv": ("make*", "model*", "serial*", "container", *MACHINE[3:]),
    "machine_checks.csv": ("serial*", "day*", "passed*", "next_due", "note", "by"),
    "container_checks.csv": ("container*", "day*", "leaks*", "note", "by"),
    "leak_events.csv": ("unit*", "job", "person", *LEAK_EVENT),
    "reasons.csv": ("date*", "container*", "role*", "reason*", "note", "by"),
}
EVENTS: dict[str, tuple[str, ...]] = {
    "tares.csv": ("date*", "container*", "tare*", "by", "note"),
    "apart.csv": (
        "date*",
        "act*",
        "container*",
        "customer",
        "kind",
        "substance",
        "grade",
        "gross",
        "tare",
        "scale",
        "location",
        "water_capacity",
        "retest_due",
        "stays",
        "identified_by",
        "purity_percent",
        "tare_was",
        "by",
        "note",
    ),
}
