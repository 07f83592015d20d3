"""What kinds of sheet there are: which fields each has, and which of these it cannot do without. Pure."""

from dataclasses import dataclass


@dataclass(frozen=True)
class SheetKind:
    """fields: those a column may say. needs: of each tuple a column must say one. answered: fields that are asked for
    once where no column says them. table: the fewest fields by which a table is known."""

    code: str
    label: str
    fields: tuple[str, ...]
    needs: tuple[tuple[str, ...], ...]
    told_by: tuple[str, ...]


ARRIVING = (
    "container",
    "count",
    "kind",
    "substance",
    "grade",
    "net",
    "gross",
    "tare",
    "water_capacity",
    "retest_due",
    "location",
    "date",
    "measure",
    "note",
)

SHEET_KINDS = {
    kind.code: kind
    for kind in (
        SheetKind(
            "stock",
            "stock: what stands in the store",
            (*ARRIVING, "supplier", "document", "price"),
            (("substance",), ("net", "gross")),
            ("substance", "net", "gross", "tare", "container", "count", "kind", "location", "retest_due"),
        ),
        SheetKind(
            "deliveries",
            "deliveries: what came from suppliers",
            (*ARRIVING, "document", "supplier", "price", "received_by"),
            (("substance",), ("net", "gross")),
            ("substance", "net", "supplier", "document", "count", "date", "price", "kind"),
        ),
        SheetKind(
            "jobs",
            "jobs: what each job took and gave back",
            (
                "job",
                "date",
                "time",
                "technician",
                "customer",
                "unit",
                "vin",
                "make",
                "model",
                "substance",
                "charge_min",
                "charge_max",
                "factory",
                "charged",
                "recovered",
                "before",
                "after",
                "container",
                "into",
                "oil",
                "oil_added",
                "scale",
                "measure",
                "note",
            ),
            (("date",), ("technician",), ("unit", "vin"), ("charged", "recovered", "before", "oil_added")),
            (
                "date",
                "technician",
                "customer",
                "unit",
                "vin",
                "charged",
                "recovered",
                "job",
                "before",
                "after",
                "factory",
            ),
        ),
        SheetKind(
            "people",
            "people and their certificates",
            ("username", "name", "role", "scheme", "certificate", "issuer", "issued", "expires", "note"),
            (("username", "name"),),
            ("username", "name", "role", "scheme", "certificate", "issuer", "issued", "expires"),
        ),
        SheetKind(
            "units",
            "units and their customers",
            (
                "customer",
                "unit",
                "vin",
                "make",
                "model",
                "year",
                "substance",
                "factory",
                "charge_min",
                "charge_max",
                "oil",
                "phone",
                "address",
                "measure",
                "note",
            ),
            (("unit", "vin"),),
            ("customer", "unit", "vin", "make", "model", "year", "substance", "factory", "phone", "address"),
        ),
        SheetKind(
            "counts",
            "counts: what the scale said",
            ("date", "container", "gross", "scale", "by", "substance", "location", "measure", "note"),
            (("container",), ("gross",)),
            ("container", "gross", "date", "by", "scale"),
        ),
    )
}

CALLED = {
    "container": "its code",
    "count": "how many",
    "kind": "kind of container",
    "substance": "refrigerant or oil",
    "net": "what is in it (net)",
    "gross": "weight with its contents (gross)",
    "tare": "empty weight (tare)",
    "water_capacity": "water capacity",
    "retest_due": "retest due",
    "received_by": "received by",
    "price": "price",
    "factory": "charge by the label",
    "charge_min": "least charge",
    "charge_max": "most charge",
    "charged": "charged",
    "recovered": "recovered",
    "before": "weight before",
    "after": "weight after",
    "into": "recovered into",
    "oil_added": "oil added",
    "unit": "vehicle or unit",
    "vin": "VIN",
    "job": "job number",
    "measure": "unit of measure",
    "certificate": "certificate number",
    "scheme": "kind of certificate",
    "by": "counted by",
    "document": "delivery note or invoice",
}


def called(field: str) -> str:
    """A field in words."""
    return CALLED.get(field, field.replace("_", " "))
