"""App configuration of the litters app: registers what it adds to the platform."""

from django.apps import AppConfig


class LittersConfig(AppConfig):
    name = "litters"

    def ready(self) -> None:
        """Register the record types and the pages."""
        from kennel import demo
        from kennel.duties import kinds
        from kennel.records import types
        from litters import demo as litters_demo
        from litters import demo_breeding, registrations
        from litters.api import imports
        from litters.api.registration import register as register_reads
        from litters.services import replanning
        from litters.web import import_weights
        from litters.web.registration import register

        register()
        imports.register()
        import_weights.register()
        register_reads()
        types.react([registrations.WEIGHING.name], replanning.weighings_follow)
        demo.add(10, litters_demo.fill)
        demo.add(12, demo_breeding.fill)
        kinds.register_subject(registrations.PUP, "COALESCE(NULLIF(t.name, ''), NULLIF(t.band, ''), 'pup')")
