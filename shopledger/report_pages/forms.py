"""The period and the key of a report."""

from django import forms

from inventory.shop.clock import today
from inventory.shop.forms import DayInput
from shopledger.reporting.periods import quarter
from shopledger.reporting.report import Period, Report

WRONG = "This is no day of the calendar; write it as 2026-03-02."


class PeriodForm(forms.Form):
    first = forms.DateField(label="From", widget=DayInput, error_messages={"invalid": WRONG, "required": WRONG})
    last = forms.DateField(label="To", widget=DayInput, error_messages={"invalid": WRONG, "required": WRONG})
    by = forms.ChoiceField(label="Split by", required=False)

    def __init__(self, data, *, report: Report):
        data = data.copy()
        if "first" not in data or "last" not in data:
            span = quarter(today())
            data["first"], data["last"] = span.first.isoformat(), span.last.isoformat()
        super().__init__(data)
        self.fields["by"].choices = [("", "nothing"), *((key, key) for key in report.keys)]

    def clean(self) -> dict:
        data = super().clean()
        if data.get("first") and data.get("last") and data["first"] > data["last"]:
            self.add_error("last", "The period ends before it begins; turn the two days round.")
        return data

    @property
    def period(self) -> Period:
        return Period(self.cleaned_data["first"], self.cleaned_data["last"])
