"""The plain way beside it: a REST framework view with a model serializer and a subquery for the newest weight."""

import os
from typing import Any

os.environ["DJANGO_SETTINGS_MODULE"] = "kennel.settings"
import django

django.setup()

from django.conf import settings
from django.core.wsgi import get_wsgi_application
from django.db.models import OuterRef, Subquery
from django.urls import path
from django.utils import timezone
from rest_framework import serializers
from rest_framework.response import Response
from rest_framework.views import APIView

from kennel.records import door
from litters.models import Pup, Weighing


class PupSerializer(serializers.ModelSerializer):  # type: ignore[type-arg]
    """All fields of a pup and its newest weight."""

    litter = serializers.UUIDField(source="litter.uid")
    newest = serializers.DecimalField(max_digits=9, decimal_places=2, coerce_to_string=False)

    class Meta:
        model = Pup
        fields = (
            "uid", "version", "recorded_at", "litter", "band", "name", "sex", "colour", "marks", "born_at",
            "birth_order", "fate", "died_at", "rearing", "chip_code", "note", "newest",
        )  # fmt: skip


class Plain(APIView):
    """Fifty pups."""

    def get(self, request: Any) -> Response:
        """The list."""
        principal = request.user
        newest = Weighing.objects.filter(pup=OuterRef("pk"), deleted_at=None).order_by("-occurred_at", "-id")
        with door.read(principal.kennel, principal.actor, timezone.now()):
            pups = (
                Pup.objects.filter(kennel_id=principal.kennel.id, deleted_at=None)
                .select_related("litter")
                .annotate(newest=Subquery(newest.values("weight_g")[:1]))
                .order_by("-born_at", "-id")[:50]
            )
            return Response({"results": PupSerializer(pups, many=True).data})


urlpatterns = [path("plain", Plain.as_view())]
settings.ROOT_URLCONF = "tests.benchmarks.plain_app"
# Django's own way to say how long an answer is; without it a connection cannot be kept alive.
settings.MIDDLEWARE = ["django.middleware.common.CommonMiddleware", *settings.MIDDLEWARE]
application = get_wsgi_application()
