"""The form that attaches a file, on the page of what it belongs to."""

from django import forms

from inventory.shop.forms import OnceForm


class FileForm(OnceForm):
    title = forms.CharField(label="What it is", max_length=120, required=False)
    file = forms.FileField(
        label="File: PDF or picture",
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/*"}),
        error_messages={"required": "Choose a file."},
    )
