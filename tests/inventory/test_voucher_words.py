"""What a voucher says, in words."""

from inventory.vouchers.wording import in_words


def test_a_detail_is_said_in_words():
    said = in_words(
        {
            "job": "J-1",
            "technician": "tess",
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
        "Technician": "tess",
        "Containers": "CAN-1",
        "Codes": "A, B",
        "Customer": "Ada Example (C-000017)",
        "To": "Frost Supply (P-000003)",
        "Supplier": "P-000009",
    }


def test_a_count_s_reasons_are_said_for_each_container():
    assert in_words({"reasons": {"A": "leaked", "B": "unknown"}}, {}) == {"Reasons": "A: leaked; B: unknown"}
