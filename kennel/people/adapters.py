"""How allauth meets our carers."""

from typing import Any

from allauth.account.adapter import DefaultAccountAdapter


class AccountAdapter(DefaultAccountAdapter):
    """Stores the name a carer gives at sign-up."""

    def save_user(self, request: Any, user: Any, form: Any, commit: bool = True) -> Any:
        """Fill in name and zone, then save as usual."""
        user.name = form.cleaned_data.get("name", "")
        return super().save_user(request, user, form, commit)
