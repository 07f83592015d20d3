"""The reports of money: what the stock is worth on the period's last day, and what the period's jobs used."""

from inventory.costing.formulas import Amount
from inventory.ledger.models import Voucher
from inventory.measures.money import plain_money
from inventory.shop.models import Shop
from inventory.supply.costs import USED_UP, Costs, Stock, cost_of_jobs, costs_through
from jobs.drafts.models import Job
from shopledger.reporting.corrections import TAKEN_OFF, counted
from shopledger.reporting.report import MEASURED, Column, Period, Report, ReportTable, called
from shopledger.reports.links import job_links

HELD = "As the stock stands at the end of the last day."


def value(period: Period, _key: str | None) -> ReportTable:
    """One row a substance and grade of which something is held on the last day."""
    costs, currency = costs_through(period.last), Shop.current().currency
    stocks = sorted(costs.stocks.items(), key=lambda one: (one[0].is_oil, one[0]))
    rows = [(stock.code, stock.grade, *_figures(held, currency)) for stock, held in stocks]
    lead = [Column("substance", "Substance"), Column("grade", "Grade")]
    columns = [*lead, *_columns(("held", "Held"), ("value", "Value"))]
    total = _in_all(columns, [held.minor for _, held in stocks if held.priced], currency) if stocks else ()
    notes = (HELD, MEASURED, costs.said, f"Amounts in {currency}.")
    return ReportTable(columns, rows, notes=notes, oils=[stock.is_oil for stock, _ in stocks], total=total)


def job_costs(period: Period, key: str | None) -> ReportTable:
    """One row a job and what it used of one substance and grade; by month one row a month and substance."""
    return _by_month(period) if key == "month" else _by_job(period)


def _used(period: Period) -> tuple[Costs, dict[int, dict[Stock, Amount]], dict[int, dict[Stock, Amount]]]:
    """What the period's jobs used, by voucher, and what is to be taken off: jobs that an earlier period reported and
    that were taken back in this one, at the cost that they had then."""
    costs, used = cost_of_jobs(period.first, period.last)
    gone = {one.number: one.day for one in counted("job", period) if one.sign < 0}
    before = cost_of_jobs(min(gone.values()), period.eve)[1] if gone else {}
    return costs, used, {number: before[number] for number in gone if number in before}


def _by_job(period: Period) -> ReportTable:
    costs, used, gone = _used(period)
    currency = Shop.current().currency
    found = Job.objects.filter(voucher__in=[*used, *gone]).select_related("unit", "voucher")
    rows, links, oils, minors = [], [], [], []
    for job in sorted(found, key=lambda one: (one.voucher_id in gone, one.day, one.voucher_id)):
        sign = -1 if job.voucher_id in gone else 1
        its = (gone if sign < 0 else used)[job.voucher_id]
        for stock, amount in sorted(its.items(), key=lambda one: (one[0].is_oil, one[0])):
            lead = (job.number, job.day, called(job.unit.code, job.unit.title), stock.code, stock.grade)
            rows.append((*lead, *_figures(amount, currency, sign)))
            minors += [sign * amount.minor] if amount.priced else []
            links.append(job_links(job))
            oils.append(stock.is_oil)
    lead = [Column("job", "Job"), Column("date", "Date", "day"), Column("unit", "Unit")]
    columns = [*lead, Column("substance", "Substance"), Column("grade", "Grade"), *_columns(*USED)]
    total = _in_all(columns, minors, currency) if rows else ()
    return ReportTable(columns, rows, notes=_notes(costs, currency, gone), links=links, oils=oils, total=total)


def _by_month(period: Period) -> ReportTable:
    costs, used, gone = _used(period)
    currency = Shop.current().currency
    found: dict[tuple[str, Stock], Amount] = {}
    for spent, amount in costs.spent.items():
        if spent.job in used and spent.cls in USED_UP:
            found.setdefault((spent.month, spent.stock), Amount()).plus(amount)
    reversals = dict(Voucher.objects.filter(reverses__in=gone).values_list("reverses_id", "day"))
    for number, its in gone.items():
        for stock, amount in its.items():
            month = reversals[number].isoformat()[:7]
            found.setdefault((month, stock), Amount()).plus(amount, -1)
    ordered = sorted(found.items(), key=lambda one: (one[0][0], one[0][1].is_oil, one[0][1]))
    rows = [(month, stock.code, stock.grade, *_figures(amount, currency)) for (month, stock), amount in ordered]
    lead = [Column("month", "Month"), Column("substance", "Substance"), Column("grade", "Grade")]
    columns, oils = [*lead, *_columns(*USED)], [stock.is_oil for (_, stock), _ in ordered]
    total = _in_all(columns, [amount.minor for _, amount in ordered if amount.priced], currency) if rows else ()
    return ReportTable(columns, rows, notes=_notes(costs, currency, gone), oils=oils, total=total)


USED = (("used", "Used"), ("cost", "Cost"))
STANDING = "What jobs put into units and lost from hoses, of those that stood at the end of the last day."


def _columns(quantity: tuple[str, str], money: tuple[str, str]) -> list[Column]:
    return [
        Column(*quantity, "quantity"),
        Column("priced", "With a price", "quantity"),
        Column(*money, "decimal"),
        Column("without_price", "Without a price", "quantity"),
    ]


def _figures(amount: Amount, currency: str, sign: int = 1) -> tuple:
    priced, bare = amount.rounded
    cost = plain_money(sign * amount.minor, currency) if amount.priced else None
    return sign * (priced + bare), sign * priced, cost, sign * bare


def _in_all(columns: list[Column], minors: list[int], currency: str) -> tuple:
    """The row of what it comes to, by the amounts as they are printed, blank where nothing has a price. Quantities are
    not summed up: g of one gas and of another are no sum."""
    whole = plain_money(sum(minors), currency) if minors else None
    return ("In all", *(whole if one.kind == "decimal" else None for one in columns[1:]))


def _notes(costs: Costs, currency: str, gone: dict) -> tuple[str, ...]:
    return (STANDING, MEASURED, *([TAKEN_OFF] if gone else []), costs.said, f"Amounts in {currency}.")


ABOUT_VALUE = "What the stock is worth on the last day, and what of it has no price."
ABOUT_COSTS = "What the jobs of a period used of each refrigerant and oil, and what that cost."
VALUE = Report("value", "Stock value", value, (), ABOUT_VALUE, of_money=True)
JOB_COSTS = Report("job-costs", "Costs of jobs", job_costs, ("month",), ABOUT_COSTS, of_money=True)
