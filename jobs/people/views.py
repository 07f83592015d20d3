"""Pages about people and certificates, for the owner."""

from django.contrib import messages
from django.http import HttpRequest, HttpResponse
from django.shortcuts import get_object_or_404, redirect, render

from inventory.attachments.queries import attachments_of
from inventory.reference.rulebook import Rulebook
from inventory.shop.access import role_required
from inventory.shop.clock import today
from inventory.shop.forms import add_refused
from inventory.shop.lists import export, paged
from inventory.text.refusal import Refused
from inventory.verdicts.certificates import ending, refresher
from inventory.verdicts.work import Worker
from jobs.people import actions, queries
from jobs.people.allowed import allowed
from jobs.people.forms import AllowedForm, CertificateForm, NewPasswordForm, NewPersonForm, PersonForm
from jobs.people.models import STAFF, Certificate, Person
from jobs.people.tables import PeopleTable


@role_required("owner")
def people(request: HttpRequest) -> HttpResponse:
    day = today()
    answer = export(request, PeopleTable(queries.people_list(day)), "people")
    if answer is not None:
        return answer
    table = paged(request, PeopleTable(queries.people_list(day)), per_page=50, name="people")
    return render(
        request,
        "people/people.html",
        {"table": table, "ending": [(one, one.expires < day) for one in queries.certificates_ending(day)[:20]]},
    )


@role_required("owner")
def person(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Person, pk=pk, role__in=STAFF)
    day = today()
    certificates = _ruled(queries.certificates_of(shown, day), request.shop.rules)
    form = AllowedForm(request.GET, usual=queries.usual_refrigerant(), unit=request.user.mass_unit)
    said = {"person": shown, "certificates": certificates, "form": form}
    if form.is_valid():
        worker = Worker([one.scheme for one in certificates if one.valid], shown.trainee_since)
        asked = form.cleaned_data["refrigerant"], form.cleaned_data["charge"]
        said["allowed"] = allowed(request.shop.rules, *asked, worker, day)
    return render(request, "people/person.html", said, status=200 if form.is_valid() else 422)


def _ruled(certificates: list[Certificate], rules: Rulebook) -> list[Certificate]:
    """The certificates, each with `ruled`: what the rulebook says of its end and its refresher, where it says any."""
    for one in certificates:
        said = (ending(rules, one.scheme, one.expires, today()), refresher(rules, one.scheme, one.issued, today()))
        one.ruled = [verdict for verdict in said if verdict.answer not in {"met", "free"}]
    return certificates


@role_required("owner")
def person_new(request: HttpRequest) -> HttpResponse:
    form = NewPersonForm(request.POST or None)
    if form.is_valid():
        given = {name: form.cleaned_data[name] for name in ("username", "name", "role", "password")}
        try:
            added = actions.add_person(by=request.user, **given)
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"{added.name} is entered. Add the certificates next.")
            return redirect("person", added.pk)
    return render(request, "people/person_new.html", {"form": form})


@role_required("owner")
def person_edit(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Person, pk=pk, role__in=STAFF)
    form = PersonForm(request.POST or None, instance=Person.objects.get(pk=pk))
    if form.is_valid():
        try:
            changed = actions.change_person(shown, by=request.user, **form.cleaned_data)
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"{changed.name} is saved.")
            # An owner who gave the role away may not open that page any more.
            return redirect("home") if changed == request.user and not changed.is_owner else redirect("person", pk)
    return render(request, "people/person_edit.html", {"form": form, "person": shown})


@role_required("owner")
def person_password(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Person, pk=pk, role__in=STAFF)
    if shown == request.user:
        return redirect("password")  # which asks for the present one
    form = NewPasswordForm(request.POST or None)
    if form.is_valid():
        try:
            changed = actions.set_password(shown, by=request.user, password=form.cleaned_data["password"])
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"{changed.name} has a new password; open sign-ins of theirs have ended.")
            return redirect("person", pk)
    return render(request, "people/person_password.html", {"form": form, "person": shown})


@role_required("owner")
def certificate_new(request: HttpRequest, pk: int) -> HttpResponse:
    shown = get_object_or_404(Person, pk=pk, role__in=STAFF)
    form = CertificateForm(request.POST or None)
    if form.is_valid():
        try:
            added = actions.add_certificate(by=request.user, person=shown, **form.cleaned_data)
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"{added} is entered.")
            return redirect("person", pk)
    return _certificate_page(request, form, shown, f"New certificate for {shown.name}")


@role_required("owner")
def certificate_edit(request: HttpRequest, pk: int) -> HttpResponse:
    certificate = get_object_or_404(Certificate.objects.select_related("person"), pk=pk)
    fields = ("scheme", "number", "issuer", "issued", "expires", "note")
    form = CertificateForm(request.POST or None, initial={name: getattr(certificate, name) for name in fields})
    if form.is_valid():
        given = {name: form.cleaned_data[name] for name in fields}
        try:
            changed = actions.change_certificate(certificate, by=request.user, **given)
        except Refused as refused:
            add_refused(form, refused)
        else:
            messages.success(request, f"{changed} is saved.")
            return redirect("person", certificate.person_id)
    heading = f"{certificate} of {certificate.person.name}"
    return _certificate_page(request, form, certificate.person, heading, certificate)


def _certificate_page(
    request: HttpRequest, form: CertificateForm, shown: Person, heading: str, certificate: Certificate | None = None
) -> HttpResponse:
    return render(
        request,
        "people/certificate.html",
        {
            "form": form,
            "person": shown,
            "heading": heading,
            "certificate": certificate,
            "files": attachments_of(f"certificate:{certificate.pk}") if certificate else [],
            "schemes": queries.scheme_choices(request.shop.rulebook, today()),
        },
        status=422 if form.errors else 200,
    )
