"""The report of emissions: refrigerant as tonnes of CO2 equivalent, by the rulebook's basis."""

from decimal import Decimal

from django.urls import reverse

from inventory.reference.refrigerants import UnknownRefrigerant, co2e_tonnes, display_gwp, gwp, gwp_source
from inventory.shop.models import Shop
from shopledger.reporting.report import Column, Period, Report, ReportTable
from shopledger.reports import usage

LOST = ("line_loss", "heel_loss", "other_loss", "unexplained_loss")
SHIPPED = ("returned", "reclaimed", "destroyed", "sold")


def emissions(period: Period, _key: str | None) -> ReportTable:
    """One row a refrigerant. t CO2e = GWP x mass, exact, six decimals; blank where no GWP is published."""
    basis = Shop.current().rules.gwp_basis(period.last)
    balance = usage.rows(period)
    names = [column.name for column in balance.columns]
    rows, links = [], []
    for row in balance.rows:
        figures = dict(zip(names, row, strict=True))
        if figures["unit"] == "mL":
            continue
        code = figures["substance"]
        try:
            value, source = gwp(code, basis), gwp_source(code, basis)
        except (UnknownRefrigerant, LookupError):
            value, source = None, None

        def tonnes(*parts: str, code: str = code, figures: dict = figures) -> str | None:
            return _tonnes(code, basis, sum(figures[part] for part in parts))

        rows.append(
            (
                code,
                display_gwp(value) if value is not None else None,
                str(source) if source else "",
                tonnes("charged"),
                tonnes("recovered"),
                tonnes(*LOST),
                tonnes(*SHIPPED),
            )
        )
        links.append({"substance": reverse("report", args=["usage"]) + f"?first={period.first}&last={period.last}"})
    columns = [
        Column("substance", "Substance"),
        Column("gwp", "GWP", "decimal"),
        Column("gwp_source", "Source of the GWP"),
        Column("charged", "Charged, t CO2e", "decimal"),
        Column("recovered", "Recovered, t CO2e", "decimal"),
        Column("lost", "Lost, t CO2e", "decimal"),
        Column("shipped", "Shipped, t CO2e", "decimal"),
    ]
    sources: dict[str, list[str]] = {}
    for row in rows:
        if row[2]:
            sources.setdefault(row[2], []).append(row[0])
    notes = [f"GWP basis of the rulebook on {period.last}: {basis}."]
    notes += [
        f"GWP of {', '.join(codes)}: {source.rstrip('.')}." for source, codes in sources.items()
    ]  # in full; columns are cut
    return ReportTable(columns, rows, notes=notes, links=links)


def _tonnes(code: str, basis: str, mg: int) -> str | None:
    try:
        found = co2e_tonnes(code, basis, mg)
    except (UnknownRefrigerant, LookupError):
        return None
    return None if found is None else f"{found.quantize(Decimal('0.000001')):f}"


ABOUT = "Refrigerant as CO2 equivalent: charged, recovered, lost, sent."
EMISSIONS = Report("emissions", "Emissions", emissions, (), ABOUT)
