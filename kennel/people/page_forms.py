"""Forms of the people pages.  The services check again what they accept; refusals go back to the fields."""

from typing import Any
from zoneinfo import available_timezones

from django import forms

from kennel.people.choices import DeviceKind, MassUnit, Role, Scope, TemperatureUnit
from kennel.people.models import Carer, Kennel
from kennel.records.refusals import Refusal

KEEP_OUT_OF_HISTORY = {"autocomplete": "off"}
PIN_ATTRIBUTES = {"inputmode": "numeric", "autocomplete": "off", "maxlength": "8"}


def zones() -> list[tuple[str, str]]:
    """Zones people live in, by name."""
    named = (zone for zone in sorted(available_timezones()) if "/" in zone and not zone.startswith("Etc/"))
    return [("UTC", "UTC"), *((zone, zone.replace("_", " ")) for zone in named)]


def put_refusal(form: forms.BaseForm, refusal: Refusal) -> None:
    """Put the reasons of a refusal beside the fields they speak of.  Refusals of another kind are raised."""
    if refusal.slug not in ("validation", "quota-exceeded", "parent-missing", "uid-conflict"):
        raise refusal
    for error in refusal.errors:
        name = error.pointer.removeprefix("#").removeprefix("/")
        form.add_error(name if name in form.fields else None, error.detail)
    if not refusal.errors:
        form.add_error(None, refusal.detail or "Not now. Please try again later.")


class InvitationForm(forms.Form):
    """Whom to invite as what."""

    uid = forms.UUIDField(widget=forms.HiddenInput)
    role = forms.ChoiceField(choices=Role.choices, initial=Role.CARER, label="As")
    email = forms.EmailField(
        required=False,
        max_length=254,
        label="By mail to",
        help_text="Leave empty for somebody standing beside you: you then show a code.",
        widget=forms.EmailInput(attrs=KEEP_OUT_OF_HISTORY),
    )


MAY = {
    "read": ("look only", (Scope.READ,)),
    "write": ("look and record", (Scope.READ, Scope.WRITE)),
    "manage": ("look, record, and manage people and devices", (Scope.READ, Scope.WRITE, Scope.MANAGE)),
}


class DeviceForm(forms.Form):
    """What a new device is to be."""

    uid = forms.UUIDField(widget=forms.HiddenInput)
    name = forms.CharField(
        max_length=80,
        label="Name of the device",
        help_text="The others see it beside what it records, such as “Tablet at the box”.",
        widget=forms.TextInput(attrs=KEEP_OUT_OF_HISTORY),
    )
    kind = forms.ChoiceField(choices=DeviceKind.choices, label="What it is")
    member = forms.ChoiceField(
        required=False,
        label="Whose it is",
        help_text="A shared tablet belongs to nobody: members step up to it with their name and PIN.",
    )
    may = forms.ChoiceField(
        choices=[(key, text) for key, (text, _) in MAY.items()], initial="write", label="It may"
    )
    days = forms.IntegerField(
        min_value=1, max_value=400, initial=400, label="For how many days", help_text="At most 400."
    )

    def __init__(self, *args: Any, members: list[tuple[str, str]], **kwargs: Any) -> None:
        super().__init__(*args, **kwargs)
        self.fields["member"].choices = [("", "shared"), *members]  # type: ignore[attr-defined]  # a ChoiceField


class PinForm(forms.Form):
    """A PIN, typed twice."""

    pin = forms.CharField(
        label="PIN",
        help_text="4 to 8 digits.",
        widget=forms.PasswordInput(attrs={**PIN_ATTRIBUTES, "autocomplete": "new-password"}),
    )
    again = forms.CharField(
        label="The same again",
        widget=forms.PasswordInput(attrs={**PIN_ATTRIBUTES, "autocomplete": "new-password"}),
    )

    def clean(self) -> dict[str, Any]:
        """Both must be alike."""
        cleaned: dict[str, Any] = super().clean() or {}
        if cleaned.get("pin") and cleaned.get("again") and cleaned["pin"] != cleaned["again"]:
            self.add_error("again", "The two are not the same.")
        return cleaned


class StepUpForm(forms.Form):
    """The PIN of the member whose name was tapped."""

    member = forms.UUIDField(widget=forms.HiddenInput)
    pin = forms.CharField(max_length=32, label="PIN", widget=forms.PasswordInput(attrs=PIN_ATTRIBUTES))


class CodeForm(forms.Form):
    """A code read from another screen."""

    code = forms.CharField(
        max_length=32,
        label="Code",
        help_text="Eight letters and digits, as on the keeper's screen.",
        widget=forms.TextInput(
            attrs={"autocapitalize": "characters", "autocomplete": "off", "spellcheck": "false"}
        ),
    )


class AccountForm(forms.ModelForm):  # type: ignore[type-arg]  # not subscriptable at run time
    """What a carer says about themselves."""

    zone = forms.ChoiceField(choices=zones, label="Time zone", help_text="Your quiet hours are in this zone.")

    class Meta:
        model = Carer
        fields = ("name", "zone", "mass_unit", "temperature_unit", "quiet_from", "quiet_until")
        labels = {
            "name": "Your name",
            "mass_unit": "Weights in",
            "temperature_unit": "Temperatures in",
            "quiet_from": "Quiet from",
            "quiet_until": "Quiet until",
        }
        help_texts = {
            "quiet_from": "Reminders that can wait come together afterwards. Urgent ones always come.",
        }
        widgets = {
            "quiet_from": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
            "quiet_until": forms.TimeInput(attrs={"type": "time"}, format="%H:%M"),
        }

    def clean(self) -> dict[str, Any]:
        """Quiet hours have both ends or none."""
        cleaned: dict[str, Any] = super().clean() or {}
        begin, end = cleaned.get("quiet_from"), cleaned.get("quiet_until")
        if (begin is None) != (end is None):
            self.add_error("quiet_until" if end is None else "quiet_from", "Say both, or leave both empty.")
        elif begin is not None and begin == end:
            self.add_error("quiet_until", "Begin and end are the same.")
        return cleaned


class KennelForm(forms.ModelForm):  # type: ignore[type-arg]  # not subscriptable at run time
    """What is agreed in a kennel."""

    version = forms.IntegerField(widget=forms.HiddenInput)
    zone = forms.ChoiceField(
        choices=zones,
        label="Time zone",
        help_text="Times of this kennel are shown, and duties fall due, in this zone.",
    )
    mass_unit = forms.ChoiceField(choices=MassUnit.choices, label="Weights in")
    temperature_unit = forms.ChoiceField(choices=TemperatureUnit.choices, label="Temperatures in")

    class Meta:
        model = Kennel
        fields = (
            "name",
            "zone",
            "mass_unit",
            "temperature_unit",
            "place",
            "vet_name",
            "vet_phone",
            "night_vet_phone",
        )
        labels = {
            "name": "Name of the kennel",
            "place": "Country or state",
            "vet_name": "Vet",
            "vet_phone": "Vet's telephone",
            "night_vet_phone": "Out of hours",
        }
        help_texts = {"place": "Whose rules apply, as a code such as GB, GB-SCT or US-CA. May stay empty."}
        widgets = {
            "vet_phone": forms.TextInput(attrs={"type": "tel"}),
            "night_vet_phone": forms.TextInput(attrs={"type": "tel"}),
        }
