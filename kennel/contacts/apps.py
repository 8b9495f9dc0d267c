"""App configuration of the contacts app."""

from django.apps import AppConfig


class ContactsConfig(AppConfig):
    name = "kennel.contacts"
    label = "contacts"

    def ready(self) -> None:
        """Register the record type, its erasure and the path that erases."""
        from kennel.api.urls import add_view
        from kennel.contacts import registrations
        from kennel.contacts.api import ContactErase

        add_view("contacts/<str:uid>/erase", ContactErase, "contact-erase")
        registrations.register_all()
