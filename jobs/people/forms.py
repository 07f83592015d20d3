"""Forms about people and certificates."""

from django import forms
from django.contrib.auth.password_validation import password_validators_help_texts

from inventory.measures.fields import MassFormField
from inventory.reference.refrigerants import refrigerants
from inventory.shop.forms import DueField, OldDayField, OnceForm
from jobs.people.models import STAFF_CHOICES, Person


class NewPasswordForm(forms.Form):
    password = forms.CharField(
        label="Password",
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        error_messages={"required": "Type a password."},
    )
    repeated = forms.CharField(
        label="Password again",
        strip=False,
        max_length=1000,
        widget=forms.PasswordInput(attrs={"autocomplete": "new-password"}),
        error_messages={"required": "Type the password a second time."},
    )

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["password"].help_text = " ".join(password_validators_help_texts())

    def clean(self) -> dict:
        cleaned = super().clean()
        if {"password", "repeated"} <= cleaned.keys() and cleaned["password"] != cleaned["repeated"]:
            self.add_error("repeated", "The two passwords differ; type the same one twice.")
        return cleaned


class NewPersonForm(NewPasswordForm):
    username = forms.CharField(
        label="Username",
        max_length=150,
        help_text="For signing in. It stands in every record and cannot be changed later.",
        widget=forms.TextInput(
            attrs={"autocomplete": "off", "autocapitalize": "none", "spellcheck": "false", "autofocus": True}
        ),
        error_messages={"required": "Type a username."},
    )
    name = forms.CharField(
        label="Name",
        max_length=150,
        help_text="As it shall stand on a job sheet.",
        widget=forms.TextInput(attrs={"autocomplete": "off"}),
        error_messages={"required": "Type a name."},
    )
    role = forms.ChoiceField(label="Role", choices=STAFF_CHOICES)
    field_order = ["username", "name", "role", "password", "repeated"]

    def __init__(self, *args, **kwargs):
        super().__init__(*args, **kwargs)
        self.fields["password"].required = self.fields["repeated"].required = False
        self.fields["password"].help_text += " Blank: this person cannot sign in yet."

    def clean(self) -> dict:
        cleaned = super().clean()
        cleaned["password"] = cleaned.get("password") or None
        return cleaned


class PersonForm(forms.ModelForm):
    """Read by hand: the action checks and saves, so nothing here is saved by the form."""

    role = forms.ChoiceField(label="Role", choices=STAFF_CHOICES)

    class Meta:
        model = Person
        fields = ["name", "role", "trainee_since", "is_active", "left_on"]
        field_classes = {"trainee_since": OldDayField, "left_on": OldDayField}
        labels = {"is_active": "Works here and may sign in"}
        help_texts = {
            "is_active": "Untick when somebody leaves. What they did stays in the records.",
            "left_on": "The last day of their work here; blank: today. Certificates are kept for years from then on.",
        }

    def _get_validation_exclusions(self) -> set[str]:
        """What the two say together is the action's to refuse, in words."""
        return super()._get_validation_exclusions() | {"left_on"}


class CertificateForm(OnceForm):
    scheme = forms.CharField(
        label="Scheme",
        max_length=60,
        help_text="The programme that issued it, as the rulebook names it.",
        widget=forms.TextInput(attrs={"list": "schemes", "autocomplete": "off"}),
    )
    number = forms.CharField(label="Number", max_length=60, widget=forms.TextInput(attrs={"autocomplete": "off"}))
    issuer = forms.CharField(label="Issued by", max_length=150, required=False)
    issued = OldDayField(label="Issued on")
    expires = DueField(
        label="Valid through",
        required=False,
        help_text="The last valid day. Blank: it does not expire.",
    )
    note = forms.CharField(label="Note", required=False, widget=forms.Textarea(attrs={"rows": 3}))


class AllowedForm(forms.Form):
    """What it is asked of that a person may do."""

    refrigerant = forms.ChoiceField(label="Refrigerant", required=False)
    charge = MassFormField(label="Full charge", required=False, allow_zero=False)

    def __init__(self, data, *, usual: str, unit: str):
        data = data.copy()
        data.setdefault("refrigerant", usual)
        super().__init__(data)
        self.fields["refrigerant"].choices = [(one, one) for one in refrigerants()]
        self.fields["charge"].unit = unit
