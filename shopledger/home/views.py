"""Signing in and out, the home page, and what a person sets for themselves."""

from pathlib import Path

from django.contrib import messages
from django.contrib.auth import views as auth
from django.contrib.auth.decorators import login_not_required
from django.contrib.staticfiles import finders
from django.http import HttpRequest, HttpResponse
from django.shortcuts import redirect, render
from django.urls import reverse_lazy
from django.utils.decorators import method_decorator

from inventory.audit.recording import tell_sign_in
from inventory.ledger.actions import writing
from jobs.people.actions import choose_units
from shopledger.home.forms import PasswordForm, UnitsForm
from shopledger.home.panels import panels
from shopledger.shared_phone import queries as shared_phone
from shopledger.signin import opened, passkeys, standing
from shopledger.signin.forms import SignInForm


class SignIn(auth.LoginView):
    authentication_form = SignInForm
    redirect_authenticated_user = True

    def get(self, request: HttpRequest, *args, **kwargs) -> HttpResponse:
        """On a phone to which somebody may come back by PIN, that is offered first."""
        instead = shared_phone.instead_of_signing_in(request)
        return redirect(instead) if instead else super().get(request, *args, **kwargs)

    def get_context_data(self, **kwargs) -> dict:
        said = super().get_context_data(**kwargs)
        half_way = said["form"].half_way
        return {
            **said,
            "led_here": said["next"] not in {"", "/"} and not said["form"].errors,
            "passkeys": passkeys.site(self.request) is not None,
            "half_way": half_way,
            "was_here": shared_phone.who_was_here(self.request),
            "by_pin": shared_phone.others_here(self.request),
        }

    def form_invalid(self, form: SignInForm) -> HttpResponse:
        if form.half_way:
            opened.go_half_way(self.request, form.half_way)
        return super().form_invalid(form)


@method_decorator(login_not_required, name="dispatch")  # after an expired sign-in, too, it just signs out
class SignOut(auth.LogoutView):
    """Leaves nothing of this person's pages in the browser. Its storage stays: entries that wait there to be sent."""

    def post(self, request: HttpRequest, *args, **kwargs) -> HttpResponse:
        standing.end_here(request)
        return super().post(request, *args, **kwargs)

    def dispatch(self, request: HttpRequest, *args, **kwargs) -> HttpResponse:
        answer = super().dispatch(request, *args, **kwargs)
        answer["Clear-Site-Data"] = '"cache"'
        return answer


@login_not_required
def worker(request: HttpRequest) -> HttpResponse:
    """The script that keeps open job pages for a reload without the network. It speaks for the whole site only
    where it is served from its top."""
    script = Path(finders.find("shopledger/worker.js")).read_bytes()
    return HttpResponse(script, content_type="text/javascript", headers={"Cache-Control": "no-cache"})


def home(request: HttpRequest) -> HttpResponse:
    return render(request, "home/home.html", {"panels": panels(request)})


def preferences(request: HttpRequest) -> HttpResponse:
    form = UnitsForm(request.POST or None, instance=request.user)
    if form.is_valid():
        choose_units(request.user, by=request.user, **form.cleaned_data)
        messages.success(request, "Saved. All pages are shown to you so.")
        return redirect("preferences")
    return render(request, "home/preferences.html", {"form": form})


class Password(auth.PasswordChangeView):
    form_class = PasswordForm
    template_name = "home/password.html"
    success_url = reverse_lazy("home")

    def get_form_kwargs(self) -> dict:
        return {**super().get_form_kwargs(), "request": self.request}

    def form_valid(self, form: PasswordForm) -> HttpResponse:
        messages.success(self.request, "Your password is changed.")
        with writing():
            answer = super().form_valid(form)
            tell_sign_in(self.request.user.username, "password", "changed")
            opened.keyed_anew(self.request)  # and no more: the present password alone is not all that signs in
        return answer
