"""The form that attaches a file, on the page of what it belongs to."""

import uuid

from django import forms

from inventory.shop.forms import LOST


class FileForm(forms.Form):
    key = forms.UUIDField(widget=forms.HiddenInput, initial=uuid.uuid4, error_messages={"required": LOST})
    title = forms.CharField(label="What it is", max_length=120, required=False)
    file = forms.FileField(
        label="File: PDF or picture",
        widget=forms.FileInput(attrs={"accept": "application/pdf,image/*"}),
        error_messages={"required": "Choose a file."},
    )
