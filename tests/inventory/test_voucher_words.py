"""What a voucher says, in words."""

from inventory.vouchers.wording import in_words


def test_a_detail_is_said_in_words():
    said = in_words(
        {
            "job": "J-1",
            "technician": "tess",
            "technician_said": "Tess Test",
            "vin": "X",
            "entered": {"charge_max_mg": 580_000, "reasons": {"over": "scale drifted"}, "vent_c": "6.5"},
            "shown_in": ["g", "mL"],
            "photos": [["Label", "a" * 64], ["", "b" * 64]],
            "lines": [{}],
            "note": "",
            "containers": {"CAN-1": 340_000},
            "weighings": [[]],
            "codes": ["A", "B"],
            "customer": "C-000017",
            "party": "P-000003",
            "supplier": "P-000009",
        },
        {"C-000017": "Ada Example", "P-000003": "Frost Supply"},
    )
    assert said == {
        "Job": "J-1",
        "Technician's sign-in": "tess",
        "Technician": "Tess Test",
        "Most charge on the label": "580 g",
        "VIN": "X",
        "Reasons": "over: scale drifted",
        "Photos": "Label, photo",
        "Containers": "CAN-1",
        "Codes": "A, B",
        "Customer": "Ada Example (C-000017)",
        "To": "Frost Supply (P-000003)",
        "Supplier": "P-000009",
    }


def test_a_count_s_reasons_are_lists():
    assert in_words({"reasons": {"A": ["leaked", "at the valve"], "B": ["unknown", ""]}}, {}) == {
        "Reasons": "A: leaked, at the valve; B: unknown"
    }
