"""Forms people meet when they join."""

from typing import Any

from django import forms


class SignupForm(forms.Form):
    """What we ask besides address and password: the name the others will see."""

    name = forms.CharField(
        max_length=80, label="Your name", help_text="The others see it beside what you record."
    )

    def signup(self, request: Any, user: Any) -> None:
        """Everything is stored by the account adapter."""
