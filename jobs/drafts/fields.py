"""What is known of each field of a job beside its column (models.py), a line a field. Pure: no Django here.

From this table come the forms of the steps, the facts of the signed page and of the job sheet, what the voucher says,
and what a correction carries over. A new field is a line in the model, a line here, and a migration.
"""

from dataclasses import dataclass


@dataclass(frozen=True)
class JobField:
    """step: of the job page, whose form asks for it; blank: no form does. section: one of SECTIONS; blank: it stands
    in the head of signed page and sheet, or on neither.

    label: on the form, where the column's own name is not enough; title: on paper, where it is another.
    behind, joined: the field behind whose value it stands on paper, and how, e.g. `, by {}`; moot: where that value is
    this one, it has nothing to say there.
    unit, least, most: of a number. gauge: how a reading that is typed with its unit is understood, `vacuum` or
    `pressure`; read_from: such a reading, of which this is the figure. tap: what the button says that keeps a moment;
    one that stands behind another may not come before it. mark: stands on paper only where it is set.
    editable: in a draft. carried: over to the revision that corrects it. personal: words of any kind, which may hold
    names.
    """

    name: str
    step: str = ""
    section: str = ""
    label: str = ""
    title: str = ""
    behind: str = ""
    joined: str = ", {}"
    moot: str = ""
    unit: str = ""
    least: float | None = None
    most: float | None = None
    gauge: str = ""
    read_from: str = ""
    tap: str = ""
    mark: bool = False
    editable: bool = True
    carried: bool = True
    personal: bool = False


SECTIONS = {
    "found": "Found and repaired",
    "tested": "Pressure test",
    "evacuation": "Evacuation and hold",
    "reckoned": "How the work is reckoned",
    "after": "Performance after the work",
    "note": "Note",
}
SPAN = " to {}"  # of what begins with one field and ends with the one behind it

FIELDS = (
    JobField("unit"),
    JobField("technician"),
    JobField("started_at", editable=False),
    JobField("day", "start", label="Day of the work"),
    JobField("substance", "start", label="Refrigerant on the label"),
    JobField("charge_min_mg", "start", unit="mg"),
    JobField("charge_max_mg", "start", unit="mg"),
    JobField("complaint", "start", "found", title="Customer says", personal=True),
    JobField("unpaid", "start", "reckoned", mark=True),
    JobField("identified_as", "identify", "found", title="Identified"),
    JobField("identified_how", "identify", "found", behind="identified_as", joined=", by {}"),
    JobField("purity_percent", "identify", "found", unit="%", least=0, most=100),
    JobField("system_opened", "repair", "found", title="System opened", mark=True),
    JobField("parts", "repair", "found"),
    JobField("compressor_drained_ul", "repair", "found", title="Compressor drained", unit="uL"),
    JobField("accumulator_drained_ul", "repair", "found", title="Accumulator drained", unit="uL"),
    JobField("repairs", "repair", "found", personal=True),
    JobField("leak_result", "repair", "found"),
    JobField("leak_method", "repair", "found", behind="leak_result", moot="not checked"),
    JobField("leak_detector", "repair", "found", behind="leak_result", moot="not checked"),
    JobField("test_medium", "test", "tested"),
    JobField("test_other", "test", "tested", behind="test_medium", joined=": {}"),
    JobField("test_started", "test", "tested", title="Under pressure", tap="Test pressure is reached now"),
    JobField("test_start_said", "test", "tested", title="Pressure", gauge="pressure"),
    JobField("test_start_pa", unit="Pa", read_from="test_start_said"),
    JobField("test_start_c", "test", "tested", title="Temperature", unit="°C", least=-40, most=70),
    JobField("test_ended", "test", "tested", behind="test_started", joined=SPAN, tap="Read it again now"),
    JobField("test_end_said", "test", "tested", behind="test_start_said", joined=SPAN, gauge="pressure"),
    JobField("test_end_pa", unit="Pa", read_from="test_end_said"),
    JobField("test_end_c", "test", "tested", behind="test_start_c", joined=SPAN, unit="°C", least=-40, most=70),
    JobField(
        "evacuation_c",
        "evacuate",
        "evacuation",
        label="Temperature of the air at the unit",
        title="Air at the unit",
        unit="°C",
        least=-40,
        most=70,
    ),
    JobField("evacuation_started", "evacuate", "evacuation", title="Pump", tap="Pump starts now"),
    JobField(
        "evacuation_ended", "evacuate", "evacuation", behind="evacuation_started", joined=SPAN, tap="Pump stops now"
    ),
    JobField("vacuum_said", "evacuate", "evacuation", gauge="vacuum"),
    JobField("vacuum_pa", "", "evacuation", behind="vacuum_said", joined=" ({})", unit="Pa", read_from="vacuum_said"),
    JobField("hold_started", "evacuate", "evacuation", title="Hold", tap="Hold starts now"),
    JobField("hold_start_said", "evacuate", "evacuation", title="Readings", gauge="vacuum"),
    JobField("hold_start_pa", unit="Pa", read_from="hold_start_said"),
    JobField("hold_ended", "evacuate", "evacuation", behind="hold_started", joined=SPAN, tap="Hold ends now"),
    JobField("hold_end_said", "evacuate", "evacuation", behind="hold_start_said", joined=SPAN, gauge="vacuum"),
    JobField("hold_end_pa", unit="Pa", read_from="hold_end_said"),
    JobField("recover_why", "recover", "reckoned", title="The recovery is"),
    JobField("charge_why", "charge", "reckoned", title="The charge is"),
    JobField("same_leak", "charge", "reckoned", mark=True),
    JobField("seasonal_statement", "charge", "reckoned", title="Seasonal variance", personal=True),
    JobField("ambient_c", "check", "after", title="Ambient", unit="°C", least=-40, most=70),
    JobField("vent_c", "check", "after", title="Vent", unit="°C", least=-40, most=70),
    JobField("humidity_percent", "check", "after", title="Humidity", unit="%", least=0, most=100),
    JobField("static_said", "check", "after", title="At rest", gauge="pressure"),
    JobField("static_pa", unit="Pa", read_from="static_said"),
    JobField("low_side_said", "check", "after", gauge="pressure"),
    JobField("high_side_said", "check", "after", gauge="pressure"),
    JobField("note", "check", "note", label="Note on the job", title="On the job", personal=True),
    JobField("reasons", personal=True),
    JobField("correction_note", carried=False, personal=True),
)
BY_NAME = {one.name: one for one in FIELDS}

# The frame that a job's fields stand in: what it is, what became of it, and what signing adds up.
FRAME = frozenset(
    {
        "id",
        "number",
        "revision",
        "state",
        "version",
        "key",
        "corrects",
        "loaded",
        "follows",
        "voucher",
        "signed_at",
        "signed_by",
        "certificate",
        "verdicts",
        "charged_mg",
        "recovered_mg",
        "line_loss_mg",
        "oil_added_ul",
        "oil_drained_ul",
    }
)

EDITABLE = frozenset(one.name for one in FIELDS if one.editable)
CARRIED = tuple(one.name for one in FIELDS if one.carried)
STEPS = tuple(dict.fromkeys(one.step for one in FIELDS if one.step))
# Each clock of a job with the one that must have run before it.
CLOCKS = {one.name: one.behind for one in FIELDS if one.tap}
# Readings of which the figure is kept too: the name of the one to that of the other.
FIGURE_OF = {one.read_from: one.name for one in FIELDS if one.read_from}


def asked_in(step: str) -> tuple[JobField, ...]:
    """The fields that the form of a step asks for, in their order."""
    return tuple(one for one in FIELDS if one.step == step)
